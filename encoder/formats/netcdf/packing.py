"""Storing values as the integers the source had, where that is exact, and as floats where not.

CF 8.1: the unpacked value is the integer times ``scale_factor``. Our own reader divides by the
whole number of steps instead, which gives back the very double a decimal figure stands for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.formats.netcdf.declare import MISSING, Packing
from encoder.resolution import KNOT
from encoder.rounding import whole

if TYPE_CHECKING:
    from encoder.profile import FloatArray

BLOCK = 1 << 14
"""Values packed at a time, so that they stay in the cache."""
LARGEST = {"i2": 32767, "i4": 2147483647}

PACKINGS: dict[str, tuple[Packing, ...]] = {
    "time": (Packing("i4", 1, "s"), Packing("i4", 10, "s")),
    "air_pressure": (Packing("i4", 1, "Pa", 0.01), Packing("i4", 10, "Pa", 0.01)),
    "geopotential_height": (Packing("i4", 1, "m"), Packing("i4", 10, "m")),
    "air_temperature": (Packing("i2", 10, "degC"), Packing("i2", 100, "degC")),
    "dew_point_temperature": (Packing("i2", 10, "degC"), Packing("i2", 100, "degC")),
    "dew_point_depression": (Packing("i2", 10, "K"), Packing("i2", 100, "K")),
    "relative_humidity": (Packing("i2", 1, "%"), Packing("i2", 10, "%")),
    "wind_from_direction": (Packing("i2", 1, "degree"), Packing("i2", 10, "degree")),
    **dict.fromkeys(
        ("wind_speed", "wind_shear_below", "wind_shear_above"),
        (
            Packing("i2", 1, "knot", KNOT, divides=False),
            Packing("i2", 1, "m s-1"),
            Packing("i2", 10, "m s-1"),
            Packing("i2", 100, "m s-1"),
        ),
    ),
    "latitude": (),
    "longitude": (),
}
"""Exact ways to store each level quantity, coarsest first."""


def unpacked(figures: Any, packing: Packing) -> FloatArray:
    """Return the values in package units that stored integers stand for.

    Parameters
    ----------
    figures : ndarray of int
    packing : Packing

    Returns
    -------
    ndarray of float64, the same shape
        NaN where the figure is the fill value.
    """
    values = _values(figures.astype(np.float64), packing)
    missing = figures == MISSING[packing.dtype]
    if missing.any():
        values[missing] = np.nan
    return values


def _values(figures: FloatArray, packing: Packing) -> FloatArray:
    """Return the values whole numbers stand for, none of them missing."""
    if packing.divides:
        divisor = whole(packing.steps / packing.factor)
        return figures if divisor == 1 else figures / divisor
    values = figures * packing.factor
    return values if packing.steps == 1 else values / packing.steps


def packed(values: FloatArray, packing: Packing) -> Any | None:
    """Return the integers of a packing, None if they would not give back every value exactly.

    Parameters
    ----------
    values : ndarray of float64
        NaN for missing.
    packing : Packing
    """
    scale = packing.steps / packing.factor
    scale = whole(scale) if packing.divides else scale
    stored = np.empty(len(values), dtype=packing.dtype)
    for begin in range(0, len(values), BLOCK):
        part = values[begin : begin + BLOCK]
        figures = np.rint(part * scale)
        missing = np.isnan(figures)
        some_missing = bool(missing.any())
        if some_missing:
            figures[missing] = 0.0
        if np.abs(figures).max(initial=0.0) > LARGEST[packing.dtype]:
            return None
        right = _values(figures, packing) == part
        if not (right | missing).all() if some_missing else not right.all():
            return None
        stored[begin : begin + BLOCK] = figures
        if some_missing:
            stored[begin : begin + BLOCK][missing] = MISSING[packing.dtype]
    return stored


def exact(
    name: str, values: FloatArray, packings: tuple[Packing, ...] | None = None
) -> tuple[Any, Packing | None]:
    """Return values as integers with their packing, or as they are where no packing is exact.

    Parameters
    ----------
    name : str
        Quantity, a key of :data:`PACKINGS`.
    values : ndarray of float64
        In package units, NaN for missing.
    packings : tuple of Packing, optional
        Candidates in place of those of the quantity.
    """
    probe = values[:4096]
    for packing in PACKINGS.get(name, ()) if packings is None else packings:
        if packed(probe, packing) is None:
            continue
        stored = packed(values, packing)
        if stored is not None:
            return stored, packing
    return np.where(np.isnan(values), MISSING["f8"], values), None


def packing_attributes(packing: Packing | None) -> dict[str, Any]:
    """Return the attributes a packing changes: type, unit, scale factor and the exact rule."""
    if packing is None:
        return {}
    attributes: dict[str, Any] = {"dtype": packing.dtype, "units": packing.unit}
    if packing.steps != 1:
        scale = np.float64 if packing.dtype == "i4" else np.float32
        attributes["scale_factor"] = scale(1.0 / packing.steps)
        attributes["steps_per_unit"] = np.int32(packing.steps)
    return attributes


def fill_as_flag(dtype: str) -> Any:
    """Return ``flag_values`` of a variable whose fill value has a meaning."""
    return np.array([MISSING[dtype]], dtype=dtype)


def packing_of(variable: Any, name: str) -> Packing | None:
    """Return the packing a stored variable was written with, None for plain floats.

    Raises
    ------
    ValueError
        If type, unit and steps are none of the packings of the quantity.
    """
    attributes = variable.ncattrs()
    dtype = variable.dtype.str.lstrip("<>|=")
    if dtype == "f8":
        return None
    steps = int(variable.getncattr("steps_per_unit")) if "steps_per_unit" in attributes else 1
    unit = variable.getncattr("units") if "units" in attributes else ""
    for packing in PACKINGS.get(name, ()):
        if (packing.dtype, packing.steps, packing.unit) == (dtype, steps, unit):
            return packing
    msg = f"the packing {dtype}, {steps} steps, unit {unit!r} is not one of {name}"
    raise ValueError(msg)
