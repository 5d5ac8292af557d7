"""The rows of a flight file: from profile, ascent and descent to one set of columns, and back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.diagnostics import diagnostic
from encoder.errors import InputError
from encoder.formats.netcdf.flight_product import (
    ASCENT,
    DESCENT,
    JUDGED,
    LEFT_OUT,
    ONLY_RECEIVED,
    POSITION,
    SURFACE,
)
from encoder.formats.netcdf.positions import MEASURED, positions
from encoder.profile import SURFACE_ROW, Profile

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from encoder.profile import Flight, FloatArray

Columns = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows in the order of time.

    Attributes
    ----------
    values : dict of str to ndarray, shape (row,)
        By variable name, NaN for missing.
    profile_place : ndarray of int
        Row of each placed row of the profile, in the order of the file.
    record : dict
        What else is needed to get profile, ascent and descent back, as JSON.
    """

    values: Columns
    profile_place: NDArray[np.intp]
    record: dict[str, Any]


def rows_of(flight: Flight) -> Rows:
    """Return the rows of a flight: the surface observation and every row of the profile.

    Rows without a time, and rows that repeat one, have no place in a trajectory; they are kept
    in the record.

    Raises
    ------
    InputError
        If rows of the ascent are not rows of the profile.
    """
    profile, ascent, descent = flight.profile, flight.ascent, flight.descent
    if not np.isfinite(ascent["time"]).all():
        raise _not_placed("Rows of the ascent have no time, which every row of a flight needs.")
    extra = SURFACE_ROW in ascent.source_row and SURFACE_ROW not in profile.source_row
    head = 1 if extra else 0
    source = np.concatenate(([SURFACE_ROW] * head, profile.source_row)).astype(np.int64)
    time = np.concatenate(([0.0] * head, profile["time"]))
    if extra:
        time[0] = ascent["time"][int(np.flatnonzero(ascent.source_row == SURFACE_ROW)[0])]
    use = np.full(len(source), LEFT_OUT, dtype=np.int8)
    rising = _places(source, ascent, time)
    use[rising] = ASCENT
    use[:head] = SURFACE
    falling = None if descent is None else _places(source, descent, time)
    if falling is not None:
        if np.any(use[falling] != LEFT_OUT):
            raise _not_placed("The descent repeats rows of the ascent.")
        use[falling] = DESCENT
    order = np.lexsort((np.arange(len(time)), use == LEFT_OUT, time))
    order = order[np.isfinite(time[order])]
    repeats = np.concatenate(([False], np.diff(time[order]) == 0.0))
    if np.any(use[order[repeats]] != LEFT_OUT):
        raise _not_placed("Two rows in use have the same time.")
    order = order[~repeats]
    where = np.full(len(source), -1, dtype=np.int64)
    where[order] = np.arange(len(order))
    values = _merged(flight, (rising, falling), head, order)
    values |= {"time": time[order], "row_use": use[order], "source_row": source[order]}
    _positions(values, flight)
    place = where[head:]
    values |= _received(profile, values, place)
    record: dict[str, Any] = {
        "profile": {
            "columns": list(profile),
            "computed": dict(profile.computed),
            "source_row": None
            if bool(np.all(np.diff(profile.source_row) > 0))
            else profile.source_row.tolist(),
            "without_place": _as_lists(profile.select(place < 0)),
        },
        "ascent": {"columns": list(ascent), "computed": dict(ascent.computed)},
        "descent": None
        if descent is None
        else {"columns": list(descent), "computed": dict(descent.computed)},
    }
    if len(ascent) > 1 and ascent["time"][-1] < ascent["time"][0]:
        record["ascent"]["falls"] = True
    _verbatim(record, values, flight)
    return Rows(values, place[place >= 0], record)


def _not_placed(message: str) -> InputError:
    return InputError(message, (diagnostic("archive-rows-not-placed", message),))


def _places(source: NDArray[np.int64], part: Profile, time: FloatArray) -> NDArray[np.intp]:
    """Return for every row of a part its place among all rows."""
    order = np.argsort(source, kind="stable")
    found = np.searchsorted(source[order], part.source_row)
    place = order[np.minimum(found, len(order) - 1)]
    if (
        not np.array_equal(source[place], part.source_row)
        or len(np.unique(source)) != len(source)
        or not np.array_equal(time[place], part["time"])
    ):
        raise _not_placed("Rows of the ascent or descent are not rows of the profile.")
    return place


def _merged(
    flight: Flight,
    parts: tuple[NDArray[np.intp], NDArray[np.intp] | None],
    head: int,
    order: NDArray[np.intp],
) -> Columns:
    """Return each quantity: of the ascent and descent where a row is theirs, else as received."""
    profile, (rising, falling) = flight.profile, parts
    count = head + len(profile)
    merged: Columns = {}
    for name in (*JUDGED, *POSITION, *ONLY_RECEIVED):
        if name in ONLY_RECEIVED and name not in profile:
            continue
        values = np.full(count, np.nan)
        if name in profile:
            values[head:] = profile[name]
        if name not in ONLY_RECEIVED:
            values[rising] = flight.ascent.columns.get(name, np.nan)
            if flight.descent is not None and falling is not None:
                values[falling] = flight.descent.columns.get(name, np.nan)
        merged[name] = values[order]
    return merged


def _positions(values: Columns, flight: Flight) -> None:
    latitude, longitude, source = positions(
        values["time"],
        latitude=values["latitude"],
        longitude=values["longitude"],
        direction=values["wind_from_direction"],
        speed=values["wind_speed"],
        start=(flight.station.latitude, flight.station.longitude),
    )
    values |= {"latitude": latitude, "longitude": longitude, "position_source": source}


def _received(profile: Profile, values: Columns, place: NDArray[np.int64]) -> Columns:
    """Return the columns of the profile that differ from what was made of them."""
    placed = place >= 0
    received: Columns = {}
    for name in (*POSITION, *JUDGED):
        if name not in profile:
            continue
        raw = profile[name][placed]
        if not np.array_equal(values[name][place[placed]], raw, equal_nan=True):
            column = np.full(len(values["time"]), np.nan)
            column[place[placed]] = raw
            received[f"{name}_as_received"] = column
    return received


def _as_lists(rows: Profile) -> dict[str, Any]:
    return {
        "source_row": rows.source_row.tolist(),
        "columns": {
            name: [None if np.isnan(value) else value for value in rows[name].tolist()]
            for name in rows
        },
    }


def _verbatim(record: dict[str, Any], values: Columns, flight: Flight) -> None:
    """Put into the record every column of ascent and descent the variables do not give back."""
    for name, part in (("ascent", flight.ascent), ("descent", flight.descent)):
        if part is None:
            continue
        again = _part(values, record[name], (ASCENT, SURFACE) if name == "ascent" else (DESCENT,))
        record[name]["verbatim"] = {
            column: [None if np.isnan(value) else value for value in part[column].tolist()]
            for column in part
            if not np.array_equal(again[column], part[column], equal_nan=True)
        }


# --- and back ---------------------------------------------------------------------------------


def _floats(values: Any) -> FloatArray:
    return np.array([np.nan if value is None else value for value in values], dtype=np.float64)


def _part(values: Columns, record: Mapping[str, Any], uses: tuple[int, ...]) -> Profile:
    """Return the ascent or the descent from the variables of a file.

    The rows of a file are in the order of time, those of a dropped sonde from the surface upward.
    """
    rows = np.flatnonzero(np.isin(values["row_use"], uses))
    if record.get("falls"):
        rows = rows[::-1]
    columns: dict[str, FloatArray] = {}
    for name in record["columns"]:
        column = values[name] if name in values else np.full(len(values["row_use"]), np.nan)
        if name in POSITION:
            column = np.where(values["position_source"] == MEASURED, column, np.nan)
        columns[name] = column[rows]
    for name, items in record.get("verbatim", {}).items():
        columns[name] = _floats(items)
    return Profile(columns, values["source_row"][rows], record["computed"])


def _profile(values: Columns, record: Mapping[str, Any]) -> Profile:
    """Return the profile as read, from the variables of a file."""
    own = values["row_use"] != SURFACE
    lost = record["without_place"]
    source = np.concatenate((values["source_row"][own], lost["source_row"])).astype(np.int64)
    if record["source_row"] is None:
        order = np.argsort(source, kind="stable")
    else:
        places = {row: place for place, row in enumerate(source.tolist())}
        order = np.array([places[row] for row in record["source_row"]], dtype=np.int64)
    columns = {}
    for name in record["columns"]:
        stored = values.get(f"{name}_as_received", values.get(name))
        if stored is None:
            raise KeyError(name)
        columns[name] = np.concatenate((stored[own], _floats(lost["columns"][name])))[order]
    return Profile(columns, source[order], record["computed"])


def parts_of_rows(
    values: Columns, record: Mapping[str, Any]
) -> tuple[Profile, Profile, Profile | None]:
    """Return profile, ascent and descent; inverse of :func:`rows_of`.

    Raises
    ------
    KeyError, ValueError, TypeError, IndexError
        If the record and the columns do not belong together.
    """
    descent = record["descent"]
    return (
        _profile(values, record["profile"]),
        _part(values, record["ascent"], (SURFACE, ASCENT)),
        None if descent is None else _part(values, descent, (DESCENT,)),
    )
