"""What becomes of a source or station that the program failed over, or whose process was lost.

It is refused, told and counted, and the run goes on. It counts as not done: the next run tries it
again.
"""

from __future__ import annotations

import traceback
from pathlib import PurePath
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from encoder.convert.account import Account
from encoder.convert.containers import chunks_of
from encoder.convert.stations import settled_accounts, values_of_soundings
from encoder.convert.storage import stamp_of
from encoder.convert.work import Content, RefusedItem
from encoder.diagnostics import Diagnostic, diagnostic

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from encoder.convert.batch import Batch
    from encoder.convert.kinds import Kind
    from encoder.convert.parts import Parts
    from encoder.convert.sources import Source
    from encoder.convert.work import Settings

AGAIN = frozenset(
    {
        "convert-source-changed",
        "convert-source-unreadable",
        "convert-unit-failed",
        "convert-memory-short",
        "convert-worker-lost",
    }
)
"""Reasons for refusing a source or station whole that may be gone when the run is started again."""
KIND_OF: tuple[Kind, ...] = ("igra", "netcdf", "bufr", "coded-text", "table", "igra-derived")
"""Kinds of source by the number that soundings carry."""
LOST = "its process ended without a word, also when it was tried again alone"


class Place(NamedTuple):
    """Where a source is read again.

    Attributes
    ----------
    path : str
        File or URL.
    members : tuple of str
    stamp : tuple of (int, int)
        Size and time of change the plan was made with.
    """

    path: str
    members: tuple[str, ...]
    stamp: tuple[int, int]

    @classmethod
    def of(cls, source: Source) -> Place:
        """Return the place of a source."""
        return cls(source.path, source.members, (source.file_size, source.file_time))


def code_of(fault: BaseException) -> str:
    """Return the code of the diagnostic of an exception that nothing was prepared for."""
    return "convert-memory-short" if isinstance(fault, MemoryError) else "convert-unit-failed"


def words_of(fault: BaseException) -> str:
    """Return an exception in one line: what, and where in the program."""
    said = " ".join(str(fault).split())[:200]
    frames = traceback.extract_tb(fault.__traceback__)
    own = [item for item in frames if "encoder" in PurePath(item.filename).parts] or frames[-1:]
    where = f" ({PurePath(own[-1].filename).name}, line {own[-1].lineno})" if own else ""
    return f"{type(fault).__name__}{f': {said}' if said else ''}{where}"


def failed_source(source: Source, code: str, words: str) -> Content:
    """Return a source refused whole, by name: it is still where it was."""
    content = Content()
    content.account.bytes.read = content.account.bytes.refused = source.size
    found = diagnostic(code, f'"{source.name}" cannot be converted: {words}.', file=source.name)
    content.refused.append(RefusedItem(source.kind, 0, b"", (found,)))
    content.failed.append(found)
    return content


def failed_station(
    station: str,
    soundings: tuple[Sequence[Batch], Sequence[Parts]],
    sources: Sequence[Mapping[str, Any]],
    places: Sequence[Place],
    *,
    code: str,
    words: str,
    settings: Settings,
) -> dict[str, Any]:
    """Return the result of a station refused whole: every sounding, as its source had it.

    Parameters
    ----------
    station : str
    soundings : (sequence of Batch, sequence of Parts)
        As for :func:`encoder.convert.stations.finish_station`.
    sources : sequence of mapping
    places : sequence of Place
        Where each of them is read again.
    code : str
        Of the diagnostic.
    words : str
        What happened.
    settings : Settings
    """
    batches, parts = soundings
    found = diagnostic(
        code,
        f"Station {station} cannot be put together: {words}.",
        value=station,
    )
    accounts = [Account.empty() for _ in sources]
    refused: list[tuple[int, RefusedItem]] = []
    for batch in batches:
        _count_batch(batch, accounts)
    for index in sorted({int(one) for batch in batches for one in _sources_of(batch)}):
        own = [batch for batch in batches if index in _sources_of(batch)]
        items = _records(own, index, (sources[index], places[index]), found, settings)
        refused += [(index, item) for item in items]
    for some in parts:
        columns = zip(
            some.columns["source_index"].tolist(),
            some.columns["offset"].tolist(),
            some.columns["length"].tolist(),
            some.texts,
            strict=True,
        )
        for index, offset, length, text in columns:
            accounts[index].reports.refused += 1
            accounts[index].bytes.refused += length
            leaf = str(sources[index].get("leaf") or sources[index]["name"])
            refused.append((index, RefusedItem("coded-text", offset, bytes(text), (found,), leaf)))
    return {
        "station": station,
        "files": [],
        "refused": [
            item.as_json(str(sources[i]["name"]), str(sources[i]["digest"])) for i, item in refused
        ],
        "found": {},
        **settled_accounts(accounts, sources),
        "soundings": 0,
        "faults": [],
        "failed": [found.as_json()],
    }


def _sources_of(batch: Batch) -> list[int]:
    return [int(one) for one in np.unique(batch.profiles["source_index"])]


def _count_batch(batch: Batch, accounts: Sequence[Account]) -> None:
    profiles = batch.profiles
    values = values_of_soundings(batch)
    for index in _sources_of(batch):
        own = profiles["source_index"] == index
        accounts[index].soundings.refused += int(own.sum())
        accounts[index].levels.refused += int(profiles["row_size"][own].sum())
        accounts[index].values.refused += int(values[own].sum())
        accounts[index].bytes.refused += int(profiles["source_length"][own].sum())


def _records(
    batches: Sequence[Batch],
    index: int,
    given: tuple[Mapping[str, Any], Place],
    found: Diagnostic,
    settings: Settings,
) -> Iterator[RefusedItem]:
    """Return the soundings of one source as it has them, or their places if it went."""
    source, place = given
    leaf = str(source.get("leaf") or source["name"])
    data = _read_again(place, fast=settings.fast)
    rows: set[tuple[int, int, int]] = set()
    for batch in batches:
        profiles = batch.profiles
        own = profiles["source_index"] == index
        columns = (profiles[name][own].tolist() for name in _PLACE_COLUMNS)
        rows |= set(zip(*columns, strict=True))
    if data is not None and source["kind"] == "quarantine":
        yield from _fed_back_again(sorted(rows), data, found)
        return
    seen: set[int] = set()
    for offset, length, kind in sorted(rows, key=lambda row: (row[0], -row[1])):
        if offset in seen:  # soundings of one message, or of one netCDF file
            continue
        seen.add(offset)
        text = b"" if data is None else _text(data, offset, length, KIND_OF[kind], settings)
        yield RefusedItem(KIND_OF[kind], offset, text, (found,), leaf)


_PLACE_COLUMNS = ("source_offset", "source_length", "source_kind")


def _read_again(place: Place, *, fast: bool) -> bytes | None:
    """Return a source, None where it cannot be read any more or changed."""
    try:
        data = b"".join(chunks_of(place.path, place.members, fast=fast))
        return data if stamp_of(place.path) == place.stamp else None
    except Exception:  # noqa: BLE001 - this is told already, and its place is in the record
        return None


def _text(data: bytes, offset: int, length: int, kind: Kind, settings: Settings) -> bytes:
    """Return the bytes of a sounding so that they can be read by themselves."""
    if kind == "netcdf":
        return data
    if kind == "bufr" and length == 0:  # of another station of one message
        length = int.from_bytes(data[offset + 4 : offset + 7], "big")
    text = data[offset : offset + length]
    if kind == "table" and settings.column_map is not None:
        from encoder.formats.column_map import read_mapped_table

        soundings, _aside = read_mapped_table(data, settings.column_map)
        text = next((one.header for one in soundings if one.offset == offset), b"") + text
    return text


def _fed_back_again(
    rows: Sequence[tuple[int, int, int]], data: bytes, found: Diagnostic
) -> Iterator[RefusedItem]:
    """Return the records of a quarantine file that soundings came from."""
    from encoder.convert.read_quarantine import record_at

    seen: set[int] = set()
    for offset, _length, _kind in rows:
        begin, kind, text, name = record_at(data, offset)
        if begin not in seen:
            seen.add(begin)
            yield RefusedItem(kind, begin, text, (found,), name)
