"""Code tables: what a figure means, read from ``schemas/code_tables``.

Each table is a CSV file with the columns ``figure``, ``meaning`` and ``source``. Tables of numbers
have a column ``value`` besides, and 3685 tells which figures were given out twice.
"""

from __future__ import annotations

import csv
from functools import cache
from typing import TYPE_CHECKING

from encoder.schemas_folder import schemas_folder

if TYPE_CHECKING:
    from datetime import date


@cache
def code_table(number: str) -> dict[str, str]:
    """Return a code table as figure -> meaning.

    Parameters
    ----------
    number : str
        Number of the table, for example ``"0265"`` or ``"C-7"``.

    Raises
    ------
    FileNotFoundError
        If there is no such table.
    """
    return {row["figure"]: row["meaning"] for row in table_rows(number)}


@cache
def table_rows(number: str) -> tuple[dict[str, str], ...]:
    """Return the rows of a code table, every cell as text.

    Parameters
    ----------
    number : str
        Number of the table.

    Raises
    ------
    FileNotFoundError
        If there is no such table.
    """
    path = schemas_folder() / "code_tables" / f"{number.lower()}.csv"
    with path.open(encoding="utf-8") as lines:
        return tuple(csv.DictReader(lines))


@cache
def code_values(number: str) -> dict[str, float | None]:
    """Return a table of numbers as figure -> value, None for figures that are not used.

    Parameters
    ----------
    number : str
        ``"0777"`` or ``"3931"``.
    """
    return {
        row["figure"]: float(row["value"]) if row["value"] else None for row in table_rows(number)
    }


def radiosonde_types(figures: str, on: date | None = None) -> tuple[int, ...]:
    """Return the numbers of common code table C-2 that the figures rara can stand for.

    Parameters
    ----------
    figures : str
        rara of code table 3685, two figures.
    on : date, optional
        Day of the report; a type given out later cannot have been used.

    Returns
    -------
    tuple of int
        One number, or two where the figures were given out again and the day does not decide:
        old equipment may stay in use for years. Empty where the figures are not in the table.
    """
    for row in table_rows("3685"):
        if row["figure"] != figures:
            continue
        later = row["later_type"]
        if later and (on is None or row["later_from"] <= on.isoformat()):
            return int(figures), int(later)
        return (int(figures),)
    return ()


def meaning(number: str, figure: str) -> str:
    """Return what a figure means, or a plain remark where the table has no such figure."""
    if figure and set(figure) == {"/"}:
        return "not reported"
    return code_table(number).get(figure, f"figure {figure}, not in code table {number}")
