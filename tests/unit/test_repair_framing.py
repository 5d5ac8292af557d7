"""Parts whose letters are damaged, and parts that a stray end sign cuts."""

from __future__ import annotations

from typing import Any

import pytest

from encoder.repair import RepairKind
from encoder.report import decode_reports, report_text
from tests.undamaged import BOTH, PART_A

GOOD = decode_reports(BOTH).value[0]


def said(text: str, mode: Any) -> list[Any]:
    """Return what the parts of a text say."""
    return [
        part.content for report in decode_reports(text, repair=mode).value for part in report.parts
    ]


@pytest.mark.parametrize(
    ("damaged", "kind", "original", "proposed"),
    [
        (BOTH.replace("TTBB", "TTXB"), RepairKind.OPENING, "TTXB", "TTBB"),
        (BOTH.replace("TTBB", "TT BB"), RepairKind.OPENING, "TT BB", "TTBB"),
        (BOTH.replace("TTAA", "TIAA"), RepairKind.OPENING, "TIAA", "TTAA"),
        (BOTH.replace("TTAA", "T TAA"), RepairKind.OPENING, "T TAA", "TTAA"),
        (BOTH.replace("50575 12371", "50575= 12371"), RepairKind.END, "=", ""),
        (BOTH.replace("55671 01276", "55671 01276=\r\r\n"), RepairKind.END, "=", ""),
    ],
)
def test_found_again(damaged: str, kind: RepairKind, original: str, proposed: str) -> None:
    """Safe repairs read the part whole; without repairs it is proposed, and not read."""
    assert said(damaged, "safe") == said(BOTH, "none")
    (report,), told = decode_reports(damaged, repair="safe")
    (repair,) = report.repairs
    assert (repair.kind, repair.original, repair.proposed) == (kind, original, proposed)
    assert damaged[slice(*repair.span)] == original
    assert [item.code for item in told] == ["repaired"]
    assert "".join(part.text for part in report.parts) in damaged.replace("=\n", "=")
    assert said(damaged, "none") != said(BOTH, "none")
    codes = [item.code for item in decode_reports(damaged).diagnostics]
    assert (codes.count("text-outside-report"), codes.count("repair-proposed")) == (1, 1)


def test_trace_carries_what_was_received() -> None:
    """The letters read carry the characters received, blank and all."""
    (report,), _told = decode_reports(BOTH.replace("TTBB", "TT BB"), repair="safe")
    (entry,) = [item for item in report.trace if item.original is not None]
    assert (entry.text, entry.original, entry.symbol) == ("TTBB", "TT BB", "MiMiMjMj")


@pytest.mark.parametrize(
    "text",
    [
        BOTH.replace("TTBB 59008 90417", "TTXB 59008 90731"),
        BOTH.replace("TTBB 59008", "TTXB 60008"),
        BOTH.replace("TTBB", "TXXB"),
        BOTH.replace("TTBB", "TTAB").replace("TTAA", "TTCC"),
        PART_A.replace("TTAA", "TTXA"),
        f"{PART_A}\n12345 23456 34567 45678=",
        "LETTER TO 59001 90417 AND MORE " + BOTH,
    ],
)
def test_not_proposed(text: str) -> None:
    """Other stations, other times, other words and other groups make no part."""
    for mode in ("none", "safe", "all"):
        reports, told = decode_reports(text, repair=mode)  # type: ignore[arg-type]
        kinds = {repair.kind for report in reports for repair in report.repairs}
        assert not kinds & {RepairKind.OPENING, RepairKind.END}
        assert not any("letters of the part" in item.message.lower() for item in told)
        assert not any("stray end" in item.message.lower() for item in told)


def test_several_at_once() -> None:
    """Each of several damaged openings is found, and a report in capitals and small letters."""
    text = BOTH.replace("TTBB", "TTXB").replace("50575 12371", "50575= 12371").lower()
    assert said(text, "safe") == said(BOTH, "none")


def test_text_of_a_mended_report() -> None:
    """The text of a report with a repair is coded anew, and reads the same without repairs."""
    (report,), _told = decode_reports(BOTH.replace("50575 12371", "50575= 12371"), repair="safe")
    assert said(report_text(report).value, "none") == [part.content for part in report.parts]
    assert GOOD.parts[0].content in [part.content for part in report.parts]
