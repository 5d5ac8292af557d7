"""Converting the values of a file to the units of :mod:`encoder.columns`, with UDUNITS."""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.diagnostics import Diagnostic, diagnostic

if TYPE_CHECKING:
    from datetime import datetime

    from encoder.columns import Column
    from encoder.profile import FloatArray

TIME_OF_DAY = "UTC"
"""Stands in place of a unit in the header of a time column of ISO 8601 date-times."""

_MOMENT = "seconds since 1970-01-01 00:00:00"
"""The moment :meth:`datetime.datetime.timestamp` counts from."""

DIFFERENCES = frozenset({"dew_point_depression"})
"""Quantities that are a difference of temperatures: only the size of the degree matters."""

USUAL_UNITS: dict[str, tuple[str, ...]] = {
    "time": ("s", "min", TIME_OF_DAY),
    "air_pressure": ("hPa", "Pa", "mbar"),
    "geopotential_height": ("m", "km", "ft"),
    "altitude": ("m", "km", "ft"),
    "air_temperature": ("degC", "K", "degF"),
    "relative_humidity": ("%", "1"),
    "dew_point_temperature": ("degC", "K", "degF"),
    "dew_point_depression": ("K", "degC"),
    "wind_from_direction": ("degree", "radian"),
    "wind_speed": ("m s-1", "knot", "km h-1"),
    "eastward_wind": ("m s-1", "knot", "km h-1"),
    "northward_wind": ("m s-1", "knot", "km h-1"),
    "latitude": ("degree", "radian"),
    "longitude": ("degree", "radian"),
}
"""Units named when somebody has to choose one; any other spelling UDUNITS knows is accepted."""

_MEANT = {
    "C": "degC",
    "F": "degF",
    "gpm": "m",
    "gpkm": "km",
    "mps": "m s-1",
    "kn": "knot",
    "deg": "degree",
    "HPA": "hPa",
    "hpa": "hPa",
    "MB": "mbar",
}
"""Spellings often met that UDUNITS does not know or takes for something else (C is the coulomb)."""


def nearest(word: str, known: Any, *, cutoff: float = 0.6) -> str | None:
    """Return the known word most like the given one, or None if none is alike."""
    by_lower = {item.lower(): item for item in known}
    close = difflib.get_close_matches(word.lower()[:80], by_lower, n=1, cutoff=cutoff)
    return by_lower[close[0]] if close else None


def unit_fault(column: Column, unit: str) -> Diagnostic | None:
    """Return the diagnostic for a unit that cannot be used for a quantity, if there is one.

    Parameters
    ----------
    column : Column
        The quantity.
    unit : str
        Unit as written in the file.
    """
    if unit == column.unit or (column.name == "time" and unit == TIME_OF_DAY):
        return None
    from cf_units import Unit

    usual = USUAL_UNITS[column.name]
    choice = ", ".join(usual)
    try:
        known = Unit(unit)
    except ValueError:
        meant = _MEANT.get(unit) or nearest(unit, usual) or column.unit
        return diagnostic(
            "unit-unknown",
            f'UDUNITS knows no unit "{unit}" for {column.name}; did you mean "{meant}"?',
            value=unit,
            expected=meant,
            hint=f"Write one of {choice}, or another unit in UDUNITS spelling.",
        )
    if column.name == "time" and known.is_convertible(_MOMENT):
        return None
    if not known.is_convertible(column.unit):
        meant = _MEANT.get(unit, column.unit)
        return diagnostic(
            "unit-of-other-kind",
            f'The unit "{unit}" does not measure {column.name}; did you mean "{meant}"?',
            value=unit,
            expected=meant,
            hint=f"Write one of {choice}, or another unit in UDUNITS spelling.",
        )
    return None


def converted(column: Column, unit: str, values: FloatArray) -> FloatArray:
    """Return values in the unit of their column.

    Parameters
    ----------
    column : Column
        The quantity.
    unit : str
        Unit of the values, one that :func:`unit_fault` has nothing against.
    values : ndarray, shape (row,)
        NaN stays NaN.
    """
    if unit == column.unit:
        return values
    from cf_units import Unit

    source, target = Unit(unit), Unit(column.unit)
    if column.name in DIFFERENCES:
        degree = source.convert(1.0, target) - source.convert(0.0, target)
        return np.asarray(values * degree, dtype=np.float64)
    return np.asarray(source.convert(values, target), dtype=np.float64)


def seconds_since_release(unit: str, values: FloatArray, release_time: datetime) -> FloatArray:
    """Return times counted from another moment as seconds since release.

    Parameters
    ----------
    unit : str
        UDUNITS time reference, for example ``"minutes since 2031-07-15 00:00"`` (UTC).
    values : ndarray, shape (row,)
        NaN stays NaN.
    release_time : datetime
        UTC, aware.
    """
    from cf_units import Unit

    since_1970 = Unit(_MOMENT, calendar="standard")
    seconds = Unit(unit, calendar="standard").convert(values, since_1970)
    return np.asarray(seconds, dtype=np.float64) - release_time.timestamp()
