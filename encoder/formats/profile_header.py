"""The header line of a profile file: which column holds which quantity in which unit."""

from __future__ import annotations

import re
from dataclasses import dataclass

from encoder.columns import COLUMNS, Column
from encoder.diagnostics import Diagnostic, Result, diagnostic, excerpt, has_errors
from encoder.formats.units import nearest, unit_fault

MOST_COLUMNS = 200
"""More header cells than this are taken for a file of another kind."""

_CELL = re.compile(r"^([^\[\]]*?)\s*\[([^\[\]]*)\]$")

NAMES: dict[str, Column] = {
    word: column for column in COLUMNS.values() for word in (column.name, *column.aliases)
}
"""Every accepted spelling of a quantity."""


@dataclass(frozen=True, slots=True)
class HeaderCell:
    """One used column of a profile file.

    Attributes
    ----------
    place : int
        0-based place among the cells of a line.
    column : Column
        The quantity.
    unit : str
        Unit as written in the file.
    """

    place: int
    column: Column
    unit: str


@dataclass(frozen=True, slots=True)
class Header:
    """The header line.

    Attributes
    ----------
    line : int
        1-based line it stands on.
    width : int
        Number of cells every line must have.
    cells : tuple of HeaderCell
        The columns that are used.
    """

    line: int
    width: int
    cells: tuple[HeaderCell, ...]


def read_header(text: str, line: int) -> Result[Header | None]:
    """Return the columns named by a header line.

    Parameters
    ----------
    text : str
        The line, cells ``name [unit]`` separated by commas.
    line : int
        Its 1-based number in the file.

    Returns
    -------
    Result of Header or None
        None when any cell cannot be used; every fault of the line is told.
    """
    separator = _other_separator(text)
    if separator is not None:
        return Result(None, (_separator_fault(separator, text, line),))
    words = [word.strip().strip('"').strip() for word in text.split(",")]
    if len(words) > MOST_COLUMNS:
        return Result(
            None,
            (
                diagnostic(
                    "header-not-found",
                    f"Expected a header of cells like air_pressure [hPa], found {len(words)} cells "
                    f'beginning "{excerpt(text)}".',
                    line=line,
                    value=excerpt(text),
                    expected="time [s],air_pressure [hPa],…",
                ),
            ),
        )
    found: list[Diagnostic] = []
    cells: list[HeaderCell] = []
    for place, word in enumerate(words):
        result = _read_cell(word, place, line)
        found += result.diagnostics
        if result.value is not None:
            cells.append(result.value)
    if not cells and not any(_CELL.match(word) for word in words):
        return Result(
            None,
            (
                diagnostic(
                    "header-not-found",
                    f'Expected a header of cells like air_pressure [hPa], found "{excerpt(text)}".',
                    line=line,
                    value=excerpt(text),
                    expected="time [s],air_pressure [hPa],…",
                ),
            ),
        )
    found += _repeated(cells, line)
    if has_errors(found):
        return Result(None, tuple(found))
    return Result(Header(line, len(words), tuple(cells)), tuple(found))


def _other_separator(text: str) -> str | None:
    """Return the separator of a header that does not use commas."""
    outside = re.sub(r"\[[^\]]*\]", "", text)
    if "," in outside:
        return None
    return next((mark for mark in (";", "\t", "|") if mark in outside), None)


def _separator_fault(separator: str, text: str, line: int) -> Diagnostic:
    name = {";": "semicolons", "\t": "tabs", "|": "vertical bars"}[separator]
    return diagnostic(
        "separator-not-comma",
        f"Expected cells separated by commas, found {name} in the header.",
        line=line,
        value=excerpt(text),
        expected="commas between cells, points in numbers",
    )


def _read_cell(word: str, place: int, line: int) -> Result[HeaderCell | None]:
    """Return one header cell; no cell and a warning for a quantity that is not known."""
    match = _CELL.match(word)
    name = match[1].strip() if match else word.strip()
    column = NAMES.get(name)
    if column is None:
        return Result(None, (_unknown_name(name, word, line),))
    if match is None or not match[2].strip():
        return Result(
            None,
            (
                diagnostic(
                    "unit-not-given",
                    f'Expected a unit in brackets after "{name}", found "{excerpt(word)}".',
                    line=line,
                    path=(name,),
                    value=excerpt(word),
                    expected=f"{name} [{column.unit}]",
                ),
            ),
        )
    unit = match[2].strip()
    fault = unit_fault(column, excerpt(unit))
    if fault is not None:
        placed = diagnostic(
            fault.code,
            fault.message,
            line=line,
            path=(name,),
            value=fault.value,
            expected=fault.expected,
            hint=fault.hint,
        )
        return Result(None, (placed,))
    return Result(HeaderCell(place, column, unit))


def _unknown_name(name: str, word: str, line: int) -> Diagnostic:
    close = nearest(name, NAMES, cutoff=0.75)
    if close is None:
        return diagnostic(
            "column-not-used",
            f'The column "{excerpt(word)}" names no known quantity and is not used.',
            line=line,
            value=excerpt(word),
        )
    return diagnostic(
        "column-unknown",
        f'There is no quantity "{excerpt(name)}"; did you mean "{close}"?',
        line=line,
        value=excerpt(word),
        expected=f"{close} [{NAMES[close].unit}]",
    )


def _repeated(cells: list[HeaderCell], line: int) -> list[Diagnostic]:
    """Return a diagnostic for every quantity that more than one column claims."""
    places: dict[str, list[int]] = {}
    for cell in cells:
        places.setdefault(cell.column.name, []).append(cell.place + 1)
    return [
        diagnostic(
            "column-repeated",
            f"Expected one column of {name}, found {len(where)}: columns "
            + ", ".join(str(place) for place in where)
            + ".",
            line=line,
            path=(name,),
            value=name,
        )
        for name, where in places.items()
        if len(where) > 1
    ]
