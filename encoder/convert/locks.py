"""One run at a time on a destination, and not before the processes of a killed one have ended."""

from __future__ import annotations

import errno
import fcntl
import time
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from encoder.convert.storage import is_url
from encoder.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from encoder.convert.storage import Store

LOCK = ".work/lock"
WORKERS = ".work/workers/lock"
TRIES, PAUSE = 300, 0.1
"""How often, and how many seconds apart, it is looked whether earlier processes have ended."""

NO_LOCKS = frozenset({errno.ENOLCK, errno.ENOSYS, errno.EOPNOTSUPP})
"""What file systems say that have no locks; there it is left to the user to start one run only."""

_held: list[BinaryIO] = []
"""What this process holds until it ends."""


@contextmanager
def only_run(store: Store) -> Iterator[None]:
    """Let one run at a time work on a destination.

    Raises
    ------
    InputError
        If another one does.
    OSError
        If the destination cannot be written to.
    """
    if is_url(store.root):
        yield
        return
    with _opened(store.path(LOCK)) as lock, _opened(store.path(WORKERS)) as others:
        if not _taken(lock):
            msg = f"Another conversion is writing to {store.root}."
            raise InputError(msg)
        for _ in range(TRIES):  # processes of a killed run end by themselves, and write until then
            if _taken(others):
                break
            time.sleep(PAUSE)
        else:
            msg = f"Processes of an earlier conversion are still writing to {store.root}."
            raise InputError(msg)
        with suppress(OSError):
            fcntl.flock(others, fcntl.LOCK_UN)
        yield


def _opened(path: str) -> BinaryIO:
    Path(path).parent.mkdir(parents=True, exist_ok=True)
    return Path(path).open("ab")


def _taken(lock: BinaryIO) -> bool:
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError as fault:
        if fault.errno not in NO_LOCKS:
            raise
    return True


def workers_lock(store: Store) -> str:
    """Return the file that says that processes work on a destination; "" where there is none."""
    return "" if is_url(store.root) else store.path(WORKERS)


def hold_while_alive(path: str) -> None:
    """Say that this process works on a destination, until it ends however it ends."""
    with suppress(OSError):  # without locks, or without the folder: the work itself tells that
        lock = Path(path).open("ab")  # noqa: SIM115 - closed by the end of the process
        _held.append(lock)
        fcntl.flock(lock, fcntl.LOCK_SH)
