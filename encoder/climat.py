"""Monthly means of upper-air data, and what a CLIMAT TEMP says of them."""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.codes.content import PartContent, Record, SectionContent
from encoder.codes.groups_monthly import LEVELS
from encoder.codes.groups_position import quadrant_of
from encoder.codes.monthly import MONTHLY
from encoder.levels.table import LevelKind
from encoder.physics import wind_components, wind_from_components
from encoder.profile import frozen
from encoder.rounding import round_half_away

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.codes.declare import Value
    from encoder.levels.table import Levels
    from encoder.profile import FloatArray, IntArray
    from encoder.resolution import WindUnit

_MEANS = (
    "air_pressure",
    "geopotential_height",
    "air_temperature",
    "dew_point_depression",
    "wind_from_direction",
    "wind_speed",
    "wind_steadiness",
)
_TIMES = {
    (0,): "1",
    (12,): "2",
    (0, 12): "3",
    (6,): "4",
    (18,): "5",
    (6, 18): "6",
    (0, 6, 12, 18): "9",
}
"""Code table 1400: figure g by the hours of the soundings."""


@dataclass(frozen=True, slots=True)
class MonthlySounding:
    """One sounding of a month.

    Attributes
    ----------
    day, hour : int
        Nominal time, UTC.
    levels : Levels
        Selected from a flight, or read from a report.
    """

    day: int
    hour: int
    levels: Levels


@dataclass(frozen=True, slots=True)
class MonthlyMeans:
    """Means of a month, the surface first, then the levels of the monthly forms.

    Attributes
    ----------
    year, month : int
    times : str or None
        Figure g of code table 1400; None where the hours have no figure.
    air_pressure, geopotential_height, air_temperature, dew_point_depression : ndarray
        Arithmetic means, shape (level,), in hPa, gpm, degC and K; NaN where nothing was observed.
        The pressure of the levels is their own.
    wind_from_direction, wind_speed : ndarray, shape (level,)
        Of the mean vector, degrees and m s-1.
    wind_steadiness : ndarray, shape (level,)
        Speed of the mean vector in % of the mean speed; NaN where every wind was calm.
    days_without_temperature, days_without_wind : ndarray of int, shape (level,)
        Days of the month on which no sounding has the value.
    soundings : int
        How many went into the means.
    """

    year: int
    month: int
    times: str | None
    air_pressure: FloatArray
    geopotential_height: FloatArray
    air_temperature: FloatArray
    dew_point_depression: FloatArray
    wind_from_direction: FloatArray
    wind_speed: FloatArray
    wind_steadiness: FloatArray
    days_without_temperature: IntArray
    days_without_wind: IntArray
    soundings: int


def monthly_means(soundings: Sequence[MonthlySounding], *, year: int, month: int) -> MonthlyMeans:
    """Return the means of a month.

    Parameters
    ----------
    soundings : sequence of MonthlySounding
        Every sounding of the month at the hours that are reported.
    year, month : int

    Returns
    -------
    MonthlyMeans

    Raises
    ------
    ValueError
        If a sounding has a day that the month does not have.

    Notes
    -----
    A value is the mean of what was observed, however little; the days missing tell how much that
    was. The wind is averaged as a vector; the dew-point depression, not the dew point, is averaged
    (WMO-No. 306 Volume I.1, FM 75, from memory).
    """
    days = calendar.monthrange(year, month)[1]
    for item in soundings:
        if not 1 <= item.day <= days:
            msg = f"Expected a day from 1 to {days} of {year}-{month:02d}, got {item.day}."
            raise ValueError(msg)
    columns: dict[str, list[float]] = {name: [] for name in _MEANS}
    without_heat, without_wind = [], []
    for place in (None, *LEVELS):
        rows = np.array([_row(item.levels, place) for item in soundings], dtype=np.float64)
        rows = rows.reshape(-1, 6)
        dates = np.array([item.day for item in soundings], dtype=np.int64)
        for name, value in _means_of_level(rows).items():
            columns[name].append(value)
        if place is not None:
            columns["air_pressure"][-1] = place
        without_heat.append(days - _observed_days(dates, rows[:, 2]))
        without_wind.append(days - _observed_days(dates, rows[:, 4] + rows[:, 5]))
    hours = tuple(sorted({item.hour for item in soundings}))
    return MonthlyMeans(
        year,
        month,
        _TIMES.get(hours),
        **{name: frozen(values) for name, values in columns.items()},
        days_without_temperature=frozen(without_heat, np.int64),
        days_without_wind=frozen(without_wind, np.int64),
        soundings=len(soundings),
    )


def _row(levels: Levels, pressure: float | None) -> list[float]:
    """Return pressure, height, temperature, depression and wind components at one level."""
    if pressure is None:
        found = levels.having(LevelKind.SURFACE)
    else:
        standard = levels.having(LevelKind.STANDARD)
        found = standard[levels["air_pressure"][standard] == pressure]
    if len(found) == 0:
        return [np.nan] * 6
    place = int(found[0])
    u, v = wind_components(levels["wind_from_direction"][place], levels["wind_speed"][place])
    return [*(float(levels[name][place]) for name in _MEANS[:4]), float(u), float(v)]


def _observed_days(dates: IntArray, values: FloatArray) -> int:
    return len(np.unique(dates[np.isfinite(values)]))


def _mean(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else np.nan


def _means_of_level(rows: FloatArray) -> dict[str, float]:
    u, v = rows[:, 4], rows[:, 5]
    blown = np.isfinite(u) & np.isfinite(v)
    mean_u, mean_v = _mean(u[blown]), _mean(v[blown])
    direction, speed = wind_from_components(mean_u, mean_v)
    scalar = _mean(np.hypot(u[blown], v[blown]))
    steadiness = 100.0 * float(speed) / scalar if scalar > 0.0 else np.nan
    values = (
        *(_mean(rows[:, column]) for column in range(4)),
        float(direction),
        float(speed),
        min(steadiness, 100.0),
    )
    return dict(zip(_MEANS, values, strict=True))


def climat_temp(
    means: MonthlyMeans,
    *,
    station: str | None = None,
    position: tuple[float, float] | None = None,
    wind_unit: WindUnit = "m s-1",
) -> PartContent:
    """Return what a CLIMAT TEMP says, or a CLIMAT TEMP SHIP where a position is given.

    Parameters
    ----------
    means : MonthlyMeans
    station : str, optional
        IIiii of a land station.
    position : tuple of float, optional
        Latitude and longitude of an ocean weather station in degrees.
    wind_unit : {"kt", "m s-1"}

    Returns
    -------
    PartContent
        To be coded by :func:`encoder.report.encode_content`.
    """
    first: dict[str, Value] = {
        "month": means.month,
        "year_figures": means.year % 1000,
        "wind_unit": wind_unit,
    }
    if position is None:
        first["station"] = station
    else:
        latitude, longitude = position
        first["latitude"] = round_half_away(latitude, 0.1)
        first["longitude"] = round_half_away(longitude, 0.1)
        first["quadrant"] = quadrant_of(latitude, longitude)
    surface: dict[str, Value] = {"times": means.times}
    surface |= {name: _known(getattr(means, name)[0]) for name in ("air_pressure", *_MEANS[2:4])}
    records = [Record("monthly-surface", surface)]
    for place in range(1, len(means.air_pressure)):
        values = {name: _known(getattr(means, name)[place]) for name in _MEANS}
        values["days_without_temperature"] = int(means.days_without_temperature[place])
        values["days_without_wind"] = int(means.days_without_wind[place])
        records.append(Record("monthly-level", values))
    form = "FM 75" if position is None else "FM 76"
    return PartContent(
        form,
        MONTHLY,
        (
            SectionContent("1", (Record("identification", first),)),
            SectionContent("2", tuple(records)),
        ),
    )


def _known(value: float) -> Value:
    return float(value) if np.isfinite(value) else None
