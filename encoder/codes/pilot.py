"""FM 32 PILOT: upper wind from a fixed land station.

Declarations only, in the order of WMO-No. 306 Volume I.1; the order of the sections is that of
FCM-H3-1997 appendix E.
"""

from __future__ import annotations

from functools import partial

from encoder.codes import groups as level
from encoder.codes import groups_facts as fact
from encoder.codes import groups_wind_levels as wind
from encoder.codes.declare import CodeForm, Part, RecordForm, Section, Use
from encoder.codes.fm35 import (
    LOWER_STANDARD,
    MAXIMUM_WIND,
    NATIONAL_MARKERS,
    REGIONAL_MARKERS,
    SIGNIFICANT_WIND,
    UPPER_STANDARD,
    WIND_SURFACE,
    begins,
)
from encoder.levels.table import LevelKind

STANDARD_BY_PRESSURE = RecordForm(
    "standard",
    (Use(wind.STANDARD_BY_PRESSURE), Use(level.WIND)),
    opens=partial(wind.is_standard_lead, "44"),
    expects=wind.is_next_standard_lead,
    repeated=True,
    block=wind.STANDARD_BLOCK,
    level_kinds=int(LevelKind.STANDARD),
)
STANDARD_BY_ALTITUDE = RecordForm(
    "standard-by-altitude",
    (Use(wind.STANDARD_BY_ALTITUDE), Use(level.WIND)),
    opens=partial(wind.is_standard_lead, "55"),
    expects=wind.is_next_standard_lead,
    repeated=True,
    block=wind.STANDARD_ALTITUDE_BLOCK,
    level_kinds=int(LevelKind.STANDARD | LevelKind.PRESSURE_FROM_HEIGHT),
)
MAXIMUM_BY_ALTITUDE = RecordForm(
    "maximum-wind-by-altitude",
    (
        Use(wind.MAXIMUM_WIND_ALTITUDE),
        Use(level.WIND),
        Use(level.SHEAR, "if-recognised", begins("4")),
    ),
    opens=wind.is_maximum_altitude,
    repeated=True,
    descends=False,
    level_kinds=int(LevelKind.MAXIMUM_WIND),
)
FIXED = RecordForm(
    "fixed-altitude",
    (Use(wind.FIXED_ALTITUDES), Use(level.WIND)),
    opens=wind.is_fixed_lead,
    expects=wind.is_next_fixed_lead,
    repeated=True,
    block=wind.FIXED_BLOCK,
    level_kinds=int(LevelKind.SIGNIFICANT_WIND),
)

BY_PRESSURE = "4p"
"""Name of section 4 where it gives significant levels by pressure (21212)."""


def _part(letter: str, title: str) -> Part:
    name = "PP" + letter * 2
    upper = letter in "CD"
    first = RecordForm(
        "identification",
        (Use(fact.opening(name, title)), Use(fact.TIME_EQUIPMENT), Use(fact.STATION)),
    )
    if letter in "AC":
        body = (
            Section("2", "winds at standard levels", (STANDARD_BY_PRESSURE, STANDARD_BY_ALTITUDE)),
            Section("3", "maximum wind and vertical shear", (MAXIMUM_WIND, MAXIMUM_BY_ALTITUDE)),
        )
    else:
        numbered = (SIGNIFICANT_WIND,) if upper else (WIND_SURFACE, SIGNIFICANT_WIND)
        body = (
            Section("4", "fixed and significant levels by altitude", (FIXED,)),
            Section(BY_PRESSURE, "significant levels by pressure", numbered, "21212"),
        )
    tail = (
        Section("5", "groups of regional agreement", verbatim=True, markers=REGIONAL_MARKERS),
        Section("6", "groups of national agreement", verbatim=True, markers=NATIONAL_MARKERS),
    )
    return Part(
        letter,
        name,
        title,
        (Section("1", "identification", (first,)), *body, *tail),
        tenths=upper,
        standard=UPPER_STANDARD if upper else LOWER_STANDARD,
    )


FM32 = CodeForm(
    "FM 32",
    "PILOT",
    "upper-wind report from a fixed land station",
    (
        _part("A", "winds at standard levels to 100 hPa, maximum wind"),
        _part("B", "winds at fixed and significant levels to 100 hPa"),
        _part("C", "winds at standard levels above 100 hPa, maximum wind"),
        _part("D", "winds at fixed and significant levels above 100 hPa"),
    ),
)
