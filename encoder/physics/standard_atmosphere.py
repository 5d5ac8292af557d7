"""The US Standard Atmosphere 1976 to 84.852 km, the same as the ICAO atmosphere to 32 km."""

from __future__ import annotations

import numpy as np

from encoder.physics.constants import (
    GAS_CONSTANT_DRY,
    GRAVITY,
    ZERO_CELSIUS,
    FloatArray,
    Values,
    as_values,
    plain,
)

_BASES = np.array([0.0, 11000.0, 20000.0, 32000.0, 47000.0, 51000.0, 71000.0])
"""Geopotential height of the base of each layer, in m (US Standard Atmosphere 1976, table 4)."""
_GRADIENTS = np.array([-0.0065, 0.0, 0.001, 0.0028, 0.0, -0.0028, -0.002])
"""Change of temperature with height in each layer, in K m-1 (the same table)."""
_HIGHEST = 84852.0
_LOWEST = -5000.0
_SEA_LEVEL_PRESSURE = 1013.25
_SEA_LEVEL_TEMPERATURE = 288.15


def _base_values() -> tuple[FloatArray, FloatArray]:
    """Return temperature in K and pressure in hPa at the base of each layer."""
    temperatures = [_SEA_LEVEL_TEMPERATURE]
    pressures = [_SEA_LEVEL_PRESSURE]
    for depth, gradient in zip(np.diff(_BASES), _GRADIENTS[:-1], strict=True):
        bottom = temperatures[-1]
        top = bottom + gradient * depth
        if gradient == 0.0:
            ratio = np.exp(-GRAVITY * depth / (GAS_CONSTANT_DRY * bottom))
        else:
            ratio = (top / bottom) ** (-GRAVITY / (GAS_CONSTANT_DRY * gradient))
        temperatures.append(float(top))
        pressures.append(float(pressures[-1] * ratio))
    return np.array(temperatures), np.array(pressures)


_TEMPERATURES, _PRESSURES = _base_values()


def _layer(height: FloatArray) -> np.ndarray[tuple[int, ...], np.dtype[np.intp]]:
    return np.clip(np.searchsorted(_BASES, height, side="right") - 1, 0, len(_BASES) - 1)


def _within(height: FloatArray, values: FloatArray) -> FloatArray:
    return plain(np.where((height >= _LOWEST) & (height <= _HIGHEST), values, np.nan))


def standard_atmosphere_temperature(height: Values) -> FloatArray:
    """Return the temperature of the standard atmosphere.

    Parameters
    ----------
    height : float or ndarray
        Geopotential height in m.

    Returns
    -------
    ndarray
        degC; NaN below -5000 m and above 84,852 m.

    References
    ----------
    US Standard Atmosphere 1976, equation 23 and table 4.
    """
    height = as_values(height)
    layer = _layer(height)
    kelvin = _TEMPERATURES[layer] + _GRADIENTS[layer] * (height - _BASES[layer])
    return _within(height, kelvin - ZERO_CELSIUS)


def standard_atmosphere_pressure(height: Values) -> FloatArray:
    """Return the pressure of the standard atmosphere.

    Parameters
    ----------
    height : float or ndarray
        Geopotential height in m.

    Returns
    -------
    ndarray
        hPa; NaN below -5000 m and above 84,852 m.

    References
    ----------
    US Standard Atmosphere 1976, equations 33a and 33b.
    """
    height = np.asarray(np.where(np.isfinite(height), height, np.nan), dtype=np.float64)
    layer = _layer(height)
    rise = np.clip(height, _LOWEST, _HIGHEST) - _BASES[layer]
    gradient = _GRADIENTS[layer]
    base = _TEMPERATURES[layer]
    even = gradient == 0.0
    slope = np.where(even, 1.0, gradient)
    warmth = np.where(even, base, base + gradient * rise)
    logarithm = np.where(even, rise / base, np.log(warmth / base) / slope)
    pressure = _PRESSURES[layer] * np.exp(-GRAVITY / GAS_CONSTANT_DRY * logarithm)
    return _within(height, pressure)


def standard_atmosphere_height(pressure: Values) -> FloatArray:
    """Return the geopotential height of a pressure in the standard atmosphere.

    Parameters
    ----------
    pressure : float or ndarray
        hPa.

    Returns
    -------
    ndarray
        Geopotential height in m, the inverse of :func:`standard_atmosphere_pressure`; NaN below
        -5000 m, above 84,852 m and for pressures that are not positive.

    References
    ----------
    US Standard Atmosphere 1976, equations 33a and 33b.
    """
    pressure = as_values(pressure)
    valid = np.where(pressure > 0.0, pressure, np.nan)
    layer = np.clip(np.searchsorted(-_PRESSURES, -valid, side="right") - 1, 0, len(_BASES) - 1)
    gradient = _GRADIENTS[layer]
    base = _TEMPERATURES[layer]
    drop = GAS_CONSTANT_DRY / GRAVITY * np.log(_PRESSURES[layer] / valid)
    even = gradient == 0.0
    slope = np.where(even, 1.0, gradient)
    rise = np.where(even, base * drop, base * np.expm1(gradient * drop) / slope)
    return _within(_BASES[layer] + rise, _BASES[layer] + rise)
