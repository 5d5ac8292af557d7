"""From received text to the groups of each part."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from encoder.report.text import split_parts

if TYPE_CHECKING:
    from encoder.report.text import PartText


def groups(part: PartText) -> list[str]:
    """Return the groups of a part."""
    return [token.text for token in part.tokens]


def test_groups_and_offsets() -> None:
    """Every group has its place in the received text."""
    text = "USXX01 XNOR 090000\nTTAA 59001 90417\r\n99968 13850=\nTTBB 5900/ 90417 NIL="
    parts, _found = split_parts(text)
    assert [groups(part) for part in parts] == [
        ["TTAA", "59001", "90417", "99968", "13850"],
        ["TTBB", "5900/", "90417", "NIL"],
    ]
    assert all(
        text[token.start : token.end] == token.text for part in parts for token in part.tokens
    )
    assert [(part.ended, part.heading) for part in parts] == [(True, "USXX01 XNOR 090000")] * 2


def test_text_beyond_latin() -> None:
    """Letters of any script around a report do not move its offsets; wide blanks separate."""
    text = "Gr\u00fc\u00dfe \u2603 \U0001f388: TTAA\u00a059001\u200390417= \u20ac"
    parts, found = split_parts(text)
    assert groups(parts[0]) == ["TTAA", "59001", "90417"]
    assert text[parts[0].tokens[2].start : parts[0].tokens[2].end] == "90417"
    assert [text[one.span[0] : one.span[1]] for one in found if one.span] == [
        "Gr\u00fc\u00dfe \u2603 \U0001f388:",
        "\u20ac",
    ]


def test_small_letters() -> None:
    """Small letters are read as capitals, with a note."""
    parts, found = split_parts("ttaa 59001 90417 nil=")
    assert groups(parts[0]) == ["TTAA", "59001", "90417", "NIL"]
    assert [one.code for one in found] == ["lower-case"]


@pytest.mark.parametrize(
    "text", ["TTAA59001 90417 99968=", "TTAA 5900190417 99968=", "TTAA590019041799968="]
)
def test_groups_run_together(text: str) -> None:
    """Groups without blanks between them are taken apart in fives, and told."""
    parts, _found = split_parts(text)
    assert groups(parts[0]) == ["TTAA", "59001", "90417", "99968"]
    assert "groups-run-together" in [one.code for one in parts[0].found]


def test_quotes_and_controls() -> None:
    """Quote marks at the beginning of lines and control characters are no groups."""
    parts, found = split_parts("> TTAA 59001\n> 90417\x00\x0199968=\n")
    assert groups(parts[0]) == ["TTAA", "59001", "90417"]
    assert [one.code for one in found] == ["text-outside-report"]


def test_report_without_end_is_cut() -> None:
    """A text that never ends is cut, with a diagnostic; the rest is told."""
    parts, found = split_parts("TTAA 59001 90417" + " 12345" * 9000)
    assert [one.code for one in parts[0].found] == ["report-cut"]
    assert [one.code for one in found] == ["text-outside-report"]


def test_what_stands_outside() -> None:
    """Headings and words outside reports are told once each, with their place."""
    text = "Dear all,\n\nUSXX01 XNOR 090000\nTTAA 59001 90417=\nbye"
    found = split_parts(text)[1]
    assert [text[one.span[0] : one.span[1]] for one in found if one.span] == [
        "Dear all,",
        "USXX01 XNOR 090000",
        "bye",
    ]


def test_many_places_outside_are_told_in_one_sentence() -> None:
    """Ten places are told one by one, all others at once; nothing is left untold."""
    text = "".join(f"remark {place}\nTTAA 59001 90417 NIL=\n" for place in range(25))
    parts, found = split_parts(text)
    assert len(parts) == 25
    assert [one.code for one in found] == ["text-outside-report"] * 11
    assert found[-1].message.startswith("Not part of a report either: 15 more places")
    assert found[-1].span == (text.index("remark 10"), text.index("remark 24") + len("remark 24"))


def test_groups_outside_are_told_before_words() -> None:
    """A part that lost its letters is among the places told one by one, wherever it stands."""
    report = "TTAA 59001 90417 NIL=\n"
    text = "".join(f"remark {place}\n{report}" for place in range(20))
    found = split_parts(f"{text}59001 90417 99968 24416 18006=\n{report}")[1]
    assert found[-2].value == "59001 90417 99968 24416 18006"
    assert len(found) == 11


def test_excerpts_are_short() -> None:
    """Of long text the message and the value hold some 60 characters; the span is exact."""
    long = "w" * 500 + " and so on" * 40
    parts, found = split_parts(f"{long}\nTTAA 59001 90417 {'12345' * 50} NIL=")
    assert found[0].span == (0, len(long))
    assert {len(one.value or "") for one in (*found, *parts[0].found)} == {60}
    assert all(len(one.message) < 110 for one in (*found, *parts[0].found))


def test_the_excerpt_is_taken_where_the_groups_are() -> None:
    """Three groups of figures far behind in a text without letters are in the excerpt."""
    found = split_parts(f"{'some words ' * 20} 59001 90417 99968\nTTAA 59001 90417 NIL=")[1]
    assert (found[0].value or "").endswith("59001 90417 99968")


@given(text=st.text(max_size=200))
def test_any_text(text: str) -> None:
    """Whatever the text, every word lies in a group or in a diagnostic."""
    text = "TTAA 59001 90417 " + text
    parts, found = split_parts(text)
    covered: set[int] = set()
    for begin, end in [
        *((token.start, token.end) for part in parts for token in part.tokens),
        *(one.span for one in found if one.span is not None),
    ]:
        covered.update(range(begin, end))
    left = {text[place] for place in range(len(text)) if place not in covered}
    assert all(one.isspace() or one < " " or one in "=>\x7f" for one in left)
