"""``split``, ``stations``, and position and date of decoded reports, as a user meets them."""

from __future__ import annotations

import gzip
import importlib
import json
import os
import pty
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner
from referencing import Registry, Resource

from encoder.cli import cli

ROOT = Path(__file__).resolve().parents[2]
HARROW = str(ROOT / "samples" / "flights" / "harrow-tarn")
TRAFFIC = ROOT / "samples" / "traffic"
LIST = "wmo_index,name,latitude,longitude,elevation,from,to\n"


def run(*arguments, text=None):
    return CliRunner().invoke(cli, list(arguments), input=text, catch_exceptions=False)


@pytest.fixture(autouse=True)
def data_folder(tmp_path, monkeypatch):
    """A data folder of the test's own."""
    module = importlib.import_module("encoder.cli.stations")
    folder = tmp_path / "data"
    monkeypatch.setattr(module, "data_folder", lambda: str(folder))
    return folder


@pytest.fixture
def report(tmp_path):
    """A report of the first sample."""
    file = tmp_path / "report.txt"
    assert run("encode", HARROW, "-o", str(file)).exit_code == 0
    return file


# --- split ----------------------------------------------------------------------------------------


def test_split_shows_reports_and_accounts_for_all_bytes():
    """Each report has its offset and heading; the account adds up to the size of the file."""
    file = TRAFFIC / "calder-wren-corrected.txt"
    result = run("split", str(file))

    assert "USVF01 XNOR 181200 CCA" in result.stdout
    assert len(result.stdout.splitlines()) == 7
    assert f"{file.stat().st_size:,} bytes = " in result.stderr


def test_split_as_json_lines_gives_the_text_at_its_offset():
    """Offset and length lead to the text of each report."""
    data = (TRAFFIC / "calder-wren-corrected.txt").read_text("ascii")
    lines = run("split", str(TRAFFIC / "calder-wren-corrected.txt"), "--json").stdout
    for line in lines.splitlines():
        item = json.loads(line)
        assert data[item["offset"] : item["offset"] + item["bytes"]] == item["text"]
        assert item["form"] == "FM 36"


def test_split_tells_unread_text():
    """Text that is no report is counted, and shown when asked for."""
    result = run("split", "-", "--unread", text="GOOD MORNING\r\n\r\nTTAA 59001 90417 NIL=\r\n")

    assert "unread" in result.stdout
    assert "1 x text-outside-report" in result.stderr
    assert result.exit_code == 1


def test_split_leaves_with_0_when_all_was_read():
    """Reports and framing alone are no fault, and neither is a bulletin that says NIL."""
    text = "USXX01 XNOR 090000\r\nTTAA 59001 90417 NIL=\r\nUKXX01 XNOR 090000\r\nNIL=\r\n"

    assert run("split", "-", text=text).exit_code == 0


def test_split_json_lines_follow_their_schema():
    """Every line validates against split.schema.json: reports, monthly ones, unread text."""
    text = (
        "GOOD MORNING\r\n\r\nusxx1 xnor 090000\r\nttaa 59001 90417 nil=\r\n"
        "SMXX01 XNOR 090000\r\nCLIMAT TEMP 07031 90417 11013=\r\n90731 NIL\r\n\x03BUFR\x00"
    )
    schema = json.loads((ROOT / "schemas" / "split.schema.json").read_text("utf-8"))
    other = json.loads((ROOT / "schemas" / "diagnostic.schema.json").read_text("utf-8"))
    registry = Registry().with_resource(other["$id"], Resource.from_contents(other))
    check = jsonschema.Draft202012Validator(schema, registry=registry)
    lines = [json.loads(line) for line in run_lines("split", "-", "--unread", "--json", text=text)]

    assert [[fault.message for fault in check.iter_errors(line)] for line in lines] == [[]] * 5
    assert lines[1]["heading"] == "USXX1 XNOR 090000"
    assert [line["form"] for line in lines] == [None, "FM 35", "FM 75", "FM 75", None]
    assert [one["code"] for line in lines for one in line["diagnostics"]] == [
        "text-outside-report",
        "heading-malformed",
        "heading-content-mismatch",
        "heading-content-mismatch",
        "report-not-ended",
        "text-outside-report",
    ]


def run_lines(*arguments, text):
    return run(*arguments, text=text).stdout.splitlines()


def split_beside_a_terminal(file, out, *, terminal):
    """Run ``split`` on its own, with a terminal or a pipe as standard error; return what it got."""
    reader, writer = pty.openpty() if terminal else os.pipe()
    command = [sys.executable, "-m", "encoder", "split", str(file)]
    with out.open("wb") as stream:
        done = subprocess.run(command, stdout=stream, stderr=writer, cwd=ROOT, check=False)
    os.close(writer)
    shown = b""
    try:
        while data := os.read(reader, 4096):
            shown += data
    except OSError:  # the end of a terminal whose other side is closed
        pass
    os.close(reader)
    return shown.decode("ascii"), done.returncode


def test_progress_is_shown_on_a_terminal_only(tmp_path):
    """A large file tells how far it is, on standard error, if that is a terminal; then cleans up.

    The account of bytes follows in both cases.
    """
    file = tmp_path / "long.txt"
    file.write_bytes(b"TTAA 59001 90417 NIL=\r\n" + b"\x00" * 20_000_000 + b"TTBB 59001 90417 NIL=")
    shown, code = split_beside_a_terminal(file, tmp_path / "out", terminal=True)
    plain, _code = split_beside_a_terminal(file, tmp_path / "out", terminal=False)

    assert "\r 40%\r 81%\r     \r" in shown
    assert plain.startswith(f"{file}: 20,000,044 bytes = ")
    assert plain.replace("\n", "\r\n") in shown
    assert code == 0
    assert len((tmp_path / "out").read_text("ascii").splitlines()) == 3


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (
            gzip.compress(b"TTAA 59001 90417 NIL=", mtime=0),
            "is compressed (gzip); unpack it first.",
        ),
        ("TTAA 59001 90417 NIL=".encode("utf-16"), "is text in UTF-16; save it as plain text"),
        (b"AAXX 09004 90417 11570 62104=", "holds no upper-air report."),
        (b"", "holds no upper-air report."),
    ],
)
def test_split_of_a_file_without_reports(tmp_path, data, words):
    """A file that holds no report is said to hold none, and why where that can be told."""
    file = tmp_path / "traffic"
    file.write_bytes(data)
    result = run("split", str(file))

    assert words in result.stderr
    assert result.exit_code == (1 if data else 0)


def test_split_of_a_missing_file():
    """A file that is not there leaves with 3."""
    result = run("split", "nowhere.txt")

    assert result.exit_code == 3
    assert "Cannot read nowhere.txt" in result.stderr


# --- stations -------------------------------------------------------------------------------------


def test_built_in_stations_are_listed():
    """The invented stations are there without any list."""
    assert "90417 Harrow Tarn" in run("stations", "list").stdout
    assert json.loads(run("stations", "show", "90731", "--json").stdout)[0]["elevation"] == 2835.0


def test_added_station_is_found_by_date(tmp_path, data_folder):
    """A list is merged into the data folder and looked up by the day."""
    file = tmp_path / "list.csv"
    file.write_text(LIST + "90555,Old Place,50.0,-20.0,10,2001,2010\n", encoding="utf-8")

    added = run("stations", "add", str(file))

    assert added.exit_code == 0
    assert (data_folder / "stations.csv").exists()
    assert run("stations", "show", "90555", "--date", "2005-06-01").exit_code == 0
    later = run("stations", "show", "90555", "--date", "2020-06-01")
    assert later.exit_code == 1
    assert "aerogram stations add FILE" in later.stderr


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("add", "nowhere.csv"), 3),
        (("show", "9041"), 2),
        (("show", "90417", "--date", "yesterday"), 2),
        (("list", "--stations", "nowhere.csv"), 3),
    ],
)
def test_wrong_use_of_stations(arguments, code):
    """Missing lists and wrong numbers are told."""
    assert run("stations", *arguments).exit_code == code


# --- position and date of decoded reports ---------------------------------------------------------


def located(*arguments):
    return json.loads(run("decode", *arguments, "--json").stdout)["reports"][0]["located"]


def test_decoded_report_has_position_and_date(report):
    """Position of the catalogue, month as given, release on the day before."""
    place = located(str(report), "--date", "2031-07")

    assert (place["latitude"], place["longitude"]) == (53.4127, -18.2751)
    assert place["position_source"] == "built in"
    assert place["nominal_time"] == "2031-07-09T00:00:00Z"
    assert place["release_time"] == "2031-07-08T23:21:00Z"
    assert place["date_source"] == "given"


def test_date_of_a_file_name_and_of_a_neighbour(report, tmp_path):
    """A file name gives year and month, also to the report beside it."""
    named = tmp_path / "sounding_20310709.txt"
    named.write_bytes(report.read_bytes())
    other = tmp_path / "other.txt"
    other.write_text("TTAA 60001 90731 NIL=\n", encoding="ascii")

    document = json.loads(run("decode", str(named), str(other), "--json").stdout)

    assert [one["located"]["date_source"] for one in document["reports"]] == [
        "file name",
        "neighbour",
    ]


def test_bare_report_is_decoded_without_a_date(report):
    """Nothing gives the month: a note says so, the position is there, the exit code is 0."""
    result = run("decode", str(report))

    assert "note date-unknown" in result.stderr
    assert "Harrow Tarn, 53.41 N 18.28 W, 412 m (built in)" in result.stdout
    assert result.exit_code == 0


def test_unknown_station_stays_without_position(report, tmp_path):
    """No position is guessed; --stations gives one for this run."""
    text = report.read_text("ascii").replace("90417", "90999")
    file = tmp_path / "other.txt"
    file.write_text(text, encoding="ascii")
    stations = tmp_path / "list.csv"
    stations.write_text(LIST + "90999,New Place,50.0,-20.0,10,,\n", encoding="utf-8")

    assert "aerogram stations add FILE" in run("decode", str(file)).stderr
    assert located(str(file))["latitude"] is None
    assert located(str(file), "--stations", str(stations))["latitude"] == 50.0


def test_day_and_hour_of_the_heading(report, tmp_path):
    """An unreadable day is that of the heading; a correction is told with its number."""
    text = "USNO01 XNOR 090000 CCB\r\n" + report.read_text("ascii").replace("59001", "/////")
    file = tmp_path / "corrected-2031-07.txt"
    file.write_text(text, encoding="ascii")
    document = json.loads(run("decode", str(file), "--json").stdout)
    place = document["reports"][0]["located"]

    assert place["nominal_time"] == "2031-07-09T00:00:00Z"
    assert place["day_source"] == "heading"
    assert document["reports"][0]["parts"][0]["heading"] == "USNO01 XNOR 090000 CCB"
    assert "CCB (corrected reports, number 2)" in run("decode", str(file)).stdout
    undated = tmp_path / "corrected.txt"
    undated.write_text(text, encoding="ascii")
    assert "day 9, 00 UTC (of the heading)" in run("decode", str(undated)).stdout


def test_heading_of_another_hour(report, tmp_path):
    """A heading of another hour than the report is told; the figures of the report count."""
    text = "USNO01 XNOR 091200\r\n" + report.read_text("ascii")
    file = tmp_path / "other-2031-07-09.txt"
    file.write_text(text, encoding="ascii")

    assert "heading-day-mismatch" in run("decode", str(file)).stderr
    assert located(str(file))["nominal_time"] == "2031-07-09T00:00:00Z"


def test_explain_tells_the_place(report, tmp_path):
    """The catalogue and --stations serve explain as they serve decode."""
    text = report.read_text("ascii").replace("90417", "90999")
    file = tmp_path / "other.txt"
    file.write_text(text, encoding="ascii")
    stations = tmp_path / "list.csv"
    stations.write_text(LIST + "90999,New Place,50.0,-20.0,10,,\n", encoding="utf-8")
    shown = run("explain", str(file), "--stations", str(stations), "--date", "2031-07").stdout
    document = json.loads(run("explain", str(report), "--json").stdout)

    assert shown.splitlines()[0].startswith("New Place, 50 N 20 W, 10 m")
    assert document["reports"][0]["located"]["name"] == "Harrow Tarn"


def test_ship_has_the_position_of_its_report():
    """A ship says itself where it is."""
    place = located(str(TRAFFIC / "calder-wren-corrected.txt"))

    assert place["station"] == "QCW07"
    assert (place["latitude"], place["longitude"]) == (55.1, -22.5)
    assert place["position_source"] == "report"


def test_wrong_date_is_wrong_use(report):
    """--date is a month or a day."""
    assert run("decode", str(report), "--date", "July").exit_code == 2


def test_text_to_bufr_takes_the_position_of_the_catalogue(report, tmp_path):
    """A message made from a text report has the position of its station, or says it has none."""
    text = report.read_text("ascii").replace("90417", "90999")
    file = tmp_path / "other.txt"
    file.write_text(text, encoding="ascii")
    stations = tmp_path / "list.csv"
    stations.write_text(LIST + "90999,New Place,50.0,-20.0,10,,\n", encoding="utf-8")
    out = tmp_path / "other.bufr"
    command = ("encode", str(file), "--to", "bufr", "--date", "2031-07-09", "-o", str(out))

    assert "aerogram stations add FILE" in run(*command).stderr
    result = run(*command, "--stations", str(stations))
    lines = run("explain", str(out)).stdout.splitlines()

    assert "station-not-in-catalogue" not in result.stderr
    assert [
        " ".join(line.split()) for line in lines if "0 05 001" in line or "0 06 001" in line
    ] == [
        "0 05 001 latitude 50 deg",
        "0 06 001 longitude -20 deg",
    ]


@pytest.mark.parametrize(
    "command",
    [
        ("decode",),
        ("explain",),
        ("archive",),
        ("convert",),
        ("encode",),
        ("stations", "show"),
        ("stations", "list"),
    ],
)
def test_every_command_that_places_a_station_takes_a_list(command):
    """The same option everywhere."""
    assert "--stations FILE" in run(*command, "--help").stdout


def test_conversion_knows_the_added_stations(report, tmp_path):
    """A station that was added to the catalogue is known to a conversion too."""
    folder = tmp_path / "in"
    folder.mkdir()
    text = report.read_text("ascii").replace("90417", "90999")
    (folder / "traffic_20310709.txt").write_text(text, encoding="ascii")
    stations = tmp_path / "list.csv"
    stations.write_text(LIST + "90999,New Place,50.0,-20.0,10,,\n", encoding="utf-8")

    # all of it is refused
    assert run("convert", str(folder), "--to", str(tmp_path / "before")).exit_code == 1
    assert not list((tmp_path / "before").rglob("*90999*.nc"))
    assert run("stations", "add", str(stations)).exit_code == 0
    assert run("convert", str(folder), "--to", str(tmp_path / "after")).exit_code == 0
    assert list((tmp_path / "after").rglob("*90999*.nc"))
