"""The generated schemas and pages are those the declarations give, and outputs validate."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from referencing import Registry, Resource

from encoder.catalogue import CATALOGUE
from encoder.codes import FORMS
from encoder.codes.pages import form_as_markdown
from encoder.formats.level_table import levels_as_json
from encoder.formats.report_json import reports_as_json
from encoder.levels import select_levels
from encoder.reference import SCHEMAS, generated, stale
from encoder.report import decode_reports, encode_report
from encoder.report.explain import explain
from encoder.verify import verify

SCHEMA_FOLDER = Path(__file__).resolve().parents[2] / "schemas"


def validator(name):
    """A validator that knows every generated schema."""
    documents = {
        key: json.loads((SCHEMA_FOLDER / f"{key}.schema.json").read_text(encoding="utf-8"))
        for key in SCHEMAS
    }
    registry = Registry().with_resources(
        (document["$id"], Resource.from_contents(document)) for document in documents.values()
    )
    return jsonschema.Draft202012Validator(documents[name], registry=registry)


def as_read(document):
    """What a reader of the JSON text gets."""
    return json.loads(json.dumps(document))


def test_committed_files_are_up_to_date():
    """Every generated file is committed as the declarations give it."""
    assert stale(SCHEMA_FOLDER) == []


@pytest.mark.parametrize("name", SCHEMAS)
def test_schema_is_valid(name):
    """Every schema is a valid schema of draft 2020-12."""
    jsonschema.Draft202012Validator.check_schema(
        json.loads((SCHEMA_FOLDER / f"{name}.schema.json").read_text(encoding="utf-8"))
    )


@pytest.mark.parametrize("name", ["harrow-tarn", "halden-dome", "saltmere-point"])
def test_outputs_validate(name, sample_flights):
    """Every JSON output of a sample validates against its schema."""
    flight = sample_flights[name]
    levels = select_levels(flight).value
    report = encode_report(flight, levels)
    decoded = decode_reports(report.value.text)
    verdict = verify(flight, decoded.value[0])

    validator("levels").validate(as_read(levels_as_json(levels)))
    for result in (report.value, decoded.value[0]):
        document = as_read(reports_as_json([result], decoded.diagnostics))
        validator("report").validate(document)
    validator("verdict").validate(as_read(verdict.as_json()))
    groups = [group.as_json() for group in explain(report.value)]
    document = {
        "format": "aerogram-explanation-1",
        "reports": [{"form": "FM 35", "groups": groups}],
        "diagnostics": [],
    }
    validator("explanation").validate(as_read(document))


def test_a_wrong_document_does_not_validate(sample_flights):
    """The schemas can fail: an unknown key and a missing one are refused."""
    document = as_read(levels_as_json(select_levels(sample_flights["halden-dome"]).value))
    document["levels"][0]["pressure"] = 1.0

    assert not validator("levels").is_valid(document)


@pytest.mark.parametrize("number", FORMS)
def test_every_group_has_its_figures_and_source(number):
    """The widths of the figures sum to the group, and every group names its source."""
    for part in FORMS[number].parts:
        for section in part.sections:
            for record in section.records:
                for use in record.uses:
                    assert use.group.width == sum(item.width for item in use.group.figures)
                    assert all(item.width > 0 and item.meaning for item in use.group.figures)
                    assert use.group.source
    assert f"# {number}" in form_as_markdown(FORMS[number])


def test_pages_name_every_diagnostic():
    """The page of diagnostics lists every code with what to do about it."""
    page = generated()["diagnostics.md"]

    assert all(f"`{code}`" in page for code in CATALOGUE)
    assert all(rule.hint for rule in CATALOGUE.values())


def test_no_code_is_declared_twice():
    """Each diagnostic code is declared by one stage only."""
    import pkgutil
    from importlib import import_module

    import encoder.catalogue

    stages = [
        import_module(f"encoder.catalogue.{item.name}").RULES
        for item in pkgutil.iter_modules(encoder.catalogue.__path__)
    ]

    assert sum(len(rules) for rules in stages) == len(CATALOGUE)
