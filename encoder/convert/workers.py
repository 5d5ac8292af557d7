"""Who does the units of work: this process, local processes, or a cluster."""

from __future__ import annotations

import logging
import os
import signal
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any, Protocol

from encoder.errors import EncoderError, MissingDependencyError

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Iterator, Sequence

    Told = Callable[[int], None]

Call = tuple[Any, ...]
THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMEXPR_NUM_THREADS")
KEEP_MEMORY = {
    "MALLOC_MMAP_THRESHOLD_": "33554432",
    "MALLOC_TRIM_THRESHOLD_": "1073741824",
    "MALLOC_TOP_PAD_": "67108864",
}
"""For the memory allocator of the GNU C library: a process that works on one source after another
keeps what it has freed, instead of asking the system for the same pages again."""
RETRIES = 5
"""Times a unit is given out again after its worker was lost."""


LOST: Any = object()
"""Stands for the result of a call whose process was lost, also when it was tried again alone."""


class Workers(Protocol):
    """What runs a function on many arguments."""

    def map(
        self, function: Callable[..., Any], calls: Sequence[Call], *, lost: Told | None = None
    ) -> Iterator[tuple[int, Any]]:
        """Yield the place of a call and its result, in the order they become ready.

        Parameters
        ----------
        function : callable
        calls : sequence of tuple
            Its arguments.
        lost : callable, optional
            Told the number of calls that are tried again alone because a process was lost.
        """


class _Here:
    def map(
        self, function: Callable[..., Any], calls: Sequence[Call], *, lost: Told | None = None
    ) -> Iterator[tuple[int, Any]]:
        for place, call in enumerate(calls):
            yield place, function(*call)


class _Processes:
    """Local processes. The calls that a lost one may have died of are tried again, one by one."""

    def __init__(self, jobs: int, lock: str) -> None:
        self._jobs = jobs
        self._lock = lock
        self._pool: Any = None

    def map(
        self, function: Callable[..., Any], calls: Sequence[Call], *, lost: Told | None = None
    ) -> Iterator[tuple[int, Any]]:
        left = list(range(len(calls)))
        while left:
            suspects, left = yield from self._some(function, calls, left, self._jobs)
            if suspects and lost is not None:
                lost(len(suspects))
            for place in suspects:
                again, _left = yield from self._some(function, calls, [place], 1)
                if again:
                    yield place, LOST

    def _some(
        self, function: Callable[..., Any], calls: Sequence[Call], places: list[int], jobs: int
    ) -> Generator[tuple[int, Any], None, tuple[list[int], list[int]]]:
        """Run calls until they are done or a process is lost.

        Returns
        -------
        suspects : list of int
            Places of the calls that were given out when a process was lost.
        left : list of int
            Places of the calls that were not given out.
        """
        from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait
        from concurrent.futures.process import BrokenProcessPool
        from multiprocessing import get_context

        self.end()
        self._pool = ProcessPoolExecutor(
            min(jobs, len(places)),
            mp_context=get_context("spawn"),
            initializer=_begin,
            initargs=(self._lock,),
        )
        waiting = list(reversed(places))
        running: dict[Any, int] = {}
        suspects: list[int] = []
        while running or (waiting and not suspects):
            while waiting and not suspects and len(running) < 2 * jobs:
                try:
                    with _no_interrupt():
                        running[self._pool.submit(function, *calls[waiting[-1]])] = waiting[-1]
                except BrokenProcessPool:
                    suspects.append(waiting[-1])
                waiting.pop()
            for future in wait(running, return_when=FIRST_COMPLETED).done:
                place = running.pop(future)
                if isinstance(future.exception(), BrokenProcessPool):
                    suspects.append(place)
                else:
                    yield place, future.result()
        return sorted(suspects), waiting[::-1]

    def end(self, *, wait: bool = True) -> None:
        """End the processes; what runs is done first."""
        if self._pool is not None:
            self._pool.shutdown(wait=wait, cancel_futures=True)
            if wait:
                self._pool = None


class _Cluster:
    def __init__(self, client: Any) -> None:
        self._client = client

    def map(
        self, function: Callable[..., Any], calls: Sequence[Call], *, lost: Told | None = None
    ) -> Iterator[tuple[int, Any]]:
        from concurrent.futures import CancelledError

        import distributed
        from distributed.comm.core import CommClosedError

        as_completed: Any = distributed.as_completed
        killed: Any = distributed.KilledWorker
        gone: Any = (CommClosedError, CancelledError)

        futures = {
            self._client.submit(function, *call, pure=False, retries=RETRIES): place
            for place, call in enumerate(calls)
        }
        try:
            for future in as_completed(futures):
                try:
                    result = future.result()
                except killed:  # the scheduler gave it out again and again
                    result = LOST
                yield futures[future], result
        except gone as fault:
            msg = (
                "The scheduler was lost; start the conversion again when it is there, what is done "
                "is not done twice."
            )
            raise EncoderError(msg) from fault
        finally:
            with suppress(*gone):
                self._client.cancel(list(futures))


@contextmanager
def workers(jobs: int = 1, scheduler: str | None = None, *, lock: str = "") -> Iterator[Workers]:
    """Give workers, and end them afterwards.

    Parameters
    ----------
    jobs : int
        Local processes; 1 works in this one.
    scheduler : str, optional
        Address of a dask scheduler, whose workers must see the same folders.
    lock : str
        File that local processes hold as long as they live.

    Raises
    ------
    MissingDependencyError
        If distributed is not installed.
    EncoderError
        If the scheduler does not answer.
    """
    if scheduler is not None:
        try:
            import distributed
        except ImportError as fault:
            msg = 'A scheduler needs distributed: install it with pip install "aerogram[cluster]".'
            raise MissingDependencyError(msg) from fault
        try:
            make_client: Any = distributed.Client
            client = make_client(scheduler, timeout=20)
        except (OSError, ValueError) as fault:
            msg = f"The scheduler {scheduler} does not answer: {fault}."
            raise EncoderError(msg) from fault
        with _quiet("distributed"), client:
            yield _Cluster(client)
        return
    if jobs == 1:
        yield _Here()
        return
    given = {**dict.fromkeys(THREADS, "1"), **KEEP_MEMORY}  # the processes are the threads
    before = {name: os.environ.get(name) for name in given}
    os.environ.update(given)
    own = _Processes(jobs, lock)
    try:
        yield own
    except BaseException:
        own.end(wait=False)
        raise
    finally:
        own.end()
        _restore(before)


@contextmanager
def _quiet(name: str) -> Iterator[None]:
    """Keep the messages of a library to itself; what matters of them is told as a fault."""
    several = [
        item
        for key, item in logging.root.manager.loggerDict.items()
        if key.split(".")[0] == name and isinstance(item, logging.Logger)
    ]
    before = [item.level for item in several]
    for item in several:
        item.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        for item, level in zip(several, before, strict=True):
            item.setLevel(level)


def _restore(before: dict[str, str | None]) -> None:
    for name, value in before.items():
        if value is None:
            os.environ.pop(name, None)
        else:
            os.environ[name] = value


@contextmanager
def _no_interrupt() -> Iterator[None]:
    """Hold interrupts back while processes are started, which begin life with them held back."""
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _begin(lock: str) -> None:
    """Leave interrupts to the first process, and end with it however it ends."""
    from multiprocessing import parent_process
    from multiprocessing.connection import wait
    from threading import Thread

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _load()
    parent = parent_process()
    if parent is None:
        return
    sentinel = parent.sentinel

    def watch() -> None:
        wait([sentinel])
        os._exit(1)

    Thread(target=watch, daemon=True).start()
    if lock:
        from encoder.convert.locks import hold_while_alive

        hold_while_alive(lock)


def _load() -> None:
    """Load what the work needs, and keep it out of the search for garbage."""
    import gc

    import encoder.convert.units  # noqa: F401

    gc.collect()
    gc.freeze()
