"""Sondes dropped from an aircraft: real descents, their plain words, and what is made of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from encoder.bulletin.due_times import due_times, is_falling
from encoder.codes.content import Record
from encoder.codes.drop_text import read_drop_text, write_drop_text
from encoder.formats.bufr.compose import message_content
from encoder.formats.bufr.read import read_message
from encoder.formats.bufr.to_flight import flight_of_sounding, report_of_sounding
from encoder.formats.bufr.write import write_message
from encoder.formats.flight_folder import read_flight
from encoder.levels import LevelKind, select_levels
from encoder.levels.derived import mean_wind
from encoder.report import decode_reports, encode_report
from encoder.resolution import KNOT
from encoder.verify import verify
from encoder.verify.bufr import agree, agreement_text
from tests.flights import facts_of, rows_of, the, write_flight

SAMPLE = Path(__file__).resolve().parents[2] / "samples" / "traffic" / "survey-drop"


def fall(**columns):
    """Return rows of a sonde that falls: time forward, pressure rising, the last 2.5 m up."""
    rows = rows_of()
    found = {name: values[::-1].copy() for name, values in rows.items() if name != "time"}
    return {"time": 2.0 * np.arange(1, 201), **found, **columns}


def facts(**changes):
    """Return the facts of a drop."""
    return facts_of(station__platform="drop", station__call_sign="NRA2", **changes)


@pytest.fixture(scope="module")
def drop():
    """Return the sample."""
    return read_flight(SAMPLE).raise_for_errors()


@pytest.fixture(scope="module")
def report(drop):
    """Return its report."""
    return encode_report(drop, select_levels(drop).value).raise_for_errors()


def words_of(report, letters):
    """Return the plain words of a part."""
    (text,) = [" ".join(part.text.split()) for part in report.parts if part.letters == letters]
    return text[text.index("61616") :].rstrip("=")


def test_sample_falls():
    """The file has time forward and pressure rising, as the sonde sent it."""
    lines = (SAMPLE / "profile.csv").read_text("utf-8").splitlines()[2:]
    time, pressure = (np.array([float(line.split(",")[at]) for line in lines]) for at in (0, 1))

    assert np.all(np.diff(time) > 0.0)
    assert np.all(np.diff(pressure) > 0.0)


def test_rows_stand_from_the_sea_upward(drop):
    """Row 0 is the surface observation at the splash; pressure and time fall from there."""
    ascent = drop.ascent

    assert (ascent.source_row[0], ascent["time"][0]) == (0, 619.0)
    assert ascent["air_pressure"][0] == drop.surface.air_pressure
    assert np.all(np.diff(ascent["air_pressure"]) < 0.0)
    assert np.all(np.diff(ascent["time"]) < 0.0)
    assert (ascent["latitude"][0], ascent["longitude"][0]) == pytest.approx(
        (54.339, -21.199), abs=1e-3
    )
    assert drop.descent is None
    assert is_falling(drop)


def test_report_is_read_back_and_verified(drop, report):
    """FM 37 from the flight may be sent."""
    (decoded,), found = decode_reports(report.text)
    verdict = verify(drop, decoded, report_diagnostics=found)

    assert report.form == "FM 37"
    assert [part.letters for part in report.parts] == ["XXAA", "XXBB"]
    assert verdict.may_be_sent
    assert verdict.rows_judged == len(drop.ascent)


def test_plain_words(drop, report):
    """61616 in both parts, 62626 in part A alone, as in bulletin UZNT13 KWBC 211330."""
    said = {record.kind: record for record in read_drop_text(words_of(report, "XXAA"))}

    assert words_of(report, "XXBB") == "61616 NRA2 0118A SURVEY OB 03"
    assert list(said) == [
        "mission",
        "verbatim",
        "boundary-layer-wind",
        "deep-layer-wind",
        "lowest-layer-wind",
        "release",
        "splash",
    ]
    assert (said["mission"].get("storm"), said["mission"].get("observation")) == ("SURVEY", "03")
    assert said["release"].get("time") == "132000"
    assert said["splash"].get("time") == f"{drop.release_time + timedelta(seconds=619):%H%M%S}"
    assert (said["release"].get("latitude"), said["release"].get("longitude")) == (54.31, -21.66)
    assert (said["splash"].get("latitude"), said["splash"].get("longitude")) == (54.34, -21.2)


def test_mean_winds_of_the_words(drop, report):
    """Mean winds of the lowest 500 m, of the whole layer, and of the lowest 150 m."""
    unit = drop.reporting.wind_unit
    records = read_drop_text(words_of(report, "XXAA"), wind_unit=unit)
    said = {record.kind: record for record in records}
    heights = drop.ascent["geopotential_height"]
    for kind, top in (
        ("boundary-layer-wind", 500.0),
        ("deep-layer-wind", float(heights[-1])),
        ("lowest-layer-wind", 150.0),
    ):
        direction, speed = mean_wind(drop.ascent, float(heights[0]), top)
        assert abs(said[kind].get("wind_speed") - speed) <= 0.5
        assert abs(said[kind].get("wind_from_direction") - direction) <= 2.5
    layer = said["deep-layer-wind"]
    assert (layer.get("layer_bottom"), layer.get("layer_top")) == (958.0, 304.0)


def test_words_go_out_and_come_back():
    """Writing the records that were read gives the words again, south and west, past 1000 hPa."""
    for text in (
        "61616 NOAA3 0602A BERTHA OB 20",
        "MBL WND 14058 DLM WND 13552 001762 WL150 12551",
        "REL 2939N08607W 131947 SPG 2942N08610W 132241",
        "SPL 0000N00000E",
        "REL 0312S17959W 235959",
        "DLM WND 00000 013500",
    ):
        assert write_drop_text(read_drop_text(text)) == text


def test_words_without_values_are_left_out():
    """A record without its values gives no words."""
    records = [
        Record("mission", {"aircraft": "NRA2", "mission": None}),
        Record("release", {"latitude": None, "longitude": 3.0}),
        Record("boundary-layer-wind", {"wind_from_direction": None, "wind_speed": None}),
        Record("deep-layer-wind", {"wind_from_direction": 10.0, "wind_speed": 5.0}),
    ]
    assert write_drop_text(records) == ""


def test_given_groups_take_the_place_of_the_words(drop):
    """National groups of the reporting practice stand where they are given."""
    own = drop.with_reporting(national_groups=("61616", "NRA2", "X"))
    text = encode_report(own, select_levels(own).value).value.text

    assert text.count("61616 NRA2 X") == 2
    assert "62626" not in text


def test_words_of_little(tmp_path):
    """Without mission and splash: winds and the release alone, no time is made up."""
    flight = read_flight(write_flight(tmp_path, facts(), fall())).raise_for_errors()
    text = " ".join(encode_report(flight, select_levels(flight).value).value.text.split())

    assert "61616" not in text
    assert "62626 MBL WND" in text
    assert "SPG" not in text
    assert "SPL" not in text
    assert text.count("62626") == 1


def test_splash_time_by_rate_of_fall(tmp_path):
    """Close to the surface the time follows from the last rows, and that is told."""
    result = read_flight(write_flight(tmp_path, facts(), fall()))
    times = result.value.ascent["time"]

    assert the(result, "splash-time-computed").severity == "note"
    assert times[1] < times[0] < times[1] + 5.0


def test_splash_far_below_the_last_row(tmp_path):
    """A sonde that fell silent high up: the time of the splash has to be looked at."""
    high = {name: values[:120] for name, values in fall().items()}
    result = read_flight(write_flight(tmp_path, facts(), high))

    assert the(result, "splash-time-computed").severity == "warning"
    text = encode_report(result.value, select_levels(result.value).value).value.text
    assert text.startswith("XXAA")
    assert "SPG" not in text


def test_a_rising_profile_is_no_drop(tmp_path):
    """Rows that rise are refused with one error."""
    result = read_flight(write_flight(tmp_path, facts()))
    assert result.value is None
    assert the(result, "drop-rises").severity == "error"


def test_splash_is_a_moment_after_release(tmp_path):
    """A splash time that does not exist, or lies before the release, is an error."""
    for time, code in (
        ("2031-02-30T00:00Z", "time-does-not-exist"),
        ("2031-07-15T17:16:30Z", "splash-before-release"),
    ):
        document = facts(drop__splash_time=time)
        assert the(read_flight(write_flight(tmp_path, document, fall())), code)


def test_message_of_a_drop(drop, report):
    """3 09 053: aircraft, release height in 0 07 007, levels upward with falling times."""
    levels = select_levels(drop).value
    content = message_content(drop, levels).value
    (sounding,) = read_message(write_message(content).value).value
    agreement = agree(sounding, flight=drop, report=decode_reports(report.text).value[0])
    times = sounding.levels["time"]
    known = times[np.isfinite(times) & (sounding.levels["air_pressure"] < 958.0)]

    assert content.template.number == "309053"
    assert sounding.aircraft == "NRA2"
    assert sounding.release_height == 8430.0
    assert np.all(np.diff(known) <= 0.0)
    assert agreement.agree, agreement_text(agreement)


def test_message_of_a_drop_becomes_a_flight(drop, report):
    """The message gives a drop again, and its report in FM 37 at the same place."""
    content = message_content(drop, select_levels(drop).value).value
    (sounding,) = read_message(write_message(content).value).value
    flight = flight_of_sounding(sounding).value
    again = report_of_sounding(sounding, reporting=drop.reporting).value

    assert is_falling(flight)
    assert len(flight.ascent) > 0.95 * len(drop.ascent)
    assert again.form == "FM 37"
    assert again.text.split()[:6] == report.text.split()[:6]


def test_parts_are_due_when_the_drop_ends(drop):
    """The lower air comes last, so that parts A and B are ready at the splash."""
    times = {item.name: item for item in due_times(drop).value}
    assert times["parts A and B"].ready == drop.release_time + timedelta(seconds=619)
    assert times["parts C and D"].ready is None


def test_archive_and_page(drop, tmp_path):
    """The drop goes into a flight file and comes back; the page says when it ended."""
    from encoder.archive import FlightArchive
    from encoder.formats.netcdf import read_netcdf, write_netcdf
    from encoder.page.review import review_of_flight
    from encoder.page.times import timeliness

    levels = select_levels(drop).value
    made = encode_report(drop, levels).value
    path = tmp_path / "drop.nc"
    write_netcdf(FlightArchive(drop, levels, (made,)), path)
    again = read_netcdf(path).value

    assert again.flight.ascent == drop.ascent
    assert again.flight.profile == drop.profile
    assert review_of_flight(drop).verdict.may_be_sent
    (end,) = [one for one in timeliness(drop).moments if one.name == "end"]
    assert end.label == "end of the drop"
    assert end.time == drop.release_time + timedelta(seconds=619)


def test_levels_of_a_drop_have_the_aircraft_on_top(drop):
    """First and last significant level are the sea and the release."""
    levels = select_levels(drop).value
    winds = levels.having(LevelKind.SIGNIFICANT_WIND)

    assert levels["air_pressure"][winds[0]] == drop.surface.air_pressure
    assert levels["air_pressure"][winds[-1]] == drop.ascent["air_pressure"][-1]
    assert levels["wind_speed"][winds[-1]] > 100.0 * KNOT
    assert replace(drop, document={}).ascent is drop.ascent


def test_drift_of_a_drop_without_positions(tmp_path):
    """Without positions the drift follows from the wind, in the order of time: none at first."""
    flight = read_flight(write_flight(tmp_path, facts(), fall())).value
    content = message_content(flight, select_levels(flight).value).value
    north, time = content.levels["latitude_displacement"], content.levels["time"]
    order = np.argsort(time)
    order = order[np.isfinite(north[order]) & (content.levels["pressure"][order] < 96_480.0)]

    assert abs(north[order[0]]) < 1e-3
    assert np.all(np.diff(np.abs(north[order])) >= 0.0)
    assert abs(north[order[-1]]) > 0.005


def test_level_below_the_sea_stands_at_the_release(drop):
    """1000 hPa lies below the sea: no time and no displacement (B/C25.8.2.2)."""
    content = message_content(drop, select_levels(drop).value).value
    lowest = int(np.argmax(content.levels["pressure"]))

    assert content.levels["pressure"][lowest] == 100_000.0
    assert content.levels["time"][lowest] == 0.0
    assert content.levels["latitude_displacement"][lowest] == 0.0
    assert content.levels["longitude_displacement"][lowest] == 0.0
