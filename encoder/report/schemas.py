"""Schemas of what reports, their levels, traces, diagnostics and explanations look like in JSON."""

from __future__ import annotations

from typing import Any

from encoder.catalogue import CATALOGUE
from encoder.codes import FORMS
from encoder.columns import LEVEL_COLUMNS, column
from encoder.levels.table import KIND_WORDS

SCALAR = {"type": ["number", "string", "boolean", "null"]}
PLACE = {
    "type": "array",
    "items": {"type": "integer", "minimum": 0},
    "minItems": 2,
    "maxItems": 2,
    "description": "Start and end offset in characters.",
}


def closed_object(properties: dict[str, Any], title: str | None = None) -> dict[str, Any]:
    """Return the schema of an object with these properties and no others."""
    schema: dict[str, Any] = {"title": title} if title else {}
    return {
        **schema,
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def list_of(items: Any) -> dict[str, Any]:
    """Return the schema of a list."""
    return {"type": "array", "items": items}


def diagnostic_schema() -> dict[str, Any]:
    """Return the schema of one diagnostic."""
    text = {"type": ["string", "null"]}
    return closed_object(
        {
            "code": {"enum": sorted(CATALOGUE), "description": "Stable name of the finding."},
            "severity": {"enum": ["error", "warning", "note"]},
            "message": {"type": "string"},
            "file": text,
            "line": {"type": ["integer", "null"], "description": "1-based line of the file."},
            "span": {"anyOf": [PLACE, {"type": "null"}]},
            "path": list_of({"type": ["string", "integer"]}),
            "rows": {**list_of({"type": "integer"}), "description": "Lines of profile.csv."},
            "value": text,
            "expected": text,
            "hint": {"type": "string"},
            "source": {"type": "string", "description": "Regulation or table behind the rule."},
        },
        "Diagnostic",
    )


def levels_schema() -> dict[str, Any]:
    """Return the schema of a level table."""
    values = {
        name: {
            "type": ["number", "null"],
            "description": column(name).description,
            "x-unit": column(name).unit,
        }
        for name in LEVEL_COLUMNS
    }
    reason = closed_object(
        {"rule": {"type": "string"}, "text": {"type": "string"}, "source": {"type": "string"}}
    )
    level = closed_object(
        {
            "kinds": list_of({"enum": list(KIND_WORDS.values())}),
            "kind_bits": {
                "type": "integer",
                "minimum": 0,
                "maximum": 262143,
                "description": "Bits of BUFR flag table 0 08 042.",
            },
            **values,
            "rows": {
                **list_of({"type": "integer", "minimum": 0}),
                "description": "Indexes of the rows of the prepared ascent (0 is the surface).",
            },
            "reasons": list_of(reason),
        }
    )
    return closed_object(
        {
            "format": {"const": "aerogram-levels-1"},
            "units": closed_object({name: {"const": column(name).unit} for name in LEVEL_COLUMNS}),
            "attributes": {"type": "object"},
            "levels": list_of(level),
        },
        "Level table",
    )


_RECEIVED = {"type": "string", "description": "As received, where a repair was read."}


def trace_schema() -> dict[str, Any]:
    """Return the schema of one trace entry."""
    entry = closed_object(
        {
            "span": PLACE,
            "text": {"type": "string"},
            "part": {"type": "string"},
            "section": {"type": "string"},
            "symbol": {"type": "string", "description": "Symbolic form of the group."},
            "record": {"type": ["integer", "null"]},
            "values": {"type": "object", "additionalProperties": SCALAR},
            "level": {"type": ["integer", "null"], "description": "Index in the level table."},
            "rows": {**list_of({"type": "integer"}), "description": "Lines of profile.csv."},
            "rules": list_of({"type": "string"}),
        },
        "Trace entry",
    )
    entry["properties"] = {**entry["properties"], "original": _RECEIVED}
    return entry


def report_schema() -> dict[str, Any]:
    """Return the schema of decoded or encoded reports."""
    record = closed_object(
        {
            "kind": {"type": "string"},
            "level": {"type": ["integer", "null"]},
            "values": {"type": "object", "additionalProperties": SCALAR},
        }
    )
    section = closed_object(
        {
            "section": {"type": "string"},
            "none_reported": {"type": "boolean"},
            "records": list_of(record),
        }
    )
    content = closed_object(
        {
            "form": {"enum": list(FORMS)},
            "part": {"type": "string"},
            "nil": {"type": "boolean"},
            "sections": list_of(section),
        }
    )
    part = closed_object(
        {
            "letters": {"type": "string"},
            "text": {"type": "string", "description": "As received or made."},
            "span": PLACE,
            "content": content,
        }
    )
    part["properties"]["heading"] = {
        "type": "string",
        "description": "Abbreviated heading it was received under.",
    }
    report = closed_object(
        {
            "form": {"enum": list(FORMS)},
            "text": {"type": "string"},
            "parts": list_of(part),
            "levels": {"$ref": "levels.schema.json"},
            "trace": list_of({"$ref": "trace.schema.json"}),
        }
    )
    report["properties"]["on"] = {
        "type": "string",
        "format": "date",
        "description": "Day whose edition of the form it was read or made in; without it, today's.",
    }
    # only what was decoded with a catalogue and a date says where and when it was made
    report["properties"]["located"] = _located()
    return closed_object(
        {
            "format": {"const": "aerogram-report-1"},
            "reports": list_of(report),
            "diagnostics": list_of({"$ref": "diagnostic.schema.json"}),
        },
        "Reports",
    )


def _located() -> dict[str, Any]:
    text = {"type": ["string", "null"]}
    number = {"type": ["number", "null"]}
    time = {**text, "format": "date-time"}
    return closed_object(
        {
            "station": {**text, "description": "WMO index, or call sign."},
            "name": text,
            "latitude": {**number, "x-unit": "degree"},
            "longitude": {**number, "x-unit": "degree"},
            "elevation": {**number, "x-unit": "m"},
            "position_source": {**text, "description": "report, or list of the catalogue."},
            "nominal_time": time,
            "release_time": time,
            "date_source": {
                "enum": ["given", "archive", "file name", "heading", "neighbour", None]
            },
            "day_source": {"enum": ["report", "heading", None]},
        },
        "Where and when a report was made",
    )


def explanation_schema() -> dict[str, Any]:
    """Return the schema of an explained report."""
    figures = closed_object(
        {
            "text": {"type": "string"},
            "symbol": {"type": "string"},
            "table": {"type": ["string", "null"]},
            "sentence": {"type": "string"},
        }
    )
    group = closed_object(
        {
            "part": {"type": "string"},
            "section": {"type": "string"},
            "section_title": {"type": "string"},
            "symbol": {"type": "string"},
            "title": {"type": "string"},
            "text": {"type": "string"},
            "span": PLACE,
            "level": {"type": ["integer", "null"]},
            "figures": list_of(figures),
            "rows": list_of({"type": "integer"}),
            "rules": list_of({"type": "string"}),
        }
    )
    group["properties"] = {**group["properties"], "original": _RECEIVED}
    report = closed_object({"form": {"enum": list(FORMS)}, "groups": list_of(group)})
    report["properties"]["located"] = _located()
    return closed_object(
        {
            "format": {"const": "aerogram-explanation-1"},
            "reports": list_of(report),
            "diagnostics": list_of({"$ref": "diagnostic.schema.json"}),
        },
        "Explanation",
    )
