"""The plain words of a report of a dropped sonde: 61616 and 62626, formed from the flight."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from encoder.codes.content import Record
from encoder.codes.drop_text import write_drop_text
from encoder.levels.derived import mean_wind
from encoder.levels.stretches import wind_rows

if TYPE_CHECKING:
    from encoder.codes.declare import Value
    from encoder.profile import Flight

BOUNDARY_LAYER = 500.0
"""Depth in gpm of the lowest layer whose mean wind is given (MBL WND), from memory."""
LOWEST_LAYER = 150.0
"""Depth in gpm of the layer of WL150, from memory."""


def drop_words(flight: Flight, letter: str) -> str:
    """Return the plain words of one part.

    Parameters
    ----------
    flight : Flight
        Of a sonde dropped from an aircraft.
    letter : str
        Part A has both texts, part B the first alone, as in bulletins UZNT13 KWBC 131820 and
        211330; parts C and D have none.

    Returns
    -------
    str
        ``61616`` with aircraft, mission, storm and number of the observation where all are
        given; ``62626`` with mean winds of the lowest 500 m, of the whole layer and of the lowest
        150 m, place and time of release and splash, as far as they are known.
    """
    if letter not in "AB":
        return ""
    unit = flight.reporting.wind_unit
    mission = write_drop_text([_mission(flight)], wind_unit=unit)
    if letter == "B":
        return mission
    words = write_drop_text([*_winds(flight), *_places(flight)], wind_unit=unit)
    return " ".join(text for text in (mission, f"62626 {words}" if words else "") if text)


def _mission(flight: Flight) -> Record:
    given = flight.document.get("drop", {})
    values: dict[str, Value] = {
        "aircraft": flight.document.get("station", {}).get("call_sign"),
        **{name: given.get(name) for name in ("mission", "storm", "observation")},
    }
    return Record("mission", values)


def _winds(flight: Flight) -> list[Record]:
    ascent = flight.ascent
    windy = np.flatnonzero(wind_rows(ascent) & np.isfinite(ascent["geopotential_height"]))
    if len(windy) < 2:
        return []
    heights, pressures = ascent["geopotential_height"], ascent["air_pressure"]
    low, high = int(windy[0]), int(windy[-1])
    ground = float(heights[0])
    found = []
    for kind, bottom, top in (
        ("boundary-layer-wind", ground, ground + BOUNDARY_LAYER),
        ("deep-layer-wind", float(heights[low]), float(heights[high])),
        ("lowest-layer-wind", ground, ground + LOWEST_LAYER),
    ):
        direction, speed = mean_wind(ascent, bottom, top)
        if np.isnan(speed):
            continue
        values: dict[str, Value] = {"wind_from_direction": direction, "wind_speed": speed}
        if kind == "deep-layer-wind":
            values |= {
                "layer_bottom": float(pressures[low]),
                "layer_top": float(pressures[high]),
            }
        found.append(Record(kind, values))
    return found


def _places(flight: Flight) -> list[Record]:
    given = flight.document.get("drop", {})
    release: dict[str, Value] = {
        "latitude": flight.station.latitude,
        "longitude": flight.station.longitude,
        "time": f"{flight.release_time:%H%M%S}",
    }
    seconds = float(flight.ascent["time"][0])
    known = given.get("splash_time") is not None and np.isfinite(seconds)
    landed = flight.release_time + timedelta(seconds=seconds) if known else None
    splash: dict[str, Value] = {
        "latitude": given.get("splash_latitude"),
        "longitude": given.get("splash_longitude"),
        "time": None if landed is None else f"{landed:%H%M%S}",
    }
    return [Record("release", release), Record("splash", splash)]
