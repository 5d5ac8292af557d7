"""The data and the text of the flight page: complete, true to the files, the same each time."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from encoder.diagnostics import Severity
from encoder.formats.flight_folder import read_flight
from encoder.formats.report_json import reports_as_json, reports_from_json
from encoder.page import flight_page, review_of_flight, review_of_report
from encoder.page.document import page_document
from encoder.page.links import join_links
from encoder.page.markup import embedded, escape, tag
from encoder.page.times import timeliness
from encoder.report import decode_reports
from encoder.schemas_folder import schema

TRAFFIC = Path(__file__).resolve().parents[2] / "samples" / "traffic"


@pytest.fixture(scope="module")
def reviews(sample_flights):
    return {name: review_of_flight(flight) for name, flight in sample_flights.items()}


@pytest.mark.parametrize(
    ("name", "form"),
    [("calder-wren", "FM 36"), ("survey-drop", "FM 37"), ("kestrel-basin", "FM 38")],
)
def test_a_page_shows_the_form_of_the_platform(name, form) -> None:
    """A ship, a drop, a mobile unit: the page shows the report that encode writes of the flight."""
    flight = read_flight(TRAFFIC / name).raise_for_errors()
    review = review_of_flight(flight)
    assert {review.made.form, review.report.form} == {form}
    assert [item for item in review.diagnostics if item.severity is Severity.ERROR] == []
    assert review.verdict.may_be_sent
    again = review_of_flight(flight, review.report)
    assert again.made.text == review.made.text


def test_winds_by_height_are_a_table_of_heights() -> None:
    """A pilot balloon: no empty column, the height names a level, fixed altitudes have a reason."""
    review = review_of_flight(read_flight(TRAFFIC / "harrow-tarn-winds").raise_for_errors())
    page = flight_page(review)
    heads = re.findall(r'<th [^>]*data-name="([a-z_]+)"', page)
    assert heads == [
        "kinds",
        "geopotential_height",
        "wind_from_direction",
        "wind_speed",
        "groups",
        "rules",
    ]
    links = join_links(review)
    assert all(level.reasons for level in links.levels)
    rules = {reason.rule for level in links.levels for reason in level.reasons}
    assert {"fixed-altitude", "standard-by-altitude", "maximum-wind"} <= rules
    assert "hPa," not in page[page.index("<dt>Surface</dt>") :][:80]


@pytest.mark.parametrize("name", ["harrow-tarn", "halden-dome", "saltmere-point"])
def test_data_validate_against_their_schema(reviews, name):
    """page.schema.json describes the data of every page."""
    document = json.loads(json.dumps(page_document(reviews[name]), allow_nan=False))

    jsonschema.Draft202012Validator(schema("page")).validate(document)


def test_data_of_a_report_alone_validate():
    """Without a flight the parts that need one are null."""
    reports, found = decode_reports("TTAA 17121 90122 99958 04618 24014 8OO45 92291=")
    document = page_document(review_of_report(reports[0], found))

    jsonschema.Draft202012Validator(schema("page")).validate(document)
    assert document["profile"] is None
    assert document["verdict"] is None


@pytest.mark.parametrize("name", ["harrow-tarn", "halden-dome", "saltmere-point"])
def test_the_trace_goes_both_ways(reviews, name):
    """A group names its level exactly where the level names the group; levels know their rows."""
    review = reviews[name]
    links = join_links(review)

    for position, group in enumerate(links.groups):
        if group.level is not None:
            assert position in links.levels[group.level].groups
    for index, level in enumerate(links.levels):
        assert all(links.groups[position].level == index for position in level.groups)
        assert level.groups
        assert level.reasons
        kinds = int(review.report.levels.kinds[index])
        below = "standard-below-ground" in {reason.rule for reason in level.reasons}
        above = "standard-above-top" in {reason.rule for reason in level.reasons}
        assert level.rows or below or above, kinds


@pytest.mark.parametrize("name", ["harrow-tarn", "halden-dome", "saltmere-point"])
def test_rows_of_the_joined_trace_are_those_of_the_made_report(reviews, name):
    """Rows and rules agree with the trace that encoding returns."""
    review = reviews[name]
    links = join_links(review)
    made = {entry.span: entry for entry in review.made.trace}

    for group in links.groups:
        entry = made[group.explained.span]
        assert entry.text == group.explained.text
        assert set(entry.rows) <= set(group.rows)
        assert set(entry.rules) <= set(group.rules)


def test_a_level_the_flight_does_not_give_has_rows_and_no_reason(reviews):
    """A level somebody put in by hand is told from those the rules chose."""
    review = reviews["saltmere-point"]
    entry = [e for e in review.made.trace if e.part == "TTBB" and e.symbol == "nnPPP"][2]
    begin, end = entry.span
    text = review.made.text[:begin] + "22750" + review.made.text[end:]
    reports, found = decode_reports(text)

    links = join_links(review_of_flight(review.flight, reports[0], found))

    own = [i for i, p in enumerate(reports[0].levels["air_pressure"]) if p == 750.0]
    assert links.levels[own[0]].reasons == []
    assert links.levels[own[0]].selected is None
    assert len(links.levels[own[0]].rows) > 0


def test_a_report_as_it_was_made_is_read_again(reviews):
    """JSON of an encoded report keeps the levels of the flight; the page shows what is sent."""
    review = reviews["saltmere-point"]
    kept = reports_from_json(json.loads(json.dumps(reports_as_json([review.made]))))[0]

    again = review_of_flight(review.flight, kept)

    assert again.report.levels == review.report.levels
    assert again.verdict.may_be_sent


def test_every_curve_and_the_judgement_agree(reviews):
    """The worst share of the limit drawn is the worst the verdict tells."""
    review = reviews["harrow-tarn"]
    data = page_document(review)
    for worst in data["verdict"]["worst"]:
        if worst["basis"] != "curve":
            continue
        fit = data["fit"][worst["element"]]
        excess = [
            m - limit
            for m, limit in zip(fit["misfit"], fit["limit"], strict=True)
            if m is not None and limit is not None
        ]
        assert max(excess) == pytest.approx(worst["misfit"] - worst["limit"], abs=2e-4)


def test_same_bytes_each_time(sample_flights):
    """Two pages of one flight are the same to the byte."""
    flight = sample_flights["halden-dome"]

    assert flight_page(review_of_flight(flight)) == flight_page(review_of_flight(flight))


def test_page_needs_nothing_from_outside(reviews):
    """No address, no import, no style or script but its own; the policy names both by digest."""
    page = flight_page(reviews["halden-dome"])
    addresses = set(re.findall(r"(?:src|href)=\"([^\"]*)\"", page))

    assert addresses == {"#report"}
    assert page.count("<script") == 2
    assert re.search(r"default-src &#x27;none&#x27;; style-src &#x27;sha256-", page)
    assert "unsafe" not in page
    assert not re.findall(r"https?://(?!www\.w3\.org/2000/svg)", page)


@pytest.mark.parametrize("text", ["</script><script>", "<!--", "&lt;", "\u2028", "'\""])
def test_embedded_data_cannot_leave_their_element(text):
    """Nothing in a JSON document can end the script element it stands in."""
    inside = embedded({"x": text})

    assert not set("<>&\u2028\u2029") & set(inside)
    assert json.loads(inside) == {"x": text}


def test_attributes_are_escaped():
    """Quotes and brackets in a value stay in the value."""
    assert tag("p", "", data_x='"><script>') == '<p data-x="&quot;&gt;&lt;script&gt;"></p>'
    assert tag("p", escape("<b>"), hidden=True, id=None) == "<p hidden>&lt;b&gt;</p>"


def test_size_of_a_page_of_six_thousand_rows(reviews):
    """The page of the 6,000-row flight stays below 2 MB."""
    review = reviews["harrow-tarn"]

    assert len(review.flight.ascent) > 6000
    assert len(flight_page(review).encode()) < 2_000_000


def test_numbers_stay_those_of_the_file(reviews):
    """Embedded rows are the rows of the profile, to the last decimal of the file."""
    ascent = reviews["saltmere-point"].flight.ascent
    data = page_document(reviews["saltmere-point"])["profile"]

    assert data["lines"] == ascent.source_row.tolist()
    for name in ("air_pressure", "relative_humidity", "wind_from_direction"):
        own = [None if np.isnan(value) else value for value in ascent[name].tolist()]
        assert data[name] == pytest.approx(own, abs=5e-5, nan_ok=True)


# --- times ------------------------------------------------------------------------------------


def test_release_inside_the_window(sample_flights):
    """Harrow Tarn is released at 23:21 for 00 UTC: 39 minutes before, inside H-45 to H."""
    times = timeliness(sample_flights["harrow-tarn"])

    assert times.window == (-45, 0)
    assert times.release_in_window
    assert times.moments[0].minutes == -39.0
    assert all(good for _text, good in times.sentences)


@pytest.mark.parametrize(
    ("minutes", "criteria", "inside"),
    [
        (-45, "wmo", True),
        (-46, "wmo", False),
        (0, "wmo", True),
        (1, "wmo", False),
        (-60, "fmh-3", True),
        (29, "fmh-3", True),
        (30, "fmh-3", False),
    ],
)
def test_edges_of_the_window(sample_flights, minutes, criteria, inside):
    """Both ends of the window belong to it."""
    flight = sample_flights["harrow-tarn"].with_reporting(criteria=criteria)
    flight = replace(flight, release_time=flight.nominal_time + timedelta(minutes=minutes))

    times = timeliness(flight)

    assert times.release_in_window is inside
    assert ("OUTSIDE" in times.sentences[0][0]) is not inside


def test_a_flight_that_ends_below_has_no_upper_parts_due(sample_flights):
    """Without 100 hPa there are no parts C and D; A and B wait for the end of the ascent."""
    times = timeliness(sample_flights["halden-dome"])

    assert [item.name for item in times.moments] == ["release", "end", "deadline-ab"]
    assert len(times.sentences) == 2


def test_times_due_can_be_set(sample_flights):
    """Parts that cannot be ready in time are told as such."""
    times = timeliness(sample_flights["harrow-tarn"], (10, 240))

    late = [text for text, good in times.sentences if not good]
    assert len(late) == 1
    assert "AFTER they are due" in late[0]


# --- verdict and findings ---------------------------------------------------------------------


def test_verdict_of_the_page(reviews, sample_flights):
    """The three verdicts and the one that is none have words of their own."""
    assert ">May be sent<" in flight_page(reviews["halden-dome"])
    reports, found = decode_reports(reviews["halden-dome"].made.text)
    alone = flight_page(review_of_report(reports[0], found))
    assert "Not judged: a report alone" in alone
    other = review_of_flight(sample_flights["harrow-tarn"], reports[0], found)
    assert ">Must not be sent<" in flight_page(other)
    assert "another flight" in flight_page(other)


def test_errors_come_first(reviews):
    """Findings stand in the order of their weight, each once."""
    review = reviews["saltmere-point"]
    reports, found = decode_reports(review.made.text.replace("00958", "0095/"))
    findings = review_of_flight(review.flight, reports[0], (*found, *found)).diagnostics
    order = [Severity.ERROR, Severity.WARNING, Severity.NOTE]
    weights = [order.index(item.severity) for item in findings]

    assert weights == sorted(weights)
    assert len(findings) == len(set(findings))


def test_hydrogen_note_where_gas_facts_are_shown(reviews, sample_flights):
    """The caution about hydrogen stands beside gas facts and nowhere else."""
    flight = sample_flights["halden-dome"]
    document = {key: value for key, value in flight.document.items() if key != "balloon"}

    assert "Hydrogen burns" in flight_page(reviews["halden-dome"])
    assert "Hydrogen burns" not in flight_page(review_of_flight(replace(flight, document=document)))


def test_cautions_are_on_every_page(reviews):
    """Approval of the service and local instructions are named on every page."""
    for review in reviews.values():
        page = flight_page(review)
        assert "without the approval of the responsible" in page
        assert "local instructions prevail" in page


def test_text_of_the_report_is_all_there(reviews):
    """Stripped of its elements, the report of the page is the report."""
    import html

    for review in reviews.values():
        page = flight_page(review)
        parts = re.findall(r"<pre [^>]*>(.*?)</pre>", page, re.DOTALL)
        text = "".join(html.unescape(re.sub(r"<[^>]*>", "", part)) + "\n" for part in parts)
        assert text == review.made.text
