"""``aerogram climat`` as text and BUFR, on land and at sea, and the ways between both."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner

from encoder.cli import cli
from encoder.schemas_folder import schema

ROOT = Path(__file__).resolve().parents[2]
MONTH = ROOT / "samples" / "traffic" / "harrow-tarn-2031-06.txt"
SHIP = ROOT / "samples" / "traffic" / "calder-wren"
GOLDEN = ROOT / "tests" / "golden" / "traffic" / "harrow-tarn-climat.txt"


def run(*arguments, data=None):
    return CliRunner().invoke(cli, [*map(str, arguments)], input=data, catch_exceptions=False)


@pytest.fixture(scope="module")
def message(tmp_path_factory):
    """The month as BUFR, in the envelope of a bulletin."""
    path = tmp_path_factory.mktemp("climat") / "month.bufr"
    words = ("--to", "bufr", "--centre", 99, "--bulletin", "XNOR", "-o", path)
    result = run("climat", MONTH, "--month", "2031-06", *words)
    assert result.exit_code == 0, result.stderr
    return path


def test_month_as_bufr(message):
    """Position from the station catalogue, heading IUU, every level; the means of the text."""
    assert message.read_bytes().startswith(b"\x01\r\r\nIUUA01 XNOR 010000\r\r\nBUFR")
    document = json.loads(run("decode", message, "--json").stdout)
    jsonschema.validate(document, schema("soundings"))
    (month,) = document["months"]

    assert (month["form"], month["wmo_index"], month["year"], month["month"]) == (
        "FM 75",
        "90417",
        2031,
        6,
    )
    assert (month["latitude"], month["longitude"]) == (53.4127, -18.2751)
    assert month["times_used"] == 40
    assert len(month["levels"]) == 12
    assert month["levels"][1]["air_temperature"] == pytest.approx(13.45, abs=0.1)


def test_month_is_shown_and_explained(message):
    """As a table, and element by element with the meaning of its figures."""
    shown = run("decode", message)
    assert "BUFR 309054  FM 75  station 90417  2031-06  30 days" in shown.stdout
    assert "heading IUUA01 XNOR 010000" in shown.stdout
    assert shown.exit_code == 0
    told = run("explain", message).stdout
    assert "vector mean" in told
    assert "00 UTC, 12 UTC" in told
    document = json.loads(run("explain", message, "--json").stdout)
    assert document["soundings"][0]["station"] == "90417"


def test_month_as_bufr_becomes_the_text(message):
    """Only a value on a tie differs: 21.5 m/s in BUFR, where the mean was 21.47."""
    text = run("encode", message, "--wind-unit", "m/s").stdout.split()
    golden = GOLDEN.read_text("utf-8").split()

    differing = [pair for pair in zip(text, golden, strict=True) if pair[0] != pair[1]]
    assert differing == [("52022", "52021")]


def test_text_of_a_month_becomes_bufr(tmp_path):
    """Without a date: the text has month and year; and back to the same text."""
    path = tmp_path / "month.bufr"
    assert run("encode", GOLDEN, "--to", "bufr", "--centre", 99, "-o", path).exit_code == 0
    assert run("encode", path, "--wind-unit", "m/s").stdout.split() == GOLDEN.read_text().split()


def test_reports_of_another_month_are_left_out(tmp_path):
    """A month in the name of a file is compared; without one the reports are taken, and told."""
    result = run("climat", MONTH, "--month", "2031-05")
    assert result.exit_code == 1
    assert "58 sounding(s) of 2031-06 were left out of 2031-05" in result.stderr
    plain = tmp_path / "reports.txt"
    shutil.copy(MONTH, plain)
    result = run("climat", plain, "--month", "2031-05")
    assert result.exit_code == 0
    assert "58 report(s) name no month; they are taken to be of 2031-05" in result.stderr


def test_soundings_in_bufr_are_averaged_at_their_date(tmp_path):
    """The date of a BUFR message is known, so that one of another month is left out."""
    path = tmp_path / "ship.bufr"
    assert run("encode", SHIP, "--to", "bufr", "--centre", 99, "-o", path).exit_code == 0

    assert "CLIMAT TEMP SHIP 01031 99551 70225" in run("climat", path, "--month", "2031-01").stdout
    result = run("climat", path, "--month", "2031-02")
    assert (result.exit_code, "of 2031-01 were left out" in result.stderr) == (1, True)


def test_month_of_a_ship(tmp_path):
    """CLIMAT TEMP SHIP with its position, as text and as BUFR with its call sign."""
    text = run("climat", SHIP, "--month", "2031-01").stdout
    assert text.startswith("CLIMAT TEMP SHIP 01031 99551 70225")
    path = tmp_path / "ship.bufr"
    words = ("--to", "bufr", "--bulletin", "XNOR", "--update", 1, "--indicator", "CCA", "-o", path)
    result = run("climat", SHIP, "--month", "2031-01", *words)
    assert result.exit_code == 0, result.stderr
    assert "bufr-centre-missing" in result.stderr
    assert b"IUUA46 XNOR 010000 CCA" in path.read_bytes()
    (month,) = json.loads(run("decode", path, "--json").stdout)["months"]
    assert (month["form"], month["call_sign"], month["update"]) == ("FM 76", "QCW07", 1)
    assert run("encode", path, "--wind-unit", "m/s").stdout.startswith("CLIMAT TEMP SHIP 01031")


def test_position_given_and_not_known(tmp_path):
    """--position counts; without any the means cannot be coded as BUFR, and that is said."""
    unknown = tmp_path / "2031-06.txt"
    unknown.write_text(MONTH.read_text().replace("90417", "90999"))
    words = ("climat", unknown, "--month", "2031-06", "--to", "bufr", "-o", tmp_path / "x.bufr")
    refused = run(*words)
    assert refused.exit_code == 1
    assert "--position" in refused.stderr
    assert not (tmp_path / "x.bufr").exists()
    assert run(*words, "--position", "10.5,-20").exit_code == 0
    (month,) = json.loads(run("decode", tmp_path / "x.bufr", "--json").stdout)["months"]
    assert (month["latitude"], month["longitude"], month["elevation_m"]) == (10.5, -20.0, None)


@pytest.mark.parametrize(
    ("words", "say"),
    [
        (("--position", "95,0"), "--position expects"),
        (("--position", "north"), "--position expects"),
        (("--bulletin", "XNOR"), "go with --to bufr"),
        (("--to", "bufr", "--bulletin", "nor", "-o", "/dev/null"), "nor"),
    ],
)
def test_wrong_use_is_told(words, say):
    """Exit code 2 and one sentence."""
    result = run("climat", MONTH, "--month", "2031-06", *words)
    assert result.exit_code == 2
    assert say in result.stderr


def test_monthly_means_are_no_sounding(message):
    """Commands that need a sounding say what the message holds instead."""
    result = run("verify", ROOT / "samples" / "flights" / "harrow-tarn", message)
    assert result.exit_code == 1
    assert "monthly means of 90417 (FM 75)" in result.stderr
