"""Soundings of every platform through BUFR and back: the form, the facts, the groups."""

from __future__ import annotations

from pathlib import Path

import pytest

from encoder.formats.bufr.compose import message_content
from encoder.formats.bufr.read import read_message
from encoder.formats.bufr.to_flight import report_of_sounding
from encoder.formats.bufr.write import write_message
from encoder.formats.flight_folder import read_flight
from encoder.levels import select_levels
from encoder.report import encode_report, form_of_flight
from tests.bufr_soundings import platform_flight

TRAFFIC = Path(__file__).resolve().parents[2] / "samples" / "traffic"


def through(flight, template=None):
    """Return the text of a flight, and the one made from its message."""
    levels = select_levels(flight).value
    content = message_content(flight, levels, template=template).value
    sounding = read_message(write_message(content).value).value[0]
    made = report_of_sounding(sounding, selection="flags", reporting=flight.reporting)
    return encode_report(flight, levels).value, made


@pytest.mark.parametrize(
    ("name", "form"),
    [("calder-wren", "FM 36"), ("kestrel-basin", "FM 38"), ("survey-drop", "FM 37")],
)
def test_ship_mobile_unit_and_drop_keep_their_form(name, form):
    """Position, call sign, elevation with its accuracy and sea temperature are those of the text.

    At most five groups differ, each by one figure of a value on a half.
    """
    flight = read_flight(TRAFFIC / name).value
    direct, made = through(flight)

    assert made.value is not None
    assert (direct.form, made.value.form) == (form, form)
    for one, other in zip(direct.parts, made.value.parts, strict=True):
        own, again = one.content.identification, other.content.identification
        assert {key: own[key] for key in own if key != "wind_equipment"} == {
            key: again[key] for key in own if key != "wind_equipment"
        }
    pairs = list(zip(*(_coded(report) for report in (direct, made.value)), strict=True))
    differing = [pair for pair in pairs if pair[0] != pair[1]]
    assert len(differing) <= 5, differing


def _coded(report):
    """Return the groups of a report without sections formed by its service alone."""
    words = []
    for part in report.parts:
        groups = part.text.rstrip("=\n ").split()
        for marker in ("51515", "61616", "62626"):
            if marker in groups:
                groups = groups[: groups.index(marker)]
        words += groups
    return words


@pytest.mark.parametrize(
    ("platform", "form"), [("land", "FM 32"), ("ship", "FM 33"), ("mobile", "FM 34")]
)
@pytest.mark.parametrize("template", ["309050", "309051"])
def test_upper_wind_becomes_a_pilot_of_its_platform(sample_flights, platform, form, template):
    """3 09 050 and 3 09 051 have winds alone: text is PILOT, PILOT SHIP or PILOT MOBIL."""
    flight = platform_flight(sample_flights["saltmere-point"], platform)
    _direct, made = through(flight, template)

    assert made.value is not None, made.diagnostics
    assert made.value.form == form
    letters = ["PPAA", "QQAA", "EEAA"][["land", "ship", "mobile"].index(platform)]
    assert made.value.text.startswith(letters)
    assert [part.content.letter for part in made.value.parts] == ["A", "B", "C", "D"]


def test_form_of_a_flight_by_its_platform(sample_flights):
    """The form is that of the platform, before and after."""
    flight = platform_flight(sample_flights["saltmere-point"], "ship")
    direct, made = through(flight)
    assert made.value.form == form_of_flight(flight) == direct.form == "FM 36"
    assert "908" in made.value.text  # 9snTwTwTw: 8.3 degC


def test_drop_that_rises_is_told(sample_flights):
    """A drop whose times rise with height cannot be one: no text, a diagnostic, no exception."""
    flight = platform_flight(sample_flights["saltmere-point"], "drop")
    _direct, made = through(flight)

    assert made.value is None
    assert "bufr-not-a-flight" in [item.code for item in made.diagnostics]
