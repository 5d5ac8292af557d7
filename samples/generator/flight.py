"""A specification turned into a flight: the facts and the rows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from encoder.physics import wind_from_components
from encoder.rounding import round_half_away
from samples.generator.atmosphere import Atmosphere, build_atmosphere
from samples.generator.balloon import ascend
from samples.generator.sensors import measure

if TYPE_CHECKING:
    from datetime import datetime

    from samples.generator.noise import FloatArray
    from samples.generator.specification import FlightSpec

FORMAT = "aerogram-flight-1"


class SampleFlight(NamedTuple):
    """A generated flight.

    Attributes
    ----------
    document : dict
        Contents of ``flight.json``.
    columns : dict of str to ndarray, each of shape (row,)
        Contents of ``profile.csv`` in the units of :mod:`encoder.columns`, NaN for missing.
    """

    document: dict[str, Any]
    columns: dict[str, FloatArray]


def make_flight(spec: FlightSpec) -> SampleFlight:
    """Make a flight; the same specification always gives the same flight.

    Parameters
    ----------
    spec : FlightSpec

    Returns
    -------
    SampleFlight
        The document and the columns.
    """
    atmosphere = build_atmosphere(spec)
    columns = measure(spec, atmosphere, ascend(spec, atmosphere))
    return SampleFlight(document_of(spec, atmosphere), columns)


def document_of(spec: FlightSpec, atmosphere: Atmosphere) -> dict[str, Any]:
    """Return the contents of ``flight.json``; the surface values are read off the air itself."""
    place, facts = spec.place, dict(spec.facts)
    direction, speed = wind_from_components(atmosphere.eastward[:2], atmosphere.northward[:2])
    tens = round_half_away(float(direction[0]), 10.0)
    document: dict[str, Any] = {
        "format": FORMAT,
        "station": {
            "name": place.name,
            "wmo_index": place.wmo_index,
            "wigos_id": f"0-20000-0-{place.wmo_index}",
            "latitude": place.latitude,
            "longitude": place.longitude,
            "elevation_m": place.elevation,
            "wmo_region": place.wmo_region,
        },
        "nominal_time": _utc(spec.nominal_time),
        "release_time": _utc(spec.release_time),
        "surface": {
            "air_pressure_hpa": round_half_away(spec.air.surface_pressure, 0.1),
            "air_temperature_degc": round_half_away(float(atmosphere.temperature[0]), 0.1),
            "relative_humidity_percent": round_half_away(float(atmosphere.humidity[0])),
            "wind_from_direction_degree": 360.0 if tens == 0.0 else tens,
            "wind_speed_m_s": round_half_away(float(speed[0]), 0.1),
            "cloud": facts.pop("cloud", None),
        },
    }
    return document | facts


def _utc(moment: datetime) -> str:
    """Return an aware UTC time as text, to the minute, or to the second where it has seconds."""
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ" if moment.second else "%Y-%m-%dT%H:%MZ")
