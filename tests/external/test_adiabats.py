"""Lines of the thermodynamic diagram against MetPy, an independent library."""

from __future__ import annotations

import numpy as np
import pytest
from metpy import calc
from metpy.units import units

from encoder.physics.adiabats import dry_adiabat, moist_adiabats, saturation_mixing_ratio_line

PRESSURES = np.array([1000.0, 925.0, 850.0, 700.0, 500.0, 300.0, 200.0])


@pytest.mark.parametrize("start", [-20.0, 0.0, 10.0, 20.0, 30.0])
def test_moist_adiabat_against_metpy(start):
    """SOURCE: MetPy 1.7 moist_lapse (its own vapour pressure and latent heat): within 1.2 K."""
    theirs = calc.moist_lapse(PRESSURES * units.hPa, start * units.degC, 1000.0 * units.hPa)

    assert moist_adiabats(np.array([start]), PRESSURES)[0] == pytest.approx(
        theirs.m_as("degC"), abs=1.2
    )


def test_dry_adiabat_against_metpy():
    """SOURCE: MetPy 1.7 dry_lapse: within 0.02 K."""
    theirs = calc.dry_lapse(PRESSURES * units.hPa, 20.0 * units.degC, 1000.0 * units.hPa)

    assert dry_adiabat(293.15, PRESSURES) == pytest.approx(theirs.m_as("degC"), abs=0.02)


@pytest.mark.parametrize("ratio", [0.4, 2.0, 7.0, 16.0])
def test_mixing_ratio_against_metpy(ratio):
    """SOURCE: MetPy 1.7 dewpoint(vapor_pressure): within 0.3 K above -40 degC."""
    theirs = calc.dewpoint(calc.vapor_pressure(PRESSURES * units.hPa, ratio * units("g/kg")))
    theirs = theirs.m_as("degC")
    warm = theirs > -40.0

    ours = saturation_mixing_ratio_line(ratio, PRESSURES)

    assert ours[warm] == pytest.approx(theirs[warm], abs=0.3)


def test_moist_adiabat_approaches_the_dry_one():
    """Cold air holds no water: high up the moist adiabat runs along a dry one."""
    upper = np.array([150.0, 100.0])
    cold = moist_adiabats(np.array([-20.0]), upper)[0]
    theta = (cold[0] + 273.15) * (1000.0 / 150.0) ** (2.0 / 7.0)

    assert cold[1] == pytest.approx(dry_adiabat(theta, upper)[1], abs=0.01)
