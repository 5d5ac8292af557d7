"""The family of forms: positions, call signs, blocks of winds, altitudes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from encoder.bulletin.openings import FAMILIES, PARTS
from encoder.codes import FORMS, form_of_letters, part_of_letters
from encoder.codes.content import PartContent, Record, SectionContent
from encoder.codes.declare import Context
from encoder.codes.fm35 import LOWER_STANDARD
from encoder.codes.groups_position import (
    CALL_SIGN,
    ELEVATION,
    LONGITUDE,
    MARSDEN,
    marsden_square,
    quadrant_of,
)
from encoder.codes.groups_wind_levels import FIXED_ALTITUDES, altitude_step
from encoder.levels.table import LevelKind
from encoder.report import decode_reports, encode_content
from encoder.report.explain import explain, explanation_text
from encoder.resolution import KNOT

UNTOLD = ("parts-missing", "repair-proposed")
"""What is told of other things than the group at hand."""


def codes(text: str) -> list[str]:
    """Return the diagnostic codes of a text with one part."""
    return [one.code for one in decode_reports(text).diagnostics if one.code not in UNTOLD]


def records(text: str, section: str) -> list[dict[str, Any]]:
    """Return the values of the records of a section."""
    (report,), _found = decode_reports(text)
    return [dict(record.values) for record in report.parts[0].content.records(section)]


def test_letters() -> None:
    """MiMi of FM 32 to 38 with AA, BB, CC and DD (code table 2582)."""
    expected = {
        "FM 32": "PP", "FM 33": "QQ", "FM 34": "EE", "FM 35": "TT", "FM 36": "UU",
        "FM 37": "XX", "FM 38": "II",
    }  # fmt: skip
    for number, letters in expected.items():
        assert [letters + part * 2 for part in "ABCD"] == [
            part.letters for part in FORMS[number].parts
        ]
        form = form_of_letters(letters + "BB")
        assert form is not None
        assert number == form.number
    assert (form_of_letters("AAXX"), part_of_letters("AAXX")) == (None, None)


def test_other_letters() -> None:
    """A part read with the declaration of another one tells that its letters are wrong."""
    (opening, *_rest) = FORMS["FM 35"].part("A").sections[0].records[0].uses
    assert [fault.code for fault in opening.group.decode("TTBB", Context()).faults] == [
        "letters-wrong"
    ]


# --- position ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("latitude", "longitude", "square"),
    [
        (25.6, -77.5, 80),  # bulletin UZNT13 KWBC 131820
        (29.4, -86.1, 81),  # bulletin UZNT13 KWBC 211330
        # ICOADS release 1, supplement G: square 1 begins at the equator and goes west from 0
        (0.0, -0.1, 1),
        (9.9, -9.9, 1),
        (0.0, -10.0, 2),
        (0.0, 0.0, 36),
        (9.9, 9.9, 36),
        (10.0, -5.0, 37),
        (79.9, 9.9, 288),
        # numbers beyond these from memory
        (-0.1, -0.1, 300),
        (-0.1, 0.1, 335),
        (-89.0, 5.0, 623),
        (80.0, -5.0, 901),
        (90.0, 5.0, 936),
        (5.0, 180.0, 19),
        (5.0, -180.0, 18),
    ],
)
def test_marsden_square(latitude: float, longitude: float, square: int) -> None:
    """Code table 2590: squares of 10 degrees counted westward from Greenwich."""
    assert square == marsden_square(latitude, longitude)


def test_every_marsden_square_once() -> None:
    """The 648 squares of the globe have 648 numbers."""
    numbers = [
        marsden_square(latitude + (5.0 if latitude >= 0 else -5.0), longitude + 5.0)
        for latitude in (*range(0, 90, 10), *range(-80, 0, 10), -0.1)
        for longitude in range(-180, 180, 10)
    ]
    assert len(set(numbers)) == 18 * 36


@pytest.mark.parametrize(
    ("latitude", "longitude", "quadrant"),
    [(1.0, 1.0, "1"), (-1.0, 1.0, "3"), (-1.0, -1.0, "5"), (1.0, -1.0, "7"), (0.0, 0.0, "1")],
)
def test_quadrant(latitude: float, longitude: float, quadrant: str) -> None:
    """Code table 3333: 1 north-east, 3 south-east, 5 south-west, 7 north-west."""
    assert quadrant == quadrant_of(latitude, longitude)


def test_every_longitude_figure() -> None:
    """Every QcLoLoLoLo comes back as it was, or is told."""
    for figures in range(100_000):
        text = f"{figures:05d}"
        read = LONGITUDE.decode(text, Context(said={"latitude": 12.3}))
        if not read.faults:
            assert text == LONGITUDE.encode(read.values, Context()).text
        else:
            assert int(text[0]) not in (1, 3, 5, 7) or int(text[1:]) > 1800


def test_position_as_a_check() -> None:
    """A Marsden square that does not fit is told, with the one that does, and kept."""
    good = "UUAA QCW07 72121 99256 70775 08057 NIL="
    assert codes(good) == []
    bad = good.replace("08057", "08157")
    (report,), found = decode_reports(bad)
    assert [(one.code, one.expected) for one in found if one.code not in UNTOLD] == [
        ("marsden-square", "08057")
    ]
    assert bad.split() == encode_content([report.parts[0].content]).value.split()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("UUAA ///// 72121 99256 70775 08057 NIL=", ["call-sign-unknown"]),
        ("UUAA QCW07 72121 99956 70775 08057 NIL=", ["position-unknown"]),
        ("UUAA QCW07 72121 99256 20775 08057 NIL=", ["position-unknown"]),
        ("UUAA QCW07 72121 99256 71805 08057 NIL=", ["position-unknown"]),
        ("UUAA QCW07 72121 98256 70775 08057 NIL=", ["indicator-wrong"]),
        ("UUAA QCW07 72121 99256 70775 ///// NIL=", []),
        ("IIAA KES01 72121 99256 70775 08057 04129 NIL=", ["figures-impossible"]),
        ("IIAA KES01 72121 99256 70775 08057 04/21 NIL=", ["figures-partly-missing"]),
        ("IIAA KES01 72121 99256 70775 08057 ///// NIL=", []),
    ],
)
def test_damaged_positions(text: str, expected: list[str]) -> None:
    """Each kind of damage to the identification is told."""
    assert expected == codes(text)


@pytest.mark.parametrize(
    ("elevation", "figure", "text"),
    [
        (412.0, "3", "04123"),
        (412.4, "1", "04121"),
        (304.8, "5", "10005"),
        (0.0, "8", "00008"),
        (None, "2", "////2"),
        (None, None, "/////"),
    ],
)
def test_elevation(elevation: float | None, figure: str | None, text: str) -> None:
    """Code table 1845: figures 1 to 4 for metres, 5 to 8 for feet."""
    coded = ELEVATION.encode({"elevation": elevation, "elevation_accuracy": figure}, Context())
    assert (text, ()) == (coded.text, coded.faults)


@pytest.mark.parametrize("sign", ["NIL", "NNNN", "ZCZC", "AB", "ABCDEFGHIJ", "QC-7", None])
def test_call_signs_that_cannot_be_sent(sign: str | None) -> None:
    """A call sign has three to nine letters and figures, and is no word of the transmission."""
    coded = CALL_SIGN.encode({"call_sign": sign}, Context())
    assert (coded.text, [fault.code for fault in coded.faults]) == ("/////", ["call-sign-unknown"])


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("part", PARTS)
def test_letters_that_open_a_part_are_no_call_sign(family: str, part: str) -> None:
    """A ship called TTAA would begin a report of its own: it is refused, and not read as sign."""
    coded = CALL_SIGN.encode({"call_sign": family + part}, Context())
    assert [fault.code for fault in coded.faults] == ["call-sign-unknown"]
    assert "cannot be a call sign" in coded.faults[0].message
    assert CALL_SIGN.look is not None
    assert CALL_SIGN.look.fullmatch(family + part) is None
    assert CALL_SIGN.look.fullmatch(family + part + "X") is not None


def test_identification_that_cannot_be_coded() -> None:
    """A missing call sign or position, and an elevation without figures, are told."""
    first = {"day": 22, "hour": 12, "wind_unit": "kt", "last_wind": "/"}
    identification = SectionContent("1", (Record("identification", first),))
    text, found = encode_content([PartContent("FM 38", "A", (identification,))])
    assert text == "IIAA ///// 7212/ 99/// ///// ///// /////=\n"
    assert [one.code for one in found] == [
        "call-sign-unknown",
        "position-unknown",
        "position-unknown",
    ]
    coded = ELEVATION.encode({"elevation": 20_000.0, "elevation_accuracy": "1"}, Context())
    assert [fault.code for fault in coded.faults] == ["value-not-codable"]
    coded = MARSDEN.encode({"marsden": "8"}, Context())
    assert [fault.code for fault in coded.faults] == ["value-not-codable"]


# --- PILOT ------------------------------------------------------------------------------------


def test_standard_block() -> None:
    """44300 names three levels from 1000 hPa (United States Navy module 14270)."""
    text = "PPAA 59121 90417 44300 09535 08058 06601 77999="
    assert [
        (level["air_pressure"], level["wind_from_direction"], round(level["wind_speed"] / KNOT))
        for level in records(text, "2")
    ] == [(1000.0, 95.0, 35), (925.0, 80.0, 58), (850.0, 65.0, 101)]


def test_altitude_block() -> None:
    """91246 names 12, 14 and 16 units (United States Navy module 14270)."""
    text = "PPBB 59120 72235 91246 27575 27090 26606="
    assert [
        (level["altitude_units"], level["wind_from_direction"], round(level["wind_speed"] / KNOT))
        for level in records(text, "4")
    ] == [(12, 275.0, 75), (14, 270.0, 90), (16, 265.0, 106)]


@pytest.mark.parametrize(
    ("station", "step"), [("72235", 304.8), ("90417", 300.0), ("96565", 300.0), (None, 300.0)]
)
def test_unit_of_altitudes(station: str | None, step: float) -> None:
    """1000 ft, exactly 304.8 m, in Region IV; 300 m elsewhere."""
    assert step == altitude_step(station)


@pytest.mark.parametrize(
    ("group", "winds", "heights"),
    [
        ("90012", 3, [np.nan, 300.0, 600.0]),
        ("90/12", 3, [np.nan, 300.0, 600.0]),
        ("906//", 1, [1800.0]),
        ("9205/", 2, [6000.0, 7500.0]),
        ("81024", 3, [5000.0, 6000.0, 7000.0]),
        ("10024", 3, [30000.0, 30600.0, 31200.0]),
    ],
)
def test_altitudes(group: str, winds: int, heights: list[float]) -> None:
    """Units of 300 m (9), 500 m (8), from 30 km on (1); the surface in both spellings."""
    text = f"PPBB 59121 96565 {group} {' '.join(['24025'] * winds)}="
    (report,), found = decode_reports(text)
    assert [one.code for one in found if one.code not in UNTOLD] == []
    np.testing.assert_array_equal(np.array(heights), report.levels["geopotential_height"])
    assert np.all(np.isnan(report.levels["air_pressure"]))
    assert np.isnan(heights[0]) == bool(report.levels.kinds[0] & LevelKind.SURFACE)
    assert text.split() == encode_content([report.parts[0].content]).value.split()


def test_blocks_kept_as_sent() -> None:
    """A block that could have held more levels is kept as it was sent."""
    text = "PPBB 59121 96565 901// 24025 902// 24026 90345 24027 24028 24029="
    (report,), _found = decode_reports(text)
    assert text.split() == encode_content([report.parts[0].content]).value.split()


def test_blocks_made_anew() -> None:
    """Levels without a place in a block are put in as few blocks as the tens allow."""
    first = {"day": 9, "hour": 12, "wind_unit": "kt", "wind_equipment": "1", "station": "90417"}
    wind = {"wind_from_direction": 240.0, "wind_speed": 25 * KNOT}
    levels = [
        Record("fixed-altitude", {"altitude_units": units, "altitude_step": 300, **wind})
        for units in (1, 2, 3, 4, 6, 12, 99, 100, 105)
    ]
    content = PartContent(
        "FM 32",
        "B",
        (
            SectionContent("1", (Record("identification", first),)),
            SectionContent("4", tuple(levels)),
        ),
    )
    text, found = encode_content([content])
    assert found == ()
    assert [
        group.removesuffix("=")
        for group in text.split()[3:]
        if group.removesuffix("=") not in ("24025",)
    ] == ["90123", "9046/", "912//", "999//", "1005/"]


def test_standard_altitudes() -> None:
    """55185 is the altitude that stands for 850 hPa, 1500 m (bulletin UPID62 WIOP 091200).

    The level has that altitude; no pressure is made up for it.
    """
    text = "PPAA 59121 96565 55185 00505 77999="
    (report,), found = decode_reports(text)
    assert [one.code for one in found if one.code not in UNTOLD] == []
    (said,) = records(text, "2")
    assert (said["air_pressure"], said["geopotential_height"]) == (850.0, 1500.0)
    assert report.levels["geopotential_height"].tolist() == [1500.0]
    assert np.isnan(report.levels["air_pressure"]).all()
    assert report.levels.kinds[0] & LevelKind.PRESSURE_FROM_HEIGHT
    assert text.split() == encode_content([report.parts[0].content]).value.split()


def test_pressure_lost_on_the_way() -> None:
    """32.2.2.4: where the pressure fails the remaining levels follow by altitude."""
    text = "PPAA 59124 90417 44385 24025 24026 24027 55240 24028 24029 71230 25075 41112="
    (report,), found = decode_reports(text)
    assert [one.code for one in found if one.code not in UNTOLD] == []
    assert [level["geopotential_height"] for level in records(text, "3")] == [12300.0]
    assert text.split() == encode_content([report.parts[0].content]).value.split()


def test_significant_winds_by_pressure() -> None:
    """21212 in a PILOT gives winds by pressure, numbered as in a TEMP."""
    text = "PPBB 59120 90417 21212 00974 16505 11964 16519 22/// ///// 33850 24025="
    (report,), found = decode_reports(text)
    assert [one.code for one in found if one.code not in UNTOLD] == []
    assert report.levels["air_pressure"].tolist() == [974.0, 964.0, 850.0]
    assert text.split() == encode_content([report.parts[0].content]).value.split()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("PPAA 59121 90417 44385 24025 24026 77999=", ["group-missing"]),
        ("PPAA 59121 90417 44385 24025 24026 24027 44192 24028=", ["level-order"]),
        ("PPAA 59121 90417 44310 24025=", ["figures-impossible"]),
        ("PPAA 59121 90417 44485 24025=", ["group-unexpected"]),
        ("PPAA 59121 90417 7123/ 24025=", ["figures-partly-missing"]),
        ("PPBB 59121 90417 91246 24025 24026=", ["group-missing"]),
        ("PPBB 59121 90417 91246 24025 24026 24027 91135 24025 24026 24027=", ["level-order"]),
        ("PPBB 59121 90417 91/46 24026 24027=", ["figures-impossible"]),
        ("PPBB 59121 90417 91246 2402 24026 24027=", ["group-malformed"]),
    ],
)
def test_damaged_winds(text: str, expected: list[str]) -> None:
    """Each kind of damage to blocks is told."""
    assert expected == codes(text)


def test_every_group_of_altitudes() -> None:
    """Every 9tnu1u2u3 that is well formed names levels that give the group again."""
    form = FORMS["FM 32"].part("B").section("4")
    assert form is not None
    block = form.records[0].block
    assert block is not None
    quiet = 0
    for first in "981":
        for figures in range(10_000):
            text = f"{first}{figures:04d}"
            for end in range(3):
                shorter = text[: 5 - end] + "/" * end
                read = FIXED_ALTITUDES.decode(shorter, Context())
                levels = block.spread(read.values, Context())
                if read.faults:
                    continue
                quiet += 1
                collected = block.collect(levels, Context())
                assert shorter == FIXED_ALTITUDES.encode(collected, Context()).text
    assert quiet > 5000


def test_maximum_wind_altitude_that_cannot_be_coded() -> None:
    """An altitude beyond the figures is missing; one that reads as a marker moves by 10 m."""
    part = FORMS["FM 32"].part("A").section("3")
    assert part is not None
    group = part.records[1].uses[0].group
    high = group.encode({"geopotential_height": 70_000.0}, Context())
    assert (high.text, [fault.code for fault in high.faults]) == ("7////", ["value-not-codable"])
    values = {"geopotential_height": 16_160.0, "top_of_wind_sounding": True}
    marker = group.encode(values, Context())
    assert (
        marker.text,
        [fault.code for fault in marker.faults],
    ) == ("61617", ["altitude-like-marker"])
    for height, at_top, text in (
        (16_160.0, False, "71616"),
        (17_170.0, False, "71717"),
        (6_060.0, True, "60606"),
    ):
        values = {"geopotential_height": height, "top_of_wind_sounding": at_top}
        coded = group.encode(values, Context())
        assert (coded.text, coded.faults) == (text, ())


def test_standard_level_of_a_block_that_cannot_be_coded() -> None:
    """A block that begins at no standard level is told."""
    section = FORMS["FM 32"].part("A").section("2")
    assert section is not None
    group = section.records[0].uses[0].group
    coded = group.encode(
        {"first_pressure": 900.0, "levels_in_block": 1}, Context(standard=LOWER_STANDARD)
    )
    assert [fault.code for fault in coded.faults] == ["not-a-standard-level"]
    read = group.decode("44377", Context(standard=LOWER_STANDARD))
    assert [fault.code for fault in read.faults] == ["not-a-standard-level"]


def test_explanation_of_the_family() -> None:
    """Call signs, positions, blocks and monthly words are explained by the same declarations."""
    for text, words in (
        ("UUAA KESTREL1 72121 99256 70775 08057 NIL=", ["call sign KESTREL1", "20 to 30 N"]),
        ("PPBB 59121 96565 90/12 00000 28005 29504=", ["units of 300 m", "wind from 280"]),
        ("CLIMAT TEMP 57131 90417 39648 12036 14520 20523 60852 70012=", ["steadiness 85 %"]),
    ):
        (report,), _found = decode_reports(text)
        told = explanation_text(explain(report), {})
        assert "damaged" not in told
        assert all(word in told for word in words)
