"""Work that ends its process; in a module of its own, because every process loads it."""

from __future__ import annotations

import os
import signal
from pathlib import Path
from types import SimpleNamespace


def dies_once(folder, number):
    """End this process without a word the first time that 3 comes."""
    marker = Path(folder, "was here")
    if number == 3 and not marker.exists():
        marker.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return number * number


def dies_always(_folder, number):
    """End this process without a word whenever 3 comes."""
    if number == 3:
        os.kill(os.getpid(), signal.SIGKILL)
    return number * number


def given_up(number):
    """Fail as a scheduler fails a call whose workers died over it again and again."""
    if number == 3:
        from distributed import KilledWorker

        raise KilledWorker("call", SimpleNamespace(address="somewhere"), 3)
    return number * number
