"""Reading parts: place in the rhythm, tolerance, and the diagnostics that damage must give."""

from __future__ import annotations

from typing import Any

import pytest

from encoder.codes.content import PartContent, Record, SectionContent
from encoder.diagnostics import Diagnostic
from encoder.report import decode_reports, encode_content
from encoder.resolution import KNOT

GOOD_A = (
    "TTAA 72121 90417 99000 24416 18006 00089 ///// ///// 92772 21205 20540 85503 17218 22044 "
    "70136 09040 23538 50584 07191 24532 40754 183// 25532 30962 35377 25047 25086 43772 24560 "
    "20232 54767 24069 15412 65563 25567 10653 71161 24543 88125 71361 25061 77182 25075 41112 "
    "31313 05102 81103 51515 10164 00012="
)
GOOD_B = (
    "TTBB 72120 90417 00000 24416 11985 23605 22889 20018 33779 13049 21212 00000 18006 11850 "
    "22044 22700 23538 31313 05102 81103 41414 66400="
)


OF_THE_AIR = ("value-implausible", "temperature-jump", "wind-jump")
"""Whether the air can be so is not asked in this file: its values are chosen for their figures."""
UNTOLD = ("parts-missing", "repair-proposed", *OF_THE_AIR)
"""Codes that the tests of this file do not look at."""


def read(text: str) -> tuple[PartContent, tuple[Diagnostic, ...]]:
    """Return what the one part of a text says, and the diagnostics but those of ``UNTOLD``."""
    (report,), found = decode_reports(text)
    return report.parts[0].content, tuple(one for one in found if one.code not in UNTOLD)


def codes(text: str) -> list[str]:
    """Return the diagnostic codes of a text with one part."""
    return [one.code for one in read(text)[1]]


def winds(content: PartContent, section: str) -> list[tuple[Any, Any, Any]]:
    """Return pressure, direction and speed in knots of each record of a section."""
    return [
        (
            record.get("air_pressure"),
            record.get("wind_from_direction"),
            None if record.get("wind_speed") is None else round(record.get("wind_speed") / KNOT),  # type: ignore[operator]
        )
        for record in content.records(section)
    ]


def test_good_parts_give_nothing_to_tell() -> None:
    """Well-formed parts give no diagnostic."""
    assert (codes(GOOD_A), codes(GOOD_B)) == ([], [])


# --- place in the rhythm of groups ------------------------------------------------------------


def test_winds_that_look_like_markers() -> None:
    """Winds 31313 and 21212 in the place of ddfff are winds, not the beginnings of sections."""
    content, found = read(
        "TTBB 72120 90417 00000 24416 11985 23605 21212 00000 18006 11850 31313 22700 21212 "
        "33600 21050 31313 05102 81103 41414 66400="
    )
    assert found == ()
    assert winds(content, "6") == [
        (1000.0, 180.0, 6),
        (850.0, 310.0, 313),
        (700.0, 210.0, 212),
        (600.0, 210.0, 50),
    ]
    assert content.records("7")[0].get("radiosonde_type") == "51"


def test_standard_wind_that_looks_like_a_marker() -> None:
    """A wind 31313 at a standard level is a wind."""
    text = GOOD_A.replace("70136 09040 23538", "70136 09040 31313")
    content, found = read(text)
    assert found == ()
    assert winds(content, "2")[4] == (700.0, 310.0, 313)


def test_shear_that_looks_like_the_cloud_marker() -> None:
    """In part A a 41414 after a maximum wind is a shear of 14 and 14."""
    content, found = read(GOOD_A.replace("41112", "41414"))
    (record,) = content.records("4")
    assert found == ()
    assert tuple(
        round(float(record.get(f"wind_shear_{side}") or 0) / KNOT) for side in ("below", "above")
    ) == (14, 14)


def test_temperature_that_looks_like_a_level_number() -> None:
    """Groups 22018 and 33013 in the place of TTTaDD are temperatures."""
    content, found = read("TTBB 72120 90417 00000 24416 11985 22218 22889 33013 33779 13049=")
    assert found == ()
    assert [record.get("air_temperature") for record in content.records("5")] == [
        24.4,
        22.2,
        -33.0 + 66.0,
        -13.0 + 26.0,
    ]


def test_level_that_looks_like_a_marker() -> None:
    """55555 and 66666 are levels where their number is due, and markers elsewhere."""
    groups = "00990 24416 11900 20018 22800 13049 33700 09040 44600 01064"
    text = f"TTBB 72120 90417 {groups} 55555 06560 66444 20960="
    content, found = read(text)
    assert found == ()
    assert [record.get("air_pressure") for record in content.records("5")][-3:] == [
        600.0,
        555.0,
        444.0,
    ]
    assert text.split() == encode_content([content]).value.split()
    content, found = read(f"TTBB 72120 90417 {groups} 66666 12345=")
    assert found == ()
    assert content.records("10")[0].get("groups") == "66666 12345"


def test_more_levels_than_numbers() -> None:
    """After level 99 comes level 11 again, and every level is kept."""
    groups = [
        f"{'00' if n == 0 else f'{(n - 1) % 9 + 1}' * 2}{(1000 - 8 * n) % 1000:03d} 24416"
        for n in range(108)
    ]
    content, found = read(f"TTBB 72120 90417 {' '.join(groups)}=")
    assert found == ()
    assert [1000.0 - 8 * n for n in range(108)] == [
        record.get("air_pressure") for record in content.records("5")
    ]
    assert groups == encode_content([content]).value.removesuffix("=\n").replace("\n", " ").split(
        " ", 3
    )[3].replace(" 24416", "+24416").replace("+24416 ", "+24416|").replace("+", " ").split("|")


@pytest.mark.parametrize(
    ("text", "pressures"),
    [
        ("TTAA 51002 90417 20/// 525// 00000 77808 30738 77596 00000=", [200.0]),
        ("TTAA 51012 90417 99673 061// 25494 20178 ///// 25494 88999 77999=", [673.0, 200.0]),
        (
            "TTAA 26041 90417 99874 078// 15060 40/// 31717 13651 10618 56584 32082 77999=",
            [874.0, 400.0, 100.0],
        ),
        (
            "TTCC 6018/ 90417 70/// 52508 10105 44596 01/// 004// 88424 03885 20090 77999=",
            [70.0, 10.0, 1.0],
        ),
    ],
)
def test_levels_far_apart(text: str, pressures: list[float]) -> None:
    """Groups that look like levels are none where all is in order when they are read in turn."""
    content, found = read(text)
    assert {one.code for one in found} <= {"standard-level-missing"}
    assert [record.get("air_pressure") for record in content.records("2")] == pressures
    assert text.split() == encode_content([content]).value.split()


@pytest.mark.parametrize(
    ("groups", "expected"),
    [
        ("07334 42556 05030 88999 77999", [(7.0, 50.0, 30)]),
        ("05/// ///// 01782 02144 77443 30738", [(5.0, None, None), (1.0, None, None)]),
    ],
)
def test_winds_above_the_table(groups: str, expected: list[tuple[Any, Any, Any]]) -> None:
    """Id says nothing of winds above 10 hPa: of two readings the one the air can have is taken.

    The others have 5 hPa at -88.9 degC in the first text, 2 hPa at 77.4 degC in the second.
    """
    content, found = read(f"TTCC 72121 90417 10102 46560 09021 {groups}=")
    assert found == ()
    assert winds(content, "2") == [(10.0, 90.0, 21), *expected]


def test_maximum_wind_that_looks_like_a_marker() -> None:
    """66666 is a maximum wind at 66.6 hPa where one is due, and a marker elsewhere."""
    text = "TTCC 72125 90417 50057 57560 09021 88999 66666 09040 41112 31313 65913 80452="
    content, found = read(text)
    assert found == ()
    assert winds(content, "4") == [(66.6, 90.0, 40)]
    assert content.records("4")[0].get("top_of_wind_sounding")
    assert text.split() == encode_content([content]).value.split()
    for groups in ("77999 66666 09040", "77821 09021 66666 09040", "66666 99040"):
        content, found = read(f"TTCC 72125 90417 50057 57560 09021 88999 {groups}=")
        assert found == ()
        (record,) = content.records("10")
        assert str(record.get("groups")).startswith("66666")


# --- the figure Id ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("figure", "winds_to"),
    [("1", 100.0), ("1", 150.0), ("2", 200.0), ("2", 250.0), ("5", 500.0), ("9", 925.0)],
)
def test_last_wind(figure: str, winds_to: float) -> None:
    """Levels up to the one that Id names have a wind group; one figure may stand for two levels."""
    figures = {
        1000.0: "00089", 925.0: "92772", 850.0: "85503", 700.0: "70136", 500.0: "50584",
        400.0: "40754", 300.0: "30962", 250.0: "25086", 200.0: "20232", 150.0: "15412",
        100.0: "10653",
    }  # fmt: skip
    reach = {"1": 100.0, "2": 200.0}.get(figure, winds_to)
    groups = []
    for pressure, group in figures.items():
        wind = ["24532"] if pressure >= winds_to else ["/////"] if pressure >= reach else []
        groups += [group, "/////", *wind]
    text = f"TTAA 7212{figure} 90417 99000 24416 18006 {' '.join(groups)} 88999 77999="
    content, found = read(text)
    assert found == ()
    assert winds_to == min(
        record.get("air_pressure")
        for record in content.records("2", "standard")
        if record.get("wind_speed") is not None
    )
    assert text.split() == encode_content([content]).value.split()


def test_winds_beyond_the_figure() -> None:
    """A wind above the level that Id names is read, and told."""
    text = GOOD_A.replace("72121", "72122")
    content, found = read(text)
    assert [one.code for one in found] == ["last-wind-figure", "last-wind-figure"]
    assert winds(content, "2")[-1] == (100.0, 245.0, 43)


def test_wind_missing_below_the_figure() -> None:
    """A wind group that Id asks for and that is not there is told; nothing else is lost."""
    text = GOOD_A.replace("70136 09040 23538", "70136 09040")
    content, found = read(text)
    assert [one.code for one in found] == ["last-wind-figure"]
    assert len(content.records("2")) == 12


def test_no_winds_at_standard_levels() -> None:
    """With Id as a solidus only the surface has a wind group."""
    content, found = read("TTAA 7212/ 90417 99000 24416 18006 00089 ///// 92772 21205 88999 77999=")
    assert found == ()
    assert ["wind_speed" in record.values for record in content.records("2")] == [
        True,
        False,
        False,
    ]


# --- missing data -----------------------------------------------------------------------------


def test_missing_layer() -> None:
    """A level of solidi between two levels says that the layer between has no data."""
    text = "TTBB 72120 90417 00000 24416 11900 20018 22/// ///// 33800 13049 44700 09040="
    content, found = read(text)
    assert found == ()
    assert [record.get("air_pressure") for record in content.records("5")] == [
        1000.0,
        900.0,
        None,
        800.0,
        700.0,
    ]
    assert text.split() == encode_content([content]).value.split()


def test_cut_reports() -> None:
    """A report cut anywhere says what stands before the cut, and tells what is missing."""
    groups = GOOD_A.split()
    for kept in range(1, len(groups)):
        content, found = read(" ".join(groups[:kept]))
        assert {"report-not-ended"} <= {one.code for one in found}
        assert {one.code for one in found} <= {
            "report-not-ended",
            "group-missing",
            "last-wind-figure",
        }
        whole = read(GOOD_A)[0].records("2")
        for record, full in zip(content.records("2"), whole, strict=False):
            assert {
                name: value for name, value in record.values.items() if value is not None
            }.items() <= full.values.items()


def test_nil() -> None:
    """NIL after the station says that there is no report."""
    content, found = read("TTAA 72121 90417 NIL=")
    assert (content.nil, found) == (True, ())
    content, found = read("TTAA NIL=")
    assert (content.nil, found) == (True, ())
    assert codes("TTAA 72121 90417 NIL 99000=") == ["group-unexpected"]


# --- high and low stations --------------------------------------------------------------------


def test_high_station() -> None:
    """Levels below the ground may be left out, or be given with a height alone."""
    content, found = read("TTAA 72121 90731 99716 12056 25010 70885 ///// ///// 50584 07191 24532=")
    assert [one.code for one in found] != ["height-inconsistent"]
    assert [record.get("air_pressure") for record in content.records("2")] == [716.0, 700.0, 500.0]


@pytest.mark.parametrize(
    ("figures", "height"), [("522", -22.0), ("735", -235.0), ("089", 89.0), ("320", 320.0)]
)
def test_thousand_hectopascals_below_sea_level(figures: str, height: float) -> None:
    """Heights of 1000 hPa below sea level are coded with 500 added."""
    content, _found = read(f"TTAA 7212/ 90122 99995 04005 20010 00{figures} ///// 88999 77999=")
    assert height == content.records("2", "standard")[0].get("geopotential_height")


def test_deep_polar_low() -> None:
    """The thousands come from the thickness of the layers: 700 hPa at 2450 gpm, not 3450."""
    text = (
        "TTAA 7212/ 90122 99975 13156 20010 00686 ///// 92403 15556 85036 19156 70450 29560 "
        "50477 45163 88999 77999="
    )
    content, found = read(text)
    assert found == ()
    assert [record.get("geopotential_height") for record in content.records("2", "standard")] == [
        -186.0,
        403.0,
        1036.0,
        2450.0,
        4770.0,
    ]
    assert text.split() == encode_content([content]).value.split()


def test_heights_against_temperatures() -> None:
    """A height that the temperatures of its layers contradict is told, with the residual."""
    _content, found = read(GOOD_A.replace("70136 09040", "70336 09040"))
    assert [one.code for one in found] == ["height-inconsistent", "height-inconsistent"]
    assert [one.path for one in found] == [
        ("TTAA", "2", "700 hPa", "PPhhh"),
        ("TTAA", "2", "500 hPa", "PPhhh"),
    ]


# --- damage -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("TTAA 82121 90417 NIL=", ["time-impossible"]),
        ("TTAA 72241 90417 NIL=", ["time-impossible"]),
        ("TTAA 72/// 90417 NIL=", ["time-impossible"]),
        ("TTAA 72121 9041/ NIL=", ["station-unknown"]),
        ("TTAA 72121 904A7 NIL=", ["group-malformed"]),
        ("TTDD 72124 90417 11974 24416=", ["figure-not-solidus"]),
        ("TTDD 7212/ 90417 11000 24416=", ["pressure-impossible"]),
        ("TTBB 72120 90417 00000 2441/=", ["figures-partly-missing"]),
        ("TTBB 72120 90417 00000 24/16=", ["figures-partly-missing"]),
        ("TTBB 72120 90417 00000 24452=", ["depression-unused-figure"]),
        ("TTBB 72120 90417 00000 ///16=", ["humidity-without-temperature"]),
        ("TTBB 72120 90417 0000/ 24416=", ["figures-partly-missing"]),
        ("TTBB 72120 90417 00000=", ["group-missing"]),
        ("TTBB 72120 90417 00000 24416 22900 20018=", ["level-number"]),
        ("TTBB 72120 90417 00000 24416 11900 20018 22900 20018=", ["level-order"]),
        ("TTBB 72120 90417 00000 24416 11900 2OO18=", ["group-malformed"]),
        ("TTBB 72120 90417 00000 24416 11900 20018 ABC 12=", ["group-unexpected"]),
        ("TTBB 72120 90417 21212 00000 37010=", ["wind-direction-impossible"]),
        ("TTBB 72120 90417 21212 00000 00010=", ["wind-calm-direction"]),
        ("TTBB 72120 90417 21212 00000 //010=", ["wind-half-missing"]),
        ("TTBB 72120 90417 31313 05102 82561=", ["time-impossible"]),
        ("TTBB 72120 90417 31313 0/102 81103=", ["figures-partly-missing"]),
        ("TTBB 72120 90417 31313 051/2 81103=", ["figures-partly-missing"]),
        ("TTBB 72120 90417 31313 05102 81103 92018=", ["figures-impossible"]),
        ("TTAA 72121 90417 99000 24416 18006 0008/ ///// /////=", ["figures-partly-missing"]),
        ("TTAA 7212/ 90417 99000 24416 18006 88999 60100 20000 18010=", ["group-unexpected"]),
        ("TTAA 7212190417 99000 24416 18006=", ["groups-run-together"]),
        ("TTAA 72121 90417 990002441618006=", ["groups-run-together"]),
        ("ttaa 72121 90417 99000 24416 18006=", ["lower-case"]),
        ("TTAA 72121 90417 99000 24416 18006", ["report-not-ended"]),
    ],
)  # fmt: skip
def test_damage_is_told(text: str, expected: list[str]) -> None:
    """Each kind of damage gives its own diagnostic, with the place in the received text."""
    _content, found = read(text)
    assert expected == [one.code for one in found if one.code != "text-outside-report"]
    for one in found:
        if one.span is not None and one.value is not None and one.span[0] < one.span[1]:
            assert one.value in text[one.span[0] : one.span[1]]


def test_level_number_lost() -> None:
    """After a lost level reading goes on with the number that is there."""
    content, found = read("TTBB 72120 90417 00000 24416 11900 20018 33800 13049 44700 09040=")
    assert [(one.code, one.expected) for one in found] == [("level-number", "22")]
    assert len(content.records("5")) == 4


def test_unread_groups_do_not_stop_reading() -> None:
    """After groups that fit nowhere reading finds the next section again."""
    content, found = read(
        "TTBB 72120 90417 00000 24416 11900 20018 XX 12 4444 21212 00000 18006 31313 05102 81103="
    )
    assert [one.code for one in found] == ["group-unexpected"]
    assert (
        found[0].value,
        len(content.records("6")),
        len(content.records("7")),
    ) == ("XX 12 4444", 1, 1)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", {"no-report"}),
        ("nothing of the kind", {"no-report"}),
        (f"{GOOD_A} {GOOD_A} {GOOD_B}", {"copy-dropped"}),
        (f"{GOOD_A} {GOOD_A.replace('24416', '20416')} {GOOD_B}", {"part-twice"}),
        (GOOD_A, {"parts-missing"}),
        (f"{GOOD_A} {GOOD_B.replace('24416', '20416')}", {"parts-disagree"}),
        (
            f"{GOOD_A} {GOOD_B.replace('72120', '22120')}",
            {"parts-disagree", "wind-unit-doubtful"},
        ),
        (f"REMARKS FOLLOW {GOOD_A} {GOOD_B}", {"text-outside-report"}),
    ],
)
def test_faults_of_the_text_as_a_whole(text: str, expected: set[str]) -> None:
    """What concerns several parts, or none, is told."""
    _reports, found = decode_reports(text)
    assert expected <= {one.code for one in found}


@pytest.mark.parametrize(
    ("text", "said", "value"),
    [
        ("", "in 0 characters.", ""),
        ("?", "in 1 character.", "?"),
        ("a,b\n" * 5000, "in 20,000 characters.", "a,b " * 14 + "..."),
        ("\x7fELF\x00\x01" * 9, "in 54 characters. There are control", "ELF \x01 ELF \x01"),
        ("\x01\r\r\n051 \x03", "in 9 characters.", "\x01 051 \x03"),
    ],
)
def test_no_report_is_told_once(text: str, said: str, value: str) -> None:
    """One error says how much was looked at, and whether it looks like a binary file."""
    reports, found = decode_reports(text)
    assert reports == ()
    assert [one.code for one in found] == ["no-report"]
    assert said in found[0].message
    assert (found[0].value or "").startswith(value)
    assert len(found[0].value or "") <= 60
    assert ("binary" in found[0].message) == ("\x00" in text)


def test_excerpts_of_damaged_groups_are_short() -> None:
    """A group of any length, a copy and groups that fit nowhere are shown in 60 characters."""
    long = "X" * 300
    copies = GOOD_A.replace("24416", "20416")
    text = f"{GOOD_A} {copies} TTBB 72120 90417 00000 {long} 11900 {long} {long} ABC="
    found = decode_reports(text).diagnostics
    assert {"part-twice", "group-malformed", "group-unexpected"} <= {one.code for one in found}
    assert max(len(one.value or "") for one in found) <= 60


# --- encoding what cannot be coded ------------------------------------------------------------


def content_of(*sections: SectionContent, letter: str = "A", **first: Any) -> PartContent:
    """Return a part with a good identification, some of it replaced."""
    values = {"day": 22, "hour": 12, "wind_unit": "kt", "last_wind": "/", "station": "90417"}
    identification = SectionContent("1", (Record("identification", {**values, **first}),))
    return PartContent("FM 35", letter, (identification, *sections))


def encoded(*sections: SectionContent, letter: str = "A", **first: Any) -> tuple[str, list[str]]:
    """Return the groups after the letters, and the diagnostic codes."""
    text, found = encode_content([content_of(*sections, letter=letter, **first)])
    return " ".join(text.split()[1:]).removesuffix("="), [one.code for one in found]


@pytest.mark.parametrize(
    ("first", "text", "code"),
    [
        ({"station": None}, "7212/ /////", "station-unknown"),
        ({"station": "A0417"}, "7212/ /////", "station-unknown"),
        ({"day": 32}, "////" + "/ 90417", "time-not-codable"),
        ({"hour": None}, "////" + "/ 90417", "time-not-codable"),
        ({"last_wind": "12"}, "7212/ 90417", "value-not-codable"),
    ],
)
def test_identification_that_cannot_be_coded(first: dict[str, Any], text: str, code: str) -> None:
    """What cannot be coded is shown as missing, with a diagnostic."""
    assert (text, [code]) == encoded(**first)


@pytest.mark.parametrize(
    ("first", "message"),
    [
        ({"station": None}, "The station has no WMO number of five figures."),
        ({"station": "904"}, "The station number '904' is not five figures."),
        ({"hour": None}, "The day is 22, the hour missing."),
    ],
)
def test_faults_of_the_identification_are_plain_words(first: dict[str, Any], message: str) -> None:
    """What is missing is called missing."""
    (found,) = encode_content([content_of(**first)]).diagnostics
    assert found.message == message


def test_records_that_cannot_be_coded() -> None:
    """A record in a wrong section, a wrong pressure and a lone humidity are told."""
    wrong = SectionContent("2", (Record("cloud", {}),))
    assert encoded(wrong) == ("7212/ 90417", ["record-not-in-section"])
    level = SectionContent("2", (Record("standard", {"air_pressure": 900.0}),))
    assert encoded(level) == ("7212/ 90417 ///// /////", ["not-a-standard-level"])
    lone = SectionContent(
        "5",
        (
            Record(
                "surface",
                {"air_pressure": 1000.0, "air_temperature": None, "dew_point_depression": 1.0},
            ),
        ),
    )
    assert encoded(lone, letter="B", wind_equipment="/") == (
        "7212/ 90417 00000 /////",
        ["humidity-without-temperature"],
    )


def test_facts_that_cannot_be_coded() -> None:
    """A time of release that does not exist, and figures of a wrong width, are told."""
    system = {"correction": "12", "radiosonde_type": "51", "tracking": "08"}
    late = {**system, "correction": "0", "release_hour": 25, "release_minute": 0}
    assert encoded(SectionContent("7", (Record("system", system),))) == (
        "7212/ 90417 31313 /5108",
        ["value-not-codable"],
    )
    assert encoded(SectionContent("7", (Record("system", late),))) == (
        "7212/ 90417 31313 05108 8////",
        ["time-not-codable"],
    )


def test_standard_level_lost() -> None:
    """A standard level that is not between its neighbours is told; 925 hPa may be lacking."""
    text = GOOD_A.replace("70136 09040 23538 ", "")
    _content, found = read(text)
    (one,) = found
    assert (one.code, one.expected) == ("standard-level-missing", "700 hPa")
    assert one.span is not None
    assert text[slice(*one.span)] == "50584"
    assert codes(GOOD_A.replace("92772 21205 20540 ", "")) == []
    assert "standard-level-missing" not in codes(GOOD_A.replace("70136 09040", "7O136 09040"))
