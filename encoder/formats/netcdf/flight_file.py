"""Writing and reading the flight file."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.archive import FlightArchive, Service
from encoder.formats.netcdf.container import text_of, write
from encoder.formats.netcdf.declare import MISSING, SOFTWARE, VERSION
from encoder.formats.netcdf.discovery import coverage, discovery, extents, iso
from encoder.formats.netcdf.facts_text import (
    compact,
    diagnostics_as_json,
    diagnostics_from_json,
    facts_as_json,
    facts_from_json,
    levels_of_text,
    levels_text,
    reports_of_text,
    reports_text,
    station_as_json,
)
from encoder.formats.netcdf.flight_product import (
    AS_RECEIVED,
    ASCENT,
    BY_HEIGHT_COORDINATES,
    COMPUTED,
    DOUBTFUL,
    FLIGHT,
    JUDGED,
    REMOVED,
    SURFACE,
)
from encoder.formats.netcdf.flight_product import MISSING as MISSING_QUALITY
from encoder.formats.netcdf.flight_rows import Rows, parts_of_rows, rows_of
from encoder.formats.profile_header import NAMES
from encoder.profile import Flight
from encoder.sounding import station_id, station_words

if TYPE_CHECKING:
    import os
    from collections.abc import Mapping
    from datetime import datetime

    from numpy.typing import NDArray

_RECORD = "rows"
"""Key of the facts under which the way back to the profile is kept."""


def write_flight_file(
    path: str | os.PathLike[str],
    archive: FlightArchive,
    *,
    service: Service | None = None,
    created: datetime | None = None,
) -> None:
    """Write a flight file; an older one of that name is replaced once the new one is complete.

    Parameters
    ----------
    path : path-like
    archive : FlightArchive
    service : Service, optional
    created : datetime, optional
        When the values were last changed; the last row of the flight by default.

    Raises
    ------
    InputError
        If the ascent is not made of rows of the profile.
    OSError
        If the file cannot be written.
    """
    flight = archive.flight
    rows = rows_of(flight)
    values = dict(rows.values)
    for name in JUDGED:
        values[f"{name}_quality"] = _quality(flight, rows, name)
    values["level_type"] = _level_type(archive, rows)
    values |= _single_values(flight)
    values |= _texts(archive, rows)
    facts = _global(archive, rows, service or Service(), created)
    own = _own_attributes(flight)
    if flight.ascent.by_height:
        for name in ("air_pressure", "air_pressure_quality"):
            del values[name]
        own.setdefault("geopotential_height", {})["axis"] = "Z"
        for name in values:
            if "air_pressure" in str(FLIGHT.variable(name).attributes.get("coordinates")):
                own.setdefault(name, {})["coordinates"] = BY_HEIGHT_COORDINATES
    for name, array in values.items():
        if isinstance(array, np.ndarray) and array.dtype == np.float64 and name != "time":
            values[name] = np.where(np.isnan(array), MISSING["f8"], array)
    write(path, FLIGHT, facts, values, own)


def _quality(flight: Flight, rows: Rows, name: str) -> NDArray[np.int8]:
    values = rows.values
    used: Any = values[name]
    raw: Any = np.where(values["row_use"] == SURFACE, used, np.nan)
    if name in flight.profile:
        own: Any = np.where(values["row_use"] == SURFACE, np.nan, used)
        own = values.get(f"{name}_as_received", own)
        raw = np.where(values["row_use"] == SURFACE, used, own)
    present, received = np.isfinite(used), np.isfinite(raw)
    quality = np.where(received, REMOVED, MISSING_QUALITY).astype(np.int8)
    quality[present] = COMPUTED
    quality[present & (used == raw)] = AS_RECEIVED
    quality[_doubtful(flight, rows, name) & present] = DOUBTFUL
    return quality


def _doubtful(flight: Flight, rows: Rows, name: str) -> NDArray[np.bool_]:
    """Return the rows an observer called doubtful."""
    doubtful = np.zeros(len(rows.values["time"]), dtype=np.bool_)
    for edit in flight.document.get("quality_edits", ()):
        columns = {NAMES[word].name if word in NAMES else word for word in edit["columns"]}
        if edit["action"] != "doubtful" or name not in columns:
            continue
        if "from_line" in edit:
            place, low, high = rows.values["source_row"], edit["from_line"], edit["to_line"]
        else:
            place, low, high = rows.values["time"], edit["from_time_s"], edit["to_time_s"]
        doubtful |= (place >= low) & (place <= high) & (rows.values["row_use"] != SURFACE)
    return doubtful


def _level_type(archive: FlightArchive, rows: Rows) -> NDArray[np.int32]:
    bits = np.zeros(len(rows.values["time"]), dtype=np.int32)
    if archive.levels is None:
        return bits
    ascent = np.flatnonzero(np.isin(rows.values["row_use"], (SURFACE, ASCENT)))
    levels = archive.levels
    if rows.record["ascent"].get("falls"):
        ascent = ascent[::-1]
    for bit, taken in zip(levels.kinds.tolist(), levels.rows, strict=True):
        if len(taken) == 1 and taken[0] < len(ascent):
            bits[ascent[taken[0]]] |= bit
    return bits


def _single_values(flight: Flight) -> dict[str, Any]:
    station = flight.station
    return {
        "trajectory_id": f"{station_id(station)}_{iso(flight.release_time)}",
        "station_name": station.name,
        "station_id": station_id(station),
        "surface_altitude": np.float64(station.elevation),
        "release_time": np.float64(flight.release_time.timestamp()),
        "nominal_time": np.float64(flight.nominal_time.timestamp()),
        "station": np.int8(0),
        "instrument": np.int8(0),
        "surface_observation": np.int8(0),
    }


def _texts(archive: FlightArchive, rows: Rows) -> dict[str, str]:
    texts = {
        "flight_facts": compact({**facts_as_json(archive.flight), _RECORD: rows.record}),
        "diagnostics": compact(
            {
                "flight": diagnostics_as_json(archive.flight.diagnostics),
                "archive": diagnostics_as_json(archive.diagnostics),
            }
        ),
    }
    if archive.levels is not None:
        texts["level_table"] = levels_text(archive.levels)
    if archive.reports:
        texts["coded_report"] = "".join(report.text for report in archive.reports)
        texts["coded_report_document"] = reports_text(archive.reports, archive.levels)
    return texts


def _own_attributes(flight: Flight) -> dict[str, dict[str, Any]]:
    """Return the attributes that belong to this flight: units of time, facts, formulas."""
    release = iso(flight.release_time)
    station = {
        key: value for key, value in station_as_json(flight.station).items() if value is not None
    }
    surface, instrument = flight.surface, flight.instrument
    own: dict[str, dict[str, Any]] = {
        "time": {"units": f"seconds since {release}"},
        "station": station,
        "instrument": {
            "radiosonde_type": instrument.radiosonde_type,
            "radiosonde_type_table": "common code table C-2",
            "tracking": instrument.tracking,
            "tracking_table": "common code table C-7",
            "radiation_correction": instrument.correction,
            "radiation_correction_table": "code table 3849",
            "wind_equipment": instrument.wind_equipment,
            "wind_equipment_table": "code table 0265",
            "serial_number": instrument.serial,
            "corrections_applied": _corrections(flight),
        },
        "surface_observation": {
            **{
                name: float(getattr(surface, name))
                for name in (
                    "air_pressure",
                    "air_temperature",
                    "relative_humidity",
                    "dew_point_temperature",
                    "wind_from_direction",
                    "wind_speed",
                )
                if not np.isnan(getattr(surface, name))
            },
            "quantity_units": "hPa, degC, %, degC, degree, m s-1",
            "cloud_group": None
            if surface.cloud is None
            else (
                f"{surface.cloud.amount}{surface.cloud.low}{surface.cloud.base}"
                f"{surface.cloud.middle}{surface.cloud.high}"
            ),
            "cloud_group_form": "Nh CL h CM CH, code tables 2700, 0513, 1600, 0515, 0509",
        },
    }
    for name, formula in flight.ascent.computed.items():
        if name in JUDGED:
            own.setdefault(name, {})["formula"] = formula
    return own


def _corrections(flight: Flight) -> str:
    """Return the corrections an observer made, one sentence each."""
    sentences = []
    for edit in flight.document.get("quality_edits", ()):
        limits = (
            f"lines {edit['from_line']} to {edit['to_line']}"
            if "from_line" in edit
            else f"{edit['from_time_s']:g} to {edit['to_time_s']:g} s"
        )
        columns = ", ".join(edit["columns"])
        sentences.append(f"{columns} at {limits} {edit['action']}: {edit['reason']}")
    return "; ".join(sentences) or "none by an observer"


def _global(
    archive: FlightArchive, rows: Rows, service: Service, created: datetime | None
) -> dict[str, Any]:
    from datetime import timedelta

    flight, time = archive.flight, rows.values["time"]
    start = flight.release_time + timedelta(seconds=float(time[0]))
    end = flight.release_time + timedelta(seconds=float(time[-1]))
    step = float(np.median(np.diff(time))) if len(time) > 1 else 0.0
    name = station_id(flight.station)
    sonde = flight.instrument.radiosonde_type
    by_height = flight.ascent.by_height
    stamp = created or end
    vertical, unit = ("geopotential_height", "m") if by_height else ("air_pressure", "hPa")
    kind = "pilot-balloon flight" if by_height else "radiosonde flight"
    return discovery(
        FLIGHT,
        title=(
            f"{kind.capitalize()} at {flight.station.name}, {flight.nominal_time:%Y-%m-%d %H} UTC"
        ),
        summary=(
            f"Every row of one {kind} released at {station_words(flight.station)} at "
            f"{iso(flight.release_time)}, with position and time of each row, quality of each "
            "value, the levels selected and the coded reports made of it."
        ),
        identifier=f"{name}_{flight.nominal_time:%Y%m%dT%H%M}Z_flight",
        station=flight.station,
        service=service,
        created=stamp,
        history=[f"{iso(stamp)}: written by {SOFTWARE} {VERSION}"],
        source=f"{'pilot balloon' if by_height else 'radiosonde'}, processed by the ground station",
        level="processed rows as received; prepared, checked and completed where flagged",
        keywords=(
            ("geopotential_height", "wind_from_direction", "wind_speed")
            if by_height
            else ("air_pressure", "air_temperature", "relative_humidity", "wind_speed")
        ),
        instrument="radiosonde" if sonde is None else f"radiosonde, type {sonde}",
        comment=(
            f"Humidity and dew point by {flight.vapour_pressure_formula}. Seconds of time count "
            "from release; the first row is the surface observation."
        ),
        extent={
            **extents(
                rows.values["latitude"],
                rows.values["longitude"],
                rows.values[vertical],
                vertical,
                unit,
            ),
            **coverage(start, end, step),
        },
    )


# --- reading ----------------------------------------------------------------------------------


def flight_of_dataset(dataset: Any) -> FlightArchive:
    """Return the flight of an open flight file; inverse of :func:`write_flight_file`.

    Raises
    ------
    KeyError, TypeError, ValueError, IndexError, FormatError
        If the file was changed so that it is none any more.
    """
    values = {
        name: _read(variable)
        for name, variable in dataset.variables.items()
        if variable.dimensions == ("time",) and not name.endswith("_quality")
    }
    facts = json.loads(text_of(dataset, "flight_facts"))
    profile, ascent, descent = parts_of_rows(values, facts[_RECORD])
    found: Mapping[str, Any] = json.loads(text_of(dataset, "diagnostics"))
    flight = Flight(
        **facts_from_json(facts),
        profile=profile,
        ascent=ascent,
        descent=descent,
        diagnostics=diagnostics_from_json(found["flight"]),
    )
    names = dataset.variables
    levels = levels_of_text(text_of(dataset, "level_table")) if "level_table" in names else None
    reports = (
        reports_of_text(text_of(dataset, "coded_report_document"), levels)
        if "coded_report_document" in names
        else ()
    )
    return FlightArchive(flight, levels, reports, diagnostics_from_json(found["archive"]))


def _read(variable: Any) -> Any:
    values = np.asarray(variable[...])
    if values.dtype == np.float64:
        return np.where(values == MISSING["f8"], np.nan, values)
    return values
