"""Humidity: saturation vapour pressure by published formulas, dew point, moisture of the air.

Relative humidity and dew point are always over liquid water, also below 0 degC (WMO-No. 306,
35.3.1.1; WMO-No. 8, chapter on humidity). The ratio of two pressures needs no enhancement factor of
moist air: it cancels to within 0.02 % of the humidity.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.physics.constants import EPSILON, ZERO_CELSIUS, FloatArray, Values, as_values, plain

if TYPE_CHECKING:
    from collections.abc import Callable

_LN10 = float(np.log(10.0))
_CLOSE = 1e-10
_ROUNDS = 30
_COLDEST = 30.0


@dataclass(frozen=True, slots=True)
class VapourPressureFormula:
    """One published formula for saturation vapour pressure over liquid water.

    Attributes
    ----------
    label : str
        Name for people.
    water : callable
        degC to hPa.
    inverse : callable
        hPa to degC.
    lowest, highest : float
        Range of temperature in degC the source states for it; beyond it the formula is used all
        the same and the values are extrapolated.
    source : str
        Publication.
    """

    label: str
    water: Callable[[FloatArray], FloatArray]
    inverse: Callable[[FloatArray], FloatArray]
    lowest: float
    highest: float
    source: str


LogForm = tuple[FloatArray, "Callable[[], FloatArray]"]
"""Natural logarithm of a vapour pressure in hPa, and what gives its slope in K-1."""


def _goff_1957(kelvin: FloatArray) -> LogForm:
    """Return the formula of WMO-No. 49 with the sign of the third term as Goff (1957) has it."""
    triple = 273.16
    ratio = triple / kelvin
    third = np.exp(-8.2969 * _LN10 * (kelvin / triple - 1.0))
    fourth = np.exp(4.76955 * _LN10 * (1.0 - ratio))
    logarithm = (
        _LN10 * (10.79574 * (1.0 - ratio) + 0.78614)
        + 5.028 * np.log(ratio)
        + _LN10 * (1.50475e-4 * (1.0 - third) + 0.42873e-3 * (fourth - 1.0))
    )

    def slope() -> FloatArray:
        return (
            _LN10 * 10.79574 * ratio / kelvin
            - 5.028 / kelvin
            + _LN10**2 * 1.50475e-4 * 8.2969 / triple * third
            + _LN10**2 * 0.42873e-3 * 4.76955 * ratio / kelvin * fourth
        )

    return logarithm, slope


def _goff_gratch(kelvin: FloatArray) -> LogForm:
    boiling = 373.16
    ratio = boiling / kelvin
    third = np.exp(11.344 * _LN10 * (1.0 - kelvin / boiling))
    fourth = np.exp(-3.49149 * _LN10 * (ratio - 1.0))
    logarithm = (
        -7.90298 * _LN10 * (ratio - 1.0)
        + 5.02808 * np.log(ratio)
        + _LN10 * (-1.3816e-7 * (third - 1.0) + 8.1328e-3 * (fourth - 1.0))
        + np.log(1013.246)
    )

    def slope() -> FloatArray:
        return (
            7.90298 * _LN10 * ratio / kelvin
            - 5.02808 / kelvin
            + _LN10**2 * 1.3816e-7 * 11.344 / boiling * third
            + _LN10**2 * 8.1328e-3 * 3.49149 * ratio / kelvin * fourth
        )

    return logarithm, slope


def _hyland_wexler(kelvin: FloatArray) -> LogForm:
    logarithm = (
        -0.58002206e4 / kelvin
        + 1.3914993
        + kelvin * (-0.048640239 + kelvin * (0.41764768e-4 - kelvin * 0.14452093e-7))
        + 6.5459673 * np.log(kelvin)
        - np.log(100.0)
    )

    def slope() -> FloatArray:
        return (
            0.58002206e4 / kelvin**2
            - 0.048640239
            + kelvin * (2.0 * 0.41764768e-4 - 3.0 * 0.14452093e-7 * kelvin)
            + 6.5459673 / kelvin
        )

    return logarithm, slope


def _from_logarithm(
    form: Callable[[FloatArray], LogForm], label: str, lowest: float, highest: float, source: str
) -> VapourPressureFormula:
    """Return a formula whose inverse is found by Newton's method on the logarithm."""

    def water(temperature: FloatArray) -> FloatArray:
        pressure: FloatArray = np.exp(form(temperature + ZERO_CELSIUS)[0])
        return pressure

    def inverse(pressure: FloatArray) -> FloatArray:
        target = np.log(pressure)
        start = target - np.log(6.112)
        kelvin: FloatArray = 243.12 * start / (17.62 - start) + ZERO_CELSIUS
        for _ in range(_ROUNDS):
            logarithm, slope = form(kelvin)
            step = (target - logarithm) / slope()
            kelvin = np.maximum(kelvin + step, _COLDEST)
            if not np.any(np.abs(step) > _CLOSE):
                break
        return kelvin - ZERO_CELSIUS

    return VapourPressureFormula(label, water, inverse, lowest, highest, source)


def _magnus(
    constants: tuple[float, float, float], label: str, lowest: float, highest: float, source: str
) -> VapourPressureFormula:
    """Return a formula of the kind a exp(b t / (c + t)), which has an inverse in closed form."""
    factor, rate, offset = constants

    def water(temperature: FloatArray) -> FloatArray:
        return factor * np.exp(rate * temperature / (offset + temperature))

    def inverse(pressure: FloatArray) -> FloatArray:
        power = np.log(pressure / factor)
        return offset * power / (rate - power)

    return VapourPressureFormula(label, water, inverse, lowest, highest, source)


VAPOUR_PRESSURE_FORMULAS: dict[str, VapourPressureFormula] = {
    "wmo-49": _from_logarithm(
        _goff_1957,
        "WMO-No. 49 (Goff 1957, corrected)",
        -50.0,
        100.0,
        "WMO-No. 49 Technical Regulations with the sign of Goff (1957); range from memory",
    ),
    "wmo-8": _magnus(
        (6.112, 17.62, 243.12),
        "WMO-No. 8, Annex 4.B",
        -45.0,
        60.0,
        "WMO-No. 8 Guide to Instruments and Methods of Observation, Annex 4.B",
    ),
    "hyland-wexler": _from_logarithm(
        _hyland_wexler,
        "Hyland and Wexler 1983",
        -100.0,
        200.0,
        "Hyland and Wexler (1983), ASHRAE Transactions 89; below 0 degC extrapolated",
    ),
    "goff-gratch": _from_logarithm(
        _goff_gratch,
        "Goff and Gratch 1946",
        -50.0,
        102.0,
        "Goff and Gratch (1946); range after Gibbins (1990)",
    ),
    "buck": _magnus(
        (6.1121, 17.502, 240.97),
        "Buck 1981",
        -80.0,
        50.0,
        "Buck (1981), Journal of Applied Meteorology 20, range from memory",
    ),
    "bolton": _magnus(
        (6.112, 17.67, 243.5),
        "Bolton 1980",
        -35.0,
        35.0,
        "Bolton (1980), Monthly Weather Review 108, equation 10",
    ),
}
"""Formulas for saturation vapour pressure over liquid water, by name; the first is the default."""


def saturation_vapour_pressure(temperature: Values, formula: str = "wmo-49") -> FloatArray:
    """Return the saturation vapour pressure over liquid water.

    Parameters
    ----------
    temperature : float or ndarray
        degC.
    formula : str
        Key of :data:`VAPOUR_PRESSURE_FORMULAS`. The default is the one the regulations of the
        coded report ask for.

    Returns
    -------
    ndarray
        hPa, of pure water vapour.

    Raises
    ------
    KeyError
        If there is no such formula.

    References
    ----------
    WMO-No. 306, 35.3.1.1, and the source of each formula.
    """
    return VAPOUR_PRESSURE_FORMULAS[formula].water(as_values(temperature))


def vapour_pressure(
    temperature: Values, relative_humidity: Values, formula: str = "wmo-49"
) -> FloatArray:
    """Return the vapour pressure of the air.

    Parameters
    ----------
    temperature : float or ndarray
        degC.
    relative_humidity : float or ndarray
        %, over liquid water.
    formula : str
        Key of :data:`VAPOUR_PRESSURE_FORMULAS`.

    Returns
    -------
    ndarray
        hPa.

    Raises
    ------
    KeyError
        If there is no such formula.
    """
    return saturation_vapour_pressure(temperature, formula) * as_values(relative_humidity) / 100.0


def dew_point(
    temperature: Values, relative_humidity: Values, formula: str = "wmo-49"
) -> FloatArray:
    """Return the dew point over liquid water.

    Parameters
    ----------
    temperature : float or ndarray
        degC.
    relative_humidity : float or ndarray
        %, over liquid water.
    formula : str
        Key of :data:`VAPOUR_PRESSURE_FORMULAS`.

    Returns
    -------
    ndarray
        degC; NaN where the humidity is zero or less, since dry air has no dew point. The inverse
        of :func:`relative_humidity`.

    Raises
    ------
    KeyError
        If there is no such formula.

    References
    ----------
    WMO-No. 306, 35.3.1.1.
    """
    pressure = as_values(vapour_pressure(temperature, relative_humidity, formula))
    return plain(
        VAPOUR_PRESSURE_FORMULAS[formula].inverse(np.where(pressure > 0.0, pressure, np.nan))
    )


def relative_humidity(
    temperature: Values, dew_point: Values, formula: str = "wmo-49"
) -> FloatArray:
    """Return the relative humidity over liquid water.

    Parameters
    ----------
    temperature, dew_point : float or ndarray
        degC.
    formula : str
        Key of :data:`VAPOUR_PRESSURE_FORMULAS`.

    Returns
    -------
    ndarray
        %; more than 100 where the dew point exceeds the temperature.

    Raises
    ------
    KeyError
        If there is no such formula.
    """
    warmth, dew = as_values(temperature), as_values(dew_point)
    if warmth.shape != dew.shape:
        actual = saturation_vapour_pressure(dew, formula)
        return 100.0 * actual / saturation_vapour_pressure(warmth, formula)
    actual, saturated = saturation_vapour_pressure(np.array((dew, warmth)), formula)
    humidity: FloatArray = 100.0 * actual / saturated
    return humidity


def mixing_ratio(vapour_pressure: Values, pressure: Values) -> FloatArray:
    """Return the mass of water vapour per mass of dry air.

    Parameters
    ----------
    vapour_pressure, pressure : float or ndarray
        hPa.

    Returns
    -------
    ndarray
        kg kg-1.

    References
    ----------
    WMO-No. 8, chapter on humidity, Annex 4.A.
    """
    vapour = as_values(vapour_pressure)
    return EPSILON * vapour / (as_values(pressure) - vapour)


def virtual_temperature(
    temperature: Values, vapour_pressure: Values, pressure: Values
) -> FloatArray:
    """Return the temperature at which dry air has the density of the moist air.

    Parameters
    ----------
    temperature : float or ndarray
        degC.
    vapour_pressure, pressure : float or ndarray
        hPa. Where the vapour pressure is missing the air counts as dry.

    Returns
    -------
    ndarray
        degC.

    References
    ----------
    WMO-No. 8, chapter on humidity, Annex 4.A.
    """
    vapour = as_values(vapour_pressure)
    vapour = np.where(np.isnan(vapour), 0.0, vapour)
    kelvin = as_values(temperature) + ZERO_CELSIUS
    moist = kelvin / (1.0 - (1.0 - EPSILON) * vapour / as_values(pressure))
    return plain(moist - ZERO_CELSIUS)
