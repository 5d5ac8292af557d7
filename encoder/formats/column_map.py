"""Tables of other services through a declared column map, in the manner of CSVW metadata.

The map says of each column what it holds and in which unit, how missing is written, what tells one
sounding from the next, and what is the same for the whole table. Nothing is guessed: a column that
is not in the map is not used, and a cell that is not what the map says refuses its sounding.
Source of the words: Metadata Vocabulary for Tabular Data, W3C Recommendation, 17 December 2015
(``tableSchema``, ``columns``, ``titles``, ``null``, ``dialect``; from memory).
"""

from __future__ import annotations

import csv
import io
import json
import math
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.columns import LEVEL_COLUMNS, column
from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.formats.text_file import read_text
from encoder.formats.units import USUAL_UNITS, converted, unit_fault

if TYPE_CHECKING:
    import os
    from collections.abc import Iterator, Mapping

    from numpy.typing import NDArray

MOST_BYTES = 1_000_000
MEASURED = tuple(
    name
    for name in LEVEL_COLUMNS
    if name not in ("wind_shear_below", "wind_shear_above", "latitude", "longitude")
)
"""Level columns a table may give."""
DATE_PARTS = ("year", "month", "day", "hour", "minute")
FACTS = ("station", "station_latitude", "station_longitude", "station_elevation")
MOMENTS = ("nominal_time", "release_time")
QUANTITIES = (*MEASURED, *FACTS, *MOMENTS, *DATE_PARTS)
_FACT_UNITS = {
    "station_latitude": "degree",
    "station_longitude": "degree",
    "station_elevation": "m",
}
_PATTERNS = {"yyyy": "%Y", "MM": "%m", "dd": "%d", "HH": "%H", "mm": "%M", "ss": "%S"}
"""Figures of date patterns (Unicode Technical Standard 35, as CSVW takes them)."""


def column_map_schema() -> dict[str, Any]:
    """Return the schema of a column map."""
    text = {"type": "string"}
    nulls = {"anyOf": [text, {"type": "array", "items": text}]}
    one = {
        "type": "object",
        "properties": {
            "titles": {**text, "description": "Name of the column in the header."},
            "number": {"type": "integer", "minimum": 1, "description": "Place, without header."},
            "quantity": {"enum": list(QUANTITIES)},
            "unit": {**text, "description": "UDUNITS spelling; that of the package by default."},
            "null": nulls,
            "factor": {"type": "number", "description": "Multiplied in before the unit."},
            "format": {**text, "description": "Date pattern such as yyyy-MM-dd HH:mm (UTC)."},
        },
        "required": ["quantity"],
        "oneOf": [{"required": ["titles"]}, {"required": ["number"]}],
        "additionalProperties": False,
    }
    return {
        "title": "Column map",
        "description": "What the columns of a table of soundings hold.",
        "type": "object",
        "properties": {
            "dialect": {
                "type": "object",
                "properties": {
                    "delimiter": {**text, "minLength": 1, "maxLength": 1},
                    "header": {"type": "boolean"},
                    "commentPrefix": {**text, "minLength": 1, "maxLength": 1},
                    "decimalChar": {"enum": [".", ","]},
                    "encoding": {"enum": ["utf-8", "latin-1"]},
                },
                "additionalProperties": False,
            },
            "null": nulls,
            "tableSchema": {
                "type": "object",
                "properties": {"columns": {"type": "array", "items": one, "minItems": 1}},
                "required": ["columns"],
                "additionalProperties": False,
            },
            "constants": {
                "type": "object",
                "description": "What is the same in every row.",
                "properties": {
                    name: {"type": "number" if name in _FACT_UNITS else "string"} for name in FACTS
                },
                "additionalProperties": False,
            },
        },
        "required": ["tableSchema"],
        "additionalProperties": False,
    }


def read_column_map(path: str | os.PathLike[str]) -> Result[dict[str, Any] | None]:
    """Read a column map.

    Returns
    -------
    Result of dict or None
        None with "column-map-malformed" where it is not of the schema, names a unit that does not
        measure the quantity, or leaves out station or time.
    """
    import jsonschema

    text = read_text(path, most=MOST_BYTES)
    if text.value is None:
        return Result(None, text.diagnostics)
    try:
        document = json.loads(text.value)
        jsonschema.Draft202012Validator(column_map_schema()).validate(document)
    except json.JSONDecodeError as fault:
        return _wrong(f"The file is no JSON: {fault}.", path)
    except jsonschema.ValidationError as fault:
        place = "/".join(str(step) for step in fault.absolute_path) or "the document"
        return _wrong(f"{place}: {fault.message}.", path)
    entries = document["tableSchema"]["columns"]
    given = {item["quantity"] for item in entries} | set(document.get("constants", {}))
    if len(entries) != len({item["quantity"] for item in entries}):
        return _wrong("Two columns have the same quantity.", path)
    if "station" not in given:
        return _wrong("Neither a column nor a constant gives the station.", path)
    if "nominal_time" not in given and not {"year", "month", "day", "hour"} <= given:
        return _wrong("Nothing gives nominal_time, or year, month, day and hour.", path)
    if not given & {"air_pressure", "geopotential_height"}:
        return _wrong("Neither air_pressure nor geopotential_height is given.", path)
    if not document.get("dialect", {}).get("header", True) and any(
        "titles" in item for item in entries
    ):
        return _wrong("A table without header needs column numbers.", path)
    for item in entries:
        if item["quantity"] in MEASURED and "unit" in item and item["quantity"] in USUAL_UNITS:
            found = unit_fault(column(item["quantity"]), item["unit"])
            if found is not None:
                return _wrong(found.message, path)
    return Result(document)


def _wrong(message: str, path: str | os.PathLike[str]) -> Result[dict[str, Any] | None]:
    return Result(None, (diagnostic("column-map-malformed", message, file=str(path)),))


@dataclass(frozen=True, slots=True)
class TableSounding:
    """The rows of one sounding of a table.

    Attributes
    ----------
    offset : int
        Of its first row.
    data : bytes
        Its rows, verbatim.
    header : bytes
        The header of the table, verbatim.
    station : str
    facts : mapping of str to float
        latitude, longitude, elevation, nominal_time and time in seconds since 1970; NaN for
        missing.
    columns : mapping of str to ndarray, shape (row,)
        Units of the package; empty where the sounding is refused.
    diagnostics : tuple of Diagnostic
        Why it is refused.
    """

    offset: int
    data: bytes
    header: bytes
    station: str
    facts: Mapping[str, float]
    columns: Mapping[str, NDArray[np.float64]]
    diagnostics: tuple[Diagnostic, ...] = ()


@dataclass(frozen=True, slots=True)
class _Line:
    offset: int
    data: bytes
    cells: list[str]
    number: int


def read_mapped_table(
    data: bytes, document: Mapping[str, Any], *, file: str | None = None
) -> tuple[list[TableSounding], list[tuple[int, bytes]]]:
    """Read a table through a column map.

    Parameters
    ----------
    data : bytes
    document : mapping
        A column map, checked.
    file : str, optional
        For the diagnostics.

    Returns
    -------
    soundings : list of TableSounding
        Rows that follow one another and have the same station and time are one sounding.
    aside : list of (int, bytes)
        Header, comments and empty lines with their offsets.
    """
    dialect = document.get("dialect", {})
    aside: list[tuple[int, bytes]] = []
    lines = list(_lines(data, dialect, aside))
    header = b""
    titles: list[str] = []
    if dialect.get("header", True) and lines:
        first = lines.pop(0)
        aside.append((first.offset, first.data))
        header, titles = first.data, [cell.strip() for cell in first.cells]
    places: dict[str, int] = {}
    missing: list[str] = []
    for item in document["tableSchema"]["columns"]:
        if "number" in item:
            places[item["quantity"]] = item["number"] - 1
        elif item["titles"] in titles:
            places[item["quantity"]] = titles.index(item["titles"])
        else:
            missing.append(item["titles"])
    if missing:
        found = diagnostic(
            "table-column-missing",
            f"The header has no column {', '.join(missing)}.",
            file=file,
            line=1,
            value=", ".join(titles)[:200],
        )
        rest = b"".join(line.data for line in lines)
        start = lines[0].offset if lines else 0
        return [TableSounding(start, rest, header, "", {}, {}, (found,))], aside
    reader = _Reader(document, places, file)
    soundings: list[TableSounding] = []
    block: list[_Line] = []
    key: tuple[str, ...] | None = None
    for line in lines:
        own = reader.key(line)
        if block and own != key:
            soundings.append(reader.sounding(block, header))
            block = []
        key = own
        block.append(line)
    if block:
        soundings.append(reader.sounding(block, header))
    return soundings, aside


def _lines(
    data: bytes, dialect: Mapping[str, Any], aside: list[tuple[int, bytes]]
) -> Iterator[_Line]:
    encoding = dialect.get("encoding", "utf-8")
    comment = dialect.get("commentPrefix", "#").encode()
    place = 0
    for number, raw in enumerate(data.splitlines(keepends=True), start=1):
        text = raw.decode(encoding, "replace").rstrip("\r\n")
        if number == 1:
            text = text.removeprefix("\ufeff")
        if not text.strip() or raw.startswith(comment):
            aside.append((place, raw))
        else:
            cells = next(csv.reader(io.StringIO(text), delimiter=dialect.get("delimiter", ",")))
            yield _Line(place, raw, cells, number)
        place += len(raw)


class _Reader:
    def __init__(
        self, document: Mapping[str, Any], places: Mapping[str, int], file: str | None
    ) -> None:
        self.places, self.file = places, file
        self.entries = {item["quantity"]: item for item in document["tableSchema"]["columns"]}
        self.constants = dict(document.get("constants", {}))
        self.comma = document.get("dialect", {}).get("decimalChar", ".") == ","
        usual = document.get("null", "")
        self.usual = {usual} if isinstance(usual, str) else set(usual)

    def nulls(self, name: str) -> set[str]:
        own = self.entries[name].get("null")
        if own is None:
            return self.usual | {""}
        return ({own} if isinstance(own, str) else set(own)) | self.usual | {""}

    def cell(self, line: _Line, name: str) -> str | None:
        """Return a cell, None where missing or too far right."""
        place = self.places[name]
        if place >= len(line.cells):
            return None
        text = line.cells[place].strip()
        return None if text in self.nulls(name) else text

    def key(self, line: _Line) -> tuple[str, ...]:
        names = (*FACTS[:1], *MOMENTS, *DATE_PARTS)
        return tuple(self.cell(line, name) or "" for name in names if name in self.places)

    def number(self, text: str, name: str) -> float:
        value = float(text.replace(",", ".") if self.comma else text)
        if not math.isfinite(value):
            msg = f"{text!r} is not a finite number"
            raise ValueError(msg)
        return value * float(self.entries[name].get("factor", 1.0))

    def sounding(self, block: list[_Line], header: bytes) -> TableSounding:
        data = b"".join(line.data for line in block)
        start = block[0].offset
        try:
            columns = {name: self.measured(block, name) for name in self.places if name in MEASURED}
            station, facts = self.facts(block[0])
        except ValueError as fault:
            found = diagnostic("table-cell-malformed", f"{fault}.", file=self.file)
            return TableSounding(start, data, header, "", {}, {}, (found,))
        return TableSounding(start, data, header, station, facts, columns)

    def measured(self, block: list[_Line], name: str) -> NDArray[np.float64]:
        values = np.full(len(block), np.nan)
        for row, line in enumerate(block):
            text = self.cell(line, name)
            if text is None:
                continue
            try:
                values[row] = self.number(text, name)
            except ValueError as fault:
                msg = f"Line {line.number}: {text!r} is no {name}"
                raise ValueError(msg) from fault
        unit = self.entries[name].get("unit")
        return values if unit is None else converted(column(name), unit, values)

    def facts(self, line: _Line) -> tuple[str, dict[str, float]]:
        station = self.constants.get("station")
        if "station" in self.places:
            station = self.cell(line, "station")
        if not station:
            msg = f"Line {line.number}: no station"
            raise ValueError(msg)
        facts = {}
        for name in _FACT_UNITS:
            value = self.constants.get(name, math.nan)
            if name in self.places:
                text = self.cell(line, name)
                value = math.nan if text is None else self.number(text, name)
            facts[name.removeprefix("station_")] = float(value)
        nominal = self.moment(line, "nominal_time")
        if nominal is None:
            nominal = self.composed(line)
        release = self.moment(line, "release_time") if "release_time" in self.places else None
        facts["nominal_time"] = nominal
        facts["time"] = math.nan if release is None else release
        return str(station), facts

    def moment(self, line: _Line, name: str) -> float | None:
        if name not in self.places:
            return None
        text = self.cell(line, name)
        if text is None:
            return None
        pattern = self.entries[name].get("format")
        try:
            if pattern is None:
                moment = datetime.fromisoformat(text)
            else:
                for figures, code in _PATTERNS.items():
                    pattern = pattern.replace(figures, code)
                moment = datetime.strptime(text, pattern)  # made aware below
        except ValueError as fault:
            msg = f"Line {line.number}: {text!r} is no {name} ({fault})"
            raise ValueError(msg) from fault
        aware = moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
        return aware.timestamp()

    def composed(self, line: _Line) -> float:
        parts = []
        for name in DATE_PARTS:
            text = self.cell(line, name) if name in self.places else None
            if text is None and name != "minute":
                msg = f"Line {line.number}: no {name}"
                raise ValueError(msg)
            parts.append(0 if text is None else int(text))
        try:
            return datetime(*parts, tzinfo=UTC).timestamp()  # type: ignore[misc, arg-type]
        except ValueError as fault:
            msg = f"Line {line.number}: {fault}"
            raise ValueError(msg) from fault
