"""The schemas of what pages embed: the flight page and the month."""

from __future__ import annotations

from typing import Any

from encoder.columns import LEVEL_COLUMNS, PROFILE_COLUMNS, column
from encoder.levels.representation import ELEMENTS
from encoder.levels.table import KIND_WORDS
from encoder.page.document import FORMAT as PAGE_FORMAT
from encoder.page.month import FORMAT as MONTH_FORMAT

_NUMBER = {"type": ["number", "null"]}
_TEXT = {"type": "string"}
_TEXT_OR_NONE = {"type": ["string", "null"]}
_COUNT = {"type": "integer", "minimum": 0}
_INDEX = {"type": ["integer", "null"], "minimum": 0}
_SCALAR = {"type": ["number", "string", "boolean", "null"]}
_SEVERITY = {"enum": ["error", "warning", "note"]}


def _object(properties: dict[str, Any], title: str | None = None, **more: Any) -> dict[str, Any]:
    return {
        **({"title": title} if title else {}),
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
        **more,
    }


def _list(items: Any, description: str | None = None) -> dict[str, Any]:
    told = {"description": description} if description else {}
    return {"type": "array", "items": items, **told}


def _or_none(schema: dict[str, Any]) -> dict[str, Any]:
    return {"anyOf": [schema, {"type": "null"}]}


def _numbers(name: str) -> dict[str, Any]:
    return {**_list(_NUMBER, column(name).description), "x-unit": column(name).unit}


def page_schema() -> dict[str, Any]:
    """Return the schema of the data a flight page embeds."""
    values = _object({name: {**_NUMBER, "x-unit": column(name).unit} for name in LEVEL_COLUMNS})
    reason = _object({"rule": _TEXT, "text": _TEXT, "source": _TEXT})
    level = _object(
        {
            "kinds": _list({"enum": list(KIND_WORDS.values())}),
            "marks": _list(_TEXT),
            "place": {**_NUMBER, "x-unit": "hPa", "description": "Where it is drawn."},
            "sent": values,
            "flown": {**_or_none(values), "description": "Before coding, where known."},
            "rows": _list(_COUNT, "Lines of the profile file; 0 is the surface observation."),
            "groups": _list(_COUNT, "Positions of the groups that carry it."),
            "reasons": _list(reason),
            "diagnostics": _list(_COUNT),
            "barb": _or_none(
                _object({"lines": _TEXT, "shapes": _TEXT, "calm": {"type": "boolean"}})
            ),
        }
    )
    figures = _object({"text": _TEXT, "symbol": _TEXT, "table": _TEXT_OR_NONE, "sentence": _TEXT})
    group = _object(
        {
            "part": _TEXT,
            "section": _TEXT,
            "section_title": _TEXT,
            "symbol": _TEXT,
            "title": _TEXT,
            "text": _TEXT,
            "received": {**_TEXT_OR_NONE, "description": "Where a repair was read."},
            "span": _list(_COUNT),
            "level": {**_INDEX, "description": "Index of its level."},
            "figures": _list(figures),
            "values": {"type": "object", "additionalProperties": _SCALAR},
            "rows": _list(_COUNT),
            "rules": _list(_TEXT),
            "diagnostics": _list(_COUNT),
        }
    )
    found = _object(
        {
            "code": _TEXT,
            "severity": _SEVERITY,
            "message": _TEXT,
            "file": _TEXT_OR_NONE,
            "line": {"type": ["integer", "null"]},
            "span": _or_none(_list(_COUNT)),
            "path": _list({"type": ["string", "integer"]}),
            "rows": _list({"type": "integer"}),
            "value": _TEXT_OR_NONE,
            "expected": _TEXT_OR_NONE,
            "hint": _TEXT,
            "source": _TEXT,
            "level": _INDEX,
        }
    )
    line = _object({"value": {"type": "number"}, "points": _list(_list({"type": "number"}))})
    return _object(
        {
            "format": {"const": PAGE_FORMAT},
            "head": _head(),
            "verdict": {**_or_none({"type": "object"}), "description": "As verdict.schema.json."},
            "times": _or_none(_times()),
            "profile": _or_none(
                _object(
                    {
                        "lines": _list(_COUNT, "Lines of the profile file."),
                        "units": {"type": "object", "additionalProperties": _TEXT},
                        "place": _list(
                            _NUMBER,
                            "Where each row is drawn, hPa: by the standard atmosphere where it "
                            "has a height alone.",
                        ),
                        **{name: _numbers(name) for name in PROFILE_COLUMNS},
                    }
                )
            ),
            "fit": _or_none(
                _object(
                    {
                        name: _object(
                            {
                                "rebuilt": _numbers(name),
                                "misfit": _list(_NUMBER),
                                "limit": _list(_NUMBER),
                            }
                        )
                        for name in ELEMENTS
                    }
                )
            ),
            "levels": _list(level),
            "groups": _list(group),
            "diagnostics": _list(found),
            "lines": _object(
                {name: _list(line) for name in ("dry", "moist", "mixing")},
                description="Lines of the thermodynamic view: pressure in hPa, degC.",
            ),
            "carriers": _list(_carrier()),
        },
        "Flight page",
    )


def _head() -> dict[str, Any]:
    return _object(
        {
            "form": _TEXT,
            "parts": _list(_TEXT),
            "station": _TEXT_OR_NONE,
            "name": _TEXT_OR_NONE,
            "nominal_time": _TEXT_OR_NONE,
            "release_time": _TEXT_OR_NONE,
            "day": _SCALAR,
            "hour": _SCALAR,
            "wind_unit": {"enum": ["kt", "m s-1"]},
            "southern": {"type": "boolean"},
        }
    )


def _times() -> dict[str, Any]:
    moment = _object(
        {
            "name": _TEXT,
            "label": _TEXT,
            "minutes": {"type": "number", "description": "After the nominal time."},
            "time": _TEXT,
        }
    )
    return _object(
        {
            "moments": _list(moment),
            "window": _list({"type": "integer"}),
            "aim": {"type": ["integer", "null"]},
            "window_source": _TEXT,
            "deadline_source": _TEXT,
            "release_in_window": {"type": "boolean"},
            "sentences": _list(_object({"text": _TEXT, "as_it_should_be": {"type": "boolean"}})),
        }
    )


def _carrier() -> dict[str, Any]:
    return _object(
        {
            "kind": {"enum": ["BUFR", "netCDF"]},
            "name": _TEXT,
            "columns": _list(_object({"name": _TEXT, "words": _TEXT, "unit": _TEXT})),
            "rows": _list(
                _object(
                    {
                        "place": _TEXT,
                        "level": _INDEX,
                        "cells": _list({"type": ["number", "string", "null"]}),
                    }
                )
            ),
        }
    )


def month_schema() -> dict[str, Any]:
    """Return the schema of a month of a station."""
    part = _object(
        {
            "letter": {"enum": ["A", "B", "C", "D"]},
            "expected": {"type": "boolean"},
            "given": {"type": "boolean"},
            "minutes": {**_NUMBER, "description": "Sent so long after the nominal time."},
            "late": {"type": ["boolean", "null"]},
        }
    )
    sounding = _object(
        {
            "nominal_time": _TEXT,
            "time": _TEXT,
            "top_pressure": {**_NUMBER, "x-unit": "hPa"},
            "top_height": {**_NUMBER, "x-unit": "m"},
            "height_at_top": {"type": "boolean"},
            "levels": _COUNT,
            "parts": _list(part),
            "errors": _COUNT,
            "warnings": _COUNT,
            "notes": _COUNT,
        }
    )
    return _object(
        {
            "format": {"const": MONTH_FORMAT},
            "station": _object({"name": _TEXT, "index": _TEXT}),
            "month": {"type": "string", "pattern": "^[0-9]{4}-[0-9]{2}$"},
            "hours": _list({"type": "integer", "minimum": 0, "maximum": 23}),
            "deadlines": _list({"type": "integer"}),
            "sent_known": {"type": "boolean"},
            "totals": {"type": "object", "additionalProperties": _COUNT},
            "missing": _list(_TEXT),
            "soundings": _list(sounding),
        },
        "Month of a station",
    )
