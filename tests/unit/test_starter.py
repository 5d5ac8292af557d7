"""The starter flight: both files, every key explained, and it reads without a fault."""

from __future__ import annotations

import json

import pytest

from encoder.columns import COLUMNS
from encoder.errors import InputError
from encoder.formats.flight_folder import read_flight
from encoder.formats.starter import write_starter
from encoder.schemas_folder import schema
from tests.flights import codes_of


def test_starter_reads_without_warning(tmp_path):
    """What a newcomer gets is right from the start; the example of an edit is the only word."""
    paths = write_starter(tmp_path / "new" / "flight")
    assert [path.name for path in paths] == ["flight.json", "profile.csv"]
    result = read_flight(tmp_path / "new" / "flight")
    assert codes_of(result) == ["edit-doubtful"]
    assert len(result.value.ascent) == 61


def test_every_key_of_the_format_is_in_it_and_explained(tmp_path):
    """Each key of the schema has its description, with the unit, in the object it belongs to."""
    write_starter(tmp_path)
    document = json.loads((tmp_path / "flight.json").read_text(encoding="utf-8"))
    root = schema("flight")

    def walk(rule, value):
        if "$ref" in rule:
            rule = {**root["$defs"][rule["$ref"].rsplit("/", 1)[1]], **rule}
        for item in value if isinstance(value, list) else [value]:
            inner = rule["items"] if isinstance(value, list) else rule
            if not isinstance(item, dict):
                continue
            comments = " ".join(item["$comment"])
            for key, known in inner["properties"].items():
                if key == "$comment":
                    continue
                unit = f" [{known['x-unit']}]" if "x-unit" in known else ""
                assert f"{key}{unit}: {known['description']}" in comments
                if key in item:
                    walk(known, item[key])

    walk(root, document)


def test_every_column_is_explained_with_its_unit(tmp_path):
    """The profile file begins with a comment on each column that may be used."""
    write_starter(tmp_path)
    text = (tmp_path / "profile.csv").read_text(encoding="utf-8")
    comments = [line for line in text.splitlines() if line.startswith("#")]
    for name, column in COLUMNS.items():
        assert any(f" {name} [{column.unit}" in line for line in comments)


def test_existing_files_are_never_overwritten(tmp_path):
    """If one of the files is there, nothing is written and both names are checked."""
    (tmp_path / "profile.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="exists already") as caught:
        write_starter(tmp_path)
    assert [item.code for item in caught.value.diagnostics] == ["file-exists"]
    assert [path.name for path in tmp_path.iterdir()] == ["profile.csv"]
    assert (tmp_path / "profile.csv").read_text(encoding="utf-8") == "mine"


def test_folder_that_cannot_be_made(tmp_path):
    """A file in place of the folder is told, not traced back."""
    (tmp_path / "a").write_text("x", encoding="utf-8")
    with pytest.raises(InputError, match="cannot be written to") as caught:
        write_starter(tmp_path / "a" / "b")
    assert [item.code for item in caught.value.diagnostics] == ["file-not-writable"]
