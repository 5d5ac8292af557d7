"""Lines of the thermodynamic diagram: dry adiabats, moist adiabats, lines of one mixing ratio."""

from __future__ import annotations

import numpy as np

from encoder.physics.constants import EPSILON, GAS_CONSTANT_DRY, KAPPA, ZERO_CELSIUS, FloatArray
from encoder.physics.humidity import VAPOUR_PRESSURE_FORMULAS, saturation_vapour_pressure

HEAT_CAPACITY_DRY = GAS_CONSTANT_DRY / KAPPA
"""Specific heat of dry air at constant pressure in J kg-1 K-1, from the exponent of Poisson."""
LATENT_HEAT = 2.501e6
"""Latent heat of vaporization at 0 degC in J kg-1; Glossary of Meteorology (from memory)."""
_STEP = 0.05
"""Largest step of the integration in ln p."""


def dry_adiabat(potential_temperature: float, pressure: FloatArray) -> FloatArray:
    """Return the temperature along a dry adiabat.

    Parameters
    ----------
    potential_temperature : float
        K, at 1000 hPa.
    pressure : ndarray, shape (level,)
        hPa.

    Returns
    -------
    ndarray, shape (level,)
        degC.

    References
    ----------
    Poisson's equation with the exponent 2/7; inverse of
    :func:`encoder.physics.potential_temperature`.
    """
    values: FloatArray = potential_temperature * (pressure / 1000.0) ** KAPPA - ZERO_CELSIUS
    return values


def moist_adiabats(starts: FloatArray, pressure: FloatArray, formula: str = "wmo-49") -> FloatArray:
    """Return the temperature along moist adiabats, all condensed water falling out.

    Parameters
    ----------
    starts : ndarray, shape (curve,)
        Temperatures in degC at 1000 hPa.
    pressure : ndarray, shape (level,)
        hPa, decreasing, 1000 hPa or less.
    formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS`.

    Returns
    -------
    ndarray, shape (curve, level)
        degC.

    Notes
    -----
    Integrated in ln p by the classical Runge-Kutta method with steps of 0.05 or less.

    References
    ----------
    Pseudo-adiabatic lapse rate, Glossary of Meteorology, without the heat of the water itself.
    """
    kelvin, ln_p = np.asarray(starts) + ZERO_CELSIUS, float(np.log(1000.0))
    result = np.empty((len(kelvin), len(pressure)))
    for place, target in enumerate(np.log(pressure)):
        steps = max(1, int(np.ceil((ln_p - target) / _STEP)))
        step = (float(target) - ln_p) / steps
        for _ in range(steps):
            first = _slope(kelvin, ln_p, formula)
            second = _slope(kelvin + step / 2.0 * first, ln_p + step / 2.0, formula)
            third = _slope(kelvin + step / 2.0 * second, ln_p + step / 2.0, formula)
            fourth = _slope(kelvin + step * third, ln_p + step, formula)
            kelvin = kelvin + step / 6.0 * (first + 2.0 * second + 2.0 * third + fourth)
            ln_p += step
        result[:, place] = kelvin - ZERO_CELSIUS
    return result


def _slope(kelvin: FloatArray, ln_p: float, formula: str) -> FloatArray:
    """Return dT / d ln p in K of saturated air."""
    pressure = np.exp(ln_p)
    vapour = saturation_vapour_pressure(kelvin - ZERO_CELSIUS, formula)
    ratio = EPSILON * vapour / (pressure - vapour)
    heat = LATENT_HEAT * ratio / (GAS_CONSTANT_DRY * kelvin)
    damping = LATENT_HEAT * LATENT_HEAT * ratio * EPSILON
    damping /= HEAT_CAPACITY_DRY * GAS_CONSTANT_DRY * kelvin * kelvin
    slope: FloatArray = KAPPA * kelvin * (1.0 + heat) / (1.0 + damping)
    return slope


def saturation_mixing_ratio_line(
    mixing_ratio: float, pressure: FloatArray, formula: str = "wmo-49"
) -> FloatArray:
    """Return the dew point of air with one mixing ratio.

    Parameters
    ----------
    mixing_ratio : float
        g kg-1.
    pressure : ndarray, shape (level,)
        hPa.
    formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS`.

    Returns
    -------
    ndarray, shape (level,)
        degC.
    """
    ratio = mixing_ratio / 1000.0
    vapour = ratio * pressure / (EPSILON + ratio)
    values: FloatArray = np.atleast_1d(VAPOUR_PRESSURE_FORMULAS[formula].inverse(vapour))
    return values
