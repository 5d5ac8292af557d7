"""Byte-exact outputs for the bundled flights.

Renew them with ``pytest tests/golden --update-golden`` and read the difference before committing.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from encoder.formats.level_table import levels_as_csv, levels_as_text
from encoder.formats.report_json import reports_as_json
from encoder.levels import select_levels
from encoder.report import decode_reports, encode_report
from encoder.report.explain import explain, explanation_text
from encoder.verify import verdict_text, verify

HERE = Path(__file__).parent / "samples"
NAMES = ("harrow-tarn", "halden-dome", "saltmere-point")


def outputs(flight):
    """Every output of one flight by its file name."""
    levels = select_levels(flight).value
    fewest = select_levels(flight, method="fewest-levels").value
    report = encode_report(flight, levels).value
    decoded = decode_reports(report.text, formula=flight.vapour_pressure_formula)
    verdict = verify(flight, decoded.value[0], report_diagnostics=decoded.diagnostics)
    return {
        "levels.txt": levels_as_text(levels, knots=True, reasons=True),
        "levels.csv": levels_as_csv(levels),
        "report.txt": report.text,
        "report-fewest-levels.txt": encode_report(flight, fewest).value.text,
        "explanation.txt": explanation_text(explain(report), {}),
        "decoded.json": json.dumps(reports_as_json(decoded.value, decoded.diagnostics), indent=1)
        + "\n",
        "verdict.txt": verdict_text(verdict),
    }


@pytest.mark.parametrize("name", NAMES)
def test_outputs_of_sample(name, sample_flights, update_golden):
    """Every output of a bundled flight is what it was, byte for byte."""
    folder = HERE / name
    made = outputs(sample_flights[name])
    if update_golden:
        folder.mkdir(parents=True, exist_ok=True)
        for file, text in made.items():
            (folder / file).write_text(text, encoding="utf-8", newline="\n")

    for file, text in made.items():
        assert (folder / file).read_text(encoding="utf-8") == text, f"{name}/{file} has changed"


@pytest.mark.parametrize("name", NAMES)
def test_making_twice_gives_the_same_bytes(name, sample_flights):
    """Output is deterministic."""
    assert outputs(sample_flights[name]) == outputs(sample_flights[name])


@pytest.mark.parametrize("name", NAMES)
def test_text_fits_80_columns(name, sample_flights):
    """Text tables are read in 80 columns; coded lines hold at most 69 characters."""
    made = outputs(sample_flights[name])

    for file in ("levels.txt", "explanation.txt", "verdict.txt"):
        assert max(len(line) for line in made[file].splitlines()) <= 80, file
    assert max(len(line) for line in made["report.txt"].splitlines()) <= 69
