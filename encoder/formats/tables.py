"""Any product of the archive as a plain table, a unit in the header of every column."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.archive import FlightArchive, History
from encoder.columns import LEVEL_COLUMNS, column
from encoder.formats.netcdf.declare import SOFTWARE, VERSION
from encoder.formats.netcdf.discovery import iso, moment
from encoder.formats.netcdf.facts_text import station_as_json
from encoder.formats.netcdf.flight_product import JUDGED, ONLY_RECEIVED, POSITION, QUALITIES, USES
from encoder.formats.netcdf.flight_rows import rows_of
from encoder.formats.netcdf.positions import SOURCES
from encoder.levels.table import kinds_as_words
from encoder.sounding import STATUS_COLUMNS, STATUS_WORDS, Sounding

if TYPE_CHECKING:
    from collections.abc import Sequence

FORMAT = "aerogram-table-1"
KIND_SEPARATOR = "; "
__all__ = [
    "FORMAT",
    "QUALITIES",
    "Table",
    "TableColumn",
    "table_of",
]

Cell = float | int | str | None


@dataclass(frozen=True, slots=True)
class TableColumn:
    """One column.

    Attributes
    ----------
    name : str
    unit : str or None
        UDUNITS spelling; None for texts.
    kind : {"number", "integer", "text"}
    description : str
    cells : tuple
        None where missing.
    """

    name: str
    unit: str | None
    kind: str
    description: str
    cells: tuple[Cell, ...]

    @property
    def header(self) -> str:
        """Header cell: ``name [unit]``, of a text the name alone."""
        return self.name if self.unit is None else f"{self.name} [{self.unit}]"


@dataclass(frozen=True, slots=True)
class Table:
    """A product as a table.

    Attributes
    ----------
    product : str
        ``"flight"``, ``"levels"`` or ``"history"``.
    columns : tuple of TableColumn
    facts : dict
        What is not in the rows: station, times, reports.
    """

    product: str
    columns: tuple[TableColumn, ...]
    facts: dict[str, Any] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.columns[0].cells) if self.columns else 0


# --- from the products ------------------------------------------------------------------------


def table_of(value: FlightArchive | Sounding | History) -> Table:
    """Return a product as a table: the rows of a flight, or the levels of soundings.

    Raises
    ------
    InputError
        If the ascent of a flight is not made of rows of its profile.
    """
    if isinstance(value, FlightArchive):
        return _flight(value)
    return _sounding(value) if isinstance(value, Sounding) else _history(value)


def _numbers(name: str, values: Any, label: str | None = None) -> TableColumn:
    entry = column(name)
    cells = tuple(None if math.isnan(item) else item for item in np.asarray(values).tolist())
    return TableColumn(label or name, entry.unit, "number", entry.description, cells)


def _integers(name: str, description: str, values: Any) -> TableColumn:
    return TableColumn(name, "1", "integer", description, tuple(np.asarray(values).tolist()))


def _words(name: str, description: str, words: Sequence[str], values: Any) -> TableColumn:
    cells = tuple(words[item] for item in np.asarray(values).tolist())
    return TableColumn(name, None, "text", description, cells)


def _kinds(kinds: Any) -> TableColumn:
    known: dict[int, str] = {}
    cells = []
    for item in np.asarray(kinds).tolist():
        if item not in known:
            known[item] = KIND_SEPARATOR.join(kinds_as_words(item))
        cells.append(known[item] or None)
    return TableColumn("kinds", None, "text", "Kinds of the level.", tuple(cells))


def _software() -> dict[str, str]:
    return {"software": SOFTWARE, "software_version": VERSION}


def _flight(archive: FlightArchive) -> Table:
    flight = archive.flight
    values = rows_of(flight).values
    names = ["time", *POSITION, *JUDGED, *(name for name in ONLY_RECEIVED if name in values)]
    columns = [_numbers(name, values[name]) for name in names]
    columns += [
        _integers("source_row", "Line of the profile file.", values["source_row"]),
        _words("row_use", "What the row was used for.", USES, values["row_use"]),
        _words(
            "position_source", "Where the position comes from.", SOURCES, values["position_source"]
        ),
    ]
    facts = {
        **_software(),
        "station": station_as_json(flight.station),
        "release_time": iso(flight.release_time),
        "nominal_time": iso(flight.nominal_time),
        "vapour_pressure_formula": flight.vapour_pressure_formula,
        "computed": dict(flight.ascent.computed),
        "coded_reports": [report.text for report in archive.reports],
    }
    return Table("flight", tuple(columns), facts)


def _level_columns(columns: Any, status: Any) -> list[TableColumn]:
    made = []
    for name in LEVEL_COLUMNS:
        made.append(_numbers(name, columns[name]))
        if name in STATUS_COLUMNS:
            made.append(
                _words(f"{name}_status", f"What is known of {name}.", STATUS_WORDS, status[name])
            )
    return made


def _sounding(sounding: Sounding) -> Table:
    columns = [
        *_level_columns(sounding.levels.columns, sounding.status),
        _kinds(sounding.levels.kinds),
    ]
    facts = {
        **_software(),
        "station": station_as_json(sounding.station),
        "time": iso(sounding.time),
        "nominal_time": iso(sounding.nominal_time),
        "vapour_pressure_formula": sounding.formula,
        "coded_reports": [sounding.text] if sounding.text else [],
    }
    return Table("levels", tuple(columns), facts)


def _history(history: History) -> Table:
    size = history.row_size
    number = np.repeat(np.arange(len(history)), size)
    stamps = [iso(moment(item)) for item in history.nominal_time.tolist()]
    columns = [
        _integers("sounding", "Number of the sounding, from 0.", number),
        TableColumn(
            "nominal_time",
            None,
            "text",
            "Nominal time of the sounding, UTC.",
            tuple(np.repeat(np.array(stamps, dtype=object), size).tolist()),
        ),
        _words(
            "state",
            "Whether a corrected sounding has taken the place.",
            ("current", "superseded"),
            np.repeat(history.superseded.astype(np.int8), size),
        ),
        *_level_columns(history.columns, history.status),
        _kinds(history.kinds),
    ]
    facts = {
        **_software(),
        "station": station_as_json(history.station),
        "vapour_pressure_formula": history.formula,
        "coded_reports": list(history.texts),
        "remarks": list(history.remarks),
    }
    return Table("history", tuple(columns), facts)
