"""A starter flight, so that nobody begins from an empty page: both files, every key explained."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import numpy as np

from encoder.columns import COLUMNS
from encoder.diagnostics import diagnostic
from encoder.errors import InputError
from encoder.formats.flight_folder import FACTS_FILE, PROFILE_FILE
from encoder.formats.text_file import write_text
from encoder.formats.units import TIME_OF_DAY, USUAL_UNITS
from encoder.physics import (
    hypsometric_pressure,
    standard_atmosphere_temperature,
    vapour_pressure,
    virtual_temperature,
)
from encoder.rounding import round_half_away
from encoder.schemas_folder import schema

_FACTS: dict[str, Any] = {
    "format": "aerogram-flight-1",
    "profile": PROFILE_FILE,
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
        "air_temperature_degc": 12.4,
        "relative_humidity_percent": 70.0,
        "wind_from_direction_degree": 240.0,
        "wind_speed_m_s": 4.0,
        "cloud": {"amount": "3", "low": "1", "base": "5", "middle": "/", "high": "/"},
    },
    "instrument": {
        "radiosonde_type": 90,
        "correction": "5",
        "tracking": 8,
        "wind_equipment": "8",
        "serial": "A0000000",
        "vapour_pressure_formula": "wmo-49",
    },
    "balloon": {
        "type": "latex",
        "mass_g": 350,
        "gas": "helium",
        "gas_amount_m3": 1.6,
        "free_lift_g": 700,
        "payload_g": 200,
        "string_length_m": 30,
    },
    "termination": {"reason": "burst", "text": None},
    "reporting": {
        "wind_unit": "kt",
        "criteria": "wmo",
        "section_7_parts": ["A", "B", "C", "D"],
        "shear": True,
        "high_levels": False,
        "regional_groups": [],
        "national_groups": [],
    },
    "remarks": ["Invented flight in a standard atmosphere; put your own in its place."],
    "quality_edits": [
        {
            "columns": ["relative_humidity"],
            "from_time_s": 600,
            "to_time_s": 660,
            "action": "doubtful",
            "reason": "Example of an edit; remove it.",
        }
    ],
}

_ROW_SECONDS, _ROWS, _RISE = 60.0, 60, 5.0


def starter_facts() -> dict[str, Any]:
    """Return the starter ``flight.json`` with a ``$comment`` on every key.

    The explanations are those of ``flight.schema.json``.
    """
    document = schema("flight")
    explained: dict[str, Any] = _explained(_FACTS, document, document)
    return explained


def starter_profile() -> str:
    """Return the text of the starter ``profile.csv``, headed by comments on every column."""
    station, surface = _FACTS["station"], _FACTS["surface"]
    time = _ROW_SECONDS * np.arange(_ROWS + 1)
    height = station["elevation_m"] + _RISE * time
    temperature = standard_atmosphere_temperature(height)
    humidity = np.maximum(surface["relative_humidity_percent"] * np.exp(-height / 8000.0), 2.0)
    vapour = vapour_pressure(temperature, humidity)
    pressure = np.full(len(time), float(surface["air_pressure_hpa"]))
    for _ in range(3):
        virtual = virtual_temperature(temperature, vapour, pressure)
        pressure = hypsometric_pressure(height, virtual, float(pressure[0]))
    columns = {
        "time": time,
        "air_pressure": pressure,
        "geopotential_height": height,
        "air_temperature": temperature,
        "relative_humidity": humidity,
        "wind_from_direction": 240.0 + 30.0 * np.sin(height / 6000.0),
        "wind_speed": 4.0 + height / 900.0,
    }
    lines = [f"# {line}" for line in _profile_comments(list(columns))]
    lines.append(",".join(f"{name} [{COLUMNS[name].unit}]" for name in columns))
    cells = [
        [
            f"{value:.{COLUMNS[name].decimals}f}"
            for value in round_half_away(values, 10.0 ** -COLUMNS[name].decimals).tolist()
        ]
        for name, values in columns.items()
    ]
    rows = list(zip(*cells, strict=True))[1:]
    return "\n".join([*lines, *(",".join(row) for row in rows)]) + "\n"


def write_starter(folder: str | os.PathLike[str]) -> list[Path]:
    """Write a starter flight into a folder, made if need be.

    Parameters
    ----------
    folder : path-like
        Where the two files go.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    InputError
        If one of the files exists already, or the folder cannot be written to; nothing is written
        then.
    """
    target = Path(folder)
    texts = {
        target / FACTS_FILE: json.dumps(starter_facts(), indent=2, ensure_ascii=False) + "\n",
        target / PROFILE_FILE: starter_profile(),
    }
    there = [path for path in texts if path.exists()]
    if there:
        found = [
            diagnostic("file-exists", f'The file "{path}" exists already.', file=str(path))
            for path in there
        ]
        raise InputError(" ".join(item.message for item in found), found)
    try:
        target.mkdir(parents=True, exist_ok=True)
        for path, text in texts.items():
            write_text(path, text)
    except OSError as fault:
        message = f'The folder "{target}" cannot be written to: {fault}.'
        raise InputError(
            message, [diagnostic("file-not-writable", message, file=str(target))]
        ) from fault
    return list(texts)


def _explained(value: Any, rule: dict[str, Any], root: dict[str, Any]) -> Any:
    """Return a value with a ``$comment`` in each object that says what its keys mean."""
    if "$ref" in rule:
        rule = {**root["$defs"][rule["$ref"].rsplit("/", 1)[1]], **rule}
    if isinstance(value, list):
        return [_explained(item, rule.get("items", {}), root) for item in value]
    if not isinstance(value, dict):
        return value
    known = rule["properties"]
    comment = [
        f"{key}{_unit(known[key])}: {known[key]['description']}"
        for key in known
        if key != "$comment"
    ]
    return {
        "$comment": comment,
        **{key: _explained(item, known[key], root) for key, item in value.items()},
    }


def _unit(rule: dict[str, Any]) -> str:
    return f" [{rule['x-unit']}]" if "x-unit" in rule else ""


def _profile_comments(used: list[str]) -> list[str]:
    """Return the explanation of the profile file, line by line."""
    lines = [
        "Rows of the flight. Lines beginning with # are comments.",
        "Header cells are: name [unit]. Cells are separated by commas, numbers have a decimal",
        "point, a missing value is an empty cell. Units in UDUNITS spelling, for example:",
    ]
    for name, column in COLUMNS.items():
        units = ", ".join(unit for unit in USUAL_UNITS[name] if unit != TIME_OF_DAY)
        also = f" Also called {', '.join(column.aliases)}." if column.aliases else ""
        mark = "*" if name in used else " "
        lines.append(f"{mark} {name} [{units}] {column.description}{also}")
    return [
        *lines,
        "Columns marked * are used here. Needed are time, air_temperature, and air_pressure or",
        "a height; what is missing of pressure, height and dew point is computed.",
        f"time [{TIME_OF_DAY}] holds dates and times such as 2031-07-15T17:16:31Z instead.",
    ]
