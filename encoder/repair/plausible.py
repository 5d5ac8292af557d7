"""Values of levels that can hardly be: by themselves, or beside those of the levels around.

A single part says everything once, so nothing in it can contradict a wrong figure. But the air has
its limits: how hot or cold, how windy it can be, how fast the temperature falls and rises with
height, and how much one wind can differ from both its neighbours. All limits are far beyond the
usual (from memory and common practice, no source); what passes them is told, never changed.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import numpy as np

from encoder.codes.fm35 import LOWER_STANDARD, UPPER_STANDARD
from encoder.codes.groups import standard_height
from encoder.codes.heights import KAPPA, METRES_OF_START, SHARE_OF_START, ZERO_CELSIUS
from encoder.diagnostics import Diagnostic, Severity, diagnostic

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from encoder.trace import TraceEntry

    Floats = NDArray[np.float64]
    Columns = Mapping[str, Floats]

Element = Literal["air_temperature", "geopotential_height", "wind_speed"]

LIMIT_PRESSURES = (1.0, 10.0, 30.0, 100.0, 200.0, 300.0, 500.0, 700.0, 850.0, 1100.0)
HOTTEST = (60.0, 40.0, 10.0, -15.0, -15.0, -5.0, 20.0, 40.0, 52.0, 62.0)
COLDEST = (-110.0, -115.0, -115.0, -112.0, -105.0, -95.0, -85.0, -90.0, -90.0, -90.0)
"""Temperatures in degC that are never reached, by the pressure in hPa."""
LIMIT_DEPTHS = np.log(LIMIT_PRESSURES)
NEVER_TOO_HOT, NEVER_TOO_COLD = min(HOTTEST), max(COLDEST)
STANDARD_PRESSURES = frozenset((*LOWER_STANDARD.values(), *UPPER_STANDARD.values()))
STRONGEST_WIND = 150.0
"""No wind of the free air is stronger, in m s-1."""
NEAR_GROUND = 100.0
"""Depth in hPa of the layer above the lowest level that the sun or the ground makes its own."""
KELVIN_OF_FALL = 2.5
KELVIN_OF_FALL_NEAR_GROUND = 6.0
"""The temperature may fall by so much more than that of dry air."""
KELVIN_OF_RISE = 12.0
KELVIN_OF_RISE_NEAR_GROUND = 30.0
KELVIN_BY_DEPTH = 30.0
"""It may rise by so much, and by the last one for every factor e of the pressure."""
SPEED_OF_PEAK = 12.0
SHARE_OF_PEAK = 0.3
SPEED_BY_DEPTH = 45.0
"""A wind may be off both its neighbours by half of what these differ, by the first, by this share
of the stronger one, and by the last for every factor e between their pressures: the core of a jet
is a peak between levels far apart."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """A value that can hardly be.

    Attributes
    ----------
    code : str
        Diagnostic code.
    element : str
    lower, upper : int
        Levels concerned, the second is shown; the same one twice where no other takes part.
    amount, limit : float
        How far it is from what can be expected, and how far it may be.
    """

    code: str
    element: Element
    lower: int
    upper: int
    amount: float
    limit: float


def doubts(columns: Columns) -> list[Doubt]:
    """Find values that can hardly be.

    Parameters
    ----------
    columns : mapping of str to ndarray, shape (level,)
        ``air_pressure``, ``geopotential_height``, ``air_temperature``, ``wind_from_direction`` and
        ``wind_speed`` of the levels of one sounding upward, NaN for missing.

    Returns
    -------
    list of Doubt
        Empty for nearly every sounding.
    """
    pressures = columns["air_pressure"].tolist()
    return [
        *_heights(columns["geopotential_height"].tolist(), pressures),
        *_temperatures(columns["air_temperature"].tolist(), pressures),
        *_winds(columns["wind_from_direction"].tolist(), columns["wind_speed"].tolist(), pressures),
    ]


def _heights(heights: Sequence[float], pressures: Sequence[float]) -> Iterator[Doubt]:
    for level, height in enumerate(heights):
        if pressures[level] not in STANDARD_PRESSURES:
            continue
        usual = standard_height(pressures[level])
        limit = METRES_OF_START + SHARE_OF_START * usual
        if abs(height - usual) > limit:  # never where it is missing
            off = abs(height - usual)
            yield Doubt("value-implausible", "geopotential_height", level, level, off, limit)


def _temperatures(heat: Sequence[float], pressures: Sequence[float]) -> Iterator[Doubt]:
    known = [
        level
        for level, (value, pressure) in enumerate(zip(heat, pressures, strict=True))
        if value > -ZERO_CELSIUS and pressure > 0.0
    ]
    if not known:
        return
    ground = pressures[known[0]] - NEAR_GROUND
    for level in known:
        if not NEVER_TOO_COLD < heat[level] < NEVER_TOO_HOT:
            low, high = temperature_limits(pressures[level])
            if not low <= heat[level] <= high:
                limit = high if heat[level] > high else low
                yield Doubt(
                    "value-implausible", "air_temperature", level, level, heat[level], limit
                )
    for lower, upper in pairwise(known):
        change = heat[upper] - heat[lower]
        if -KELVIN_OF_FALL <= change <= KELVIN_OF_RISE:
            continue
        near = pressures[lower] > ground
        ratio = math.log(pressures[lower] / pressures[upper])
        if change > 0.0:
            limit = KELVIN_OF_RISE_NEAR_GROUND if near else KELVIN_OF_RISE
            limit += KELVIN_BY_DEPTH * ratio
            amount = change
        else:
            limit = KELVIN_OF_FALL_NEAR_GROUND if near else KELVIN_OF_FALL
            dry = (heat[lower] + ZERO_CELSIUS) * (math.exp(-KAPPA * ratio) - 1.0)
            amount = dry - change
        if amount > limit:
            yield Doubt("temperature-jump", "air_temperature", lower, upper, amount, limit)


def temperature_limits(pressure: float) -> tuple[float, float]:
    """Return the lowest and highest temperature in degC that the air may have at a pressure."""
    depth = math.log(pressure)
    return (
        float(np.interp(depth, LIMIT_DEPTHS, COLDEST)),
        float(np.interp(depth, LIMIT_DEPTHS, HOTTEST)),
    )


def _depth(lower: float, upper: float) -> float:
    """Return the logarithm of the ratio of pressures; 1 where one of them is not known."""
    return math.log(lower / upper) if lower > 0.0 and upper > 0.0 else 1.0


def _winds(
    directions: Sequence[float], speeds: Sequence[float], pressures: Sequence[float]
) -> Iterator[Doubt]:
    levels: list[int] = []
    winds: list[complex] = []
    for level, (direction, speed) in enumerate(zip(directions, speeds, strict=True)):
        if direction >= 0.0 and speed >= 0.0:
            levels.append(level)
            winds.append(cmath.rect(speed, math.radians(direction)))
            if speed > STRONGEST_WIND:
                yield Doubt("value-implausible", "wind_speed", level, level, speed, STRONGEST_WIND)
    for place in range(1, len(winds) - 1):
        below, own, above = winds[place - 1 : place + 2]
        least = abs(own - below)
        if least <= SPEED_OF_PEAK:
            continue
        least = min(least, abs(above - own))
        amount = least - 0.5 * abs(above - below)
        limit = SPEED_OF_PEAK + SHARE_OF_PEAK * max(abs(above), abs(below))
        if amount <= limit:
            continue
        lower, level, upper = levels[place - 1 : place + 2]
        limit += SPEED_BY_DEPTH * _depth(pressures[lower], pressures[upper])
        if amount > limit:
            yield Doubt("wind-jump", "wind_speed", level, level, amount, limit)


# --- what is told -------------------------------------------------------------------------------

_SHOWN: dict[Element, tuple[str, str, tuple[str, ...]]] = {
    "air_temperature": ("temperature", "degC", ("TTTaDD", "air_temperature")),
    "geopotential_height": ("height", "gpm", ("PPhhh", "geopotential_height")),
    "wind_speed": ("wind", "m/s", ("ddfff", "wind_speed", "wind_from_direction")),
}


def implausible(
    columns: Columns, trace: Sequence[TraceEntry], told: Sequence[Diagnostic]
) -> list[Diagnostic]:
    """Return what there is to say of the values of one sounding that can hardly be.

    Parameters
    ----------
    columns : mapping of str to ndarray, shape (level,)
        Values of its levels.
    trace : sequence of TraceEntry
        With the levels of the groups.
    told : sequence of Diagnostic
        What was found before; what it speaks of is not told twice.
    """
    found = doubts(columns)
    if not found:
        return []
    named = {
        (step, item.path[-1])
        for item in told
        if item.severity is not Severity.NOTE
        for step in item.path[:-1]
    }
    spans = [
        item.span for item in told if item.span is not None and item.severity is not Severity.NOTE
    ]
    said: list[Diagnostic] = []
    for item in found:
        _name, unit, names = _SHOWN[item.element]
        levels = dict.fromkeys(_level(columns, level) for level in (item.lower, item.upper))
        entry = _entry(trace, item.upper, item.element)
        if entry is None or any((level, name) in named for level in levels for name in names):
            continue
        if any(first < entry.span[1] and entry.span[0] < last for first, last in spans):
            continue
        named.update((level, names[0]) for level in levels)
        said.append(
            diagnostic(
                item.code,
                _words(item, columns),
                span=entry.span,
                path=(entry.part, entry.section, *levels, entry.symbol),
                value=entry.text,
                expected=f"within {item.limit:.0f} {unit}",
            )
        )
    return said


def _level(columns: Columns, level: int) -> str:
    pressure = columns["air_pressure"][level]
    if np.isfinite(pressure):
        return f"{pressure:g} hPa"
    height = columns["geopotential_height"][level]
    return f"{height:.0f} m" if np.isfinite(height) else "the surface"


def _words(item: Doubt, columns: Columns) -> str:
    amount, limit = item.amount, item.limit
    name, unit, _steps = _SHOWN[item.element]
    value = float(columns[item.element][item.upper])
    where = _level(columns, item.upper)
    if item.code == "wind-jump":
        return (
            f"The wind at {where} is {amount:.0f} m/s away from what those below and above let "
            f"expect (limit {limit:.0f} m/s)."
        )
    if item.code == "value-implausible":
        if item.element == "geopotential_height":
            return (
                f"A height of {value:.0f} gpm at {where} is {amount:.0f} gpm off the standard "
                f"atmosphere (limit {limit:.0f} gpm)."
            )
        return f"A {name} of {value:.1f} {unit} at {where} is beyond the limit of {limit:.0f}."
    before = float(columns["air_temperature"][item.lower])
    change = (
        f"from {before:.1f} degC at {_level(columns, item.lower)} to {value:.1f} degC at {where}"
    )
    if value > before:
        return f"The temperature rises {change}, by {amount:.1f} K (limit {limit:.1f} K)."
    return (
        f"The temperature falls {change}, by {amount:.1f} K more than that of dry air "
        f"(limit {limit:.1f} K)."
    )


def _entry(trace: Sequence[TraceEntry], level: int, element: Element) -> TraceEntry | None:
    return next(
        (
            entry
            for entry in trace
            if entry.level == level and entry.values.get(element) is not None
        ),
        None,
    )
