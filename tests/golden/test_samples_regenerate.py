"""The sample flights come out of the generator byte for byte."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

from encoder.formats.flight_folder import read_flight
from samples.generator import SAMPLES

ROOT = Path(__file__).resolve().parents[2]
FLIGHTS = ROOT / "samples" / "flights"


def test_the_command_writes_the_committed_files_again(tmp_path):
    """``python -m samples.generator FOLDER`` gives the committed bytes and no more."""
    subprocess.run([sys.executable, "-m", "samples.generator", str(tmp_path)], check=True, cwd=ROOT)
    made = {path.relative_to(tmp_path): path.read_bytes() for path in tmp_path.rglob("*.*")}
    kept = {path.relative_to(FLIGHTS): path.read_bytes() for path in FLIGHTS.rglob("*.*")}
    assert sorted(made) == sorted(kept)
    assert [path for path in kept if made[path] != kept[path]] == []


def test_three_flights_in_less_than_two_and_a_half_megabytes():
    """The samples stay small enough to travel with the package."""
    files = [path for path in FLIGHTS.rglob("*.*") if path.is_file()]
    assert sorted({path.parent.name for path in files}) == sorted(SAMPLES)
    assert sum(path.stat().st_size for path in files) < 2_500_000


@pytest.mark.parametrize("name", SAMPLES)
def test_document_follows_the_schema(name):
    """Every sample document is valid against the schema of ``flight.json``."""
    schema = json.loads((ROOT / "schemas" / "flight.schema.json").read_text(encoding="utf-8"))
    document = json.loads((FLIGHTS / name / "flight.json").read_text(encoding="utf-8"))
    faults = jsonschema.Draft202012Validator(schema).iter_errors(document)
    assert [fault.message for fault in faults] == []


@pytest.mark.parametrize(
    ("name", "codes"),
    [("harrow-tarn", []), ("halden-dome", []), ("saltmere-point", ["row-after-burst"])],
)
def test_samples_read_without_a_fault(name, codes):
    """Reading gives no diagnostic but the note on the rows after the burst at the coast."""
    flight, diagnostics = read_flight(FLIGHTS / name)
    assert [item.code for item in diagnostics] == codes
    assert flight.station.wmo_index == SAMPLES[name].place.wmo_index
    assert (flight.descent is None) == (codes == [])
