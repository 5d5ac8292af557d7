"""A flight from its two files: what is read together, and every bad input of daily life."""

from __future__ import annotations

import json
import tracemalloc

import numpy as np
import pytest

from encoder.diagnostics import has_errors
from encoder.formats.flight_folder import read_flight
from encoder.profile import Flight
from tests.flights import FACTS, codes_of, facts_of, rows_of, text_of, the, write_flight


def test_folder_facts_file_and_given_profile_are_the_same_flight(tmp_path):
    """A folder, the facts file in it, and a profile named by the caller all read alike."""
    write_flight(tmp_path)
    (tmp_path / "other.csv").write_text(text_of(rows_of()), encoding="utf-8")
    by_folder = read_flight(tmp_path)
    by_file = read_flight(tmp_path / "flight.json")
    by_name = read_flight(tmp_path / "flight.json", profile=tmp_path / "other.csv")
    for result in (by_folder, by_file, by_name):
        assert result.diagnostics == ()
        assert isinstance(result.value, Flight)
        assert result.value.ascent == by_folder.value.ascent


def test_facts_may_name_the_profile_file(tmp_path):
    """The key ``profile`` names a file beside the facts."""
    write_flight(tmp_path, facts_of(profile="rows.csv"))
    assert codes_of(read_flight(tmp_path)) == ["file-not-found"]
    (tmp_path / "profile.csv").rename(tmp_path / "rows.csv")
    assert codes_of(read_flight(tmp_path)) == []


def test_flight_holds_facts_rows_and_findings(tmp_path):
    """The rows stay as in the file; the document is kept; every finding is in the flight."""
    columns = rows_of()
    columns["relative_humidity"][30] = -9999.0
    edit = {"columns": ["air_temperature"], "from_line": 12, "to_line": 14, "action": "missing"}
    facts = facts_of(quality_edits=[{**edit, "reason": "Icing."}], balloon__mass_g=350)
    result = read_flight(write_flight(tmp_path, facts, columns))
    flight = result.value
    assert codes_of(result) == ["edit-applied", "values-impossible"]
    assert flight.diagnostics == result.diagnostics
    assert flight.document["balloon"] == {"mass_g": 350}
    assert flight.profile["relative_humidity"][30] == -9999.0
    assert np.isfinite(flight.profile["air_temperature"]).all()
    assert np.isnan(flight.ascent["relative_humidity"][31])
    assert list(np.flatnonzero(np.isnan(flight.ascent["air_temperature"]))) == [11, 12, 13]


def test_formula_of_the_flight_is_used(tmp_path):
    """The vapour pressure formula of the facts reaches the columns and is recorded."""
    write_flight(tmp_path, facts_of(instrument__vapour_pressure_formula="hyland-wexler"))
    flight = read_flight(tmp_path).value
    assert flight.vapour_pressure_formula == "hyland-wexler"
    assert "Hyland" in flight.ascent.computed["dew_point_temperature"]


def test_faults_of_both_files_are_told_at_once(tmp_path):
    """Nobody has to repair one file to see the faults of the other."""
    profile = text_of(rows_of()).replace("[hPa]", "[hpa]")
    result = read_flight(write_flight(tmp_path, facts_of(station__latitude=91), profile))
    assert result.value is None
    assert [(item.code, item.file.rsplit("/", 1)[1]) for item in result.diagnostics] == [
        ("value-not-allowed", "flight.json"),
        ("unit-unknown", "profile.csv"),
    ]


def test_time_of_day_is_not_doubted_because_the_facts_are_wrong(tmp_path):
    """Where the release time could not be read, the profile is not blamed for it."""
    text = text_of(rows_of()).replace("time [s]", "time [UTC]")
    result = read_flight(write_flight(tmp_path, facts_of(release_time="2031-02-30T17:16Z"), text))
    assert codes_of(result) == ["time-does-not-exist"]


def kelvin(columns):
    """Return the columns with kelvin where degC is meant."""
    return {**columns, "air_temperature": columns["air_temperature"] + 273.15}


def pascal(columns):
    """Return the columns with Pa where hPa is meant."""
    return {**columns, "air_pressure": columns["air_pressure"] * 100.0}


def humid(columns):
    """Return the columns with a humidity far over 100 %."""
    return {**columns, "relative_humidity": columns["relative_humidity"] + 150.0}


BAD_PROFILES = {
    "missing file": (None, "file-not-found"),
    "wrong encoding": (
        text_of(rows_of()).encode() + "# \u00df".encode("latin-1"),
        "encoding-not-utf-8",
    ),
    "utf-16": (text_of(rows_of()).encode("utf-16"), "encoding-not-utf-8"),
    "semicolons": (text_of(rows_of()).replace(",", ";"), "separator-not-comma"),
    "unknown unit": (text_of(rows_of()).replace("[hPa]", "[hectopascales]"), "unit-unknown"),
    "pascal as hectopascal": (text_of(pascal(rows_of())), "column-impossible"),
    "kelvin as celsius": (text_of(kelvin(rows_of())), "column-impossible"),
    "humidity over 100": (text_of(humid(rows_of())), "column-impossible"),
    "all-missing column": (
        text_of({**rows_of(), "air_temperature": np.full(200, np.nan)}),
        "column-empty-but-needed",
    ),
    "no rows": (text_of(rows_of()).splitlines()[0], "profile-without-rows"),
    "empty file": (b"", "file-empty"),
    "binary file": (bytes(range(256)) * 100, "file-not-text"),
    "text of another kind": ("the quick brown fox\n" * 1000, "header-not-found"),
}


@pytest.mark.parametrize("name", BAD_PROFILES)
def test_bad_profile_is_one_clear_error(name, tmp_path):
    """Each bad input is one error with a hint and the file; nothing is raised or guessed."""
    content, code = BAD_PROFILES[name]
    write_flight(tmp_path, None, b"" if content is None else content)
    if content is None:
        (tmp_path / "profile.csv").unlink()
    result = read_flight(tmp_path)
    assert result.value is None
    found = the(result, code)
    assert codes_of(result) == [code]
    assert has_errors(result.diagnostics)
    assert found.hint
    assert found.file.endswith("profile.csv")
    assert len(found.as_text()) < 500


def test_one_row_and_byte_order_mark_and_fahrenheit_are_read(tmp_path):
    """What can be read is read, with a word where somebody has to know."""
    one = write_flight(tmp_path, None, rows_of(1))
    assert codes_of(read_flight(one)) == ["few-rows"]
    marked = write_flight(tmp_path, None, b"\xef\xbb\xbf" + text_of(rows_of()).encode())
    assert codes_of(read_flight(marked)) == ["byte-order-mark"]
    columns = rows_of()
    expected = read_flight(write_flight(tmp_path)).value.ascent["air_temperature"]
    columns["air_temperature"] = columns["air_temperature"] * 9.0 / 5.0 + 32.0
    text = text_of(columns, {"air_temperature": "degF"})
    result = read_flight(write_flight(tmp_path, None, text))
    assert result.diagnostics == ()
    assert result.value.ascent["air_temperature"] == pytest.approx(expected, abs=1e-9)


def test_all_missing_humidity_is_told_and_read(tmp_path):
    """A flight without humidity is a flight; the empty column is told."""
    result = read_flight(
        write_flight(tmp_path, None, {**rows_of(), "relative_humidity": np.full(200, np.nan)})
    )
    assert codes_of(result) == ["column-empty"]
    assert np.isnan(result.value.ascent["relative_humidity"][1:]).all()


@pytest.mark.parametrize("junk", [b"x" * 70_000, b"time [s]\n" + b"1\n" * 40_000, b"\xff" * 70_000])
def test_half_a_gigabyte_of_junk_is_refused_in_little_memory(junk, tmp_path):
    """The refusal costs less than three megabytes, however large the file."""
    write_flight(tmp_path)
    with (tmp_path / "profile.csv").open("wb") as stream:
        stream.write(junk)
        stream.truncate(500_000_000)
    tracemalloc.start()
    result = read_flight(tmp_path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert result.value is None
    assert codes_of(result) == ["file-too-large"]
    assert peak < 3_000_000


def test_folder_without_flight_and_no_such_folder(tmp_path):
    """In a folder both files are looked for and named; what is not there at all is told once."""
    assert codes_of(read_flight(tmp_path)) == ["file-not-found", "file-not-found"]
    for name in ("none", "none.json"):
        found = read_flight(tmp_path / name).diagnostics
        assert [item.code for item in found] == ["file-not-found"]
        assert found[0].message == f'There is no folder or file "{tmp_path / name}".'


def test_bad_file_does_not_print_thousands_of_lines(tmp_path):
    """A noisy flight is told in a few lines whatever its length."""
    columns = rows_of(3000, 1.0)
    noise = np.random.default_rng(7)
    for name, size in (("air_pressure", 5.0), ("air_temperature", 5.0), ("time", 3.0)):
        columns[name] = columns[name] + noise.normal(0.0, size, 3000)
    columns["relative_humidity"] = noise.uniform(-50.0, 150.0, 3000)
    columns["wind_speed"] = noise.uniform(-10.0, 200.0, 3000)
    columns["geopotential_height"] = columns["geopotential_height"] + noise.normal(0.0, 300.0, 3000)
    result = read_flight(write_flight(tmp_path, None, columns))
    assert len(result.diagnostics) < 40
    assert max(len(item.as_text()) for item in result.diagnostics) < 600


def test_unusable_ascent_is_told(tmp_path):
    """A surface pressure below every row leaves no ascent; a wrong edit stops the flight."""
    facts = facts_of(surface__air_pressure_hpa=400.0, station__elevation_m=7000.0)
    rows = rows_of(20)
    rows["time"] += 15.0
    assert "ascent-without-rows" in codes_of(read_flight(write_flight(tmp_path, facts, rows)))
    edit = {"columns": ["x"], "from_line": 1, "to_line": 2, "action": "missing", "reason": "r"}
    result = read_flight(write_flight(tmp_path, facts_of(quality_edits=[edit])))
    assert result.value is None
    assert codes_of(result) == ["edit-column-unknown"]


def test_diagnostics_are_json(tmp_path):
    """Every diagnostic can be written as JSON."""
    result = read_flight(write_flight(tmp_path, facts_of(typo=1), rows_of(1)))
    assert json.loads(json.dumps([item.as_json() for item in result.diagnostics]))
    assert json.loads(json.dumps(FACTS)) == FACTS
