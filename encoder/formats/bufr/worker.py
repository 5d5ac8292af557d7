"""The process that reads messages through the coding library for another.

It reads a length of four octets and a message from standard input, and answers with a length and
the pickled result on standard output, until its input ends.
"""

from __future__ import annotations

import pickle
import signal
import sys

from encoder.formats.bufr.sections import read_header
from encoder.formats.bufr.through_eccodes import read_with_library

MOST_MEMORY = 3 << 30
"""Octets of memory the process may take, where the system can limit it."""
MOST_SECONDS = 60.0
"""Seconds of a processor after which a message ends the process, where these can be counted."""


def serve() -> None:
    """Answer messages until standard input ends."""
    _limit_memory()
    source, answers = sys.stdin.buffer, sys.stdout.buffer
    while len(head := source.read(4)) == 4:
        message = source.read(int.from_bytes(head, "big"))
        _limit_work()
        header = read_header(message).value
        if header is None:
            return
        reply = pickle.dumps(read_with_library(message, header), pickle.HIGHEST_PROTOCOL)
        answers.write(len(reply).to_bytes(8, "big") + reply)
        answers.flush()


def _limit_work() -> None:
    if hasattr(signal, "setitimer"):  # not on Windows
        signal.setitimer(signal.ITIMER_PROF, MOST_SECONDS)


def _limit_memory() -> None:
    try:
        import resource
    except ImportError:  # not on Windows
        return
    _soft, hard = resource.getrlimit(resource.RLIMIT_AS)
    limit = MOST_MEMORY if hard == resource.RLIM_INFINITY else min(MOST_MEMORY, hard)
    resource.setrlimit(resource.RLIMIT_AS, (limit, hard))
