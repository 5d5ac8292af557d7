"""Files inside files: zip, tar and gz read as streams, bounded against bombs and deep nesting."""

from __future__ import annotations

import gzip
import io
import struct
import tempfile
import zipfile
import zlib
from contextlib import contextmanager
from threading import local
from typing import TYPE_CHECKING, Any, BinaryIO, cast

from encoder.convert.container_index import (
    FREE,
    GZIP,
    MOST_RATIO,
    TAR,
    ContainerError,
    Directory,
    Member,
    directory_of,
)
from encoder.convert.storage import open_source, stamp_of

if TYPE_CHECKING:
    from collections.abc import Iterator

PIECE = 1 << 20
"""Compressed bytes read at a time."""
OUT = 8 << 20
"""Most bytes that come out at a time."""
MOST_DEPTH = 3
"""Containers inside one another."""
MOST_INNER = 4 << 30
"""Most bytes of a container inside a container."""
INNER_IN_MEMORY = 8 << 20
"""A container inside a container that has more lies in a temporary file while it is read."""
KEPT = 4
"""Containers whose lists, and inner containers whose bytes, are kept for the next member."""

_kept = local()
"""Per thread, because files have one place for reading."""


def members_of(name: str, path: tuple[str, ...]) -> Directory:
    """List the members of a container.

    Parameters
    ----------
    name : str
        File or URL.
    path : tuple of str
        Members to go through to the container; empty for the file itself.

    Raises
    ------
    ContainerError
        If it cannot be read.
    OSError
        If the file cannot be opened.
    """
    kept: dict[Any, Directory] = _kept.__dict__.setdefault("lists", {})
    key = (name, path, stamp_of(name))
    if key not in kept:
        with _whole(name, path) as stream:
            made = directory_of(stream)
        _make_room(kept)
        kept[key] = made
    return kept[key]


def _make_room(kept: dict[Any, Any]) -> None:
    while len(kept) >= KEPT:
        gone = kept.pop(next(iter(kept)))
        if hasattr(gone, "close"):
            gone.close()


@contextmanager
def _whole(name: str, path: tuple[str, ...]) -> Iterator[BinaryIO]:
    """Give the file itself, or an inner container taken out of it."""
    if not path:
        with open_source(name) as stream:
            yield stream
        return
    kept: dict[Any, BinaryIO] = _kept.__dict__.setdefault("inner", {})
    key = (name, path, stamp_of(name))
    if key not in kept:
        # closed when it makes room for another one
        taken = cast("BinaryIO", tempfile.SpooledTemporaryFile(INNER_IN_MEMORY))  # noqa: SIM115
        length = 0
        try:
            for data in chunks_of(name, path):
                length += len(data)
                if length > MOST_INNER:
                    msg = f"a container inside a container has more than {MOST_INNER:,} bytes"
                    raise ContainerError(msg)
                taken.write(data)
        except BaseException:
            taken.close()
            raise
        _make_room(kept)
        kept[key] = taken
    stream = kept[key]
    stream.seek(0)
    yield stream


def chunks_of(
    name: str, path: tuple[str, ...], *, fast: bool = False, most: int = OUT
) -> Iterator[bytes]:
    """Read a file or a member of a container in pieces.

    Parameters
    ----------
    name : str
        File or URL.
    path : tuple of str
        Members to go through, from the outermost on; "" is the content of a gz file.
    fast : bool
        Inflate with ISA-L, which has to be installed.
    most : int
        Most bytes of a piece.

    Raises
    ------
    ContainerError
        If a container is damaged, nested too deep, or gives out far more than it has.
    OSError
        If the file cannot be read.
    """
    if len(path) > MOST_DEPTH:
        msg = f"containers are nested more than {MOST_DEPTH} deep"
        raise ContainerError(msg)
    if not path:
        with open_source(name) as stream:
            while data := stream.read(most):
                yield data
        return
    directory = members_of(name, path[:-1])
    if path[-1] not in directory.members:
        msg = f"the {directory.kind} container has no member {path[-1]} any more"
        raise ContainerError(msg)
    member = directory.members[path[-1]]
    with _whole(name, path[:-1]) as stream:
        try:
            if directory.kind == GZIP:
                yield from _gzip(stream, most)
            elif directory.kind == TAR:
                yield from _tar_member(stream, path[-1], member, most)
            else:
                yield from _zip_member(stream, path[-1], member, fast=fast, most=most)
        except _faults(fast=fast) as fault:
            msg = f"the {directory.kind} container is damaged: {fault}"
            raise ContainerError(msg) from fault


def _bounded(got: int, took: int) -> None:
    if got > FREE and got > took * MOST_RATIO:
        msg = f"more than {MOST_RATIO} bytes come out of each byte: a bomb"
        raise ContainerError(msg)


def _gzip(stream: BinaryIO, most: int) -> Iterator[bytes]:
    got = 0
    with gzip.GzipFile(fileobj=stream, mode="rb") as member:
        while data := member.read(most):
            got += len(data)
            _bounded(got, max(stream.tell(), 1))
            yield data


def _inflater(*, fast: bool) -> Any:
    if fast:
        from isal import isal_zlib

        return isal_zlib.decompressobj(-15)
    return zlib.decompressobj(-15)


def _faults(*, fast: bool) -> tuple[type[Exception], ...]:
    """Return what the libraries raise on damaged bytes."""
    usual = (
        zipfile.BadZipFile,
        EOFError,
        zlib.error,
        KeyError,
        ValueError,
        NotImplementedError,
        gzip.BadGzipFile,
        struct.error,
        RuntimeError,
    )
    if not fast:
        return usual
    from isal import isal_zlib

    fault: Any = isal_zlib.IsalError
    return (*usual, fault)


def _checksum(*, fast: bool) -> Any:
    if fast:
        from isal import isal_zlib

        return isal_zlib.crc32
    return zlib.crc32


def _tar_member(stream: BinaryIO, name: str, member: Member, most: int) -> Iterator[bytes]:
    if member.sparse:
        msg = f"{name} has holes, so that its size says nothing of its bytes"
        raise ContainerError(msg)
    stream.seek(member.begin)
    left = member.size
    while left:
        data = stream.read(min(most, left))
        if not data:
            msg = f"{name} ends too soon"
            raise ContainerError(msg)
        left -= len(data)
        yield data


def _zip_member(
    stream: BinaryIO, name: str, member: Member, *, fast: bool, most: int
) -> Iterator[bytes]:
    """Read a member: the plain methods without the detour of the standard library."""
    if member.encrypted:
        msg = f"{name} is encrypted"
        raise ContainerError(msg)
    got = 0
    if member.method not in (zipfile.ZIP_DEFLATED, zipfile.ZIP_STORED):
        with zipfile.ZipFile(stream) as archive:
            entry = next(i for i in archive.infolist() if i.header_offset == member.begin)
            with archive.open(entry) as inner:
                while data := inner.read(most):
                    got += len(data)
                    _bounded(got, max(member.packed, 1))
                    yield data
        return
    stream.seek(member.begin)
    head = stream.read(30)
    signature, name_size, extra_size = (
        *struct.unpack("<4s22x", head[:26]),
        *struct.unpack("<HH", head[26:30]),
    )
    if signature != b"PK\x03\x04":
        msg = f"{name} is not where the directory says"
        raise ContainerError(msg)
    stream.seek(name_size + extra_size, io.SEEK_CUR)
    checksum, add = 0, _checksum(fast=fast)
    if member.method == zipfile.ZIP_STORED:
        pieces = _tar_member(stream, name, Member(member.packed, stream.tell()), most)
    else:
        pieces = _inflated(stream, name, member, fast=fast, most=most)
    for data in pieces:
        got += len(data)
        checksum = add(data, checksum)
        yield data
    if got != member.size or checksum != member.checksum:
        msg = f"{name} does not have the length or checksum of the directory"
        raise ContainerError(msg)


def _inflated(
    stream: BinaryIO, name: str, member: Member, *, fast: bool, most: int
) -> Iterator[bytes]:
    inflate = _inflater(fast=fast)
    got, left, took = 0, member.packed, 0
    pending = b""
    while (left or pending) and not inflate.eof:
        if not pending:
            pending = stream.read(min(PIECE, most, left))
            if not pending:
                msg = f"{name} ends too soon"
                raise ContainerError(msg)
            left -= len(pending)
            took += len(pending)
        data = inflate.decompress(pending, most)
        pending = inflate.unconsumed_tail
        if data:
            got += len(data)
            _bounded(got, took)
            yield data
    while not inflate.eof and (data := inflate.decompress(b"", most)):
        got += len(data)
        _bounded(got, took)
        yield data
