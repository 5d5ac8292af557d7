"""Values of a message that lie halfway between two figures of the text.

A message rounds once, the text made from it again: a wind of 5.46 m/s is 5.5 in BUFR and would be 6
in the text, where the flight itself gives 5. A value exactly halfway is therefore decided by the
rows of the message just before and after it, where it has them: a line through their values tells
on which side of the half the value was before the first rounding. Where the message has no such
rows the half goes away from zero, as everywhere (:mod:`encoder.rounding`).

The way is our own. Against flights whose values before rounding are known it decides about nine of
ten halves of pressure and height as the flight does, and seven of ten of the wind, where going away
from zero is right in five of ten.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.levels.table import Levels
from encoder.rounding import round_half_away

if TYPE_CHECKING:
    from encoder.profile import FloatArray
    from encoder.resolution import WindUnit

LONGEST_GAP = 15.0
"""Seconds from a level to the last row that decides about it: rows of a few seconds, not levels.
Levels put in between rows do not stand at even times, and their time is rounded: nothing decides
about them."""
NUDGE = 1e-4
"""Share of the step of the message by which a decided value is moved off the half."""
_HALF = 1e-6
_TENS_FROM = 500.0
"""hPa; from there upward heights are coded in tens of metres (WMO-No. 306 Volume I.1, 35.2.2)."""
_TENTHS_FROM = 100.0
"""hPa; above there pressures are coded in tenths of hPa."""


@dataclass(frozen=True, slots=True)
class _Element:
    """Element with the rows on each side that decide, and its column of precision."""

    name: str
    rows: int
    precision: str


_ELEMENTS = (
    _Element("air_pressure", 4, "air_pressure"),
    _Element("geopotential_height", 4, "geopotential_height"),
    _Element("wind_speed", 1, "wind_speed"),
    _Element("air_temperature", 0, "air_temperature"),
    _Element("dew_point_depression", 0, "dew_point_temperature"),
)
"""Temperatures are measured to the step of the message: a half of theirs is a half of the flight,
and the rows beside it have no say."""


def decide_ties(levels: Levels, message: Levels, *, wind_unit: WindUnit = "kt") -> Result[Levels]:
    """Return levels whose halves are decided by the rows of the message.

    Parameters
    ----------
    levels : Levels
        To be coded as text: some of the message, or selected from its rows.
    message : Levels
        All levels of the message, with "precision" among the attributes.
    wind_unit : {"kt", "m s-1"}
        Unit of the text.

    Returns
    -------
    Result of Levels
        Values that were decided are moved off the half by a ten-thousandth of the step of the
        message. "bufr-halfway" tells how many there were.
    """
    steps = message.attributes.get("precision", {})
    columns = {name: np.array(values) for name, values in levels.columns.items()}
    halfway = decided = 0
    for element in _ELEMENTS:
        step = steps.get(element.precision)
        if step is None:
            continue
        ties = np.flatnonzero(_ties(levels, element.name, wind_unit))
        halfway += len(ties)
        for index in ties:
            side = _side(levels, int(index), message, element)
            if side is None:
                continue
            decided += 1
            columns[element.name][index] += side * NUDGE * step
    if not halfway:
        return Result(levels)
    changed = Levels(columns, levels.kinds, levels.reasons, levels.rows, levels.attributes)
    return Result(changed, (_told(halfway, decided),))


def _told(halfway: int, decided: int) -> Diagnostic:
    return diagnostic(
        "bufr-halfway",
        f"{halfway} value(s) of the message lie halfway between two figures of the text; "
        f"{decided} of them were decided by the rows beside them, the others go away from zero.",
        value=str(halfway),
    )


def _ties(levels: Levels, name: str, wind_unit: WindUnit) -> np.ndarray:
    """Tell which values lie exactly halfway between two figures of the text."""
    values, pressure = levels[name], levels["air_pressure"]
    steps = np.full(len(levels), 0.1)
    if name == "air_pressure":
        steps = np.where(pressure >= _TENTHS_FROM, 1.0, 0.1)
    elif name == "geopotential_height":
        steps = np.where(pressure <= _TENS_FROM, 10.0, 1.0)
    elif name == "dew_point_depression":
        steps = np.where(round_half_away(values, 0.1) <= 5.0, 0.1, 1.0)
    elif name == "wind_speed":
        if wind_unit == "kt":
            return np.zeros(len(levels), np.bool_)
        steps = np.ones(len(levels))
    share = np.mod(np.abs(values) / steps, 1.0)
    return np.asarray(np.abs(share - 0.5) < _HALF)


def _side(levels: Levels, index: int, message: Levels, element: _Element) -> float | None:
    """Return 1 or -1 by the side on which the rows put a value, None where they do not tell."""
    time, value = float(levels["time"][index]), float(levels[element.name][index])
    place = _row_of(levels, index, message)
    if place is None or not element.rows:
        return None
    low, high = place - element.rows, place + element.rows + 1
    if low < 0 or high > len(message):
        return None
    times, values = message["time"][low:high] - time, message[element.name][low:high]
    even = np.ptp(np.diff(times)) == 0.0 and 0.0 < times[-1] <= LONGEST_GAP
    if not even or not np.all(np.isfinite(values)):
        return None
    estimate = _at_zero(times, values)
    if abs(estimate - value) < _HALF:
        return None
    return 1.0 if estimate > value else -1.0


def _row_of(levels: Levels, index: int, message: Levels) -> int | None:
    """Return the row of the message a level is."""
    same = message["time"] == levels["time"][index]
    same &= message["air_pressure"] == levels["air_pressure"][index]
    found = np.flatnonzero(same)
    return int(found[0]) if len(found) else None


def _at_zero(times: FloatArray, values: FloatArray) -> float:
    """Return the value at time 0 of the straight line nearest to the values."""
    centred = times - np.mean(times)
    slope = float(np.sum(centred * values) / np.sum(centred * centred))
    return float(np.mean(values) - slope * np.mean(times))
