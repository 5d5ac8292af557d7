"""Real headings, file names and reports, and the published tables of WMO-No. 386.

Sources, each named at its test: the list of headings in the public repository wmo-im/GTStoWIS2
(AHL_examples.txt); file names of the open data server of a European service; the instructions for
the indicator BBB (WMO-No. 386, excerpt on old.wmo.int); Tables B1 and C2 of Attachment II-5 of the
same manual; the paraphrase of the message structure at weather.gov/tg/head; the description of the
flag field of the program mkfldsep (NCEPLIBS documentation); and the real reports of
``data/soundings.json``, each with its origin there.
"""

from __future__ import annotations

import json
import textwrap
from pathlib import Path

import pytest

from encoder.bulletin.areas import ship_area
from encoder.bulletin.envelope import Bulletin, bulletin_text, message
from encoder.bulletin.file_names import date_in_name, parse_file_name
from encoder.bulletin.heading import DATA_TYPES, Heading, data_type_of, parse_heading
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


@pytest.mark.parametrize(
    ("data_type", "form", "parts"),
    [
        ("US", "TEMP", "A"),
        ("UK", "TEMP", "B"),
        ("UL", "TEMP", "C"),
        ("UE", "TEMP", "D"),
        ("UP", "PILOT", "A"),
        ("UG", "PILOT", "B"),
        ("UH", "PILOT", "C"),
        ("UQ", "PILOT", "D"),
    ],
)
def test_data_types_of_the_manual(data_type: str, form: str, parts: str) -> None:
    """T1T2 by form and part, the same for land, ship and mobile stations (386, II-5, Table B1)."""
    families = {"TEMP": "TUI", "PILOT": "PQE"}[form]
    for family in families:
        assert data_type_of(family * 2 + parts * 2) == data_type
    assert DATA_TYPES[data_type].title == f"{form}, part {parts}"


@pytest.mark.parametrize(
    ("data_type", "openings"),
    [
        ("UZ", {"XXAA", "XXBB", "XXCC", "XXDD"}),
        ("UM", {one * 2 + part * 2 for one in "TUI" for part in "AB"}),
        ("UF", {one * 2 + part * 2 for one in "TUI" for part in "CD"}),
        ("UI", {one * 2 + part * 2 for one in "PQE" for part in "AB"}),
        ("UY", {one * 2 + part * 2 for one in "PQE" for part in "CD"}),
        ("CU", {"CLIMAT TEMP"}),
        ("CE", {"CLIMAT TEMP SHIP"}),
    ],
)
def test_other_data_types_of_the_manual(data_type: str, openings: set[str]) -> None:
    """Drops, two parts together in national exchange, monthly means (386, II-5, Table B1)."""
    assert set(DATA_TYPES[data_type].holds) == openings


@pytest.mark.parametrize(
    ("letter", "inside"),
    [
        ("A", [(29.0, -34.0), (-59.0, 69.0)]),
        ("B", [(89.0, 71.0), (6.0, 179.0)]),
        ("C", [(4.0, -119.0), (-59.0, -36.0)]),
        ("D", [(89.0, -179.0), (6.0, -36.0)]),
        ("E", [(4.0, 71.0), (-59.0, -121.0)]),
        ("F", [(89.0, -34.0), (31.0, 69.0)]),
        ("J", [(-61.0, 0.0), (-89.0, 179.0)]),
    ],
)
def test_sea_areas_of_the_manual(letter: str, inside: list[tuple[float, float]]) -> None:
    """A2 of ships, two corners of each area (386, II-5, Table C2)."""
    assert [ship_area(*place) for place in inside] == [f"V{letter}"] * 2


@pytest.mark.parametrize(("indicator", "length"), [("", 18), ("CCA", 22)])
def test_length_of_a_heading(indicator: str, length: int) -> None:
    """A heading has 18 characters, 22 with BBB (weather.gov/tg/head)."""
    assert len(Heading("US", "XX", "01", "XNOR", 9, 0, 0, indicator).text) == length


def test_structure_of_a_message() -> None:
    """Starting line, heading, text and end as weather.gov/tg/head shows them."""
    heading = Heading("US", "XX", "01", "XNOR", 9, 12, 0)
    (one, *_others) = SOUNDINGS
    report = one["raw"].rstrip("=")
    made = message(bulletin_text(Bulletin(heading, (report,))).value, channel=1)
    assert made == enveloped(report, 1, end="=")


@pytest.mark.parametrize("field", ["####018000042####\n", "####02300000000042####\n"])
def test_flag_field_of_the_program(field: str) -> None:
    """Both variants of the block before a bulletin are framing (NCEPLIBS, mkfldsep)."""
    text = f"{field}USXX01 XNOR 091200\r\r\nTTAA 59121 90417 NIL=\r\r\n"
    pieces = split_bytes(text.encode("ascii") * 2)
    assert [one.text for one in reports(pieces)] == [b"TTAA 59121 90417 NIL="] * 2
    assert [one for one in pieces if one.kind is Kind.UNREAD] == []


def enveloped(raw: str, number: int, *, end: str = "") -> bytes:
    """Return a report in the structure of weather.gov/tg/head, in lines of 69 characters."""
    body = "\r\r\n".join(textwrap.wrap(raw, 69, break_on_hyphens=False))
    text = f"\x01\r\r\n{number:03d}\r\r\nUSXX{number:02d} XNOR 091200\r\r\n{body}{end}\r\r\n\x03"
    return text.encode("ascii")


def test_real_reports_in_a_stream() -> None:
    """Twenty-four real parts (data/soundings.json), with and without ``=``, come out unchanged."""
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
    """The same parts (data/soundings.json) without any envelope, whatever stands between them."""
    texts = [one["raw"].rstrip("=") for one in SOUNDINGS]
    found = list(reports(split_bytes(between.join(texts).encode("ascii"))))
    assert [one.text.decode("ascii").rstrip("= ") for one in found] == [
        one.strip() for one in texts
    ]
