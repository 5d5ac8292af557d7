"""Comparing what a report says with what the flight says, field by field and level by level."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import Diagnostic, Severity, diagnostic
from encoder.physics import interpolate_log_pressure, shortest_turn
from encoder.resolution import coded_pressure
from encoder.verify.verdict import Difference

if TYPE_CHECKING:
    from collections.abc import Iterable

    from encoder.codes.content import PartContent, Record
    from encoder.codes.declare import Value
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
    """Name standard levels by pressure, winds by altitude by theirs, all else by its turn."""
    keyed: dict[str, Record] = {}
    counts: dict[str, int] = {}
    for record in records:
        if record.kind == "standard":
            key = f"{record.get('air_pressure')} hPa"
        elif record.kind == "fixed-altitude":
            units = record.get("altitude_units")
            key = f"{units:g} units of altitude" if isinstance(units, float | int) else "surface"
            key = "surface" if units == 0 else key
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
    }.get(name)
    return None if step is None else difference / step


SIGNIFICANT_SECTIONS = {
    "4": ("wind_from_direction", "wind_speed"),
    "5": ("air_temperature", "dew_point_depression"),
    "6": ("wind_from_direction", "wind_speed"),
}
"""Sections of levels by pressure that depend on a choice, with what their levels say."""


def levels_in_flight(
    contents: Iterable[PartContent], ascent: Profile, coding: Coding
) -> list[Diagnostic]:
    """Check that every significant level says what the flight has at that pressure.

    Parameters
    ----------
    contents : iterable of PartContent
        Parts as decoded, each judged by its own figures.
    ascent : Profile
    coding : Coding

    Returns
    -------
    list of Diagnostic
        One for every value outside the range of the rows within half a step of the coded
        pressure, widened by half a step of the code. A surface level is held against the surface
        observation alone.
    """
    found: list[Diagnostic] = []
    for content in contents:
        for section, names in SIGNIFICANT_SECTIONS.items():
            for record in content.records(section):
                pressure = record.get("air_pressure")
                if not isinstance(pressure, float):
                    continue
                for name in names:
                    reported = _figure(record, name)
                    if np.isnan(reported):
                        item = _left_out(record, ascent, name, (content.letter, section))
                    else:
                        there = _there(record, ascent, name)
                        item = _value_in_flight(name, reported, pressure, there, coding)
                    if item is not None:
                        found.append(item)
    return found


def _left_out(
    record: Record, ascent: Profile, name: str, place: tuple[str, str]
) -> Diagnostic | None:
    """Tell if a value is reported missing although every row at that pressure has it."""
    pressure = _figure(record, "air_pressure")
    rows = _rows_at(ascent, pressure)
    rows = rows[rows == 0] if record.kind == "surface" else rows
    own = _quantity(ascent, name)[rows]
    if len(own) == 0 or not np.all(np.isfinite(own)):
        return None
    return diagnostic(
        "value-left-out",
        f"The report gives no {name} at {pressure:g} hPa, where the flight has {own[0]:.2f}.",
        path=(*place, f"{pressure:g} hPa", name),
        expected=f"{own[0]:.2f}",
    )


def _figure(record: Record, name: str) -> float:
    value = record.get(name)
    return float(value) if isinstance(value, int | float) else float("nan")


def _there(record: Record, ascent: Profile, name: str) -> FloatArray:
    """Return the values of the flight that a level may give."""
    pressure = record.get("air_pressure")
    if record.kind == "surface":
        same = bool(_rows_at(ascent.select(slice(0, 1)), _figure(record, "air_pressure")).size)
        own = _quantity(ascent, name)[:1] if same else np.array([])
        finite: FloatArray = own[np.isfinite(own)]
        return finite
    at = float(pressure) if isinstance(pressure, int | float) else float("nan")
    return _around(ascent, name, at, _rows_at(ascent, at))


def _quantity(ascent: Profile, name: str) -> FloatArray:
    if name == "dew_point_depression":
        return ascent["air_temperature"] - ascent["dew_point_temperature"]
    return ascent[name]


def _rows_at(ascent: Profile, pressure: float) -> np.ndarray:
    return np.flatnonzero(coded_pressure(ascent["air_pressure"]) == pressure)


def _around(ascent: Profile, name: str, pressure: float, rows: np.ndarray) -> FloatArray:
    """Return the values of the flight that may be reported at a coded pressure."""
    half = 0.05 if pressure < 100.0 else 0.5
    at = np.array([pressure + half, pressure, pressure - half])
    values = _quantity(ascent, name)
    own = values[rows]
    if name == "wind_from_direction":
        between: FloatArray = _direction_at(ascent, at)
    else:
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
