"""A stream of bytes, block by block."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol, runtime_checkable

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator


@runtime_checkable
class Readable(Protocol):
    """A binary file, or anything that is read like one."""

    def read(self, size: int, /) -> bytes:
        """Return at most that many bytes, none at the end."""


def blocks_of(source: Readable | Iterable[bytes], size: int) -> Iterator[bytes]:
    """Yield a stream block by block.

    Parameters
    ----------
    source : binary file or iterable of bytes
        Never sought, read once.
    size : int
        Bytes read at a time from a file.
    """
    if isinstance(source, tuple) or not isinstance(source, Readable):  # the first is far quicker
        yield from source
        return
    while data := source.read(size):
        yield data
