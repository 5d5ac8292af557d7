"""``aerogram bulletin`` and ``aerogram climat`` as a user meets them."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner
from referencing import Registry, Resource

from encoder.bulletin.envelope import read_batch
from encoder.bulletin.stream import split_bytes
from encoder.cli import cli

ROOT = Path(__file__).resolve().parents[2]
HARROW = str(ROOT / "samples" / "flights" / "harrow-tarn")
HALDEN = str(ROOT / "samples" / "flights" / "halden-dome")
TRAFFIC = ROOT / "samples" / "traffic"
HEAD = ("--centre", "XNOR", "--area", "ZZ")


def run(*arguments):
    return CliRunner().invoke(cli, list(arguments), catch_exceptions=False)


def test_set_is_in_the_order_of_sending_with_due_times():
    """Parts A, B, C and D come under US, UK, UL and UE; due times stand on standard error."""
    result = run("bulletin", HARROW, *HEAD)

    heads = [line for line in result.stdout.splitlines() if "XNOR" in line]
    assert heads == [f"{kind}ZZ01 XNOR 090000" for kind in ("US", "UK", "UL", "UE")]
    assert "parts A and B" in result.stderr
    assert result.exit_code == 0


def test_early_set_holds_parts_a_and_b():
    """A flight that has passed 100 hPa gives parts A and B, as in the sample text."""
    result = run("bulletin", str(TRAFFIC / "harrow-tarn-rising"), *HEAD, "--early")

    assert result.stdout == (TRAFFIC / "harrow-tarn-early.txt").read_text("ascii")
    assert "parts C and D" not in result.stderr


def test_early_set_below_100_hpa_is_refused():
    """A flight that has not passed 100 hPa gives no early set."""
    result = run("bulletin", HALDEN, *HEAD, "--early")

    assert "early-not-yet" in result.stderr
    assert result.stdout == ""
    assert result.exit_code == 1


def test_ship_stands_under_its_sea_area():
    """The heading of a ship follows from its position."""
    result = run("bulletin", str(TRAFFIC / "calder-wren"), "--centre", "XNOR")

    assert result.stdout.startswith("USVF01 XNOR 181200\nUUAA QCW07")


def test_parts_of_a_drop_are_one_file(tmp_path):
    """No file takes the place of another: the parts of a drop stand together in one."""
    folder = tmp_path / "sent"
    result = run(
        "bulletin",
        str(TRAFFIC / "survey-drop"),
        *HEAD,
        "--out",
        str(folder),
        "--channel",
        "7",
        "--envelope",
    )
    (file,) = folder.iterdir()

    assert file.name.startswith("A_UZZZ01XNOR181400_C_XNOR_20310118")
    assert [one.letters for one in split_bytes(file.read_bytes()) if one.letters] == [
        "XXAA",
        "XXBB",
    ]
    assert result.stdout.count("wrote ") == 1


def test_heading_without_area_is_an_error():
    """A land station needs A1A2, and nothing is written without."""
    result = run("bulletin", HARROW, "--centre", "XNOR")

    assert "report-under-no-heading" in result.stderr
    assert result.exit_code == 1


def test_own_heading_of_one_kind():
    """--heading replaces A1A2 and ii of one kind of report."""
    result = run("bulletin", HARROW, *HEAD, "--heading", "UKXX07")

    assert "UKXX07 XNOR 090000\nTTBB" in result.stdout


def test_nil_reports():
    """--nil gives NIL under every heading."""
    result = run("bulletin", HARROW, *HEAD, "--nil")

    assert result.stdout.count(" NIL=") == 4
    assert result.stderr.count("not reached") == 3


def test_indicator_of_late_reports():
    """--indicator stands in every heading, also in those of the early set."""
    whole = run("bulletin", HARROW, *HEAD, "--indicator", "RRB").stdout
    early = run("bulletin", HARROW, *HEAD, "--indicator", "RRA", "--early").stdout

    assert whole.count("ZZ01 XNOR 090000 RRB\n") == 4
    assert early.count("ZZ01 XNOR 090000 RRA\n") == 2


def test_correction_lists_what_changed_first(tmp_path):
    """A changed surface temperature is listed, and parts A and B go out again under CCB."""
    earlier = tmp_path / "earlier.txt"
    text = run("encode", HARROW).stdout
    earlier.write_text(text.replace("13827", "13627"), encoding="ascii")

    result = run(
        "bulletin", HARROW, *HEAD, "--correct", str(earlier), "--used", "CCA", "--regional"
    )

    assert "changes TTAA surface air_temperature: 13.6 degC -> 13.8 degC" in result.stderr
    heads = [line for line in result.stdout.splitlines() if "XNOR" in line]
    assert heads == ["USZZ01 XNOR 090000 CCB", "UKZZ01 XNOR 090000 CCB"]
    assert "51515 10181" in " ".join(result.stdout.split())


def test_correction_counts_on_from_the_headings_of_the_earlier_text(tmp_path):
    """A part sent under CCA goes out under CCB; one without indicator under CCA.

    Another sounding in the same text does not matter.
    """
    earlier = tmp_path / "earlier.txt"
    sent = run("bulletin", HARROW, *HEAD).stdout.replace("13827", "13627")
    sent = sent.replace("USZZ01 XNOR 090000", "USZZ01 XNOR 090000 CCA")
    earlier.write_text(run("encode", HALDEN).stdout + sent, encoding="ascii")

    result = run("bulletin", HARROW, *HEAD, "--correct", str(earlier))

    heads = [line for line in result.stdout.splitlines() if "XNOR" in line]
    assert heads == ["USZZ01 XNOR 090000 CCB", "UKZZ01 XNOR 090000 CCA"]
    assert result.exit_code == 0


def test_correction_of_a_part_alone(tmp_path):
    """Where the earlier text has part A alone, the others are no corrections, and that is said."""
    earlier = tmp_path / "earlier.txt"
    text = run("encode", HARROW, "--parts", "A").stdout
    earlier.write_text(text.replace("13827", "13627"), encoding="ascii")

    result = run("bulletin", HARROW, *HEAD, "--correct", str(earlier), "--cor")

    assert "warning correction-part-new: TTBB, TTCC, TTDD" in result.stderr
    heads = [line for line in result.stdout.splitlines() if "XNOR" in line]
    assert heads == [
        "USZZ01 XNOR 090000 CCA",
        "UKZZ01 XNOR 090000",
        "ULZZ01 XNOR 090000",
        "UEZZ01 XNOR 090000",
    ]
    assert result.stdout.count("COR") == 1


def test_correction_of_another_sounding_is_refused(tmp_path):
    """An earlier report of another station is no report to correct."""
    earlier = tmp_path / "earlier.txt"
    earlier.write_text(run("encode", HALDEN).stdout, encoding="ascii")

    result = run("bulletin", HARROW, *HEAD, "--correct", str(earlier))

    assert "correction-of-another" in result.stderr
    assert result.exit_code == 1


def test_files_have_the_names_of_the_convention(tmp_path):
    """Each bulletin goes into a file of its own, named by heading and time of the flight."""
    folder = tmp_path / "sent"
    result = run("bulletin", HARROW, *HEAD, "--out", str(folder), "--envelope", "--bufr")

    names = sorted(path.name for path in folder.iterdir())
    assert names == [
        "A_IUSA01XNOR090000_C_XNOR_20310709010328.bin",
        "A_UEZZ01XNOR090000_C_XNOR_20310709010328.txt",
        "A_UKZZ01XNOR090000_C_XNOR_20310709001653.txt",
        "A_ULZZ01XNOR090000_C_XNOR_20310709010328.txt",
        "A_USZZ01XNOR090000_C_XNOR_20310709001653.txt",
    ]
    data = (folder / names[-1]).read_bytes()
    assert data.startswith(b"\x01\r\r\nUSZZ01 XNOR 090000\r\r\nTTAA")
    assert data.endswith(b"=\r\r\n\x03")
    assert result.exit_code == 0


@pytest.mark.parametrize("form", ["00", "01", "AN"])
def test_batch_is_read_back(tmp_path, form):
    """A batch of each form splits into the four reports again, and its lengths lead through it."""
    file = tmp_path / "batch"
    result = run("bulletin", HARROW, *HEAD, "--batch", form, "--channel", "998", "-o", str(file))

    data = file.read_bytes()
    pieces = split_bytes(data)
    assert [one.letters for one in pieces if one.letters] == ["TTAA", "TTBB", "TTCC", "TTDD"]
    assert not [one for one in pieces if str(one.kind) == "unread"]
    frames = read_batch(data).raise_for_errors()
    assert [(one.form, one.body.count(b"=")) for one in frames] == [(form, 1)] * 4
    assert (b"\r\r\n000\r\r\nULZZ01" in data) == (form != "01")
    assert max(map(len, data.split(b"\r\r\n"))) <= 69
    assert result.exit_code == 0


def test_json_follows_its_schema():
    """--json validates against bulletins.schema.json."""
    document = json.loads(run("bulletin", HARROW, *HEAD, "--json").stdout)
    schema = json.loads((ROOT / "schemas" / "bulletins.schema.json").read_text("utf-8"))
    other = json.loads((ROOT / "schemas" / "diagnostic.schema.json").read_text("utf-8"))
    registry = Registry().with_resource(other["$id"], Resource.from_contents(other))

    faults = jsonschema.Draft202012Validator(schema, registry=registry).iter_errors(document)

    assert [fault.message for fault in faults] == []
    assert len(document["bulletins"]) == 4


@pytest.mark.parametrize(
    "wrong",
    [
        ("--centre", "no"),
        (*HEAD, "--number", "1"),
        (*HEAD, "--heading", "UK"),
        (*HEAD, "--heading", "SMXX01"),
        (*HEAD, "--heading", "UMXX01"),
        (*HEAD, "--early", "--nil"),
        (*HEAD, "--indicator", "QQQ"),
        (*HEAD, "--indicator", "PAA"),
        (*HEAD, "--used", "CCA"),
        (*HEAD, "--cor"),
        (*HEAD, "--regional"),
        (*HEAD, "--correct", HARROW, "--used", "RRA"),
        (*HEAD, "--correct", HARROW, "--indicator", "RRA"),
        (*HEAD, "--channel", "7"),
        (*HEAD, "--json", "--batch", "00"),
        (*HEAD, "--bufr"),
    ],
)
def test_wrong_use(wrong):
    """Wrong options leave with 2 and a sentence."""
    result = run("bulletin", HARROW, *wrong)

    assert result.exit_code == 2
    assert "Error:" in result.stderr


def test_monthly_report_of_the_sample():
    """The month at Harrow Tarn gives the golden CLIMAT TEMP, and says how many went in."""
    golden = ROOT / "tests" / "golden" / "traffic" / "harrow-tarn-climat.txt"
    result = run("climat", str(TRAFFIC / "harrow-tarn-2031-06.txt"), "--month", "2031-06")

    assert result.stdout == golden.read_text("utf-8")
    assert "58 soundings of 90417, 0 left out" in result.stderr


def test_monthly_report_of_flights_and_of_one_hour():
    """Flights of the month are taken, others left out and told."""
    result = run("climat", HARROW, HALDEN, "--month", "2031-07", "--hour", "0")

    assert result.stdout.startswith("CLIMAT TEMP 07031 90417")
    assert "1 sounding(s) of 2031-03 were left out of 2031-07" in result.stderr


@pytest.mark.parametrize(("month", "code"), [("July", 2), ("2031-05", 1)])
def test_month_without_soundings(month, code):
    """A month that is none is wrong use; a month without soundings gives nothing."""
    assert run("climat", HARROW, "--month", month).exit_code == code
