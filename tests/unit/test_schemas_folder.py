"""The schemas are found in a checkout and inside an installed package."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import encoder.schemas_folder as place
from encoder.schemas_folder import schema, schemas_folder


def test_schema_is_found_and_is_a_valid_schema():
    """The schema of flight.json is a JSON Schema of draft 2020-12."""
    from jsonschema import Draft202012Validator

    document = schema("flight")
    assert document["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(document)


def test_a_folder_inside_the_package_comes_first(tmp_path, monkeypatch):
    """A wheel carries the schemas inside the package."""
    inside = tmp_path / "encoder" / "schemas"
    inside.mkdir(parents=True)
    (inside / "flight.schema.json").write_text(json.dumps({"title": "inside"}), encoding="utf-8")
    monkeypatch.setattr(place, "files", lambda name: tmp_path / name)
    assert schemas_folder() == inside


def test_without_it_the_folder_beside_the_package_is_used(tmp_path, monkeypatch):
    """A checkout has the schemas beside the package."""
    (tmp_path / "encoder").mkdir()
    monkeypatch.setattr(place, "files", lambda name: tmp_path / name)
    assert schemas_folder() == tmp_path / "schemas"


def test_every_key_is_described():
    """Every key of the format has a description, and a unit where its name carries one."""

    def walk(rule, path):
        for key, inner in rule.get("properties", {}).items():
            if key == "$comment":
                continue
            assert inner.get("description"), f"{path}/{key}"
            walk(inner, f"{path}/{key}")
        if "items" in rule:
            walk(rule["items"], f"{path}[]")

    walk(schema("flight"), "")


def test_a_schema_that_does_not_exist_is_an_error():
    """A wrong name raises instead of giving an empty schema."""
    with pytest.raises(FileNotFoundError):
        schema("nothing")
    assert (Path(str(schemas_folder())) / "flight.schema.json").exists()
