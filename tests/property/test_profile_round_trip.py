"""Profiles of any content: written and read back alike, prepared or refused, never a traceback."""

from __future__ import annotations

import json

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st

from encoder.ascent import prepare_ascent
from encoder.checks import check_ascent, gross_limits, unit_doubts
from encoder.columns import COLUMNS, PROFILE_COLUMNS
from encoder.diagnostics import Severity
from encoder.formats.flight_facts import flight_facts
from encoder.formats.flight_json import flight_document
from encoder.formats.profile_csv import profile_text, read_profile_text
from encoder.profile import Profile
from tests.flights import FACTS

FLIGHT = flight_facts(FACTS).value
VERTICAL = ("air_pressure", "geopotential_height", "altitude")
OTHERS = tuple(name for name in COLUMNS if name not in ("time", "air_temperature"))


@st.composite
def profiles(draw, *, within=False, most=15):
    """Draw a profile with the needed columns, some others, gaps and any order."""
    drawn = draw(st.lists(st.sampled_from(OTHERS), unique=True))
    vertical = [draw(st.sampled_from(VERTICAL))] if not set(drawn) & set(VERTICAL) else []
    names = ["time", "air_temperature", *vertical, *drawn]
    count = draw(st.integers(1, most))
    columns = {}
    for name in names:
        low, high = (COLUMNS[name].lowest, COLUMNS[name].highest) if within else (-1e300, 1e300)
        value = st.floats(low, high, allow_nan=False) | st.just(np.nan)
        steps = st.integers(0, 8).map(
            lambda step, low=COLUMNS[name].lowest, high=COLUMNS[name].highest: (
                low + step * (high - low) / 8.0
            )
        )
        values = draw(st.lists(value | steps, min_size=count, max_size=count))
        if np.isnan(values).all():
            values[0] = COLUMNS[name].highest
        columns[name] = np.array(values)
    return Profile(columns, np.arange(2, 2 + count))


@given(profiles())
@settings(max_examples=60, deadline=None)
def test_written_profile_reads_back_digit_for_digit(profile):
    """Writing then reading gives the same columns; a missing value stays missing."""
    result = read_profile_text(profile_text(profile))
    assert [item for item in result.diagnostics if item.severity is Severity.ERROR] == []
    assert result.value == profile


@given(profiles(within=True))
@settings(max_examples=100, deadline=None)
def test_any_profile_is_prepared_as_promised_or_refused(profile):
    """Whatever the rows, the ascent keeps its contract, and every row left out is told."""
    limited = gross_limits(profile)
    unit_doubts(limited.value, FLIGHT.surface)
    result = prepare_ascent(limited.value, station=FLIGHT.station, surface=FLIGHT.surface)
    if result.value is None:
        assert "ascent-without-rows" in [item.code for item in result.diagnostics]
        return
    ascent, descent = result.value
    assert set(PROFILE_COLUMNS) <= set(ascent)
    assert (ascent.source_row[0], ascent["time"][0]) == (0, 0.0)
    assert np.all(np.diff(ascent["air_pressure"]) < 0.0)
    assert np.all(np.diff(ascent["time"]) > 0.0)
    assert np.all(np.isnan(ascent["wind_speed"]) == np.isnan(ascent["wind_from_direction"]))
    used = set(ascent.source_row[1:]) | set(() if descent is None else descent.source_row)
    told = any(item.rows for item in result.diagnostics)
    assert used <= set(profile.source_row)
    assert used == set(profile.source_row) or told
    check_ascent(ascent, station=FLIGHT.station, surface=FLIGHT.surface)


@given(st.text(max_size=300))
@example("time [s],air_pressure [hPa],air_temperature [degC]\n1,2\n")
@example('time [s]\n"')
@settings(max_examples=200, deadline=None)
def test_any_text_as_profile_gives_diagnostics(text):
    """No text makes the reader raise; without a profile there is an error."""
    result = read_profile_text(text)
    errors = [item for item in result.diagnostics if item.severity is Severity.ERROR]
    assert (result.value is None) == bool(errors)


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=9), inner),
    max_leaves=8,
)


@given(st.data())
@settings(max_examples=200, deadline=None)
def test_any_document_gives_facts_or_diagnostics(data):
    """A valid document spoilt in any place gives facts or an error, never a traceback."""
    document = json.loads(json.dumps(FACTS))
    place = data.draw(st.sampled_from([document, document["station"], document["surface"]]))
    place[data.draw(st.sampled_from(sorted(place)) | st.text(max_size=9))] = data.draw(JSON)
    result = flight_document(json.dumps(document))
    if result.value is not None:
        result = flight_facts(result.value)
    errors = [item for item in result.diagnostics if item.severity is Severity.ERROR]
    assert (result.value is None) == bool(errors)
    for item in result.diagnostics:
        item.as_text().encode("utf-8")
