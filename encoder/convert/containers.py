"""Files inside files: zip, tar and gz read as streams, bounded against bombs and deep nesting."""

from __future__ import annotations

import gzip
import io
import struct
import tarfile
import zipfile
import zlib
from typing import TYPE_CHECKING, Any, BinaryIO

from encoder.convert.storage import open_source

if TYPE_CHECKING:
    from collections.abc import Iterator

PIECE = 1 << 19
"""Compressed bytes read at a time."""
OUT = 8 << 20
"""Most bytes that come out at a time."""
MOST_DEPTH = 3
"""Containers inside one another."""
MOST_RATIO = 400
"""Bytes that may come out of one byte; text of soundings gives 3 to 30, deflate at most 1032."""
FREE = 64 << 20
"""Bytes a member may have whatever the ratio."""
MOST_INNER = 1 << 30
"""Most bytes of a container inside a container, which is held in memory."""
MOST_MEMBERS = 2_000_000
ZIP, GZIP, TAR = "zip", "gz", "tar"


class ContainerError(Exception):
    """A container cannot be read further; the message says why."""


def container_of(head: bytes) -> str | None:
    """Return the kind of container that bytes begin, None for others."""
    if head[:4] in (b"PK\x03\x04", b"PK\x05\x06"):
        return ZIP
    if head[:2] == b"\x1f\x8b":
        return GZIP
    if head[257:262] == b"ustar":
        return TAR
    return None


def members_of(name: str, path: tuple[str, ...]) -> Iterator[tuple[str, int]]:
    """List the members of a container with their sizes (-1 where unknown).

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
    with _Whole(name, path) as stream:
        head = stream.read(512)
        stream.seek(0)
        kind = container_of(head)
        try:
            if kind == ZIP:
                with zipfile.ZipFile(stream) as archive:
                    entries = [item for item in archive.infolist() if not item.is_dir()]
                if len({item.filename for item in entries}) != len(entries):
                    msg = "two members have the same name"
                    raise ContainerError(msg)
                for item in entries[:MOST_MEMBERS]:
                    yield item.filename, item.file_size
            elif kind == TAR:
                seen = set()
                with tarfile.open(fileobj=stream) as archive:
                    for member in archive:
                        if member.isfile() and member.name not in seen:
                            seen.add(member.name)
                            yield member.name, member.size
            elif kind == GZIP:
                yield "", -1
        except (
            zipfile.BadZipFile,
            tarfile.TarError,
            EOFError,
            ValueError,
            NotImplementedError,
        ) as e:
            msg = f"the {kind} container is damaged: {e}"
            raise ContainerError(msg) from e


class _Whole:  # used like a function
    """The file itself, or an inner container held in memory."""

    def __init__(self, name: str, path: tuple[str, ...]) -> None:
        self._name, self._path = name, path
        self._stream: BinaryIO | None = None

    def __enter__(self) -> BinaryIO:
        if not self._path:
            self._stream = open_source(self._name)
        else:
            parts, length = [], 0
            for data in chunks_of(self._name, self._path):
                length += len(data)
                if length > MOST_INNER:
                    msg = f"a container inside a container has more than {MOST_INNER:,} bytes"
                    raise ContainerError(msg)
                parts.append(data)
            self._stream = io.BytesIO(b"".join(parts))
        return self._stream

    def __exit__(self, *_: object) -> None:
        if self._stream is not None:
            self._stream.close()


def chunks_of(name: str, path: tuple[str, ...], *, fast: bool = False) -> Iterator[bytes]:
    """Read a file or a member of a container in pieces.

    Parameters
    ----------
    name : str
        File or URL.
    path : tuple of str
        Members to go through, from the outermost on; "" is the content of a gz file.
    fast : bool
        Inflate with ISA-L, which has to be installed.

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
    with _Whole(name, path[:-1]) as stream:
        if not path:
            while data := stream.read(OUT):
                yield data
            return
        kind = container_of(stream.read(512))
        stream.seek(0)
        try:
            if kind == ZIP:
                yield from _zip_member(stream, path[-1], fast=fast)
            elif kind == TAR:
                with tarfile.open(fileobj=stream) as archive:
                    member = archive.extractfile(path[-1])
                    if member is None:
                        msg = f"{path[-1]} is no plain file"
                        raise ContainerError(msg)
                    while data := member.read(OUT):
                        yield data
            elif kind == GZIP:
                yield from _gzip(stream)
            else:
                msg = "the container is none any more"
                raise ContainerError(msg)
        except (
            zipfile.BadZipFile,
            tarfile.TarError,
            EOFError,
            zlib.error,
            KeyError,
            ValueError,
            NotImplementedError,
            gzip.BadGzipFile,
            struct.error,
            RuntimeError,
        ) as fault:
            msg = f"the {kind} container is damaged: {fault}"
            raise ContainerError(msg) from fault


def _bounded(got: int, took: int) -> None:
    if got > FREE and got > took * MOST_RATIO:
        msg = f"more than {MOST_RATIO} bytes come out of each byte: a bomb"
        raise ContainerError(msg)


def _gzip(stream: BinaryIO) -> Iterator[bytes]:
    got = 0
    with gzip.GzipFile(fileobj=stream) as member:
        while data := member.read(OUT):
            got += len(data)
            _bounded(got, max(stream.tell(), 1))
            yield data


def _inflater(*, fast: bool) -> Any:
    if fast:
        from isal import isal_zlib

        return isal_zlib.decompressobj(-15)
    return zlib.decompressobj(-15)


def _checksum(*, fast: bool) -> Any:
    if fast:
        from isal import isal_zlib

        return isal_zlib.crc32
    return zlib.crc32


def _zip_member(stream: BinaryIO, member: str, *, fast: bool) -> Iterator[bytes]:
    """Read a member: the plain methods without the detour of the standard library."""
    with zipfile.ZipFile(stream) as archive:
        entry = archive.getinfo(member)
        if entry.flag_bits & 1:
            msg = f"{member} is encrypted"
            raise ContainerError(msg)
        got = 0
        if entry.compress_type != zipfile.ZIP_DEFLATED:
            with archive.open(entry) as inner:
                while data := inner.read(OUT):
                    got += len(data)
                    _bounded(got, max(entry.compress_size, 1))
                    yield data
            return
        stream.seek(entry.header_offset)
        head = stream.read(30)
        signature, name_size, extra_size = (
            *struct.unpack("<4s22x", head[:26]),
            *struct.unpack("<HH", head[26:30]),
        )
        if signature != b"PK\x03\x04":
            msg = f"{member} is not where the directory says"
            raise ContainerError(msg)
        stream.seek(name_size + extra_size, io.SEEK_CUR)
        inflate, add = _inflater(fast=fast), _checksum(fast=fast)
        left, took, checksum = entry.compress_size, 0, 0
        pending = b""
        while (left or pending) and not inflate.eof:
            if not pending:
                pending = stream.read(min(PIECE, left))
                if not pending:
                    msg = f"{member} ends too soon"
                    raise ContainerError(msg)
                left -= len(pending)
                took += len(pending)
            data = inflate.decompress(pending, OUT)
            pending = inflate.unconsumed_tail
            if data:
                got += len(data)
                _bounded(got, took)
                checksum = add(data, checksum)
                yield data
        while not inflate.eof and (data := inflate.decompress(b"", OUT)):
            got += len(data)
            _bounded(got, took)
            checksum = add(data, checksum)
            yield data
        if got != entry.file_size or checksum != entry.CRC:
            msg = f"{member} does not have the length or checksum of the directory"
            raise ContainerError(msg)
