"""Compiled making of archive columns out of those of the IGRA layout.

The definition is :func:`encoder.convert.from_igra.archive_columns`; this gives the same, sooner.
Importing this compiles it, or loads it from the cache.
"""

from __future__ import annotations

from typing import Any

import numba

from encoder.formats.igra.layout import MISSING
from encoder.formats.igra.layout import REMOVED as REMOVED_FIGURE
from encoder.sounding import NOT_REPORTED, REMOVED, REPORTED


@numba.njit(cache=True, nogil=True)
def fill_figures(  # noqa: PLR0917
    values: Any, figures: Any, status: Any, present: Any, fill: int, is_time: bool
) -> None:
    """Fill the figures of a quantity and its status, and count what is there."""
    for row in range(len(values)):
        value = values[row]
        missing, removed = value == MISSING, value == REMOVED_FIGURE
        gone = missing | removed
        own = value - 40 * (value // 100) if is_time else value
        figures[row] = fill if gone else own
        status[row] = NOT_REPORTED if missing else (REMOVED if removed else REPORTED)
        present[row] += not gone


@numba.njit(cache=True, nogil=True)
def fill_from(table: Any, places: Any, column: Any) -> None:
    """Fill a column with the entries of a table at some places."""
    for row in range(len(places)):
        column[row] = table[places[row]]
