"""The level file, one report as a CF profile, and the station history, many of them ragged.

The history is a contiguous ragged array of profiles (CF H.3.4), not a ``timeSeriesProfile``: that
form gives a station one position for all time, while stations move and ships sail; and it needs
two variables with a ``cf_role``, which one of the checkers in use takes for a fault.
"""

from __future__ import annotations

from typing import Any

from encoder.columns import column
from encoder.formats.netcdf.declare import (
    MISSING,
    TIME_ATTRIBUTES,
    Product,
    Variable,
    flags,
    text,
)
from encoder.formats.netcdf.packing import PACKINGS
from encoder.formats.netcdf.quantities import NO_STANDARD_NAME, level_type, quantity
from encoder.sounding import STATUS_COLUMNS, STATUS_WORDS

COORDINATES = "time latitude longitude air_pressure geopotential_height"
BY_HEIGHT = "time latitude longitude geopotential_height"
"""Coordinates of winds by height alone: a pressure without any value is left out."""
VERTICAL = ("air_pressure", "geopotential_height")
SHEAR = ("wind_shear_below", "wind_shear_above")
OPTIONAL = ("dew_point_temperature", "relative_humidity", *SHEAR)
"""Level quantities written only where there is a value."""
ALWAYS = (
    "air_pressure",
    "geopotential_height",
    "air_temperature",
    "dew_point_depression",
    "wind_from_direction",
    "wind_speed",
)
OF_LEVEL = {"time": "elapsed_time", "latitude": "level_latitude", "longitude": "level_longitude"}
"""Level columns whose name is taken by the coordinates of the sounding."""

CODE_RESOLUTION: dict[str, str] = {
    "air_pressure": "1 hPa up to 100 hPa, 0.1 hPa above",
    "geopotential_height": "1 m below the 500 hPa surface, 10 m from there on",
    "air_temperature": "0.2 K (code table 3931)",
    "dew_point_depression": "0.1 K up to 5 K, 1 K above (code table 0777)",
    "wind_from_direction": "5 degree",
    **dict.fromkeys(("wind_speed", *SHEAR), "1 of the unit of the report, knot or m s-1"),
}
"""Steps of the alphanumeric upper-air code (WMO-No. 306 Volume I.1, FM 32 to FM 38): two values
that differ by less may have been the same, and a change of one step is no signal."""


def _level_quantity(name: str, dim: str) -> Variable:
    dims = (dim,)
    more: dict[str, Any] = {}
    if name not in VERTICAL:
        more["coordinates"] = COORDINATES
    elif name == "air_pressure":
        more["axis"] = "Z"
    if name in STATUS_COLUMNS:
        more["ancillary_variables"] = f"{name}_status level_type"
    elif name not in OF_LEVEL:
        more["ancillary_variables"] = "level_type"
    made = quantity(name, dims, **more)
    attributes = dict(made.attributes)
    if name == "time":
        attributes["long_name"] = "time since release"
    if name in NO_STANDARD_NAME:
        attributes |= flags(("not_given",), "f8", [MISSING["f8"]])
    if name in SHEAR:
        attributes["references"] = "WMO-No. 306 Volume I.1, FM 35, group 4vbvbvava, 35.2.4.4"
    if name in ("latitude", "longitude"):
        attributes["coverage_content_type"] = "auxiliaryInformation"
        attributes["long_name"] = f"{name} of the level"
    return Variable(
        OF_LEVEL.get(name, name),
        "f8",
        dims,
        attributes,
        filled=True,
        always=name in ALWAYS and name != "air_pressure",
        packings=PACKINGS.get(name, ()),
    )


def _status(name: str, dim: str) -> Variable:
    return Variable(
        f"{name}_status",
        "i1",
        (dim,),
        {
            "long_name": f"what the report says of the {column(name).name.replace('_', ' ')}",
            "standard_name": "status_flag",
            "coverage_content_type": "qualityInformation",
            **flags(STATUS_WORDS),
            "comment": (
                "reported_missing: solidi or the missing figure of the source; not_reported: the "
                "group is not there; removed: taken out by quality control; computed: from other "
                "values of the level."
            ),
            "coordinates": COORDINATES,
        },
    )


def _levels(dim: str) -> tuple[Variable, ...]:
    names = (*ALWAYS, *OPTIONAL, *OF_LEVEL)
    return (
        *(_level_quantity(name, dim) for name in names),
        *(_status(name, dim) for name in STATUS_COLUMNS),
        level_type((dim,), coordinates=COORDINATES),
    )


def _place(dims: tuple[str, ...]) -> tuple[Variable, ...]:
    """Return time and position of a sounding, or of each of many."""
    kind = {"coverage_content_type": "coordinate"}
    aside = {"coverage_content_type": "auxiliaryInformation"}
    return (
        Variable(
            "time",
            "f8",
            dims,
            {
                "long_name": "time of the sounding",
                "standard_name": "time",
                "axis": "T",
                **TIME_ATTRIBUTES,
                "comment": "Release where it is known, else the nominal time.",
                **kind,
            },
        ),
        Variable(
            "latitude",
            "f8",
            dims,
            {
                "long_name": "latitude of the station",
                "standard_name": "latitude",
                "units": "degrees_north",
                "axis": "Y",
                **kind,
            },
        ),
        Variable(
            "longitude",
            "f8",
            dims,
            {
                "long_name": "longitude of the station",
                "standard_name": "longitude",
                "units": "degrees_east",
                "axis": "X",
                **kind,
            },
        ),
        Variable(
            "nominal_time",
            "f8",
            dims,
            {
                "long_name": "nominal time of the sounding",
                "standard_name": "time",
                **TIME_ATTRIBUTES,
                **aside,
            },
        ),
        Variable(
            "surface_altitude",
            "f8",
            dims,
            {
                "long_name": "elevation of the release point above mean sea level",
                "standard_name": "surface_altitude",
                "units": "m",
                **aside,
                **({"coordinates": "time latitude longitude"} if dims else {}),
            },
            filled=True,
            always=False,
        ),
    )


LEVELS = Product(
    "levels",
    "profile",
    "One decoded or encoded report as a profile of levels.",
    {"level": "levels in the order of the report, downward pressure"},
    (
        *_place(()),
        *_levels("level"),
        text("profile_id", "identifier of the sounding", cf_role="profile_id"),
        text("station_name", "name of the station", standard_name="platform_name"),
        text("station_id", "identifier of the station", standard_name="platform_id"),
        text("coded_report", "coded report as sent or received, verbatim", always=False),
        text(
            "coded_report_document",
            "coded report with the meaning of every group",
            always=False,
            comment="JSON, layout aerogram-report-1.",
        ),
        text("sounding_facts", "facts of the sounding, complete", comment="JSON."),
        text("diagnostics", "everything found while decoding or encoding", comment="JSON."),
    ),
)

HISTORY = Product(
    "history",
    "profile",
    "Many soundings of one station as a contiguous ragged array of profiles.",
    {"profile": "soundings in the order of nominal time", "obs": "levels of all soundings"},
    (
        Variable(
            "row_size",
            "i4",
            ("profile",),
            {
                "long_name": "number of levels of the sounding",
                "sample_dimension": "obs",
                "coverage_content_type": "referenceInformation",
                "units": "1",
            },
        ),
        *_place(("profile",)),
        Variable(
            "superseded",
            "i1",
            ("profile",),
            {
                "long_name": "whether a corrected sounding has taken the place",
                "standard_name": "status_flag",
                **flags(("current", "superseded")),
                "coverage_content_type": "qualityInformation",
                "coordinates": "time latitude longitude",
            },
        ),
        Variable(
            "profile_id",
            "S1",
            ("profile", "profile_id_length"),
            {"long_name": "identifier of the sounding", "cf_role": "profile_id"},
        ),
        Variable(
            "coded_report",
            "S1",
            ("profile", "coded_report_length"),
            {
                "long_name": "coded report as sent or received, verbatim",
                "coverage_content_type": "auxiliaryInformation",
            },
            always=False,
        ),
        *_levels("obs"),
        text("station_name", "name of the station", standard_name="platform_name"),
        text("station_id", "identifier of the station", standard_name="platform_id"),
        text("history_facts", "facts of the station and the file, complete", comment="JSON."),
    ),
)
