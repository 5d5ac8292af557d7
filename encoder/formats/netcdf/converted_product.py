"""The station history of a bulk conversion: a history with where each sounding comes from.

It is the history of :mod:`encoder.formats.netcdf.level_product`, read by the same reader, with more
variables: provenance, quality, and what the IGRA layout says beyond the values, so that the layout
can be written again.
"""

from __future__ import annotations

from dataclasses import replace
from enum import IntFlag
from typing import Any

from encoder.formats.netcdf.declare import Variable, flags, masks
from encoder.formats.netcdf.level_product import COORDINATES, HISTORY
from encoder.sounding import STATUS_WORDS

PLACE = "time latitude longitude"
_AUX = {"coverage_content_type": "auxiliaryInformation"}
_QUALITY = {"coverage_content_type": "qualityInformation"}

SELECTION_WORDS = ("only_candidate", "chosen", "same_as_chosen", "not_chosen")
"""Place of a sounding among those of the same station and time."""
TIME_WORDS = ("release", "nominal_hour", "date_only")
"""What the time of a sounding is."""
KIND_WORDS = ("igra", "netcdf", "bufr", "coded_text", "table", "igra_derived")
"""Kinds of source."""
FLAG_WORDS = ("not_checked", "inside_limits_of_all_year", "inside_limits_of_season_and_hour")

ENDING_WORDS = (
    "not_of_the_igra_layout",
    "blank_lf",
    "lf",
    "blank_crlf",
    "crlf",
    "mixed",
    *(f"{word}_last_line_open" for word in ("blank_lf", "lf", "blank_crlf", "crlf", "mixed")),
)
LEVEL_TYPE_WORDS = (
    "not_of_the_igra_layout",
    *(
        f"{major}_{minor}"
        for major in ("standard_pressure", "other_pressure", "no_pressure")
        for minor in ("other", "surface", "tropopause")
    ),
)


class SoundingQuality(IntFlag):
    """What checks say of a sounding as a whole; nothing is removed for it."""

    LEVEL_COUNT_DIFFERS = 1 << 0
    HOUR_UNKNOWN = 1 << 1
    NO_LEVELS = 1 << 2
    LEVELS_FLAGGED = 1 << 3
    REPEATED_PROFILE = 1 << 4
    POSITION_NOT_OF_CATALOGUE = 1 << 5
    WIND_UNIT_SUSPECT = 1 << 6
    CODING_FAULTS = 1 << 7
    PARTS_MISSING = 1 << 8
    PARTS_DISAGREE = 1 << 9
    TIME_GOES_BACK = 1 << 10
    RELEASE_FAR_FROM_NOMINAL = 1 << 11
    SIZE_SUSPECT = 1 << 12
    REPAIRED = 1 << 13
    TIME_NOT_OF_HEADING = 1 << 14
    PARTS_SCATTERED = 1 << 15
    DERIVED_DIFFERS = 1 << 16
    DIRECTIONS_IN_TENS = 1 << 17


class LevelQuality(IntFlag):
    """What checks say of the values of a level; nothing is removed for it."""

    PRESSURE_OUTSIDE_LIMITS = 1 << 0
    HEIGHT_OUTSIDE_LIMITS = 1 << 1
    TEMPERATURE_OUTSIDE_LIMITS = 1 << 2
    HUMIDITY_OUTSIDE_LIMITS = 1 << 3
    WIND_OUTSIDE_LIMITS = 1 << 4
    PRESSURE_ORDER = 1 << 5
    HEIGHT_ORDER = 1 << 6
    LAPSE_RATE = 1 << 7
    LAYER_THICKNESS = 1 << 8
    HALF_WIND = 1 << 9
    WIND_JUMP = 1 << 10
    CODING_FAULT = 1 << 11
    TEMPERATURE_SPIKE = 1 << 12
    VALUE_REPAIRED = 1 << 13


def _words(kind: type[IntFlag]) -> dict[int, str]:
    return {int(item): str(item.name).lower() for item in kind}


def _profile(name: str, dtype: str, long_name: str, **more: Any) -> Variable:
    return Variable(
        name,
        dtype,
        ("profile",),
        {"long_name": long_name, **_AUX, **more},
        always=False,
    )


def _level(name: str, dtype: str, long_name: str, **more: Any) -> Variable:
    return Variable(
        name,
        dtype,
        ("obs",),
        {"long_name": long_name, **_QUALITY, **more, "coordinates": COORDINATES},
        always=False,
    )


def _text(name: str, width: str, long_name: str, **more: Any) -> Variable:
    return Variable(
        name, "S1", ("profile", width), {"long_name": long_name, **_AUX, **more}, always=False
    )


def _status(name: str, words: str) -> Variable:
    return _level(
        f"{name}_status",
        "i1",
        f"what the source says of the {words}",
        standard_name="status_flag",
        **flags(STATUS_WORDS),
    )


def _checked(name: str, words: str) -> Variable:
    return _level(
        f"{name}_climatology_check",
        "i1",
        f"climatological checks of the {words} at the source",
        standard_name="climatology_test_quality_flag",
        **flags(FLAG_WORDS),
        references="IGRA v2.2 format description, PFLAG, ZFLAG, TFLAG",
    )


EXTRA = (
    _profile(
        "source_index",
        "i4",
        "source of the sounding, a place in sources of conversion_facts",
        units="1",
        **flags(("first_source",), "i4"),
    ),
    _profile(
        "source_offset",
        "f8",
        "offset of the sounding in its source in bytes",
        units="1",
        **flags(("beginning_of_the_source",), "f8"),
    ),
    _profile(
        "source_length",
        "i4",
        "bytes of the sounding in its source",
        units="1",
        **flags(("counted_with_another_sounding",), "i4"),
    ),
    _profile("source_kind", "i1", "kind of source", **flags(KIND_WORDS)),
    _profile(
        "selection", "i1", "place among the soundings of the same time", **flags(SELECTION_WORDS)
    ),
    _profile("time_source", "i1", "what time is", **flags(TIME_WORDS)),
    _profile(
        "sounding_quality",
        "i4",
        "findings on the sounding",
        standard_name="quality_flag",
        **masks(_words(SoundingQuality)),
        **_QUALITY,
    ),
    _profile(
        "announced_levels",
        "i4",
        "number of levels the header of the source gives",
        standard_name="number_of_observations",
        units="1",
        **flags(("none",), "i4", (-1,)),
    ),
    _profile(
        "header_hour",
        "i1",
        "hour in the header of the source",
        units="hour",
        **flags(("no_header", "unknown"), "i1", (-1, 99)),
    ),
    _profile(
        "header_release",
        "i2",
        "time of release in the header of the source, HHMM",
        **flags(("no_header", "unknown"), "i2", (-1, 9999)),
    ),
    _profile(
        "line_ending",
        "i1",
        "how the lines of the sounding end in the source",
        **flags(ENDING_WORDS, "i1", (-1, 0, 1, 2, 3, 4, 8, 9, 10, 11, 12)),
    ),
    _text("header_station", "header_station_length", "station in the header of the source"),
    _text(
        "pressure_source", "pressure_source_length", "source of pressure levels, as the source says"
    ),
    _text("other_source", "other_source_length", "source of the other levels, as the source says"),
    _level(
        "source_level_type",
        "i1",
        "types of the level at the source, major and minor type as two figures",
        **flags(LEVEL_TYPE_WORDS, "i1", (-1, 10, 11, 12, 20, 21, 22, 30, 31, 32)),
        references="IGRA v2.2 format description, LVLTYP1, LVLTYP2",
    ),
    _level(
        "level_quality",
        "i2",
        "findings on the values of the level",
        standard_name="quality_flag",
        **masks(_words(LevelQuality), "i2"),
    ),
    _checked("pressure", "pressure"),
    _checked("height", "height"),
    _checked("temperature", "temperature"),
    _status("relative_humidity", "relative humidity"),
    _status("elapsed_time", "elapsed time"),
    Variable(
        "conversion_facts",
        "S1",
        ("conversion_facts_length",),
        {
            "long_name": "sources with their digests, and how the file was made",
            "comment": "JSON.",
            **_AUX,
        },
        always=False,
    ),
)

CONVERTED = replace(
    HISTORY,
    description="The station history of a bulk conversion, every sounding with its source.",
    variables=(*HISTORY.variables, *EXTRA),
)
