"""Traffic that holds coded reports and BUFR messages side by side."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from encoder.bulletin.mixed import apart, opening_of_report, report_beside_messages
from encoder.cli import cli
from encoder.diagnostics import Diagnostic
from encoder.formats.bufr.stream import find_messages_in

FLIGHTS = Path(__file__).parents[2] / "samples" / "flights"
REPORT = b"TTAA 59001 90417 99968 13850 18004 00089 ///// /////="


def message(body: bytes = b"TTAA 59001 90417 99968 13850") -> bytes:
    """Return what has the frame of a message and holds the letters of a report."""
    return b"BUFR" + (12 + len(body)).to_bytes(3, "big") + b"\x04" + body + b"7777"


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"", False),
        (message(), False),
        (message() * 3, False),
        (b"\x01\r\r\n001\r\r\nIUSA01 XNOR 090000\r\r\n" + message() + b"\r\r\n\x03", False),
        (REPORT + message(), True),
        (message() + b"\r\r\n\x03" + REPORT + message(), True),
        (message() + REPORT, True),
        (message(b"x" * 300_000) + b" " * 300_000 + REPORT + message(), True),
        (message() + b"THE BUFR MESSAGE AND TTAA OF 12 UTC WERE GOOD\r\n" + message(), False),
        (b"BUFR\xff\xff\xff\x04 cut in the middle", False),
    ],
)
def test_reports_beside_messages(data: bytes, *, expected: bool) -> None:
    """Letters inside a message are none of a report; before, between and after it they are."""
    assert report_beside_messages(data) is expected


def test_opening_of_a_report() -> None:
    """Letters with a plausible time group."""
    assert opening_of_report(b"xx " + REPORT) == 3
    assert opening_of_report(b"TTAA AND TTBB") is None


def test_traffic_is_taken_apart() -> None:
    """Every offset stays: what stands in one of the two is blank in the other, but for framing."""
    head = b"\x01\r\r\n001\r\r\nIUSA01 XNOR 090000\r\r\n"
    data = head + message() + b"\r\r\n\x03" + REPORT + b"\r\r\n" + message()
    text, binary = apart(data)

    assert len(text) == len(binary) == len(data)
    assert (text.find(b"BUFR"), text.find(REPORT)) == (-1, data.find(REPORT))
    assert (binary.find(REPORT), binary.count(message())) == (-1, 2)
    assert binary.startswith(head + message())
    assert apart(REPORT) == (REPORT, b"")
    assert apart(b"THE BUFR MESSAGE") == (b"THE BUFR MESSAGE", b"")


@pytest.mark.parametrize("gap", [b"\r\r\n" + REPORT + b"\r\r\n", b" " * 200_000 + REPORT])
def test_reports_in_a_stream_of_messages_are_told(gap: bytes) -> None:
    """Reading messages alone tells, once, where a coded report stands beside them."""
    data = message() + gap + message() + REPORT
    told = [one for one in find_messages_in(data) if isinstance(one, Diagnostic)]
    assert [(one.code, one.span) for one in told] == [
        ("bufr-text-beside", (data.find(REPORT, 40), data.find(REPORT, 40) + 4))
    ]


def run(*arguments: str, data: bytes | None = None) -> Result:
    """Run a command."""
    return CliRunner().invoke(cli, list(arguments), input=data, catch_exceptions=False)


@pytest.fixture
def mixed(tmp_path: Path) -> Path:
    """A file with a message of one station, then the text of another."""
    binary = tmp_path / "message.bufr"
    harrow, halden = (str(FLIGHTS / name) for name in ("harrow-tarn", "halden-dome"))
    head = ("--centre", "XNOR", "--area", "ZZ", "--envelope")
    assert (
        run("encode", harrow, "--to", "bufr", "--bulletin", "XNOR", "-o", str(binary)).exit_code
        == 0
    )
    text = run("bulletin", halden, *head).stdout_bytes
    file = tmp_path / "in" / "traffic_20310720.txt"
    file.parent.mkdir()
    file.write_bytes(binary.read_bytes() + text)
    return file


def test_decode_reads_both(mixed: Path) -> None:
    """A file with text behind a message is decoded whole; from a pipe the text is told."""
    result = run("decode", str(mixed), "--date", "2031-07")
    assert "station 90417  day 9, 00 UTC" in result.stdout
    assert "station 90731  day 20, 12 UTC" in result.stdout

    piped = run("decode", "-", data=mixed.read_bytes())
    assert "90417" in piped.stdout
    assert "warning bufr-text-beside" in piped.stderr


def test_verify_compares_both_with_the_flight(tmp_path: Path) -> None:
    """Text and message of a flight in one file: the verdict of the text and the agreement."""
    harrow = str(FLIGHTS / "harrow-tarn")
    binary = tmp_path / "message.bufr"
    assert run("encode", harrow, "--to", "bufr", "-o", str(binary)).exit_code == 0
    text = run("encode", harrow).stdout_bytes
    both = tmp_path / "both"
    both.write_bytes(text + binary.read_bytes())

    document = json.loads(run("verify", harrow, str(both), "--json").stdout)
    piped = run("verify", harrow, "-", "--json", data=both.read_bytes())

    assert document == json.loads(piped.stdout)
    assert document["verdict"]["may_be_sent"]
    assert [one["agree"] for one in document["agreements"]] == [True]


def test_conversion_reads_both(mixed: Path, tmp_path: Path) -> None:
    """The same file converted gives both stations, and no byte is refused."""
    result = run("convert", str(mixed), "--to", str(tmp_path / "out"))
    assert result.exit_code == 0
    assert {path.stem for path in (tmp_path / "out").rglob("*.nc")} == {
        "90417",
        "90731",
    }
    assert "refused for" not in result.stdout
