"""Dates of reports and names of files."""

from __future__ import annotations

from datetime import UTC, date, datetime
from itertools import product

import pytest

from encoder.bulletin.dates import DateHint, DateSource, resolve_time
from encoder.bulletin.file_names import (
    FileName,
    batch_file_name,
    bulletin_file_name,
    compose_file_name,
    date_in_name,
    parse_file_name,
)
from encoder.bulletin.heading import Heading
from encoder.diagnostics import Diagnostic

GIVEN = DateHint(DateSource.GIVEN, 2031, 7)


def codes(found: tuple[Diagnostic, ...]) -> list[str]:
    """Return the codes of diagnostics."""
    return [one.code for one in found]


def test_month_given() -> None:
    """With year and month given, the day of the report makes the date; the source is kept."""
    value, found = resolve_time(day=9, hour=0, hints=[GIVEN], release=(23, 21))
    assert value is not None
    assert (value.nominal_time, value.source, value.day_source, value.release_time) == (
        datetime(2031, 7, 9, tzinfo=UTC),
        DateSource.GIVEN,
        "report",
        datetime(2031, 7, 8, 23, 21, tzinfo=UTC),
    )
    assert found == ()


@pytest.mark.parametrize(
    ("hint", "day", "expected"),
    [
        ((2031, 7, 9), 9, date(2031, 7, 9)),
        ((2031, 7, 1), 30, date(2031, 6, 30)),
        ((2031, 7, 1), 31, date(2031, 7, 31)),
        ((2031, 7, 31), 1, date(2031, 8, 1)),
        ((2031, 1, 1), 31, date(2030, 12, 31)),
        ((2030, 12, 31), 2, date(2031, 1, 2)),
        ((2031, 3, 1), 29, date(2031, 3, 29)),
        ((2032, 3, 1), 29, date(2032, 2, 29)),
    ],
)
def test_nearest_day(hint: tuple[int, int, int], day: int, expected: date) -> None:
    """A hint with a day leads to the nearest date with the day of the report."""
    value = resolve_time(day=day, hour=12, hints=[DateHint(DateSource.FILE_NAME, *hint)]).value
    assert value is not None
    assert value.nominal_time.date() == expected


def test_every_day_finds_its_month() -> None:
    """From any day, a report of the days around it is placed on its very day."""
    for year, step in product((2031, 2032), range(0, 365, 3)):
        today = date.fromordinal(date(year, 1, 1).toordinal() + step)
        for back in (-12, -1, 0, 1, 12):
            then = date.fromordinal(today.toordinal() + back)
            assert DateHint.of_time(today).nearest(then.day) == then


def test_date_unknown() -> None:
    """Without any source there is no date, and an error says so; the clock is never asked."""
    value, found = resolve_time(day=9, hour=0, hints=[])
    assert (value, codes(found)) == (None, ["date-unknown"])


def test_date_impossible() -> None:
    """A month that has no such day gives no date."""
    hint = DateHint(DateSource.GIVEN, 2031, 2)
    value, found = resolve_time(day=30, hour=0, hints=[hint])
    assert (value, codes(found)) == (None, ["date-impossible"])


@pytest.mark.parametrize("year", [0, 1, 9999, 12345])
def test_impossible_years(year: int) -> None:
    """Years at the ends of the calendar give no date rather than an exception."""
    hint = DateHint(DateSource.GIVEN, year, 1, 1)
    assert resolve_time(day=1, hour=0, hints=[hint], release=(23, 0)).value is None


def test_sources_in_order_of_trust() -> None:
    """What is given comes before the file name, that before a neighbour; disagreement is told."""
    hints = [
        DateHint.of_time(datetime(2031, 6, 9, tzinfo=UTC)),
        DateHint(DateSource.FILE_NAME, 2031, 8, 1),
        GIVEN,
    ]
    value, found = resolve_time(day=9, hour=0, hints=hints)
    assert value is not None
    assert (value.source, value.nominal_time.month) == (DateSource.GIVEN, 7)
    assert codes(found) == ["date-sources-disagree", "date-sources-disagree"]
    assert "Given: 2031-07-09; file name: 2031-08-09" in found[0].message


def test_neighbour() -> None:
    """The known time of a neighbouring report is enough."""
    hint = DateHint.of_time(datetime(2031, 6, 30, 12, tzinfo=UTC))
    value = resolve_time(day=1, hour=0, hints=[hint]).value
    assert value is not None
    assert (value.nominal_time, value.source) == (
        datetime(2031, 7, 1, tzinfo=UTC),
        DateSource.NEIGHBOUR,
    )


def test_heading_gives_a_lost_day() -> None:
    """Where the report's day or hour cannot be read, those of the heading are taken, and said."""
    heading = Heading("US", "XX", "01", "XNOR", 9, 12, 0)
    value, found = resolve_time(day=None, hour=12, hints=[GIVEN], heading=heading)
    assert value is not None
    assert (value.nominal_time, value.day_source) == (
        datetime(2031, 7, 9, 12, tzinfo=UTC),
        "heading",
    )
    assert found == ()
    assert codes(resolve_time(day=None, hour=12, hints=[GIVEN]).diagnostics) == ["date-unknown"]


def test_heading_of_another_day() -> None:
    """A heading of another day or hour is told; the report's own figures stand."""
    heading = Heading("US", "XX", "01", "XNOR", 9, 12, 0)
    value, found = resolve_time(day=9, hour=0, hints=[GIVEN], heading=heading)
    assert value is not None
    assert value.nominal_time.hour == 0
    assert codes(found) == ["heading-day-mismatch"]


@pytest.mark.parametrize(
    ("hour", "release", "expected", "far"),
    [
        (0, (23, 21), datetime(2031, 7, 8, 23, 21, tzinfo=UTC), False),
        (0, (0, 15), datetime(2031, 7, 9, 0, 15, tzinfo=UTC), False),
        (12, (11, 17), datetime(2031, 7, 9, 11, 17, tzinfo=UTC), False),
        (23, (0, 10), datetime(2031, 7, 10, 0, 10, tzinfo=UTC), True),
        (12, (6, 0), datetime(2031, 7, 9, 6, 0, tzinfo=UTC), True),
        (12, (0, 0), datetime(2031, 7, 9, 0, 0, tzinfo=UTC), True),
    ],
)
def test_day_of_release(
    hour: int, release: tuple[int, int], expected: datetime, *, far: bool
) -> None:
    """8GGgg is the time nearest to the nominal time, be it on the day before or after."""
    value, found = resolve_time(day=9, hour=hour, hints=[GIVEN], release=release)
    assert value is not None
    assert value.release_time == expected
    assert codes(found) == (["launch-far-from-nominal"] if far else [])


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("A_USXX01XNOR090000_C_XNOR_20310709003000.txt", (2031, 7, 9)),
        ("Z__C_XNOR_203107--------.txt", (2031, 7, None)),
        ("traffic-2031-07-09.txt", (2031, 7, 9)),
        ("2031070900.txt", (2031, 7, 9)),
        ("20310709T0030Z.txt", (2031, 7, 9)),
        ("harrow_203107.txt", (2031, 7, None)),
        ("20310230.txt", None),
        ("90417.txt", None),
        ("report.txt", None),
    ],
)
def test_dates_in_names(name: str, expected: tuple[int, int, int | None] | None) -> None:
    """Names give a date where they hold one, and none where they do not."""
    assert date_in_name(name) == expected
    hint = DateHint.of_name(name)
    assert (hint is None) == (expected is None)


NAMES = (
    FileName("A", "USXX01XNOR090000", "XNOR", "20310709003000"),
    FileName("A", "UKXX01XNOR090000CCA", "XNOR", "20310709003000", "part-b,1", "txt", "gz"),
    FileName("Z", "", "XNOR", "20310709------", type="bin"),
)


@pytest.mark.parametrize("name", NAMES)
def test_names_go_both_ways(name: FileName) -> None:
    """What is composed is read as the same name (WMO-No. 386, Attachment II-15)."""
    assert parse_file_name(compose_file_name(name)) == (name, ())


def test_heading_in_a_name() -> None:
    """The product identifier of a name of kind A is a heading."""
    heading = Heading("UK", "XX", "01", "XNOR", 9, 0, 0, "CCA")
    assert NAMES[1].heading == heading
    assert NAMES[2].heading is None
    made = datetime(2031, 7, 9, 1, 2, 3, tzinfo=UTC)
    assert bulletin_file_name(heading, made) == "A_UKXX01XNOR090000CCA_C_XNOR_20310709010203.txt"
    assert bulletin_file_name(heading, made, binary=True).endswith(".bin")


def test_names_that_do_not_follow() -> None:
    """Other names are told; names that cannot be are refused."""
    assert codes(parse_file_name("report.txt").diagnostics) == ["file-name-malformed"]
    with pytest.raises(ValueError, match="originator"):
        compose_file_name(FileName("A", "X", "XN", "20310709003000"))
    with pytest.raises(ValueError, match="128"):
        compose_file_name(FileName("A", "X" * 120, "XNOR", "20310709003000"))


def test_batch_names() -> None:
    """CCCCNNNNNNNN with a, b or f, and u before it when urgent."""
    assert batch_file_name("XNOR", 42) == "XNOR00000042.a"
    assert batch_file_name("XNOR", 99_999_999, "binary", urgent=True) == "XNOR99999999.ub"
    for centre, number in (("XN", 1), ("XNOR", -1), ("XNOR", 100_000_000)):
        with pytest.raises(ValueError, match="eight figures"):
            batch_file_name(centre, number)
