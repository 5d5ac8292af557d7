"""Many coded soundings at once: the plainest ones across reports, all others one by one.

The definition is the decoder of one report (:func:`encoder.report.decode_reports`). What is taken
here gives the same levels, kinds and status and no findings but missing parts: a sounding that is
anywhere near the limit of a check is left to that decoder.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.codes.bulk import read_parts
from encoder.codes.bulk_records import HEAT, STANDARD, WIND, Records
from encoder.codes.editions import FOUR_PARTS_FROM, TODAY_FROM
from encoder.columns import LEVEL_COLUMNS
from encoder.convert.old_days import day_at, names_new_level, tell_conventions
from encoder.convert.plain_checks import all_well
from encoder.convert.plain_heights import plain_heights, virtual_temperature
from encoder.convert.plain_limits import hardly_possible
from encoder.diagnostics import diagnostic
from encoder.levels.rules import NEW_SURFACE
from encoder.levels.table import THERMODYNAMIC, LevelKind
from encoder.sounding import NOT_REPORTED, REPORTED, REPORTED_MISSING, STATUS_COLUMNS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from numpy.typing import NDArray

    from encoder.diagnostics import Diagnostic
    from encoder.repair import RepairMode

_LETTERS = {b"TTAA": 0, b"TTBB": 1, b"TTCC": 2, b"TTDD": 3}
_COMPARED = ("air_temperature", "dew_point_depression", "wind_from_direction", "wind_speed")
_STATUS = np.array([NOT_REPORTED, REPORTED_MISSING, REPORTED], dtype=np.int8)
_HEAT_BITS = int(THERMODYNAMIC)


@dataclass(frozen=True, slots=True, eq=False)
class DecodedSounding:
    """The levels of one coded sounding.

    Attributes
    ----------
    columns : mapping of str to ndarray, shape (level,)
        By :data:`encoder.columns.LEVEL_COLUMNS`.
    kinds : ndarray of int
    status : mapping of str to ndarray of int8
        By :data:`encoder.sounding.STATUS_COLUMNS`.
    release : float or None
        Seconds from the nominal time to the release, where the report gives it.
    diagnostics : tuple of Diagnostic
    reach : tuple of (int, int, int)
        Begin and end in the text of the parts, a line each, and the place of the level, of every
        group of a level; empty where there is no finding a level could be beside.
    """

    columns: Mapping[str, NDArray[np.float64]]
    kinds: NDArray[Any]
    status: Mapping[str, NDArray[np.int8]]
    release: float | None
    diagnostics: tuple[Diagnostic, ...] = ()
    reach: tuple[tuple[int, int, int], ...] = ()


def decode_soundings(
    soundings: Sequence[Sequence[bytes]],
    *,
    formula: str = "wmo-49",
    repair: RepairMode = "none",
    days: Sequence[date | None] | None = None,
) -> list[DecodedSounding | None]:
    """Decode soundings.

    Parameters
    ----------
    soundings : sequence of sequence of bytes
        The parts of each, from their letters on; each letter once.
    formula : str
        Vapour-pressure formula for the relative humidity.
    repair : {"none", "safe", "all"}
        Which repairs of damaged groups are read.
    days : sequence of date or None, optional
        Day of each, which picks the edition of its form; that of today by default.

    Returns
    -------
    list of DecodedSounding or None
        None where there is no level in it.
    """
    days = [None] * len(soundings) if days is None else days
    plain = decode_plain(soundings, formula=formula, days=days)
    return [
        decode_one(parts, formula=formula, repair=repair, on=on) if made is None else made
        for parts, made, on in zip(soundings, plain, days, strict=True)
    ]


def decode_one(
    parts: Sequence[bytes],
    *,
    formula: str = "wmo-49",
    repair: RepairMode = "none",
    on: date | None = None,
) -> DecodedSounding | None:
    """Decode one sounding with the decoder of one report.

    None where there is no level in it, and where that decoder finds the parts to be of several
    soundings: none of them is then taken for the others.
    """
    from encoder.report import decode_reports
    from encoder.sounding import report_status

    text = b"\n".join(parts).decode("latin-1")
    decoded = decode_reports(text, formula=formula, repair=repair, on=on)
    reports = [item for item in decoded.value if len(item.levels)]
    if len(reports) != 1:
        return None
    (report,) = reports
    return DecodedSounding(
        report.levels.columns,
        report.levels.kinds,
        report_status(report, report.levels),
        _release(report),
        decoded.diagnostics,
        tuple((*entry.span, entry.level) for entry in report.trace if entry.level is not None),
    )


def _release(report: Any) -> float | None:
    """Return the seconds from the nominal time to the release named in section 7."""
    for part in report.parts:
        for record in part.content.records("7"):
            hour, minute = record.get("release_hour"), record.get("release_minute")
            nominal = part.content.identification.get("hour")
            if isinstance(hour, int) and isinstance(minute, int) and isinstance(nominal, int):
                return release_seconds(nominal, hour, minute)
    return None


def release_seconds(nominal: int, hour: int, minute: int) -> float:
    """Return the seconds from a nominal hour to the nearest time of a release."""
    away = (hour - nominal) * 3600.0 + minute * 60.0
    if away > 43200.0:
        away -= 86400.0
    elif away < -43200.0:
        away += 86400.0
    return away


# --- across reports ---------------------------------------------------------------------------


def decode_plain(
    soundings: Sequence[Sequence[bytes]],
    *,
    formula: str = "wmo-49",
    days: Sequence[date | None] | None = None,
) -> list[DecodedSounding | None]:
    """Decode the plainest soundings across reports; None for all others.

    An old one is plain where the edition of its day and that of today read it the same.
    """
    results: list[DecodedSounding | None] = [None] * len(soundings)
    parts: list[bytes] = []
    letters: list[bytes] = []
    owners: list[int] = []
    usable: list[int] = []
    for place, members in enumerate(soundings):
        own = [bytes(item[:4]) for item in members]
        if not own or len(set(own)) < len(own) or not all(item in _LETTERS for item in own):
            continue
        if day_at(days, place) < FOUR_PARTS_FROM:
            continue
        for letter, text in sorted(zip(own, members, strict=True)):
            parts.append(text)
            letters.append(letter)
            owners.append(len(usable))
        usable.append(place)
    if not usable:
        return results
    names = np.array(letters, dtype="S4")
    read = read_parts(parts, names)
    owner = np.array(owners, dtype=np.int32)
    count = len(usable)
    good = _agree(read.plain, owner, count)
    for column in (*read.identification.T, read.system, read.release):
        good &= _same(column, owner, count, missing=-1)
    records = read.records
    sounding = owner[records.part]
    old = np.array([day_at(days, place) < TODAY_FROM for place in usable])
    if old.any():
        of_today = (records.pressure == NEW_SURFACE) & (records.kind == STANDARD)
        good[sounding[of_today & old[sounding]]] = False
        strange = np.array([names_new_level(text) for text in parts])
        good[owner[strange & old[owner]]] = False
        good[owner[((read.system >= 0) | (read.release >= 0)) & old[owner]]] = False
    virtual = virtual_temperature(records)
    heights, sure = plain_heights(records, names, virtual)
    good[np.unique(owner[~sure])] = False
    several = np.bincount(owner, minlength=count) > 1
    good &= all_well(records, sounding, virtual, heights, count) | ~several
    rows = np.flatnonzero(good[sounding])
    table = _gather(records, sounding, heights, rows, good=good, formula=formula)
    have = np.zeros((count, 4), dtype=bool)
    have[owner, [_LETTERS[item] for item in letters]] = True
    hours = np.zeros(count, dtype=np.int64)
    hours[owner] = read.identification[:, 1]
    released = np.full(count, -1, dtype=np.int64)
    np.maximum.at(released, owner, read.release)
    said = (have, hours, released)
    _deal(table, good, usable, said, results)
    if days is not None:
        tell_conventions(read, letters, [(place, days[place]) for place in usable], owners, results)
    return results


def _agree(plain: NDArray[np.bool_], owner: NDArray[Any], count: int) -> NDArray[np.bool_]:
    good = np.ones(count, dtype=bool)
    good[owner[~plain]] = False
    return good


def _same(
    column: NDArray[Any], owner: NDArray[Any], count: int, *, missing: int
) -> NDArray[np.bool_]:
    """Tell which soundings have one value in all their parts that have one."""
    given = column != missing
    low = np.full(count, np.iinfo(np.int32).max, dtype=np.int64)
    high = np.full(count, -1, dtype=np.int64)
    np.minimum.at(low, owner[given], column[given])
    np.maximum.at(high, owner[given], column[given])
    return (low >= high) | (high < 0)


def _gather(
    records: Records,
    sounding: NDArray[Any],
    heights: NDArray[np.float64],
    rows: NDArray[np.intp],
    *,
    good: NDArray[np.bool_],
    formula: str,
) -> dict[str, Any]:
    """Merge the records of each sounding into levels; contradictions leave it to the other way."""
    surface = (records.level_kinds[rows] & int(LevelKind.SURFACE)) != 0
    pressure = records.pressure[rows]
    own = sounding[rows]
    order = rows[np.lexsort((~surface, -pressure, own))]
    own, pressure = sounding[order], records.pressure[order]
    surface = (records.level_kinds[order] & int(LevelKind.SURFACE)) != 0
    new = np.ones(len(order), dtype=bool)
    if len(order):
        new[1:] = (
            (own[1:] != own[:-1]) | (pressure[1:] != pressure[:-1]) | (surface[1:] != surface[:-1])
        )
    starts = np.flatnonzero(new)
    level_of = own[starts]
    given = {
        "air_pressure": pressure,
        "geopotential_height": heights[order],
        "air_temperature": records.temperature[order],
        "dew_point_depression": records.depression[order],
        "wind_from_direction": records.direction[order],
        "wind_speed": records.speed[order],
        "wind_shear_below": records.below[order],
        "wind_shear_above": records.above[order],
    }
    columns: dict[str, NDArray[np.float64]] = {}
    for name, values in given.items():
        columns[name] = np.fmax.reduceat(values, starts) if len(starts) else values
        if name in _COMPARED and len(starts):
            apart = columns[name] - np.fmin.reduceat(values, starts)
            good[level_of[apart > 1e-9]] = False
    # two shears at one level would not be compared, the first one stands
    twice = (
        np.add.reduceat(np.isfinite(given["wind_shear_below"]).astype(int), starts) > 1
        if len(starts)
        else np.empty(0, dtype=bool)
    )
    good[level_of[twice]] = False
    good[level_of[hardly_possible(columns, level_of)]] = False
    kinds = records.level_kinds[order]
    kinds = np.bitwise_or.reduceat(kinds, starts) if len(starts) else kinds
    status = {
        name: _STATUS[
            np.maximum.reduceat(records.said[name][order], starts)
            if len(starts)
            else records.said[name][order]
        ]
        for name in STATUS_COLUMNS
    }
    marked = _mark_humidity(kinds.astype(np.int64), columns, level_of)
    dew_point = columns["air_temperature"] - columns["dew_point_depression"]
    from encoder import physics

    columns["dew_point_temperature"] = dew_point
    columns["relative_humidity"] = np.asarray(
        physics.relative_humidity(columns["air_temperature"], dew_point, formula)
    )
    nothing = np.full(len(starts), np.nan)
    return {
        "columns": {name: columns.get(name, nothing) for name in LEVEL_COLUMNS},
        "kinds": marked,
        "status": status,
        "sounding": level_of,
    }


def _mark_humidity(
    kinds: NDArray[np.int64], columns: Mapping[str, NDArray[np.float64]], level_of: NDArray[Any]
) -> NDArray[np.int64]:
    """Mark where humidity stops and begins again among the significant levels."""
    has_heat = np.isfinite(columns["air_temperature"])
    rows = np.flatnonzero(((kinds & _HEAT_BITS) != 0) & has_heat)
    moist = np.isfinite(columns["dew_point_depression"][rows])
    same = level_of[rows][1:] == level_of[rows][:-1]
    stops = same & moist[:-1] & ~moist[1:]
    begins = same & ~moist[:-1] & moist[1:]
    kinds[rows[:-1][stops]] |= int(LevelKind.BEGIN_MISSING_HUMIDITY)
    kinds[rows[1:][begins]] |= int(LevelKind.END_MISSING_HUMIDITY)
    kinds[rows[~moist]] &= ~int(LevelKind.SIGNIFICANT_HUMIDITY)
    return kinds


def _deal(
    table: dict[str, Any],
    good: NDArray[np.bool_],
    usable: list[int],
    said: tuple[NDArray[np.bool_], NDArray[np.int64], NDArray[np.int64]],
    results: list[DecodedSounding | None],
) -> None:
    """Give each good sounding its levels; ``said`` are its parts, hours and times of release."""
    have, hours, released = said
    ends = np.cumsum(np.bincount(table["sounding"], minlength=len(good))).tolist()
    columns, kinds, status = table["columns"], table["kinds"], table["status"]
    hour, release = hours.tolist(), released.tolist()
    begin = 0
    for number, (end, fine) in enumerate(zip(ends, good.tolist(), strict=True)):
        part, begin = slice(begin, end), end
        if not fine or part.start == end:
            continue
        figures = release[number]
        results[usable[number]] = DecodedSounding(
            {name: values[part] for name, values in columns.items()},
            kinds[part],
            {name: values[part] for name, values in status.items()},
            None if figures < 0 else release_seconds(hour[number], figures // 100, figures % 100),
            _lacking(tuple(have[number].tolist())),
        )


_KNOWN: dict[tuple[bool, ...], tuple[Diagnostic, ...]] = {}


def _lacking(have: tuple[bool, ...]) -> tuple[Diagnostic, ...]:
    """Return the finding that parts are missing, as the decoder of one report has it."""
    if have not in _KNOWN:
        there = {letter for letter, own in zip("ABCD", have, strict=True) if own}
        lacking = {"A", "B"} - there or ({"C", "D"} - there if there & {"C", "D"} else set())
        names = ", ".join(sorted(lacking))
        _KNOWN[have] = (
            (diagnostic("parts-missing", f"Part {names} is not in the text."),) if lacking else ()
        )
    return _KNOWN[have]


__all__ = ["HEAT", "STANDARD", "WIND", "DecodedSounding", "decode_one", "decode_soundings"]
