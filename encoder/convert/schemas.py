"""JSON Schemas of what a conversion leaves: the summary and the records of the quarantine."""

from __future__ import annotations

from typing import Any

from encoder.convert.kinds import KINDS
from encoder.convert.summary import FORMAT
from encoder.convert.work import QUARANTINE

_TEXT: dict[str, Any] = {"type": "string"}
_COUNT: dict[str, Any] = {"type": "integer", "minimum": 0}
_CODES: dict[str, Any] = {"type": "object", "additionalProperties": _COUNT}
_DIAGNOSTICS: dict[str, Any] = {"type": "array", "items": {"$ref": "diagnostic.schema.json"}}


def _object(**properties: Any) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _account() -> dict[str, Any]:
    count = _object(read=_COUNT, written=_COUNT, refused=_COUNT, aside=_COUNT)
    names = ("bytes", "reports", "soundings", "levels", "values")
    return _object(**dict.fromkeys(names, count))


def conversion_schema() -> dict[str, Any]:
    """Return the schema of the summary of a conversion."""
    account = _account()
    return {
        "title": "Conversion",
        "description": "What a conversion read, wrote and refused: read = written + refused + "
        "aside in every source and in the total. A sounding with parts of several sources counts "
        "where its first part is.",
        **_object(
            format={"const": FORMAT},
            settings={**_TEXT, "description": "Digest of all settings that bear on the result."},
            adds_up={"type": "boolean"},
            total=account,
            sources={
                "type": "array",
                "items": _object(
                    name=_TEXT,
                    digest=_TEXT,
                    kind={"enum": list(KINDS)},
                    leaf=_TEXT,
                    account=account,
                    refused=_COUNT,
                ),
            },
            stations={
                "type": "array",
                "items": _object(
                    station=_TEXT,
                    soundings=_COUNT,
                    current=_COUNT,
                    flagged=_COUNT,
                    repaired=_COUNT,
                    files={"type": "array", "items": _object(name=_TEXT, bytes=_COUNT)},
                    account=account,
                ),
            },
            not_read=_DIAGNOSTICS,
            failed=_DIAGNOSTICS,
            found=_CODES,
            refused=_CODES,
            faults=_DIAGNOSTICS,
        ),
    }


def quarantine_schema() -> dict[str, Any]:
    """Return the schema of one line of a quarantine file."""
    return {
        "title": "Quarantine record",
        "description": "Something that was not taken, whole; one JSON object a line.",
        **_object(
            **{
                "aerogram-quarantine": {"const": QUARANTINE},
                "kind": {"enum": list(KINDS), "description": "What it is read as when fed back."},
                "source": _TEXT,
                "digest": _TEXT,
                "offset": _COUNT,
                "length": _COUNT,
                "name": {**_TEXT, "description": "File name that dates are taken from."},
                "heading": _TEXT,
                "diagnostics": _DIAGNOSTICS,
                "encoding": {"enum": ["ascii", "base64"]},
                "data": {**_TEXT, "description": "Verbatim; mend it here."},
            }
        ),
    }
