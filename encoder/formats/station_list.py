"""Station lists: the fixed-width list of the IGRA archive, and CSV with a header."""

from __future__ import annotations

import csv
import io
import math
import re
from calendar import monthrange
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.formats.text_file import read_text
from encoder.stations import StationRecord

if TYPE_CHECKING:
    import os
    from collections.abc import Iterable, Mapping

LARGEST = 50_000_000
"""Bytes; larger files are no station list."""

_ARCHIVE_LINE = re.compile(r"[A-Z]{2}[IMVWX][A-Z0-9]{8} [ 0-9.+-]{19}")
# columns of the published layout, 1-based and inclusive there
_ARCHIVE_COLUMNS = {
    "identifier": slice(0, 11),
    "latitude": slice(12, 20),
    "longitude": slice(21, 30),
    "elevation": slice(31, 37),
    "name": slice(41, 71),
    "first_year": slice(72, 76),
    "last_year": slice(77, 81),
}
_WMO_NETWORK = "M"
_MOBILE = -98.8888
_NO_ELEVATION = -990.0

COLUMNS = (
    "wmo_index",
    "name",
    "latitude",
    "longitude",
    "elevation",
    "from",
    "to",
    "source",
)
"""Columns of the CSV form, as in ``stations.schema.json``."""
_NEEDED = ("wmo_index", "name", "latitude", "longitude", "elevation")
ALIASES: dict[str, tuple[str, ...]] = {
    "wmo_index": (
        *("index", "station", "iiiii", "id", "wmo", "wmo_id", "wmo_number"),
        *("station_id", "station_number"),
    ),
    "name": ("station_name",),
    "latitude": ("lat",),
    "longitude": ("lon", "long"),
    "elevation": ("elevation_m", "elev", "height", "altitude", "alt"),
    "from": ("valid_from", "start", "begin"),
    "to": ("valid_to", "end", "until"),
}
"""Other names of columns that are understood, in small letters."""
_BY_ALIAS = {alias: name for name, aliases in ALIASES.items() for alias in aliases}
_NUMBERS = ("latitude", "longitude", "elevation")
_DECIMAL_COMMA = re.compile(r"([+-]?[0-9]+),([0-9]+)")
_DATE = re.compile(r"(\d{4})(?:-(\d{2})(?:-(\d{2}))?)?\Z")


def read_station_list(path: str | os.PathLike[str]) -> Result[tuple[StationRecord, ...]]:
    """Read a station list of either kind.

    Parameters
    ----------
    path : path-like
        The fixed-width list of the IGRA archive (version 2), or CSV with a header.

    Returns
    -------
    Result of tuple of StationRecord
        Lines that cannot be read are told one by one and left out.
    """
    name = str(path)
    text, found = read_text(path, most=LARGEST)
    if text is None:
        return Result((), found)
    records, faults = parse_station_list(text, name)
    return Result(records, (*found, *faults))


def parse_station_list(text: str, name: str) -> Result[tuple[StationRecord, ...]]:
    """Read a station list held in memory; see :func:`read_station_list`.

    Parameters
    ----------
    text : str
    name : str
        Name of the list, kept as ``source`` and shown in diagnostics.
    """
    lines = text.split("\n")
    first = next((line for line in lines if line.strip() and not line.startswith("#")), "")
    if _ARCHIVE_LINE.match(first):
        return _archive(lines, name)
    header = [_column(cell) for cell in _cells(first, _separator(first))]
    if "wmo_index" in header or "latitude" in header:
        return _table(lines, name)
    if not first:
        return Result((), (_nothing(name, "The file is empty."),))
    shown = first.strip()[:60]
    return Result((), (replace(_nothing(name, f"The first line is {shown!r}."), value=shown),))


# --- the fixed-width list -------------------------------------------------------------------------


def _archive(lines: list[str], name: str) -> Result[tuple[StationRecord, ...]]:
    """Read the IGRA list.

    Notes
    -----
    "IGRA v2.2 Format Description", station list (National Centers for Environmental Information,
    19 January 2023). The years are those of the soundings in the archive; a station whose last year
    is the last of the list is taken to be still there.
    """
    rows: list[tuple[int, dict[str, str]]] = []
    found: list[Diagnostic] = []
    skipped = 0
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        if not _ARCHIVE_LINE.match(line):
            found.append(_malformed(name, number, line, "Expected the columns of the IGRA list"))
            continue
        row = {column: line[place].strip() for column, place in _ARCHIVE_COLUMNS.items()}
        if row["identifier"][2] != _WMO_NETWORK or row["latitude"] == f"{_MOBILE}":
            skipped += 1
            continue
        rows.append((number, row))
    years = [row["last_year"] for _number, row in rows if row["last_year"].isdigit()]
    newest = max(years, default="")
    records = []
    for number, row in rows:
        elevation = row["elevation"]
        still_there = row["last_year"] == newest
        cells = {
            "wmo_index": row["identifier"][6:],
            "name": row["name"],
            "latitude": row["latitude"],
            "longitude": row["longitude"],
            "elevation": "" if _number(elevation) < _NO_ELEVATION else elevation,
            "from": row["first_year"],
            "to": "" if still_there else row["last_year"],
        }
        record, reason = _record(cells, Path(name).name)
        if record is None:
            found.append(_malformed(name, number, lines[number - 1], reason))
        else:
            records.append(record)
    if skipped:
        found.append(
            diagnostic(
                "station-line-skipped",
                f"{skipped} lines of {name} are ships, mobile stations or stations without a WMO "
                f"number.",
                file=name,
            )
        )
    return Result(tuple(records), tuple(found))


# --- CSV ------------------------------------------------------------------------------------------


def _separator(header: str) -> str:
    return max(",;\t", key=header.count)


def _cells(line: str, separator: str) -> list[str]:
    return next(csv.reader([line], delimiter=separator), [])


def _column(cell: str) -> str:
    word = re.sub(r"[\s-]+", "_", re.sub(r"[\[(].*", "", cell).strip().lower())
    return _BY_ALIAS.get(word, word)


def _table(lines: list[str], name: str) -> Result[tuple[StationRecord, ...]]:
    found: list[Diagnostic] = []
    header: list[str] = []
    separator = ","
    records: list[StationRecord] = []
    begun: dict[str, list[tuple[int, StationRecord]]] = {}
    for number, line in enumerate(lines, start=1):
        if not line.strip() or line.startswith("#"):
            continue
        if not header:
            separator = _separator(line)
            header = [_column(cell) for cell in _cells(line, separator)]
            found.extend(_header_faults(header, name, number))
            if any(item.code == "station-column-missing" for item in found):
                return Result((), tuple(found))
            continue
        cells = _cells(line, separator)
        if len(cells) != len(header):
            reason = f"Expected {len(header)} cells, found {len(cells)}"
            found.append(_malformed(name, number, line, reason))
            continue
        row = dict(zip(header, (cell.strip() for cell in cells), strict=True))
        if separator == ";":  # where figures have a comma, the cells have something else
            row |= {one: _DECIMAL_COMMA.sub(r"\1.\2", row[one]) for one in _NUMBERS}
        record, reason = _record(row, row.get("source") or Path(name).name)
        if record is None:
            found.append(_malformed(name, number, line, reason))
        else:
            others = begun.setdefault(record.wmo_index, [])
            found.extend(_listed_before(record, others, name, number))
            others.append((number, record))
            records.append(record)
    if header and not records and not found:
        found.append(_nothing(name, "After the header there is no line."))
    return Result(tuple(records), tuple(found))


def _listed_before(
    record: StationRecord, others: list[tuple[int, StationRecord]], name: str, number: int
) -> list[Diagnostic]:
    """Tell that a list says two things of one station at one time."""
    for before, other in others:
        overlap = other.first <= record.last and record.first <= other.last
        if overlap and not other.same_place(record):
            return [
                diagnostic(
                    "station-listed-twice",
                    f"Station {record.wmo_index} stands in lines {before} and {number} with "
                    f"different facts for the same days.",
                    file=name,
                    line=number,
                    value=record.wmo_index,
                )
            ]
    return []


def _nothing(name: str, message: str) -> Diagnostic:
    return diagnostic(
        "station-list-not-known",
        message,
        file=name,
        line=1,
        expected=",".join(COLUMNS[:-1]),
    )


def _header_faults(header: list[str], name: str, number: int) -> list[Diagnostic]:
    missing = [column for column in _NEEDED if column not in header]
    found = [
        diagnostic(
            "station-column-missing",
            f"The header has no column {column}.",
            file=name,
            line=number,
            expected=column,
        )
        for column in missing
    ]
    unknown = [cell for cell in header if cell not in COLUMNS]
    if unknown:
        found.append(
            diagnostic(
                "station-column-unknown",
                f"Columns not read: {', '.join(unknown)}.",
                file=name,
                line=number,
                value=", ".join(unknown),
            )
        )
    return found


def _malformed(name: str, number: int, line: str, reason: str) -> Diagnostic:
    return diagnostic(
        "station-line-malformed",
        f"{reason}; found {line.strip()[:80]!r}.",
        file=name,
        line=number,
        value=line.strip()[:80],
    )


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return math.nan


def _record(row: Mapping[str, str], source: str) -> tuple[StationRecord | None, str]:
    """Return the record of a row, or None and why not."""
    index = row["wmo_index"]
    if re.fullmatch(r"[0-9]{5}", index) is None:
        why = ""
        if re.fullmatch(r"[0-9]{4}", index):
            why = f"; a table program may have taken the zero off {'0' + index!r}"
        return None, f"Expected a WMO number of five figures, found {index!r}{why}"
    if not row["name"]:
        return None, "Expected a name, found an empty cell"
    if not row["name"].isprintable():
        return None, f"Expected a name that can be printed, found {row['name']!r}"
    latitude, longitude = _number(row["latitude"]), _number(row["longitude"])
    if not (-90.0 <= latitude <= 90.0 and -180.0 <= longitude <= 180.0):
        turned = -90.0 <= longitude <= 90.0 and 90.0 < abs(latitude) <= 180.0
        why = "; they seem to be the wrong way round" if turned else ""
        return None, (
            f"Expected decimal degrees, north to 90 and east to 180 (south and west negative), "
            f"found {row['latitude']!r} and {row['longitude']!r}{why}"
        )
    elevation = _number(row["elevation"])
    if row["elevation"] and not -500.0 <= elevation <= 9000.0:
        return None, f"Expected an elevation of -500 to 9000 m, found {row['elevation']!r}"
    begin, end = _day(row.get("from", ""), last=False), _day(row.get("to", ""), last=True)
    if isinstance(begin, str) or isinstance(end, str):
        return None, f"Expected a date YYYY-MM-DD, found {begin if isinstance(begin, str) else end}"
    if begin is not None and end is not None and begin > end:
        return None, f"Expected a period, found {begin} to {end}"
    return StationRecord(index, row["name"], latitude, longitude, elevation, begin, end, source), ""


def _day(text: str, *, last: bool) -> date | str | None:
    """Return a date; the first or last day of a year or month; the text itself if it is none."""
    if not text:
        return None
    match = _DATE.match(text)
    if match is None:
        return repr(text)
    year = int(match.group(1))
    month = int(match.group(2) or (12 if last else 1))
    if not (1 <= month <= 12 and year >= 1):
        return repr(text)
    days = monthrange(year, month)[1]
    day = int(match.group(3) or (days if last else 1))
    return date(year, month, day) if 1 <= day <= days else repr(text)


def station_table(records: Iterable[StationRecord]) -> str:
    """Return records as CSV, one line each, in the columns of ``stations.schema.json``.

    Parameters
    ----------
    records : iterable of StationRecord
    """
    stream = io.StringIO()
    table = csv.writer(stream, lineterminator="\n")
    table.writerow(COLUMNS)
    for one in records:
        table.writerow(
            (
                one.wmo_index,
                one.name,
                f"{one.latitude!r}",
                f"{one.longitude!r}",
                "" if math.isnan(one.elevation) else f"{one.elevation!r}",
                one.valid_from.isoformat() if one.valid_from else "",
                one.valid_to.isoformat() if one.valid_to else "",
                one.source,
            )
        )
    return stream.getvalue()
