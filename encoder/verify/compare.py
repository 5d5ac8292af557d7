"""Comparing what a report says with what the flight says, field by field and level by level."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import Diagnostic, Severity, diagnostic
from encoder.levels.table import LevelKind
from encoder.physics import interpolate_log_pressure, shortest_turn
from encoder.resolution import coded_pressure
from encoder.verify.verdict import Difference

if TYPE_CHECKING:
    from collections.abc import Iterable

    from encoder.codes.content import PartContent, Record
    from encoder.codes.declare import Value
    from encoder.levels.table import Levels
    from encoder.profile import FloatArray, Profile
    from encoder.resolution import Coding

COMPARED_SECTIONS = ("1", "2", "3", "4", "7", "8")
"""Sections whose levels are fixed by the regulations, so that every field can be compared."""
TEMPERATURE_STEP = 0.2
DIRECTION_STEP = 5.0
COARSEST_DEPRESSION_STEP = 1.0
FINE_DEPRESSION_STEP = 0.1
_TEMPERATURE_ERROR = 0.15
"""Largest coding error of TTTa in K: half a tenth, and a tenth by the pairs of table 3931."""


def compare_fields(
    reported: PartContent,
    expected: PartContent,
    letters: str,
    coding: Coding,
    *,
    sections: Iterable[str] = COMPARED_SECTIONS,
) -> list[Difference]:
    """Compare the fields of one part with those encoding the flight gives.

    Parameters
    ----------
    reported, expected : PartContent
        Both as decoded, so that both are on the steps of the code.
    letters : str
        Letters of the part, for the places.
    coding : Coding
        Gives the step of wind speed.
    sections : iterable of str
        Sections compared.
    """
    found: list[Difference] = []
    for number in sections:
        own = _keyed(reported.records(number))
        theirs = _keyed(expected.records(number))
        for key in dict.fromkeys((*theirs, *own)):
            found.extend(_records(own.get(key), theirs.get(key), (letters, number, key), coding))
    return found


def _keyed(records: Iterable[Record]) -> dict[str, Record]:
    """Name standard levels by pressure, everything else by its turn."""
    keyed: dict[str, Record] = {}
    counts: dict[str, int] = {}
    for record in records:
        if record.kind == "standard":
            key = f"{record.get('air_pressure')} hPa"
        else:
            counts[record.kind] = counts.get(record.kind, 0) + 1
            key = (
                record.kind if counts[record.kind] == 1 else f"{record.kind} {counts[record.kind]}"
            )
        keyed.setdefault(key, record)
    return keyed


def _records(
    own: Record | None, theirs: Record | None, place: tuple[str, str, str], coding: Coding
) -> list[Difference]:
    letters, section, key = place
    if own is None or theirs is None:
        there = "present" if own is not None else None
        return [
            Difference(
                letters,
                section,
                key,
                "record",
                there,
                "present" if theirs is not None else None,
                None,
                Severity.ERROR,
            )
        ]
    found = []
    for name in dict.fromkeys((*theirs.values, *own.values)):
        mine, expected = own.get(name), theirs.get(name)
        if _same(mine, expected):
            continue
        steps = _steps(name, mine, expected, own, coding)
        small = steps is not None and steps <= 1.0 + 1e-6
        severity = Severity.WARNING if small else Severity.ERROR
        found.append(Difference(letters, section, key, name, mine, expected, steps, severity))
    return found


def _same(mine: Value, expected: Value) -> bool:
    if isinstance(mine, float) and isinstance(expected, int | float):
        return abs(mine - expected) < 1e-6
    return mine == expected


def _steps(name: str, mine: Value, expected: Value, record: Record, coding: Coding) -> float | None:
    if isinstance(mine, bool | str) or isinstance(expected, bool | str):
        return None
    if mine is None or expected is None:
        return None
    difference = abs(float(mine) - float(expected))
    pressure = record.get("air_pressure")
    high = isinstance(pressure, float) and pressure <= 500.0
    if name == "wind_from_direction":
        return abs(float(shortest_turn(float(mine), float(expected)))) / DIRECTION_STEP
    fine = max(float(mine), float(expected)) <= 5.0
    step = {
        "air_temperature": TEMPERATURE_STEP,
        "dew_point_depression": FINE_DEPRESSION_STEP if fine else COARSEST_DEPRESSION_STEP,
        "wind_speed": coding.speed_step,
        "wind_shear_below": coding.speed_step,
        "wind_shear_above": coding.speed_step,
        "geopotential_height": 10.0 if high else 1.0,
        "air_pressure": 0.1 if isinstance(pressure, float) and pressure < 100.0 else 1.0,
        "release_minute": 1.0,
    }.get(name)
    return None if step is None else difference / step


def levels_in_flight(levels: Levels, ascent: Profile, coding: Coding) -> list[Diagnostic]:
    """Check that every significant level says what the flight has at that pressure.

    Parameters
    ----------
    levels : Levels
        As decoded.
    ascent : Profile
    coding : Coding

    Returns
    -------
    list of Diagnostic
        One for every value outside the range of the rows within half a step of the coded
        pressure, widened by half a step of the code.
    """
    found: list[Diagnostic] = []
    surface = int(LevelKind.SURFACE)
    for kinds, names in (
        (
            int(LevelKind.SIGNIFICANT_TEMPERATURE | LevelKind.SIGNIFICANT_HUMIDITY),
            ("air_temperature", "dew_point_depression"),
        ),
        (int(LevelKind.SIGNIFICANT_WIND), ("wind_from_direction", "wind_speed")),
    ):
        for index in levels.having(kinds):
            if levels.kinds[index] & surface:
                continue
            pressure = float(levels["air_pressure"][index])
            rows = _rows_at(ascent, pressure)
            for name in names:
                reported = float(levels[name][index])
                item = _value_in_flight(
                    name, reported, pressure, _around(ascent, name, pressure, rows), coding
                )
                if item is not None:
                    found.append(item)
    return found


def _rows_at(ascent: Profile, pressure: float) -> np.ndarray:
    return np.flatnonzero(coded_pressure(ascent["air_pressure"]) == pressure)


def _around(ascent: Profile, name: str, pressure: float, rows: np.ndarray) -> FloatArray:
    """Return the values of the flight that may be reported at a coded pressure."""
    half = 0.05 if pressure < 100.0 else 0.5
    at = np.array([pressure + half, pressure, pressure - half])
    if name == "dew_point_depression":
        values = ascent["air_temperature"] - ascent["dew_point_temperature"]
    else:
        values = ascent[name]
    if name == "wind_from_direction":
        own = values[rows]
        between: FloatArray = _direction_at(ascent, at)
    else:
        own = values[rows]
        between = np.asarray(interpolate_log_pressure(at, ascent["air_pressure"], values))
    together = np.concatenate([own, between])
    finite: FloatArray = together[np.isfinite(together)]
    return finite


def _direction_at(ascent: Profile, at: FloatArray) -> FloatArray:
    radians = np.radians(ascent["wind_from_direction"])
    east = interpolate_log_pressure(at, ascent["air_pressure"], np.sin(radians))
    north = interpolate_log_pressure(at, ascent["air_pressure"], np.cos(radians))
    degrees: FloatArray = np.degrees(np.arctan2(east, north))
    turned: FloatArray = np.mod(degrees, 360.0)
    return turned


def _value_in_flight(
    name: str, reported: float, pressure: float, around: FloatArray, coding: Coding
) -> Diagnostic | None:
    if np.isnan(reported):
        return None
    if len(around) == 0:
        return diagnostic(
            "level-not-in-flight",
            f"The report gives {name} {reported:g} at {pressure:g} hPa, where the flight has none.",
            path=(f"{pressure:g} hPa", name),
            value=f"{reported:g}",
        )
    if name == "wind_from_direction":
        if reported == 0.0:
            return None
        off = float(
            np.min(np.abs(np.asarray(shortest_turn(around, np.full(len(around), reported)))))
        )
        limit = 2.5
    else:
        low, high = float(np.min(around)), float(np.max(around))
        off = max(low - reported, reported - high, 0.0)
        limit = {
            "air_temperature": _TEMPERATURE_ERROR,
            "wind_speed": coding.speed_half_step,
        }.get(name, 0.05 if reported < 5.0 else 0.5)
        if name == "dew_point_depression" and reported >= 49.0 and high >= 49.0:
            return None
        if name == "dew_point_depression" and reported == 0.0 and low < 0.0:
            return None
    if off <= limit + 0.01:
        return None
    return diagnostic(
        "level-not-in-flight",
        f"The report gives {name} {reported:g} at {pressure:g} hPa; the flight has "
        f"{float(np.min(around)):.2f} to {float(np.max(around)):.2f} there.",
        path=(f"{pressure:g} hPa", name),
        value=f"{reported:g}",
        expected=f"{float(np.min(around)):.2f} to {float(np.max(around)):.2f}",
    )
