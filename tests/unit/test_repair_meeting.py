"""How the parts of one sounding meet: copies, corrections, other releases."""

from __future__ import annotations

from typing import Any

import pytest

from encoder.diagnostics import Severity
from encoder.report import decode_reports

PART_A = "TTAA 72121 90417 99000 24416 18006 88999 77999 31313 05102 8{release}="
PART_B = "TTBB 7212/ 90417 00000 24416 11900 20018 31313 05102 8{release}="
FIRST = PART_A.format(release="1103")
UPPER = PART_B.format(release="1103")


def told(text: str) -> list[str]:
    """Return the codes of what is told, but that of missing parts."""
    return [item.code for item in decode_reports(text).diagnostics if item.code != "parts-missing"]


def surface_temperature(text: str) -> object:
    """Return the temperature at the surface in part A."""
    report = decode_reports(text).value[0]
    return report.parts[0].content.records("2")[0].get("air_temperature")


def test_retransmission() -> None:
    """A part that comes again word for word is dropped, with a note."""
    text = f"{FIRST}\nUSXX01 XNOR 221200 RRA\n{FIRST}\n{UPPER}"
    assert "copy-dropped" in told(text)
    assert [len(report.parts) for report in decode_reports(text).value] == [2]


def test_correction_by_heading() -> None:
    """A part under a heading with CCA replaces the one before it."""
    corrected = FIRST.replace("24416", "20416")
    text = f"USXX01 XNOR 221200\n{FIRST}\nUSXX01 XNOR 221200 CCA\n{corrected}\n{UPPER}"
    assert "copy-replaced" in told(text)
    assert surface_temperature(text) == 20.4


def test_correction_by_group() -> None:
    """A group 10182 in section 9 announces a correction."""
    corrected = FIRST.replace("24416", "20416").replace("=", " 51515 10182=")
    assert "copy-replaced" in told(f"{FIRST}\n{corrected}")
    found = decode_reports(f"{FIRST}\n{corrected}").diagnostics
    assert [item.span for item in found if item.code == "copy-replaced"] == [(0, len(FIRST))]
    assert surface_temperature(f"{FIRST}\n{corrected}") == 20.4


def test_copies_that_differ() -> None:
    """Of copies that differ without being corrections the first is used."""
    other = FIRST.replace("24416", "20416")
    assert "part-twice" in told(f"{FIRST}\n{other}")
    assert surface_temperature(f"{FIRST}\n{other}") == 24.4


def test_second_release() -> None:
    """A part with another release time at the same nominal time is of another sounding."""
    second = PART_A.format(release="1155")
    reports = decode_reports(f"{FIRST}\n{second}").value
    assert [len(report.parts) for report in reports] == [1, 1]


def test_launch_on_the_day_before() -> None:
    """Parts of one release meet though one gives the hour of launch and one the nominal hour."""
    lower = PART_A.format(release="2312").replace("72121", "71231")
    upper = PART_B.format(release="2312").replace("7212/", "7200/")
    reports, found = decode_reports(f"{lower}\n{upper}")
    assert [len(report.parts) for report in reports] == [2]
    assert "parts-times-differ" in {item.code for item in found}
    month = f"{lower.replace('71231', '81231')}\n{upper.replace('7200/', '5100/')}"
    assert [len(report.parts) for report in decode_reports(month).value] == [2]


def test_two_soundings_stay_two() -> None:
    """Soundings of different hours with their own releases are not put together."""
    later = PART_B.format(release="1703").replace("7212/", "7218/")
    assert len(decode_reports(f"{FIRST}\n{later}").value) == 2


@pytest.mark.parametrize(
    "place", ["TTAA COR 59001 90417 ", "TTAA 59001 COR 90417 ", "TTAA 59001 90417 COR "]
)
@pytest.mark.parametrize("mode", ["none", "safe", "all"])
def test_word_of_a_correction(place: str, mode: Any) -> None:
    """COR among the first groups makes a part the one that is used, whatever the mode."""
    first = "TTAA 59001 90417 99968 13827 18004 00140 ///// ///// 31313 59008 82321="
    text = first.replace("TTAA 59001 90417 ", place).replace("13827", "12827")
    (report,), found = decode_reports(f"{first}\n{text}", repair=mode)
    (surface,) = report.parts[0].content.records("2", "surface")
    assert surface.get("air_temperature") == 12.8
    assert "copy-replaced" in {item.code for item in found}
    assert {item.severity for item in found} == {Severity.NOTE}
    (alone,), _found = decode_reports(text, repair=mode)
    assert [entry.symbol for entry in alone.trace].count("COR") == 1


GOOD = "TTAA 59001 90417 99968 13827 18004 00140 ///// ///// 31313 59008 82321="
BAD = GOOD.replace("18004", "1800X").replace("13827", "1382/")


@pytest.mark.parametrize("text", [f"{BAD}\n{GOOD}", f"{GOOD}\n{BAD}"])
def test_better_copy_is_used(text: str) -> None:
    """Of two copies of a part the one with fewer faults is used, whichever comes first.

    The other is told at its place, so that every character of the text is accounted for.
    """
    (report,), found = decode_reports(text)
    (twice,) = (item for item in found if item.code == "part-twice")
    assert twice.span == (text.index(BAD), text.index(BAD) + len(BAD))
    (surface,) = report.parts[0].content.records("2", "surface")
    assert (surface.get("air_temperature"), surface.get("wind_speed")) != (None, None)
    assert surface.get("dew_point_depression") == 2.7
    assert [item.code for item in found if item.severity is not Severity.NOTE] == ["part-twice"]


@pytest.mark.parametrize(
    "text", ["TTAA 59001 90417 NIL=\n" + GOOD, GOOD + "\nTTAA 59001 90417 NIL="]
)
def test_report_is_better_than_nil(text: str) -> None:
    """NIL and a report of the same sounding give the report, whichever comes first."""
    (report,), found = decode_reports(text)
    assert not report.parts[0].content.nil
    assert "part-twice" in {item.code for item in found}


def test_correction_is_better_than_a_good_first_one() -> None:
    """A correction is used though it is damaged, and stays in use when the first comes again."""
    corrected = BAD.replace("TTAA ", "TTAA COR ")
    for text in (f"{GOOD}\n{corrected}", f"{corrected}\n{GOOD}"):
        (report,), _found = decode_reports(text)
        (surface,) = report.parts[0].content.records("2", "surface")
        assert surface.get("wind_speed") is None
