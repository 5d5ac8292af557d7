"""Level tables put together."""

from __future__ import annotations

import numpy as np

from encoder.levels import LevelKind, Levels, Reason, combine

NAN = float("nan")
ONE = Reason("one", "First.", "")
TWO = Reason("two", "Second.", "")


def table(pressure, kind, reason, rows, **columns):
    """Return a table of one kind."""
    count = len(pressure)
    columns = {"air_pressure": pressure, **columns}
    return Levels(columns, np.full(count, int(kind)), ((reason,),) * count, rows)


def test_levels_come_in_descending_pressure():
    """Levels of several tables are sorted."""
    found = combine(
        [
            table([500.0, 300.0], LevelKind.STANDARD, ONE, ((1, 2), (5, 6))),
            table([400.0], LevelKind.TROPOPAUSE, TWO, ((4,),)),
        ]
    )
    assert list(found["air_pressure"]) == [500.0, 400.0, 300.0]
    assert found.rows == ((1, 2), (4,), (5, 6))


def test_equal_pressures_become_one_level():
    """Kinds are joined, reasons and rows kept once, the first finite value taken."""
    found = combine(
        [
            table([500.0], LevelKind.STANDARD, ONE, ((3,),), air_temperature=[NAN]),
            table([500.0], LevelKind.TROPOPAUSE, TWO, ((3,),), air_temperature=[-20.0]),
            table([500.0], LevelKind.STANDARD, ONE, ((3,),), air_temperature=[-30.0]),
        ],
        {"method": "none"},
    )
    assert len(found) == 1
    assert found.kinds[0] == LevelKind.STANDARD | LevelKind.TROPOPAUSE
    assert found.reasons == ((ONE, TWO),)
    assert found.rows == ((3,),)
    assert found["air_temperature"][0] == -20.0
    assert dict(found.attributes) == {"method": "none"}


def test_nothing_gives_an_empty_table():
    """No tables, or empty ones, make an empty table."""
    assert len(combine([])) == 0
    assert len(combine([table([], LevelKind.STANDARD, ONE, ())])) == 0
