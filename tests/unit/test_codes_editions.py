"""Old records: editions of the forms, and conventions that the figures do not tell."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from encoder.codes import FORMS
from encoder.codes.conventions import two_figure_wind, two_figure_wind_to_figures
from encoder.codes.editions import EDITIONS, form, period
from encoder.errors import InputError
from encoder.formats.flight_folder import read_flight
from encoder.formats.report_json import reports_as_json, reports_from_json
from encoder.levels import select_levels
from encoder.levels.rules import NEW_SURFACE_FROM, RULES, rules_on
from encoder.levels.table import LevelKind
from encoder.report import decode_reports, encode_content, encode_report, report_text
from encoder.report.explain import explain
from encoder.resolution import KNOT
from encoder.verify import verify

if TYPE_CHECKING:
    from collections.abc import Iterator

    from encoder.report import PartReport, Report

SAMPLES = Path(__file__).parents[2] / "samples" / "flights"
OLD = date(1980, 7, 15)
OLD_A = (
    "TTAA 65121 90417 99000 24416 18006 00089 ///// ///// 85503 17218 22044 70136 09040 23538 "
    "88999 77999="
)


def test_form_without_a_date_is_that_of_today() -> None:
    """The caller gives the date; without one nothing is old."""
    assert all(form(number) is FORMS[number] for number in FORMS)


@pytest.mark.parametrize(
    ("day", "old"),
    [
        (date(1968, 1, 1), True),
        (date(1991, 10, 31), True),
        (date(1991, 11, 1), False),
        (date(2031, 7, 15), False),
    ],
)
def test_edition_of_a_day(day: date, old: bool) -> None:
    """925 hPa and section 7 of land stations belong to the edition from November 1991."""
    part = form("FM 35", day).part("A")
    assert (not old, not old) == (925.0 in part.standard.values(), part.section("7") is not None)


def test_editions_do_not_overlap() -> None:
    """Every edition ends before the next one begins."""
    for editions in EDITIONS.values():
        for older, newer in pairwise(editions):
            assert older.valid_to is not None
            assert newer.valid_from is not None
            assert older.valid_to < newer.valid_from


@pytest.mark.parametrize("day", [date(1967, 12, 31), date(1949, 1, 1)])
def test_before_the_four_parts(day: date) -> None:
    """Before 1968 the code was another one; that is said, not guessed."""
    with pytest.raises(InputError, match="1968"):
        form("FM 35", day)
    reports, found = decode_reports(OLD_A, on=day)
    assert len(reports) == 1
    assert "no-edition" in [one.code for one in found]


def test_unknown_form() -> None:
    """A number that is no form is refused with those that are."""
    with pytest.raises(InputError, match="FM 35"):
        form("FM 94")


def test_old_report_reads_back() -> None:
    """An old part A, without 925 hPa, is read and coded in the edition of its day."""
    (report,), found = decode_reports(OLD_A, on=OLD)
    assert [one.code for one in found if one.code != "parts-missing"] == []
    content = report.parts[0].content
    assert [record.get("air_pressure") for record in content.records("2", "standard")] == [
        1000.0,
        850.0,
        700.0,
    ]
    assert OLD_A.split() == encode_content([content], on=OLD).value.split()


def test_925_is_no_standard_level_of_the_old_edition() -> None:
    """A group 92772 in an old report is told, not read as 925 hPa."""
    text = OLD_A.replace("85503", "92772 21205 20540 85503")
    _reports, found = decode_reports(text, on=OLD)
    assert "group-unexpected" in [one.code for one in found]
    (report,), found = decode_reports(text)
    assert [one.code for one in found if one.code != "parts-missing"] == []
    assert len(report.parts[0].content.records("2")) == 5


def test_old_section_7_at_sea() -> None:
    """At sea section 7 gave the sea-surface temperature alone."""
    text = "UUBB QCW07 6512/ 99256 70775 08057 00007 28448 31313 90271="
    (report,), found = decode_reports(text, on=OLD)
    assert [one.code for one in found if one.code != "parts-missing"] == []
    (record,) = report.parts[0].content.records("7")
    assert dict(record.values) == {"sea_surface_temperature": 27.1}
    assert text.split() == encode_content([report.parts[0].content], on=OLD).value.split()


def test_blocks_of_the_old_edition() -> None:
    """44300 names 1000, 850 and 700 hPa where 925 hPa is no standard level."""
    text = "PPAA 65121 90417 44300 09535 08058 06601 77999="
    (report,), _found = decode_reports(text, on=OLD)
    assert report.levels["air_pressure"].tolist() == [1000.0, 850.0, 700.0]
    assert text.split() == encode_content([report.parts[0].content], on=OLD).value.split()


@pytest.mark.parametrize("number", ["FM 35", "FM 36", "FM 32"])
def test_flight_of_that_time(number: str) -> None:
    """A flight is coded in the edition of its own day, and reads back in it."""
    flight = read_flight(SAMPLES / "harrow-tarn").value
    assert flight is not None
    levels = select_levels(flight).value
    station = {**flight.document["station"], "call_sign": "QCW07"}
    old = replace(
        flight,
        nominal_time=datetime(1980, 7, 15, 0, tzinfo=UTC),
        document={**flight.document, "station": station},
    )
    report, told = encode_report(old, levels, form=number)
    (again,), found = decode_reports(report.text, on=OLD)
    assert ([one.code for one in told], [one.code for one in found]) == ([], [])
    contents = [part.content for part in again.parts]
    assert report.text.split() == encode_content(contents, on=OLD).value.split()
    assert all(content.section("7") is None for content in contents if number == "FM 35")


# --- conventions ------------------------------------------------------------------------------


def test_humidity_below_twenty_percent() -> None:
    """United States records of 1973 to 1993: 30 K stands for any dry air."""
    text = OLD_A.replace("90417", "72235").replace("09040", "09080")
    _reports, found = decode_reports(text, on=OLD)
    assert "humidity-by-convention" in [one.code for one in found]
    for other, day in ((text, date(2000, 1, 1)), (text.replace("72235", "90417"), OLD)):
        _reports, found = decode_reports(other, on=day)
        assert "humidity-by-convention" not in [one.code for one in found]
    _reports, found = decode_reports(text)
    assert "humidity-by-convention" not in [one.code for one in found]


@pytest.mark.parametrize(
    ("figures", "direction", "knots"),
    [
        ("2745", 270.0, 45),
        ("7745", 270.0, 145),
        ("8600", 360.0, 100),
        ("3600", 360.0, 0),
        ("0000", 0.0, 0),
    ],
)
def test_two_figure_winds(figures: str, direction: float, knots: int) -> None:
    """In ddff a hundred knots is carried by adding 50 to dd."""
    found = two_figure_wind(figures)
    assert (direction, knots) == (found[0], round((found[1] or 0.0) / KNOT))


@pytest.mark.parametrize("figures", ["////", "27/5", "3710", "8745", "0012", "274", "27455"])
def test_two_figure_winds_that_are_none(figures: str) -> None:
    """Solidi, wrong widths and directions that do not exist are missing."""
    assert two_figure_wind(figures) == (None, None)


def test_every_two_figure_wind() -> None:
    """Every ddff with a speed comes back as it was."""
    seen = 0
    for number in range(10_000):
        figures = f"{number:04d}"
        direction, speed = two_figure_wind(figures)
        if speed is None or speed == 0.0:
            continue
        seen += 1
        assert figures == two_figure_wind_to_figures(direction, speed)
    assert seen > 7000
    assert (
        two_figure_wind_to_figures(None, 1.0),
        two_figure_wind_to_figures(270.0, 0.0),
        two_figure_wind_to_figures(270.0, 200 * KNOT),
    ) == ("////", "0000", None)


# --- what hangs on the day elsewhere --------------------------------------------------------------


def test_a_report_keeps_its_day() -> None:
    """Explanation, text and JSON of a report are those of its own day, without asking again."""
    text = "PPAA 65121 90417 44300 09535 08058 06601 77999="
    (report,), _found = decode_reports(text, on=OLD)
    assert report.on == OLD
    assert report_text(replace(report, parts=tuple(_untold(report)))).value.split() == text.split()
    (again,) = reports_from_json(reports_as_json([report]))
    assert again.on == OLD
    assert reports_from_json(reports_as_json(decode_reports(text).value))[0].on is None


def _untold(report: Report) -> Iterator[PartReport]:
    """Yield the parts without their text, so that they are coded anew."""
    for part in report.parts:
        yield replace(part, text="")


def test_explanation_of_the_day() -> None:
    """A group that is no level of the day is not explained as one."""
    text = OLD_A.replace("85503", "92772 21205 20540 85503")
    for on, symbol in ((OLD, "unread"), (None, "PPhhh")):
        (report,), _found = decode_reports(text, on=on)
        (group,) = (one for one in explain(report) if one.text == "92772")
        assert group.symbol == symbol


@pytest.mark.parametrize("year", [1968, 1985, 1991, 1992, 2031])
def test_standard_surfaces_of_a_flight(year: int) -> None:
    """925 hPa is selected as a standard surface from November 1991 on."""
    flight = read_flight(SAMPLES / "harrow-tarn").value
    assert flight is not None
    old = replace(flight, nominal_time=datetime(year, 7, 9, 0, tzinfo=UTC))
    levels = select_levels(old).value
    standard = levels["air_pressure"][levels.having(LevelKind.STANDARD)].tolist()
    assert (925.0 in standard) == (year > 1991)
    assert 850.0 in standard
    report, told = encode_report(old, levels)
    assert report.on == date(year, 7, 9)
    assert [one.code for one in told] == []
    verdict = verify(old, decode_reports(report.text, on=report.on).value[0])
    assert verdict.may_be_sent


def test_rules_of_a_day() -> None:
    """The other criteria, and rule sets without the surface, stay as they are."""
    for rules in RULES.values():
        assert rules_on(rules, NEW_SURFACE_FROM) is rules
        older = rules_on(rules, NEW_SURFACE_FROM - timedelta(days=1))
        assert older.standard_levels == tuple(p for p in rules.standard_levels if p != 925.0)
        assert rules_on(older, date(1970, 1, 1)) is older
        assert replace(older, standard_levels=rules.standard_levels) == rules


def test_verdict_without_an_edition() -> None:
    """A report of 1960 is not judged by the code of another time."""
    flight = read_flight(SAMPLES / "harrow-tarn").value
    assert flight is not None
    old = replace(flight, nominal_time=datetime(1960, 7, 9, 0, tzinfo=UTC))
    verdict = verify(old, decode_reports(OLD_A).value[0])
    assert not verdict.may_be_sent
    assert [one.code for one in verdict.diagnostics] == ["no-edition"]


@pytest.mark.parametrize(
    ("first", "second", "same"),
    [
        (date(1985, 1, 1), date(1991, 10, 31), True),
        (date(1991, 10, 31), date(1991, 11, 1), False),
        (date(1972, 12, 31), date(1973, 1, 1), False),
        (date(1967, 12, 31), date(1968, 1, 1), False),
        (date(1994, 1, 1), date(2031, 1, 1), True),
    ],
)
def test_periods(first: date, second: date, same: bool) -> None:
    """Files are read together where editions and conventions of their days are the same."""
    assert (period(first) == period(second)) == same


@pytest.mark.parametrize("text", ["TEMP 03774 05122 85123=", "", "RAOB 1200 45678 12345"])
def test_no_part_before_1968(text: str) -> None:
    """A text of that time without a part is told with what is known of it."""
    reports, found = decode_reports(text, on=date(1957, 10, 4))
    assert reports == ()
    assert [one.code for one in found] == ["no-report", "no-edition"]
    assert "single message" in found[1].message
    _reports, found = decode_reports(text, on=OLD)
    assert [one.code for one in found] == ["no-report"]
