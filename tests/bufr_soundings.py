"""Invented flights and messages for the BUFR tests."""

from __future__ import annotations

import copy
from dataclasses import replace

import numpy as np

from encoder.formats.bufr.monthly import MonthlyMessage
from encoder.profile import Station

EQUIPMENT = {
    "ascension_number": 412,
    "release_number": 1,
    "observer": "MK",
    "completeness": 4,
    "configuration": 20,
    "humidity_correction": 3,
    "ground_system": 62,
    "frequency_mhz": 403.5,
    "balloon_maker": 62,
    "balloon_type": 30,
    "balloon_shelter": 3,
    "pressure_sensor": 3,
    "temperature_sensor": 5,
    "humidity_sensor": 11,
    "radome": 1,
    "height_calculation": 1,
    "software": "NR 4.2.1",
}


def platform_flight(flight, platform):
    """Return a flight as if made from another platform."""
    document = copy.deepcopy(dict(flight.document))
    document["station"] = {**document["station"], "platform": platform}
    station = flight.station
    if platform != "land":
        document["station"]["call_sign"] = "QCW07"
        station = replace(station, wmo_index=None)
    if platform == "ship":
        document["surface"] = {**document["surface"], "sea_temperature_degc": 8.3}
    if platform == "mobile":
        document["station"]["elevation_quality"] = 2
    return replace(flight, document=document, station=station)


def facts_with(flight, **changes):
    """Return a flight with every fact of the instrument block."""
    document = copy.deepcopy(dict(flight.document))
    document["equipment"] = {**EQUIPMENT, **changes}
    return replace(flight, document=document)


def monthly_message(**changes):
    """Return monthly means of an invented station."""
    count = 4
    step = np.arange(count, dtype=float)
    columns = {
        "air_pressure": np.array([968.4, 850.0, 700.0, 500.0]),
        "geopotential_height": 412.0 + 1500.0 * step,
        "air_temperature": 12.34 - 9.0 * step,
        "dew_point_temperature": 8.0 - 10.0 * step,
        "wind_from_direction": np.array([240.0, 360.0, 255.0, 260.0]),
        "wind_speed": 4.0 + 5.0 * step,
        "wind_steadiness": np.array([60.0, 70.0, np.nan, 85.0]),
        "missing_days_temperature": step,
        "missing_days_wind": 2.0 * step,
    }
    columns.update(changes)
    surface = np.array([True, False, False, False])
    station = Station("Harrow Tarn", 53.4127, -18.2751, 412.0, "90417", "0-20000-0-90417", 6)
    return MonthlyMessage(station, 2031, 7, 0, 31, 32, columns, surface)
