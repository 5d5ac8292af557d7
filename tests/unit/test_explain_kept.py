"""Regional and national sections in plain words, group by group."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from encoder.codes.tables import code_table, meaning
from encoder.report import decode_reports
from encoder.report.explain import explain, explanation_text
from encoder.report.explain_kept import explain_kept

UNKNOWN = "no regional group known here; kept as received, not read"
PLAIN = "plain word; kept as received, not read"


def said(groups: str, *, drop: bool = False) -> list[tuple[str, str]]:
    """Return each group with what it says."""
    words = groups.split()
    made = explain_kept(words, wind_unit="kt", drop=drop)
    return [
        (word, ", ".join(one.sentence for one in group.figures))
        for word, group in zip(words, made, strict=True)
    ]


def test_regional_groups_with_their_arguments() -> None:
    """51515 of Region IV: index, doubtful layers, height, mean winds (table 0421)."""
    groups = "51515 10164 00051 10166 00085 10168 04030 10190 50584 10194 20036 22041 10181"
    sentences = dict(said(groups))

    assert sentences["51515"] == "groups of regional agreement follow"
    assert sentences["10164"] == "additional information, stability index follows"
    assert sentences["00051"] == "not used, stability index -1.0 K"
    assert sentences["00085"] == "not used, from 1000 hPa, to 850 hPa"
    assert sentences["04030"] == "not used, from 400 hPa, to 300 hPa"
    assert sentences["50584"].startswith("standard level 500 hPa, height 5840 gpm")
    assert sentences["20036"] == "mean from the surface to 5000 ft: wind from 200 degrees, 36 knots"
    assert sentences["22041"] == "mean from 5000 to 10000 ft: wind from 220 degrees, 41 knots"
    assert sentences["10181"] == "additional information, corrected part A precedes"


@pytest.mark.parametrize("code", sorted(code for code in code_table("0421") if code < "64"))
def test_reasons_for_no_or_incomplete_reports(code: str) -> None:
    """Every reason of table 0421 is said in the words of the table."""
    ((_marker, _first), (_group, sentence)) = said(f"51515 101{code}")

    assert sentence == f"additional information, {meaning('0421', code)}"


def test_extra_winds() -> None:
    """51515 of Regions I and VI: winds between the standard levels (B/C25 10.6.2)."""
    sentences = said("51515 11875 24007 22800 26509 33600 25015")

    assert [sentence for _word, sentence in sentences[1:]] == [
        "extra wind of Regions I and VI: at 900 or 1000 m above the ground, pressure 875 hPa",
        "wind from 240 degrees, 7 knots",
        "extra wind of Regions I and VI: at 800 hPa, pressure 800 hPa",
        (
            "wind from 265 degrees, the 5 carried by the next figures, "
            "9 knots (500 added for the odd 5 degrees)"
        ),
        "extra wind of Regions I and VI: at 600 hPa, pressure 600 hPa",
        "wind from 250 degrees, 15 knots",
    ]


def test_what_is_not_known_is_said_to_be_so() -> None:
    """Unknown groups, damaged ones and data sent early are kept, and no meaning is invented."""
    sentences = said("51515 10199 ABCDE 10194 37036 22041 10195 85457")

    assert [sentence for _word, sentence in sentences[1:]] == [
        UNKNOWN,
        UNKNOWN,
        (
            "additional information, mean winds of the layers to 5000 ft "
            "and from there to 10000 ft "
            "follow"
        ),
        UNKNOWN,
        UNKNOWN,
        "additional information, early transmission of 850 and 500 hPa data and stability index",
        "data sent early; kept as received, not read",
    ]


def test_national_groups_of_a_land_station() -> None:
    """Only drops have plain words; other national groups are kept."""
    assert said("61616 REL 5510N02250W") == [
        ("61616", "national groups follow"),
        ("REL", "national group; kept as received, not read"),
        ("5510N02250W", "national group; kept as received, not read"),
    ]


def test_plain_words_of_a_drop() -> None:
    """61616 and 62626: mission, release, splash and layer winds; other words are kept."""
    sentences = said(
        "61616 QCW07 1708A KESTREL OB 01 62626 SPL 5512S17952E EYEWALL MBL WND 14058 "
        "DLM WND 13552 001762 WL150 12551 08 REL 5510N02250W 131947",
        drop=True,
    )

    assert sentences == [
        ("61616", "national groups follow, here aircraft, mission, storm and observation"),
        ("QCW07", "aircraft QCW07"),
        ("1708A", "mission 1708A"),
        ("KESTREL", "storm or purpose KESTREL"),
        ("OB", "number of the observation follows"),
        ("01", "observation 01 of the mission"),
        ("62626", "national groups follow, here plain words"),
        ("SPL", "place of splash"),
        ("5512S17952E", "55.12 S 179.52 E"),
        ("EYEWALL", PLAIN),
        ("MBL", "mean wind of the boundary layer"),
        ("WND", "mean wind follows"),
        ("14058", "wind from 140 degrees, 58 knots"),
        ("DLM", "mean wind of a deep layer"),
        ("WND", "mean wind follows"),
        (
            "13552",
            (
                "wind from 135 degrees, the 5 carried by the next figures, "
                "52 knots (500 added for the odd 5 degrees)"
            ),
        ),
        ("001762", "from 1001 to 762 hPa"),
        ("WL150", "mean wind of the lowest 150 m"),
        (
            "12551",
            (
                "wind from 125 degrees, the 5 carried by the next figures, "
                "51 knots (500 added for the odd 5 degrees)"
            ),
        ),
        ("08", PLAIN),
        ("REL", "place and time of release"),
        ("5510N02250W", "55.10 N 22.50 W"),
        ("131947", "at 13:19:47 UTC"),
    ]


def test_explanation_of_a_whole_report() -> None:
    """The sections stand in the explanation of their part, in metres a second where it has them."""
    text = "TTBB 0912/ 90417 00968 13850 11850 11850 51515 11875 24007 10164 00012 61616 12345="
    reports, _found = decode_reports(text)
    groups = explain(reports[0])
    by_text = {group.text: group for group in groups}

    assert (by_text["11875"].symbol, by_text["11875"].title) == ("nnPPP", "level of an extra wind")
    assert by_text["24007"].figures[1].sentence == "7 m/s"
    assert by_text["00012"].symbol == "000IsIs"
    assert by_text["12345"].title == "national group; kept as received, not read"
    assert "stability index 12.0 K" in explanation_text(groups, {})


WORDS = st.sampled_from(
    [
        "51515",
        "61616",
        "62626",
        "10164",
        "10194",
        "10195",
        "10166",
        "00012",
        "11875",
        "22800",
        "24007",
        "REL",
        "SPL",
        "5510N02250W",
        "131947",
        "MBL",
        "WND",
        "DLM",
        "WL150",
        "OB",
        "NIL",
    ]
) | st.from_regex(r"[0-9A-Z/]{1,6}", fullmatch=True)


@given(words=st.lists(WORDS, max_size=14), drop=st.booleans())
def test_any_words_have_one_answer_each(words: list[str], *, drop: bool) -> None:
    """Whatever stands in a section, each group gets its own answer, with its own characters."""
    made = explain_kept(words, wind_unit="m s-1", drop=drop)

    assert ["".join(one.text for one in group.figures) for group in made] == words
    assert all(one.sentence for group in made for one in group.figures)
