"""From the soundings of a station to its file: order, duplicates, quality, writing, counting."""

from __future__ import annotations

import json
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.convert.account import Account
from encoder.convert.batch import Batch, fill_of, joined_batches, sums_of_soundings
from encoder.convert.parts import Parts, joined_parts
from encoder.convert.quality import flag_levels, flag_soundings
from encoder.convert.read_derived_source import DERIVED_KIND
from encoder.convert.results import files_of_station
from encoder.convert.soundings import COUNTED
from encoder.convert.station_file import differences, write_converted
from encoder.convert.work import RefusedItem, counted
from encoder.diagnostics import Diagnostic, diagnostic
from encoder.formats.netcdf.converted_product import SoundingQuality
from encoder.formats.netcdf.declare import SOFTWARE, VERSION
from encoder.profile import Station

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from encoder.convert.storage import Store
    from encoder.convert.work import Settings

KIND_ORDER = (2, 1, 3, 0, 4, 5)
"""Kinds of source from the most to the least trusted where two soundings have as many values: BUFR,
netCDF, coded text, IGRA, tables, derived files of IGRA (common practice, no source)."""
ONLY, CHOSEN, SAME, OTHER = range(4)
_TEXT_KIND = 3


def finish_station(
    station: str,
    batches: Sequence[Batch],
    parts: Sequence[Parts],
    sources: Sequence[Mapping[str, Any]],
    *,
    settings: Settings,
    store: Store,
) -> dict[str, Any]:
    """Make the files of a station.

    Parameters
    ----------
    station : str
    batches, parts : sequence
        What the sources have of it, ``source_index`` pointing into ``sources``.
    sources : sequence of mapping
        Name, digest and kind of each, in the order of names.
    settings : Settings
    store : Store

    Returns
    -------
    dict
        JSON object: account, files, refused records, counts of findings.
    """
    accounts = [Account.empty() for _ in sources]
    found: list[Diagnostic] = []
    refused: list[tuple[int, RefusedItem]] = []
    gathered = list(batches)
    places: list[list[tuple[int, int, int]]] = []
    repairs: list[dict[str, Any]] = []
    if parts:
        names = [str(item.get("leaf") or item["name"]) for item in sources]
        from encoder.convert.decode_parts import decode_parts

        decoded = decode_parts(joined_parts(parts), settings, names)
        accounts = decoded.accounts
        found.extend(decoded.found)
        refused.extend(decoded.refused)
        places, repairs = decoded.places, decoded.repairs
        if decoded.batch is not None:
            gathered.append(decoded.batch)
    records = [
        item.as_json(str(sources[i]["name"]), str(sources[i]["digest"])) for i, item in refused
    ]
    result: dict[str, Any] = {
        "station": station,
        "files": [],
        "refused": records,
        "found": counted(found),
    }
    if not gathered:
        return {**result, **settled_accounts(accounts, sources), "soundings": 0, "faults": []}
    batch = _ordered(joined_batches(gathered))
    batch = _with_elevation(batch, settings)
    selection = select(batch)
    marks = flag_levels(batch)
    if batch.levels["level_quality"].any():
        marks = marks | batch.levels["level_quality"]
    levels = {**batch.levels, "level_quality": marks}
    batch = Batch(batch.station, batch.tenths, batch.profiles, levels, batch.texts)
    quality = flag_soundings(batch, marks, settings.catalogue)
    quality[derived_differs(batch)] |= int(SoundingQuality.DERIVED_DIFFERS)
    profiles = {**batch.profiles, "sounding_quality": quality}
    batch = Batch(batch.station, batch.tenths, profiles, levels, batch.texts)
    known = _station(batch, settings)
    faults: list[Diagnostic] = []
    given = _sources_of(sources, places)
    files: list[dict[str, Any]] = []
    for form, name in files_of_station(station, settings).items():
        with _whole_or_none(files, store), store.place(name, durable=True) as path:
            if form == "netcdf":
                written = write_converted(
                    path,
                    batch,
                    known,
                    selection=selection,
                    sources=given,
                    repairs=repairs,
                    remarks=(f"converted by {SOFTWARE} {VERSION}",),
                    formula=settings.formula,
                    service=settings.service,
                    fast=settings.fast,
                )
                if settings.read_back and (wrong := differences(path, written)):
                    faults.append(
                        diagnostic(
                            "convert-file-differs",
                            f"{name}: {', '.join(wrong)} read back are not what was written.",
                            file=name,
                        )
                    )
            else:
                _write_other(form, path, batch, known, selection)
        files.append({"name": name, "bytes": store.size(name)})
    _count_written(batch, accounts, places)
    flagged = np.count_nonzero(quality)
    return {
        **result,
        **settled_accounts(accounts, sources),
        "files": files,
        "soundings": len(batch),
        "current": int((selection < SAME).sum()),
        "flagged": int(flagged),
        "repaired": len(repairs),
        "faults": [item.as_json() for item in faults],
    }


@contextmanager
def _whole_or_none(files: Sequence[Mapping[str, Any]], store: Store) -> Iterator[None]:
    """Take the files of a station away again where one of them cannot be written."""
    try:
        yield
    except Exception:
        for item in files:
            store.remove(item["name"])
        raise


def settled_accounts(
    accounts: Sequence[Account], sources: Sequence[Mapping[str, Any]]
) -> dict[str, Any]:
    """Return the account of a station, and what it settled of each source."""
    total = Account.empty()
    for item in accounts:
        total.add(item)
    settled = {
        str(source["name"]): item.as_json()
        for source, item in zip(sources, accounts, strict=True)
        if item != Account.empty()
    }
    return {"account": total.as_json(), "settled": settled}


def _count_written(
    batch: Batch, accounts: Sequence[Account], places: Sequence[Sequence[tuple[int, int, int]]]
) -> None:
    """Count what the station file has of each source: soundings, levels, values and bytes.

    The bytes of coded text are counted part by part, because a sounding may have parts of several
    sources; ``places`` are the parts of the coded soundings.
    """
    profiles = batch.profiles
    owner = profiles["source_index"]
    coded = profiles["source_kind"] == _TEXT_KIND if places else np.zeros(len(batch), dtype=bool)
    values = values_of_soundings(batch)
    for index, account in enumerate(accounts):
        own = owner == index
        account.soundings.written += int(own.sum())
        account.levels.written += int(profiles["row_size"][own].sum())
        account.values.written += int(values[own].sum())
        account.bytes.written += int(profiles["source_length"][own & ~coded].sum())
    for members in places:
        for source, _offset, length in members:
            accounts[source].bytes.written += length


def _ordered(batch: Batch) -> Batch:
    profiles = batch.profiles
    order = np.lexsort(
        (profiles["source_offset"], profiles["source_index"], profiles["nominal_time"])
    )
    return batch.ordered(order)


def values_of_soundings(batch: Batch) -> NDArray[np.int64]:
    """Return how many values the levels of each sounding have, shape (sounding,)."""
    present = np.zeros(len(batch.levels["kinds"]), dtype=np.int8)
    for name in COUNTED:
        column = batch.levels[name]
        present += column != fill_of(name) if batch.tenths else ~np.isnan(column)
    return sums_of_soundings(present, batch.profiles["row_size"], np.int64)


def select(batch: Batch) -> NDArray[np.int8]:
    """Choose among the soundings of one nominal time.

    The one with the most values is current, one out of a derived file of IGRA, which is a copy of
    another, only where there is no other; of several with as many, that of the kind of source
    first in :data:`KIND_ORDER`, then that of the first source by name, then the last in it. The
    others are marked: the same levels, or others.

    Parameters
    ----------
    batch : Batch
        In the order of nominal time.
    """
    profiles = batch.profiles
    count = len(batch)
    selection = np.zeros(count, dtype=np.int8)
    nominal = profiles["nominal_time"]
    edges = np.flatnonzero(np.concatenate(([True], nominal[1:] != nominal[:-1], [True])))
    several = np.flatnonzero(np.diff(edges) > 1)
    offsets = batch.offsets
    for group in several.tolist():
        members = range(int(edges[group]), int(edges[group + 1]))
        unknown = [m for m in members if profiles["time_source"][m] == 2]
        ranked = sorted(
            (m for m in members if m not in unknown),
            key=lambda m: (
                int(profiles["source_kind"][m]) == DERIVED_KIND,
                -int(profiles["values"][m]),
                KIND_ORDER.index(int(profiles["source_kind"][m])),
                int(profiles["source_index"][m]),
                -int(profiles["source_offset"][m]),
            ),
        )
        if len(ranked) < 2:  # soundings of unknown hour may well be different ones
            continue
        best = ranked[0]
        selection[best] = CHOSEN
        for other in ranked[1:]:
            same = _same_levels(batch, offsets, best, other)
            selection[other] = SAME if same else OTHER
    return selection


def derived_differs(batch: Batch) -> NDArray[np.bool_]:
    """Tell which soundings of derived files differ from the sounding data of their time.

    At equal pressures temperature and height are compared; the tenths of a kelvin of a derived
    file are those of degC, rounded once more.

    Parameters
    ----------
    batch : Batch
        In the order of nominal time.
    """
    marked = np.zeros(len(batch), dtype=bool)
    profiles = batch.profiles
    kind, nominal = profiles["source_kind"], profiles["nominal_time"]
    offsets = batch.offsets
    for place in np.flatnonzero(kind == DERIVED_KIND).tolist():
        first, last = np.searchsorted(nominal, nominal[place], "left"), place + 1
        while last < len(batch) and nominal[last] == nominal[place]:
            last += 1
        for other in range(int(first), last):
            if kind[other] == 0:
                one = slice(offsets[place], offsets[place + 1])
                two = slice(offsets[other], offsets[other + 1])
                marked[place] |= _values_differ(batch, one, two)
    return marked


def _values_differ(batch: Batch, one: slice, other: slice) -> bool:
    levels = batch.levels
    _pressures, a, b = np.intersect1d(
        np.round(levels["air_pressure"][one], 2),
        np.round(levels["air_pressure"][other], 2),
        return_indices=True,
    )
    for name, most in (("air_temperature", 0.11), ("geopotential_height", 0.51)):
        apart = np.abs(levels[name][one][a] - levels[name][other][b])
        if bool((apart > most).any()):
            return True
    return False


def _same_levels(batch: Batch, offsets: NDArray[np.int64], one: int, other: int) -> bool:
    if batch.profiles["row_size"][one] != batch.profiles["row_size"][other]:
        return False
    a, b = offsets[one], offsets[other]
    size = int(batch.profiles["row_size"][one])
    return all(
        batch.levels[name][a : a + size].tobytes() == batch.levels[name][b : b + size].tobytes()
        for name in COUNTED
    )


def _with_elevation(batch: Batch, settings: Settings) -> Batch:
    """Fill in the elevation of the catalogue at the date where the source gives none."""
    records = settings.catalogue.periods(batch.station)
    elevation = batch.profiles["elevation"]
    if not records or not np.isnan(elevation).any():
        return batch
    filled = elevation.copy()
    days = batch.profiles["nominal_time"].astype("datetime64[s]").astype("datetime64[D]")
    for record in records:
        inside = (days >= np.datetime64(record.first)) & (days <= np.datetime64(record.last))
        inside &= np.isnan(filled)
        filled[inside] = record.elevation
    return replace(batch, profiles={**batch.profiles, "elevation": filled})


def _station(batch: Batch, settings: Settings) -> Station:
    """Return the station as of its latest sounding."""
    profiles = batch.profiles
    known = np.flatnonzero(np.isfinite(profiles["latitude"]) & np.isfinite(profiles["longitude"]))
    last = int(known[-1]) if len(known) else len(batch) - 1
    records = settings.catalogue.periods(batch.station)
    name = records[-1].name if records else batch.station
    is_index = len(batch.station) == 5 and batch.station.isdigit()
    return Station(
        name,
        float(profiles["latitude"][last]),
        float(profiles["longitude"][last]),
        float(profiles["elevation"][last]),
        batch.station if is_index else None,
    )


def _sources_of(
    sources: Sequence[Mapping[str, Any]], places: list[list[tuple[int, int, int]]]
) -> list[dict[str, Any]]:
    """Return the sources as written into the file, with the places of parts of coded text."""
    made = [
        {key: item[key] for key in ("name", "digest", "kind", "members") if key in item}
        for item in sources
    ]
    own: dict[int, list[list[int]]] = {}
    for part in places:
        for at, begin, size in part:
            own.setdefault(at, []).append([begin, size])
    for at, several in own.items():
        made[at]["parts"] = several
    return made


def _write_other(
    form: str, path: str, batch: Batch, station: Station, selection: NDArray[Any]
) -> None:
    from pathlib import Path

    if form == "parquet":
        from encoder.convert.parquet_file import write_parquet

        write_parquet(path, batch, station, selection)
        return
    from encoder.convert.to_igra import igra_text

    with Path(path).open("wb") as stream:
        for data in igra_text(batch):
            stream.write(data)


def as_bytes(document: Any, *, for_reading: bool = False) -> bytes:
    """Return a JSON document as bytes, always the same ones; in lines where people read it."""
    if for_reading:
        text = json.dumps(document, sort_keys=True, indent=1)
    else:
        text = json.dumps(document, sort_keys=True, separators=(",", ":"))
    return (text + "\n").encode("utf-8")
