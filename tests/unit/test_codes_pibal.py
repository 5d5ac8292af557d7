"""Pilot-balloon reports in two-figure winds.

The groups 82694, 87604 and 478/14 with their meaning are the examples of the manual in the public
transcription NASM.2003.0033, M0000095-00300 (Smithsonian Institution), paragraph 2-907; the levels
are those of its paragraph 2-908.
"""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from encoder.codes import FORMS
from encoder.codes.context import Context
from encoder.codes.conventions import two_figure_wind, two_figure_wind_to_figures
from encoder.codes.editions import EDITIONS, declared_on, form, period
from encoder.codes.pages import form_as_markdown
from encoder.codes.pibal import IN_KNOTS, IN_MILES, LETTERS, STANDARD_LEVELS, next_level
from encoder.errors import InputError
from encoder.report import decode_reports, encode_content, report_text
from encoder.report.explain import explain
from encoder.resolution import KNOT, MILE_PER_HOUR

IN_1944, IN_1955 = date(1944, 6, 5), date(1955, 6, 5)
REPORT = "PIBAL DN 1000 02614 71812 82694 92810 02816 12820 22825 32830 478/14 57604 08120 57199="
THOUSANDS = [7, 8, 9, 10, 11, 12, 13, 14, 15, 20, 25]
FROM_ONE = " ".join(f"{level % 10}1010" for level in range(1, 16))
"""The groups of 1000 to 15,000 ft."""
SPEEDS = [14, 12, 94, 10, 16, 20, 25, 30, 214, 104, 120, 199]


def codes(found):
    return [item.code for item in found]


@pytest.mark.parametrize(("day", "step"), [(IN_1944, MILE_PER_HOUR), (IN_1955, KNOT)])
def test_report_of_the_time(day, step):
    """Heights, directions and speeds, in the unit of the day; the same text comes back."""
    (report,), found = decode_reports(REPORT, on=day)
    assert codes(found) == ["edition-from-memory"]
    assert report.form == "PIBAL"
    heights = report.levels["geopotential_height"]
    assert np.allclose(heights[1:], [304.8 * level for level in THOUSANDS])
    assert np.isnan(heights[0])
    assert np.allclose(report.levels["wind_speed"], [step * speed for speed in SPEEDS])
    assert report.levels["wind_from_direction"][2] == 260.0
    again = encode_content([part.content for part in report.parts], on=day).value
    assert again.split() == REPORT.split()
    assert report_text(report).value.split() == REPORT.split()


@pytest.mark.parametrize(
    ("group", "height", "direction", "speed"),
    [("82694", 8, 260.0, 94), ("87604", 8, 260.0, 104), ("478/14", 4, 280.0, 214)],
)
def test_examples_of_the_manual(group, height, direction, speed):
    """The three worked examples of paragraph 2-907."""
    use = IN_MILES.part("P").section("3").form("wind-by-thousand-feet").uses[0]
    read = use.group.decode(group, Context())
    assert read.faults == ()
    assert read.values["altitude_units"] == height
    assert read.values["wind_from_direction"] == direction
    assert round(read.values["wind_speed"] / MILE_PER_HOUR) == speed
    assert use.group.encode(read.values, Context()).text == group


def test_words_are_kept():
    """Station and time stand on pages that could not be read: they are not interpreted."""
    (report,), _found = decode_reports(REPORT, on=IN_1944)
    content = report.parts[0].content
    assert [one.get("word") for one in content.records("2")] == ["DN", "1000"]
    assert set(content.identification) == {"wind_unit"}


def test_explanation_figure_by_figure():
    """Every figure has its sentence, also the solidus; units are those of the day."""
    for day, unit in ((IN_1944, "miles per hour"), (IN_1955, "knots")):
        (report,), _found = decode_reports(REPORT, on=day)
        by_text = {group.text: group for group in explain(report)}
        said = [(one.text, one.sentence) for one in by_text["478/14"].figures]
        assert [text for text, _sentence in said] == ["4", "78", "/", "14"]
        assert said[0][1].startswith("14,000 ft")
        assert "280 degrees" in said[1][1]
        assert said[3][1] == f"214 {unit}"
        assert "surface" in by_text["02614"].figures[0].sentence


def test_calm_and_missing():
    """Calm is 0000 and a missing wind solidi (from memory); both come back."""
    text = "PIBAL DN 00000 1//// 21803="
    (report,), found = decode_reports(text, on=IN_1944)
    assert codes(found) == ["edition-from-memory"]
    assert report.levels["wind_speed"].tolist()[0] == 0.0
    assert np.isnan(report.levels["wind_speed"][1])
    again = encode_content([report.parts[0].content], on=IN_1944).value
    assert again.split() == text.split()


def test_without_a_day_no_speed_is_guessed():
    """Miles per hour or knots hang on the day; directions are read all the same."""
    (report,), found = decode_reports(REPORT)
    assert codes(found) == ["wind-unit-unknown"]
    assert np.isnan(report.levels["wind_speed"]).all()
    assert np.isfinite(report.levels["wind_from_direction"]).all()
    assert report.parts[0].content.identification["wind_unit"] is None
    assert report_text(report).value.split() == REPORT.split()


@pytest.mark.parametrize("day", [date(1939, 12, 31), date(1968, 1, 1), date(2031, 7, 9)])
def test_out_of_its_years(day):
    """On other days the form is refused, with the years that are known."""
    assert not declared_on(LETTERS, day)
    with pytest.raises(InputError, match="from 1940-01-01 to 1967-12-31"):
        form(LETTERS, day)
    (report,), found = decode_reports(REPORT, on=day)
    assert codes(found) == ["no-edition", "wind-unit-unknown"]
    assert np.isnan(report.levels["wind_speed"]).all()


def test_editions_meet():
    """The unit changes from one day to the next."""
    assert form(LETTERS, date(1948, 12, 31)) is IN_MILES
    assert form(LETTERS, date(1949, 1, 1)) is IN_KNOTS
    assert FORMS[LETTERS] is IN_KNOTS
    assert EDITIONS[LETTERS] == (IN_MILES, IN_KNOTS)
    assert period(date(1948, 12, 31)) + 1 == period(date(1949, 1, 1))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("PIBAL DN 02614 51812 81612=", ["standard-level-missing"]),
        ("PIBAL DN 02614 53712=", ["wind-direction-impossible"]),
        ("PIBAL DN 02614 50012=", ["wind-direction-impossible"]),
        ("PIBAL DN 02614 428/14=", ["wind-direction-impossible", "repair-proposed"]),
        (f"PIBAL DN {FROM_ONE} 60812=", ["level-order"]),
        (
            "PIBAL DN 02614 51812 6181 71612=",
            ["group-unexpected", "standard-level-missing", "repair-proposed"],
        ),
        ("PIBAL DN 02614 51812 HAZE=", ["group-unexpected", "repair-proposed"]),
    ],
)
def test_malformed(text, expected):
    """Every fault is told at its group, and nothing raises."""
    _reports, found = decode_reports(text, on=IN_1944)
    assert sorted(codes(found)) == sorted(["edition-from-memory", *expected])
    told = [item for item in found if item.code in expected]
    assert all(item.span is not None and text[slice(*item.span)] in text for item in told)


def test_repairs_are_of_the_day():
    """A letter for a figure is mended in the unit of the day; without a day there is no speed."""
    damaged = REPORT.replace("71812", "7I812")
    (report,), found = decode_reports(damaged, on=IN_1944, repair="safe")
    assert codes(found) == ["edition-from-memory", "repaired"]
    assert np.allclose(report.levels["wind_speed"], [MILE_PER_HOUR * speed for speed in SPEEDS])
    (report,), found = decode_reports(damaged, repair="safe")
    assert codes(found) == ["wind-unit-unknown", "repaired"]
    assert np.isnan(report.levels["wind_speed"]).all()


def test_values_that_cannot_be_coded():
    """300 units and more, and heights between the levels, have no figures."""
    group = IN_MILES.part("P").section("3").form("wind-by-thousand-feet").uses[0].group
    fast = {"altitude_units": 3, "wind_from_direction": 90.0, "wind_speed": 300 * MILE_PER_HOUR}
    coded = group.encode(fast, Context())
    assert (coded.text, [one.code for one in coded.faults]) == ("3////", ["value-not-codable"])
    for level in (None, 0, 16, 17):
        coded = group.encode({**fast, "altitude_units": level}, Context())
        assert [one.code for one in coded.faults] == ["not-a-standard-level"]


def test_several_reports():
    """Two balloons are two reports, a repeated one is dropped, an unended one ends at the next."""
    text = f"{REPORT}\n{REPORT}\nPIBAL ABI 1000 01812 21915\nPIBAL OKC 02110 22212="
    reports, found = decode_reports(text, on=IN_1944)
    assert len(reports) == 3
    assert codes(found).count("copy-dropped") == 1
    assert codes(found).count("report-not-ended") == 1


@pytest.mark.parametrize(
    "text",
    [
        "The PIBAL crew had 12345 balloons.",
        "TTAA 59121 90417 99000 24416 18006 88999 77999 61616 PIBAL 12345=",
        "PIBAL HAZE NO BALLOON",
    ],
)
def test_the_word_alone_opens_nothing(text):
    """Only at the beginning of a line, with winds after it, does the word open a report."""
    reports, _found = decode_reports(text, on=IN_1955)
    assert "PIBAL" not in [part.letters for report in reports for part in report.parts]


def test_levels_of_the_code():
    """Each thousand feet to 15,000, then each five; the figure alone names the next one."""
    assert STANDARD_LEVELS[:17] == (*range(1, 16), 20, 25)
    below = (0, *STANDARD_LEVELS[:-1])
    pairs = zip(STANDARD_LEVELS, below, strict=True)
    assert all(next_level(level % 10, before) == level for level, before in pairs)
    assert next_level(7, 15) is None


@pytest.mark.parametrize("step", [MILE_PER_HOUR, KNOT])
def test_every_wind(step):
    """Every direction and speed that has figures comes back from them, in either unit."""
    for tens in range(1, 37):
        for units in range(1, 300):
            figures = two_figure_wind_to_figures(10.0 * tens, units * step, step, solidus=True)
            assert figures is not None
            assert ("/" in figures, len(figures)) == (units >= 200, 5 if units >= 200 else 4)
            direction, speed = two_figure_wind(figures, step)
            assert (direction, round((speed or 0.0) / step)) == (10.0 * tens, units)
    assert two_figure_wind_to_figures(90.0, 300 * step, step, solidus=True) is None
    assert two_figure_wind_to_figures(90.0, 200 * step, step) is None


@pytest.mark.parametrize("edition", [IN_MILES, IN_KNOTS])
def test_every_group(edition):
    """All 100,000 figures of a group: what is read without a fault is coded the same again."""
    group = edition.part("P").section("3").form("wind-by-thousand-feet").uses[0].group
    good = 0
    for number in range(100_000):
        text = f"{number:05d}"
        read = group.decode(text, Context())
        if read.faults:
            assert read.values["wind_speed"] is None
            continue
        calm = read.values["wind_speed"] == 0.0
        coded = group.encode(read.values, Context())
        assert coded.text == (f"{text[0]}0000" if calm else text)
        good += 1
    assert good > 70_000


def test_reference_page():
    """The page shows the editions, what is from memory, and both ways to write a group."""
    page = form_as_markdown(FORMS[LETTERS])
    assert "| 1940-01-01 | 1948-12-31 | winds from a pilot balloon, in miles per hour |" in page
    assert "from memory" in page
    assert "`hDD/vv`" in page
    old = form_as_markdown(FORMS["FM 35"])
    assert "no 925 hPa among the standard levels; no section 7" in old
