"""Generated reference: JSON Schemas and code-form pages, written from the declarations.

``python -m encoder.reference`` writes them into ``schemas/`` of a checkout;
``python -m encoder.reference --check`` fails when a committed file is not what would be written.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from encoder.bulletin.schemas import bulletins_schema, split_schema
from encoder.catalogue import CATALOGUE
from encoder.codes import FORMS
from encoder.codes.pages import form_as_markdown
from encoder.convert.schemas import conversion_schema, quarantine_schema
from encoder.formats.column_map import column_map_schema
from encoder.formats.netcdf import PRODUCTS
from encoder.formats.netcdf.template import template
from encoder.formats.service_json import service_schema
from encoder.formats.table_forms import table_schema
from encoder.page.schemas import month_schema, page_schema
from encoder.report.schemas import (
    diagnostic_schema,
    explanation_schema,
    levels_schema,
    report_schema,
    trace_schema,
)
from encoder.verify.schemas import verdict_schema

_DRAFT = "https://json-schema.org/draft/2020-12/schema"
_ID = "https://aerogram.invalid/schemas/"


def _schema(name: str, body: dict[str, Any]) -> dict[str, Any]:
    return {"$schema": _DRAFT, "$id": f"{_ID}{name}.schema.json", **body}


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
