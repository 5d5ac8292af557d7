"""Damaged messages and what the decoder must tell, propose and read; the cases are in cases.json.

Each case holds a title, the text, the findings (code and span) without repairs, the repairs
proposed (kind, span, characters as received, groups proposed, confidence), and the findings with
``repair`` safe and all.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from encoder.catalogue import CATALOGUE
from encoder.report import decode_reports

CASES: list[dict[str, Any]] = json.loads(
    (Path(__file__).parent / "cases.json").read_text(encoding="utf-8")
)
SOUND = "parts-missing"
"""Told of every text that holds one part alone."""


def findings(case: dict[str, Any], mode: Any) -> list[list[Any]]:
    """Return code and span of what is told."""
    return [
        [item.code, *(item.span or (None, None))]
        for item in decode_reports(case["text"], repair=mode).diagnostics
        if item.code != SOUND
    ]


@pytest.mark.parametrize("case", CASES, ids=[case["title"] for case in CASES])
def test_damage_is_told(case: dict[str, Any]) -> None:
    """Every damage is told at its place, and every proposal with it, though none is read."""
    assert case["none"] == findings(case, "none")


@pytest.mark.parametrize("case", CASES, ids=[case["title"] for case in CASES])
def test_repairs_proposed(case: dict[str, Any]) -> None:
    """A proposal carries the characters as received, the groups proposed, and how sure it is."""
    proposed = [
        {
            "kind": str(repair.kind),
            "span": list(repair.span),
            "original": repair.original,
            "proposed": repair.proposed,
            "confidence": str(repair.confidence),
        }
        for report in decode_reports(case["text"]).value
        for repair in report.repairs
    ]
    assert case["repairs"] == proposed
    for item in proposed:
        begin, end = item["span"]
        assert item["original"] == case["text"][begin:end]


@pytest.mark.parametrize("mode", ["safe", "all"])
@pytest.mark.parametrize("case", CASES, ids=[case["title"] for case in CASES])
def test_repairs_read(case: dict[str, Any], mode: str) -> None:
    """With repairs read, what they mend is told no more, and each of them is told itself."""
    assert case[mode] == findings(case, mode)


@pytest.mark.parametrize("case", CASES, ids=[case["title"] for case in CASES])
def test_none_reads_what_is_there(case: dict[str, Any]) -> None:
    """Without repairs no group is read as other characters than those received."""
    for report in decode_reports(case["text"]).value:
        for entry in report.trace:
            assert entry.original is None
            assert entry.text == case["text"][slice(*entry.span)]


def test_cases_are_many() -> None:
    """There are at least 25 damaged messages, and all codes in them are in the catalogue."""
    codes = {item[0] for case in CASES for item in case["none"]}
    assert len(CASES) >= 25
    assert codes <= set(CATALOGUE)
