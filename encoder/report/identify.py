"""Section 1 of every form: who reports, from where, about when."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from encoder.codes.content import Record, SectionContent
from encoder.codes.declare import record_elements
from encoder.codes.groups_position import marsden_figures, quadrant_of
from encoder.rounding import round_half_away

if TYPE_CHECKING:
    from collections.abc import Mapping

    from encoder.codes.declare import Part, Value
    from encoder.profile import Flight


def identification(flight: Flight, part: Part, *, last_wind: str) -> SectionContent:
    """Return section 1 of a part.

    Parameters
    ----------
    flight : Flight
    part : Part
        Its declaration tells which of the facts are wanted.
    last_wind : str
        Figure Id of the standard levels of this part.

    Returns
    -------
    SectionContent
    """
    facts = _facts(flight) | {"last_wind": last_wind}
    names = record_elements(part.sections[0].records[0])
    return SectionContent("1", (Record("identification", {name: facts[name] for name in names}),))


def _facts(flight: Flight) -> dict[str, Value]:
    station = flight.station
    given: Mapping[str, Any] = flight.document.get("station", {})
    latitude = round_half_away(station.latitude, 0.1)
    longitude = round_half_away(station.longitude, 0.1)
    quadrant = quadrant_of(station.latitude, station.longitude)
    accuracy = given.get("elevation_quality")
    return {
        "day": flight.nominal_time.day,
        "hour": flight.nominal_time.hour,
        "wind_unit": flight.reporting.wind_unit,
        "wind_equipment": flight.instrument.wind_equipment,
        "station": station.wmo_index,
        "call_sign": given.get("call_sign"),
        "latitude": latitude,
        "longitude": longitude,
        "quadrant": quadrant,
        "marsden": marsden_figures(latitude, longitude, quadrant),
        "elevation": station.elevation,
        "elevation_accuracy": None if accuracy is None else str(accuracy),
    }
