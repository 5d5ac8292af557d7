"""The level table as text, CSV and JSON, and back.

CSV and JSON carry every value in full, with the headers ``name [unit]`` of the profile files and a
column ``kinds``; the text table is made to be read in 80 columns.
"""

from __future__ import annotations

import csv
import io
import math
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.columns import LEVEL_COLUMNS, column
from encoder.errors import FormatError
from encoder.levels.table import (
    KIND_WORDS,
    LevelKind,
    Levels,
    Reason,
    kinds_as_words,
    words_as_kinds,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

FORMAT = "aerogram-levels-1"
KIND_SEPARATOR = "; "

MARKS: dict[LevelKind, str] = {
    LevelKind.SURFACE: "sfc",
    LevelKind.STANDARD: "std",
    LevelKind.TROPOPAUSE: "trop",
    LevelKind.MAXIMUM_WIND: "max",
    LevelKind.SIGNIFICANT_TEMPERATURE: "T",
    LevelKind.SIGNIFICANT_HUMIDITY: "U",
    LevelKind.SIGNIFICANT_WIND: "w",
    LevelKind.TOP_OF_WIND_SOUNDING: "top",
    LevelKind.FREEZING: "0C",
    LevelKind.REGIONAL: "reg",
}
"""Short marks for the text table."""


def _number(value: float) -> float | None:
    return None if math.isnan(value) else value


def header_of(name: str) -> str:
    """Return the header cell of a column: ``name [unit]``."""
    return f"{name} [{column(name).unit}]"


# --- JSON -------------------------------------------------------------------------------------


def levels_as_json(levels: Levels) -> dict[str, Any]:
    """Return a dictionary that validates against ``levels.schema.json``."""
    columns = [[_number(value) for value in levels[name].tolist()] for name in LEVEL_COLUMNS]
    return {
        "format": FORMAT,
        "units": {name: column(name).unit for name in LEVEL_COLUMNS},
        "attributes": dict(levels.attributes),
        "levels": [
            {
                "kinds": list(_words(kinds)),
                "kind_bits": kinds,
                **dict(zip(LEVEL_COLUMNS, values, strict=True)),
                "rows": list(levels.rows[i]),
                "reasons": [
                    {"rule": reason.rule, "text": reason.text, "source": reason.source}
                    for reason in levels.reasons[i]
                ],
            }
            for i, (kinds, values) in enumerate(
                zip(levels.kinds.tolist(), zip(*columns, strict=True), strict=True)
            )
        ],
    }


_words = lru_cache(4096)(kinds_as_words)


def levels_from_json(document: Mapping[str, Any]) -> Levels:
    """Return the levels a dictionary describes; inverse of :func:`levels_as_json`.

    Raises
    ------
    FormatError
        If the dictionary is not a level table.
    """
    try:
        items = document["levels"]
        columns = {
            name: np.array(
                [np.nan if item.get(name) is None else item[name] for item in items],
                dtype=np.float64,
            )
            for name in LEVEL_COLUMNS
        }
        return Levels(
            columns,
            np.array([item["kind_bits"] for item in items], dtype=np.int64),
            tuple(
                tuple(Reason(r["rule"], r["text"], r["source"]) for r in item.get("reasons", ()))
                for item in items
            ),
            tuple(tuple(item.get("rows", ())) for item in items),
            document.get("attributes", {}),
        )
    except (KeyError, TypeError, ValueError, AttributeError) as fault:
        msg = f"Expected a level table ({FORMAT}), got an object without {fault}."
        raise FormatError(msg) from fault


# --- CSV --------------------------------------------------------------------------------------


def levels_as_csv(levels: Levels) -> str:
    """Return the table as CSV, one row a level, values in full, a missing cell empty."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([*(header_of(name) for name in LEVEL_COLUMNS), "kinds"])
    for i in range(len(levels)):
        cells = []
        for name in LEVEL_COLUMNS:
            value = float(levels[name][i])
            cells.append("" if math.isnan(value) else repr(value))
        words = KIND_SEPARATOR.join(_words(int(levels.kinds[i])))
        writer.writerow([*cells, words])
    return text.getvalue()


def levels_from_csv(text: str) -> Levels:
    """Return the levels of a CSV table; inverse of :func:`levels_as_csv`, reasons aside.

    Raises
    ------
    FormatError
        If a column is unknown, or a cell is no number or no kind; names the line.
    """
    lines = csv.reader(io.StringIO(text))
    header = next(lines, [])
    expected = {header_of(name): name for name in LEVEL_COLUMNS}
    unknown = [cell for cell in header if cell not in expected and cell != "kinds"]
    if unknown or "kinds" not in header:
        msg = f"Expected the columns {', '.join(expected)}, kinds; got {', '.join(header)}."
        raise FormatError(msg)
    columns: dict[str, list[float]] = {name: [] for name in expected.values()}
    kinds: list[int] = []
    for cells in lines:
        try:
            row = dict(zip(header, cells, strict=True))
            words = [word for word in row["kinds"].split(KIND_SEPARATOR) if word]
            kinds.append(words_as_kinds(words))
            for cell, name in expected.items():
                columns[name].append(float(row[cell]) if row.get(cell) else math.nan)
        except (ValueError, KeyError) as fault:
            msg = f"Line {lines.line_num} is no level: {fault}."
            raise FormatError(msg) from fault
    return Levels(
        {name: np.array(values) for name, values in columns.items()},
        np.array(kinds, dtype=np.int64),
    )


# --- text -------------------------------------------------------------------------------------

_TEXT_COLUMNS = (
    ("air_pressure", "P hPa", 7),
    ("geopotential_height", "H gpm", 7),
    ("air_temperature", "T C", 6),
    ("dew_point_depression", "D K", 5),
    ("relative_humidity", "U %", 5),
    ("wind_from_direction", "dd", 4),
    ("wind_speed", "ff m/s", 7),
)


def levels_as_text(levels: Levels, *, knots: bool = False, reasons: bool = False) -> str:
    """Return the table as text of at most 80 columns.

    Parameters
    ----------
    levels : Levels
    knots : bool
        Show wind speeds in knots.
    reasons : bool
        Under each level, say why it was chosen.
    """
    heads = [head for _name, head, _width in _TEXT_COLUMNS]
    if knots:
        heads[-1] = "ff kt"
    widths = [width for _name, _head, width in _TEXT_COLUMNS]
    lines = [" ".join(f"{head:>{w}}" for head, w in zip(heads, widths, strict=True)) + "  kinds"]
    columns = [
        [f"{_cell(name, value, knots=knots):>{width}}" for value in levels[name].tolist()]
        for name, _head, width in _TEXT_COLUMNS
    ]
    for i, cells in enumerate(zip(*columns, strict=True)):
        lines.append(f"{' '.join(cells)}  {_marks(int(levels.kinds[i]))}".rstrip())
        if reasons:
            for reason in levels.reasons[i]:
                lines.extend(_wrapped("          ", f"{reason.text} [{reason.source}]".split()))
    return "\n".join(lines) + "\n"


def _cell(name: str, value: float, *, knots: bool) -> str:
    if math.isnan(value):
        return "-"
    if name == "wind_speed":
        return f"{value * 3600.0 / 1852.0:.0f}" if knots else f"{value:.1f}"
    if name in ("geopotential_height", "wind_from_direction", "relative_humidity"):
        return f"{value:.0f}"
    return f"{value:.1f}"


@lru_cache(4096)
def _marks(kinds: int) -> str:
    marks = [mark for kind, mark in MARKS.items() if kinds & kind]
    begin = [
        word
        for kind, word in (
            (LevelKind.BEGIN_MISSING_TEMPERATURE, "T"),
            (LevelKind.BEGIN_MISSING_HUMIDITY, "U"),
            (LevelKind.BEGIN_MISSING_WIND, "w"),
        )
        if kinds & kind
    ]
    end = [
        word
        for kind, word in (
            (LevelKind.END_MISSING_TEMPERATURE, "T"),
            (LevelKind.END_MISSING_HUMIDITY, "U"),
            (LevelKind.END_MISSING_WIND, "w"),
        )
        if kinds & kind
    ]
    if begin:
        marks.append("gap(" + ",".join(begin))
    if end:
        marks.append(",".join(end) + ")gap")
    return " ".join(marks)


def marks_legend(levels: Levels) -> str:
    """Return one line that explains the marks the table uses."""
    used = int(np.bitwise_or.reduce(levels.kinds)) if len(levels) else 0
    words = [f"{mark} {KIND_WORDS[kind]}" for kind, mark in MARKS.items() if used & kind]
    gaps = (
        LevelKind.BEGIN_MISSING_TEMPERATURE
        | LevelKind.BEGIN_MISSING_HUMIDITY
        | LevelKind.BEGIN_MISSING_WIND
    )
    if used & gaps:
        words.append("gap(x a layer without x begins, x)gap it ends")
    commas = [word + "," for word in words[:-1]] + words[-1:]
    return "\n".join(_wrapped("kinds: ", commas)) + "\n"


def _wrapped(head: str, words: Sequence[str], width: int = 79) -> list[str]:
    """Return words in lines of at most that width, under one another after the head."""
    lines = [head]
    empty = True
    for word in words:
        if not empty and len(lines[-1]) + 1 + len(word) > width:
            lines.append(" " * len(head))
            empty = True
        lines[-1] += word if empty else f" {word}"
        empty = False
    return lines
