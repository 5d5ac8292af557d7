"""A month of a station: what is missing, how high it went, which parts are lacking or late."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import UTC, datetime

import jsonschema
import numpy as np
import pytest

from encoder.errors import InputError
from encoder.levels import LevelKind, Levels
from encoder.page import review_of_flight
from encoder.page.month import month_of
from encoder.page.month_page import month_page
from encoder.schemas_folder import schema
from tests.months import month_soundings, sent_times


@pytest.fixture(scope="module")
def soundings(sample_flights):
    return month_soundings(review_of_flight(sample_flights["saltmere-point"]))


@pytest.fixture(scope="module")
def month(soundings):
    return month_of(soundings, sent=sent_times(soundings))


def at(month, day, hour):
    return next(
        item
        for item in month.soundings
        if (item.nominal_time.day, item.nominal_time.hour) == (day, hour)
    )


def test_totals(month):
    """The counts of the invented month, each made on purpose."""
    totals = month.totals()

    assert totals["soundings"] == 61
    assert totals["missing"] == 1
    assert totals["reached_100_hpa"] == 61
    assert totals["parts_missing"] == 2
    assert totals["parts_late"] == 1
    assert totals["replaced"] == 1
    assert totals["errors"] > 0


def test_what_is_missing(month):
    """The flight of the 5th at 12 UTC was expected and is not there."""
    assert month.hours == (0, 12)
    assert month.missing == (datetime(2031, 1, 5, 12, tzinfo=UTC),)


def test_parts(month):
    """A part is expected where the flight reached its levels."""
    low = at(month, 7, 0)
    assert [part.letter for part in low.parts if part.expected] == ["A", "B"]
    assert low.top_pressure == 100.0
    lacking = at(month, 9, 12)
    assert [part.letter for part in lacking.parts if part.expected and not part.given] == ["B"]
    late = at(month, 3, 0)
    assert [(part.letter, part.minutes) for part in late.parts if part.late] == [("A", 155.0)]


def test_height_is_one_that_was_flown(month):
    """A height extrapolated above the top does not count as reached."""
    whole = at(month, 1, 0)

    assert whole.top_pressure == pytest.approx(12.1)
    assert 25000.0 < whole.top_height < 26500.0
    assert not whole.height_at_top
    assert at(month, 7, 0).height_at_top
    assert "12.1 hPa, above 25.4 km" in month_page(month)


def test_winds_by_height_have_a_top(soundings):
    """A flight without any pressure reached the height of its highest wind; it is not missing."""
    levels = Levels(
        {
            "geopotential_height": [900.0, 12000.0],
            "wind_from_direction": [270.0, 275.0],
            "wind_speed": [8.0, 30.0],
        },
        [int(LevelKind.SIGNIFICANT_WIND)] * 2,
    )
    month = month_of([replace(soundings[0], levels=levels, status={}, text="", report=None)])

    (found,) = month.soundings
    assert np.isnan(found.top_pressure)
    assert (found.top_height, found.height_at_top) == (12000.0, True)
    page = month_page(month)
    assert "12.0 km" in page
    assert 'class="cross"' not in page


def test_without_times_of_sending_nothing_is_late(soundings):
    """Not known is told as not known."""
    month = month_of(soundings)

    assert not month.sent_known
    assert all(part.late is None for item in month.soundings for part in item.parts)
    assert "not known" in month_page(month)


def test_hours_can_be_given(soundings):
    """A station that should fly four times a day misses the other two."""
    month = month_of(soundings, hours=(0, 6, 12, 18))

    assert len(month.missing) == 31 + 30 + 1
    assert month_of(soundings, hours=()).missing == ()


def test_another_month_is_refused(soundings):
    """The message says which months there are."""
    with pytest.raises(InputError, match="2031-01 to 2031-01"):
        month_of(soundings, year=2031, month=2)
    with pytest.raises(InputError, match="at least one"):
        month_of([])


def test_month_validates(month):
    """month.schema.json describes the data of the page."""
    document = json.loads(json.dumps(month.as_json(), allow_nan=False))

    jsonschema.Draft202012Validator(schema("month")).validate(document)


def test_page_of_the_month(month, soundings):
    """The same bytes each time, no script, the numbers of the month."""
    page = month_page(month)

    assert page == month_page(month_of(soundings, sent=sent_times(soundings)))
    assert page.count("<script") == 1
    assert "script-src &#x27;none&#x27;" in page
    assert len(re.findall('class="stem"', page)) == 61
    assert page.count(">no flight<") == 1
    assert "A late +155 min" in page


def test_names_are_escaped(soundings):
    """A station called <script> stays text."""
    station = replace(soundings[0].station, name="<script>alert(1)</script>")
    page = month_page(month_of([replace(item, station=station) for item in soundings]))

    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)" in page


def test_an_empty_report_is_shown(sample_flights):
    """A NIL sounding has no level and no height."""
    review = review_of_flight(sample_flights["saltmere-point"])
    one = month_soundings(review, days=1)[0]
    empty = replace(one, levels=one.levels.select([]), status={}, text="", report=None)

    month = month_of([empty])

    assert "no level" in month_page(month)
    jsonschema.Draft202012Validator(schema("month")).validate(month.as_json())
