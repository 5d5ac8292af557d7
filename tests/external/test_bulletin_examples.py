"""Real headings, file names and reports, and the published tables of WMO-No. 386.

Sources, each named at its test: the list of headings in the public repository wmo-im/GTStoWIS2
(AHL_examples.txt); file names of the open data server of a European service; the instructions for
the indicator BBB (WMO-No. 386, excerpt on old.wmo.int); the paraphrase of the message structure at
weather.gov/tg/head; and the real reports of ``data/soundings.json``.
"""

from __future__ import annotations

import json
import textwrap
from pathlib import Path

import pytest

from encoder.bulletin.file_names import date_in_name, parse_file_name
from encoder.bulletin.heading import DATA_TYPES, Heading, parse_heading
from encoder.bulletin.indicator import next_indicator
from encoder.bulletin.pieces import Kind, reports
from encoder.bulletin.stream import split_bytes

SOUNDINGS = json.loads(
    (Path(__file__).parent / "data" / "soundings.json").read_text(encoding="utf-8")
)


@pytest.mark.parametrize(
    ("text", "title"),
    [
        ("USCN01 CYCB 180000 CCA", "TEMP, part A"),
        ("UKCN01 CYCB 180000 CCA", "TEMP, part B"),
        ("ULCN01 CYCB 180000 CCA", "TEMP, part C"),
        ("UECN01 CYCB 180000 CCA", "TEMP, part D"),
        ("UGCN01 CYCB 180000 CCA", "PILOT, part B"),
        ("UQCN01 CYCB 180000 CCA", "PILOT, part D"),
        ("UMHW40 PHLI 180000", "TEMP, parts A and B"),
        ("UFHW40 PHLI 180000", "TEMP, parts C and D"),
        ("USIN90 VOPB 180000", "TEMP, part A"),
        ("USBZ05 SBBR 151200", "TEMP, part A"),
    ],
)
def test_real_headings(text: str, title: str) -> None:
    """Headings seen on the circuits (wmo-im/GTStoWIS2, AHL_examples.txt) go both ways."""
    heading, found = parse_heading(text)
    assert found == ()
    assert heading is not None
    assert (heading.text, DATA_TYPES[heading.data_type].title) == (text, title)


def test_real_file_names() -> None:
    """Two names of files on the open data server of a European service, as published."""
    name = parse_file_name(
        "A_ISMD01LIIB210000RRA_C_EDZW_20220321001003_11987704.bin"
    ).raise_for_errors()
    assert name is not None
    assert name.heading == Heading("IS", "MD", "01", "LIIB", 21, 0, 0, "RRA")
    assert (name.originator, name.free, name.type) == ("EDZW", "11987704", "bin")

    local = "Z__C_EDZW_20210516120400_bda01,synop_bufr_GER_999999_999999__MW_466.bufr"
    assert parse_file_name(local).diagnostics == ()
    assert date_in_name(local) == (2021, 5, 16)


def test_indicator_sequence() -> None:
    """RRA, RRB and so on up to and including RRX (instructions for the indicator BBB, 2 a)."""
    sent: list[str] = []
    for _number in range(24):
        sent.append(next_indicator("RR", sent))
    assert "".join(text[-1] for text in sent) == "ABCDEFGHIJKLMNOPQRSTUVWX"
    assert {text[:2] for text in sent} == {"RR"}


def enveloped(raw: str, number: int, *, end: str = "") -> bytes:
    """Return a report in the structure of weather.gov/tg/head, in lines of 69 characters."""
    body = "\r\r\n".join(textwrap.wrap(raw, 69, break_on_hyphens=False))
    text = f"\x01\r\r\n{number:03d}\r\r\nUSXX{number:02d} XNOR 091200\r\r\n{body}{end}\r\r\n\x03"
    return text.encode("ascii")


def test_real_reports_in_a_stream() -> None:
    """Twenty-four real parts, with and without terminator, come out of a stream as they went in."""
    data = b"".join(enveloped(one["raw"], place) for place, one in enumerate(SOUNDINGS))
    pieces = split_bytes(data)
    found = list(reports(pieces))

    assert [" ".join(one.text.decode("ascii").split()) for one in found] == [
        " ".join(one["raw"].split()) for one in SOUNDINGS
    ]
    assert [one.letters for one in found] == [one["part"] for one in SOUNDINGS]
    assert [one for one in pieces if one.kind is Kind.UNREAD] == []
    assert data == b"".join(one.text for one in pieces)


@pytest.mark.parametrize("between", ["\n", " ", "\r\r\n", "=\n", "\x00\x00", "\n> "])
def test_real_reports_one_after_another(between: str) -> None:
    """The same without any envelope, whatever stands between them; free text does not matter."""
    texts = [one["raw"].rstrip("=") for one in SOUNDINGS]
    found = list(reports(split_bytes(between.join(texts).encode("ascii"))))
    assert [one.text.decode("ascii").rstrip("= ") for one in found] == [
        one.strip() for one in texts
    ]
