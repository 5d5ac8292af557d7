"""Putting level tables together: each pressure once, with every kind, reason and row it has."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.columns import LEVEL_COLUMNS
from encoder.levels.table import Levels

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from encoder.levels.table import Reason


def combine(
    tables: Sequence[Levels],
    attributes: Mapping[str, Any] | None = None,
    *,
    by_height: bool = False,
) -> Levels:
    """Return one table in descending pressure, or in ascending height.

    Parameters
    ----------
    tables : sequence of Levels
        Where two tables have a level at exactly the same pressure, it becomes one level.
    attributes : mapping, optional
        Attributes of the result; by default there are none.
    by_height : bool
        Whether the levels go by height instead of pressure.

    Returns
    -------
    Levels
        Kinds of equal levels are joined; of their values the first finite one is taken, in the
        order of the tables; reasons and rows are kept in that order, each once.
    """
    name = "geopotential_height" if by_height else "air_pressure"
    depth = np.concatenate([np.asarray(t[name]) for t in tables] or [np.empty(0)])
    unique, group = np.unique(depth if by_height else -depth, return_inverse=True)
    count = len(unique)
    kinds = np.zeros(count, dtype=np.int64)
    reasons: list[list[Reason]] = [[] for _ in range(count)]
    rows: list[list[int]] = [[] for _ in range(count)]
    columns = {name: np.full(count, np.nan) for name in LEVEL_COLUMNS}
    begin = 0
    for table in tables:
        places = group[begin : begin + len(table)]
        begin += len(table)
        kinds[places] |= table.kinds
        for name, values in columns.items():
            empty = np.isnan(values[places])
            values[places[empty]] = table[name][empty]
        for level, place in enumerate(places):
            _extend(reasons[place], table.reasons[level])
            _extend(rows[place], table.rows[level])
    return Levels(
        columns,
        kinds,
        tuple(tuple(item) for item in reasons),
        tuple(tuple(item) for item in rows),
        attributes or {},
    )


def _extend(known: list[Any], more: Iterable[Any]) -> None:
    """Append what is not known yet."""
    known += [item for item in more if item not in known]
