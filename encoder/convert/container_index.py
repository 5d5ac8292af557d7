"""What is inside a container: its members with their places, listed once."""

from __future__ import annotations

import tarfile
import zipfile
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, BinaryIO

if TYPE_CHECKING:
    from collections.abc import Iterator

MOST_MEMBERS = 2_000_000
"""Members a container may have."""
MOST_RATIO = 400
"""Bytes that may come out of one byte; text of soundings gives 3 to 30, deflate at most 1032."""
FREE = 64 << 20
"""Bytes that may come out whatever the ratio."""
ZIP, GZIP, TAR = "zip", "gz", "tar"


class ContainerError(Exception):
    """A container cannot be read further; the message says why."""


@dataclass(frozen=True, slots=True)
class Member:
    """A file inside a container.

    Attributes
    ----------
    size : int
        Bytes of the file, -1 where unknown.
    begin : int
        Of its header (zip) or content (tar) in the container.
    packed : int
        Bytes it takes in the container.
    method : int
        Way of packing (zip).
    checksum : int
        CRC-32 (zip).
    encrypted, sparse : bool
        It cannot be read without a password; it has holes.
    """

    size: int
    begin: int = 0
    packed: int = 0
    method: int = 0
    checksum: int = 0
    encrypted: bool = False
    sparse: bool = False


@dataclass(frozen=True, slots=True)
class Directory:
    """What a container holds.

    Attributes
    ----------
    kind : str
        zip, tar or gz.
    members : dict of str to Member
        In the order of the container. Of several members of one name the second one is called
        ``name#2``, and so on.
    links : int
        Members that are links or devices and hold nothing of their own.
    """

    kind: str
    members: dict[str, Member]
    links: int = 0


def container_of(head: bytes) -> str | None:
    """Return the kind of container that bytes begin, None for others."""
    if head[:4] in (b"PK\x03\x04", b"PK\x05\x06"):
        return ZIP
    if head[:2] == b"\x1f\x8b":
        return GZIP
    if head[257:262] == b"ustar":
        return TAR
    return None


def directory_of(stream: BinaryIO) -> Directory:
    """List a container.

    Raises
    ------
    ContainerError
        If it is none, damaged, has more than :data:`MOST_MEMBERS` members, or announces far more
        than can come out of its bytes.
    """
    head = stream.read(512)
    stream.seek(0)
    kind = container_of(head)
    if kind == GZIP:
        return Directory(GZIP, {"": Member(-1)})
    if kind is None:
        msg = "the container is none any more"
        raise ContainerError(msg)
    members: dict[str, Member] = {}
    links = 0
    try:
        for name, member in _zip_members(stream) if kind == ZIP else _tar_members(stream):
            if member is None:
                links += 1
                continue
            key, number = name, 1
            while key in members:
                number += 1
                key = f"{name}#{number}"
            members[key] = member
            if len(members) > MOST_MEMBERS:
                msg = f"it has more than {MOST_MEMBERS:,} members"
                raise ContainerError(msg)
    except (
        zipfile.BadZipFile,
        tarfile.TarError,
        EOFError,
        ValueError,
        NotImplementedError,
    ) as fault:
        msg = f"the {kind} container is damaged: {fault}"
        raise ContainerError(msg) from fault
    if kind == ZIP:
        total = sum(item.size for item in members.values())
        length = stream.seek(0, 2)
        if total > FREE and total > MOST_RATIO * length:
            msg = (
                f"{total:,} bytes in {len(members):,} members would come out of {length:,}: a bomb"
            )
            raise ContainerError(msg)
    return Directory(kind, members, links)


def _zip_members(stream: BinaryIO) -> Iterator[tuple[str, Member | None]]:
    with zipfile.ZipFile(stream) as archive:
        entries = archive.infolist()
    for item in entries:
        if not item.is_dir():
            yield (
                item.filename,
                Member(
                    item.file_size,
                    item.header_offset,
                    item.compress_size,
                    item.compress_type,
                    item.CRC,
                    encrypted=bool(item.flag_bits & 1),
                ),
            )


def _tar_members(stream: BinaryIO) -> Iterator[tuple[str, Member | None]]:
    archive: Any
    with tarfile.open(fileobj=stream, mode="r:") as archive:
        while (item := archive.next()) is not None:
            archive.members = []  # they would be kept and looked through for every next one
            if item.isfile():
                yield (
                    item.name,
                    Member(item.size, item.offset_data, item.size, sparse=item.issparse()),
                )
            elif not item.isdir():
                yield item.name, None
