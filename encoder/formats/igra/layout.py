"""The layout of IGRA version 2 sounding data: columns of header and level lines.

Source: "IGRA v2.2 Format Description: Sounding Data" and "... Derived Data", National Centers for
Environmental Information, 19 January 2023. Columns there are 1-based and inclusive.
"""

from __future__ import annotations

from typing import NamedTuple

HEADER_WIDTH = 71
LEVEL_WIDTH = 51
"""Figures of a level; files carry one more blank before the line end."""
MISSING = -9999
"""Missing before the quality assurance of the archive."""
REMOVED = -8888
"""Removed by the quality assurance of the archive, other values of the level being kept."""
NO_HOUR = 99
NO_TIME = 9999
FLAGS = b" AB"
"""Quality flags: not checked, inside limits of all the year, inside those of season and hour."""


class Field(NamedTuple):
    """Whole numbers in some columns, right-justified."""

    name: str
    begin: int
    end: int
    dtype: str
    lowest: int
    highest: int


HEADER_FIELDS = (
    Field("year", 13, 17, "i2", 1, 9998),
    Field("month", 18, 20, "i1", 1, 12),
    Field("day", 21, 23, "i1", 1, 31),
    Field("hour", 24, 26, "i1", 0, 99),
    Field("release", 27, 31, "i2", 0, 9999),
    Field("announced", 32, 36, "i4", 0, 9999),
    Field("latitude", 55, 62, "i4", -988888, 900000),
    Field("longitude", 63, 71, "i4", -9988888, 3600000),
)
"""Whole numbers of a header; the first five are padded with zeros, the others with blanks."""

LEVEL_FIELDS = (
    Field("elapsed", 3, 8, "i4", 0, 99959),
    Field("pressure", 9, 15, "i4", 0, 999999),
    Field("height", 16, 21, "i4", -9998, 99999),
    Field("temperature", 22, 27, "i2", -9998, 9999),
    Field("humidity", 28, 33, "i2", 0, 9999),
    Field("depression", 34, 39, "i2", 0, 9999),
    Field("direction", 40, 45, "i2", 0, 360),
    Field("speed", 46, 51, "i2", 0, 9999),
)
"""Whole numbers of a level: MMMSS, Pa, m, 0.1 degC, 0.1 %, 0.1 K, degree, 0.1 m s-1.

The limits are those of the layout; whether a value is likely is for quality checks to say.
"""

FLAG_COLUMNS = {"pressure_flag": 15, "height_flag": 21, "temperature_flag": 27}
BLANK_COLUMNS = (2, 8, 33, 39, 45, 51)
"""Columns of a level that are always blank."""
MAJOR = b"123"
"""Standard pressure level, other pressure level, level without pressure."""
MINOR = b"012"
"""Other, surface, tropopause."""
