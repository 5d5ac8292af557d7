"""Schemas of what bulletins and split traffic look like in JSON."""

from __future__ import annotations

from typing import Any

_TEXT: dict[str, Any] = {"type": "string"}
_SCALAR = {"type": ["number", "string", "boolean", "null"]}
_DIAGNOSTICS = {"type": "array", "items": {"$ref": "diagnostic.schema.json"}}


def _object(properties: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {
        **more,
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _list(items: Any) -> dict[str, Any]:
    return {"type": "array", "items": items}


def bulletins_schema() -> dict[str, Any]:
    """Return the schema of the bulletins of a flight."""
    time = {"type": ["string", "null"], "format": "date-time"}
    bulletin = _object(
        {
            "heading": _TEXT,
            "description": _TEXT,
            "letters": _list(_TEXT),
            "reports": _list(_TEXT),
            "file_name": {**_TEXT, "description": "By the general file naming convention."},
        }
    )
    due = _object(
        {
            "name": {"enum": ["release", "parts A and B", "parts C and D"]},
            "earliest": time,
            "latest": time,
            "ready": {**time, "description": "When the flight was there."},
            "state": {"enum": ["in time", "early", "late", "not reached"]},
            "source": _TEXT,
        }
    )
    change = _object(
        {
            "part": _TEXT,
            "section": _TEXT,
            "record": _TEXT,
            "place": _TEXT,
            "element": _TEXT,
            "before": _SCALAR,
            "after": _SCALAR,
        }
    )
    return _object(
        {
            "format": {"const": "aerogram-bulletins-1"},
            "bulletins": _list(bulletin),
            "due": _list(due),
            "changes": {**_list(change), "description": "Of a correction, to be looked at first."},
            "diagnostics": _DIAGNOSTICS,
        },
        title="Bulletins of a flight",
    )


def split_schema() -> dict[str, Any]:
    """Return the schema of one line of ``split --json``: a report, or text that was not read."""
    place = {"type": "integer", "minimum": 0}
    word = {"type": ["string", "null"]}
    report_or_not = {
        "if": {"properties": {"kind": {"const": "report"}}},
        "then": {"properties": {"letters": _TEXT, "form": _TEXT}},
        "else": {"properties": {"letters": {"type": "null"}, "form": {"type": "null"}}},
    }
    return _object(
        {
            "format": {"const": "aerogram-split-1"},
            "file": {**_TEXT, "description": "As named; - is standard input."},
            "kind": {"enum": ["report", "unread"]},
            "offset": {**place, "description": "Of the first byte in the file."},
            "bytes": {"type": "integer", "minimum": 1, "description": "Length in the file."},
            "heading": {**word, "description": "Heading it stands under, in capitals."},
            "heading_offset": {"type": ["integer", "null"], "minimum": 0},
            "letters": {**word, "description": "What the report opens with."},
            "form": {**word, "description": "Number of the code form."},
            "part": {"enum": ["A", "B", "C", "D", None]},
            "ended": {"type": "boolean", "description": "Whether it ends with an equals sign."},
            "text": {
                **_TEXT,
                "description": (
                    "One character a byte; words given once for several monthly reports come first."
                ),
            },
            "diagnostics": _DIAGNOSTICS,
        },
        title="A line of split traffic",
        **report_or_not,
    )
