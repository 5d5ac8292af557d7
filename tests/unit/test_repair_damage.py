"""Damage of realistic kinds: what breaks the form of a report is never wrong without a finding."""

from __future__ import annotations

import random
from collections import Counter
from pathlib import Path

import pytest

from encoder.formats.flight_folder import read_flight
from encoder.levels.selection import select_levels
from encoder.report import Report, decode_reports, encode_report
from tests.benchmarks.bench_damage import BREAKING, SILENT, compare, damaged, values_of

SAMPLES = Path(__file__).parents[2] / "samples" / "flights"


@pytest.fixture(scope="module")
def reports() -> list[Report]:
    """Return the reports of the sample flights."""
    flights = [read_flight(folder).value for folder in sorted(SAMPLES.iterdir())]
    return [
        encode_report(flight, select_levels(flight).value).value
        for flight in flights
        if flight is not None
    ]


def counted(reports: list[Report], kinds: object, mode: str, turns: int) -> Counter[str]:
    """Return how many values came out how."""
    total: Counter[str] = Counter()
    for place, report in enumerate(reports):
        truth = values_of(decode_reports(report.text).value)
        for turn in range(turns):
            dice = random.Random(100 * place + turn)
            text, _done = damaged(report, dice, kinds=kinds)  # type: ignore[arg-type]
            total += compare(truth, text, mode)[0]
    return total


def test_broken_form_is_always_told(reports: list[Report]) -> None:
    """Letters, stuck, split, lost and doubled groups give no wrong value without a finding."""
    total = counted(reports, BREAKING, "none", 40)
    assert (total["wrong, untold"], total["repaired right"], total["all"] > 20000) == (0, 0, True)


def test_safe_repairs_are_right(reports: list[Report]) -> None:
    """Safe repairs bring most values back, and at most one in fifty of them wrong."""
    total = counted(reports, BREAKING, "safe", 40)
    assert total["wrong, untold"] == 0
    assert total["repaired right"] > 200
    assert total["repaired wrong"] * 50 <= total["repaired right"]


def test_figures_for_figures(reports: list[Report]) -> None:
    """Of values damaged without breaking the form, some are repaired and few wrongly."""
    total = counted(reports, SILENT, "safe", 40)
    assert total["repaired right"] > 50
    assert total["repaired wrong"] * 10 <= total["repaired right"]
