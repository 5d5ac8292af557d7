"""Schema of what a verdict looks like in JSON."""

from __future__ import annotations

from typing import Any

from encoder.report.schemas import SCALAR, closed_object, list_of


def verdict_schema() -> dict[str, Any]:
    """Return the schema of a verdict."""
    number = {"type": "number"}
    worst = closed_object(
        {
            "element": {"type": "string"},
            "unit": {"type": "string"},
            "misfit": number,
            "limit": number,
            "pressure": {"type": ["number", "null"], "x-unit": "hPa"},
            "height": {"type": ["number", "null"], "x-unit": "m"},
            "observed": number,
            "rebuilt": number,
            "row": {"type": ["integer", "null"], "description": "Line of profile.csv."},
            "basis": {"enum": ["curve", "level"]},
            "within": {"type": "boolean"},
        }
    )
    difference = closed_object(
        {
            "part": {"type": "string"},
            "section": {"type": "string"},
            "record": {"type": "string"},
            "element": {"type": "string"},
            "reported": SCALAR,
            "expected": SCALAR,
            "steps": {"type": ["number", "null"]},
            "severity": {"enum": ["error", "warning", "note"]},
        }
    )
    count = {"type": "integer", "minimum": 0}
    return closed_object(
        {
            "format": {"const": "aerogram-verdict-1"},
            "may_be_sent": {"type": "boolean"},
            "errors": count,
            "warnings": count,
            "parts": list_of({"type": "string"}),
            "rows_judged": count,
            "worst": list_of(worst),
            "differences": list_of(difference),
            "diagnostics": list_of({"$ref": "diagnostic.schema.json"}),
        },
        "Verdict",
    )
