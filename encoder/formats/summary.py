"""What is in a file of the archive, or in a CF file of others, as text of 80 columns."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.archive import FlightArchive, History
from encoder.columns import column
from encoder.formats.foreign_cf import attribute, find
from encoder.formats.netcdf.discovery import iso, moment
from encoder.formats.netcdf.flight_product import JUDGED, POSITION, USES
from encoder.formats.netcdf.flight_rows import rows_of
from encoder.formats.netcdf.positions import SOURCES
from encoder.sounding import (
    NOT_REPORTED,
    REMOVED,
    REPORTED_MISSING,
    STATUS_COLUMNS,
    STATUS_WORDS,
    Sounding,
    station_id,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from encoder.diagnostics import Diagnostic
    from encoder.profile import FloatArray, Station

WIDTH = 79
_ABSENCES = (REPORTED_MISSING, NOT_REPORTED, REMOVED)
MOST_SOUNDINGS = 12
"""Soundings of a history shown one by one; of more the first and last half of that."""


def summary(value: FlightArchive | Sounding | History) -> str:
    """Return what is in a product as text of at most 80 columns."""
    if isinstance(value, FlightArchive):
        lines = _flight(value)
    else:
        lines = _sounding(value) if isinstance(value, Sounding) else _history(value)
    return "".join(f"{line}\n" for line in lines)


def _station(station: Station) -> str:
    words = [station_id(station), station.name if station.name != station_id(station) else ""]
    words.append(f"{station.latitude:.4f} {station.longitude:.4f}")
    if not np.isnan(station.elevation):
        words.append(f"{station.elevation:g} m")
    if station.wigos_id:
        words.append(station.wigos_id)
    return "  ".join(word for word in words if word)


def _values(names: Sequence[str], columns: Any, status: Any = None) -> list[str]:
    """Return a line for each quantity: how many values, least and greatest, and what is absent."""
    head = f"{'quantity':<22}{'unit':<7}{'values':>8}{'least':>9}{'greatest':>9}"
    lines = [head if status is None else f"{head}{'missing':>8}{'absent':>8}{'removed':>8}"]
    for name in names:
        values = columns[name]
        known = values[np.isfinite(values)]
        line = f"{name:<22}{column(name).unit:<7}{len(known):>8}"
        line += f"{_shown(name, known, 'min'):>9}{_shown(name, known, 'max'):>9}"
        if status is not None and name in STATUS_COLUMNS:
            counts = np.bincount(status[name], minlength=len(STATUS_WORDS)).tolist()
            line += "".join(f"{counts[kind]:>8}" for kind in _ABSENCES)
        lines.append(line.rstrip())
    if status is not None:
        lines += textwrap.wrap(
            "missing: said to be missing; absent: the group is not there; removed: by quality "
            "control",
            WIDTH,
        )
    return lines


def _shown(name: str, known: FloatArray, which: str) -> str:
    if not len(known):
        return ""
    return f"{getattr(known, which)():.{min(column(name).decimals, 3)}f}"


def _counts(words: Sequence[str], values: Any) -> str:
    """Return how often each meaning occurs, in words."""
    counts = np.bincount(values, minlength=len(words))
    return ", ".join(
        f"{count} {word.replace('_', ' ')}"
        for word, count in zip(words, counts.tolist(), strict=True)
        if count
    )


def _wrapped(head: str, text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=f"{head:<12}", subsequent_indent=" " * 12) or [
        head
    ]


def _found(diagnostics: Iterable[Diagnostic]) -> str:
    counts: dict[str, int] = {}
    for item in diagnostics:
        counts[str(item.severity)] = counts.get(str(item.severity), 0) + 1
    return ", ".join(f"{count} {word}(s)" for word, count in counts.items()) or "none"


def _indented(text: str) -> list[str]:
    return [f"    {line}" for line in text.splitlines() if line.strip()]


def _flight(archive: FlightArchive) -> list[str]:
    flight = archive.flight
    rows = rows_of(flight)
    values = rows.values
    lines = ["FLIGHT", *_wrapped("station", _station(flight.station))]
    lines += _wrapped("release", f"{iso(flight.release_time)}, for {iso(flight.nominal_time)}")
    sonde = flight.instrument
    lines += _wrapped(
        "instrument",
        f"radiosonde type {_or_unknown(sonde.radiosonde_type)}, serial "
        f"{_or_unknown(sonde.serial)}, tracking {_or_unknown(sonde.tracking)}, radiation "
        f"correction {sonde.correction}",
    )
    lines += _wrapped("rows", f"{len(values['time'])}: {_counts(USES, values['row_use'])}")
    lost = len(rows.record["profile"]["without_place"]["source_row"])
    if lost:
        lines += _wrapped("", f"{lost} more without a time, or with that of another row")
    lines += _wrapped("positions", _counts(SOURCES, values["position_source"]))
    lines += ["", *_values(["time", *POSITION, *JUDGED], values), ""]
    for name, formula in sorted(flight.ascent.computed.items()):
        lines += _wrapped("computed", f"{name}, {formula}")
    if archive.levels is not None:
        method = archive.levels.attributes.get("method", "")
        lines += _wrapped("levels", f"{len(archive.levels)} {method}")
    lines += _wrapped("findings", _found((*flight.diagnostics, *archive.diagnostics)))
    for report in archive.reports:
        lines += _wrapped("report", f"{report.form}, {len(report.text.split())} groups")
        lines += _indented(report.text)
    return lines


def _or_unknown(value: object) -> str:
    return "unknown" if value is None else str(value)


_LEVEL_NAMES = (
    "air_pressure",
    "geopotential_height",
    "air_temperature",
    "dew_point_depression",
    "wind_from_direction",
    "wind_speed",
)


def _sounding(sounding: Sounding) -> list[str]:
    from encoder.formats.level_table import levels_as_text, marks_legend

    lines = ["LEVELS OF ONE REPORT", *_wrapped("station", _station(sounding.station))]
    lines += _wrapped("time", f"{iso(sounding.time)}, for {iso(sounding.nominal_time)}")
    if sounding.superseded:
        lines += _wrapped("state", "superseded: a corrected report has taken its place")
    lines += _wrapped("findings", _found(sounding.diagnostics))
    lines += ["", *_values(_LEVEL_NAMES, sounding.levels, sounding.status)]
    lines += ["", *levels_as_text(sounding.levels).splitlines()]
    lines += marks_legend(sounding.levels).splitlines()
    if sounding.text:
        form = "" if sounding.report is None else f"{sounding.report.form}, "
        lines += ["", *_wrapped("report", f"{form}{len(sounding.text.split())} groups")]
        lines += _indented(sounding.text)
    return lines


def _history(history: History) -> list[str]:
    lines = ["HISTORY OF A STATION", *_wrapped("station", _station(history.station))]
    old = int(history.superseded.sum())
    words = f"{len(history):,}, with {len(history.kinds):,} levels"
    if old:
        words += f"; {old} superseded by a correction"
    lines += _wrapped("soundings", words)
    if history.texts:
        lines += _wrapped("reports", f"{sum(1 for text in history.texts if text):,}, verbatim")
    lines += ["", *_values(_LEVEL_NAMES, history.columns, history.status)]
    lines += ["", f"{'number':>7}  {'nominal time':<22}{'levels':>7}{'top hPa':>9}  state"]
    offsets = history.offsets
    half = MOST_SOUNDINGS // 2
    for place in range(len(history)):
        if len(history) > MOST_SOUNDINGS and half <= place < len(history) - half:
            if place == half:
                lines.append(f"{'...':>7}  {len(history) - MOST_SOUNDINGS:,} more")
            continue
        pressure = history.columns["air_pressure"][offsets[place] : offsets[place + 1]]
        lines.append(
            f"{place + 1:>7}  {iso(moment(float(history.nominal_time[place]))):<22}"
            f"{int(history.row_size[place]):>7}{_least(pressure):>9}  "
            f"{'superseded' if history.superseded[place] else ''}".rstrip()
        )
    if history.remarks:
        lines += ["", *(piece for line in history.remarks for piece in _wrapped("", line))]
    return lines


def _least(values: FloatArray) -> str:
    known = values[np.isfinite(values)]
    return f"{known.min():.1f}" if len(known) else "-"


# --- files of others --------------------------------------------------------------------------


def foreign_summary(dataset: Any) -> str:
    """Return what was recognised in an open CF file of others, and what was not."""
    found = find(dataset)
    kind = str(attribute(dataset, "featureType") or "none given")
    lines = ["CF FILE OF OTHERS", *_wrapped("featureType", kind)]
    title = attribute(dataset, "title")
    if title is not None:
        lines += _wrapped("title", str(title))
    if not found.sample:
        lines += _wrapped("sounding", "none: no air_temperature along levels")
    else:
        levels = len(dataset.dimensions[found.sample])
        soundings = 1 if found.instance is None else len(dataset.dimensions[found.instance])
        layout = "single"
        if found.instance is not None:
            layout = "padded"
            if found.count is not None:
                layout = f"contiguous ragged, counted by {found.count}"
            elif found.index is not None:
                layout = f"indexed ragged, by {found.index}"
        lines += _wrapped("soundings", f"{soundings}, {layout}; {found.sample} has {levels}")
    for head, place in (("levels", found.rows), ("single", found.single)):
        words = ", ".join(
            f"{word} (variable {name})" if word != name else word for word, name in place.items()
        )
        lines += _wrapped(head, words or "nothing recognised")
    lines += _wrapped("not used", ", ".join(found.unused) or "nothing")
    return "".join(f"{line}\n" for line in lines)
