"""Who does the units of work: this process, local processes, or a cluster."""

from __future__ import annotations

import os
import signal
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Protocol

from encoder.errors import EncoderError, MissingDependencyError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

Call = tuple[Any, ...]
THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMEXPR_NUM_THREADS")
RETRIES = 5
"""Times a unit is given out again after its worker was lost."""


class Workers(Protocol):
    """What runs a function on many arguments."""

    def map(self, function: Callable[..., Any], calls: Sequence[Call]) -> Iterator[tuple[int, Any]]:
        """Yield the place of a call and its result, in the order they become ready."""


class _Here:
    def map(self, function: Callable[..., Any], calls: Sequence[Call]) -> Iterator[tuple[int, Any]]:
        for place, call in enumerate(calls):
            yield place, function(*call)


class _Processes:
    def __init__(self, pool: Any, window: int) -> None:
        self._pool = pool
        self._window = window

    def map(self, function: Callable[..., Any], calls: Sequence[Call]) -> Iterator[tuple[int, Any]]:
        from concurrent.futures import FIRST_COMPLETED, wait
        from concurrent.futures.process import BrokenProcessPool

        waiting = iter(enumerate(calls))
        running: dict[Any, int] = {}
        try:
            while True:
                while len(running) < self._window and (item := next(waiting, None)) is not None:
                    with _no_interrupt():
                        running[self._pool.submit(function, *item[1])] = item[0]
                if not running:
                    return
                for future in wait(running, return_when=FIRST_COMPLETED).done:
                    place = running.pop(future)
                    yield place, future.result()
        except BrokenProcessPool as fault:
            msg = (
                "A worker process ended without a word, for want of memory or killed from outside; "
                "start the conversion again, what is done is not done twice."
            )
            raise EncoderError(msg) from fault
        finally:
            for future in running:
                future.cancel()


class _Cluster:
    def __init__(self, client: Any) -> None:
        self._client = client

    def map(self, function: Callable[..., Any], calls: Sequence[Call]) -> Iterator[tuple[int, Any]]:
        import distributed

        as_completed: Any = distributed.as_completed

        futures = {
            self._client.submit(function, *call, pure=False, retries=RETRIES): place
            for place, call in enumerate(calls)
        }
        try:
            for future in as_completed(futures):
                yield futures[future], future.result()
        finally:
            self._client.cancel(list(futures))


@contextmanager
def workers(jobs: int = 1, scheduler: str | None = None) -> Iterator[Workers]:
    """Give workers, and end them afterwards.

    Parameters
    ----------
    jobs : int
        Local processes; 1 works in this one.
    scheduler : str, optional
        Address of a dask scheduler, whose workers must see the same folders.

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
        with client:
            yield _Cluster(client)
        return
    if jobs == 1:
        yield _Here()
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    context = get_context("spawn")
    before = {name: os.environ.get(name) for name in THREADS}
    os.environ.update(dict.fromkeys(THREADS, "1"))  # the processes are the threads
    try:
        with ProcessPoolExecutor(jobs, mp_context=context, initializer=_begin) as pool:
            try:
                yield _Processes(pool, 2 * jobs)
            except BaseException:
                pool.shutdown(wait=False, cancel_futures=True)
                raise
    finally:
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


def _begin() -> None:
    """Leave interrupts to the first process, and end with it however it ends."""
    from multiprocessing import parent_process
    from multiprocessing.connection import wait
    from threading import Thread

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = parent_process()
    if parent is None:
        return
    sentinel = parent.sentinel

    def watch() -> None:
        wait([sentinel])
        os._exit(1)

    Thread(target=watch, daemon=True).start()
