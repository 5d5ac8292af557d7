"""BUFR among the bulletins of a flight: whole, first, NIL, corrected, alone, framed."""

from __future__ import annotations

import io
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from encoder.bulletin.stream import split_bytes
from encoder.cli import cli
from encoder.formats.bufr.changes import message_changes
from encoder.formats.bufr.read import read_soundings

ROOT = Path(__file__).resolve().parents[2]
FLIGHT = ROOT / "samples" / "flights" / "halden-dome"
RISING = ROOT / "samples" / "traffic" / "harrow-tarn-rising"
HEAD = ("--centre", "XNOR", "--area", "ZZ")


def run(*arguments):
    return CliRunner().invoke(cli, [*map(str, arguments)], catch_exceptions=False)


def soundings(data):
    return [one for result in read_soundings(io.BytesIO(data)) for one in result.value]


@pytest.fixture(scope="module")
def corrected(tmp_path_factory):
    """The flight with another temperature at the surface and in one row."""
    folder = tmp_path_factory.mktemp("flights") / "corrected"
    shutil.copytree(FLIGHT, folder)
    lines = (folder / "profile.csv").read_text("utf-8").splitlines(keepends=True)
    names = next(line for line in lines if line.startswith("time [s],")).split(",")
    cells = lines[-1].split(",")
    place = names.index("air_temperature [degC]")
    cells[place] = f"{float(cells[place]) - 1.5:.2f}"
    lines[-1] = ",".join(cells)
    (folder / "profile.csv").write_text("".join(lines), "utf-8")
    return folder


@pytest.fixture(scope="module")
def sent(tmp_path_factory):
    """What was sent of the flight: files of text and BUFR."""
    folder = tmp_path_factory.mktemp("sent")
    result = run("bulletin", FLIGHT, *HEAD, "--out", folder, "--bufr", "--envelope")
    assert result.exit_code == 0, result.stderr
    return folder


def files(folder, kind):
    return sorted(folder.glob(f"A_{kind}*"))


def test_whole_set_with_bufr(sent):
    """Text parts and the message of the whole flight, each under its heading and name."""
    assert len(files(sent, "U")) == 2
    (name,) = files(sent, "I")
    assert name.name.startswith("A_IUSA01XNOR201200_C_XNOR_2031")
    (sounding,) = soundings(name.read_bytes())
    assert (sounding.header.update, sounding.heading) == (0, "IUSA01 XNOR 201200")


def test_correction_counts_up_and_lists_what_changed(sent, corrected, tmp_path):
    """Heading CCA, update sequence number 1, every change shown before anything is written."""
    (earlier,) = files(sent, "I")
    words = [word for name in (*files(sent, "U"), earlier) for word in ("--correct", name)]
    result = run("bulletin", corrected, *HEAD, *words, "--bufr", "--out", tmp_path)

    assert result.exit_code == 0, result.stderr
    (name,) = files(tmp_path, "I")
    (sounding,) = soundings(name.read_bytes())
    assert sounding.header.update == 1
    assert sounding.heading == "IUSA01 XNOR 201200 CCA"
    assert "changes BUFR level" in result.stderr
    assert "temperature:" in result.stderr
    again = run("bulletin", FLIGHT, *HEAD, "--correct", name, "--no-text", "-o", tmp_path / "x")
    assert again.exit_code == 0, again.stderr
    (second,) = soundings((tmp_path / "x").read_bytes())
    assert (second.header.update, second.heading) == (2, "IUSA01 XNOR 201200 CCB")


def test_correction_without_the_earlier_message_counts_by_its_indicators(sent, corrected, tmp_path):
    """With the text alone: --used tells how many corrections went out."""
    words = [word for name in files(sent, "U") for word in ("--correct", name)]
    result = run("bulletin", corrected, *HEAD, *words, "--used", "CCA", "--bufr", "--out", tmp_path)
    assert result.exit_code == 0, result.stderr
    (sounding,) = soundings(files(tmp_path, "I")[0].read_bytes())
    assert (sounding.header.update, sounding.heading) == (2, "IUSA01 XNOR 201200 CCB")


def test_correction_that_changes_nothing_or_of_another_is_refused(sent, tmp_path):
    """Nothing is written, and the reason is told."""
    (earlier,) = files(sent, "I")
    same = run("bulletin", FLIGHT, *HEAD, "--correct", earlier, "--no-text", "-o", tmp_path / "x")
    assert same.exit_code == 1
    assert "correction-changes-nothing" in same.stderr
    other = ROOT / "samples" / "flights" / "saltmere-point"
    result = run("bulletin", other, *HEAD, "--correct", earlier, "--no-text", "-o", tmp_path / "x")
    assert result.exit_code == 1
    assert "correction-of-another" in result.stderr
    assert not (tmp_path / "x").exists()


def test_first_message_then_the_whole_flight(tmp_path):
    """A flight that rises gives IUK up to 100 hPa with parts A and B; at the end comes IUS."""
    result = run("bulletin", RISING, *HEAD, "--early", "--bufr", "--out", tmp_path)
    assert result.exit_code == 0, result.stderr
    (name,) = files(tmp_path, "IUK")
    (sounding,) = soundings(name.read_bytes())
    assert sounding.levels["air_pressure"].min() >= 100.0
    assert len(files(tmp_path, "US")) == len(files(tmp_path, "UK")) == 1
    assert run("bulletin", RISING, *HEAD, "--no-text", "-o", tmp_path / "x").exit_code == 0
    (whole,) = soundings((tmp_path / "x").read_bytes())
    assert whole.heading.startswith("IUS")
    assert whole.levels["air_pressure"].min() < 100.0


def test_nil_in_bufr(tmp_path):
    """NIL in text and in BUFR."""
    result = run("bulletin", FLIGHT, *HEAD, "--nil", "--bufr", "--out", tmp_path)
    assert result.exit_code == 0, result.stderr
    (sounding,) = soundings(files(tmp_path, "I")[0].read_bytes())
    assert sounding.nil


@pytest.mark.parametrize("how", [("--batch", "00"), ("--batch", "01"), ("--batch", "AN")])
def test_bufr_among_framed_messages(how, tmp_path):
    """Files and sockets hold text and BUFR one after another; the message is read out of them."""
    path = tmp_path / "batch"
    result = run("bulletin", FLIGHT, *HEAD, "--bufr", *how, "-o", path)
    assert result.exit_code == 0, result.stderr
    data = path.read_bytes()
    (sounding,) = soundings(data)
    assert sounding.wmo_index == "90731"
    assert [piece.kind for piece in split_bytes(data) if piece.kind == "report"] == ["report"] * 2
    kind = {"AN": b"BI"}.get(how[1], how[1].encode())
    assert data[: data.index(b"IUSA01")].count(kind) >= 1


def test_bufr_alone_and_wrong_use(tmp_path):
    """Alone to a file; with text it needs a form that can hold both."""
    assert (
        run("bulletin", FLIGHT, "--centre", "XNOR", "--no-text", "-o", tmp_path / "x").exit_code
        == 0
    )
    assert (tmp_path / "x").read_bytes().startswith(b"IUSA01 XNOR 201200\r\r\nBUFR")
    for words in (("--bufr",), ("--bufr", "--json"), ("--no-text", "--json")):
        assert run("bulletin", FLIGHT, *HEAD, *words).exit_code == 2


def test_changes_of_messages(sent):
    """A message and itself: nothing; levels and facts that differ are named."""
    (one,) = soundings(files(sent, "I")[0].read_bytes())

    assert message_changes(one, one).value == ()
