"""Figures as files: what they are, that they stay the same, what they refuse."""

from __future__ import annotations

import builtins
import re
from dataclasses import replace

import numpy as np
import pytest

from encoder.errors import MissingDependencyError
from encoder.levels.table import LevelKind, Levels
from encoder.page import review_of_flight, review_of_report
from encoder.plot.figure import SUFFIXES, VIEWS, plot_sounding
from encoder.plot.segments import segment_levels, segment_lines
from encoder.report import decode_reports

BEGINS = {"png": b"\x89PNG\r\n", "svg": b"<?xml", "pdf": b"%PDF-"}


@pytest.fixture(scope="module")
def review(sample_flights):
    return review_of_flight(sample_flights["saltmere-point"])


@pytest.mark.parametrize("suffix", SUFFIXES)
@pytest.mark.parametrize("view", VIEWS)
def test_every_view_as_every_kind_of_file(review, view, suffix):
    """Each view is written as PNG, SVG and PDF, with the same bytes each time."""
    content = plot_sounding(review, view=view, suffix=suffix, dpi=40)

    assert content.startswith(BEGINS[suffix])
    assert plot_sounding(review, view=view, suffix=suffix, dpi=40) == content
    assert not re.search(rb"(?:19|20)2\d-\d\d-\d\dT|CreationDate", content)


def test_a_report_alone_can_be_drawn(review):
    """Without a flight: levels and segments, no misfit."""
    alone = review_of_report(decode_reports(review.report.text).value[0])

    for view in VIEWS:
        assert plot_sounding(alone, view=view, dpi=40, ground="dark").startswith(BEGINS["png"])


def test_a_report_without_significant_levels_can_be_drawn():
    """Part A alone, with and without values at its levels."""
    for text in (
        "TTAA 17121 90122 99958 04618 24014 00845 ///// ///// 92291 02003 25025=",
        "TTAA 1712/ 90122 99/// ///// ///// 88999 77999=",
    ):
        alone = review_of_report(decode_reports(text).value[0])
        for view in VIEWS:
            assert plot_sounding(alone, view=view, dpi=40).startswith(BEGINS["png"])


def test_settings_of_the_reader_do_not_matter(review):
    """A changed setting of the drawing library changes nothing and is given back."""
    import matplotlib as mpl

    before = plot_sounding(review, view="hodograph", dpi=40)
    with mpl.rc_context({"font.size": 30.0, "axes.facecolor": "red"}):
        assert plot_sounding(review, view="hodograph", dpi=40) == before
        assert mpl.rcParams["font.size"] == 30.0


def test_name_of_a_station_is_text(review):
    """A station called $x^2$ is not set as a formula; one with a dollar sign does no harm."""
    for name in ("$\\frac{1}{2", "a$b", "<script>"):
        flight = replace(review.flight, station=replace(review.flight.station, name=name))
        drawn = plot_sounding(replace(review, flight=flight), view="hodograph", suffix="svg")
        assert drawn.startswith(BEGINS["svg"])
        assert b"<script>" not in drawn


def test_unknown_view_and_kind_are_refused(review):
    """The message names what there is."""
    with pytest.raises(ValueError, match="profile, thermodynamic, hodograph"):
        plot_sounding(review, view="map")
    with pytest.raises(ValueError, match="png, svg, pdf"):
        plot_sounding(review, suffix="gif")


def test_without_the_extra(review, monkeypatch):
    """Without matplotlib the message names the extra."""
    real = builtins.__import__

    def refuse(name, *args, **kwargs):
        if name.split(".")[0] == "matplotlib":
            raise ImportError(name)
        return real(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", refuse)
    with pytest.raises(MissingDependencyError, match=r"aerogram\[plot\]"):
        plot_sounding(review)


def levels_of(directions, kinds=None):
    count = len(directions)
    pressure = 900.0 * 0.8 ** np.arange(count)
    wind = int(LevelKind.SIGNIFICANT_WIND)
    return Levels(
        {
            "air_pressure": pressure,
            "wind_from_direction": np.array(directions, dtype=float),
            "wind_speed": np.where(np.isnan(directions), np.nan, 10.0),
        },
        np.array(kinds or [wind] * count),
    )


def test_segments_break_at_layers_without_wind():
    """A level that begins a missing layer ends the line; a missing value breaks it."""
    wind, begin = int(LevelKind.SIGNIFICANT_WIND), int(LevelKind.BEGIN_MISSING_WIND)
    levels = levels_of([10, 20, 30, np.nan, 50], [wind, wind | begin, wind, wind, wind])

    assert segment_levels(levels, "wind_from_direction") == [[0, 1], [2], [4]]


@pytest.mark.parametrize(("below", "above", "edge"), [(350, 20, 360.0), (15, 340, 0.0)])
def test_a_direction_passes_north(below, above, edge):
    """The line leaves at one edge and comes back at the other, at one pressure between."""
    levels = levels_of([below, above])

    values, pressures = segment_lines(levels, "wind_from_direction")

    assert values[0] == below
    assert values[1] == edge
    assert np.isnan(values[2])
    assert values[3] == 360.0 - edge
    assert values[4] == above
    assert pressures[0] > pressures[1] == pressures[3] > pressures[4]
    turn = 30.0 if edge == 360.0 else -35.0
    share = np.log(pressures[1] / pressures[0]) / np.log(pressures[4] / pressures[0])
    assert share == pytest.approx((edge - below) / turn)
