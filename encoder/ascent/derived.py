"""Columns that were not measured, computed from those that were: humidity, wind, height, pressure.

Each function returns the columns it makes and, for those computed, the formula in words, which
:attr:`encoder.profile.Profile.computed` keeps.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from encoder.columns import COLUMNS
from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.physics import (
    VAPOUR_PRESSURE_FORMULAS,
    dew_point,
    geopotential_height,
    hypsometric_height,
    hypsometric_pressure,
    relative_humidity,
    vapour_pressure,
    virtual_temperature,
    wind_from_components,
)
from encoder.rows import rows_as_text, rows_named

if TYPE_CHECKING:
    from collections.abc import Mapping

    from encoder.profile import FloatArray, Profile
    from encoder.rows import Mask

DEW_POINT_DIFFERENCE = 0.5
"""Dew point of the file against the one from its humidity, K, within which they agree: formulas
in use differ by less above -60 degC. Common practice, no source."""


MOST_VAPOUR = 0.5
"""Largest share of the pressure that vapour may have in the hypsometric equation: several times
what occurs. Common practice, no source."""


class Derived(NamedTuple):
    """Columns made and how.

    Attributes
    ----------
    columns : mapping of str to ndarray, each of shape (row,)
    computed : mapping of str to str
        Formula in words of each computed column.
    """

    columns: Mapping[str, FloatArray]
    computed: Mapping[str, str]


def humidity(profile: Profile, formula: str) -> Result[Derived]:
    """Return relative humidity and dew point that belong together.

    Relative humidity is used where it was measured, and the dew point is computed from it; where
    it was not, it is computed from the dew point or the depression.

    Parameters
    ----------
    profile : Profile
        Rows with air temperature in degC.
    formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS`.

    Returns
    -------
    Result of Derived
        ``relative_humidity`` in % over water and ``dew_point_temperature`` in degC, NaN together,
        but for air without any moisture, which has no dew point.
    """
    found: list[Diagnostic] = []
    computed: dict[str, str] = {}
    temperature = profile["air_temperature"]
    measured = _column(profile, "relative_humidity")
    given = _column(profile, "dew_point_temperature")
    depressed = temperature - _column(profile, "dew_point_depression")
    dew = np.where(np.isnan(given), depressed, given)
    label = VAPOUR_PRESSURE_FORMULAS[formula].label

    from_dew = np.isnan(measured) & np.isfinite(dew) & np.isfinite(temperature)
    from_humidity = np.isfinite(measured) & np.isfinite(temperature)
    moisture = np.where(from_dew, relative_humidity(temperature, dew, formula), measured)
    impossible = from_dew & (moisture > COLUMNS["relative_humidity"].highest)
    if impossible.any():
        found.append(_dew_above_temperature(profile, impossible, temperature, dew))
        moisture = np.where(impossible, np.nan, moisture)
    consistent = np.where(from_dew & ~impossible, dew, dew_point(temperature, measured, formula))
    if from_dew.any():
        source = "dew point depression" if np.isnan(given[from_dew]).all() else "dew point"
        computed["relative_humidity"] = f"from {source}, vapour pressure over water by {label}"
    if from_humidity.any():
        computed["dew_point_temperature"] = (
            f"from relative humidity, vapour pressure over water by {label}"
        )
    found += _disagreement(profile, from_humidity, dew, consistent)
    dry = from_humidity & (measured <= 0.0)
    if dry.any():
        found.append(
            _told(profile, dry, "humidity-without-dew-point", "The relative humidity is 0 % at")
        )
    wet = moisture > 100.0
    if wet.any():
        highest = float(np.max(moisture[wet]))
        head = f"The relative humidity is above 100 % (up to {highest:.1f} %) at"
        found.append(_told(profile, wet, "humidity-above-saturation", head))
    columns = {"relative_humidity": moisture, "dew_point_temperature": consistent}
    return Result(Derived(columns, computed), tuple(found))


def wind(profile: Profile) -> Result[Derived]:
    """Return direction and speed of the wind, both or neither in each row.

    Parameters
    ----------
    profile : Profile
        Rows with direction and speed, or with components, or without wind.

    Returns
    -------
    Result of Derived
        ``wind_from_direction`` in degrees (above 0 to 360, 0 when calm) and ``wind_speed`` in
        m s-1.
    """
    computed: dict[str, str] = {}
    direction = _column(profile, "wind_from_direction")
    speed = _column(profile, "wind_speed")
    nowhere = not np.isfinite(direction).any() or not np.isfinite(speed).any()
    if nowhere and "eastward_wind" in profile and "northward_wind" in profile:
        direction, speed = wind_from_components(profile["eastward_wind"], profile["northward_wind"])
        lone = np.isnan(profile["eastward_wind"]) != np.isnan(profile["northward_wind"])
        words = "from the eastward and northward components"
        computed = {"wind_from_direction": words, "wind_speed": words}
    else:
        calm = speed == 0.0
        # A column that is not there at all was told when the file was read.
        both = "wind_from_direction" in profile and "wind_speed" in profile
        lone = (np.isnan(direction) != np.isnan(speed)) & ~calm & both
        direction = np.where(calm, 0.0, np.where(direction == 0.0, 360.0, direction))
    found = []
    if lone.any():
        found.append(
            _told(profile, lone, "wind-incomplete", "Only one part of the wind is given at")
        )
    missing = np.isnan(direction) | np.isnan(speed)
    columns = {
        "wind_from_direction": np.where(missing, np.nan, direction),
        "wind_speed": np.where(missing, np.nan, speed),
    }
    return Result(Derived(columns, computed), tuple(found))


def measured_height(profile: Profile, latitude: float) -> Derived:
    """Return the geopotential height as measured, from geometric height where need be.

    Parameters
    ----------
    profile : Profile
        Rows with ``geopotential_height`` or ``altitude`` in m, or neither.
    latitude : float
        Of the station, used where a row has no latitude of its own.
    """
    given = _column(profile, "geopotential_height")
    if np.isfinite(given).any() or "altitude" not in profile:
        return Derived({"geopotential_height": given}, {})
    own = _column(profile, "latitude")
    latitudes = np.where(np.isnan(own), latitude, own)
    heights = geopotential_height(profile["altitude"], latitudes)
    words = "from geometric height and latitude, WMO-No. 8 gravity"
    return Derived({"geopotential_height": heights}, {"geopotential_height": words})


def heights(rows: Profile, formula: str) -> Result[Derived]:
    """Return the geopotential height of every row, by the hypsometric equation where it is missing.

    Parameters
    ----------
    rows : Profile
        Rows whose first has a height, with pressure, temperature and humidity.
    formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS`.

    Returns
    -------
    Result of Derived
        ``geopotential_height`` in m. Each stretch without height is built up from the row before
        it. Temperature missing inside the rows is interpolated in the logarithm of pressure for
        this purpose alone; above the last temperature the height stays missing.
    """
    height = rows["geopotential_height"]
    lost = np.isnan(height)
    if not lost.any():
        return Result(Derived({"geopotential_height": height}, {}))
    pressure = rows["air_pressure"]
    virtual = _virtual(rows, pressure, formula, -np.log(pressure))
    built = hypsometric_height(pressure, virtual, 0.0)
    before = np.maximum.accumulate(np.where(lost, 0, np.arange(len(height))))
    filled = np.where(lost, height[before] + built - built[before], height)
    done, left = lost & np.isfinite(filled), np.isnan(filled)
    label = VAPOUR_PRESSURE_FORMULAS[formula].label
    words = f"hypsometric equation with virtual temperature, vapour pressure over water by {label}"
    found = []
    computed = {}
    if done.any():
        whole = bool(lost[1:].all())
        computed["geopotential_height"] = words if whole else f"{words}, where it was missing"
        found.append(_told(rows, done, "height-computed", "Geopotential height was computed for"))
    if left.any():
        found.append(_told(rows, left, "height-not-computable", "There is no height at"))
    return Result(Derived({"geopotential_height": filled}, computed), tuple(found))


def pressures(rows: Profile, formula: str) -> Result[Derived]:
    """Return the pressure of every row by the hypsometric equation from the first.

    Parameters
    ----------
    rows : Profile
        Rows with geopotential height, temperature and humidity, the first with pressure.
    formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS`.

    Returns
    -------
    Result of Derived
        ``air_pressure`` in hPa. Virtual temperature depends a little on pressure, so the equation
        is repeated until nothing changes. Temperature missing inside the rows is interpolated in
        height for this purpose alone; above the last temperature the pressure stays missing.
    """
    height = rows["geopotential_height"]
    start = float(rows["air_pressure"][0])
    pressure = np.full(len(height), start)
    for _ in range(20):
        last = pressure
        pressure = hypsometric_pressure(height, _virtual(rows, last, formula, height), start)
        if np.allclose(pressure, last, rtol=1e-12, atol=0.0, equal_nan=True):
            break
    label = VAPOUR_PRESSURE_FORMULAS[formula].label
    words = (
        "hypsometric equation from the surface pressure with virtual temperature, vapour pressure "
        f"over water by {label}, gravity by latitude"
    )
    done = np.isfinite(pressure) & (np.arange(len(height)) > 0)
    found = (
        (_told(rows, done, "pressure-computed", "Pressure was computed from height for"),)
        if done.any()
        else ()
    )
    return Result(Derived({"air_pressure": pressure}, {"air_pressure": words}), found)


def moist_temperature(rows: Profile, pressure: FloatArray, formula: str) -> FloatArray:
    """Return the virtual temperature of each row, that of dry air where humidity is missing.

    Parameters
    ----------
    rows : Profile
        Rows with temperature and relative humidity.
    pressure : ndarray, shape (row,)
        hPa; where it is missing the air counts as dry.
    formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS`.

    Returns
    -------
    ndarray, shape (row,)
        degC, NaN where temperature is missing. Vapour never makes up more than half of the
        pressure, so that wrong values do not leave the range of the equation.
    """
    temperature = rows["air_temperature"]
    total = np.where(np.isnan(pressure), np.inf, pressure)
    vapour = vapour_pressure(temperature, rows["relative_humidity"], formula)
    return virtual_temperature(temperature, np.minimum(vapour, MOST_VAPOUR * total), total)


def _virtual(rows: Profile, pressure: FloatArray, formula: str, rising: FloatArray) -> FloatArray:
    """Return the virtual temperature, gaps bridged linearly along a rising coordinate.

    Below the first temperature the first one is used: the layer is that between the release point
    and the first row. Above the last one the result is NaN.
    """
    virtual = moist_temperature(rows, pressure, formula)
    known = np.flatnonzero(np.isfinite(virtual))
    if not len(known):
        return virtual
    order = known[np.argsort(rising[known], kind="stable")]
    bridged = np.interp(rising, rising[order], virtual[order])
    bridged[known[-1] + 1 :] = np.nan
    return np.where(np.isfinite(virtual), virtual, bridged)


def _disagreement(
    profile: Profile,
    both: Mask,
    dew: FloatArray,
    consistent: FloatArray,
) -> list[Diagnostic]:
    """Return a warning where the dew point of the file does not fit its relative humidity."""
    difference = np.where(both, np.abs(dew - consistent), np.nan)
    off = difference > DEW_POINT_DIFFERENCE
    if not off.any():
        return []
    worst = int(np.nanargmax(difference))
    return [
        diagnostic(
            "humidity-disagrees",
            f"The dew point of the file and the one from its relative humidity differ by more "
            f"than {DEW_POINT_DIFFERENCE} K at {rows_as_text(profile.source_row, off)}; most at "
            f"line {int(profile.source_row[worst])}, by {difference[worst]:.1f} K.",
            rows=rows_named(profile.source_row, off),
        )
    ]


def _dew_above_temperature(
    profile: Profile,
    rows: Mask,
    temperature: FloatArray,
    dew: FloatArray,
) -> Diagnostic:
    worst = int(np.nanargmax(np.where(rows, dew - temperature, np.nan)))
    return diagnostic(
        "values-impossible",
        f"The dew point is above the temperature, most by {dew[worst] - temperature[worst]:.1f} K "
        f"at line {int(profile.source_row[worst])}; humidity counts as missing at "
        f"{rows_as_text(profile.source_row, rows)}.",
        path=("dew_point_temperature",),
        rows=rows_named(profile.source_row, rows),
    )


def _told(profile: Profile, rows: Mask, code: str, head: str) -> Diagnostic:
    return diagnostic(
        code,
        f"{head} {rows_as_text(profile.source_row, rows)}.",
        rows=rows_named(profile.source_row, rows),
    )


def _column(profile: Profile, name: str) -> FloatArray:
    """Return a column, all missing where the profile has none of that name."""
    return profile[name] if name in profile else np.full(len(profile), np.nan)
