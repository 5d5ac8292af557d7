"""Constants of the physics, each with its source."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Values = float | FloatArray
"""What every function takes: a number or an array."""

GRAVITY = 9.80665
"""Standard gravity in m s-2, exact (US Standard Atmosphere 1976); fixes the geopotential metre."""

GAS_CONSTANT_DRY = 8.31432e3 / 28.9644
"""Gas constant of dry air in J kg-1 K-1: 287.05287 (US Standard Atmosphere 1976)."""

KAPPA = 2.0 / 7.0
"""Gas constant over specific heat of dry air (ideal diatomic gas)."""

EPSILON = 0.62198
"""Molar mass of water over that of dry air (WMO-No. 188 tables, from memory)."""

ZERO_CELSIUS = 273.15
"""0 degC in K, exact."""

DRY_ADIABATIC_LAPSE = GRAVITY * KAPPA / GAS_CONSTANT_DRY * 1000.0
"""Dry adiabatic lapse rate in K km-1: 9.76."""


def as_values(values: Any) -> FloatArray:
    """Return numbers as a numpy array of float64; a plain number becomes zero-dimensional."""
    return np.asarray(values, dtype=np.float64)


def plain(values: FloatArray) -> FloatArray:
    """Return the array, a zero-dimensional one as its number."""
    unwrapped: FloatArray = values[()]
    return unwrapped
