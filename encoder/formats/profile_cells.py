"""The cells of a profile file as numbers: quickly when all is well, cell by cell when it is not."""

from __future__ import annotations

import csv
import re
from datetime import UTC, datetime
from math import isfinite, nan
from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import Diagnostic, Result, diagnostic, excerpt
from encoder.formats.units import TIME_OF_DAY

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.formats.profile_header import Header, HeaderCell
    from encoder.profile import FloatArray

MOST_FAULTS = 5
"""Faults of one kind in one column told one by one; the others are counted."""

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+", re.ASCII)
_MISSING_WORDS = frozenset({"nan", "na", "n/a", "null", "none", "-", "--", "*", "m", "missing"})


def split_lines(
    lines: Sequence[str], numbers: Sequence[int], header: Header
) -> Result[list[tuple[str, ...]] | None]:
    """Return the cells of the file by column of the header, or the lines of another length.

    Parameters
    ----------
    lines : sequence of str
        Lines with values, without comments and empty lines.
    numbers : sequence of int
        1-based number of each line in the file.
    header : Header

    Returns
    -------
    Result of list of tuple of str or None
        One tuple for every cell of the header, used or not.
    """
    rows = [line.split(",") if '"' not in line else _quoted_cells(line) for line in lines]
    ragged = [place for place, row in enumerate(rows) if len(row) != header.width]
    if not ragged:
        return Result(list(zip(*rows, strict=True)))
    found: list[Diagnostic] = []
    for place in ragged[:MOST_FAULTS]:
        row, line = rows[place], lines[place]
        message = f"Expected {header.width} cells as in the header, found {len(row)}."
        if ";" in line:
            message += " Are the cells separated by semicolons?"
        elif len(row) > header.width and len(row) % 2 == 0:
            message += " Are there decimal commas? Numbers need a decimal point."
        found.append(
            diagnostic("line-not-as-header", message, line=numbers[place], value=excerpt(line))
        )
    if len(ragged) > MOST_FAULTS:
        found.append(
            diagnostic(
                "line-not-as-header",
                f"{len(ragged) - MOST_FAULTS} more lines have another number of cells than the "
                f"{header.width} of the header.",
                rows=(numbers[ragged[MOST_FAULTS]], numbers[ragged[-1]]),
            )
        )
    return Result(None, tuple(found))


def numbers_of(
    cells: Sequence[str], numbers: Sequence[int], header_cell: HeaderCell
) -> Result[FloatArray]:
    """Return the cells of one column as numbers, NaN for empty ones.

    Parameters
    ----------
    cells : sequence of str
    numbers : sequence of int
        1-based line of each cell.
    header_cell : HeaderCell
        The column, for diagnostics.

    Returns
    -------
    Result of ndarray, shape (row,)
        In the unit of the file; every cell that is neither empty nor a plain decimal number is an
        error.
    """
    text = "".join(cells)
    if text.isascii() and "_" not in text:
        empty = cells.count("")
        try:
            if empty:
                values = np.array([float(cell) if cell else nan for cell in cells])
            else:
                values = np.array(list(map(float, cells)))
        except ValueError:
            return _one_by_one(cells, numbers, header_cell)
        if np.count_nonzero(~np.isfinite(values)) == empty:
            return Result(values)
    return _one_by_one(cells, numbers, header_cell)


def times_of(
    cells: Sequence[str],
    numbers: Sequence[int],
    header_cell: HeaderCell,
    release_time: datetime,
) -> Result[FloatArray]:
    """Return ISO 8601 date-times as seconds since release, NaN for empty cells.

    Parameters
    ----------
    cells, numbers, header_cell
        As for :func:`numbers_of`.
    release_time : datetime
        UTC, aware.
    """
    values = np.full(len(cells), nan)
    wrong: list[int] = []
    for place, cell in enumerate(cells):
        word = cell.strip()
        if not word:
            continue
        try:
            moment = datetime.fromisoformat(word)
        except ValueError:
            wrong.append(place)
            continue
        aware = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
        values[place] = (aware - release_time).total_seconds()
    return Result(values, _wrong_cells(cells, numbers, header_cell, wrong))


def _quoted_cells(line: str) -> list[str]:
    """Return the cells of a line with quoted cells; the whole line if its quotes are broken."""
    try:
        return next(csv.reader([line], strict=True), [line])
    except csv.Error:
        return [line]


def _one_by_one(
    cells: Sequence[str], numbers: Sequence[int], header_cell: HeaderCell
) -> Result[FloatArray]:
    """Return the numbers and name every cell that is none."""
    values = np.full(len(cells), nan)
    wrong: list[int] = []
    for place, cell in enumerate(cells):
        word = cell.strip()
        if not word:
            continue
        if _NUMBER.fullmatch(word) and isfinite(float(word)):
            values[place] = float(word)
        else:
            wrong.append(place)
    return Result(values, _wrong_cells(cells, numbers, header_cell, wrong))


def _wrong_cells(
    cells: Sequence[str], numbers: Sequence[int], header_cell: HeaderCell, wrong: list[int]
) -> tuple[Diagnostic, ...]:
    column = header_cell.column
    of_day = header_cell.unit == TIME_OF_DAY
    expected = "a date and time such as 2031-07-15T17:16:30Z" if of_day else "a decimal number"
    found = [
        diagnostic(
            "cell-not-readable",
            f"Expected {expected} or an empty cell in column {header_cell.place + 1} "
            f'({column.name}), found "{excerpt(cells[place].strip())}".{_advice(cells[place])}',
            line=numbers[place],
            path=(column.name,),
            value=excerpt(cells[place]),
            expected=expected,
        )
        for place in wrong[:MOST_FAULTS]
    ]
    if len(wrong) > MOST_FAULTS:
        found.append(
            diagnostic(
                "cell-not-readable",
                f"{len(wrong) - MOST_FAULTS} more cells of column {header_cell.place + 1} "
                f"({column.name}) are neither {expected} nor empty.",
                path=(column.name,),
                rows=(numbers[wrong[MOST_FAULTS]], numbers[wrong[-1]]),
            )
        )
    return tuple(found)


def _advice(cell: str) -> str:
    """Return a sentence on the commonest mistakes, or nothing."""
    word = cell.strip()
    if word.lower() in _MISSING_WORDS or set(word) <= set("/-*"):
        return " A missing value is an empty cell."
    if _DECIMAL_COMMA.fullmatch(word):
        return f' Write it with a point: "{word.replace(",", ".")}".'
    return ""
