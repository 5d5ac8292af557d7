"""The steps of the alphanumeric upper-air code: what a value becomes when coded and read back.

Level selection, the groups of the code and verification all take the steps from here, so that what
is selected is judged on what a reader will decode.

Sources: WMO-No. 306 Volume I.1, code tables 3931 (temperature), 0777 (dew-point depression), 0877
(direction), and the symbolic letters PPP and ddfff. Rounding into table 0777 between 5.0 and 5.5
degrees, and its saturation at 49 degrees: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from encoder.rounding import round_half_away

FloatArray = NDArray[np.float64]
WindUnit = Literal["kt", "m s-1"]

KNOT = 1852.0 / 3600.0
"""One knot in metres per second, exact."""
MILE_PER_HOUR = 1609.344 / 3600.0
"""One statute mile per hour in metres per second, exact."""

TEMPERATURE_HALF_STEP = 0.1
"""Half of the 0.2 degree step of table 3931."""
DIRECTION_HALF_STEP = 2.5
"""Half of the 5 degree step of ddfff."""
UPPER_PART_PRESSURE = 100.0
"""Parts A and B hold pressures of 100 hPa and more, parts C and D less."""
LARGEST_DEPRESSION = 49.0
"""Table 0777 ends at 49 degrees."""


@dataclass(frozen=True, slots=True)
class Coding:
    """The choices that fix the steps of a report.

    Attributes
    ----------
    wind_unit : {"kt", "m s-1"}
        Unit the wind speed is coded in.
    """

    wind_unit: WindUnit = "kt"

    @property
    def speed_step(self) -> float:
        """Step of the coded wind speed in m s-1."""
        return KNOT if self.wind_unit == "kt" else 1.0

    @property
    def speed_half_step(self) -> float:
        """Half of the step of the coded wind speed in m s-1."""
        return self.speed_step / 2.0


def coded_pressure(pressure: FloatArray) -> FloatArray:
    """Return the pressure a reader decodes from PPP.

    Parameters
    ----------
    pressure : ndarray
        Air pressure in hPa, any shape.

    Returns
    -------
    ndarray
        Whole hPa from 100 hPa downward, tenths of hPa above (never 100.0 for a level above the
        100 hPa surface: it belongs to parts C and D, whose largest figure is 999).
    """
    pressure = np.asarray(pressure, dtype=np.float64)
    tenths = np.minimum(round_half_away(pressure, 0.1), 99.9)
    return np.where(pressure >= UPPER_PART_PRESSURE, round_half_away(pressure), tenths)


def coded_temperature(temperature: FloatArray) -> FloatArray:
    """Return the temperature a reader decodes from TTTa (table 3931).

    Parameters
    ----------
    temperature : ndarray
        Air temperature in degC.

    Returns
    -------
    ndarray
        The literal reading: even tenths for zero and above, odd tenths below zero, in degC.
    """
    temperature = np.asarray(temperature, dtype=np.float64)
    tenths = round_half_away(np.abs(temperature), 0.1) * 10.0
    tenths = np.floor(tenths + 0.5)
    even = 2.0 * np.floor(tenths / 2.0)
    negative = (temperature < 0.0) & (tenths > 0.0)
    return np.where(negative, -(even + 1.0), even) / 10.0


def coded_depression(depression: FloatArray) -> FloatArray:
    """Return the dew-point depression a reader decodes from DD (table 0777).

    Parameters
    ----------
    depression : ndarray
        Dew-point depression in K; negative values count as zero.

    Returns
    -------
    ndarray
        Tenths up to 5.0, whole degrees from 6 to 49 above.
    """
    depression = np.maximum(np.asarray(depression, dtype=np.float64), 0.0)
    tenths = round_half_away(depression, 0.1)
    whole = np.minimum(round_half_away(depression), LARGEST_DEPRESSION)
    return np.where(tenths <= 5.0, tenths, np.maximum(whole, 5.0))


def depression_half_step(depression: FloatArray) -> FloatArray:
    """Return the largest coding error of DD at a depression, in K.

    Parameters
    ----------
    depression : ndarray
        Dew-point depression in K.

    Returns
    -------
    ndarray
        0.05 K up to 5.0 K, 0.5 K to 49 K, and the excess over 49 K beyond the end of the table.
    """
    depression = np.asarray(depression, dtype=np.float64)
    fine = round_half_away(depression, 0.1) <= 5.0
    return np.where(fine, 0.05, np.maximum(0.5, depression - LARGEST_DEPRESSION))


def coded_wind(
    direction: FloatArray, speed: FloatArray, coding: Coding
) -> tuple[FloatArray, FloatArray]:
    """Return the wind a reader decodes from ddfff.

    Parameters
    ----------
    direction : ndarray
        Direction the wind blows from, in degrees.
    speed : ndarray
        Wind speed in m s-1.
    coding : Coding
        Gives the unit of the speed.

    Returns
    -------
    direction : ndarray
        Nearest 5 degrees, 360 for north, 0 for calm.
    speed : ndarray
        Speed in m s-1 after rounding to a whole number of the coded unit.
    """
    speed = np.asarray(speed, dtype=np.float64)
    direction = np.asarray(direction, dtype=np.float64)
    units = round_half_away(speed / coding.speed_step)
    fives = np.mod(round_half_away(np.mod(direction, 360.0), 5.0), 360.0)
    fives = np.where(fives == 0.0, 360.0, fives)
    calm = units == 0.0
    return (
        np.where(calm & np.isfinite(direction), 0.0, fives),
        units * coding.speed_step,
    )
