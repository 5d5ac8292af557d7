"""Compiled reading of level lines. Importing this compiles it, or loads it from the cache."""

from __future__ import annotations

from typing import Any

import numba
import numpy as np

from encoder.formats.igra.layout import (
    BLANK_COLUMNS,
    FLAG_COLUMNS,
    HEADER_WIDTH,
    LEVEL_FIELDS,
    LEVEL_WIDTH,
    MISSING,
    REMOVED,
)

_WORD = np.uint64
_EVERY_BIT = 0xFFFFFFFFFFFFFFFF
_F = {item.name: item for item in LEVEL_FIELDS}
_ELAPSED, _PRESSURE, _HEIGHT, _TEMPERATURE, _HUMIDITY, _DEPRESSION, _DIRECTION, _SPEED = (
    (
        _F[name].end,
        np.uint64((_EVERY_BIT << 8 * (8 - _F[name].end + _F[name].begin)) & _EVERY_BIT),
        _F[name].lowest,
        _F[name].highest,
    )
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
_BLANK, _ZERO, _A, _B = 32, 48, 65, 66
_NONE, _ONE, _SEVEN, _EIGHT = _WORD(0), _WORD(1), _WORD(7), _WORD(8)
_BYTE, _LAST, _EVERY = _WORD(0xFF), _WORD(0xFF << 56), _WORD(_EVERY_BIT)
_ALL_BLANK, _ALL_ZERO = _WORD(0x2020202020202020), _WORD(0x3030303030303030)
_ALL_MINUS = _WORD(0x0D0D0D0D0D0D0D0D)
"""What a minus sign differs from a blank by."""
_TO_HIGH_BIT, _LOW_BITS = _WORD(0x7676767676767676), _WORD(0x7F7F7F7F7F7F7F7F)
_HIGH_BITS = _WORD(0x8080808080808080)
_PAIRS, _FOURS, _EIGHTS = _WORD(0x00FF00FF00FF00FF), _WORD(0x0000FFFF0000FFFF), _WORD(0xFFFFFFFF)
_BLANKS = BLANK_COLUMNS
_FLAGS = tuple(FLAG_COLUMNS.values())
_HEAD, _LINE_END = 35, 10
HEADER, LEVEL = HEADER_WIDTH + 1, LEVEL_WIDTH + 2
"""Bytes of header and level lines as most files have them."""


@numba.njit(inline="always")
def _columns(line: Any, end: Any) -> Any:
    """Return the eight columns before one as one number, the first in the lowest byte."""
    return (
        _WORD(line[end - 8])
        | (_WORD(line[end - 7]) << _WORD(8))
        | (_WORD(line[end - 6]) << _WORD(16))
        | (_WORD(line[end - 5]) << _WORD(24))
        | (_WORD(line[end - 4]) << _WORD(32))
        | (_WORD(line[end - 3]) << _WORD(40))
        | (_WORD(line[end - 2]) << _WORD(48))
        | (_WORD(line[end - 1]) << _WORD(56))
    )


@numba.njit(inline="always")
def _number(line: Any, field: Any) -> Any:
    """Return a right-justified whole number without leading zeros, and whether it is none.

    Eight columns are worked on at once, those before the field taken as blanks, and without a
    branch, because what stands in a column changes from line to line.
    """
    end, own, lowest, highest = field
    text = (_columns(line, end) & own) | (_ALL_BLANK & ~own)
    figures = text ^ _ALL_ZERO
    # a byte is no figure if it is 10 or more: then adding 0x76 to it sets its highest bit
    odd = ((((figures & _LOW_BITS) + _TO_HIGH_BIT) | figures) & _HIGH_BITS) >> _SEVEN
    before = odd * _BYTE  # all bits of the bytes that are no figures
    fault = (before & (before + _ONE)) != _NONE  # a figure before something else
    fault |= before == _EVERY
    signs = (text ^ _ALL_BLANK) & before
    negative = signs != _NONE
    fault |= negative & (signs != (_ALL_MINUS & (before ^ (before >> _EIGHT))))
    figures &= ~before
    first = ((before << _EIGHT) | _BYTE) & ~before
    fault |= ((figures & first) == _NONE) & (first != _LAST)
    figures = (figures * _WORD(10) + (figures >> _EIGHT)) & _PAIRS
    figures = (figures * _WORD(100) + (figures >> _WORD(16))) & _FOURS
    figures = (figures * _WORD(10000) + (figures >> _WORD(32))) & _EIGHTS
    value = np.int32(np.int32(figures) * (np.int32(1) - np.int32(2) * np.int32(negative)))
    fault |= negative & (value == 0)
    gone = (value == MISSING) | (value == REMOVED)
    fault |= (not gone) & ((value < lowest) | (value > highest))
    return value, fault


@numba.njit(inline="always")
def _line(  # noqa: PLR0917
    line: Any, row: Any, kind: Any, elapsed: Any, pressure: Any, height: Any,
    temperature: Any, humidity: Any, depression: Any, direction: Any, speed: Any,
) -> Any:  # fmt: skip
    """Fill a row of the columns with the line that begins at a byte, and tell whether it is none.

    Flags are not taken.
    """
    major = np.uint8(line[0] - np.uint8(_ZERO))
    minor = np.uint8(line[1] - np.uint8(_ZERO))
    fault = (major < 1) | (major > 3) | (minor > 2)
    kind[row] = major * np.uint8(10) + minor
    for place in _BLANKS:
        fault |= line[place] != _BLANK
    for place in _FLAGS:
        flag = line[place]
        fault |= (flag != _BLANK) & (flag != _A) & (flag != _B)
    value, none = _number(line, _ELAPSED)
    fault |= none | ((value >= 0) & (value % 100 > 59))  # MMMSS
    elapsed[row] = value
    value, none = _number(line, _PRESSURE)
    fault |= none | (value == REMOVED)  # the layout knows no removed pressures
    pressure[row] = value
    value, none = _number(line, _HEIGHT)
    fault |= none
    height[row] = value
    value, none = _number(line, _TEMPERATURE)
    fault |= none
    temperature[row] = value
    value, none = _number(line, _HUMIDITY)
    fault |= none
    humidity[row] = value
    value, none = _number(line, _DEPRESSION)
    fault |= none
    depression[row] = value
    value, none = _number(line, _DIRECTION)
    fault |= none
    direction[row] = value
    value, none = _number(line, _SPEED)
    fault |= none
    speed[row] = value
    return fault


@numba.njit(cache=True, nogil=True)
def read_lines(  # noqa: PLR0917
    data: Any, width: int, kind: Any, elapsed: Any, pressure: Any, height: Any, temperature: Any,
    humidity: Any, depression: Any, direction: Any, speed: Any, wrong: Any,
) -> None:  # fmt: skip
    """Fill the columns of level lines, all of one length, and tell which lines are wrong."""
    for row in range(len(wrong)):
        line = data[row * width : row * width + LEVEL]
        wrong[row] = _line(
            line, row, kind, elapsed, pressure, height, temperature, humidity, depression,
            direction, speed,
        )  # fmt: skip


@numba.njit(cache=True, nogil=True)
def read_plain(  # noqa: PLR0917
    data: Any, heads: Any, begins: Any, counts: Any, kind: Any, elapsed: Any, pressure: Any,
    height: Any, temperature: Any, humidity: Any, depression: Any, direction: Any, speed: Any,
    pressure_flag: Any, height_flag: Any, temperature_flag: Any,
) -> Any:  # fmt: skip
    """Fill the columns of soundings with lines of 72 and 53 bytes, and copy their headers.

    Returns the numbers of soundings and levels, -1 where any line is not so, or wrong; headers are
    not looked into.
    """
    at, soundings, row = 0, 0, 0
    size = len(data)
    while at < size:
        if (data[at] != _HEAD) or (at + HEADER > size) or (data[at + HEADER - 1] != _LINE_END):
            return -1, 0
        begins[soundings] = at
        heads[soundings] = data[at : at + HEADER - 1]
        at += HEADER
        first = row
        while (at < size) and (data[at] != _HEAD):
            if (at + LEVEL > size) or (data[at + LEVEL - 1] != _LINE_END):
                return -1, 0
            line = data[at : at + LEVEL]
            if _line(
                line, row, kind, elapsed, pressure, height, temperature, humidity, depression,
                direction, speed,
            ):  # fmt: skip
                return -1, 0
            pressure_flag[row] = line[_FLAGS[0]]
            height_flag[row] = line[_FLAGS[1]]
            temperature_flag[row] = line[_FLAGS[2]]
            row += 1
            at += LEVEL
        counts[soundings] = row - first
        soundings += 1
    return soundings, row
