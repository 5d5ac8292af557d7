"""The column table: every quantity the package knows, with its one unit inside the package.

Names are CF standard names where CF has one. File formats convert on the way in and out; nothing
else in the package converts units.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Column:
    """One quantity.

    Attributes
    ----------
    name : str
        CF standard name.
    unit : str
        UDUNITS spelling of the unit used inside the package.
    lowest, highest : float
        Gross limits in that unit; outside them a value is called impossible.
    symbol : str
        Symbol used in formulas and table heads.
    description : str
        One plain sentence.
    decimals : int
        Decimals shown in text tables and written to CSV.
    aliases : tuple of str
        Further spellings accepted in the header of a profile file.
    source : str
        Where the limits come from.
    """

    name: str
    unit: str
    lowest: float
    highest: float
    symbol: str
    description: str
    decimals: int
    aliases: tuple[str, ...] = ()
    source: str = "common practice, no source"


_LIST = (
    Column("time", "s", -600.0, 20000.0, "t", "Time since release.", 1, ("elapsed_time",)),
    Column("air_pressure", "hPa", 0.5, 1100.0, "P", "Air pressure.", 2, ("pressure",)),
    Column(
        "geopotential_height",
        "m",
        -500.0,
        50000.0,
        "H",
        "Geopotential height above mean sea level (standard geopotential metres).",
        1,
    ),
    Column(
        "altitude",
        "m",
        -500.0,
        50500.0,
        "z",
        "Geometric height above mean sea level.",
        1,
        ("height_above_mean_sea_level", "geometric_height"),
    ),
    Column("air_temperature", "degC", -100.0, 55.0, "T", "Air temperature.", 2, ("temperature",)),
    Column("relative_humidity", "%", 0.0, 102.0, "U", "Relative humidity over liquid water.", 1),
    Column(
        "dew_point_temperature",
        "degC",
        -150.0,
        55.0,
        "Td",
        "Dew point over liquid water.",
        2,
        ("dew_point",),
    ),
    Column(
        "dew_point_depression",
        "K",
        0.0,
        90.0,
        "D",
        "Air temperature less dew point.",
        2,
    ),
    Column(
        "wind_from_direction",
        "degree",
        0.0,
        360.0,
        "dd",
        "Direction the wind blows from.",
        1,
        ("wind_direction",),
    ),
    Column("wind_speed", "m s-1", 0.0, 150.0, "ff", "Horizontal wind speed.", 2),
    Column("eastward_wind", "m s-1", -150.0, 150.0, "u", "Wind component towards the east.", 2),
    Column("northward_wind", "m s-1", -150.0, 150.0, "v", "Wind component towards the north.", 2),
    Column("latitude", "degree", -90.0, 90.0, "lat", "Latitude, north positive.", 5),
    Column("longitude", "degree", -180.0, 180.0, "lon", "Longitude, east positive.", 5),
)

COLUMNS: dict[str, Column] = {column.name: column for column in _LIST}
"""Every quantity by its name."""

SHEAR_COLUMNS: dict[str, Column] = {
    column.name: column
    for column in (
        Column(
            "wind_shear_below",
            "m s-1",
            0.0,
            150.0,
            "vb",
            "Size of the vector difference between the wind here and 1 km below.",
            1,
        ),
        Column(
            "wind_shear_above",
            "m s-1",
            0.0,
            150.0,
            "va",
            "Size of the vector difference between the wind here and 1 km above.",
            1,
        ),
    )
}
"""Quantities that only a level has."""

PROFILE_COLUMNS: tuple[str, ...] = (
    "time",
    "air_pressure",
    "geopotential_height",
    "air_temperature",
    "relative_humidity",
    "dew_point_temperature",
    "wind_from_direction",
    "wind_speed",
)
"""Columns every prepared profile has (NaN where a value is missing)."""

LEVEL_COLUMNS: tuple[str, ...] = (
    "time",
    "air_pressure",
    "geopotential_height",
    "air_temperature",
    "relative_humidity",
    "dew_point_temperature",
    "dew_point_depression",
    "wind_from_direction",
    "wind_speed",
    "wind_shear_below",
    "wind_shear_above",
    "latitude",
    "longitude",
)
"""Columns every level table has (NaN where a value is missing)."""


def column(name: str) -> Column:
    """Return the column of that name, profile or level.

    Raises
    ------
    KeyError
        If there is no such quantity.
    """
    return COLUMNS[name] if name in COLUMNS else SHEAR_COLUMNS[name]
