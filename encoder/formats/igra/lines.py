"""Whole numbers out of fixed columns, for many lines at once.

Lines come as one array of bytes, a row a line. It is turned once, so that every column lies
together, and then each step is one operation on all lines of a block. A figure is accepted only as
the layout writes it (right-justified, blanks before, no leading zeros): what is accepted can be
written out again to the same bytes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from encoder.formats.igra.layout import (
    BLANK_COLUMNS,
    FLAG_COLUMNS,
    FLAGS,
    HEADER_FIELDS,
    LEVEL_FIELDS,
    MISSING,
    REMOVED,
)

if TYPE_CHECKING:
    from encoder.formats.igra.layout import Field

Bytes = NDArray[np.uint8]
Mask = NDArray[np.bool_]
_BLANK, _MINUS, _ZERO = 32, 45, 48


def level_columns(lines: Bytes) -> tuple[dict[str, NDArray[Any]], Mask]:
    """Return the columns of level lines.

    Parameters
    ----------
    lines : ndarray of uint8, shape (line, 52 or more)
        The 51 columns of the layout and a blank; what follows is not looked at.

    Returns
    -------
    columns : dict of str to ndarray, each of shape (line,)
        ``kind`` (both level types as one figure pair, for example 21), the numbers of
        :data:`LEVEL_FIELDS`, and the flags as bytes.
    wrong : ndarray of bool, shape (line,)
        Lines that are not of the layout; their columns mean nothing.
    """
    turned = np.ascontiguousarray(lines[:, :52].T)
    digit = (turned - _ZERO) < 10
    blank = turned == _BLANK
    minus = turned == _MINUS
    figure = np.bitwise_and(turned, np.uint8(15))
    figure *= (~minus).view(np.uint8)
    # not all of these can be told from one another in one look: each is a fault
    odd = ~(digit | blank | minus)
    signs = (digit, blank, minus, odd)
    columns: dict[str, NDArray[Any]] = {}
    major, minor = turned[0] - _ZERO, turned[1] - _ZERO
    wrong = (major - 1 > 2) | (minor > 2)
    columns["kind"] = (major * 10 + minor).view(np.int8)
    for place in BLANK_COLUMNS:
        wrong |= ~blank[place]
    for name, place in FLAG_COLUMNS.items():
        flag = turned[place]
        wrong |= ~((flag == _BLANK) | (flag == FLAGS[1]) | (flag == FLAGS[2]))
        columns[name] = flag
    for field in LEVEL_FIELDS:
        values, fault = _numbers(field, figure, turned, signs)
        columns[field.name] = values
        wrong |= fault
    seconds = columns["elapsed"]
    wrong |= (seconds >= 0) & (seconds % 100 > 59)
    pressure = columns["pressure"]
    wrong |= pressure == REMOVED  # the layout knows no removed pressures
    return columns, wrong


def _numbers(
    field: Field, figure: Bytes, turned: Bytes, signs: tuple[Mask, Mask, Mask, Mask]
) -> tuple[NDArray[Any], Mask]:
    """Return the numbers of one field and the lines where it holds none."""
    part = slice(field.begin, field.end)
    figure, turned = figure[part], turned[part]
    digit, blank, minus, odd = (item[part] for item in signs)
    width = len(figure)
    # after anything but a blank there must be a figure
    fault = ~digit[-1]
    fault |= odd[0]
    for place in range(width - 1):
        fault |= ~blank[place] & ~digit[place + 1]
        fault |= odd[place + 1]
        leading = turned[place] == _ZERO
        if place:
            leading &= ~digit[place - 1]
        fault |= leading
    values = _joined(figure)
    negative = minus[0]
    for place in range(1, width - 1):
        negative = negative | minus[place]
    values *= (1 - 2 * negative.view(np.int8)).astype(np.int32)
    missing = (values == MISSING) | (values == REMOVED)
    fault |= negative & (values == 0)
    fault |= ~missing & ((values < field.lowest) | (values > field.highest))
    return values.astype(field.dtype, copy=False), fault


def _joined(figure: Bytes) -> NDArray[np.int32]:
    """Return the numbers of some columns of figures, in pairs as long as they fit a byte."""
    width = len(figure)
    first = width % 2
    values: NDArray[np.int32] | None = figure[0].astype(np.int32) if first else None
    for place in range(first, width, 2):
        pair = figure[place] * np.uint8(10) + figure[place + 1]
        if values is None:
            values = pair.astype(np.int32)
        else:
            values *= 100
            values += pair
    return np.zeros(figure.shape[1], np.int32) if values is None else values


def header_columns(lines: Bytes) -> tuple[dict[str, NDArray[Any]], Mask]:
    """Return the columns of header lines.

    Parameters
    ----------
    lines : ndarray of uint8, shape (header, 71 or more)

    Returns
    -------
    columns : dict of str to ndarray, each of shape (header,)
        ``station``, ``pressure_source`` and ``other_source`` as bytes of fixed length, and the
        numbers of :data:`HEADER_FIELDS`.
    wrong : ndarray of bool, shape (header,)
    """
    turned = np.ascontiguousarray(lines[:, :71].T)
    digit = (turned - _ZERO) < 10
    blank = turned == _BLANK
    minus = turned == _MINUS
    odd = ~(digit | blank | minus)
    signs = (digit, blank, minus, odd)
    figure = (turned & 15) * (~minus).view(np.uint8)
    columns: dict[str, NDArray[Any]] = {}
    wrong = turned[0] != ord("#")
    for place in (12, 17, 20, 23, 26, 31, 36, 45, 54, 62):
        wrong |= ~blank[place]
    for name, begin, end in (
        ("station", 1, 12),
        ("pressure_source", 37, 45),
        ("other_source", 46, 54),
    ):
        text = np.ascontiguousarray(lines[:, begin:end])
        wrong |= ((text < _BLANK) | (text > 126)).any(axis=1)
        columns[name] = text.view(f"S{end - begin}").reshape(-1)
    for field in HEADER_FIELDS:
        part = slice(field.begin, field.end)
        if field.begin < 31:  # padded with zeros
            values = _joined(figure[part])
            fault = ~digit[part].all(axis=0)
            fault |= (values < field.lowest) | (values > field.highest)
            columns[field.name] = values.astype(field.dtype)
        else:
            columns[field.name], fault = _numbers(field, figure, turned, signs)
        wrong |= fault
    hour, release = columns["hour"], columns["release"]
    wrong |= (hour > 23) & (hour != 99)
    minute = release % 100
    wrong |= (release != 9999) & ((release > 2399) | ((minute > 59) & (minute != 99)))
    wrong |= columns["day"] > _days(columns["year"], columns["month"])
    return columns, wrong


def _days(year: NDArray[Any], month: NDArray[Any]) -> NDArray[np.int8]:
    """Return the number of days of months of the Gregorian calendar."""
    lengths = np.array([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31], dtype=np.int8)
    leap = ((year % 4 == 0) & (year % 100 != 0)) | (year % 400 == 0)
    inside = np.where((month >= 1) & (month <= 12), month, 0)
    return np.asarray(lengths[inside] + (leap & (month == 2)), dtype=np.int8)
