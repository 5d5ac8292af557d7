"""The hypsometric equation both ways, thickness and potential temperature."""

from __future__ import annotations

import numpy as np

from encoder.physics.constants import (
    GAS_CONSTANT_DRY,
    GRAVITY,
    KAPPA,
    ZERO_CELSIUS,
    FloatArray,
    Values,
    as_values,
)


def _layer_means(virtual_temperature: Values) -> FloatArray:
    """Return the mean virtual temperature, in K, between each row and the next."""
    kelvin = as_values(virtual_temperature) + ZERO_CELSIUS
    return (kelvin[1:] + kelvin[:-1]) / 2.0


def hypsometric_height(
    pressure: FloatArray, virtual_temperature: FloatArray, start_height: float
) -> FloatArray:
    """Return geopotential heights from pressure and virtual temperature.

    Parameters
    ----------
    pressure : ndarray, shape (row,)
        hPa.
    virtual_temperature : ndarray, shape (row,)
        degC.
    start_height : float
        Geopotential height of the first row, in m.

    Returns
    -------
    ndarray, shape (row,)
        Geopotential height in m, the mean virtual temperature of each layer being the mean of
        its two rows. From the first missing value on every height is NaN: what cannot be
        integrated is not guessed.

    References
    ----------
    WMO-No. 8, measurement of upper-air variables, hypsometric equation.
    """
    drops = np.log(pressure[:-1] / pressure[1:])
    layers = GAS_CONSTANT_DRY / GRAVITY * _layer_means(virtual_temperature) * drops
    rises = np.concatenate(([0.0], np.cumsum(layers)))
    return start_height + rises[: len(pressure)]


def hypsometric_pressure(
    geopotential_height: FloatArray, virtual_temperature: FloatArray, start_pressure: float
) -> FloatArray:
    """Return pressures from geopotential height and virtual temperature.

    Parameters
    ----------
    geopotential_height : ndarray, shape (row,)
        m.
    virtual_temperature : ndarray, shape (row,)
        degC.
    start_pressure : float
        Pressure of the first row, in hPa.

    Returns
    -------
    ndarray, shape (row,)
        Pressure in hPa, the exact inverse of :func:`hypsometric_height`. From the first missing
        value on every pressure is NaN.

    References
    ----------
    WMO-No. 8, measurement of upper-air variables, hypsometric equation.
    """
    layers = np.diff(geopotential_height) / _layer_means(virtual_temperature)
    drops = GRAVITY / GAS_CONSTANT_DRY * np.concatenate(([0.0], np.cumsum(layers)))
    return start_pressure * np.exp(-drops[: len(geopotential_height)])


def thickness(p_bottom: Values, p_top: Values, mean_virtual_temperature: Values) -> FloatArray:
    """Return the thickness of a layer.

    Parameters
    ----------
    p_bottom, p_top : float or ndarray
        Pressure at the base and the top, in hPa.
    mean_virtual_temperature : float or ndarray
        degC.

    Returns
    -------
    ndarray
        Geopotential metres; negative when the "top" has the greater pressure.

    References
    ----------
    WMO-No. 8, measurement of upper-air variables, hypsometric equation.
    """
    kelvin = as_values(mean_virtual_temperature) + ZERO_CELSIUS
    return GAS_CONSTANT_DRY / GRAVITY * kelvin * np.log(as_values(p_bottom) / as_values(p_top))


def potential_temperature(temperature: Values, pressure: Values) -> FloatArray:
    """Return the temperature of dry air brought to 1000 hPa without exchange of heat.

    Parameters
    ----------
    temperature : float or ndarray
        degC.
    pressure : float or ndarray
        hPa.

    Returns
    -------
    ndarray
        K.

    References
    ----------
    Poisson's equation with the exponent 2/7.
    """
    return (as_values(temperature) + ZERO_CELSIUS) * (1000.0 / as_values(pressure)) ** KAPPA
