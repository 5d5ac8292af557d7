"""Digests of the sources, by which a changed one is known."""

from __future__ import annotations

import errno
import hashlib
import os
from dataclasses import replace
from typing import TYPE_CHECKING

from encoder.convert.storage import open_source, reason, stamp_of
from encoder.diagnostics import Diagnostic, diagnostic

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from threading import Event

    from encoder.convert.sources import Source


def with_digests(sources: Sequence[Source], found: list[Diagnostic] | None = None) -> list[Source]:
    """Return the sources with the digests of their files, each file read once.

    Sources that cannot be read any more are left out and told in ``found``.
    """
    paths = list(dict.fromkeys(item.path for item in sources))
    known: dict[str, tuple[str, tuple[int, int]]] = {}
    failed: dict[str, OSError] = {}
    for path, said in _said_of(paths):
        if isinstance(said, OSError):
            failed[path] = said
        else:
            known[path] = said
    if failed and found is None:
        raise next(iter(failed.values()))
    made, told = [], set()
    for item in sources:
        if item.path in known:
            digest, (size, time) = known[item.path]
            made.append(replace(item, digest=digest, file_size=size, file_time=time))
        elif found is not None and item.path not in told:
            told.add(item.path)
            fault = failed[item.path]
            words = reason(fault)
            found.append(
                diagnostic(
                    "convert-source-unreadable",
                    f'"{item.name}" cannot be read: {words}.',
                    file=item.name,
                )
            )
    return made


def _said_of(paths: Sequence[str]) -> Iterator[tuple[str, tuple[str, tuple[int, int]] | OSError]]:
    """Yield the digest of each file, and its stamp from before, or why it cannot be read.

    Digests are made outside the interpreter, several at once in threads.
    """
    from concurrent.futures import ThreadPoolExecutor
    from threading import Event

    stop = Event()

    def said_of(path: str) -> tuple[str, tuple[int, int]] | OSError:
        try:
            stamp = stamp_of(path)
            return digest_of(path, stop), stamp
        except OSError as fault:
            return fault
        except Exception as fault:  # noqa: BLE001 - a library for URLs may raise anything
            return OSError(errno.EIO, reason(fault), path)

    pool = ThreadPoolExecutor(min(4, os.cpu_count() or 1))
    try:
        yield from zip(paths, pool.map(said_of, paths), strict=True)
    finally:
        stop.set()
        pool.shutdown(cancel_futures=True)


def digest_of(path: str, stop: Event | None = None) -> str:
    """Return the BLAKE2b digest (256 bits) of a file or of what is at a URL, as b2sum -l 256 does.

    Parameters
    ----------
    path : str
    stop : Event, optional
        When it is set, the digest is not wanted any more.

    Raises
    ------
    OSError
        If it cannot be read, or is not wanted any more.
    """
    count = hashlib.blake2b(digest_size=32)
    with open_source(path) as stream:
        while data := stream.read(1 << 20):
            if stop is not None and stop.is_set():
                raise InterruptedError(errno.EINTR, os.strerror(errno.EINTR), path)
            count.update(data)
    return count.hexdigest()
