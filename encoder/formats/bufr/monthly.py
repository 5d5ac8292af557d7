"""Monthly means (CLIMAT TEMP and CLIMAT TEMP SHIP) in BUFR: template 3 09 054."""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import Diagnostic, Result, diagnostic, has_errors
from encoder.formats.bufr.content import Origin, check_columns, check_values
from encoder.formats.bufr.facts import in_order
from encoder.formats.bufr.rows import coded_wind
from encoder.formats.bufr.templates import (
    MONTHLY_BEFORE,
    MONTHLY_LEVEL,
    MONTHLY_NUMBER,
    MONTHLY_SUB_CATEGORY,
    OLD_VERSION,
)
from encoder.formats.bufr.write import code_message

if TYPE_CHECKING:
    from encoder.climat import MonthlyMeans
    from encoder.formats.bufr.facts import Values
    from encoder.formats.bufr.subset import Subset
    from encoder.profile import FloatArray, Station

MEAN, VECTOR_MEAN = 4.0, 32.0
"""Figures of code table 0 08 023."""
HEAT_MISSING, WIND_MISSING = 2.0, 9.0
"""Figures of code table 0 08 050: temperature, wind."""
OLD_SURFACE, OLD_STANDARD = 64.0, 32.0
"""Bits of flag table 0 08 001."""
TIMES_USED = {"1": 32, "2": 8, "3": 40, "4": 16, "5": 4, "6": 20, "9": 60}
"""Figure g of code table 1400 to the bits of flag table 0 04 059: 00, 06, 12 and 18 UTC from the
most significant of six (from memory)."""
ZERO_CELSIUS = 273.15
MOST_LEVELS = 254


@dataclass(frozen=True, slots=True, eq=False)
class MonthlyMessage:
    """Means of one month at the standard levels.

    Attributes
    ----------
    station : Station
    year, month : int
    hour : int or None
        Nominal hour of the soundings.
    days : int
        Days of the month.
    times_used : int or None
        Bits of flag table 0 04 059: which hours the means were computed from.
    columns : mapping of str to ndarray, each of shape (level,)
        ``air_pressure``, ``geopotential_height``, ``air_temperature``, ``dew_point_temperature``,
        ``wind_from_direction``, ``wind_speed`` (of the vector mean), ``wind_steadiness`` (%),
        ``missing_days_temperature``, ``missing_days_wind``; NaN for missing.
    surface : ndarray of bool, shape (level,)
        Which level is the surface; the others are standard levels.
    call_sign : str or None
        Of a ship.
    """

    station: Station
    year: int
    month: int
    hour: int | None
    days: int
    times_used: int | None
    columns: dict[str, FloatArray]
    surface: np.ndarray = field(default_factory=lambda: np.zeros(0, np.bool_))
    call_sign: str | None = None


def monthly_message(
    means: MonthlyMeans, station: Station, *, call_sign: str | None = None
) -> MonthlyMessage:
    """Return what the message of monthly means says.

    Parameters
    ----------
    means : MonthlyMeans
        From :func:`encoder.climat.monthly_means`.
    station : Station
    call_sign : str, optional
        Of a ship.
    """
    surface = np.zeros(len(means.air_pressure), np.bool_)
    surface[:1] = True
    return MonthlyMessage(
        station,
        means.year,
        means.month,
        None,
        monthrange(means.year, means.month)[1],
        TIMES_USED.get(means.times or ""),
        {
            "air_pressure": means.air_pressure,
            "geopotential_height": means.geopotential_height,
            "air_temperature": means.air_temperature,
            "dew_point_temperature": means.air_temperature - means.dew_point_depression,
            "wind_from_direction": means.wind_from_direction,
            "wind_speed": means.wind_speed,
            "wind_steadiness": means.wind_steadiness,
            "missing_days_temperature": means.days_without_temperature.astype(np.float64),
            "missing_days_wind": means.days_without_wind.astype(np.float64),
        },
        surface,
        call_sign,
    )


def write_monthly(means: MonthlyMessage, *, origin: Origin | None = None) -> Result[bytes | None]:
    """Code the monthly means of a station.

    Parameters
    ----------
    means : MonthlyMeans
    origin : Origin, optional

    Returns
    -------
    Result of bytes or None
        None where a value cannot be represented.

    Notes
    -----
    WMO-No. 306 Volume I.2, BUFR Table D, 3 09 054. Section 1 has the first day of the month.
    """
    before = in_order(MONTHLY_BEFORE, _before(means))
    columns = _columns(means)
    found: list[Diagnostic] = check_values(zip(MONTHLY_BEFORE, before, strict=True))
    found += check_columns("level", MONTHLY_LEVEL, columns, MOST_LEVELS)
    if has_errors(found):
        return Result(None, tuple(found))
    message = code_message(
        [MONTHLY_NUMBER],
        list(zip(MONTHLY_BEFORE, before, strict=True)),
        ((MONTHLY_LEVEL, columns),),
        version=OLD_VERSION,
        sub_category=MONTHLY_SUB_CATEGORY["ship" if means.call_sign else "land"],
        nominal_time=datetime(means.year, means.month, 1, means.hour or 0, tzinfo=UTC),
        origin=origin or Origin(),
    )
    return Result(message, tuple(found))


def _before(means: MonthlyMessage) -> Values:
    station = means.station
    height = None if np.isnan(station.elevation) else station.elevation
    values: Values = {
        "call_sign": means.call_sign,
        "year": float(means.year),
        "month": float(means.month),
        "day": 1.0,
        "hour": None if means.hour is None else float(means.hour),
        "minute": None if means.hour is None else 0.0,
        "latitude": station.latitude,
        "longitude": station.longitude,
        "ground_height": height,
        "barometer_height": height,
        "release_height": height,
        "days_in_period": float(means.days),
        "times_used": None if means.times_used is None else float(means.times_used),
    }
    if station.wmo_index is not None:
        values["block_number"] = float(station.wmo_index[:2])
        values["station_number"] = float(station.wmo_index[2:])
    return values


def _columns(means: MonthlyMessage) -> dict[str, FloatArray]:
    """Return the levels by element name; two-dimensional where an element comes more than once."""
    own = means.columns
    direction, speed = coded_wind(own["wind_from_direction"], own["wind_speed"])
    count = len(own["air_pressure"])

    def repeated(*values: float) -> FloatArray:
        return np.tile(np.array(values), (count, 1))

    surface = means.surface if len(means.surface) else np.zeros(count, np.bool_)
    missing = np.stack([own["missing_days_temperature"], own["missing_days_wind"]], axis=1)
    return {
        "old_significance": np.where(surface, OLD_SURFACE, OLD_STANDARD),
        "statistics": repeated(MEAN, VECTOR_MEAN, np.nan),
        "pressure": own["air_pressure"] * 100.0,
        "height": own["geopotential_height"],
        "temperature": own["air_temperature"] + ZERO_CELSIUS,
        "dew_point": own["dew_point_temperature"] + ZERO_CELSIUS,
        "wind_direction": direction,
        "wind_speed": speed,
        "wind_steadiness": own["wind_steadiness"],
        "missing_value_qualifier": repeated(HEAT_MISSING, WIND_MISSING),
        "missing_days": missing,
    }


def read_monthly(subset: Subset) -> Result[MonthlyMessage | None]:
    """Return the monthly means a subset holds; inverse of :func:`write_monthly`.

    Parameters
    ----------
    subset : Subset

    Returns
    -------
    Result of MonthlyMessage or None
        None where the subset has none.
    """
    from encoder.profile import Station

    block = next((one for one in subset.blocks() if "008023" in one.fxys), None)
    if block is None:
        return Result(None, (diagnostic("bufr-no-sounding", "There are no monthly means."),))

    def column(fxy: str, turn: int = 0) -> FloatArray:
        places = [place for place, own in enumerate(block.fxys) if own == fxy]
        if turn >= len(places):
            return np.full(len(block), np.nan)
        return block.values[:, places[turn]]

    def number(fxy: str) -> float:
        value = subset.first(fxy)
        return float(value) if isinstance(value, int | float) else float("nan")

    def whole(fxy: str) -> int | None:
        value = number(fxy)
        return None if np.isnan(value) else int(value)

    year, month, days = whole("004001"), whole("004002"), whole("004023")
    if year is None or month is None or days is None:
        fault = diagnostic("bufr-time-does-not-exist", "The monthly means have no month.")
        return Result(None, (fault,))
    in_block, in_station = whole("001001"), whole("001002")
    known = in_block is not None and in_station is not None
    index = f"{in_block:02d}{in_station:03d}" if known else None
    sign = subset.first("001011")
    station = Station(
        index or str(sign), number("005001"), number("006001"), number("007030"), index
    )
    means = MonthlyMessage(
        station,
        year,
        month,
        whole("004004"),
        days,
        whole("004059"),
        {
            "air_pressure": np.round(column("007004") / 100.0, 3),
            "geopotential_height": column("010009"),
            "air_temperature": np.round(column("012101") - ZERO_CELSIUS, 2),
            "dew_point_temperature": np.round(column("012103") - ZERO_CELSIUS, 2),
            "wind_from_direction": column("011001"),
            "wind_speed": column("011002"),
            "wind_steadiness": column("011019"),
            "missing_days_temperature": column("008020"),
            "missing_days_wind": column("008020", 1),
        },
        column("008001") == OLD_SURFACE,
        sign if isinstance(sign, str) else None,
    )
    return Result(means)
