"""Physics of the upper-air observation, as pure functions on numpy arrays.

Units are those of :mod:`encoder.columns`: hPa, degC, m (geopotential where the name says so),
m s-1, %. Every function takes arrays or plain numbers and returns values of the broadcast shape;
for plain numbers a numpy float, which is a ``float``. NaN means missing and stays missing.
"""

from __future__ import annotations

from encoder.physics.constants import (
    DRY_ADIABATIC_LAPSE,
    EPSILON,
    GAS_CONSTANT_DRY,
    GRAVITY,
    KAPPA,
    ZERO_CELSIUS,
)
from encoder.physics.gravity import altitude, geopotential_height, normal_gravity
from encoder.physics.humidity import (
    VAPOUR_PRESSURE_FORMULAS,
    VapourPressureFormula,
    dew_point,
    mixing_ratio,
    relative_humidity,
    saturation_vapour_pressure,
    vapour_pressure,
    virtual_temperature,
)
from encoder.physics.hydrostatics import (
    hypsometric_height,
    hypsometric_pressure,
    potential_temperature,
    thickness,
)
from encoder.physics.interpolation import interpolate_log_pressure
from encoder.physics.standard_atmosphere import (
    standard_atmosphere_height,
    standard_atmosphere_pressure,
    standard_atmosphere_temperature,
)
from encoder.physics.wind import shortest_turn, wind_components, wind_from_components

__all__ = [
    "DRY_ADIABATIC_LAPSE",
    "EPSILON",
    "GAS_CONSTANT_DRY",
    "GRAVITY",
    "KAPPA",
    "VAPOUR_PRESSURE_FORMULAS",
    "ZERO_CELSIUS",
    "VapourPressureFormula",
    "altitude",
    "dew_point",
    "geopotential_height",
    "hypsometric_height",
    "hypsometric_pressure",
    "interpolate_log_pressure",
    "mixing_ratio",
    "normal_gravity",
    "potential_temperature",
    "relative_humidity",
    "saturation_vapour_pressure",
    "shortest_turn",
    "standard_atmosphere_height",
    "standard_atmosphere_pressure",
    "standard_atmosphere_temperature",
    "thickness",
    "vapour_pressure",
    "virtual_temperature",
    "wind_components",
    "wind_from_components",
]
