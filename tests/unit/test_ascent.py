"""From rows to an ascent: every row left out is named with the reason."""

from __future__ import annotations

import numpy as np

from encoder.columns import PROFILE_COLUMNS
from encoder.diagnostics import Severity
from encoder.physics import geopotential_height
from tests.flights import check_ascent_contract as check_contract
from tests.flights import codes_of, rows_of, the
from tests.flights import joined_rows as joined
from tests.flights import prepared_rows as prepared


def test_clean_rows_all_belong_to_the_ascent():
    """Row 0 is the surface observation; nothing is left out and nothing is said."""
    result = prepared(rows_of())
    ascent = check_contract(result)
    assert result.diagnostics == ()
    assert result.value[1] is None
    assert list(ascent.source_row) == [0, *range(2, 202)]
    assert ascent["geopotential_height"][0] == float(geopotential_height(412.0, 54.31))
    assert ascent["air_temperature"][0] == 15.0
    assert ascent.computed == {
        "dew_point_temperature": "from relative humidity, vapour pressure over water by "
        "WMO-No. 49 (Goff 1957, corrected)"
    }


def test_unsorted_rows_are_sorted_and_named():
    """Rows out of order are put in order of time and told."""
    columns = rows_of(20)
    order = np.arange(20)
    order[[5, 6]] = order[[6, 5]]
    result = prepared({name: values[order] for name, values in columns.items()})
    ascent = check_contract(result)
    assert codes_of(result) == ["rows-out-of-order"]
    assert the(result, "rows-out-of-order").rows == (8,)
    assert list(ascent["time"][1:]) == list(columns["time"])
    assert list(ascent.source_row[6:8]) == [8, 7]


def test_rows_without_time_before_release_and_repeated_are_left_out():
    """Each has its own reason and names its line."""
    columns = rows_of(20)
    columns["time"][[2, 3, 7]] = np.nan, -5.0, columns["time"][6]
    result = prepared(columns)
    check_contract(result)
    assert [(item.code, item.rows) for item in result.diagnostics] == [
        ("row-without-time", (4,)),
        ("row-before-release", (5,)),
        ("row-repeats-time", (9,)),
    ]


def test_rows_after_burst_become_the_descent():
    """The descent keeps every column and is told; it never enters the ascent."""
    up = rows_of(100)
    down = {name: values[::-1][1:30].copy() for name, values in up.items()}
    down["time"] = up["time"][-1] + 2.0 * np.arange(1, 30)
    result = prepared(joined(up, down))
    ascent, descent = result.value
    assert codes_of(result) == ["row-after-burst"]
    found = result.diagnostics[0]
    assert (found.rows, found.severity) == ((102, 130), Severity.NOTE)
    assert len(ascent) == 101
    assert list(descent.source_row) == list(range(102, 131))
    assert set(PROFILE_COLUMNS) <= set(descent)
    assert np.all(np.diff(descent["air_pressure"]) > 0.0)


def test_sinking_stretch_is_left_out():
    """A balloon that sinks and rises again: only new heights count."""
    columns = rows_of(100)
    sunk = {name: values[40:60].copy() for name, values in columns.items()}
    low = {name: values[30:40][::-1].copy() for name, values in columns.items()}
    again = {name: values[30:40].copy() for name, values in columns.items()}
    start = {name: values[:40].copy() for name, values in columns.items()}
    flight = joined(start, low, again, sunk)
    flight["time"] = 10.0 * np.arange(1, 81)
    result = prepared(flight)
    ascent = check_contract(result)
    assert codes_of(result) == ["row-descending"]
    assert "lines 42-61 (20 rows)" in result.diagnostics[0].message
    assert len(ascent) == 61


def test_stuck_pressure_is_told():
    """A pressure that stays for a minute is stuck; one repeated row is resolution."""
    columns = rows_of(60)
    columns["air_pressure"][20:27] = columns["air_pressure"][20]
    columns["air_pressure"][40] = columns["air_pressure"][39]
    result = prepared(columns)
    ascent = check_contract(result)
    assert [(item.code, item.rows) for item in result.diagnostics] == [
        ("pressure-stuck", tuple(range(23, 29))),
        ("row-not-rising", (42,)),
    ]
    assert len(ascent) == 54


def test_pressure_stuck_to_the_end_is_no_descent():
    """A sensor that freezes is told as stuck, not as a burst."""
    columns = rows_of(60)
    columns["air_pressure"][40:] = columns["air_pressure"][40]
    result = prepared(columns)
    assert codes_of(result) == ["pressure-stuck"]
    assert result.value[1] is None


def test_coarse_pressure_is_one_note():
    """One-second rows with whole hectopascals: many rows repeat, one sentence says so."""
    columns = rows_of(3000, 1.0)
    columns["air_pressure"] = np.floor(columns["air_pressure"])
    result = prepared(columns)
    check_contract(result)
    assert codes_of(result) == ["row-not-rising"]
    assert "more stretches" in result.diagnostics[0].message


def test_spike_of_pressure_costs_only_its_own_row():
    """One wrong row far above the others does not push out the rows after it."""
    columns = rows_of(100)
    columns["air_pressure"][50] = 300.0
    columns["air_pressure"][70] = 960.0
    result = prepared(columns)
    ascent = check_contract(result)
    assert [(item.code, item.rows) for item in result.diagnostics] == [
        ("pressure-spike", (52,)),
        ("row-descending", (72,)),
    ]
    assert len(ascent) == 99


def test_long_spike_is_not_called_a_descent():
    """Where the rows after the highest point rise again, a warning doubts that point."""
    columns = rows_of(100)
    columns["air_pressure"][50:54] = [300.0, 299.0, 298.0, 297.0]
    found = the(prepared(columns), "row-after-burst")
    assert found.severity is Severity.WARNING
    assert "is line 55 wrong?" in found.message


def test_rows_below_the_surface_are_left_out():
    """Sonde rows whose pressure is not below the surface pressure are named."""
    columns = rows_of(30)
    columns["air_pressure"][:2] = [965.3, 964.8]
    result = prepared(columns)
    check_contract(result)
    assert the(result, "row-not-above-surface").rows == (2, 3)


def test_rows_without_pressure_are_left_out():
    """Where pressure was lost the wind does not belong in TEMP (WMO-No. 306, 35.1.5)."""
    columns = rows_of(50)
    columns["air_pressure"][40:] = np.nan
    result = prepared(columns)
    assert len(check_contract(result)) == 41
    found = the(result, "row-without-pressure")
    assert "lines 42-51 (10 rows)" in found.message
    assert "35.1.5" in found.source


def test_nothing_left_is_an_error():
    """Without a row above the surface there is no ascent."""
    columns = rows_of(5)
    columns["air_pressure"] += 100.0
    result = prepared(columns)
    assert result.value is None
    assert the(result, "ascent-without-rows").severity is Severity.ERROR


def test_one_row_is_an_ascent_with_a_warning():
    """A single sonde row makes an ascent of two rows, and somebody has to look."""
    result = prepared(rows_of(1))
    assert len(check_contract(result)) == 2
    assert codes_of(result) == ["few-rows"]
