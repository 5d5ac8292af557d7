"""Whole flights: whatever a balloon measured, the report made from it may be sent."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from encoder.formats.flight_folder import read_flight
from encoder.formats.report_json import reports_as_json, reports_from_json
from encoder.levels import select_levels
from encoder.report import decode_reports, encode_content, encode_report, report_text
from encoder.verify import verify
from samples.generator import CLIMATES, random_flight, write_flight

choices = st.fixed_dictionaries(
    {
        "climate": st.sampled_from(sorted(CLIMATES)),
        "burst_pressure": st.sampled_from([7.2, 12.0, 28.0, 80.0, 101.5, 140.0, 350.0, 620.0]),
        "spacing": st.sampled_from([1.0, 2.0, 5.0]),
        "wind_unit": st.sampled_from(["kt", "m s-1"]),
    }
)


def flight_of(seed, options):
    with tempfile.TemporaryDirectory() as folder:
        write_flight(random_flight(seed, **options), Path(folder))
        return read_flight(folder).raise_for_errors()


@pytest.mark.parametrize("method", ["largest-deviation", "fewest-levels"])
@settings(max_examples=12)
@given(seed=st.integers(0, 10**6), options=choices)
def test_the_report_of_a_flight_may_be_sent(method, seed, options):
    """flight -> levels -> report -> decode -> verify holds, and coding again is a fixed point."""
    flight = flight_of(seed, options)
    selected = select_levels(flight, method=method)
    report = encode_report(flight, selected.value)
    decoded = decode_reports(report.value.text, formula=flight.vapour_pressure_formula)
    verdict = verify(flight, decoded.value[0], report_diagnostics=decoded.diagnostics)
    again = encode_content([part.content for part in decoded.value[0].parts]).value

    assert again == report.value.text
    assert report_text(decoded.value[0]).value == report.value.text
    assert verdict.may_be_sent, [item.as_text() for item in verdict.diagnostics]
    reached = {"tolerance-not-met"} & {item.code for item in selected.diagnostics}
    assert reached or all(item.within for item in verdict.worst)


@settings(max_examples=10)
@given(seed=st.integers(0, 10**6), options=choices)
def test_trace_accounts_for_every_group(seed, options):
    """Every group of a report is in the trace once, at its place; levels lead to their rows."""
    flight = flight_of(seed, options)
    levels = select_levels(flight).value
    report = encode_report(flight, levels).value

    assert [entry.text for entry in report.trace] == report.text.replace("=", "").split()
    for entry in report.trace:
        assert report.text[slice(*entry.span)] == entry.text
        if entry.level is not None and levels.rows[entry.level]:
            assert entry.rows
            assert entry.rules
    decoded = decode_reports(report.text).value[0]
    assert [entry.span for entry in decoded.trace] == [entry.span for entry in report.trace]
    for mine, theirs in zip(report.trace, decoded.trace, strict=True):
        if mine.level is None:
            continue
        assert theirs.level is not None
        coarse = 1.0 if levels["air_pressure"][mine.level] >= 100.0 else 0.1
        off = levels["air_pressure"][mine.level] - decoded.levels["air_pressure"][theirs.level]
        assert abs(off) <= coarse


@settings(max_examples=10)
@given(seed=st.integers(0, 10**6), options=choices)
def test_json_of_a_report_is_lossless(seed, options):
    """A report in JSON and back is the same report."""
    flight = flight_of(seed, options)
    report = encode_report(flight, select_levels(flight).value).value

    (back,) = reports_from_json(reports_as_json([report]))

    assert back.levels == report.levels
    assert back.parts == report.parts
    assert [entry.as_json() for entry in back.trace] == [entry.as_json() for entry in report.trace]


@settings(max_examples=15)
@given(seed=st.integers(0, 10**6), options=choices)
def test_no_level_twice_and_pressures_decrease(seed, options):
    """Each pressure stands once, in descending order; every level has a reason."""
    flight = flight_of(seed, options)
    levels = select_levels(flight).value

    assert np.all(np.diff(levels["air_pressure"]) < 0.0)
    assert all(levels.reasons)
    assert np.all(levels.kinds > 0)
