"""Invented soundings of every sort: the promise is kept after coding, or its breach is said."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from encoder.levels import (
    METHODS,
    RULES,
    THERMODYNAMIC,
    LevelKind,
    misfit_of_levels,
    select_levels,
)
from encoder.resolution import Coding, coded_pressure
from tests.soundings import flight_of, sounding

SETTINGS = settings(max_examples=25, deadline=None, derandomize=True)


@st.composite
def flights(draw):
    """Draw a flight: climate, spacing, top, noise, gaps, unit of wind and rule set."""
    ascent = sounding(
        draw(st.integers(0, 10**6)),
        draw(st.sampled_from([2, 40, 300, 1200])),
        top=draw(st.sampled_from([8.0, 60.0, 99.97, 104.0, 250.0])),
        noise=draw(st.sampled_from([0.0, 0.5, 1.0, 2.0])),
    )
    random = np.random.default_rng(draw(st.integers(0, 10**6)))
    count = len(ascent)
    gaps = {
        ("air_temperature", "relative_humidity", "dew_point_temperature"): 1,
        ("relative_humidity", "dew_point_temperature"): 2,
        ("wind_from_direction", "wind_speed"): 2,
    }
    for names, most in gaps.items():
        for _ in range(draw(st.integers(0, most))):
            start = int(random.integers(0, count))
            inside = np.zeros(count, dtype=bool)
            inside[start : start + int(count * random.uniform(0.0, 0.15))] = True
            ascent = ascent.with_columns(
                {name: np.where(inside, np.nan, ascent[name]) for name in names}
            )
    return flight_of(
        ascent,
        wind_unit=draw(st.sampled_from(["kt", "m s-1"])),
        criteria=draw(st.sampled_from(["wmo", "fmh-3"])),
    )


def judged(flight, levels):
    """Return the misfit of the levels as decoded."""
    return misfit_of_levels(
        flight.ascent,
        levels,
        rules=RULES[flight.reporting.criteria],
        coding=Coding(flight.reporting.wind_unit),
        formula=flight.vapour_pressure_formula,
    )


@SETTINGS
@given(flight=flights())
def test_every_row_is_rebuilt_or_named(flight):
    """A row beyond its limit has a diagnostic, and a clean selection has none (both methods)."""
    for method in METHODS:
        result = select_levels(flight, method=method)
        found = judged(flight, result.value)
        said = [item for item in result.diagnostics if item.code == "tolerance-not-met"]
        assert bool(said) is not found.within_limits
        for part in found.stretches[:10]:
            line = int(flight.ascent.source_row[part.first_row])
            assert any(item.rows[0] <= line <= item.rows[-1] for item in said)


@SETTINGS
@given(flight=flights())
def test_no_row_with_a_value_is_left_out(flight):
    """Between the limits of missing layers every observed value is judged."""
    for method in METHODS:
        found = judged(flight, select_levels(flight, method=method).value)
        for name in ("air_temperature", "relative_humidity", "wind_speed"):
            assert list(found.uncovered[name]) == []


@SETTINGS
@given(flight=flights())
def test_the_methods_compared(flight):
    """The fewest levels are never more, and neither method breaks limits the other keeps."""
    largest, fewest = (select_levels(flight, method=method).value for method in METHODS)
    broken = [judged(flight, levels) for levels in (largest, fewest)]
    assert broken[0].within_limits is broken[1].within_limits
    if broken[0].within_limits:
        for kinds in (THERMODYNAMIC, LevelKind.SIGNIFICANT_WIND):
            assert len(fewest.having(kinds)) <= len(largest.having(kinds))


@SETTINGS
@given(flight=flights())
def test_the_table_is_sound(flight):
    """Descending pressures, different coded pressures in a section, a reason for every level."""
    for method in METHODS:
        levels = select_levels(flight, method=method).value
        assert np.all(np.diff(levels["air_pressure"]) < 0.0)
        assert all(levels.reasons)
        assert np.all(levels.kinds > 0)
        for kinds in (THERMODYNAMIC, LevelKind.SIGNIFICANT_WIND):
            coded = coded_pressure(levels["air_pressure"][levels.having(kinds)])
            assert np.all(np.diff(coded) < 0.0)
