"""Abbreviated headings, their indicators and areas, and what may stand under them."""

from __future__ import annotations

import pytest

from encoder.bulletin.areas import (
    SEA_AREAS,
    area_name,
    quarter_of_globe,
    ship_area,
    territories,
)
from encoder.bulletin.examine import examine
from encoder.bulletin.heading import (
    DATA_TYPES,
    Heading,
    compose_heading,
    data_type_of,
    describe_heading,
    heading_fits,
    heading_for,
    parse_heading,
    report_name,
)
from encoder.bulletin.indicator import explain_indicator, next_indicator, segment_indicator
from encoder.bulletin.openings import FAMILIES, MONTHLY, PARTS, form_of, part_of
from encoder.bulletin.stream import split_bytes

HEADING = Heading("US", "XX", "01", "XNOR", 9, 0, 0)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("USXX01 XNOR 090000", HEADING),
        ("usxx01 xnor 090000", HEADING),
        ("  USXX01  XNOR\t090000Z ", HEADING),
        (
            "UKXX20 XNOR 311259 CCA",
            Heading("UK", "XX", "20", "XNOR", 31, 12, 59, "CCA"),
        ),
    ],
)
def test_headings_are_read(text: str, expected: Heading) -> None:
    """T1T2A1A2ii CCCC YYGGgg and BBB are read, capitals or not."""
    assert parse_heading(text) == (expected, ())


@pytest.mark.parametrize("heading", [HEADING, Heading("CU", "UK", "02", "XNOR", 1, 12, 5, "PZC")])
def test_headings_go_both_ways(heading: Heading) -> None:
    """What is composed is read as the same heading."""
    assert parse_heading(compose_heading(heading)).value == heading
    assert heading.text == compose_heading(heading)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("USXX1 XNOR 090000", "heading-malformed"),
        ("USXX01 XNOR 0900", "heading-malformed"),
        ("USXX01 XNOR 090000 CC", "heading-malformed"),
        ("USXX01 XNOR 320000", "heading-time-impossible"),
        ("USXX01 XNOR 092400", "heading-time-impossible"),
        ("USXX01 XNOR 090060", "heading-time-impossible"),
    ],
)
def test_malformed_headings(text: str, code: str) -> None:
    """A malformed heading gives no heading and one diagnostic."""
    value, found = parse_heading(text)
    assert value is None
    assert [one.code for one in found] == [code]


@pytest.mark.parametrize("indicator", ["COR", "RTD", "NEW"])
def test_unusual_indicators_are_kept(indicator: str) -> None:
    """An indicator of another form is kept, with a note."""
    value, found = parse_heading(f"USXX01 XNOR 090000 {indicator}")
    assert value is not None
    assert value.indicator == indicator
    assert [one.code for one in found] == ["heading-indicator-unusual"]


@pytest.mark.parametrize(
    "heading",
    [
        Heading("US", "XX", "1", "XNOR", 9, 0, 0),
        Heading("US", "XX", "01", "XNO", 9, 0, 0),
        Heading("US", "XX", "01", "XNOR", 109, 0, 0),
        Heading("US", "XX", "01", "XNOR", 9, 0, 0, "C"),
    ],
)
def test_headings_that_cannot_be_sent(heading: Heading) -> None:
    """An element of the wrong form is refused by name."""
    with pytest.raises(ValueError, match="heading's"):
        compose_heading(heading)


@pytest.mark.parametrize(
    ("letters", "expected"),
    [
        ("TTAA", "US"),
        ("TTBB", "UK"),
        ("TTCC", "UL"),
        ("TTDD", "UE"),
        ("UUAA", "US"),
        ("IIDD", "UE"),
        ("PPAA", "UP"),
        ("QQBB", "UG"),
        ("EECC", "UH"),
        ("PPDD", "UQ"),
        ("XXAA", "UZ"),
        ("XXBB", "UZ"),
        ("CLIMAT TEMP", "CU"),
        ("CLIMAT TEMP SHIP", "CE"),
    ],
)
def test_data_types(letters: str, expected: str) -> None:
    """A report goes under the heading of its own kind (WMO-No. 386, Table B1)."""
    assert data_type_of(letters) == expected
    heading = heading_for(letters, area="XX", number="01", centre="XNOR", day=9, hour=0)
    assert heading.data_type == expected
    assert heading_fits(heading, letters) == ()


def test_every_opening_has_a_data_type() -> None:
    """No report of the family is without a heading, and every type holds something."""
    openings = [family + part for family in FAMILIES for part in PARTS]
    assert {data_type_of(letters) for letters in [*openings, *MONTHLY]} == {
        letters for letters in DATA_TYPES if letters not in ("UM", "UF", "UI", "UY")
    }
    with pytest.raises(KeyError):
        data_type_of("AAXX")


def test_forms_of_openings() -> None:
    """The letters give form and part; other letters give none."""
    assert [form_of(one) for one in ("TTAA", "XXDD", "CLIMAT TEMP", "AAXX")] == [
        "FM 35",
        "FM 37",
        "FM 75",
        None,
    ]
    assert [part_of(one) for one in ("TTAA", "XXDD", "CLIMAT TEMP", "AAXX")] == [
        "A",
        "D",
        None,
        None,
    ]
    assert report_name("UUBB") == "FM 36 part B"


def test_heading_of_another_kind() -> None:
    """A heading that promises another report is told, with the right data type."""
    found = heading_fits(HEADING, "TTBB")
    assert [(one.code, one.expected) for one in found] == [("heading-content-mismatch", "UK")]
    national = Heading("UM", "XX", "01", "XNOR", 9, 0, 0)
    assert heading_fits(national, "TTBB") == ()
    assert [one.code for one in heading_fits(national, "PPBB")] == ["heading-content-mismatch"]


@pytest.mark.parametrize(
    ("used", "expected"),
    [
        ([], "CCA"),
        (["CCA"], "CCB"),
        (["CCA", "RRF", "CCC"], "CCD"),
        (["CCX"], "CCX"),
    ],
)
def test_next_indicator(used: list[str], expected: str) -> None:
    """Letters run from A to X, by kind."""
    assert next_indicator("CC", used) == expected


def test_segments_are_counted() -> None:
    """Segments run PAA to PAZ, PBA and on; the last one begins with PZ."""
    assert [segment_indicator(place, 30) for place in (0, 25, 26, 29)] == [
        "PAA",
        "PAZ",
        "PBA",
        "PZD",
    ]
    with pytest.raises(ValueError, match="segment"):
        segment_indicator(3, 3)


def test_indicators_in_words() -> None:
    """Every form of BBB has words."""
    assert explain_indicator("CCB") == "corrected reports, number 2"
    assert explain_indicator("RRZ") == "additional or late reports, more than 24 hours late"
    assert explain_indicator("PZA") == "segment of a large bulletin, the last one"
    assert "no indicator" in explain_indicator("NEW")


@pytest.mark.parametrize(
    ("latitude", "longitude", "expected"),
    [
        (0.0, 0.0, "VA"),
        (57.4, -17.0, "VF"),
        (40.0, 150.0, "VB"),
        (20.0, 100.0, "VB"),
        (-30.0, -100.0, "VC"),
        (30.0, -60.0, "VD"),
        (-40.0, 170.0, "VE"),
        (-40.0, -170.0, "VE"),
        (-65.0, 20.0, "VJ"),
    ],
)
def test_sea_areas(latitude: float, longitude: float, expected: str) -> None:
    """A1A2 of ships by position (WMO-No. 386, Table C2)."""
    assert ship_area(latitude, longitude) == expected


def test_sea_areas_cover_the_oceans() -> None:
    """North of 60 S every position lies in an area."""
    lacking = [
        (latitude, longitude)
        for latitude in range(-60, 91, 5)
        for longitude in range(-180, 180, 5)
        if not any(area.holds(latitude, longitude) for area in SEA_AREAS)
    ]
    assert lacking == []


def test_impossible_ships() -> None:
    """No such kind of ship, no such place."""
    with pytest.raises(KeyError):
        ship_area(0.0, 0.0, platform="S")
    with pytest.raises(ValueError, match="globe"):
        ship_area(91.0, 0.0)


@pytest.mark.parametrize(
    ("latitude", "longitude", "expected"),
    [(53.4, -18.3, "A"), (53.4, 18.3, "D"), (35.0, 140.0, "C"), (60.0, -150.0, "B"),
     (0.0, -10.0, "E"), (-45.0, 170.0, "K"), (-45.0, -70.0, "I")],
)  # fmt: skip
def test_quarters_of_the_globe(latitude: float, longitude: float, expected: str) -> None:
    """A2 of binary bulletins by position (WMO-No. 386, Table C3)."""
    assert quarter_of_globe(latitude, longitude) == expected


def test_names_of_areas() -> None:
    """A1A2 are territories for land types; for ships' types the letters mean a sea area."""
    assert territories()["NO"] == "Norway"
    assert all(len(one) == 2 and one.isalpha() for one in territories())
    assert area_name("US", "DL") == "Germany"
    assert area_name("CE", "VF") == "mobile ship, sea area F"
    assert area_name("US", "VF") == "mobile ship, sea area F"
    assert area_name("US", "QQ") == "area QQ, not in Table C1"


def test_description() -> None:
    """A heading in one sentence."""
    heading = Heading("UK", "XX", "01", "XNOR", 9, 12, 0, "CCA")
    assert describe_heading(heading) == (
        "TEMP, part B, more than one area, number 01, compiled by XNOR, for day 09 12:00 UTC; "
        "corrected reports, number 1."
    )


@pytest.mark.parametrize(
    ("data", "codes"),
    [
        (b"USXX01 XNOR 090000\r\r\nTTAA 59001 90417 99968=", []),
        (b"USXX01 XNOR 090000\r\r\nTTBB 59001 90417 99968=", ["heading-content-mismatch"]),
        (b"USXX01 XNOR 320000\r\r\nTTAA 59001 90417 99968=", ["heading-time-impossible"]),
        (b"TTAA 59001 90417 99968", ["report-not-ended"]),
        (b"TTAA 59001 90417 99968" + b" 12345" * 9000, ["report-cut", "text-outside-report"]),
        (b"USXX01 XNOR 090000\r\r\nNIL=", ["bulletin-nil"]),
        (b"NIL=", ["bulletin-nil"]),
        (b"hello world", ["text-outside-report"]),
        (b"BUFR\x00\x00\x0c\x047777", ["text-outside-report"]),
    ],
)
def test_pieces_are_examined(data: bytes, codes: list[str]) -> None:
    """Headings that lie, missing ends, NIL and unread text are told, once each."""
    found = [one for piece in split_bytes(data) for one in examine(piece).diagnostics]
    assert [one.code for one in found] == codes
