"""Altitudes that stand for pressures where a sounding of winds has none."""

from __future__ import annotations

STANDARD_ALTITUDES = {
    1000.0: 100.0,
    925.0: 800.0,
    850.0: 1500.0,
    700.0: 3000.0,
    500.0: 5500.0,
    400.0: 7000.0,
    300.0: 9000.0,
    250.0: 10500.0,
    200.0: 12000.0,
    150.0: 13500.0,
    100.0: 16500.0,
    70.0: 18500.0,
    50.0: 20500.0,
    30.0: 24000.0,
    20.0: 26500.0,
    10.0: 31000.0,
}
"""Altitude in m that stands for each standard surface in 55nP1P1.

850 hPa agrees with a real report of station 96565; the others are from memory, and regions differ.
"""
LOWEST_PILOT_STANDARD = 850.0
"""hPa; standard levels of PILOT begin here (WMO-No. 306 Volume I.2, B/C20.7.2)."""
UPPER_PART_ALTITUDE = STANDARD_ALTITUDES[100.0]
"""Parts A and B hold winds up to this altitude in m, the one that stands for 100 hPa, parts C and
D those above."""
WHOLE_STEP = 300.0
"""Unit of 9tnu1u2u3 in m, but for Region IV."""
THOUSAND_FEET = 304.8
"""Unit of 9tnu1u2u3 in Region IV: exactly 1000 ft, in m (United States Navy module 14270)."""


ABOVE_GROUND = 1.0
"""m; an altitude less than this above the ground is that of the surface. Common practice, no
source."""
LONGEST_GAP = 1500.0
"""Layer without wind, in gpm, that is shown as one (WMO-No. 306 Vol. I.2, B/C20.7.5)."""


def step_of_altitudes(region: int | None, wanted: int | None = None) -> float:
    """Return the unit of the altitudes of winds in m.

    Parameters
    ----------
    region : int or None
        WMO Region of the station.
    wanted : {None, 300, 500}
        The unit the service has chosen.
    """
    if wanted is not None:
        return float(wanted)
    return THOUSAND_FEET if region == 4 else WHOLE_STEP


def surface_at_altitude(altitude: float) -> float | None:
    """Return the standard surface in hPa an altitude in m stands for, None where it is another."""
    surfaces = (one for one, own in STANDARD_ALTITUDES.items() if abs(own - altitude) < 1e-6)
    return next(surfaces, None)
