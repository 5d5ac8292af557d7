"""Invented flights for tests: facts and rows that read without a word, to be spoilt one by one."""

from __future__ import annotations

import copy
import json

import numpy as np

from encoder.ascent import prepare_ascent
from encoder.columns import COLUMNS, PROFILE_COLUMNS
from encoder.formats.flight_facts import flight_facts
from encoder.physics import (
    geopotential_height,
    hypsometric_pressure,
    vapour_pressure,
    virtual_temperature,
)
from encoder.profile import Profile

FACTS = {
    "format": "aerogram-flight-1",
    "station": {
        "name": "Harrow Tarn",
        "wmo_index": "90417",
        "wigos_id": "0-20000-0-90417",
        "latitude": 54.31,
        "longitude": 12.84,
        "elevation_m": 412.0,
        "wmo_region": 6,
    },
    "nominal_time": "2031-07-15T18:00Z",
    "release_time": "2031-07-15T17:16:30Z",
    "surface": {
        "air_pressure_hpa": 964.8,
        "air_temperature_degc": 15.0,
        "relative_humidity_percent": 60.0,
        "wind_from_direction_degree": 240.0,
        "wind_speed_m_s": 4.0,
    },
}


def facts_of(**changes):
    """Return the facts with keys changed: ``station__latitude=10``."""
    document = copy.deepcopy(FACTS)
    for words, value in changes.items():
        *path, last = words.split("__")
        place = document
        for step in path:
            place = place.setdefault(step, {})
        place[last] = value
    return document


def rows_of(count=200, step=10.0):
    """Return the columns of a balloon rising at 5 m/s through a smooth, hydrostatic atmosphere.

    Row ``i`` stands on line ``i + 2`` of the file :func:`text_of` makes.
    """
    time = step * np.arange(count + 1)
    start = float(geopotential_height(412.0, 54.31))
    height = start + 5.0 * time
    temperature = np.maximum(15.0 - 0.0065 * (height - start), -56.5)
    humidity = np.maximum(60.0 - (height - start) / 400.0, 3.0)
    pressure = np.full(len(time), 964.8)
    for _ in range(4):
        virtual = virtual_temperature(temperature, vapour_pressure(temperature, humidity), pressure)
        pressure = hypsometric_pressure(height, virtual, 964.8)
    columns = {
        "time": time,
        "air_pressure": pressure,
        "geopotential_height": height,
        "air_temperature": temperature,
        "relative_humidity": humidity,
        "wind_from_direction": 240.0 + 20.0 * np.sin(height / 5000.0),
        "wind_speed": 4.0 + height / 1500.0,
    }
    return {name: values[1:].copy() for name, values in columns.items()}


def text_of(columns, units=None):
    """Return columns as the text of a profile file, with all their digits."""
    units = {**{name: COLUMNS[name].unit for name in columns}, **(units or {})}
    lines = [",".join(f"{name} [{units[name]}]" for name in columns)]
    cells = [
        [v if isinstance(v, str) else "" if np.isnan(v) else repr(float(v)) for v in values]
        for values in columns.values()
    ]
    lines += [",".join(row) for row in zip(*cells, strict=True)]
    return "\n".join(lines) + "\n"


def write_flight(folder, facts=None, profile=None):
    """Write the two files, each given as a value, as text or as bytes, and return the folder."""
    facts = FACTS if facts is None else facts
    profile = rows_of() if profile is None else profile
    facts = json.dumps(facts) if isinstance(facts, dict) else facts
    profile = text_of(profile) if isinstance(profile, dict) else profile
    for name, content in (("flight.json", facts), ("profile.csv", profile)):
        data = content.encode() if isinstance(content, str) else content
        (folder / name).write_bytes(data)
    return folder


def codes_of(result):
    """Return the codes of the diagnostics of a result, in their order."""
    return [item.code for item in result.diagnostics]


def the(result, code):
    """Return the one diagnostic of a code."""
    (found,) = [item for item in result.diagnostics if item.code == code]
    return found


def prepared_rows(columns, formula="wmo-49"):
    """Return the ascent and descent of columns whose first row stands on line 2."""
    facts = flight_facts(FACTS).value
    profile = Profile(columns, np.arange(2, 2 + len(columns["time"])))
    return prepare_ascent(
        profile, station=facts.station, surface=facts.surface, vapour_pressure_formula=formula
    )


def joined_rows(columns, *others):
    """Return columns with the rows of others put behind them."""
    return {name: np.concatenate([columns[name], *(o[name] for o in others)]) for name in columns}


def check_ascent_contract(result):
    """Assert what holds for every ascent, and return it."""
    ascent, _ = result.value
    assert set(PROFILE_COLUMNS) <= set(ascent)
    assert (ascent.source_row[0], ascent["time"][0]) == (0, 0.0)
    assert ascent["air_pressure"][0] == FACTS["surface"]["air_pressure_hpa"]
    assert np.all(np.diff(ascent["air_pressure"]) < 0.0)
    assert np.all(np.diff(ascent["time"]) > 0.0)
    return ascent
