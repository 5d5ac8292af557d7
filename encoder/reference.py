"""Generated reference: JSON Schemas and code-form pages, written from the declarations.

``python -m encoder.reference`` writes them into ``schemas/`` of a checkout;
``python -m encoder.reference --check`` fails when a committed file is not what would be written.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from encoder.bulletin.schemas import bulletins_schema, split_schema
from encoder.catalogue import CATALOGUE
from encoder.codes import FORMS
from encoder.columns import LEVEL_COLUMNS, column
from encoder.convert.schemas import conversion_schema, quarantine_schema
from encoder.formats.column_map import column_map_schema
from encoder.formats.netcdf import PRODUCTS
from encoder.formats.netcdf.template import template
from encoder.formats.service_json import service_schema
from encoder.formats.tables import table_schema
from encoder.levels.table import KIND_WORDS
from encoder.page.schemas import month_schema, page_schema

if TYPE_CHECKING:
    from encoder.codes.declare import CodeForm, Group, Section

_DRAFT = "https://json-schema.org/draft/2020-12/schema"
_ID = "https://aerogram.invalid/schemas/"
_SCALAR = {"type": ["number", "string", "boolean", "null"]}
_PLACE = {
    "type": "array",
    "items": {"type": "integer", "minimum": 0},
    "minItems": 2,
    "maxItems": 2,
    "description": "Start and end offset in characters.",
}


def _object(properties: dict[str, Any], title: str | None = None, **more: Any) -> dict[str, Any]:
    schema: dict[str, Any] = {"title": title} if title else {}
    return {
        **schema,
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
        **more,
    }


def _list(items: Any) -> dict[str, Any]:
    return {"type": "array", "items": items}


def _schema(name: str, body: dict[str, Any]) -> dict[str, Any]:
    return {"$schema": _DRAFT, "$id": f"{_ID}{name}.schema.json", **body}


def diagnostic_schema() -> dict[str, Any]:
    """Return the schema of one diagnostic."""
    text = {"type": ["string", "null"]}
    return _object(
        {
            "code": {"enum": sorted(CATALOGUE), "description": "Stable name of the finding."},
            "severity": {"enum": ["error", "warning", "note"]},
            "message": {"type": "string"},
            "file": text,
            "line": {"type": ["integer", "null"], "description": "1-based line of the file."},
            "span": {"anyOf": [_PLACE, {"type": "null"}]},
            "path": _list({"type": ["string", "integer"]}),
            "rows": {**_list({"type": "integer"}), "description": "Lines of profile.csv."},
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
    reason = _object(
        {"rule": {"type": "string"}, "text": {"type": "string"}, "source": {"type": "string"}}
    )
    level = _object(
        {
            "kinds": _list({"enum": list(KIND_WORDS.values())}),
            "kind_bits": {
                "type": "integer",
                "minimum": 0,
                "maximum": 262143,
                "description": "Bits of BUFR flag table 0 08 042.",
            },
            **values,
            "rows": {
                **_list({"type": "integer", "minimum": 0}),
                "description": "Indexes of the rows of the prepared ascent (0 is the surface).",
            },
            "reasons": _list(reason),
        }
    )
    return _object(
        {
            "format": {"const": "aerogram-levels-1"},
            "units": _object({name: {"const": column(name).unit} for name in LEVEL_COLUMNS}),
            "attributes": {"type": "object"},
            "levels": _list(level),
        },
        "Level table",
    )


_RECEIVED = {"type": "string", "description": "As received, where a repair was read."}


def trace_schema() -> dict[str, Any]:
    """Return the schema of one trace entry."""
    entry = _object(
        {
            "span": _PLACE,
            "text": {"type": "string"},
            "part": {"type": "string"},
            "section": {"type": "string"},
            "symbol": {"type": "string", "description": "Symbolic form of the group."},
            "record": {"type": ["integer", "null"]},
            "values": {"type": "object", "additionalProperties": _SCALAR},
            "level": {"type": ["integer", "null"], "description": "Index in the level table."},
            "rows": {**_list({"type": "integer"}), "description": "Lines of profile.csv."},
            "rules": _list({"type": "string"}),
        },
        "Trace entry",
    )
    entry["properties"] = {**entry["properties"], "original": _RECEIVED}
    return entry


def report_schema() -> dict[str, Any]:
    """Return the schema of decoded or encoded reports."""
    record = _object(
        {
            "kind": {"type": "string"},
            "level": {"type": ["integer", "null"]},
            "values": {"type": "object", "additionalProperties": _SCALAR},
        }
    )
    section = _object(
        {
            "section": {"type": "string"},
            "none_reported": {"type": "boolean"},
            "records": _list(record),
        }
    )
    content = _object(
        {
            "form": {"enum": list(FORMS)},
            "part": {"type": "string"},
            "nil": {"type": "boolean"},
            "sections": _list(section),
        }
    )
    part = _object(
        {
            "letters": {"type": "string"},
            "text": {"type": "string", "description": "As received or made."},
            "span": _PLACE,
            "content": content,
        }
    )
    part["properties"]["heading"] = {
        "type": "string",
        "description": "Abbreviated heading it was received under.",
    }
    report = _object(
        {
            "form": {"enum": list(FORMS)},
            "text": {"type": "string"},
            "parts": _list(part),
            "levels": {"$ref": "levels.schema.json"},
            "trace": _list({"$ref": "trace.schema.json"}),
        }
    )
    # only what was decoded with a catalogue and a date says where and when it was made
    report["properties"]["located"] = _located()
    return _object(
        {
            "format": {"const": "aerogram-report-1"},
            "reports": _list(report),
            "diagnostics": _list({"$ref": "diagnostic.schema.json"}),
        },
        "Reports",
    )


def _located() -> dict[str, Any]:
    text = {"type": ["string", "null"]}
    number = {"type": ["number", "null"]}
    time = {**text, "format": "date-time"}
    return _object(
        {
            "station": {**text, "description": "WMO index, or call sign."},
            "name": text,
            "latitude": {**number, "x-unit": "degree"},
            "longitude": {**number, "x-unit": "degree"},
            "elevation": {**number, "x-unit": "m"},
            "position_source": {**text, "description": "report, or list of the catalogue."},
            "nominal_time": time,
            "release_time": time,
            "date_source": {"enum": ["given", "file name", "heading", "neighbour", None]},
            "day_source": {"enum": ["report", "heading", None]},
        },
        "Where and when a report was made",
    )


def verdict_schema() -> dict[str, Any]:
    """Return the schema of a verdict."""
    number = {"type": "number"}
    worst = _object(
        {
            "element": {"type": "string"},
            "unit": {"type": "string"},
            "misfit": number,
            "limit": number,
            "pressure": {**number, "x-unit": "hPa"},
            "observed": number,
            "rebuilt": number,
            "row": {"type": ["integer", "null"], "description": "Line of profile.csv."},
            "basis": {"enum": ["curve", "level"]},
            "within": {"type": "boolean"},
        }
    )
    difference = _object(
        {
            "part": {"type": "string"},
            "section": {"type": "string"},
            "record": {"type": "string"},
            "element": {"type": "string"},
            "reported": _SCALAR,
            "expected": _SCALAR,
            "steps": {"type": ["number", "null"]},
            "severity": {"enum": ["error", "warning", "note"]},
        }
    )
    count = {"type": "integer", "minimum": 0}
    return _object(
        {
            "format": {"const": "aerogram-verdict-1"},
            "may_be_sent": {"type": "boolean"},
            "errors": count,
            "warnings": count,
            "parts": _list({"type": "string"}),
            "rows_judged": count,
            "worst": _list(worst),
            "differences": _list(difference),
            "diagnostics": _list({"$ref": "diagnostic.schema.json"}),
        },
        "Verdict",
    )


def explanation_schema() -> dict[str, Any]:
    """Return the schema of an explained report."""
    figures = _object(
        {
            "text": {"type": "string"},
            "symbol": {"type": "string"},
            "table": {"type": ["string", "null"]},
            "sentence": {"type": "string"},
        }
    )
    group = _object(
        {
            "part": {"type": "string"},
            "section": {"type": "string"},
            "section_title": {"type": "string"},
            "symbol": {"type": "string"},
            "title": {"type": "string"},
            "text": {"type": "string"},
            "span": _PLACE,
            "level": {"type": ["integer", "null"]},
            "figures": _list(figures),
            "rows": _list({"type": "integer"}),
            "rules": _list({"type": "string"}),
        }
    )
    group["properties"] = {**group["properties"], "original": _RECEIVED}
    report = _object({"form": {"enum": list(FORMS)}, "groups": _list(group)})
    report["properties"]["located"] = _located()
    return _object(
        {
            "format": {"const": "aerogram-explanation-1"},
            "reports": _list(report),
            "diagnostics": _list({"$ref": "diagnostic.schema.json"}),
        },
        "Explanation",
    )


SCHEMAS = {
    "diagnostic": diagnostic_schema,
    "levels": levels_schema,
    "trace": trace_schema,
    "report": report_schema,
    "verdict": verdict_schema,
    "explanation": explanation_schema,
    "bulletins": bulletins_schema,
    "split": split_schema,
    "table": table_schema,
    "service": service_schema,
    "column_map": column_map_schema,
    "conversion": conversion_schema,
    "quarantine": quarantine_schema,
    "page": page_schema,
    "month": month_schema,
}


# --- pages of the code forms ------------------------------------------------------------------


def form_as_markdown(form: CodeForm) -> str:
    """Return a code form as a page: parts, sections, groups, figures, steps, sources."""
    lines = [
        f"# {form.number} {form.name}",
        "",
        f"{form.title}.",
        "",
        f"Source: {form.source}.",
        "",
    ]
    for part in form.parts:
        lines += [f"## Part {part.letter} ({part.letters}): {part.title}", "", "```"]
        lines += [_section_line(section) for section in part.sections]
        lines += ["```", ""]
    lines += ["## Groups", ""]
    for group in _groups(form):
        lines += _group_lines(group)
    return "\n".join(lines)


def _section_line(section: Section) -> str:
    words = [section.marker] if section.marker else []
    for record in section.records:
        groups = [
            {
                "always": use.group.symbol,
                "to-last-wind": f"({use.group.symbol} up to Id)",
                "if-recognised": f"[{use.group.symbol}]",
            }[use.presence]
            for use in record.uses
        ]
        more = " ..." if record.repeated else ""
        none = f" | {record.none_group}" if record.none_group else ""
        words.append(" ".join(groups) + more + none)
    if section.verbatim:
        words.append(f"{section.markers[0]} ... {section.markers[-1]}, kept as received")
    return f"{section.number:>2}  {section.title}: {'; '.join(words)}"


def _groups(form: CodeForm) -> list[Group]:
    found: dict[str, Group] = {}
    for part in form.parts:
        for section in part.sections:
            for record in section.records:
                for use in record.uses:
                    found.setdefault(use.group.symbol, use.group)
    return list(found.values())


def _group_lines(group: Group) -> list[str]:
    lines = [f"### `{group.symbol}` {group.title}", "", "| figures | width | meaning | table |"]
    lines.append("|---|---|---|---|")
    lines.extend(
        f"| `{part.symbol}` | {part.width} | {part.meaning} | {part.table or ''} |"
        for part in group.figures
    )
    if group.steps:
        steps = "; ".join(f"{name}: {step}" for name, step in group.steps.items())
        lines += ["", f"Steps: {steps}."]
    return [*lines, "", f"Source: {group.source}.", ""]


def catalogue_as_markdown() -> str:
    """Return the catalogue of diagnostics as a page."""
    lines = [
        "# Diagnostics",
        "",
        "| code | severity | meaning | what to do | source |",
        "|---|---|---|---|---|",
    ]
    lines.extend(
        f"| `{code}` | {rule.severity} | {rule.title} | {rule.hint} | {rule.source} |"
        for code, rule in sorted(CATALOGUE.items())
    )
    return "\n".join(lines) + "\n"


# --- writing and checking ---------------------------------------------------------------------


def generated() -> dict[str, str]:
    """Return every generated file by its path below ``schemas/``."""
    files = {
        f"{name}.schema.json": json.dumps(_schema(name, make()), indent=2, ensure_ascii=False)
        + "\n"
        for name, make in SCHEMAS.items()
    }
    for number, form in FORMS.items():
        name = number.replace(" ", "").lower()
        files[f"code_forms/{name}.md"] = form_as_markdown(form)
    files |= {f"cf/{name}.cdl": template(product) for name, product in PRODUCTS.items()}
    files["diagnostics.md"] = catalogue_as_markdown()
    return files


def stale(folder: Path) -> list[str]:
    """Return the paths of generated files that are missing or differ from what they must be."""
    return [
        path
        for path, text in generated().items()
        if not (folder / path).is_file() or (folder / path).read_text(encoding="utf-8") != text
    ]


def main(arguments: list[str]) -> int:
    """Write the generated files, or check them; return the exit code."""
    folder = Path(__file__).resolve().parent.parent / "schemas"
    if "--check" in arguments:
        old = stale(folder)
        for path in old:
            sys.stderr.write(f"schemas/{path} is not up to date: run python -m encoder.reference\n")
        return 1 if old else 0
    from encoder.formats.text_file import write_text

    for path, text in generated().items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        write_text(folder / path, text)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
