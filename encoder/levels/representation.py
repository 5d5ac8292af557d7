"""The proof: how well the levels a reader decodes rebuild the curves of the ascent.

Nothing here knows how levels are chosen. The decoded levels of section 5 rebuild temperature and
relative humidity, those of section 6 direction and speed, by straight lines in ln p between the
decoded pressures; every row of the ascent is then compared with that line.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.levels.rebuilding import level_below, thermal_curves, wind_curves
from encoder.levels.table import THERMODYNAMIC, LevelKind, Levels
from encoder.physics import relative_humidity, shortest_turn
from encoder.resolution import (
    DIRECTION_HALF_STEP,
    TEMPERATURE_HALF_STEP,
    coded_depression,
    coded_pressure,
    coded_temperature,
    coded_wind,
    depression_half_step,
)
from encoder.rows import stretches

if TYPE_CHECKING:
    from collections.abc import Mapping

    from encoder.levels.rules import Rules
    from encoder.profile import FloatArray, IntArray, Profile
    from encoder.resolution import Coding

ELEMENTS = ("air_temperature", "relative_humidity", "wind_from_direction", "wind_speed")
"""Elements that are judged."""
_SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class Worst:
    """The row at which an element is farthest beyond, or nearest to, its limit.

    Attributes
    ----------
    element : str
    row : int
        Index of the ascent row.
    pressure : float
        hPa.
    observed, rebuilt : float
        In the unit of the element; ``rebuilt`` is what a reader finds there.
    misfit, limit : float
        In the unit of the element.
    """

    element: str
    row: int
    pressure: float
    observed: float
    rebuilt: float
    misfit: float
    limit: float

    @property
    def excess(self) -> float:
        """Return the misfit less its limit; positive if the limit is broken."""
        return self.misfit - self.limit


@dataclass(frozen=True, slots=True)
class Stretch:
    """Neighbouring rows at which an element is off by more than its limit.

    Attributes
    ----------
    first_row, last_row : int
        Indexes of ascent rows.
    worst : Worst
        The row that is farthest beyond its limit.
    """

    first_row: int
    last_row: int
    worst: Worst


@dataclass(frozen=True, slots=True, eq=False)
class Misfit:
    """How the rebuilt curves compare with the ascent, by element.

    Attributes
    ----------
    rebuilt : mapping of str to ndarray, shape (row,)
        What a reader finds at each row; NaN where the levels say nothing.
    misfits, limits : mapping of str to ndarray, shape (row,)
        NaN where the row is not judged. A direction that may turn either way is off by 180.
    worst : mapping of str to Worst or None
        None where no row is judged.
    stretches : tuple of Stretch
        Every stretch beyond its limit, by element, upward.
    uncovered : mapping of str to ndarray of int
        Rows with an observed value where the levels rebuild nothing, apart from rows whose
        coded pressure is that of a level with the value: rounding moved it past them.
    """

    rebuilt: Mapping[str, FloatArray]
    misfits: Mapping[str, FloatArray]
    limits: Mapping[str, FloatArray]
    worst: Mapping[str, Worst | None]
    stretches: tuple[Stretch, ...]
    uncovered: Mapping[str, IntArray]

    @property
    def within_limits(self) -> bool:
        """Tell whether every judged row is within its limits."""
        return not self.stretches

    @property
    def broken(self) -> int:
        """Return the number of values beyond their limits, all elements together."""
        return sum(part.last_row - part.first_row + 1 for part in self.stretches)


def coded_levels(levels: Levels, coding: Coding, formula: str) -> Levels:
    """Return levels as a reader decodes them.

    Parameters
    ----------
    levels : Levels
        Unrounded.
    coding : Coding
        Gives the unit of the wind speed.
    formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS` for the relative humidity.

    Returns
    -------
    Levels
        Pressure, temperature, dew-point depression and wind in the steps of the code; dew point
        and relative humidity computed from them; everything else unchanged.

    References
    ----------
    :mod:`encoder.resolution`.
    """
    temperature = coded_temperature(levels["air_temperature"])
    depression = coded_depression(levels["dew_point_depression"])
    direction, speed = coded_wind(levels["wind_from_direction"], levels["wind_speed"], coding)
    dew_point = temperature - depression
    columns = {
        **levels.columns,
        "air_pressure": coded_pressure(levels["air_pressure"]),
        "air_temperature": temperature,
        "dew_point_depression": depression,
        "dew_point_temperature": dew_point,
        "relative_humidity": np.atleast_1d(relative_humidity(temperature, dew_point, formula)),
        "wind_from_direction": direction,
        "wind_speed": speed,
    }
    return Levels(columns, levels.kinds, levels.reasons, levels.rows, levels.attributes)


def humidity_half_step(temperature: FloatArray, dew_point: FloatArray, formula: str) -> FloatArray:
    """Return what the coding of the dew-point depression can do to the relative humidity.

    Parameters
    ----------
    temperature, dew_point : ndarray, shape (row,)
        degC.
    formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS`.

    Returns
    -------
    ndarray, shape (row,)
        Percentage points, the larger of both directions, temperature being exact; NaN where a
        value is missing. The depression is never read as negative.
    """
    depression = np.maximum(temperature - dew_point, 0.0)
    step = depression_half_step(depression)
    here = relative_humidity(temperature, temperature - depression, formula)
    moister = relative_humidity(
        temperature, temperature - np.maximum(depression - step, 0.0), formula
    )
    drier = relative_humidity(temperature, temperature - depression - step, formula)
    return np.atleast_1d(np.maximum(moister - here, here - drier))


def temperature_switch(rules: Rules, tropopause_pressure: float) -> float:
    """Return the pressure up to which the smaller temperature limit holds, in hPa.

    Parameters
    ----------
    rules : Rules
    tropopause_pressure : float
        First tropopause in hPa, NaN if there is none.

    Returns
    -------
    float
        The 300 hPa surface or the first tropopause, whichever is lower in altitude.

    References
    ----------
    WMO-No. 306, 35.3.1.3.
    """
    surface = float(rules.temperature_switch)
    return surface if np.isnan(tropopause_pressure) else max(surface, tropopause_pressure)


def misfit(
    ascent: Profile,
    decoded_levels: Levels,
    *,
    rules: Rules,
    coding: Coding,
    formula: str,
    tropopause_pressure: float,
) -> Misfit:
    """Compare the curves a reader rebuilds from decoded levels with the rows of the ascent.

    Parameters
    ----------
    ascent : Profile
        Prepared rows, pressure strictly decreasing.
    decoded_levels : Levels
        Levels with the values of the code. Those with a bit of
        :data:`encoder.levels.table.THERMODYNAMIC` rebuild temperature and humidity, those with
        ``SIGNIFICANT_WIND`` the wind. A BEGIN bit opens a layer without data, up to the next
        level that has the value.
    rules : Rules
        Gives the tolerances.
    coding : Coding
        Gives the step of the wind speed.
    formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS`.
    tropopause_pressure : float
        First tropopause as coded, in hPa; NaN if there is none.

    Returns
    -------
    Misfit

    Notes
    -----
    A row belongs to the segment between the two decoded pressures around its own. The limit is
    the tolerance plus the half-step of the code at the row: 0.1 K, what the half-step of the
    depression makes of the relative humidity, 2.5 degrees, half a unit of speed. The smaller
    tolerance of temperature holds in segments whose lower level lies at or below the switch
    surface. Direction is judged where the observed speed reaches the floor; a calm level takes
    the direction of its neighbour in the segment.

    References
    ----------
    WMO-No. 306, 35.3.1.3 and 35.3.2.1.
    """
    switch = temperature_switch(rules, tropopause_pressure)
    thermal = decoded_levels.select(decoded_levels.having(THERMODYNAMIC))
    thermal = thermal.select(np.isfinite(thermal["air_temperature"]))
    windy = decoded_levels.select(decoded_levels.having(LevelKind.SIGNIFICANT_WIND))
    windy = windy.select(np.isfinite(windy["wind_speed"]))
    temperature, dew_point = ascent["air_temperature"], ascent["dew_point_temperature"]

    rebuilt = thermal_curves(ascent["air_pressure"], thermal, formula)
    rebuilt |= wind_curves(ascent["air_pressure"], windy, rules)
    lower = level_below(ascent["air_pressure"], thermal["air_pressure"])
    start = np.append(thermal["air_pressure"], np.nan)[lower]
    low = start >= switch
    tolerance = np.where(low, float(rules.temperature_below), float(rules.temperature_above))
    limits = {
        "air_temperature": tolerance + TEMPERATURE_HALF_STEP,
        "relative_humidity": float(rules.humidity)
        + humidity_half_step(temperature, dew_point, formula),
        "wind_from_direction": np.full(len(ascent), float(rules.direction) + DIRECTION_HALF_STEP),
        "wind_speed": np.full(len(ascent), float(rules.speed) + coding.speed_half_step),
    }
    observed = {name: ascent[name] for name in ELEMENTS}
    observed["relative_humidity"] = np.where(
        np.isfinite(dew_point), ascent["relative_humidity"], np.nan
    )
    fast = ascent["wind_speed"] >= float(rules.direction_floor)
    observed["wind_from_direction"] = np.where(fast, ascent["wind_from_direction"], np.nan)
    humid = thermal.select(np.isfinite(thermal["dew_point_depression"]))
    at = {
        "air_temperature": thermal["air_pressure"],
        "relative_humidity": humid["air_pressure"],
        "wind_from_direction": windy["air_pressure"],
        "wind_speed": windy["air_pressure"],
    }
    return _compared(ascent, observed, rebuilt, limits, at)


def _compared(
    ascent: Profile,
    observed: dict[str, FloatArray],
    rebuilt: dict[str, FloatArray],
    limits: dict[str, FloatArray],
    at: dict[str, FloatArray],
) -> Misfit:
    """Compare observed and rebuilt values; an infinite direction is one nobody can know."""
    misfits: dict[str, FloatArray] = {}
    worst: dict[str, Worst | None] = {}
    broken: list[Stretch] = []
    uncovered: dict[str, IntArray] = {}
    judged_limits: dict[str, FloatArray] = {}
    for name in ELEMENTS:
        values = rebuilt[name]
        unknown = np.isinf(values)
        values = np.where(unknown, np.nan, values)
        if name == "wind_from_direction":
            off = np.abs(np.asarray(shortest_turn(values, observed[name])))
            off = np.where(unknown & np.isfinite(observed[name]), 180.0, off)
        else:
            off = np.abs(observed[name] - values)
        misfits[name] = off
        judged_limits[name] = np.where(np.isnan(off), np.nan, limits[name])
        rebuilt[name] = values
        beyond = off > limits[name] + _SLACK
        row_facts = (ascent["air_pressure"], observed[name], values, off, limits[name])
        worst[name] = _worst(name, np.flatnonzero(np.isfinite(off)), row_facts)
        for first, last in stretches(beyond):
            found = _worst(name, np.arange(first, last + 1), row_facts)
            if found is not None:
                broken.append(Stretch(first, last, found))
        uncovered[name] = _uncovered(ascent["air_pressure"], at[name], observed[name], off)
    return Misfit(rebuilt, misfits, judged_limits, worst, tuple(broken), uncovered)


def _worst(name: str, rows: IntArray, facts: tuple[FloatArray, ...]) -> Worst | None:
    """Return the row with the greatest excess among some; the lowest of equals."""
    if len(rows) == 0:
        return None
    pressure, observed, rebuilt, off, limit = facts
    row = int(rows[np.argmax(off[rows] - limit[rows])])
    return Worst(
        name,
        row,
        float(pressure[row]),
        float(observed[row]),
        float(rebuilt[row]),
        float(off[row]),
        float(limit[row]),
    )


def _uncovered(
    pressure: FloatArray, levels: FloatArray, observed: FloatArray, off: FloatArray
) -> IntArray:
    """Return rows with a value where nothing is rebuilt, apart from those at a level itself."""
    missing = np.flatnonzero(np.isfinite(observed) & np.isnan(off))
    at_level = np.isin(np.round(coded_pressure(pressure[missing]), 1), np.round(levels, 1))
    return missing[~at_level].astype(np.int64)
