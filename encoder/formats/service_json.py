"""``service.json``: who makes and publishes the archive files."""

from __future__ import annotations

import json
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from encoder.archive import Service
from encoder.diagnostics import Result, diagnostic
from encoder.formats.text_file import read_text

if TYPE_CHECKING:
    import os

MOST_BYTES = 1_000_000
"""Largest file read."""
KINDS = ("person", "group", "institution", "position")
"""What a creator or publisher may be (ACDD 1.3)."""


def service_schema() -> dict[str, Any]:
    """Return the schema of ``service.json``."""
    properties: dict[str, Any] = {}
    for item in fields(Service):
        rule: dict[str, Any] = {"type": "string", "minLength": 1}
        if item.name.endswith("_type"):
            rule = {"enum": list(KINDS)}
        properties[item.name] = rule
    return {
        "title": "Service",
        "description": "Global attributes of the Attribute Convention for Data Discovery 1.3.",
        "type": "object",
        "properties": properties,
        "additionalProperties": False,
    }


def read_service(path: str | os.PathLike[str]) -> Result[Service | None]:
    """Read who makes and publishes the files.

    Parameters
    ----------
    path : path-like

    Returns
    -------
    Result of Service or None
        None where the file cannot be used; every fault is told at once.
    """
    from jsonschema import Draft202012Validator

    text = read_text(path, most=MOST_BYTES)
    if text.value is None:
        return Result(None, text.diagnostics)
    name = str(path)
    try:
        document = json.loads(text.value)
    except (ValueError, RecursionError) as fault:
        return Result(
            None,
            (diagnostic("json-not-valid", f"Expected a JSON object: {fault}.", file=name),),
        )
    faults = [
        diagnostic(
            "value-not-allowed",
            f"{'/'.join(str(step) for step in error.absolute_path) or 'the file'}: "
            f"{error.message[:200]}.",
            file=name,
            path=tuple(error.absolute_path),
            hint="Correct it; the schema service.schema.json describes every key.",
        )
        for error in Draft202012Validator(service_schema()).iter_errors(document)
    ]
    if faults:
        return Result(None, tuple(faults))
    return Result(Service(**document), text.diagnostics)
