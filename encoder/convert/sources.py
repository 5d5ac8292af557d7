"""Which files a conversion reads, and what they are, judged by their bytes."""

from __future__ import annotations

import errno
import os
import re
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from encoder.convert.container_index import ContainerError, container_of
from encoder.convert.containers import MOST_DEPTH, chunks_of, members_of
from encoder.convert.storage import is_url, reason, remote
from encoder.diagnostics import Diagnostic, diagnostic
from encoder.errors import EncoderError, InputError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from encoder.convert.kinds import Kind

HEAD = 1 << 16
"""Bytes of a file looked at to tell what it is."""


_HEADER = re.compile(
    rb"(?:\A|[\n\0]|\xef\xbb\xbf)\s*(#([0-9A-Za-z]{11}) \d{4} \d\d \d\d \d\d \d{4} )"
)
"""What a header line of the IGRA layout begins with, first in the file or after other text."""


@dataclass(frozen=True, slots=True)
class Source:
    """One file, or one member of a container, that is read as a whole.

    Attributes
    ----------
    name : str
        The name it has in accounts and station files: relative to what was given.
    path : str
        File or URL.
    members : tuple of str
        Members to go through inside it.
    kind : str
        One of :data:`encoder.convert.kinds.KINDS`.
    why : str
        What told the kind.
    size : int
        Bytes of the source, those of the file where it is compressed and does not tell.
    digest : str
        BLAKE2b digest (256 bits) of that file.
    station : str
        Station the head names (IGRA); "" where the file may hold any.
    file_size, file_time : int
        Bytes of the file on the disk and its time of change, from before the digest was made.
    """

    name: str
    path: str
    members: tuple[str, ...]
    kind: Kind
    why: str
    size: int
    digest: str = ""
    station: str = ""
    file_size: int = -1
    file_time: int = -1


class Guess(NamedTuple):
    """What a file is taken for."""

    kind: Kind | None
    why: str
    station: str = ""


def guess(head: bytes, *, table: bool = False) -> Guess:
    """Tell what a file is by its first bytes.

    Parameters
    ----------
    head : bytes
        The first 65,536 bytes, or all there is.
    table : bool
        Whether a column map is given, so that text with separators is a table.
    """
    from encoder.bulletin.pieces import Kind as PieceKind
    from encoder.bulletin.stream import split_bytes
    from encoder.formats.igra.derived import is_derived
    from encoder.formats.igra.reader import is_igra
    from encoder.formats.netcdf.container import is_netcdf

    if is_netcdf(head):
        return Guess("netcdf", "begins with the mark of netCDF")
    if is_derived(head):
        station = head.lstrip(b"\r\n")[1:12].decode("ascii")
        return Guess("igra-derived", f"begins with a header line of IGRA derived data of {station}")
    header = _HEADER.search(head)
    if header is not None and is_igra(head[header.start(1) :]):
        station = header.group(2).decode("ascii")
        where = (
            f"has at byte {header.start(1)}" if head[: header.start(1)].strip() else "begins with"
        )
        return Guess("igra", f"{where} an IGRA header line of {station}", station)
    if head.startswith(b'{"aerogram-quarantine":'):
        return Guess("quarantine", "begins like a quarantine file of this program")
    at = head.find(b"BUFR")
    binary = at >= 0 and at + 8 <= len(head) and head[at + 7] in (2, 3, 4)
    # the head of a longer file ends anywhere: its last piece proves nothing
    reports = [item for item in split_bytes(head) if item.kind is PieceKind.REPORT]
    if reports:
        first = reports[0]
        return Guess("coded-text", f"{first.letters} begins at byte {first.offset}")
    if binary:
        return Guess("bufr", f"a BUFR message begins at byte {at}")
    if table and b"\0" not in head and b"\n" in head:
        return Guess("table", "text with lines, and a column map is given")
    return Guess(None, "no IGRA header, netCDF or BUFR mark and no report in its first bytes")


def find_sources(
    given: Sequence[str], *, kind: Kind | None = None, table: bool = False, results: str = ""
) -> tuple[list[Source], list[Diagnostic]]:
    """Find every source in files, folders, containers and URLs.

    Parameters
    ----------
    given : sequence of str
        In any order; the result does not depend on it.
    kind : str, optional
        Taken for all of them instead of guessing.
    table : bool
        Whether a column map is given.
    results : str
        Folder or URL for results, which is no source though it may lie in one.

    Returns
    -------
    sources : list of Source
        By name, without digest.
    found : list of Diagnostic
        What cannot be read or is not known.

    Raises
    ------
    InputError
        If a source lies in the folder for results.
    """
    _refuse_results(given, results)
    sources: list[Source] = []
    found: list[Diagnostic] = []
    taken: dict[str, str] = {}
    read: set[str] = set()
    for name, path in sorted(_files(given, found, results)):
        label = shown(name)
        if taken.get(label, path) != path:
            label = shown(path)
        if taken.get(label) == path:
            continue  # given twice
        taken[label] = path
        where = path if is_url(path) else os.path.abspath(path)  # noqa: PTH100 - links stay
        if where in read:
            continue  # given twice, once in a folder around it
        read.add(where)
        try:
            size = _size(path)
            sources.extend(_inside(label, path, (), size, asked=(kind, table), found=found))
        except (OSError, ContainerError) as fault:
            words = reason(fault)
            found.append(
                diagnostic(
                    "convert-source-unreadable", f'"{label}" cannot be read: {words}.', file=label
                )
            )
        except EncoderError:
            raise
        except Exception as fault:  # noqa: BLE001 - nothing that one file does may end the others
            from encoder.convert.failures import words_of

            words = words_of(fault)
            found.append(
                diagnostic(
                    "convert-unit-failed",
                    f'"{label}" was not converted: its kind could not be told: {words}.',
                    file=label,
                )
            )
    return sorted(sources, key=lambda item: item.name), found


def shown(name: str) -> str:
    """Return a file name as text that can be shown and written: odd bytes and signs are spelled."""
    text = name.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")
    return "".join(
        sign if sign.isprintable() else sign.encode("unicode_escape").decode("ascii")
        for sign in text
    )


def _refuse_results(given: Sequence[str], results: str) -> None:
    if not results or is_url(results):
        return
    own = os.path.realpath(results)
    for item in given:
        real = os.path.realpath(item)
        if not is_url(item) and (real == own or real.startswith(f"{own}{os.sep}")):
            msg = (
                f'"{item}" lies in the folder for results, which a conversion writes anew: copy it '
                "elsewhere and give the copy."
            )
            raise InputError(msg)


def _size(path: str) -> int:
    if is_url(path):
        system, inner = remote(path)
        return int(system.info(inner)["size"] or 0)
    status = Path(path).stat()
    if not stat.S_ISREG(status.st_mode):  # reading a pipe or a device may never end
        raise OSError(errno.EINVAL, "it is no plain file", path)
    return status.st_size


def _files(
    given: Iterable[str], found: list[Diagnostic], results: str
) -> Iterator[tuple[str, str]]:
    """Return names and paths of all plain files, each folder once however links lead to it."""
    for item in given:
        if is_url(item):
            yield from _far_files(item)
            continue
        path = Path(item)
        if not path.is_dir():
            if path.exists() or path.is_symlink():
                yield path.name, item
            else:
                found.append(
                    diagnostic(
                        "convert-source-unreadable",
                        f'There is no file "{shown(item)}".',
                        file=shown(item),
                    )
                )
            continue
        seen: set[str] = set()
        own = "" if not results or is_url(results) else os.path.realpath(results)
        if own.startswith(f"{os.path.realpath(item)}{os.sep}"):  # whether it is there yet or not
            found.append(
                diagnostic(
                    "convert-own-results",
                    f'"{shown(results)}" is the folder for results and is not read.',
                    file=shown(item),
                )
            )
        for folder, folders, names in os.walk(item, followlinks=True, onerror=_note(found)):
            real = os.path.realpath(folder)
            if real == own:
                folders.clear()
                continue
            if real in seen:
                folders.clear()
                found.append(
                    diagnostic(
                        "convert-folder-again",
                        f'"{shown(folder)}" leads to a folder that was read already.',
                        file=shown(folder),
                    )
                )
                continue
            seen.add(real)
            folders[:] = sorted(one for one in folders if not one.startswith("."))
            for name in sorted(names):
                if not name.startswith("."):
                    full = f"{folder}/{name}"  # as the walk gave it
                    yield os.path.relpath(full, item).replace(os.sep, "/"), full


def _far_files(url: str) -> Iterator[tuple[str, str]]:
    """Return names and URLs of the files that a URL names.

    Raises
    ------
    InputError
        If it cannot be reached.
    """
    system, inner = remote(url)
    try:
        if not system.isdir(inner):
            yield inner.rstrip("/").rpartition("/")[2], url
            return
        paths = list(system.find(inner))
    except Exception as fault:
        msg = f"{url} cannot be reached: {reason(fault)}."
        raise InputError(msg) from fault
    for path in paths:
        yield path[len(inner) :].lstrip("/"), system.unstrip_protocol(path)


def _note(found: list[Diagnostic]) -> Callable[[OSError], object]:
    def note(fault: OSError) -> None:
        name = shown(str(fault.filename))
        found.append(
            diagnostic(
                "convert-source-unreadable",
                f'"{name}" cannot be read: {reason(fault)}.',
                file=name,
            )
        )

    return note


def _inside(
    name: str,
    path: str,
    members: tuple[str, ...],
    size: int,
    *,
    asked: tuple[Kind | None, bool],
    found: list[Diagnostic],
) -> Iterator[Source]:
    """Return the sources of a file: itself, or its members if it is a container."""
    kind, table = asked
    head = _head(path, members)
    container = container_of(head)
    if container is not None and len(members) < MOST_DEPTH:
        directory = members_of(path, members)
        if directory.links:
            found.append(
                diagnostic(
                    "convert-member-link",
                    f'Members of "{name}" that are links or devices: {directory.links:,}.',
                    file=name,
                )
            )
        for member, entry in directory.members.items():
            label = f"{name}!{shown(member)}" if member else name
            try:
                share = size if entry.size < 0 else entry.size
                yield from _inside(label, path, (*members, member), share, asked=asked, found=found)
            except ContainerError as fault:
                found.append(
                    diagnostic(
                        "convert-source-unreadable",
                        f'"{label}" cannot be read: {fault}.',
                        file=label,
                    )
                )
        return
    if container is not None:
        msg = f"containers are nested more than {MOST_DEPTH} deep"
        raise ContainerError(msg)
    guessed = guess(head, table=table)
    if kind is not None:
        station = guessed.station if kind == "igra" else ""
        guessed = Guess(kind, "as given", station)
    if guessed.kind is None:
        what = "It is empty" if not head else f"It has {guessed.why}"
        found.append(
            diagnostic(
                "convert-kind-unknown",
                f'"{name}" was not converted. {what}.',
                file=name,
                value=head[:40].decode("ascii", "backslashreplace"),
            )
        )
        return
    yield Source(name, path, members, guessed.kind, guessed.why, size, station=guessed.station)


def _head(path: str, members: tuple[str, ...]) -> bytes:
    parts: list[bytes] = []
    length = 0
    for data in chunks_of(path, members, most=HEAD):
        parts.append(data[: HEAD - length])
        length += len(parts[-1])
        if length >= HEAD:
            break
    return b"".join(parts)
