"""``profile.csv``: header, cells and everything that can be wrong with them."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from encoder.formats.profile_csv import (
    profile_text,
    read_profile,
    read_profile_text,
    write_profile,
)
from encoder.profile import Profile
from tests.flights import codes_of, rows_of, text_of, the

HEADER = (
    "time [s],air_pressure [hPa],air_temperature [degC],relative_humidity [%],"
    "wind_from_direction [degree],wind_speed [m s-1]\n"
)
ROW = "1,960.5,14.2,61,240,4.5\n"
RELEASE = datetime(2031, 7, 15, 17, 16, 30, tzinfo=UTC)


def test_plain_file_reads_without_a_word():
    """Names, units and values come out as written; line numbers are those of the file."""
    result = read_profile_text("# a comment\n\n" + HEADER + ROW + "# another\n" + ROW)
    assert result.diagnostics == ()
    assert list(result.value.source_row) == [4, 6]
    assert list(result.value["air_pressure"]) == [960.5, 960.5]


def test_missing_cell_is_empty():
    """An empty cell is NaN and nothing else is; blanks count as empty."""
    result = read_profile_text(HEADER + ROW + "1,960.5,,61, ,4.5\n")
    assert result.diagnostics == ()
    assert np.isnan(result.value["air_temperature"][1])
    assert np.isnan(result.value["wind_from_direction"][1])
    assert result.value["relative_humidity"][1] == 61.0


def test_aliases_and_other_units_are_accepted():
    """A few further names and every UDUNITS unit of the kind are understood."""
    text = (
        "elapsed_time [min],pressure [Pa],temperature [K],dew_point_depression [degC],"
        "eastward_wind [knot],northward_wind [knot],geometric_height [ft]\n"
        "2,96050,287.35,5,10,0,1000\n"
    )
    result = read_profile_text(text)
    profile = result.value
    assert result.diagnostics == ()
    assert profile["time"][0] == 120.0
    assert profile["air_pressure"][0] == pytest.approx(960.5)
    assert profile["air_temperature"][0] == pytest.approx(14.2)
    assert profile["dew_point_depression"][0] == pytest.approx(5.0)
    assert profile["eastward_wind"][0] == pytest.approx(5.144444444)
    assert profile["altitude"][0] == pytest.approx(304.8)


def test_fahrenheit_is_converted():
    """Temperature in degrees Fahrenheit is a unit like any other."""
    text = HEADER.replace("[degC]", "[degF]") + "1,960.5,59,61,240,4.5\n"
    assert read_profile_text(text).value["air_temperature"][0] == pytest.approx(15.0)


def test_quoted_cells_are_accepted():
    """Some exports put every cell in quotes."""
    text = HEADER + '"1","960.5","14.2","61","240","4.5"\n'
    assert read_profile_text(text).value["air_pressure"][0] == 960.5


def test_time_of_day_counts_from_release():
    """ISO 8601 date-times become seconds since release; an offset from UTC is heeded."""
    text = HEADER.replace("time [s]", "time [UTC]") + (
        "2031-07-15T17:16:31Z,960.5,14.2,61,240,4.5\n"
        "2031-07-15T19:16:32.5+02:00,960.4,14.2,61,240,4.5\n"
        "2031-07-15 17:16:33,960.3,14.2,61,240,4.5\n"
    )
    result = read_profile_text(text, release_time=RELEASE)
    assert result.diagnostics == ()
    assert list(result.value["time"]) == [1.0, 2.5, 3.0]


def test_time_of_day_needs_the_release_time():
    """Without a release time nothing can be counted from it, and nothing is guessed."""
    for unit in ("UTC", "seconds since 2031-07-15 17:00"):
        text = HEADER.replace("time [s]", f"time [{unit}]") + ROW
        assert codes_of(read_profile_text(text)) == ["time-without-release"]


def test_wrong_time_of_day_is_named():
    """A date that does not exist is an error in its cell."""
    text = HEADER.replace("time [s]", "time [UTC]") + "2031-02-30T17:16:31Z,960.5,14,61,240,4\n"
    found = the(read_profile_text(text, release_time=RELEASE), "cell-not-readable")
    assert (found.line, found.value) == (2, "2031-02-30T17:16:31Z")


def test_times_from_another_moment():
    """A UDUNITS time reference works as unit of the time."""
    text = HEADER.replace("time [s]", "time [seconds since 2031-07-15 17:16:00]") + ("31" + ROW[1:])
    result = read_profile_text(text, release_time=RELEASE)
    assert result.value["time"][0] == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize(
    "cell",
    ["abc", "NaN", "inf", "1_000", "12,5", "////", "-", "1e999", "\u0661\u0662", "0x1f", "12;"],
)
def test_cell_that_is_no_number_is_named(cell):
    """Line, column and text are named; nothing but a plain decimal number is a number."""
    row = ROW.replace("14.2", f'"{cell}"')
    found = the(read_profile_text(HEADER + ROW + row), "cell-not-readable")
    assert (found.line, found.path, found.value) == (3, ("air_temperature",), cell)
    assert f'found "{cell}"' in found.message
    assert "column 3" in found.message


def test_decimal_comma_and_missing_words_get_advice():
    """The commonest slips are answered with what to write."""
    comma = the(read_profile_text(HEADER + ROW.replace("14.2", '"14,2"')), "cell-not-readable")
    assert 'with a point: "14.2"' in comma.message
    word = the(read_profile_text(HEADER + ROW.replace("14.2", "N/A")), "cell-not-readable")
    assert "A missing value is an empty cell" in word.message


def test_many_wrong_cells_are_counted():
    """A column of words gives six diagnostics, not thousands."""
    result = read_profile_text(HEADER + ROW.replace("14.2", "x") * 1000)
    assert result.value is None
    assert codes_of(result) == ["cell-not-readable"] * 6
    assert "995 more cells" in result.diagnostics[-1].message
    assert result.diagnostics[-1].rows == (7, 1001)


def test_semicolons_are_named():
    """A file of semicolons and decimal commas says what to change, once."""
    text = (HEADER + ROW).replace(",", ";").replace(".", ",")
    found = the(read_profile_text(text), "separator-not-comma")
    assert "semicolons" in found.message
    tabs = read_profile_text((HEADER + ROW).replace(",", "\t"))
    assert codes_of(tabs) == ["separator-not-comma"]


def test_line_of_another_length_is_named():
    """A line with too few or too many cells is an error with both numbers."""
    result = read_profile_text(HEADER + ROW + "1,960.5\n" + "1,5," * 6 + "\n")
    assert result.value is None
    assert [item.line for item in result.diagnostics] == [3, 4]
    assert "Expected 6 cells as in the header, found 2" in result.diagnostics[0].message
    many = read_profile_text(HEADER + "1,960\n" * 500)
    assert codes_of(many) == ["line-not-as-header"] * 6
    commas = read_profile_text(HEADER + "1,5,960,5,14,2,61,0,240,0,4,5\n")
    assert "decimal commas" in commas.diagnostics[0].message
    semicolons = read_profile_text(HEADER + "1;960.5;14.2;61;240;4.5\n")
    assert "semicolons" in semicolons.diagnostics[0].message


def test_broken_quotes_are_a_line_of_another_length():
    """An unclosed quote never swallows the lines after it."""
    result = read_profile_text(HEADER + '1,"960.5,14.2,61,240,4.5\n' + ROW)
    assert [item.line for item in result.diagnostics] == [2]
    long = read_profile_text(HEADER + '1,"' + "x" * 200_000 + '",14.2,61,240,4.5\n')
    assert codes_of(long) == ["line-not-as-header"]


def test_unknown_name_is_named_with_the_nearest():
    """A misspelt name is an error that names the right one."""
    found = the(read_profile_text(HEADER.replace("humidity", "humidty") + ROW), "column-unknown")
    assert found.expected == "relative_humidity [%]"
    assert found.line == 1


def test_column_of_another_quantity_is_told_and_not_used():
    """Battery voltage and the like do not stop a flight and are not dropped silently."""
    text = HEADER.strip() + ",battery [V]\n" + ROW.strip() + ",4.1\n"
    result = read_profile_text(text)
    assert codes_of(result) == ["column-not-used"]
    assert "battery [V]" in result.diagnostics[0].message
    assert "battery" not in result.value


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("[hPa]", "[hpa]", "unit-unknown"),
        ("[hPa]", "[K]", "unit-of-other-kind"),
        (" [hPa]", "", "unit-not-given"),
        (" [hPa]", " []", "unit-not-given"),
        ("air_temperature [degC]", "air_pressure [hPa]", "column-repeated"),
        ("air_temperature [degC]", "pressure [hPa]", "column-repeated"),
    ],
)
def test_fault_of_the_header_is_named(old, new, code):
    """Each fault of a header cell is an error on the line of the header."""
    result = read_profile_text("# first\n" + HEADER.replace(old, new) + ROW)
    assert result.value is None
    found = the(result, code)
    assert found.line == 2
    assert found.hint


def test_all_faults_of_the_header_are_told_at_once():
    """Nobody has to repair a header fault by fault."""
    header = HEADER.replace("[hPa]", "[hpa]").replace("[degC]", "[m]").replace("speed", "sped")
    assert codes_of(read_profile_text(header + ROW)) == [
        "unit-unknown",
        "unit-of-other-kind",
        "column-unknown",
    ]


@pytest.mark.parametrize(
    "text",
    ["1,2,3\n4,5,6\n", "hello\n", '{"a": 1}\n', "a" * 100_000, "," * 100_000, "\x01\x02,\x03"],
)
def test_file_of_another_kind_has_no_header(text):
    """Anything that is no header at all is one short error."""
    result = read_profile_text(text)
    assert result.value is None
    assert codes_of(result) == ["header-not-found"]
    assert len(result.diagnostics[0].message) < 300


@pytest.mark.parametrize("text", ["", "\n\n", "# only a comment\n"])
def test_file_without_lines(text):
    """An empty file is an error of its own."""
    assert codes_of(read_profile_text(text)) == ["file-empty"]


def test_no_rows():
    """A header alone is an error."""
    assert codes_of(read_profile_text(HEADER)) == ["profile-without-rows"]


def test_too_many_rows(monkeypatch):
    """A file of more rows than any flight has is refused before its cells are read."""
    monkeypatch.setattr("encoder.formats.profile_csv.MOST_ROWS", 10)
    assert codes_of(read_profile_text(HEADER + ROW * 11)) == ["file-too-large"]
    assert read_profile_text(HEADER + ROW * 10).value is not None
    monkeypatch.setattr("encoder.formats.profile_csv.MOST_LINES", 20)
    assert codes_of(read_profile_text(HEADER + ROW * 10 + "#\n" * 10)) == ["file-too-large"]


@pytest.mark.parametrize(
    ("gone", "code"),
    [
        ("time", "column-missing"),
        ("air_pressure", "column-missing"),
        ("air_temperature", "column-missing"),
        ("relative_humidity", "humidity-not-given"),
        ("wind_speed", "wind-not-given"),
    ],
)
def test_missing_column(gone, code):
    """What a flight cannot do without is an error; humidity and wind are warnings."""
    columns = rows_of(20)
    del columns[gone], columns["geopotential_height"]
    result = read_profile_text(text_of(columns))
    assert codes_of(result) == [code]
    assert (result.value is None) == (code == "column-missing")


def test_all_missing_column():
    """A column of empty cells is told; where it is needed it is an error."""
    columns = rows_of(20)
    columns["relative_humidity"][:] = np.nan
    assert codes_of(read_profile_text(text_of(columns))) == ["column-empty"]
    columns["air_pressure"][:] = np.nan
    assert codes_of(read_profile_text(text_of(columns))) == ["column-empty", "column-empty"]
    columns["geopotential_height"][:] = np.nan
    assert codes_of(read_profile_text(text_of(columns))) == [
        "column-empty-but-needed",
        "column-empty-but-needed",
        "column-empty",
    ]


def test_write_and_read_give_the_same_columns(tmp_path):
    """Every digit survives; a missing value stays missing."""
    columns = rows_of(50)
    columns["air_temperature"][7] = np.nan
    profile = Profile(columns, np.arange(2, 52))
    write_profile(profile, tmp_path / "profile.csv")
    result = read_profile(tmp_path / "profile.csv")
    assert result.diagnostics == ()
    assert result.value == profile
    assert profile_text(result.value) == profile_text(profile)


def test_diagnostics_of_a_file_name_it(tmp_path):
    """Each diagnostic of a file read from disk carries its name."""
    file = tmp_path / "p.csv"
    file.write_text(HEADER + "x" + ROW[1:], encoding="utf-8")
    assert the(read_profile(file), "cell-not-readable").file == str(file)
    assert codes_of(read_profile(tmp_path / "none.csv")) == ["file-not-found"]
