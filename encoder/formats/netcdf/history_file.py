"""Writing, reading and continuing the station history."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.archive import History, Service, history_of, joined
from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.formats.netcdf.container import only_writer, text_of, write
from encoder.formats.netcdf.declare import MISSING, SOFTWARE, VERSION
from encoder.formats.netcdf.discovery import coverage, discovery, extents, iso, moment
from encoder.formats.netcdf.facts_text import compact, station_as_json, station_from_json
from encoder.formats.netcdf.level_product import HISTORY
from encoder.formats.netcdf.level_values import levels_of_dataset, values_of_levels, vertical_of
from encoder.sounding import Sounding, station_id, station_words

if TYPE_CHECKING:
    import os
    from collections.abc import Sequence

    from numpy.typing import NDArray

MOST_TEXT = 30_000
"""Longest coded report kept in a history, in characters; the longest real ones have a tenth."""


def write_history_file(
    path: str | os.PathLike[str],
    history: History,
    *,
    service: Service | None = None,
    created: datetime | None = None,
) -> None:
    """Write a station history; an older one is replaced once the new one is complete.

    Parameters
    ----------
    path : path-like
    history : History
    service : Service, optional
    created : datetime, optional
        When the values were last changed; the time of the last sounding by default.

    Raises
    ------
    OSError
        If the file cannot be written.
    """
    station = history.station
    values, own, record = values_of_levels(
        history.columns,
        history.kinds,
        history.status,
        formula=history.formula,
        coded=bool(history.texts) and all(history.texts),
    )
    numbers, axis, unit = vertical_of(values, own)
    first, last = float(history.time.min()), float(history.time.max())
    stamp = created or moment(last)
    gaps = np.diff(np.unique(history.nominal_time))
    name = station_id(station)
    remarks = history.remarks or (f"{iso(stamp)}: written by {SOFTWARE} {VERSION}",)
    facts = discovery(
        HISTORY,
        title=f"Soundings of {station_words(station)}",
        summary=(
            f"{len(history):,} upper-air soundings of {station_words(station)} with "
            f"{len(history.kinds):,} levels, from {iso(moment(first))} to {iso(moment(last))}, "
            "values as the source had them."
        ),
        identifier=f"{name}_history",
        station=station,
        service=service or Service(),
        created=stamp,
        history=remarks,
        source="coded reports" if history.texts else "archived levels",
        level="levels as the source had them",
        keywords=("air_pressure", "air_temperature", "dew_point_depression", "wind_speed"),
        instrument="radiosonde, pilot balloon",
        comment=(
            "Levels of sounding i are row_size[i] values from the sum of the row_size before it. "
            "Superseded soundings were corrected later; the correction follows them."
        ),
        extent={
            **extents(history.latitude, history.longitude, numbers, axis, unit),
            **coverage(moment(first), moment(last), float(np.median(gaps)) if len(gaps) else 0.0),
        },
    )
    values |= {
        "row_size": history.row_size.astype(np.int32),
        "time": history.time,
        "nominal_time": history.nominal_time,
        "latitude": history.latitude,
        "longitude": history.longitude,
        "superseded": history.superseded.astype(np.int8),
        "profile_id": _identifiers(history),
        "station_name": station.name,
        "station_id": name,
        "history_facts": compact(
            {
                "station": station_as_json(station),
                **record,
                "remarks": list(history.remarks),
            }
        ),
    }
    if np.isfinite(history.elevation).any():
        values["surface_altitude"] = np.where(
            np.isnan(history.elevation), MISSING["f8"], history.elevation
        )
    if history.texts:
        values["coded_report"] = characters([item.encode("utf-8") for item in history.texts])
    write(path, HISTORY, facts, values, own)


def characters(lines: Sequence[bytes]) -> Any:
    """Return texts as an array of characters, shape (text, longest)."""
    width = max(1, *(len(line) for line in lines)) if len(lines) > 1 else max(1, len(lines[0]))
    return np.array(lines, dtype=f"S{width}").view("S1").reshape(len(lines), width)


def _identifiers(history: History) -> Any:
    """Return station, nominal time and number among the soundings of that time."""
    _times, first, inverse = np.unique(history.nominal_time, return_index=True, return_inverse=True)
    number = np.arange(len(history)) - first[inverse]
    stamps = np.datetime_as_string(history.nominal_time.astype("datetime64[s]"), unit="m")
    name = station_id(history.station)
    return characters(
        [
            f"{name}_{stamp}_{place}".encode()
            for stamp, place in zip(stamps.tolist(), number.tolist(), strict=True)
        ]
    )


def history_of_dataset(dataset: Any) -> History:
    """Return the history of an open file; inverse of :func:`write_history_file`.

    Raises
    ------
    KeyError, TypeError, ValueError, FormatError
        If the file was changed so that it is none any more.
    """
    facts = json.loads(text_of(dataset, "history_facts"))
    columns, kinds, status = levels_of_dataset(dataset, facts)
    variables = dataset.variables
    row_size = np.asarray(variables["row_size"][...]).astype(np.int64)
    if np.any(row_size < 0) or int(row_size.sum()) != len(kinds):
        msg = f"row_size adds up to {int(row_size.sum())} levels, the file has {len(kinds)}"
        raise ValueError(msg)

    def each(name: str) -> NDArray[np.float64]:
        return np.asarray(variables[name][...], dtype=np.float64)

    elevation = np.full(len(row_size), np.nan)
    if "surface_altitude" in variables:
        elevation = each("surface_altitude")
        elevation = np.where(elevation == MISSING["f8"], np.nan, elevation)
    texts: tuple[str, ...] = ()
    if "coded_report" in variables:
        lines = np.ascontiguousarray(variables["coded_report"][...])
        texts = tuple(
            line.decode("utf-8") for line in lines.view(f"S{lines.shape[1]}").reshape(-1).tolist()
        )
    return History(
        station_from_json(facts["station"]),
        each("time"),
        each("nominal_time"),
        each("latitude"),
        each("longitude"),
        elevation,
        row_size,
        np.asarray(variables["superseded"][...]) != 0,
        columns,
        kinds,
        status,
        texts,
        facts["formula"],
        tuple(facts["remarks"]),
    )


# --- continuing -------------------------------------------------------------------------------


def append_to_history(
    path: str | os.PathLike[str],
    soundings: Sequence[Sounding],
    *,
    service: Service | None = None,
    created: datetime | None = None,
) -> Result[History | None]:
    """Add soundings to a station history, or begin one.

    Killed at any moment, the file is the one before or the one after. Writers wait for each
    other. A sounding of a station and nominal time that are there already takes the place of the
    former one, which is kept and marked as superseded; an equal one changes nothing.

    Parameters
    ----------
    path : path-like
    soundings : sequence of Sounding
        Of one station.
    service : Service, optional
    created : datetime, optional

    Returns
    -------
    Result of History or None
        What is in the file now; None, and the file untouched, where it is no history, or of
        another station.

    Raises
    ------
    OSError
        If the file cannot be written; the old one is untouched then.
    """
    with only_writer(path):
        before: History | None = None
        if Path(path).exists():
            read = _open_history(path)
            if read.value is None:
                return read
            before = read.value
        after = continued(before, soundings, str(path))
        if after.value is None or after.value is before:
            return after
        stamp = created or max(item.time for item in soundings)
        count = len(after.value) - (0 if before is None else len(before))
        line = f"{iso(stamp)}: {count} added by {SOFTWARE} {VERSION}"
        former = () if before is None else before.remarks
        history = replace(after.value, remarks=(*former, line))
        write_history_file(path, history, service=service, created=stamp)
        return Result(history, after.diagnostics)


def _open_history(path: str | os.PathLike[str]) -> Result[History | None]:
    from encoder.formats.netcdf import read_netcdf

    read = read_netcdf(path)
    if read.value is None or isinstance(read.value, History):
        return Result(read.value, read.diagnostics)
    found = diagnostic(
        "archive-other-product",
        f'Expected a station history, "{path}" is another product.',
        file=str(path),
        expected=HISTORY.format,
    )
    return Result(None, (found,))


def continued(
    before: History | None, added: Sequence[Sounding], file: str | None = None
) -> Result[History | None]:
    """Return a history with soundings added, in the order of nominal time.

    Parameters
    ----------
    before : History or None
        None begins a history.
    added : sequence of Sounding
    file : str, optional
        For the diagnostics.

    Returns
    -------
    Result of History or None
        The very history given where nothing is new; None where a sounding does not belong to it.
    """
    if before is None:
        if not added:
            return Result(None)
        wrong = _strangers(added[0].station_id, added[0].formula, added, file)
        if wrong:
            return Result(None, wrong)
        if len(added) == 1:
            return Result(history_of(added))
        return _joined(history_of(added[:1]), added[1:], file)
    wrong = _strangers(station_id(before.station), before.formula, added, file)
    return Result(None, wrong) if wrong else _joined(before, added, file)


def _strangers(
    name: str, formula: str, added: Sequence[Sounding], file: str | None
) -> tuple[Diagnostic, ...]:
    """Return an error for every sounding of another station or vapour-pressure formula."""
    found = []
    for sounding in added:
        if sounding.station_id != name:
            found.append(
                diagnostic(
                    "archive-other-station",
                    f"The history is of {name}, the sounding of {sounding.station_id}.",
                    file=file,
                    value=sounding.station_id,
                    expected=name,
                )
            )
        if sounding.formula != formula:
            found.append(
                diagnostic(
                    "archive-other-formula",
                    f"The history has humidities by {formula}, the sounding by {sounding.formula}.",
                    file=file,
                    value=sounding.formula,
                    expected=formula,
                )
            )
    return tuple(found)


def _joined(before: History, added: Sequence[Sounding], file: str | None) -> Result[History | None]:
    found: list[Diagnostic] = []
    superseded = before.superseded.copy()
    places: dict[float, int] = {
        float(before.nominal_time[place]): int(place) for place in before.current()
    }
    new: list[Sounding] = []
    at: dict[float, int] = {}
    for sounding in added:
        moment_of = sounding.nominal_time.timestamp()
        label = f"{sounding.station_id} {iso(sounding.nominal_time)}"
        former = new[at[moment_of]] if moment_of in at else None
        if former is None and moment_of in places:
            former = before[places[moment_of]]
        if former is not None and _says_the_same(former, sounding):
            found.append(
                diagnostic("archive-already-there", f"{label} is there already.", file=file)
            )
            continue
        if former is not None:
            found.append(
                diagnostic("archive-corrected", f"{label} is replaced by this one.", file=file)
            )
            if moment_of in at:
                new[at[moment_of]] = replace(former, superseded=True)
            else:
                superseded[places[moment_of]] = True
        at[moment_of] = len(new)
        new.append(sounding)
    if not new:
        return Result(before, tuple(found))
    return Result(joined(replace(before, superseded=superseded), history_of(new)), tuple(found))


def _says_the_same(one: Sounding, other: Sounding) -> bool:
    if one.text or other.text:
        return one.text == other.text and one.time == other.time
    return one.levels == other.levels and one.time == other.time
