"""Whatever a part can say, coding and reading it gives it back; reading never fails."""

from __future__ import annotations

import json

import pytest
from hypothesis import HealthCheck, Phase, example, given, settings
from hypothesis import strategies as st

from encoder.codes import FORMS
from encoder.codes.content import PartContent, content_from_json
from encoder.codes.declare import CodeForm, Part
from encoder.report import decode_reports, encode_content
from tests.strategies import contents, damaged, look_alikes, nil_contents

PARTS = [(form, part) for form in FORMS.values() if form.valid_to is None for part in form.parts]
each_part = pytest.mark.parametrize(
    ("form", "part"), PARTS, ids=[part.letters for _f, part in PARTS]
)
some = settings(
    max_examples=15,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)

BY_LEVEL = [
    (form, part)
    for form, part in PARTS
    for level in [part.sections[1].form("standard")]
    if level is not None and level.block is None
]
"""Parts whose standard levels follow one by one."""
UNTOLD = {"height-inconsistent", "standard-level-missing", "repair-proposed"}
OF_THE_AIR = {"value-implausible", "temperature-jump", "wind-jump"}
"""Told of values that the air cannot have; those drawn here are any that can be coded."""


def once(content: PartContent) -> tuple[str, PartContent, set[str]]:
    """Return the text, what it says when read, and the codes told on the way."""
    text, told = encode_content([content])
    (report,), found = decode_reports(text)
    codes = {one.code for one in (*told, *found)} - {"parts-missing", "parts-disagree"}
    return text, report.parts[0].content, codes


@each_part
@some
@given(data=st.data())
def test_content_survives(form: CodeForm, part: Part, data: st.DataObject) -> None:
    """decode(encode(content)) is the content, and the groups are the same again."""
    content = data.draw(contents(form, part))
    text, read, codes = once(content)
    assert set() == codes - UNTOLD - OF_THE_AIR, text
    assert content.sections == read.sections, text
    assert text == encode_content([read]).value


@pytest.mark.parametrize(("form", "part"), BY_LEVEL, ids=[part.letters for _f, part in BY_LEVEL])
@settings(some, max_examples=40)
@given(data=st.data())
def test_rhythm_survives(form: CodeForm, part: Part, data: st.DataObject) -> None:
    """Levels many of which are not there, among groups that begin like them, are read as sent."""
    content = data.draw(look_alikes(form, part))
    text, read, codes = once(content)
    assert set() == codes - UNTOLD - OF_THE_AIR, text
    assert content.sections == read.sections, text
    assert text == encode_content([read]).value


@each_part
@settings(some, max_examples=3)
@given(data=st.data())
def test_nil_survives(form: CodeForm, part: Part, data: st.DataObject) -> None:
    """A report that says NIL says so again."""
    content = data.draw(nil_contents(form, part))
    text, read, _codes = once(content)
    assert text.split()[-1] == "NIL="
    assert content == read, text


@each_part
@settings(some, max_examples=3)
@given(data=st.data())
def test_json_survives(form: CodeForm, part: Part, data: st.DataObject) -> None:
    """The JSON form of a part says the same."""
    content = data.draw(contents(form, part))
    assert content == content_from_json(json.loads(json.dumps(content.as_json())))


@each_part
@some
@given(data=st.data())
def test_damaged_parts_are_read(form: CodeForm, part: Part, data: st.DataObject) -> None:
    """A damaged part is read without an exception, and every group is in the trace once."""
    text = damaged(data.draw, encode_content([data.draw(contents(form, part))]).value)
    reports, _found = decode_reports(text)
    for report in reports:
        spans = [entry.span for entry in report.trace]
        assert len(spans) == len(set(spans))
        for entry in report.trace:
            received = text[slice(*entry.span)]
            # CLIMAT and TEMP are two words, which a line end may part
            words = " ".join(received.split()) if entry.symbol == "MiMiMjMj" else received
            assert words == entry.text
        encode_content([item.content for item in report.parts])


@settings(some, max_examples=200)
@given(text=st.text())
def test_any_text_is_read(text: str) -> None:
    """No text whatever raises."""
    decode_reports(text)


MARKS = """
NIL = 21212 31313 41414 51515 61616 62626 88999 77999 99000 00089 ///// 44385 55185 90012 QCW07
72121 7212/ 90417 99256 70775 08057
"""
GROUPS = st.one_of(
    st.sampled_from([part.letters for _form, part in PARTS]),
    st.text("0123456789/", min_size=5, max_size=5),
    st.sampled_from(MARKS.split()),
    st.text("0123456789/ABCX", max_size=11),
)


@settings(some, max_examples=200)
@given(groups=st.lists(GROUPS, max_size=40))
@example(groups=["TTAA", "0000/", "TTAA", "000000"])
@example(groups=["CLIMAT TEMP", "0000/", "CLIMAT TEMP", "000000"])
def test_any_groups_are_read(groups: list[str]) -> None:
    """No sequence of groups raises, and all its characters are accounted for."""
    text = " ".join(groups)
    reports, found = decode_reports(text)
    covered = set()
    for begin, end in [
        *(entry.span for report in reports for entry in report.trace),
        *(one.span for one in found if one.span is not None),
    ]:
        covered.update(range(begin, end))
    rest = {place for place, one in enumerate(text) if one not in " ="} - covered
    assert set() == rest


@settings(some, max_examples=100)
@given(noise=st.binary(max_size=300))
def test_any_bytes_are_read(noise: bytes) -> None:
    """Bytes of any kind, read as Latin-1, do not raise."""
    decode_reports("TTAA 72121 90417 " + noise.decode("latin-1"))
