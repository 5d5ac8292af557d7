"""Compiled reading of level lines. Importing this compiles it, or loads it from the cache."""

from __future__ import annotations

from typing import Any

import numba
import numpy as np

from encoder.formats.igra.layout import LEVEL_FIELDS, MISSING, REMOVED

_F = {item.name: item for item in LEVEL_FIELDS}
_ELAPSED, _PRESSURE, _HEIGHT, _TEMPERATURE, _HUMIDITY, _DEPRESSION, _DIRECTION, _SPEED = (
    (_F[name].begin, _F[name].end, _F[name].lowest, _F[name].highest)
    for name in (
        "elapsed",
        "pressure",
        "height",
        "temperature",
        "humidity",
        "depression",
        "direction",
        "speed",
    )
)
_BLANK, _MINUS, _ZERO, _A, _B = 32, 45, 48, 65, 66
_BLANKS = (2, 8, 33, 39, 45, 51)
_FLAGS = (15, 21, 27)


@numba.njit(inline="always")
def _number(lines: Any, row: int, field: Any) -> Any:
    """Return a right-justified whole number without leading zeros, and whether it is none."""
    begin, end, lowest, highest = field
    fault = False
    value: Any = 0
    stage, negative = 0, False  # stages: blanks, sign, figures
    for place in range(begin, end):
        sign = np.int32(lines[row, place])
        figure = sign - _ZERO
        if (figure >= 0) & (figure <= 9):
            if (stage < 2) & (figure == 0) & (place < end - 1):
                fault = True
            value = value * 10 + figure
            stage = 2
        elif sign == _MINUS:
            fault |= stage != 0
            negative = True
            stage = 1
        else:
            fault |= (sign != _BLANK) | (stage != 0)
    fault |= stage != 2
    if negative:
        fault |= value == 0
        value = -value
    gone = (value == MISSING) | (value == REMOVED)
    fault |= (not gone) & ((value < lowest) | (value > highest))
    return value, fault


@numba.njit(cache=True, nogil=True)
def read_lines(  # noqa: PLR0917
    lines: Any, kind: Any, elapsed: Any, pressure: Any, height: Any, temperature: Any,
    humidity: Any, depression: Any, direction: Any, speed: Any, wrong: Any,
) -> None:  # fmt: skip
    """Fill the columns of level lines, all of one length, and tell which lines are wrong."""
    for row in range(lines.shape[0]):
        major, minor = np.int32(lines[row, 0]) - _ZERO, np.int32(lines[row, 1]) - _ZERO
        fault = (major < 1) | (major > 3) | (minor < 0) | (minor > 2)
        kind[row] = major * 10 + minor
        for place in _BLANKS:
            fault |= lines[row, place] != _BLANK
        for place in _FLAGS:
            flag = lines[row, place]
            fault |= (flag != _BLANK) & (flag != _A) & (flag != _B)
        value, none = _number(lines, row, _ELAPSED)
        fault |= none | ((value >= 0) & (value % 100 > 59))  # MMMSS
        elapsed[row] = value
        value, none = _number(lines, row, _PRESSURE)
        fault |= none | (value == REMOVED)  # the layout knows no removed pressures
        pressure[row] = value
        value, none = _number(lines, row, _HEIGHT)
        fault |= none
        height[row] = value
        value, none = _number(lines, row, _TEMPERATURE)
        fault |= none
        temperature[row] = value
        value, none = _number(lines, row, _HUMIDITY)
        fault |= none
        humidity[row] = value
        value, none = _number(lines, row, _DEPRESSION)
        fault |= none
        depression[row] = value
        value, none = _number(lines, row, _DIRECTION)
        fault |= none
        direction[row] = value
        value, none = _number(lines, row, _SPEED)
        fault |= none
        speed[row] = value
        wrong[row] = fault
