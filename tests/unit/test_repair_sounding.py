"""Checks of a sounding as a whole, and repairs of figures that only they can see."""

from __future__ import annotations

import pytest

from encoder.errors import InputError
from encoder.repair import Confidence, RepairKind
from encoder.repair.proposal import wanted
from encoder.report import decode_reports, report_text
from encoder.report.explain import explain, explanation_text
from encoder.resolution import KNOT
from tests.undamaged import BOTH, PART_A, PART_B


def codes(text: str, mode: str = "none") -> set[str]:
    """Return the codes of what is told of a text."""
    return {item.code for item in decode_reports(text, repair=mode).diagnostics}  # type: ignore[arg-type]


def test_good_sounding() -> None:
    """Parts that agree give nothing to tell, whatever the mode."""
    assert (codes(BOTH), codes(BOTH, "all")) == (set(), set())


@pytest.mark.parametrize(
    ("good", "bad", "code"),
    [
        ("30945", "30955", "thickness-misfit"),
        ("40742 23567", "40742 33567", "temperature-misfit"),
        ("40742 23567 26047", "40742 23567 26347", "wind-misfit"),
        ("55671 01276", "55671 31176", "lapse-rate-impossible"),
        ("00968 13827", "00986 13827", "parts-disagree"),
        ("59008 82321 41414", "59008 82312 41414", "parts-disagree"),
        ("31313 59008 82321=\nTTBB", "31313 82321=\nTTBB", "group-missing"),
    ],
)
def test_contradictions_are_told(good: str, bad: str, code: str) -> None:
    """What the report says twice and differently is told."""
    assert code in codes(BOTH.replace(good, bad))


@pytest.mark.parametrize(
    ("good", "bad", "code"),
    [
        ("92803 15658 19014", "92803 15668 19014", "humidity-misfit"),
        ("92803 15658 19014", "92803 15658 10014", "wind-misfit"),
        ("25067 49358", "25069 49358", "thickness-misfit"),
        ("88539 10501", "88549 10501", "lapse-rate-impossible"),
    ],
)
def test_what_the_report_does_nowhere_else_is_told(good: str, bad: str, code: str) -> None:
    """Within the limit for any report, but far beyond all else that this one says."""
    found = decode_reports(BOTH.replace(good, bad)).diagnostics
    assert {item.code for item in found} == {code}
    assert all("by the rest of the report" in item.message for item in found)


def test_a_report_that_is_seldom_true_to_its_lines_is_left_alone() -> None:
    """With three winds as far off as that, each is the way of the station."""
    first = BOTH.replace(" 19014 ", " 10014 ", 1)
    assert codes(first) == {"wind-misfit"}
    assert codes(first.replace(" 20013 ", " 26013 ", 1).replace(" 25031 ", " 21031 ", 1)) == set()


def test_height_is_repaired_with_evidence() -> None:
    """A height that both layers contradict by the same amount is read with the one figure."""
    text = BOTH.replace("30945", "30955")
    (report,), found = decode_reports(text, repair="safe")
    (repair,) = report.repairs
    assert (repair.kind, repair.original, repair.proposed, repair.confidence, repair.applied) == (
        RepairKind.HEIGHT,
        "30955",
        "30945",
        Confidence.SAFE,
        True,
    )
    assert [round(item.before) for item in repair.evidence] == [96, -99]
    assert all(abs(item.after) < 0.7 * item.limit for item in repair.evidence)
    assert [item.code for item in found] == ["repaired"]
    (entry,) = [item for item in report.trace if item.original is not None]
    assert (entry.text, entry.original, text[slice(*entry.span)]) == ("30945", "30955", "30955")
    assert entry.values["geopotential_height"] == 9450.0
    assert entry.as_json()["original"] == "30955"


def test_none_undoes_every_repair() -> None:
    """Without repairs the values are those of the characters received, and nothing is marked."""
    text = BOTH.replace("30945", "30955")
    (report,), _found = decode_reports(text)
    heights = [
        record.get("geopotential_height")
        for record in report.parts[0].content.records("2")
        if record.get("air_pressure") == 300.0
    ]
    assert heights == [9550.0]
    assert [(item.applied, item.proposed) for item in report.repairs] == [(False, "30945")]
    assert report_text(report).value.split() == text.split()
    (repaired,), _found = decode_reports(text, repair="safe")
    assert report_text(repaired).value.split() == BOTH.split()


def test_sign_is_read_on_request_only() -> None:
    """The tenths that went with a wrong sign are not known, so it is read with all only."""
    text = BOTH.replace("50575 12371", "50575 12271")
    readings = {}
    for mode in ("none", "safe", "all"):
        (report,), _found = decode_reports(text, repair=mode)  # type: ignore[arg-type]
        readings[mode] = next(
            record.get("air_temperature")
            for record in report.parts[0].content.records("2")
            if record.get("air_pressure") == 500.0
        )
    assert readings == {"none": 12.2, "safe": 12.2, "all": -12.3}


def test_unit_of_one_part() -> None:
    """A part whose speeds are 1.94 times off the others' has the wrong day figures."""
    upper = "\nTTCC 59001 90417 70882 53979 32009 50097 53981 07012 88999 77999 31313 59008 82321="
    text = (BOTH + upper).replace("TTBB 59008", "TTBB 09008")
    assert {"wind-unit-doubtful", "repair-proposed"} <= codes(text)
    (report,), found = decode_reports(text, repair="safe")
    assert [item.code for item in found] == [
        "repaired",
        "wind-unit-doubtful",
        "parts-missing",
    ]
    surface = report.parts[1].content.records("6")[0]
    assert surface.get("wind_speed") == 4 * KNOT


def test_unit_that_cannot_be_told() -> None:
    """With two parts nothing tells which of the units is wrong."""
    found = decode_reports(BOTH.replace("TTBB 59008", "TTBB 09008"), repair="all").diagnostics
    assert "wind-unit-doubtful" in {item.code for item in found}
    assert "repaired" not in {item.code for item in found}


def test_speeds_without_unit_are_missing() -> None:
    """Unreadable day figures leave the speeds missing, calms and directions stay."""
    (report,), found = decode_reports(PART_B.replace("TTBB 59008", "TTBB 5/008"))
    winds = report.parts[0].content.records("6")
    assert {record.get("wind_speed") for record in winds} == {None}
    assert winds[0].get("wind_from_direction") == 180.0
    assert sum(item.code == "wind-unit-unknown" for item in found) == len(winds)


@pytest.mark.parametrize(
    ("good", "bad", "proposed"),
    [
        ("TTBB 59008 90417", "TTBB 59008 9041A", "90417"),
        ("TTBB 59008", "TTBB 5/008", "59008"),
        ("TTBB 59008", "TTBB 59O08", "59008"),
    ],
)
def test_identification_by_the_other_part(good: str, bad: str, proposed: str) -> None:
    """Time and station of a part are those of its neighbour where its own are unreadable."""
    reports, found = decode_reports(BOTH.replace(good, bad), repair="safe")
    assert [len(report.parts) for report in reports] == [2]
    assert [item.expected for item in found if item.code == "repaired"] == [proposed]


def test_modes() -> None:
    """Safe reads the safe ones, all reads all, none none; another mode is wrong use."""
    assert [wanted(one, "none") for one in Confidence] == [False, False]
    assert [wanted(one, "safe") for one in Confidence] == [True, False]
    assert [wanted(one, "all") for one in Confidence] == [True, True]
    with pytest.raises(InputError, match="none, safe or all"):
        decode_reports(BOTH, repair="some")  # type: ignore[arg-type]


def test_repair_as_json() -> None:
    """A repair can be written as JSON with its evidence."""
    (report,), _found = decode_reports(BOTH.replace("30945", "30955"))
    document = report.repairs[0].as_json()
    assert (document["kind"], document["confidence"]) == ("height figure", "safe")
    assert document["evidence"][0]["limit"] > 0.0


def test_explanation_of_a_repair() -> None:
    """The explanation says what was received where a repair was read."""
    (report,), _found = decode_reports(BOTH.replace("30945", "30955"), repair="safe")
    groups = explain(report)
    (mended,) = [group for group in groups if group.original is not None]
    assert (mended.text, mended.as_json()["original"]) == ("30945", "30955")
    assert "repaired: received as 30955" in explanation_text(groups, {})
    assert all("original" not in group.as_json() for group in groups if group is not mended)


def test_sign_is_found_without_significant_levels_below() -> None:
    """Parts A and D alone: the layers of part A are judged by the temperatures at their ends."""
    part_d = (
        "TTDD 5900/ 90417 11970 55372 22753 57574 21212 11815 28031 22521 29528 31313 59008 82321="
    )
    text = f"{PART_A}\n{part_d}".replace("25067 49358", "25067 49258")
    (report,), _found = decode_reports(text)
    (proposal,) = report.repairs
    assert (proposal.kind, proposal.original, proposal.proposed) == (
        RepairKind.SIGN,
        "49258",
        "49358",
    )
    codes_told = [item.code for item in decode_reports(text).diagnostics]
    assert "thickness-misfit" not in codes_told
    assert codes_told.count("height-inconsistent") == 2
