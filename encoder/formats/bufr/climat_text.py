"""Monthly means between CLIMAT TEMP as text and BUFR."""

from __future__ import annotations

from calendar import monthrange
from typing import TYPE_CHECKING

import numpy as np

from encoder.climat import MonthlyMeans, climat_temp
from encoder.codes.groups_monthly import LEVELS
from encoder.diagnostics import Result, diagnostic
from encoder.formats.bufr.monthly import TIMES_USED, MonthlyMessage

if TYPE_CHECKING:
    from encoder.codes.content import PartContent, Record
    from encoder.formats.bufr.months import BufrMonth
    from encoder.profile import FloatArray, Station
    from encoder.report import Report
    from encoder.resolution import WindUnit

MONTHLY_FORMS = ("FM 75", "FM 76")
_COUNTS = ("missing_days_temperature", "missing_days_wind")
_OF_TEXT = {
    "missing_days_temperature": "days_without_temperature",
    "missing_days_wind": "days_without_wind",
}
_CENTURY = 2000


def month_of_report(
    report: Report, station: Station, *, call_sign: str | None = None
) -> Result[MonthlyMessage | None]:
    """Return what the BUFR message of a CLIMAT TEMP in text says.

    Parameters
    ----------
    report : Report
        In FM 75 or FM 76.
    station : Station
        Gives the position, and for a land station elevation and number.
    call_sign : str, optional
        Of a ship; the text has none.

    Returns
    -------
    Result of MonthlyMessage or None
        None where the text has no month.

    Notes
    -----
    The text gives three figures of the year; 000 to 899 are taken as 2000 to 2899, 900 to 999 as
    1900 to 1999.
    """
    content = report.parts[0].content
    said = content.identification
    month, figures = said.get("month"), said.get("year_figures")
    if not isinstance(month, int) or not isinstance(figures, int):
        fault = diagnostic("bufr-time-does-not-exist", "The monthly means have no month.")
        return Result(None, (fault,))
    year = figures + (_CENTURY if figures < 900 else _CENTURY - 1000)
    records = content.records("2")
    surface = [record for record in records if record.kind == "monthly-surface"]
    rows = [*surface[:1], *(record for record in records if record.kind == "monthly-level")]
    times = surface[0].get("times") if surface else None

    def column(name: str) -> FloatArray:
        own = _OF_TEXT.get(name, name)
        return np.array([_number(record, own) for record in rows], dtype=np.float64)

    names = ("air_pressure", "geopotential_height", "air_temperature", "wind_from_direction")
    columns = {name: column(name) for name in (*names, "wind_speed", "wind_steadiness", *_COUNTS)}
    columns["dew_point_temperature"] = columns["air_temperature"] - column("dew_point_depression")
    message = MonthlyMessage(
        station,
        year,
        month,
        None,
        monthrange(year, month)[1],
        TIMES_USED.get(str(times)),
        columns,
        np.array([record.kind == "monthly-surface" for record in rows], np.bool_),
        call_sign,
    )
    found = diagnostic("bufr-from-text", f"Made from {report.form}.")
    return Result(message, (found,))


def _number(record: Record, name: str) -> float:
    value = record.get(name)
    return float(value) if isinstance(value, int | float) else np.nan


def content_of_month(month: BufrMonth, *, wind_unit: WindUnit = "m s-1") -> PartContent:
    """Return the CLIMAT TEMP or CLIMAT TEMP SHIP that says what a BUFR message says.

    Parameters
    ----------
    month : BufrMonth
    wind_unit : {"kt", "m s-1"}
    """
    place = month.means.station
    position = (place.latitude, place.longitude) if month.form == "FM 76" else None
    return climat_temp(
        means_of_month(month.means),
        station=place.wmo_index,
        position=position,
        wind_unit=wind_unit,
    )


def means_of_month(message: MonthlyMessage) -> MonthlyMeans:
    """Return monthly means for a CLIMAT TEMP in text; the inverse of ``monthly_message``.

    Parameters
    ----------
    message : MonthlyMessage

    Returns
    -------
    MonthlyMeans
        Surface first, then the levels of the monthly forms; those the message lacks are missing,
        and every day of them counts as missing. The number of soundings is not known: 0.
    """
    own = message.columns
    surface = np.flatnonzero(message.surface)
    places = [int(surface[0]) if len(surface) else None]
    for pressure in LEVELS:
        at = np.flatnonzero(~message.surface & (np.abs(own["air_pressure"] - pressure) < 0.05))
        places.append(int(at[0]) if len(at) else None)

    def column(name: str, lacking: float = np.nan) -> FloatArray:
        values = np.array([np.nan if at is None else float(own[name][at]) for at in places])
        return np.where(np.isnan(values), lacking, values)

    pressures = column("air_pressure")
    pressures[1:] = LEVELS
    figures = {bits: figure for figure, bits in TIMES_USED.items()}
    return MonthlyMeans(
        message.year,
        message.month,
        figures.get(message.times_used or 0),
        pressures,
        column("geopotential_height"),
        column("air_temperature"),
        np.round(column("air_temperature") - column("dew_point_temperature"), 2),
        column("wind_from_direction"),
        column("wind_speed"),
        column("wind_steadiness"),
        column("missing_days_temperature", message.days).astype(np.int64),
        column("missing_days_wind", message.days).astype(np.int64),
        0,
    )
