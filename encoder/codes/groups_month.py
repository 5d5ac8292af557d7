"""The first groups of the monthly forms: the month, and the means at the surface."""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.codes import elements as el
from encoder.codes.declare import Coded, Context, Fault, Figures, Group, Read, as_text
from encoder.codes.groups_facts import KNOT_DAY
from encoder.codes.tables import code_table, meaning
from encoder.rounding import whole

if TYPE_CHECKING:
    from encoder.codes.declare import Value, Values

FROM_MEMORY = "WMO-No. 306 Volume I.1, FM 75, from memory; the figures agree with an archive key"

# --- MMJJJ ------------------------------------------------------------------------------------


def _encode_month(values: Values, context: Context) -> Coded:
    context.wind_unit = "kt" if values.get("wind_unit") == "kt" else "m s-1"
    month, year = el.number(values.get("month")), el.number(values.get("year_figures"))
    if month is None or year is None or not (1 <= month <= 12 and 0 <= year <= 999):
        message = f"Month {values.get('month')} year figures {values.get('year_figures')}."
        return Coded("/////", (Fault("time-not-codable", message),))
    added = KNOT_DAY if context.wind_unit == "kt" else 0
    return Coded(f"{int(month) + added:02d}{int(year):03d}")


def _decode_month(text: str, context: Context) -> Read:
    month, year = text[:2], text[2:]
    values: dict[str, Value] = {"month": None, "year_figures": None, "wind_unit": None}
    faults = []
    knots = month.isdigit() and int(month) > KNOT_DAY
    number = int(month) - (KNOT_DAY if knots else 0) if month.isdigit() else 0
    if 1 <= number <= 12:
        values["month"] = number
        context.wind_unit = "kt" if knots else "m s-1"
        values["wind_unit"] = context.wind_unit
    else:
        message = f"Figures {month} are no month."
        faults.append(Fault("time-impossible", message, "01 to 12, or 51 to 62 for knots"))
    if year.isdigit():
        values["year_figures"] = int(year)
    else:
        faults.append(Fault("time-impossible", f"Figures {year} are no year.", "000 to 999"))
    return Read(values, tuple(faults))


MONTH = Group(
    "MMJJJ",
    "month",
    (
        Figures(
            "MM",
            2,
            "month, plus 50 for winds in knots",
            lambda _f, v, _c: f"month {v.get('month')} of the year, winds in {v.get('wind_unit')}",
        ),
        Figures("JJJ", 3, "last figures of the year", lambda f, _v, _c: f"year ...{f}"),
    ),
    ("month", "year_figures", "wind_unit"),
    _encode_month,
    _decode_month,
    source=FROM_MEMORY,
)

# --- gPPPP ------------------------------------------------------------------------------------


def _encode_surface(values: Values, _context: Context) -> Coded:
    times = values.get("times")
    figure = "/" if times is None else str(times)
    faults: list[Fault] = []
    if figure != "/" and figure not in code_table("1400"):
        faults.append(Fault("value-not-codable", f"Figure {figure!r} for g.", "code table 1400"))
        figure = "/"
    pressure = el.number(values.get("air_pressure"))
    if pressure is None:
        return Coded(f"{figure}////", tuple(faults))
    tenths = whole(pressure * 10.0)
    if not 1000 <= tenths < 11000:
        message = f"A pressure of {pressure:g} hPa cannot be coded; reported as missing."
        faults.append(Fault("value-not-codable", message, "100.0 to 1099.9 hPa"))
        return Coded(f"{figure}////", tuple(faults))
    return Coded(f"{figure}{tenths % 10000:04d}", tuple(faults))


def _decode_surface(text: str, _context: Context) -> Read:
    figure, figures = text[0], text[1:]
    faults: list[Fault] = []
    values: dict[str, Value] = {"times": None, "air_pressure": None}
    if figure in code_table("1400"):
        values["times"] = figure
    elif figure != "/":
        message = f"Figure {figure} is not in code table 1400."
        faults.append(Fault("figures-impossible", message))
    if figures.isdigit():
        tenths = int(figures)
        values["air_pressure"] = (tenths + (10000 if tenths < 1000 else 0)) / 10.0
    elif figures != "////":
        message = f"Figures {figures} give only part of a pressure; read as missing."
        faults.append(Fault("figures-partly-missing", message))
    return Read(values, tuple(faults))


SURFACE = Group(
    "gP0P0P0P0",
    "mean pressure at the surface",
    (
        Figures("g", 1, "hours", lambda f, _v, _c: f"hours: {meaning('1400', f)}", "1400"),
        Figures(
            "P0P0P0P0",
            4,
            "mean pressure in tenths of hPa",
            lambda _f, v, _c: f"mean pressure {as_text(v.get('air_pressure'))} hPa",
        ),
    ),
    ("times", "air_pressure"),
    _encode_surface,
    _decode_surface,
    {"air_pressure": "0.1 hPa"},
    FROM_MEMORY,
)
