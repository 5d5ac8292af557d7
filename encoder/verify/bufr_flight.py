"""Comparing a BUFR message with its flight, level by level and element by element."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import diagnostic
from encoder.levels.table import KIND_WORDS, LevelKind
from encoder.physics import interpolate_log_pressure, shortest_turn
from encoder.verify.agreement import SLACK, Disagreement, Tally
from encoder.verify.bufr_facts import compare_facts
from encoder.verify.bufr_flags import compare_flags, compare_shear, compare_times

if TYPE_CHECKING:
    from encoder.formats.bufr.sounding import BufrSounding
    from encoder.levels.table import Levels
    from encoder.profile import Flight, FloatArray, Profile, Station

ELEMENTS = (
    "geopotential_height",
    "air_temperature",
    "dew_point_temperature",
    "wind_from_direction",
    "wind_speed",
    "latitude",
    "longitude",
)
COMPARED_KINDS = (
    LevelKind.SURFACE | LevelKind.STANDARD | LevelKind.TROPOPAUSE | LevelKind.MAXIMUM_WIND
)
"""Kinds the regulations fix, so that message and flight must have the same levels."""


def compare_with_flight(sounding: BufrSounding, flight: Flight, tally: Tally) -> None:
    """Compare every level of the message, and its facts, with the flight.

    Parameters
    ----------
    sounding : BufrSounding
    flight : Flight
    tally : Tally
        Takes what is found.
    """
    from encoder.levels import select_levels

    compare_facts(sounding, flight, tally)
    descent = sounding.template == "309056"
    rows = flight.descent if descent and flight.descent is not None else flight.ascent
    levels = sounding.levels
    selected = None if descent else select_levels(flight).value
    precision = levels.attributes.get("precision", {})
    start = float(rows["time"][0]) if descent else 0.0
    for index in range(len(levels)):
        at = _rows_near(levels, index, rows, selected, (precision, start))
        if not descent:
            _below_ground(levels, index, rows, (precision, flight.station, tally))
        for name in ELEMENTS:
            if name not in precision:
                continue
            item = _value(levels, index, name, at, precision)
            if item is not None:
                tally.value(item)
    compare_times(sounding, rows, selected, tally, start=start)
    compare_shear(sounding, selected, tally)
    if selected is not None:
        by_height = bool(np.all(np.isnan(levels["air_pressure"])))
        compare_flags(sounding, selected, tally, by_height=by_height)
        _kinds(sounding, selected, tally)


def _below_ground(
    levels: Levels,
    index: int,
    rows: Profile,
    scale: tuple[dict[str, float], Station, Tally],
) -> None:
    """Compare the position of a standard level below the ground: that of the release.

    Its time and displacements are 0, of a drop too (WMO-No. 306 Volume I.2, B/C25.8.2.2).
    """
    precision, station, tally = scale
    pressure = float(levels["air_pressure"][index])
    ground = float(np.nanmax(rows["air_pressure"], initial=0.0))
    if not pressure > ground + precision.get("air_pressure", 0.1):
        return
    for name, own in (("latitude", station.latitude), ("longitude", station.longitude)):
        said = float(levels[name][index])
        if name in precision and np.isfinite(said):
            off, limit = abs(said - own), precision[name] + SLACK
            tally.value(Disagreement("flight and BUFR", pressure, name, own, said, off, limit))


@dataclass(frozen=True, slots=True)
class _Near:
    """Where in the flight a level may come from: rows, and the range of pressure or time."""

    rows: Profile
    indexes: np.ndarray
    pressures: FloatArray
    selected: Levels | None
    level: int | None


def _rows_near(
    levels: Levels,
    index: int,
    rows: Profile,
    selected: Levels | None,
    scale: tuple[dict[str, float], float],
) -> _Near:
    """Return the rows within half a step of a level's pressure and time, or of its height."""
    precision, start = scale
    pressure, time = float(levels["air_pressure"][index]), float(levels["time"][index])
    half = precision.get("air_pressure", 0.1) / 2.0
    if np.isnan(pressure):
        height = float(levels["geopotential_height"][index])
        gap = np.abs(rows["geopotential_height"] - height)
        near = gap <= precision.get("geopotential_height", 1.0) / 2.0 + SLACK
    else:
        near = np.abs(rows["air_pressure"] - pressure) <= half + SLACK
    if np.isfinite(time):
        near &= np.abs(rows["time"] - start - time) <= 0.5 + SLACK
    indexes = np.flatnonzero(near)
    at = np.array([pressure - half, pressure, pressure + half])
    if np.isfinite(pressure) and len(indexes):
        at = np.array([pressure])
    level = None
    if selected is not None and np.isnan(pressure):
        gap = np.abs(selected["geopotential_height"] - float(levels["geopotential_height"][index]))
        gap = np.where(np.isnan(gap), np.inf, gap)
        closest = int(np.argmin(gap))
        within = precision.get("geopotential_height", 1.0) / 2.0 + SLACK
        level = closest if gap[closest] <= within else None
    elif selected is not None:
        own = np.flatnonzero(np.abs(selected["air_pressure"] - pressure) <= half + SLACK)
        level = int(own[0]) if len(own) else None
    return _Near(rows, indexes, at, selected, level)


def _value(
    levels: Levels, index: int, name: str, near: _Near, precision: dict[str, float]
) -> Disagreement | None:
    """Compare one value with those the flight has there."""
    said = float(levels[name][index])
    candidates = _candidates(near, name)
    pressure = float(levels["air_pressure"][index])
    limit = precision[name] / 2.0 + SLACK
    between = "flight and BUFR"
    finite = candidates[np.isfinite(candidates)]
    if np.isnan(said):
        if len(finite) == 0 or len(finite) < len(candidates) or _dropped(near, name):
            return None
        return Disagreement(between, pressure, name, float(finite[0]), None, float("nan"), limit)
    if len(finite) == 0:
        if name in ("latitude", "longitude"):
            return None
        return Disagreement(between, pressure, name, None, said, float("nan"), limit)
    if name == "wind_from_direction":
        speed = float(levels["wind_speed"][index])
        if said == 0.0 and speed == 0.0:
            return None
        off = float(np.min(np.abs(np.asarray(shortest_turn(finite, np.full(len(finite), said))))))
    else:
        low, high = float(np.min(finite)), float(np.max(finite))
        off = max(low - said, said - high, 0.0)
        if off == 0.0:
            off = float(np.min(np.abs(finite - said))) if len(finite) == 1 else 0.0
    nearest = float(finite[int(np.argmin(np.abs(finite - said)))])
    return Disagreement(between, pressure, name, nearest, said, off, limit)


def _candidates(near: _Near, name: str) -> FloatArray:
    """Return the values the flight has at a level: of its rows, of its selected level, between."""
    found: list[FloatArray] = []
    if len(near.indexes) and name in near.rows:
        found.append(near.rows[name][near.indexes])
    if near.level is not None and near.selected is not None:
        found.append(near.selected[name][[near.level]])
    if not found and name in near.rows and np.all(np.isfinite(near.pressures)):
        between = _interpolated(near.rows, name, near.pressures)
        found.append(between)
    return np.concatenate(found) if found else np.zeros(0)


def _interpolated(rows: Profile, name: str, pressures: FloatArray) -> FloatArray:
    falling = rows["air_pressure"]
    order = np.argsort(-falling, kind="stable")
    own = rows[name][order]
    if name != "wind_from_direction":
        return np.asarray(interpolate_log_pressure(pressures, falling[order], own), np.float64)
    angle = np.radians(own)
    east = interpolate_log_pressure(pressures, falling[order], np.sin(angle))
    north = interpolate_log_pressure(pressures, falling[order], np.cos(angle))
    return np.asarray(np.mod(np.degrees(np.arctan2(east, north)), 360.0), np.float64)


def _dropped(near: _Near, name: str) -> bool:
    """Tell whether the selected level has no such value (below the ground, extrapolated)."""
    if near.level is None or near.selected is None:
        return False
    return bool(np.isnan(near.selected[name][near.level]))


def _kinds(sounding: BufrSounding, selected: Levels, tally: Tally) -> None:
    """Tell levels the flight has and the message lacks."""
    levels = sounding.levels
    wind_only = "air_temperature" not in levels.attributes.get("precision", {})
    kinds = int(LevelKind.SURFACE | LevelKind.MAXIMUM_WIND) if wind_only else int(COMPARED_KINDS)
    half = levels.attributes.get("precision", {}).get("air_pressure")
    if half is None:
        return
    lowest = float(np.nanmin(levels["air_pressure"])) if len(levels) else float("inf")
    for index in selected.having(kinds):
        pressure = float(selected["air_pressure"][index])
        if pressure < lowest - half / 2.0 - SLACK:
            continue
        tally.compared["levels"] = tally.compared.get("levels", 0) + 1
        near = np.abs(levels["air_pressure"] - pressure) <= half / 2.0 + SLACK
        wanted = int(selected.kinds[index]) & kinds
        given = int(np.bitwise_or.reduce(levels.kinds[near])) if np.any(near) else 0
        lacking = wanted & ~given
        if lacking:
            words = [word for kind, word in KIND_WORDS.items() if lacking & kind]
            tally.found.append(
                diagnostic(
                    "bufr-level-missing",
                    f"The flight has a level at {pressure:g} hPa ({', '.join(words)}), which the "
                    "message does not have.",
                    path=(f"{pressure:g} hPa",),
                )
            )
