"""Tables in files: JSON with a schema, CSV with units in the header, Parquet; and back."""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING, Any

from encoder.errors import FormatError, MissingDependencyError
from encoder.formats.tables import FORMAT, Cell, Table, TableColumn

if TYPE_CHECKING:
    from collections.abc import Iterable

# --- JSON -------------------------------------------------------------------------------------


def table_schema() -> dict[str, Any]:
    """Return the schema of a table in JSON."""
    cell = {"type": ["number", "string", "null"]}
    return {
        "title": "Table",
        "type": "object",
        "properties": {
            "format": {"const": FORMAT},
            "product": {"enum": ["flight", "levels", "history"]},
            "facts": {"type": "object"},
            "columns": {
                "type": "array",
                "minItems": 1,
                "items": {
                    "type": "object",
                    "properties": {
                        "name": {"type": "string", "pattern": "^[a-z0-9_]+$"},
                        "unit": {
                            "type": ["string", "null"],
                            "description": "UDUNITS spelling; null for texts.",
                        },
                        "kind": {"enum": ["number", "integer", "text"]},
                        "description": {"type": "string"},
                    },
                    "required": ["name", "unit", "kind", "description"],
                    "additionalProperties": False,
                },
            },
            "rows": {
                "type": "array",
                "items": {"type": "array", "items": cell},
                "description": "One list a row, one cell a column; null where missing.",
            },
        },
        "required": ["format", "product", "facts", "columns", "rows"],
        "additionalProperties": False,
    }


def table_as_json(table: Table) -> dict[str, Any]:
    """Return a dictionary that validates against ``table.schema.json``."""
    return {
        "format": FORMAT,
        "product": table.product,
        "facts": table.facts,
        "columns": [
            {
                "name": item.name,
                "unit": item.unit,
                "kind": item.kind,
                "description": item.description,
            }
            for item in table.columns
        ],
        "rows": [list(row) for row in zip(*(item.cells for item in table.columns), strict=True)],
    }


def table_from_json(document: Any) -> Table:
    """Return the table a dictionary describes; inverse of :func:`table_as_json`.

    Raises
    ------
    FormatError
        If the dictionary breaks the schema; names the first place.
    """
    from jsonschema import Draft202012Validator

    fault = next(iter(Draft202012Validator(table_schema()).iter_errors(document)), None)
    if fault is not None:
        place = "/".join(str(step) for step in fault.absolute_path) or "the document"
        msg = f"Expected a table ({FORMAT}); {place}: {fault.message[:200]}."
        raise FormatError(msg)
    heads, rows = document["columns"], document["rows"]
    wrong = next((n for n, row in enumerate(rows) if len(row) != len(heads)), None)
    if wrong is not None:
        msg = f"Expected {len(heads)} cells a row, row {wrong} has {len(rows[wrong])}."
        raise FormatError(msg)
    return Table(
        document["product"],
        tuple(
            TableColumn(**head, cells=tuple(row[place] for row in rows))
            for place, head in enumerate(heads)
        ),
        dict(document["facts"]),
    )


# --- CSV --------------------------------------------------------------------------------------


def table_as_csv(table: Table) -> str:
    """Return a table as CSV: a header ``name [unit]``, one line a row, a missing cell empty."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([item.header for item in table.columns])
    writer.writerows(zip(*(_plain(item.cells) for item in table.columns), strict=True))
    return text.getvalue()


def _plain(cells: Iterable[Cell]) -> Iterable[str]:
    return (
        "" if item is None else repr(item) if isinstance(item, float) else str(item)
        for item in cells
    )


def table_from_csv(text: str, like: Table) -> Table:
    """Return the table of a CSV text that has the columns of another one.

    Parameters
    ----------
    text : str
        From :func:`table_as_csv`.
    like : Table
        Gives product, kinds and descriptions.

    Raises
    ------
    FormatError
        If the header differs, or a cell is no number; names the line.
    """
    lines = csv.reader(io.StringIO(text))
    header = next(lines, [])
    expected = [item.header for item in like.columns]
    if header != expected:
        msg = f"Expected the header {', '.join(expected)}; got {', '.join(header)}."
        raise FormatError(msg)
    cells: list[list[Cell]] = [[] for _ in like.columns]
    for row in lines:
        try:
            for item, place, word in zip(like.columns, cells, row, strict=True):
                place.append(_cell(word, item.kind))
        except ValueError as fault:
            msg = f"Line {lines.line_num} does not fit the header: {fault}."
            raise FormatError(msg) from fault
    columns = tuple(
        TableColumn(item.name, item.unit, item.kind, item.description, tuple(place))
        for item, place in zip(like.columns, cells, strict=True)
    )
    return Table(like.product, columns, like.facts)


def _cell(word: str, kind: str) -> Cell:
    if not word:
        return None
    if kind == "text":
        return word
    return int(word) if kind == "integer" else float(word)


# --- Parquet ----------------------------------------------------------------------------------


def table_as_parquet(table: Table) -> bytes:
    """Return a table as a Parquet file; units and facts are in its metadata.

    Raises
    ------
    MissingDependencyError
        If pyarrow is not installed.
    """
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError as fault:
        msg = 'Parquet needs pyarrow: install it with pip install "aerogram[parquet]".'
        raise MissingDependencyError(msg) from fault
    types = {"number": pa.float64(), "integer": pa.int64(), "text": pa.string()}
    fields = [
        pa.field(
            item.name,
            types[item.kind],
            metadata={"unit": item.unit or "", "description": item.description},
        )
        for item in table.columns
    ]
    facts = json.dumps(table.facts, ensure_ascii=False, allow_nan=False)
    schema = pa.schema(
        fields, metadata={"format": FORMAT, "product": table.product, "facts": facts}
    )
    arrays = [pa.array(list(item.cells), type=types[item.kind]) for item in table.columns]
    sink = pa.BufferOutputStream()
    pq.write_table(pa.Table.from_arrays(arrays, schema=schema), sink, compression="zstd")
    return bytes(sink.getvalue().to_pybytes())
