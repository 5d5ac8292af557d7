"""The flight file: every row of a flight as one CF trajectory, and all that came of it.

Levels and coded reports are profiles, not trajectories, and CF 9.4 allows one feature type a file.
They are therefore kept here as text, exactly as made, so that nothing of a flight can get lost
from it; the level file beside it gives them as CF data.
"""

from __future__ import annotations

from dataclasses import replace

from encoder.columns import COLUMNS
from encoder.formats.netcdf.declare import (
    TIME_ATTRIBUTES,
    Product,
    Variable,
    flags,
    text,
)
from encoder.formats.netcdf.positions import SOURCES
from encoder.formats.netcdf.quantities import level_type, quantity

ROW = ("time",)
USES = ("surface_observation", "ascent", "descent", "left_out")
SURFACE, ASCENT, DESCENT, LEFT_OUT = range(4)
QUALITIES = ("as_received", "computed", "doubtful", "removed", "missing")
AS_RECEIVED, COMPUTED, DOUBTFUL, REMOVED, MISSING = range(5)

JUDGED = (
    "air_pressure",
    "geopotential_height",
    "air_temperature",
    "relative_humidity",
    "dew_point_temperature",
    "wind_from_direction",
    "wind_speed",
)
"""Quantities of the prepared ascent, each with a quality of its own."""
POSITION = ("latitude", "longitude")
VERTICAL = ("air_pressure", "geopotential_height")
"""Vertical coordinates: a wind keeps its place by height where there is no pressure."""
ONLY_RECEIVED = ("altitude", "dew_point_depression", "eastward_wind", "northward_wind")
"""Quantities a profile file may have that the ascent replaces by others."""

_COORDINATES = "time latitude longitude air_pressure geopotential_height source_row"
BY_HEIGHT_COORDINATES = "time latitude longitude geopotential_height source_row"
"""Where the rows have heights alone; such a file has no air_pressure."""


def _judged(name: str) -> Variable:
    place: dict[str, str] = {"axis": "Z"} if name == "air_pressure" else {}
    if name not in VERTICAL:
        place = {"coordinates": _COORDINATES}
    made = quantity(
        name,
        ROW,
        **place,
        ancillary_variables=f"{name}_quality row_use level_type",
        instrument="instrument",
    )
    return replace(made, always=name != "air_pressure")


def _received(name: str) -> Variable:
    base = quantity(name, ROW, coordinates=_COORDINATES, ancillary_variables="row_use")
    long_name = f"{base.attributes['long_name']}, as received"
    received = base.named(f"{name}_as_received", long_name=long_name)
    attributes = {key: value for key, value in received.attributes.items() if key != "positive"}
    if name in POSITION:
        attributes["coverage_content_type"] = "auxiliaryInformation"
    return Variable(received.name, "f8", ROW, attributes, filled=True, always=False)


def _only_received(name: str) -> Variable:
    base = quantity(name, ROW, coordinates=_COORDINATES, ancillary_variables="row_use")
    return Variable(name, "f8", ROW, base.attributes, filled=True, always=False)


def _quality(name: str) -> Variable:
    return Variable(
        f"{name}_quality",
        "i1",
        ROW,
        {
            "long_name": f"where the {COLUMNS[name].description.rstrip('.').lower()} comes from",
            "standard_name": "quality_flag",
            "coverage_content_type": "qualityInformation",
            **flags(QUALITIES),
            "coordinates": _COORDINATES,
        },
        always=name != "air_pressure",
    )


def _moment(name: str, long_name: str) -> Variable:
    return Variable(
        name,
        "f8",
        (),
        {
            "long_name": long_name,
            "standard_name": "time",
            **TIME_ATTRIBUTES,
            "coverage_content_type": "auxiliaryInformation",
        },
    )


_TIME = Variable(
    "time",
    "f8",
    ROW,
    {
        "long_name": "time of the row",
        "standard_name": "time",
        "axis": "T",
        **{**TIME_ATTRIBUTES, "units": None},
        "comment": "Counted from release, so that the seconds of the profile stay what they were.",
        "coverage_content_type": "coordinate",
    },
)
_CONTAINER = {"coverage_content_type": "auxiliaryInformation"}

VARIABLES: tuple[Variable, ...] = (
    _TIME,
    quantity("latitude", ROW, axis="Y", ancillary_variables="position_source"),
    quantity("longitude", ROW, axis="X", ancillary_variables="position_source"),
    *(_judged(name) for name in JUDGED),
    *(_only_received(name) for name in ONLY_RECEIVED),
    *(_received(name) for name in (*POSITION, *JUDGED)),
    *(_quality(name) for name in JUDGED),
    Variable(
        "position_source",
        "i1",
        ROW,
        {
            "long_name": "where latitude and longitude come from",
            "standard_name": "quality_flag",
            "coverage_content_type": "qualityInformation",
            **flags(SOURCES),
            "comment": (
                "Rebuilt positions follow the wind from the last measured one, or from the "
                "station, and are moved evenly in time to meet the next measured one."
            ),
            "coordinates": _COORDINATES,
        },
    ),
    Variable(
        "row_use",
        "i1",
        ROW,
        {
            "long_name": "what the row was used for",
            "standard_name": "status_flag",
            "coverage_content_type": "qualityInformation",
            **flags(USES),
            "comment": "Rows left out hold the values as received; the diagnostics say why.",
            "coordinates": _COORDINATES,
        },
    ),
    level_type(
        ROW,
        comment=(
            "Kinds of the levels taken from this very row; levels between two rows are in "
            "level_table and in the level file."
        ),
        coordinates=_COORDINATES,
    ),
    Variable(
        "source_row",
        "i4",
        ROW,
        {
            "long_name": "line of the profile file, 0 for the surface observation",
            "units": "1",
            "coverage_content_type": "referenceInformation",
        },
    ),
    text("trajectory_id", "identifier of the flight", cf_role="trajectory_id"),
    text("station_name", "name of the station", standard_name="platform_name"),
    text("station_id", "identifier of the station", standard_name="platform_id"),
    Variable(
        "surface_altitude",
        "f8",
        (),
        {
            "long_name": "elevation of the release point above mean sea level",
            "standard_name": "surface_altitude",
            "units": "m",
            "coverage_content_type": "auxiliaryInformation",
        },
    ),
    _moment("release_time", "release of the balloon"),
    _moment("nominal_time", "nominal time of the sounding"),
    Variable("station", "i1", (), {"long_name": "facts of the station", **_CONTAINER}),
    Variable("instrument", "i1", (), {"long_name": "radiosonde and tracking", **_CONTAINER}),
    Variable(
        "surface_observation", "i1", (), {"long_name": "observation at release", **_CONTAINER}
    ),
    text("coded_report", "coded reports as sent, verbatim", always=False),
    text(
        "coded_report_document",
        "coded reports with the meaning of every group",
        always=False,
        comment="JSON, layout aerogram-report-1.",
    ),
    text(
        "level_table",
        "levels selected from the flight, with the reason for each",
        always=False,
        comment="JSON, layout aerogram-levels-1.",
    ),
    text("flight_facts", "facts of the flight, complete", comment="JSON."),
    text("diagnostics", "everything found while reading, checking and encoding", comment="JSON."),
)

FLIGHT = Product(
    "flight",
    "trajectory",
    "All rows of a flight, with the surface observation as its first row.",
    {"time": "rows in the order of time"},
    VARIABLES,
)
