"""Products as plain tables: CSV, JSON and Parquet with units, and back."""

from __future__ import annotations

import io
import json
import sys

import pytest
from jsonschema import Draft202012Validator

from encoder.archive import history_of
from encoder.errors import FormatError, MissingDependencyError
from encoder.formats.profile_csv import read_profile_text
from encoder.formats.table_forms import (
    table_as_csv,
    table_as_json,
    table_as_parquet,
    table_from_csv,
    table_from_json,
    table_schema,
)
from encoder.formats.tables import table_of
from encoder.schemas_folder import schema
from tests.archives import igra_sounding, sample_archive, sounding_of_archive
from tests.unit.test_netcdf_history import soundings

PRODUCTS = ("flight", "levels", "history", "igra")


@pytest.fixture(scope="module")
def tables():
    """A table of each product."""
    archive = sample_archive("halden-dome")
    return {
        "flight": table_of(archive),
        "levels": table_of(sounding_of_archive(archive)),
        "history": table_of(history_of(soundings())),
        "igra": table_of(igra_sounding()[0]),
    }


@pytest.mark.parametrize("name", PRODUCTS)
def test_json_is_valid_and_comes_back(tables, name) -> None:
    """The JSON form fits its schema, and gives the same table after its text."""
    document = json.loads(json.dumps(table_as_json(tables[name]), allow_nan=False))
    assert list(Draft202012Validator(schema("table")).iter_errors(document)) == []
    assert table_from_json(document) == tables[name]


@pytest.mark.parametrize("name", PRODUCTS)
def test_csv_comes_back_and_is_valid(tables, name) -> None:
    """The CSV form has every digit; read again it fits the schema of the JSON form."""
    text = table_as_csv(tables[name])
    again = table_from_csv(text, tables[name])
    assert again == tables[name]
    assert list(Draft202012Validator(table_schema()).iter_errors(table_as_json(again))) == []
    header = text.splitlines()[0].split(",")
    assert "air_temperature [degC]" in header
    assert "wind_speed [m s-1]" in header


@pytest.mark.parametrize("name", PRODUCTS)
def test_parquet_holds_the_same(tables, name) -> None:
    """Parquet has the same cells, units in the fields and facts in the metadata."""
    import pyarrow.parquet as pq

    table = pq.read_table(io.BytesIO(table_as_parquet(tables[name])))
    for item in tables[name].columns:
        assert table.column(item.name).to_pylist() == list(item.cells)
        unit = table.schema.field(item.name).metadata[b"unit"].decode()
        assert unit == (item.unit or "")
    assert json.loads(table.schema.metadata[b"facts"]) == tables[name].facts


def test_csv_of_a_flight_is_a_profile(tables) -> None:
    """The CSV of a flight file can be read as the profile of a flight."""
    result = read_profile_text(table_as_csv(tables["flight"]))
    assert {item.code for item in result.diagnostics} == {"column-not-used"}
    assert len(result.value) == len(tables["flight"])


def test_csv_that_does_not_fit(tables) -> None:
    """Another header, a cell that is no number, a line too short: each is named."""
    table = tables["levels"]
    lines = table_as_csv(table).splitlines()
    with pytest.raises(FormatError, match="Expected the header"):
        table_from_csv("\n".join([lines[0].replace("hPa", "Pa"), *lines[1:]]), table)
    with pytest.raises(FormatError, match="Line 2"):
        table_from_csv("\n".join([lines[0], "x" + lines[1]]), table)
    with pytest.raises(FormatError, match="Line 3"):
        table_from_csv("\n".join([*lines[:2], "1.0,2.0"]), table)


def test_json_that_is_no_table(tables) -> None:
    """A document that breaks the schema, or has short rows, is refused with its place."""
    document = table_as_json(tables["levels"])
    with pytest.raises(FormatError, match="aerogram-table-1"):
        table_from_json({"format": "other"})
    columns = [{**document["columns"][0], "kind": "x"}]
    with pytest.raises(FormatError, match="columns/0/kind"):
        table_from_json({**document, "columns": columns})
    with pytest.raises(FormatError, match="row 0"):
        table_from_json({**document, "rows": [[1.0]]})


def test_the_library_is_not_installed(tables, monkeypatch) -> None:
    """Without pyarrow one line says what to install."""
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(MissingDependencyError, match=r"aerogram\[parquet\]"):
        table_as_parquet(tables["levels"])
