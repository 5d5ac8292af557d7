"""The stability index against what real reports give, and against an independent library."""

from __future__ import annotations

import numpy as np
import pytest
from metpy.calc import parcel_profile
from metpy.units import units

from encoder.levels.derived import lifted_temperature


@pytest.mark.parametrize(
    ("temperature", "depression", "aloft", "index"),
    [
        # 850 hPa and 500 hPa of reports of stations 72694, 72440, 70398 and the index they give
        (6.8, 7.0, -12.9, 12),
        (12.4, 8.0, -11.9, 6),
        (5.2, 2.3, -14.9, 9),
    ],
)
def test_index_of_real_reports(
    temperature: float, depression: float, aloft: float, index: int
) -> None:
    """The index from the coded levels is the one that the report gives."""
    assert index == round(aloft - lifted_temperature(temperature, temperature - depression, 850.0))


def test_index_of_another_report() -> None:
    """The report of station 72235 gives -1; from its coded levels it is -1.7 (rounding unknown)."""
    assert -2.0 < -7.1 - lifted_temperature(17.2, 17.2 - 1.8, 850.0) < -1.0


def test_lifted_parcel_agrees_with_metpy() -> None:
    """An independent library lifts the parcel to the same temperature within 0.3 K."""
    for temperature, dew_point in ((17.2, 15.4), (6.8, -0.2), (25.0, 5.0)):
        pressures = np.array([850.0, 500.0]) * units.hPa
        expected = parcel_profile(pressures, temperature * units.degC, dew_point * units.degC)[-1]
        found = lifted_temperature(temperature, dew_point, 850.0)
        assert abs(expected.to("degC").magnitude - found) < 0.3
