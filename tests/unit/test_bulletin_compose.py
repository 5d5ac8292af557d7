"""The bulletins of a flight, its due times, and corrections."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from encoder.bulletin.compose import (
    collect,
    compose_bulletins,
    compose_correction,
    compose_early,
    messages,
)
from encoder.bulletin.correct import Change, changes, correct
from encoder.bulletin.due_times import DUE, due_times, end_of_ascent, passed_100_hpa
from encoder.bulletin.heading import Heading
from encoder.bulletin.pieces import Kind, reports
from encoder.bulletin.stream import split_bytes
from encoder.formats.flight_folder import read_flight
from encoder.levels.selection import select_levels
from encoder.report import decode_reports, encode_report

if TYPE_CHECKING:
    from encoder.profile import Flight
    from encoder.report import Report

SAMPLES = Path(__file__).parents[2] / "samples" / "flights"
A = "TTAA 59001 90417 99968 13850 18004 00089 ///// ///// 92756 10850 19006 88999 77999"
B = "TTBB 5900/ 90417 00968 13850 11850 05656"


@cache
def flight_and_report(name: str) -> tuple[Flight, Report]:
    """Return a sample flight and its report."""
    flight = read_flight(SAMPLES / name).value
    assert flight is not None
    levels = select_levels(flight).value
    return flight, encode_report(flight, levels).value


def decoded(text: str) -> Report:
    """Return the one report of a text."""
    found = decode_reports(text).value
    assert len(found) == 1
    return found[0]


def test_set_in_order_of_sending() -> None:
    """Every part has the heading of its kind, nominal time and centre; A, B, C, D."""
    flight, report = flight_and_report("harrow-tarn")
    bulletins, found = compose_bulletins(flight, report, centre="XNOR", area="XX")
    assert found == ()
    assert [one.heading.text for one in bulletins] == [
        "USXX01 XNOR 090000",
        "UKXX01 XNOR 090000",
        "ULXX01 XNOR 090000",
        "UEXX01 XNOR 090000",
    ]
    assert [one.letters for one in bulletins] == [("TTAA",), ("TTBB",), ("TTCC",), ("TTDD",)]


def test_messages_split_into_the_same_report() -> None:
    """The messages of a flight, split and decoded, say what the report says."""
    flight, report = flight_and_report("saltmere-point")
    bulletins = compose_bulletins(flight, report, centre="XNOR", area="XX").value
    sent, found = messages(bulletins, first_channel=999)
    assert found == ()
    assert [one[4:7] for one in sent] == [b"999", b"000", b"001", b"002"]

    pieces = split_bytes(b"".join(sent))

    assert [piece for piece in pieces if piece.kind is Kind.UNREAD] == []
    received = decoded("\n".join(piece.text.decode("ascii") for piece in reports(pieces)))
    assert [part.letters for part in received.parts] == [part.letters for part in report.parts]
    assert [part.text.split() for part in received.parts] == [
        part.text.split() for part in report.parts
    ]
    assert changes(report, received) == ()


def test_headings_of_a_region() -> None:
    """A centre's own A1A2 and ii by data type come before the general ones."""
    flight, report = flight_and_report("halden-dome")
    bulletins, found = compose_bulletins(
        flight,
        report,
        centre="XNOR",
        headings={"US": ("XX", "21")},
        area="EU",
        number="05",
        indicator="RRA",
    )
    assert found == ()
    assert [one.heading.text for one in bulletins] == [
        "USXX21 XNOR 201200 RRA",
        "UKEU05 XNOR 201200 RRA",
    ]


def test_part_without_heading() -> None:
    """A part whose A1A2 nobody gives is told and left out."""
    flight, report = flight_and_report("halden-dome")
    bulletins, found = compose_bulletins(
        flight, report, centre="XNOR", headings={"US": ("XX", "01")}
    )
    assert [one.letters for one in bulletins] == [("TTAA",)]
    assert [(one.code, one.path) for one in found] == [("report-under-no-heading", ("TTBB",))]


def test_early_set() -> None:
    """When 100 hPa is passed, parts A and B of the rows so far can go, and say the same."""
    flight, whole = flight_and_report("harrow-tarn")
    rising = replace(flight, ascent=flight.ascent.select(flight.ascent["air_pressure"] > 80.0))
    report = encode_report(rising, select_levels(rising).value).value
    bulletins, found = compose_early(rising, report, centre="XNOR", area="XX")
    assert found == ()
    assert [one.letters for one in bulletins] == [("TTAA",), ("TTBB",)]
    early, late = report.part("A"), whole.part("A")
    assert early is not None
    assert late is not None
    assert early.content.records("2") == late.content.records("2")


def test_early_set_before_100_hpa() -> None:
    """Below 100 hPa there is nothing to send yet."""
    flight, _whole = flight_and_report("harrow-tarn")
    rising = replace(flight, ascent=flight.ascent.select(flight.ascent["air_pressure"] > 150.0))
    report = encode_report(rising, select_levels(rising).value).value
    bulletins, found = compose_early(rising, report, centre="XNOR", area="XX")
    assert (bulletins, [one.code for one in found]) == ((), ["early-not-yet"])
    assert "at 150." in found[0].message


def test_early_set_without_pressures() -> None:
    """Rows with neither pressure nor height have not passed 100 hPa as far as anybody knows."""
    flight, report = flight_and_report("harrow-tarn")
    unknown = np.full(len(flight.ascent["air_pressure"]), np.nan)
    columns = {"air_pressure": unknown, "geopotential_height": unknown}
    blind = replace(flight, ascent=flight.ascent.with_columns(columns))
    bulletins, found = compose_early(blind, report, centre="XNOR", area="XX")
    assert (bulletins, [one.value for one in found]) == ((), [None])
    assert "unknown pressure" in found[0].message


def test_parts_of_a_drop_share_a_bulletin() -> None:
    """All parts of a drop have one heading, so they stand in one bulletin, not in two of a name."""
    folder = SAMPLES.parent / "traffic" / "survey-drop"
    flight = read_flight(folder).raise_for_errors()
    report = encode_report(flight, select_levels(flight).value, form="FM 37").value
    bulletins, found = compose_bulletins(flight, report, centre="XNOR", area="NT", number="13")
    pieces = split_bytes(b"".join(messages(bulletins).value))

    assert found == ()
    assert [(one.heading.text, one.letters) for one in bulletins] == [
        ("UZNT13 XNOR 181400", ("XXAA", "XXBB"))
    ]
    assert [one.letters for one in reports(pieces)] == ["XXAA", "XXBB"]


def test_collective() -> None:
    """A collective holds the stations in order, and NIL for those missing."""
    heading = Heading("US", "XX", "01", "XNOR", 9, 0, 0)
    bulletin = collect(
        heading,
        {"90731": "TTAA 59001 90731 99697=", "90122": "TTAA 59001 90122 99958="},
        letters="TTAA",
        time_group="5900/",
        expected=["90122", "90417", "90731"],
    )
    assert bulletin.reports == (
        "TTAA 59001 90122 99958=",
        "TTAA 5900/ 90417 NIL=",
        "TTAA 59001 90731 99697=",
    )
    assert bulletin.letters == ("TTAA",) * 3


def test_due_times_of_a_flight() -> None:
    """Release, 100 hPa and the end of the ascent stand against window and limits."""
    flight, _report = flight_and_report("harrow-tarn")
    times, found = due_times(flight)
    assert found == ()
    nominal = datetime(2031, 7, 9, tzinfo=UTC)
    assert [(one.name, one.state) for one in times] == [
        ("release", "in time"),
        ("parts A and B", "in time"),
        ("parts C and D", "in time"),
    ]
    assert times[0].earliest == nominal - timedelta(minutes=45)
    assert times[0].ready == flight.release_time
    assert times[1].ready == passed_100_hpa(flight)
    assert times[2].ready == end_of_ascent(flight)
    assert times[1].latest == nominal + timedelta(minutes=75)
    left = times[1].minutes_left
    assert left is not None
    assert 50.0 < left < 75.0
    assert times[0].as_json() == {
        "name": "release",
        "earliest": "2031-07-08T23:15:00Z",
        "latest": "2031-07-09T00:00:00Z",
        "ready": "2031-07-08T23:21:00Z",
        "state": "in time",
        "source": times[0].source,
    }


def test_time_of_100_hpa() -> None:
    """The time at 100 hPa lies between the rows around it."""
    flight, _report = flight_and_report("harrow-tarn")
    passed = passed_100_hpa(flight)
    assert passed is not None
    seconds = (passed - flight.release_time).total_seconds()
    pressures, times = flight.ascent["air_pressure"], flight.ascent["time"]
    assert times[pressures > 100.0][-1] <= seconds <= times[pressures <= 100.0][0]


def test_due_times_of_a_low_burst() -> None:
    """A flight that ends below 100 hPa has its parts A and B ready at its end, and no C and D."""
    flight, _report = flight_and_report("halden-dome")
    times = due_times(flight).value
    assert times[1].ready == end_of_ascent(flight)
    assert (times[2].state, times[2].minutes_left) == ("not reached", None)
    assert times[2].as_json()["ready"] is None


@pytest.mark.parametrize(
    ("minutes", "region", "state"),
    [(-50, 6, "early"), (5, 6, "late"), (5, 4, "in time"), (-70, 4, "early"), (-50, 1, "early")],
)
def test_window_of_release(minutes: int, region: int, state: str) -> None:
    """A release outside the window of the region is told."""
    flight, _report = flight_and_report("harrow-tarn")
    moved = replace(flight, release_time=flight.nominal_time + timedelta(minutes=minutes))
    times, found = due_times(moved, region=region)
    assert times[0].state == state
    assert [one.code for one in found] == (
        [] if state == "in time" else ["released-outside-window"]
    )


def test_every_limit_has_a_source() -> None:
    """Each region has the three limits, each with its source."""
    for limits in DUE.values():
        assert [one.name for one in limits] == ["release", "parts A and B", "parts C and D"]
        assert all(one.source for one in limits)


def test_changes_by_element() -> None:
    """Changes are listed by part, level and element; a changed surface pressure is one change."""
    earlier = decoded(f"{A}=\n{B}=")
    later = decoded(f"{A}=".replace("92756 10850 19006", "92765 10850 19506") + f"\n{B}=")
    assert [one.as_text() for one in changes(earlier, later)] == [
        "TTAA standard 925 hPa geopotential_height: 756 m -> 765 m",
        "TTAA standard 925 hPa wind_from_direction: 190 degree -> 195 degree",
    ]
    speed = decoded(f"{A}=".replace("10850 19006", "10850 19008") + f"\n{B}=")
    assert [one.as_text() for one in changes(earlier, speed)] == [
        "TTAA standard 925 hPa wind_speed: 3.1 m s-1 (6 kt) -> 4.1 m s-1 (8 kt)"
    ]
    surface = decoded(f"{A}=".replace("99968", "99966") + f"\n{B}=")
    assert changes(earlier, surface) == (
        Change("TTAA", "2", "surface", "", "air_pressure", 968.0, 966.0),
    )


def test_changes_of_presence() -> None:
    """Values, levels, sections and parts that come or go are changes too."""
    earlier = decoded(f"{A}=\n{B}=")
    less = decoded(f"{A}=".replace("10850 19006", "///// 19006"))
    assert [one.as_text() for one in changes(earlier, less)] == [
        "TTAA standard 925 hPa air_temperature: 10.8 degC -> missing",
        "TTAA standard 925 hPa dew_point_depression: 5 K -> missing",
        "TTBB part: reported -> absent",
    ]
    level = decoded(f"{A}=\n{B} 22700 01157=")
    assert [one.as_text() for one in changes(earlier, level)] == [
        "TTBB significant-temperature 700 hPa: absent -> reported"
    ]
    assert [one.as_text() for one in changes(level, earlier)] == [
        "TTBB significant-temperature 700 hPa: reported -> absent"
    ]
    wind = decoded(f"{A}=".replace("77999", "77250 27080") + f"\n{B}=")
    assert [one.as_text() for one in changes(earlier, wind)] == [
        "TTAA section 4 none reported: yes -> no",
        "TTAA maximum-wind 250 hPa: absent -> reported",
    ]


def test_nil_is_a_change() -> None:
    """A report that was NIL before has changed."""
    found = changes(decoded("TTAA 59001 90417 NIL="), decoded(f"{A}="))
    assert "TTAA NIL: yes -> no" in [one.as_text() for one in found]


def test_correction_sends_the_changed_part_only() -> None:
    """Only the parts that changed are sent again, whole, under CCA, then CCB."""
    flight, _report = flight_and_report("harrow-tarn")
    later = f"{A}=".replace("92756", "92765")
    correction, found = correct(decoded(f"{A}=\n{B}="), decoded(f"{later}\n{B}="))
    assert found == ()
    assert correction.letters == ("TTAA",)
    assert [" ".join(text.split()) for text in correction.texts] == [later]

    first = compose_correction(flight, correction, centre="XNOR", area="XX").value
    second = compose_correction(
        flight, correction, centre="XNOR", area="XX", used={"TTAA": ["CCA"]}
    ).value

    assert [one.heading.text for one in first] == ["USXX01 XNOR 090000 CCA"]
    assert [one.heading.text for one in second] == ["USXX01 XNOR 090000 CCB"]


def test_part_that_was_not_sent_before() -> None:
    """A part that the earlier report does not have goes out without CCx, COR and 1018x."""
    flight, _report = flight_and_report("harrow-tarn")
    later = decoded(f"{A}=\n{B}=".replace("92756", "92765"))
    correction, found = correct(decoded(f"{A}="), later, regional=True, word=True)
    made = compose_correction(flight, correction, centre="XNOR", area="XX").value

    assert [one.code for one in found] == ["correction-part-new"]
    assert correction.first_sent == ("TTBB",)
    assert [one.heading.text for one in made] == ["USXX01 XNOR 090000 CCA", "UKXX01 XNOR 090000"]
    assert "COR" in correction.texts[0]
    assert " ".join(correction.texts[1].split()) == f"{B}="


@pytest.mark.parametrize(
    ("tail", "expected"),
    [
        ("", "51515 10181="),
        (" 51515 10164 00009 10194 34510 32513", "51515 10164 00009 10181 10194 34510 32513="),
        (" 51515 11897 27014", "51515 10181 11897 27014="),
        (" 61616 12345", "51515 10181 61616 12345="),
        (" 51515 10164 00009 10181", "51515 10164 00009 10181="),
    ],
)
def test_regional_group(tail: str, expected: str) -> None:
    """The group 1018x goes into section 51515 in the order of its codes."""
    later = decoded(f"{A}{tail}=".replace("92756", "92765"))
    correction = correct(decoded(f"{A}{tail}="), later, regional=True).value
    assert " ".join(correction.texts[0].split()).endswith("77999 " + expected)


def test_word_of_correction() -> None:
    """The word COR goes after the letters where a service uses it."""
    later = decoded(f"{B}=".replace("05656", "05256"))
    correction = correct(decoded(f"{B}="), later, regional=True, word=True).value
    assert correction.texts[0].startswith("TTBB COR 5900/ 90417")
    assert correction.texts[0].endswith("51515 10182=")


def test_correction_of_nil() -> None:
    """What comes after NIL is late, not corrected, and that is told."""
    found = correct(decoded("TTAA 59001 90417 NIL="), decoded(f"{A}=")).diagnostics
    assert [(one.code, one.path) for one in found] == [("correction-of-nil", ("TTAA",))]


def test_correction_of_nothing() -> None:
    """A correction that changes nothing must not be sent."""
    correction, found = correct(decoded(f"{A}="), decoded(f"{A}="))
    assert (correction.texts, [one.code for one in found]) == ((), ["correction-changes-nothing"])


def test_correction_of_another_sounding() -> None:
    """Station and time must be those of the earlier report."""
    other = decoded(f"{A}=".replace("90417", "90731").replace("59001", "60121"))
    found = correct(decoded(f"{A}="), other).diagnostics
    assert [one.code for one in found] == ["correction-of-another"] * 3
