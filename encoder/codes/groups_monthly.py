"""The groups of the monthly forms: values that run on from one group of five into the next.

HHHH nTnT TTTa DD nv rfrf dvdvdv fvfvfv are twenty figures in four groups: a value may begin in one
group and end in the next. The figures that wait for their end are carried in the context.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.codes import elements as el
from encoder.codes.declare import Coded, Context, Fault, Figures, Group, Read, as_text
from encoder.codes.groups import standard_height
from encoder.codes.groups_month import FROM_MEMORY
from encoder.rounding import whole

if TYPE_CHECKING:
    from encoder.codes.declare import Value, Values

LEVELS = (850.0, 700.0, 500.0, 300.0, 200.0, 150.0, 100.0, 50.0, 30.0, 20.0, 10.0)
"""Levels of the monthly forms in hPa, in the order they are sent; no figure names them."""
MOST_DAYS = 31
MOST_WIND_DAYS = 9
"""nv has one figure: 9 says nine days or more."""
MOST_STEADINESS = 99
HEIGHT_RANGE = 10_000.0
"""HHHH drops the ten thousands of gpm."""

LIKELY = 2000.0
"""A mean height is at most so many gpm off the standard atmosphere (common practice, no source)."""

# --- HHHHnT nTTTTaD Dnvrfrfdv dvdvfvfvfv ------------------------------------------------------


def next_level(context: Context) -> float | None:
    """Return the level that is due, in hPa; None after the last one."""
    return next((level for level in LEVELS if level < context.previous_pressure), None)


def _days(values: Values, name: str, most: int) -> tuple[int | None, tuple[Fault, ...]]:
    days = el.number(values.get(name))
    if days is None:
        return None, ()
    if not 0 <= days <= most:
        fault = Fault("value-not-codable", f"{days:g} for {name}.", f"0 to {most}")
        return None, (fault,)
    return int(days), ()


def _temperature_days(values: Values) -> tuple[str, tuple[Fault, ...]]:
    days, faults = _days(values, "days_without_temperature", MOST_DAYS)
    return ("//" if days is None else f"{days:02d}"), faults


def _encode_height(values: Values, context: Context) -> Coded:
    pressure, height = (
        el.number(values.get("air_pressure")),
        el.number(values.get("geopotential_height")),
    )
    faults: tuple[Fault, ...] = ()
    due = next_level(context)
    if pressure != due:
        message = f"The level {pressure} hPa stands where {due} hPa is due."
        faults = (Fault("level-order", message, f"{due} hPa"),)
    if pressure is not None:
        context.previous_pressure = pressure
    days, more = _temperature_days(values)
    figures = "////"
    if height is not None and height >= 0.0:
        figures = f"{whole(height) % 10000:04d}"
    elif height is not None:
        message = f"A height of {height:g} gpm cannot be coded; reported as missing."
        more = (*more, Fault("value-not-codable", message, "0 gpm and more"))
    return Coded(figures + days[0], (*faults, *more))


def _nearest_height(figures: str, pressure: float) -> float:
    usual = standard_height(pressure)
    candidates = (int(figures) + HEIGHT_RANGE * extra for extra in range(5))
    return min(candidates, key=lambda height: abs(height - usual))


def is_height(text: str, context: Context) -> bool:
    """Tell whether a group can be HHHHnT of the level that is due: missing, or a likely height."""
    pressure = next_level(context)
    if pressure is None or len(text) != 5:
        return False
    if not text[:4].isdigit():
        return text[:4] == "////"
    height = _nearest_height(text[:4], pressure)
    return abs(height - standard_height(pressure)) <= LIKELY


def _decode_height(text: str, context: Context) -> Read:
    pressure, figures = next_level(context), text[:4]
    context.carried = text[4]
    values: dict[str, Value] = {"air_pressure": pressure, "geopotential_height": None}
    if figures.isdigit() and pressure is not None:
        values["geopotential_height"] = _nearest_height(figures, pressure)
        return Read(values)
    if figures == "////":
        return Read(values)
    fault = Fault("figures-partly-missing", f"Figures {figures} give only part of a height.")
    return Read(values, (fault,))


def _whole_or_missing(figures: str, what: str) -> tuple[int | None, tuple[Fault, ...]]:
    if figures.isdigit():
        return int(figures), ()
    if set(figures) <= {"/"}:
        return None, ()
    return None, (Fault("figures-partly-missing", f"Figures {figures} give only part of {what}."),)


def _encode_temperature(values: Values, _context: Context) -> Coded:
    days, _told = _temperature_days(values)
    ttt, faults = el.temperature_to_figures(values.get("air_temperature"))
    dd, more = el.depression_to_figures(values.get("dew_point_depression"))
    return Coded(days[1] + ttt + dd[0], (*faults, *more))


def _decode_temperature(text: str, context: Context) -> Read:
    days, faults = _whole_or_missing(context.carried + text[0], "a number of days")
    context.carried = text[4]
    temperature, more = el.figures_to_temperature(text[1:4])
    values: Values = {"days_without_temperature": days, "air_temperature": temperature}
    if days is not None and days > MOST_DAYS:
        values = {**values, "days_without_temperature": None}
        faults = (Fault("figures-impossible", f"{days} days without temperature.", "00 to 31"),)
    return Read(values, (*faults, *more))


def _encode_steadiness(values: Values, _context: Context) -> Coded:
    dd, _told = el.depression_to_figures(values.get("dew_point_depression"))
    days, faults = _days(values, "days_without_wind", MOST_DAYS)
    figure = "/" if days is None else str(min(days, MOST_WIND_DAYS))
    steadiness = el.number(values.get("wind_steadiness"))
    rr = "//"
    if steadiness is not None and 0.0 <= steadiness <= 100.0:
        rr = f"{min(whole(steadiness), MOST_STEADINESS):02d}"
    elif steadiness is not None:
        message = f"A steadiness of {steadiness:g} % cannot be coded."
        faults = (*faults, Fault("value-not-codable", message, "0 to 100 %"))
    return Coded(dd[1] + figure + rr + _direction(values)[0], faults)


def _decode_steadiness(text: str, context: Context) -> Read:
    figures = context.carried + text[0]
    context.carried = text[4]
    depression: float | None = None
    faults: tuple[Fault, ...] = ()
    if len(figures) == 2:
        depression, faults = el.figures_to_depression(figures)
    days, more = _whole_or_missing(text[1], "a number of days")
    steadiness, others = _whole_or_missing(text[2:4], "a steadiness")
    values: Values = {
        "dew_point_depression": depression,
        "days_without_wind": days,
        "wind_steadiness": None if steadiness is None else float(steadiness),
    }
    return Read(values, (*faults, *more, *others))


def _direction(values: Values) -> str:
    direction = el.number(values.get("wind_from_direction"))
    return "///" if direction is None else f"{whole(direction) % 1000:03d}"


def _encode_wind(values: Values, context: Context) -> Coded:
    speed = el.number(values.get("wind_speed"))
    figures = "///"
    faults: tuple[Fault, ...] = ()
    if speed is not None:
        units = whole(speed / context.coding.speed_step)
        if 0 <= units <= 999:
            figures = f"{units:03d}"
        else:
            message = f"A wind speed of {speed:g} m s-1 cannot be coded; reported as missing."
            faults = (Fault("value-not-codable", message, "0 to 999"),)
    return Coded(_direction(values)[1:] + figures, faults)


def _decode_wind(text: str, context: Context) -> Read:
    direction, faults = _whole_or_missing(context.carried + text[:2], "a wind direction")
    context.carried = ""
    units, more = _whole_or_missing(text[2:], "a wind speed")
    if direction is not None and direction > 360:
        message = f"The figures give a direction of {direction} degrees."
        faults = (Fault("wind-direction-impossible", message, "000 to 360"),)
        direction = None
    values: Values = {
        "wind_from_direction": None if direction is None else float(direction),
        "wind_speed": None if units is None else units * context.coding.speed_step,
    }
    return Read(values, (*faults, *more))


def _say_height(_figures: str, values: Values, _context: Context) -> str:
    pressure, height = values.get("air_pressure"), values.get("geopotential_height")
    return f"{as_text(pressure)} hPa at {as_text(height)} gpm"


HEIGHT = Group(
    "HHHHnT",
    "mean height of a level",
    (
        Figures(
            "HHHH",
            4,
            "mean geopotential height",
            _say_height,
        ),
        Figures("nT", 1, "days without temperature, tens", lambda f, _v, _c: f"tens {f}"),
    ),
    ("air_pressure", "geopotential_height"),
    _encode_height,
    _decode_height,
    {"geopotential_height": "1 gpm"},
    FROM_MEMORY,
)
TEMPERATURE = Group(
    "nTTTTaD",
    "mean temperature of a level",
    (
        Figures(
            "nT",
            1,
            "days without temperature, units",
            lambda _f, v, _c: f"{as_text(v.get('days_without_temperature'))} days without",
        ),
        Figures(
            "TTTa",
            3,
            "mean temperature",
            lambda _f, v, _c: f"temperature {as_text(v.get('air_temperature'))} degC",
            "3931",
        ),
        Figures("D", 1, "dew-point depression, first figure", lambda f, _v, _c: f"begins {f}"),
    ),
    ("days_without_temperature", "air_temperature"),
    _encode_temperature,
    _decode_temperature,
    {"air_temperature": "0.2 K"},
    FROM_MEMORY,
)
STEADINESS = Group(
    "Dnvrfrfdv",
    "mean humidity and steadiness of the wind",
    (
        Figures(
            "D",
            1,
            "dew-point depression, second figure",
            lambda _f, v, _c: f"dew point {as_text(v.get('dew_point_depression'))} K below",
            "0777",
        ),
        Figures(
            "nv",
            1,
            "days without wind, 9 for nine and more",
            lambda _f, v, _c: f"{as_text(v.get('days_without_wind'))} days without wind",
        ),
        Figures(
            "rfrf",
            2,
            "steadiness of the wind in %",
            lambda _f, v, _c: f"steadiness {as_text(v.get('wind_steadiness'))} %",
        ),
        Figures("dv", 1, "direction, first figure", lambda f, _v, _c: f"begins {f}"),
    ),
    ("dew_point_depression", "days_without_wind", "wind_steadiness"),
    _encode_steadiness,
    _decode_steadiness,
    {"wind_steadiness": "1 %"},
    FROM_MEMORY,
)
WIND = Group(
    "dvdvfvfvfv",
    "vector-mean wind",
    (
        Figures(
            "dvdv",
            2,
            "direction, last figures",
            lambda _f, v, _c: f"from {as_text(v.get('wind_from_direction'))} degrees",
        ),
        Figures(
            "fvfvfv",
            3,
            "speed of the vector mean",
            lambda f, _v, c: f"{f} {'knots' if c.wind_unit == 'kt' else 'm/s'}",
        ),
    ),
    ("wind_from_direction", "wind_speed"),
    _encode_wind,
    _decode_wind,
    {"wind_from_direction": "1 degree", "wind_speed": "1 kt or 1 m s-1"},
    FROM_MEMORY,
)
