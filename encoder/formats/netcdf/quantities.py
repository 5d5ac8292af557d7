"""The quantities of the column table as CF variables: standard name, unit and meaning."""

from __future__ import annotations

from typing import Any

from encoder.columns import column
from encoder.formats.netcdf.declare import Variable, masks
from encoder.levels.table import KIND_WORDS

_ON_SCALE = {"units_metadata": "temperature: on_scale"}
_DIFFERENCE = {"units_metadata": "temperature: difference"}
_OVER_WATER = "over liquid water also below freezing"

SPECIAL: dict[str, dict[str, Any]] = {
    "air_pressure": {"positive": "down"},
    "geopotential_height": {
        "positive": "up",
        "comment": "Standard geopotential metres above mean sea level.",
    },
    "altitude": {"positive": "up"},
    "air_temperature": _ON_SCALE,
    "dew_point_temperature": {**_ON_SCALE, "comment": f"Dew point {_OVER_WATER}."},
    "dew_point_depression": {**_DIFFERENCE, "comment": f"Dew point {_OVER_WATER}."},
    "relative_humidity": {"comment": f"Relative humidity {_OVER_WATER}."},
    "latitude": {"units": "degrees_north"},
    "longitude": {"units": "degrees_east"},
    "wind_from_direction": {"comment": "Clockwise from north; 360 is north, 0 is a calm."},
}
"""What CF or the reader needs beyond standard name, unit and description."""

NO_STANDARD_NAME = frozenset({"wind_shear_below", "wind_shear_above", "time"})
"""Quantities without a CF standard name: ``time`` as seconds since release is a duration; of the
shear CF has no size of a vector difference of winds, and ``wind_speed_shear``, a derivative of the
speed, would be a wrong one. ACDD asks for a standard name of every physical quantity that is no
flag; these are both (CF 3.5): the fill value is the flag for "not given"."""

LEVEL_TYPE: dict[str, Any] = {
    "long_name": "kinds of the level",
    "standard_name": "status_flag",
    "coverage_content_type": "auxiliaryInformation",
    **masks({int(kind): word.replace(" ", "_") for kind, word in KIND_WORDS.items()}),
    "references": "WMO-No. 306 Volume I.2, BUFR flag table 0 08 042",
}
"""Attributes of every variable that holds level kinds."""


def quantity(name: str, dims: tuple[str, ...], **more: Any) -> Variable:
    """Return a quantity of the column table as a variable of 64-bit floats.

    Parameters
    ----------
    name : str
        Name in :mod:`encoder.columns`.
    dims : tuple of str
    more
        Further attributes.
    """
    entry = column(name)
    attributes: dict[str, Any] = {"long_name": entry.description.rstrip(".").lower()}
    if name not in NO_STANDARD_NAME:
        attributes["standard_name"] = name
    attributes["units"] = entry.unit
    attributes |= SPECIAL.get(name, {})
    attributes["coverage_content_type"] = (
        "coordinate" if name in ("latitude", "longitude") else "physicalMeasurement"
    )
    return Variable(name, "f8", dims, {**attributes, **more}, filled=True)


def level_type(dims: tuple[str, ...], **more: Any) -> Variable:
    """Return the bit field of level kinds."""
    return Variable("level_type", "i4", dims, {**LEVEL_TYPE, **more})
