"""Station, times and surface observation of a CF file of others; every assumption is told."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.columns import COLUMNS
from encoder.diagnostics import Diagnostic, Result, diagnostic, has_errors
from encoder.formats.foreign_reader import SoundingReader, lacks, turned
from encoder.formats.units import converted, unit_fault
from encoder.sounding import UNNAMED

_WIGOS = re.compile(r"0-[0-9]{1,5}-[0-9]{1,5}-[A-Za-z0-9]{1,16}")
"""A WIGOS station identifier (WMO-No. 1160): series, issuer, issue, local identifier."""

if TYPE_CHECKING:
    from collections.abc import Mapping

    from encoder.profile import Profile


def facts_of_file(
    reader: SoundingReader, profile: Profile, release: datetime, dataset: Any
) -> Result[dict[str, Any] | None]:
    """Return a flight document made of what the file says; every assumption is told."""
    said: list[Diagnostic] = []
    first = {name: _first(profile, name) for name in profile}
    station = _station(reader, first, dataset, said)
    pressure = first.get("air_pressure", float("nan"))
    if has_errors(said):
        return Result(None, tuple(said))
    if np.isnan(pressure) or np.isnan(station["elevation_m"]):
        what = "air_pressure" if np.isnan(pressure) else "surface_altitude"
        said.append(lacks(what, f"the {what} at the station"))
        return Result(None, tuple(said))
    said.append(_assumed("The surface observation", "the first level"))
    nominal = release.replace(minute=0, second=0, microsecond=0)
    if nominal != release:
        nominal += timedelta(hours=1)
    said.append(_assumed("The nominal time", f"the release: {nominal:%Y-%m-%d %H} UTC"))
    surface = {
        key: first.get(name)
        for key, name in (
            ("air_pressure_hpa", "air_pressure"),
            ("air_temperature_degc", "air_temperature"),
            ("relative_humidity_percent", "relative_humidity"),
            ("wind_from_direction_degree", "wind_from_direction"),
            ("wind_speed_m_s", "wind_speed"),
        )
    }
    document = {
        "format": "aerogram-flight-1",
        "station": station,
        "nominal_time": nominal.isoformat(),
        "release_time": release.isoformat(),
        "surface": {
            key: None if value is None or np.isnan(value) else value
            for key, value in surface.items()
        },
    }
    return Result(document, tuple(said))


def _first(profile: Profile, name: str) -> float:
    values = profile[name]
    return float(values[0]) if len(values) else float("nan")


def _station(
    reader: SoundingReader, first: Mapping[str, float], dataset: Any, said: list[Diagnostic]
) -> dict[str, Any]:
    identifier = reader.words("identifier") or _global(dataset, "wmo_index", "platform_id")
    name = reader.words("name") or _global(dataset, "station_name", "platform") or identifier
    place = {}
    for key in ("latitude", "longitude"):
        value = _single(reader, key, key, said)
        if np.isnan(value):
            value = first.get(key, float("nan"))
        place[key] = value
    place["longitude"] = float(turned(np.array([place["longitude"]]))[0])
    elevation = _single(reader, "elevation", "altitude", said)
    if np.isnan(elevation):
        other = (
            "altitude" if not np.isnan(first.get("altitude", np.nan)) else ("geopotential_height")
        )
        elevation = first.get(other, float("nan"))
        if not np.isnan(elevation):
            said.append(_assumed("The elevation of the station", f"{other} of the first level"))
    station: dict[str, Any] = {
        "name": name or UNNAMED,
        **place,
        "elevation_m": elevation,
    }
    if len(identifier) == 5 and identifier.isdigit():
        station["wmo_index"] = identifier
    elif _WIGOS.fullmatch(identifier):
        station["wigos_id"] = identifier
    elif identifier and identifier != station["name"]:
        station["name"] = f"{station['name']} ({identifier})"
    return station


def _single(reader: SoundingReader, name: str, column: str, said: list[Diagnostic]) -> float:
    """Return a value of the sounding in package units, NaN where it is not known."""
    value, units = reader.single(name), reader.units(name) or COLUMNS[column].unit
    if np.isnan(value):
        return value
    if unit_fault(COLUMNS[column], units) is not None:
        place = reader.found.single[name]
        said.append(
            diagnostic(
                "netcdf-unit-wrong",
                f'The units "{units}" of {place} do not measure {column}.',
                path=(place, "units"),
                value=units,
                expected=COLUMNS[column].unit,
            )
        )
        return float("nan")
    return float(converted(COLUMNS[column], units, np.array([value]))[0])


def _global(dataset: Any, *names: str) -> str:
    return next((str(dataset.getncattr(name)) for name in names if name in dataset.ncattrs()), "")


def _assumed(what: str, where: str) -> Diagnostic:
    return diagnostic("netcdf-fact-assumed", f"{what} was taken from {where}.")
