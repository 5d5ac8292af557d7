"""Reading a message through the coding library in a process of its own.

A corrupted message can end the process that decodes it in C. Here it ends the other process: the
reader tells it as a diagnostic, starts another process and goes on.
"""

from __future__ import annotations

import pickle
import subprocess
import sys
from importlib.util import find_spec
from threading import Lock, Timer
from typing import TYPE_CHECKING

from encoder.diagnostics import Result, diagnostic
from encoder.errors import MissingDependencyError
from encoder.formats.bufr.through_eccodes import INSTALL

if TYPE_CHECKING:
    from encoder.formats.bufr.subset import Subset

LONGEST = 1800.0
"""Seconds after which the other process counts as lost, whatever it is doing. What it may work on a
message is bounded in the seconds of a processor (:data:`encoder.formats.bufr.worker.MOST_SECONDS`),
so that the result does not depend on what else the machine has to do."""
ENDED = -9
"""How a process ends that is killed from outside."""
TRIES = 2
"""Times a message is given to a process that is ended from outside, as for want of memory."""
_START = (
    "import sys; sys.path[:] = {path!r}; from encoder.formats.bufr.worker import serve; serve()"
)


class _Decoder:
    """The other process, started when first needed and again after it was lost."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._lock = Lock()

    def ask(self, message: bytes) -> bytes | None:
        """Return the answer to a message, None where the process was lost over it."""
        with self._lock:
            process = self._running()
            timer = Timer(LONGEST, process.kill)
            timer.start()
            try:
                return _exchange(process, message)
            except OSError:
                return None
            finally:
                timer.cancel()

    def lose(self) -> int | None:
        """End the process; return how it ended."""
        with self._lock:
            process, self._process = self._process, None
            if process is None:
                return None
            for pipe in (process.stdin, process.stdout):
                if pipe is not None:
                    _close(pipe)
            try:
                return process.wait(1.0)  # it is about to end: with its own word, not with ours
            except subprocess.TimeoutExpired:
                process.kill()
                return process.wait()

    def _running(self) -> subprocess.Popen[bytes]:
        if self._process is None or self._process.poll() is not None:
            self._process = subprocess.Popen(
                [sys.executable, "-c", _START.format(path=sys.path)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            )
        return self._process


def _close(pipe: object) -> None:
    try:
        pipe.close()  # type: ignore[attr-defined]
    except OSError:
        return


def _exchange(process: subprocess.Popen[bytes], message: bytes) -> bytes | None:
    if process.stdin is None or process.stdout is None:
        return None
    process.stdin.write(len(message).to_bytes(4, "big") + message)
    process.stdin.flush()
    head = process.stdout.read(8)
    if len(head) != 8:
        return None
    length = int.from_bytes(head, "big")
    answer = process.stdout.read(length)
    return answer if len(answer) == length else None


_DECODER = _Decoder()


def read_isolated(message: bytes) -> Result[tuple[Subset, ...]]:
    """Read the values of a message through the coding library in another process.

    Parameters
    ----------
    message : bytes
        A message whose frame is sound.

    Returns
    -------
    Result of tuple of Subset
        Empty with "bufr-not-decodable" where the library, or the process with it, failed.

    Raises
    ------
    MissingDependencyError
        If the library is not installed.
    """
    if find_spec("eccodes") is None:
        raise MissingDependencyError(INSTALL)
    for _ in range(TRIES):
        answer = _DECODER.ask(message)
        if answer is not None or _DECODER.lose() != ENDED:
            break
    if answer is None:
        return Result(
            (),
            (
                diagnostic(
                    "bufr-not-decodable",
                    "The message cannot be decoded: the coding library failed over it.",
                ),
            ),
        )
    result: Result[tuple[Subset, ...]] = pickle.loads(answer)
    return result
