"""Who makes and publishes the files: a small JSON file, checked by its schema."""

from __future__ import annotations

import json

import netCDF4
import pytest

from encoder.archive import Service
from encoder.formats.netcdf import write_netcdf
from encoder.formats.service_json import read_service, service_schema
from encoder.schemas_folder import schema
from tests.archives import ROOT, sample_archive


def test_the_sample_knows_everything() -> None:
    """The sample gives every attribute the conventions recommend."""
    service = read_service(ROOT / "samples" / "service.json").value
    assert service.missing() == ()
    assert service.institution == "Norreland Weather Service"


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("{", "json-not-valid"),
        ("[]", "value-not-allowed"),
        ('{"institution": ""}', "value-not-allowed"),
        ('{"institutions": "x"}', "value-not-allowed"),
        ('{"creator_type": "robot"}', "value-not-allowed"),
    ],
)
def test_faults_are_told(tmp_path, text, code) -> None:
    """A file that is no JSON or breaks the schema is refused with its place."""
    path = tmp_path / "service.json"
    path.write_text(text)
    result = read_service(path)
    assert result.value is None
    assert [item.code for item in result.diagnostics] == [code]
    assert result.diagnostics[0].file == str(path)


def test_a_missing_file(tmp_path) -> None:
    """A file that is not there is told."""
    assert read_service(tmp_path / "none.json").diagnostics[0].code == "file-not-found"


def test_what_is_not_known_is_not_written(tmp_path) -> None:
    """Attributes nobody gave are left out, never guessed."""
    path = tmp_path / "flight.nc"
    write_netcdf(sample_archive(), path, service=Service(institution="Norreland"))
    with netCDF4.Dataset(path) as dataset:
        assert dataset.institution == "Norreland"
        assert "license" not in dataset.ncattrs()
        assert "creator_name" not in dataset.ncattrs()


def test_the_schema_in_the_folder_is_the_generated_one() -> None:
    """schemas/service.schema.json is what the declaration gives."""
    written = schema("service")
    assert {key: written[key] for key in service_schema()} == json.loads(
        json.dumps(service_schema())
    )
