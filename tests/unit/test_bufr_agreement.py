"""Agreement of flight, BUFR and text; conversion of whole soundings; headings and notifications."""

from __future__ import annotations

import base64
import hashlib
import signal
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime

import jsonschema
import numpy as np
import pytest

from encoder.bulletin.envelope import batch, read_batch
from encoder.bulletin.envelope import message as envelope
from encoder.bulletin.heading import parse_heading
from encoder.catalogue.bufr import RULES
from encoder.formats.bufr import isolation
from encoder.formats.bufr.compose import message_content, nil_content
from encoder.formats.bufr.from_text import content_of_report, lacking_parts
from encoder.formats.bufr.guard import MOST_REPETITIONS, may_be_sounding, refusal, structure_fault
from encoder.formats.bufr.headings import (
    bulletin_octets,
    heading_fits_message,
    heading_of,
    kind_letter,
    platform_named,
)
from encoder.formats.bufr.isolation import read_isolated
from encoder.formats.bufr.notification import notify, topic_of
from encoder.formats.bufr.read import read_message, read_soundings
from encoder.formats.bufr.sections import read_header
from encoder.formats.bufr.through_eccodes import read_with_library
from encoder.formats.bufr.to_flight import flight_of_sounding, report_of_sounding
from encoder.formats.bufr.write import write_message
from encoder.levels import select_levels
from encoder.levels.table import LevelKind, Levels
from encoder.report import decode_reports, encode_report
from encoder.schemas_folder import schema
from encoder.verify.bufr import agree, agreement_text
from tests.bufr_soundings import platform_flight

NAMES = ("harrow-tarn", "halden-dome", "saltmere-point")


def codes(diagnostics):
    return [item.code for item in diagnostics]


@pytest.fixture(scope="module")
def everything(sample_flights):
    """Flight, levels, decoded text, message and sounding of each sample."""
    made = {}
    for name in NAMES:
        flight = sample_flights[name]
        levels = select_levels(flight).value
        text = encode_report(flight, levels).value
        content = message_content(flight, levels).value
        message = write_message(content).value
        (sounding,) = read_message(message).value
        made[name] = (flight, levels, text, decode_reports(text.text).value[0], sounding)
    return made


# --- agreement ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_flight_message_and_text_agree(everything, name):
    """Every element within half a step of both codes, every level in all three."""
    flight, _levels, _text, report, sounding = everything[name]
    agreement = agree(sounding, flight=flight, report=report)

    assert agreement.agree, agreement_text(agreement)
    assert agreement.disagreements == ()
    assert agreement.compared["flight and BUFR"] > 6 * len(flight.ascent)
    assert max(agreement.worst.values()) <= 1.0 + 1e-3
    jsonschema.validate(agreement.as_json(), schema("agreement"))


@pytest.mark.parametrize(
    ("name", "step"),
    [
        ("air_temperature", 0.011),
        ("dew_point_temperature", 0.011),
        ("geopotential_height", 0.11),
        ("wind_speed", 0.11),
        ("wind_from_direction", 1.1),
        ("latitude", 1.1e-5),
        ("longitude", 1.1e-5),
    ],
)
def test_a_value_off_by_a_step_is_found(everything, name, step):
    """One value of one row moved by a little more than a step of the message."""
    flight, _levels, _text, _report, sounding = everything["saltmere-point"]
    columns = {key: np.array(values) for key, values in sounding.levels.columns.items()}
    place = 500
    columns[name][place] += step
    levels = replace(sounding.levels, columns=columns)
    agreement = agree(replace(sounding, levels=levels), flight=flight)

    assert not agreement.agree
    assert [item.element for item in agreement.disagreements] == [name]
    assert codes(agreement.diagnostics) == ["bufr-unlike-flight"]
    assert "DISAGREES" in agreement_text(agreement)
    jsonschema.validate(agreement.as_json(), schema("agreement"))


def test_a_level_that_is_not_there_is_found(everything):
    """The tropopause taken out of the message."""
    flight, levels, _text, report, sounding = everything["saltmere-point"]
    tropopause = levels["air_pressure"][levels.having(LevelKind.TROPOPAUSE)[0]]
    kept = np.abs(sounding.levels["air_pressure"] - tropopause) > 0.006
    without = replace(sounding, levels=sounding.levels.select(np.flatnonzero(kept)))
    agreement = agree(without, flight=flight, report=report)

    assert codes(agreement.diagnostics)[0] == "bufr-level-missing"
    assert "tropopause" in agreement.diagnostics[0].message


def test_another_flight_is_found(everything):
    """Station, time and every level differ."""
    flight = everything["halden-dome"][0]
    agreement = agree(everything["saltmere-point"][4], flight=flight)
    elements = {item.element for item in agreement.disagreements}

    assert {"station", "wigos_id", "nominal_time", "release_time"} <= elements
    assert "more values" in agreement.diagnostics[-1].message or len(elements) > 4


def test_text_that_says_otherwise_is_found(everything):
    """One figure of the text changed: temperature at 500 hPa, wind at 850 hPa."""
    _flight, _levels, text, _report, sounding = everything["saltmere-point"]
    group = next(entry for entry in text.trace if entry.symbol == "TTTaDD" and entry.section == "2")
    changed = text.text[: group.span[0]] + "09918" + text.text[group.span[1] :]
    report = decode_reports(changed).value[0]
    agreement = agree(sounding, report=report)

    assert {item.element for item in agreement.disagreements} == {"air_temperature"}
    assert set(codes(agreement.diagnostics)) == {"bufr-unlike-text"}


@pytest.mark.parametrize("template", ["309052", "309050", "309051", "309056"])
def test_other_messages_agree_with_the_flight(everything, template):
    """Low resolution, upper wind by pressure and height, descent."""
    flight, levels, *_rest = everything["saltmere-point"]
    content = message_content(flight, levels, template=template).value
    (sounding,) = read_message(write_message(content).value).value
    report = everything["saltmere-point"][3]
    agreement = agree(sounding, flight=flight, report=report)

    assert agreement.agree, agreement_text(agreement)
    apart = template in ("309051", "309056")
    assert ("bufr-text-not-compared" in codes(agreement.diagnostics)) == apart
    assert ("text and BUFR" in agreement.compared) != (template == "309056")


# --- conversion -----------------------------------------------------------------------------------


def test_text_to_bufr_and_back_is_the_same_text(everything):
    """All parts in one message; the flagged levels make the same groups again."""
    flight, _levels, text, report, _sounding = everything["saltmere-point"]
    content = content_of_report(
        report,
        nominal_time=flight.nominal_time,
        release_time=flight.release_time,
        station=flight.station,
    )
    result = read_message(write_message(content.value).value)
    again = report_of_sounding(result.value[0], selection="flags", reporting=flight.reporting).value

    assert codes(content.diagnostics) == ["bufr-from-text"]
    assert codes(result.diagnostics) == ["bufr-reformatted"]
    assert again.text == text.text


def test_lone_part_is_refused_unless_forced(everything):
    """Part A alone makes no message: its reader could not know what was not sent."""
    flight, _levels, text, _report, _sounding = everything["saltmere-point"]
    (alone,) = decode_reports(text.parts[0].text + "\n").value
    asked = {"nominal_time": flight.nominal_time}
    refused = content_of_report(alone, **asked)

    assert refused.value is None
    assert "bufr-lone-part" in codes(refused.diagnostics)
    assert lacking_parts(alone) == ("B",)
    forced = content_of_report(alone, forced=True, **asked).value
    assert read_message(write_message(forced).value).value[0].station == "90122"


def test_text_of_another_kind_than_the_template(everything):
    """A land TEMP is no drop."""
    flight, _levels, _text, report, _sounding = everything["halden-dome"]
    refused = content_of_report(report, nominal_time=flight.nominal_time, template="309053")

    assert "bufr-template-unfit" in codes(refused.diagnostics)


def test_bufr_to_text_chooses_anew_or_by_flags(everything):
    """Both ways give a text that agrees with the message and keeps the curves of the flight."""
    from encoder.verify import verify

    flight, _levels, text, _report, sounding = everything["halden-dome"]
    for selection in ("anew", "flags"):
        made = report_of_sounding(sounding, selection=selection, reporting=flight.reporting)
        (report,) = decode_reports(made.value.text).value
        verdict = verify(flight, report)
        agreement = agree(sounding, report=report)
        assert len(report.parts) == len(text.parts)
        assert agreement.agree, agreement_text(agreement)
        assert "tolerance-broken" not in codes(verdict.diagnostics), selection


def test_sounding_becomes_a_flight(everything):
    """Rows without levels below the ground and heights above the top; surface and facts kept."""
    flight, _levels, _text, _report, sounding = everything["saltmere-point"]
    made = flight_of_sounding(sounding)

    assert made.value.station.wmo_index == "90122"
    assert made.value.surface.air_pressure == 958.3
    assert made.value.surface.cloud == flight.surface.cloud
    assert np.all(np.diff(made.value.ascent["air_pressure"]) < 0.0)
    assert np.all(np.diff(made.value.ascent["time"]) > 0.0)
    assert abs(len(made.value.ascent) - len(flight.ascent)) < 60
    assert "bufr-rows-left-out" in codes(made.diagnostics)


def test_wind_alone_becomes_a_pilot(everything):
    """3 09 050 has pressures and winds alone: a PILOT by pressure is made of it, and no TEMP."""
    flight, levels, *_rest = everything["saltmere-point"]
    content = message_content(flight, levels, template="309050").value
    (sounding,) = read_message(write_message(content).value).value

    report = report_of_sounding(sounding).value

    assert report.form == "FM 32"
    assert [part.letters for part in report.parts] == ["PPAA", "PPBB", "PPCC", "PPDD"]
    assert "44385" in report.text
    assert " 21212 00958 " in report.text.replace("\n", " ")


def test_no_wind_and_no_temperature_is_no_flight(everything):
    """Levels with heights alone are not coded."""
    _flight, _levels, _text, _report, sounding = everything["saltmere-point"]
    nothing = np.full(len(sounding.levels), np.nan)
    empty = ("air_temperature", "wind_from_direction", "wind_speed")
    columns = {**sounding.levels.columns, **dict.fromkeys(empty, nothing)}
    bare = replace(sounding, levels=Levels(columns, sounding.levels.kinds))

    assert codes(report_of_sounding(bare).diagnostics) == ["bufr-not-a-flight"]


def test_ship_text_to_bufr(sample_flights):
    """FM 36: call sign and position from the text, sub-category 5."""
    text = (
        "UUAA QCW07 17121 99577 70169 18276 99958 04618 24014 00845 ///// ///// 92291 02003 25025 "
        "88999 77999=\nUUBB QCW07 17128 99577 70169 18276 00958 04618 11880 01500 "
        "21212 00958 24014=\n"
    )
    (report,) = decode_reports(text).value
    content = content_of_report(report, nominal_time=datetime(2031, 1, 17, 12, tzinfo=UTC)).value
    (sounding,) = read_message(write_message(content).value).value

    assert sounding.call_sign == "QCW07"
    assert sounding.header.sub_category == 5
    assert (sounding.latitude, sounding.longitude) == (57.7, -16.9)


# --- headings and bulletins -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("template", "platform", "first", "words"),
    [
        ("309057", "land", False, "IUSA01"),
        ("309057", "land", True, "IUKA01"),
        ("309057", "mobile", False, "IUSA20"),
        ("309057", "ship", True, "IUKA40"),
        ("309050", "land", True, "IUWA01"),
        ("309050", "ship", False, "IUJA40"),
        ("309053", "drop", False, "IUDA01"),
        ("309056", "land", False, "IUSA11"),
    ],
)
def test_heading_by_content(everything, template, platform, first, words):
    """T1T2A1 by kind, A2 by position, ii by platform (WMO-No. 386 Attachment II-5, C6 and C3)."""
    flight, levels, *_rest = everything["saltmere-point"]
    own = platform_flight(flight, platform)
    content = message_content(own, levels, template=template, rows="selected").value
    heading = heading_of(content, position=(57.7, -16.9), centre="XNOR", first=first)
    header = read_header(write_message(content).value).value

    assert heading.text == f"{words} XNOR 171200"
    assert heading_fits_message(heading, header) == ()
    assert platform_named(header.sub_category) == platform


def test_heading_that_does_not_fit_is_told(everything):
    """Kind of data, range of ii, day and hour."""
    header = everything["saltmere-point"][4].header
    for text, words in (
        ("IUJA01 XNOR 171200", "sub-category 4"),
        ("IUSA45 XNOR 171200", "ii 45"),
        ("IUSA01 XNOR 180000", "day 17"),
        ("SMNO01 XNOR 171200", "no heading of soundings"),
    ):
        found = heading_fits_message(parse_heading(text).value, header)
        assert codes(found) == ["bufr-heading-by-content"]
        assert words in found[0].message


def test_monthly_and_unknown_kinds():
    """IUU for monthly means; no heading for what is no sounding."""
    assert kind_letter(25) == "U"
    assert kind_letter(104, first=True) == "K"
    with pytest.raises(KeyError):
        kind_letter(99)


def test_bulletins_survive_batch_and_stream(everything):
    """Envelope, batch framing in both formats, and back to the same messages."""
    flight, levels, *_rest = everything["halden-dome"]
    messages = []
    for template in ("309057", "309050"):
        content = message_content(flight, levels, template=template, rows="selected").value
        data = write_message(content).value
        heading = heading_of(content, position=(56.1, -20.6), centre="XNOR")
        messages.append((data, heading))
    wrapped = [
        envelope(bulletin_octets(data, heading).value, channel=number)
        for number, (data, heading) in enumerate(messages)
    ]
    for form in ("00", "01"):
        packed = batch(wrapped, form)
        read = [one for result in read_soundings(packed) for one in result.value]
        assert len(read_batch(packed).value) == 2
        assert [one.heading for one in read] == [heading.text for _data, heading in messages]


def test_bulletin_that_is_too_large_is_told(everything):
    """500,000 octets are the limit of a binary bulletin."""
    heading = parse_heading("IUSA01 XNOR 171200").value

    assert codes(bulletin_octets(b"x" * 500_001, heading).diagnostics) == ["bufr-too-large"]


# --- notification ---------------------------------------------------------------------------------


def made_notification(everything, *, rows="selected", **changes):
    flight, levels, *_rest = everything["saltmere-point"]
    content = message_content(flight, levels, rows=rows).value
    message = write_message(content).value
    (sounding,) = read_message(message).value
    asked = {
        "centre_id": "nr-norreland",
        "url": "https://wis.example/A_IUSA01XNOR171200.bufr",
        "published": datetime(2031, 1, 17, 13, 5, tzinfo=UTC),
        **changes,
    }
    return message, notify(message, sounding, **asked)


def test_notification_fits_its_schema(everything):
    """Topic, digest of the message, place and nominal time; inline content below 4 kB."""
    heading = parse_heading("IUSA01 XNOR 171200").value
    message, result = made_notification(everything, heading=heading)
    document = result.value.document
    properties = document["properties"]

    jsonschema.validate(document, schema("notification"))
    assert result.value.topic == (
        "origin/a/wis2/nr-norreland/data/core/weather/surface-based-observations/temp"
    )
    assert base64.b64decode(properties["integrity"]["value"]) == hashlib.sha512(message).digest()
    assert base64.b64decode(properties["content"]["value"]) == message
    assert properties["datetime"] == "2031-01-17T12:00:00Z"
    assert properties["gts"] == {"ttaaii": "IUSA01", "cccc": "XNOR"}
    assert document["links"][0] == {
        "rel": "canonical",
        "type": "application/bufr",
        "href": "https://wis.example/A_IUSA01XNOR171200.bufr",
        "length": len(message),
    }


def test_large_message_is_not_inline(everything):
    """A message of all rows is fetched from its address."""
    _message, result = made_notification(everything, rows="all")

    jsonschema.validate(result.value.document, schema("notification"))
    assert "content" not in result.value.document["properties"]


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("centre_id", "Norreland", "centre id"),
        ("url", "wis.example/x", "address"),
        ("published", datetime(2031, 1, 17, 13), "zone"),
    ],
)
def test_notification_that_cannot_be_made_is_told(everything, name, value, words):
    """A malformed name, address or time."""
    _message, result = made_notification(everything, **{name: value})

    assert result.value is None
    assert codes(result.diagnostics) == ["notification-not-valid"]
    assert words in result.diagnostics[0].message.lower()


def test_topics():
    """By platform and kind; none for what has no topic."""
    assert topic_of(5, centre_id="a-b").endswith("/temp-ship")
    assert topic_of(2, centre_id="a-b").endswith("/wind-profile-ship")
    assert topic_of(3, centre_id="a-b", policy="recommended").endswith("/wind-profile")
    assert topic_of(25, centre_id="a-b") is None


# --- guard and isolation --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("descriptors", "words"),
    [
        (("101000",), "count"),
        (("101000", "012101"), "count"),
        (("103000", "031001", "012101"), "beyond"),
        (("100002", "012101"), "beyond"),
        (("209001",), "operator"),
        (("103255", "102255", "101255", "012101"), "more than"),
    ],
)
def test_descriptors_that_do_not_hold_together(descriptors, words):
    """Replications without count or elements, unknown operators, explosions."""
    assert words in structure_fault(descriptors)


def test_descriptors_that_hold_together():
    """Nested replications, delayed and fixed, with operators."""
    assert structure_fault(("103002", "101000", "031001", "012101", "012103")) is None
    assert structure_fault(("204001", "031021", "309052", "204000")) is None
    assert may_be_sounding(("309057",))
    assert not may_be_sounding(("321021", "007006"))
    assert MOST_REPETITIONS == 100_000


def test_unlikely_counts_are_refused(everything):
    """No subset, or more subsets than the data can hold."""
    header = everything["halden-dome"][4].header
    assert refusal(header) is None
    assert "no subset" in refusal(replace(header, subsets=0)).message
    assert "cannot be in" in refusal(replace(header, subsets=65535, data=(0, 100))).message


def test_other_process_gives_the_same_values(everything):
    """Isolated or not: the same subsets; a lost process is told and started again."""
    flight, levels, *_rest = everything["halden-dome"]
    message = write_message(message_content(flight, levels, rows="selected").value).value
    header = read_header(message).value

    assert read_isolated(message).value == read_with_library(message, header).value
    assert codes(read_isolated(b"no message").diagnostics) == ["bufr-not-decodable"]
    assert read_isolated(message).value == read_with_library(message, header).value


def test_a_process_ended_from_outside_is_started_again(everything, monkeypatch):
    """For want of memory it may be ended over any message: the message is given to another one."""
    flight, levels, *_rest = everything["halden-dome"]
    message = write_message(message_content(flight, levels, rows="selected").value).value
    real, ended = isolation._exchange, []

    def ends(process, data):
        if len(ended) < often:
            ended.append(process.pid)
            process.kill()
        return real(process, data)

    monkeypatch.setattr(isolation, "_exchange", ends)
    often = 1
    expected = read_with_library(message, read_header(message).value)
    assert read_isolated(message).value == expected.value
    often = 4
    assert codes(read_isolated(message).diagnostics) == ["bufr-not-decodable"]
    assert len(set(ended)) == 3


ENDLESS = """
from encoder.formats.bufr import worker

def endless(*given):
    while True:
        pass

worker.read_with_library = endless
worker.MOST_SECONDS = 0.1
worker.serve()
"""


def test_a_message_may_take_so_much_work_and_no_more(everything):
    """Counted in seconds of the processor: a machine with other work to do refuses nothing more."""
    flight, levels, *_rest = everything["halden-dome"]
    message = write_message(message_content(flight, levels, rows="selected").value).value
    done = subprocess.run(
        [sys.executable, "-c", ENDLESS],
        input=len(message).to_bytes(4, "big") + message,
        capture_output=True,
        check=False,
    )
    assert done.returncode == -signal.SIGPROF
    assert done.stdout == b""


def test_nil_has_no_levels_to_compare(sample_flights):
    """A NIL message beside a flight: its levels are missing, and that is told."""
    flight = sample_flights["halden-dome"]
    (sounding,) = read_message(write_message(nil_content(flight).value).value).value

    assert not agree(sounding, flight=flight).agree


def test_every_code_of_bufr_is_in_the_catalogue_with_a_hint():
    """Each has a title that ends, and says what to do."""
    for code, rule in RULES.items():
        assert rule.title.endswith("."), code
        assert rule.hint.endswith("."), code
