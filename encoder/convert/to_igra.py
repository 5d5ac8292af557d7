"""Station files in the layout of IGRA: the bytes of the source where they came from it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.convert.batch import NO_TYPE, STATUSES, TENTHS, Batch, fill_of
from encoder.convert.from_igra import igra_of_batch
from encoder.formats.igra.layout import LEVEL_FIELDS, NO_TIME
from encoder.formats.igra.writer import write_igra
from encoder.levels.table import LevelKind
from encoder.rounding import round_half_away

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

STANDARD = (
    1000,
    925,
    850,
    700,
    500,
    400,
    300,
    250,
    200,
    150,
    100,
    70,
    50,
    30,
    20,
    10,
    7,
    5,
    3,
    2,
    1,
)
"""Levels of major type 1 in hPa (format description, LVLTYP1)."""
_FIELD_OF = {
    "time": "elapsed",
    "air_pressure": "pressure",
    "geopotential_height": "height",
    "air_temperature": "temperature",
    "dew_point_depression": "depression",
    "relative_humidity": "humidity",
    "wind_from_direction": "direction",
    "wind_speed": "speed",
}


def igra_text(batch: Batch) -> Iterator[bytes]:
    """Return the soundings of a batch as text of the layout.

    Parameters
    ----------
    batch : Batch
        Soundings from the layout come out byte for byte as they were, in the order of their
        sources; others are put into its units and steps, values it has no room for are left out.
    """
    profiles = batch.profiles
    order = np.lexsort((profiles["source_offset"], profiles["source_index"]))
    yield from write_igra(igra_of_batch(as_tenths(batch.ordered(order))))


def as_tenths(batch: Batch) -> Batch:
    """Return a batch whose quantities are the whole numbers of the layout.

    Values are rounded to its steps (Pa, m, 0.1 degC, 0.1 %, 0.1 K, degree, 0.1 m s-1).
    """
    profiles = batch.profiles
    foreign = profiles["line_ending"] < 0
    if batch.tenths and not foreign.any():
        return batch
    levels: dict[str, NDArray[Any]] = {}
    limits = {item.name: item for item in LEVEL_FIELDS}
    for name, packing in TENTHS.items():
        if batch.tenths:
            levels[name] = batch.levels[name]
            continue
        values = batch.levels[name]
        scale = packing.steps / packing.factor
        figures = round_half_away(np.where(np.isnan(values), 0.0, values * scale))
        field = limits[_FIELD_OF[name]]
        highest = 59999 if name == "time" else field.highest
        fits = ~np.isnan(values) & (figures >= field.lowest) & (figures <= highest)
        levels[name] = np.where(fits, figures, fill_of(name)).astype(packing.dtype)
    kinds = batch.levels["kinds"]
    given = batch.levels["source_level_type"]
    pressure = levels["air_pressure"]
    no_pressure = pressure == fill_of("air_pressure")
    standard = np.isin(pressure, np.array(STANDARD) * 100)
    major = np.where(no_pressure, 3, np.where(standard, 1, 2))
    minor = np.where(kinds & int(LevelKind.TROPOPAUSE), 2, 0)
    minor = np.where(kinds & int(LevelKind.SURFACE), 1, minor)
    levels["source_level_type"] = np.where(given == NO_TYPE, major * 10 + minor, given).astype("i1")
    for name in ("kinds", "pressure_flag", "height_flag", "temperature_flag", "level_quality"):
        levels[name] = batch.levels[name]
    for name in STATUSES:
        levels[f"{name}_status"] = batch.levels[f"{name}_status"]
    return Batch(batch.station, True, _headers(batch, foreign), levels, batch.texts)


def _headers(batch: Batch, foreign: NDArray[np.bool_]) -> dict[str, NDArray[Any]]:
    """Return the columns of soundings with headers for those from elsewhere."""
    profiles = dict(batch.profiles)
    nominal = profiles["nominal_time"]
    day = np.floor(nominal / 86400.0) * 86400.0
    hour = np.rint((nominal - day) // 3600.0)
    launched = np.mod(profiles["time"], 86400.0)
    minutes = launched // 60.0
    release = (minutes // 60) * 100 + minutes % 60
    release = np.where(profiles["time_source"] == 0, release, NO_TIME)
    name = batch.station.upper()
    network = f"XXM000{name}" if len(name) == 5 and name.isdigit() else f"XXX{name[-8:]:0>8}"
    made = {
        "announced_levels": profiles["row_size"],
        "header_hour": hour,
        "header_release": release,
        "line_ending": np.zeros(len(batch)),
        "header_station": np.full(len(batch), network.encode("ascii", "replace")),
    }
    for column, values in made.items():
        dtype = profiles[column].dtype
        profiles[column] = np.where(foreign, values.astype(dtype), profiles[column]).astype(dtype)
    return profiles
