"""Writing and reading the level file."""

from __future__ import annotations

import json
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.archive import Service
from encoder.formats.netcdf.container import text_of, write
from encoder.formats.netcdf.declare import SOFTWARE, VERSION
from encoder.formats.netcdf.discovery import coverage, discovery, extents, iso
from encoder.formats.netcdf.facts_text import (
    compact,
    diagnostics_as_json,
    diagnostics_from_json,
    reports_of_text,
    reports_text,
    station_as_json,
    station_from_json,
)
from encoder.formats.netcdf.level_product import LEVELS
from encoder.formats.netcdf.level_values import levels_of_dataset, values_of_levels, vertical_of
from encoder.levels.table import Levels
from encoder.sounding import Sounding, station_words

if TYPE_CHECKING:
    import os


def write_level_file(
    path: str | os.PathLike[str],
    sounding: Sounding,
    *,
    service: Service | None = None,
    created: datetime | None = None,
) -> None:
    """Write a level file; an older one of that name is replaced once the new one is complete.

    Parameters
    ----------
    path : path-like
    sounding : Sounding
    service : Service, optional
    created : datetime, optional
        When the values were last changed; the time of the sounding by default.

    Raises
    ------
    OSError
        If the file cannot be written.
    """
    levels, station = sounding.levels, sounding.station
    values, own, record = values_of_levels(
        levels.columns,
        levels.kinds,
        sounding.status,
        formula=sounding.formula,
        coded=bool(sounding.text),
    )
    numbers, axis, unit = vertical_of(values, own)
    stamp = created or sounding.time
    identifier = f"{sounding.station_id}_{sounding.nominal_time:%Y%m%dT%H%M}Z"
    form = "" if sounding.report is None else f"{sounding.report.form} "
    facts = discovery(
        LEVELS,
        title=f"Levels of the sounding at {station.name}, {sounding.nominal_time:%Y-%m-%d %H} UTC",
        summary=(
            f"Standard and significant levels of one {form}report of {station_words(station)}, "
            f"nominal time {iso(sounding.nominal_time)}, with the kind of each level and the "
            "report itself."
        ),
        identifier=f"{identifier}_levels",
        station=station,
        service=service or Service(),
        created=stamp,
        history=[f"{iso(stamp)}: written by {SOFTWARE} {VERSION}"],
        source=f"{form}coded report" if sounding.text else "archived levels",
        level="levels on the steps of the code" if sounding.text else "levels as archived",
        keywords=("air_pressure", "air_temperature", "dew_point_depression", "wind_speed"),
        instrument="radiosonde",
        comment=f"Humidity computed by {sounding.formula} where it is given.",
        extent={
            **extents(
                np.array([station.latitude]), np.array([station.longitude]), numbers, axis, unit
            ),
            **coverage(sounding.time, sounding.time, 0.0),
        },
    )
    values |= {
        "time": np.float64(sounding.time.timestamp()),
        "nominal_time": np.float64(sounding.nominal_time.timestamp()),
        "latitude": np.float64(station.latitude),
        "longitude": np.float64(station.longitude),
        "profile_id": identifier,
        "station_name": station.name,
        "station_id": sounding.station_id,
        "sounding_facts": compact(
            {
                "station": station_as_json(station),
                "time": sounding.time.isoformat(),
                "nominal_time": sounding.nominal_time.isoformat(),
                "superseded": sounding.superseded,
                **record,
                "text": sounding.text,
                "attributes": dict(levels.attributes),
            }
        ),
        "diagnostics": compact(diagnostics_as_json(sounding.diagnostics)),
    }
    if not np.isnan(station.elevation):
        values["surface_altitude"] = np.float64(station.elevation)
    if sounding.text:
        values["coded_report"] = sounding.text
    if sounding.report is not None:
        values["coded_report_document"] = reports_text([sounding.report], levels)
    write(path, LEVELS, facts, values, own)


def sounding_of_dataset(dataset: Any) -> Sounding:
    """Return the sounding of an open level file; inverse of :func:`write_level_file`.

    Raises
    ------
    KeyError, TypeError, ValueError, IndexError, FormatError
        If the file was changed so that it is none any more.
    """
    facts = json.loads(text_of(dataset, "sounding_facts"))
    columns, kinds, status = levels_of_dataset(dataset, facts)
    levels = Levels(columns, kinds, attributes=facts["attributes"])
    report = None
    if "coded_report_document" in dataset.variables:
        (report,) = reports_of_text(text_of(dataset, "coded_report_document"), levels)
    return Sounding(
        station_from_json(facts["station"]),
        datetime.fromisoformat(facts["time"]),
        datetime.fromisoformat(facts["nominal_time"]),
        levels,
        status,
        facts["text"],
        report,
        diagnostics_from_json(json.loads(text_of(dataset, "diagnostics"))),
        facts["formula"],
        facts["superseded"],
    )
