"""Code tables: what a figure means, read from ``schemas/code_tables``.

Each table is a CSV file with the columns ``figure``, ``meaning`` and ``source``.
"""

from __future__ import annotations

import csv
from functools import cache

from encoder.schemas_folder import schemas_folder


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
    path = schemas_folder() / "code_tables" / f"{number.lower()}.csv"
    with path.open(encoding="utf-8") as lines:
        return {row["figure"]: row["meaning"] for row in csv.DictReader(lines)}


def meaning(number: str, figure: str) -> str:
    """Return what a figure means, or a plain remark where the table has no such figure."""
    if figure and set(figure) == {"/"}:
        return "not reported"
    return code_table(number).get(figure, f"figure {figure}, not in code table {number}")
