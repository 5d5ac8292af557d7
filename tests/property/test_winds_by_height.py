"""Winds by height: any ascent of a pilot balloon is coded, read back and verified."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from encoder.levels import LevelKind, select_levels
from encoder.levels.by_height import misfit_by_height
from encoder.levels.representation import coded_levels
from encoder.levels.rules import WMO
from encoder.profile import Flight, Instrument, Profile, Reporting, Station, SurfaceObservation
from encoder.report import decode_reports, encode_content, encode_report
from encoder.resolution import Coding
from encoder.verify import verify

NAN = float("nan")
DAY = datetime(2031, 7, 10, 18, tzinfo=UTC)


@st.composite
def balloons(draw):
    """Return a flight of a pilot balloon with smooth or jumping winds, gaps and any top."""
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    ground = draw(st.floats(-50.0, 3000.0))
    count = draw(st.integers(2, 400))
    spacing = draw(st.sampled_from([10.0, 50.0, 90.0]))
    height = ground + np.concatenate(
        ([0.0], np.cumsum(spacing * random.uniform(0.5, 1.5, count - 1)))
    )
    rough = draw(st.sampled_from([0.02, 0.3, 3.0]))
    east = 10.0 + np.cumsum(random.normal(0.0, rough, count))
    north = np.cumsum(random.normal(0.0, rough, count))
    direction = np.mod(np.degrees(np.arctan2(-east, -north)), 360.0)
    direction = np.where(direction == 0.0, 360.0, direction)
    speed = np.minimum(np.hypot(east, north), 110.0)
    for _ in range(draw(st.integers(0, 2))):
        first = int(random.integers(0, count))
        lost = slice(first, first + int(random.integers(1, max(count // 2, 2))))
        direction[lost] = speed[lost] = np.nan
    nothing = np.full(count, np.nan)
    ascent = Profile(
        {
            "time": (height - ground) / 5.0,
            "air_pressure": nothing,
            "geopotential_height": height,
            "air_temperature": nothing,
            "relative_humidity": nothing,
            "dew_point_temperature": nothing,
            "wind_from_direction": direction,
            "wind_speed": speed,
        },
        np.arange(count),
    )
    region = draw(st.sampled_from([4, 6]))
    reporting = Reporting(
        wind_unit=draw(st.sampled_from(["kt", "m s-1"])),
        pilot_step=draw(st.sampled_from([None, 500])),
    )
    index = "72417" if region == 4 else "90417"
    return Flight(
        Station("Harrow Tarn", 54.31, -18.28, ground, wmo_index=index, wmo_region=region),
        DAY,
        DAY,
        SurfaceObservation(NAN, NAN, NAN, NAN, float(direction[0]), float(speed[0])),
        Instrument(wind_equipment="3"),
        reporting,
        ascent,
        ascent,
        document={"winds_alone": True},
    )


@settings(max_examples=50, deadline=None)
@given(balloons(), st.sampled_from(["largest-deviation", "fewest-levels"]))
def test_levels_keep_their_promise(flight, method):
    """Every row between two levels is within its limits, or a finding names it."""
    levels, found = select_levels(flight, method=method)
    coding = Coding(flight.reporting.wind_unit)
    fit = misfit_by_height(
        flight.ascent,
        coded_levels(levels, coding, "wmo-49"),
        rules=WMO,
        coding=coding,
        formula="wmo-49",
    )
    told = {item.code for item in found}

    assert np.all(np.diff(levels["geopotential_height"]) > 0.0)
    assert np.isnan(levels["air_pressure"]).all()
    assert fit.within_limits or "tolerance-not-met" in told


@settings(max_examples=50, deadline=None)
@given(balloons())
def test_report_says_what_the_flight_has(flight):
    """The PILOT reads back without a word, is coded alike again, and may be sent."""
    levels = select_levels(flight).value
    if not len(levels.having(LevelKind.SIGNIFICANT_WIND)) or not levels.attributes["wind_observed"]:
        return
    report, faults = encode_report(flight, levels)
    (again,), found = decode_reports(report.text)
    verdict = verify(flight, again, report_diagnostics=found)

    assert [item.as_text() for item in faults] == []
    assert {item.code for item in found} <= {"parts-missing"}
    contents = [part.content for part in again.parts]
    assert report.text.split() == encode_content(contents).value.split()
    assert verdict.differences == ()
    errors = {item.code for item in verdict.diagnostics if item.severity == "error"}
    assert errors == set()
