"""Whatever a part of an old edition can say, coding and reading it on its day gives it back."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from encoder.codes.declare import CodeForm, Part
from encoder.codes.editions import EDITIONS
from encoder.codes.fm35 import NOT_IN_EVERY_REPORT
from encoder.formats.report_json import reports_as_json, reports_from_json
from encoder.report import decode_reports, encode_content, report_text
from tests.strategies import contents, damaged, nil_contents

PARTS = [
    (form, part, str(form.valid_to))
    for editions in EDITIONS.values()
    for form in editions
    if form.valid_to is not None
    for part in form.parts
]
each_part = pytest.mark.parametrize(
    ("form", "part", "day"), PARTS, ids=[f"{part.letters}-{day}" for _f, part, day in PARTS]
)
some = settings(
    max_examples=10,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)
OF_THE_DAY = {"edition-from-memory", "humidity-by-convention"}
OF_A_PART = {"parts-missing", "parts-disagree", "standard-level-missing"}
OF_THE_AIR = {"value-implausible", "temperature-jump", "wind-jump", "height-inconsistent"}


def _no_level_left_out(form: CodeForm, part: Part, found: object) -> bool:
    """Tell whether the standard levels are all there up to the last.

    A report that leaves out some of them may be read another way, in any edition.
    """
    sections = getattr(found, "sections", ())
    pressures = [
        record.get("air_pressure")
        for section in sections
        for record in section.records
        if record.kind == "standard"
    ]
    if not pressures or form.number not in ("FM 35", "FM 36", "FM 37", "FM 38"):
        return True
    needed = sorted(set(part.standard.values()) - NOT_IN_EVERY_REPORT, reverse=True)
    return {one for one in needed if one >= min(pressures)} <= set(pressures)


@each_part
@some
@given(data=st.data())
def test_content_survives(form: CodeForm, part: Part, day: str, data: st.DataObject) -> None:
    """decode(encode(content)) is the content, and the groups are the same again."""
    on = date.fromisoformat(day)
    content = data.draw(contents(form, part).filter(lambda c: _no_level_left_out(form, part, c)))
    text, told = encode_content([content], on=on)
    (report,), found = decode_reports(text, on=on)
    codes = {one.code for one in (*told, *found)} - OF_THE_DAY - OF_A_PART - OF_THE_AIR
    assert codes - {"repair-proposed"} == set(), text
    read = report.parts[0].content
    assert content.sections == read.sections, text
    assert text == encode_content([read], on=on).value
    assert report_text(report).value == text
    (again,) = reports_from_json(reports_as_json([report]))
    assert again.on == on
    assert report_text(again).value == text


@each_part
@settings(some, max_examples=3)
@given(data=st.data())
def test_nil_survives(form: CodeForm, part: Part, day: str, data: st.DataObject) -> None:
    """A report that says NIL says so again."""
    on = date.fromisoformat(day)
    content = data.draw(nil_contents(form, part))
    text, _told = encode_content([content], on=on)
    (report,), _found = decode_reports(text, on=on)
    assert text.split()[-1] == "NIL="
    assert content == report.parts[0].content, text


@each_part
@some
@given(data=st.data())
def test_damaged_parts_are_read(form: CodeForm, part: Part, day: str, data: st.DataObject) -> None:
    """A damaged part is read without an exception, and every group is in the trace once."""
    on = date.fromisoformat(day)
    text = damaged(data.draw, encode_content([data.draw(contents(form, part))], on=on).value)
    for when in (on, None, date(1957, 3, 2), date(1930, 3, 2)):
        reports, _found = decode_reports(text, on=when)
        for report in reports:
            spans = [entry.span for entry in report.trace]
            assert len(spans) == len(set(spans))
            assert all(
                text[begin:end] == entry.text
                for entry in report.trace
                for begin, end in [entry.span]
            )
            report_text(report)
