"""The groups that state facts: identification, time, sounding system, cloud.

Each group is declared once; see :mod:`encoder.codes.declare` for what a declaration holds.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from encoder.codes import elements as el
from encoder.codes.declare import Coded, Context, Fault, Figures, Group, Read
from encoder.codes.groups import fixed, indicator_faults
from encoder.codes.tables import meaning

if TYPE_CHECKING:
    from collections.abc import Callable

    from encoder.codes.declare import Value, Values

    Encode = Callable[[Values, Context], Coded]
    Decode = Callable[[str, Context], Read]

NEW_PRESSURE, NEW_FIGURE = 925.0, "9"
"""The standard level that came last, and its figure Id (code table 1734)."""
KNOT_DAY = 50
"""Added to the day of the month when wind speeds are in knots."""


def _say_table(table: str, what: str, key: str) -> Figures:
    def say(figures: str, _values: Values, _context: Context) -> str:
        return f"{what}: {meaning(table, figures)}"

    return Figures(key, 1, what, say, table)


# --- MiMiMjMj and IIiii -----------------------------------------------------------------------


def opening(letters: str, title: str) -> Group:
    """Declare the group of letters that opens a part."""

    def decode(text: str, _context: Context) -> Read:
        return Read({}, () if text == letters else (Fault("letters-wrong", f"{text}.", letters),))

    return Group(
        "MiMiMjMj",
        title,
        (fixed("MiMiMjMj", letters, title),),
        (),
        lambda _values, _context: Coded(letters),
        decode,
        source="WMO-No. 306 Volume I.1, code table 2582",
        look=re.compile(r"[A-Z]+(?: [A-Z]+)*"),
    )


def _encode_station(values: Values, _context: Context) -> Coded:
    station = values.get("station")
    if isinstance(station, str) and len(station) == 5 and station.isascii() and station.isdigit():
        return Coded(station)
    words = (
        "The station has no WMO number of five figures."
        if station is None
        else f"The station number {station!r} is not five figures."
    )
    return Coded("/////", (Fault("station-unknown", words),))


def _decode_station(text: str, _context: Context) -> Read:
    if text.isdigit():
        return Read({"station": text})
    return Read(
        {"station": None}, (Fault("station-unknown", f"Group {text} is no station.", "IIiii"),)
    )


STATION = Group(
    "IIiii",
    "station",
    (
        Figures("II", 2, "WMO block", lambda f, _v, _c: f"WMO block {f}"),
        Figures("iii", 3, "station of that block", lambda f, _v, _c: f"station {f} of the block"),
    ),
    ("station",),
    _encode_station,
    _decode_station,
)


# --- YYGG with its last figure ----------------------------------------------------------------


def _or_missing(values: Values, name: str) -> str:
    value = values.get(name)
    return "missing" if value is None else str(value)


def _time_to_figures(values: Values) -> tuple[str, tuple[Fault, ...]]:
    day, hour = el.number(values.get("day")), el.number(values.get("hour"))
    if day is None or hour is None or not (1 <= day <= 31 and 0 <= hour <= 23):
        return "////", (
            Fault(
                "time-not-codable",
                f"The day is {_or_missing(values, 'day')}, the hour {_or_missing(values, 'hour')}.",
                "day 1 to 31, hour 0 to 23",
            ),
        )
    added = KNOT_DAY if values.get("wind_unit") == "kt" else 0
    return f"{int(day) + added:02d}{int(hour):02d}", ()


def _figures_to_time(text: str, context: Context) -> tuple[dict[str, Value], tuple[Fault, ...]]:
    yy, gg = text[:2], text[2:4]
    values: dict[str, Value] = {"day": None, "hour": None, "wind_unit": None}
    faults: list[Fault] = []
    if yy.isdigit() and (1 <= int(yy) <= 31 or KNOT_DAY + 1 <= int(yy) <= KNOT_DAY + 31):
        day = int(yy)
        values["wind_unit"] = "kt" if day > KNOT_DAY else "m s-1"
        values["day"] = day - KNOT_DAY if day > KNOT_DAY else day
        context.wind_unit = "kt" if day > KNOT_DAY else "m s-1"
    else:
        faults.append(
            Fault("time-impossible", f"Figures {yy} are no day.", "01 to 31, or 51 to 81 for knots")
        )
    if gg.isdigit() and int(gg) <= 23:
        values["hour"] = int(gg)
    else:
        faults.append(Fault("time-impossible", f"Figures {gg} are no hour.", "00 to 23"))
    return values, tuple(faults)


def _say_day(figures: str, values: Values, _context: Context) -> str:
    unit = "50 added: winds in knots" if values.get("wind_unit") == "kt" else "winds in m/s"
    day = values.get("day")
    return f"day {day} of the month ({unit})" if day is not None else f"{figures} is no day"


_DAY_HOUR = (
    Figures("YY", 2, "day of the month (UTC), plus 50 for winds in knots", _say_day),
    Figures("GG", 2, "hour (UTC)", lambda f, _v, _c: f"{f} UTC"),
)
_TIME_ELEMENTS = ("day", "hour", "wind_unit")


def _time_group(symbol: str, name: str | None, last: Figures) -> Group:
    """Declare YYGG with a last figure that goes under a name, or is always a solidus."""

    def encode(values: Values, context: Context) -> Coded:
        context.wind_unit = "kt" if values.get("wind_unit") == "kt" else "m s-1"
        text, faults = _time_to_figures(values)
        figure = "/" if name is None else str(values.get(name) or "/")
        if len(figure) != 1 or figure not in "0123456789/":
            wrong = Fault("value-not-codable", f"Figure {figure!r} for {name}.", "one figure")
            return Coded(text + "/", (*faults, wrong))
        if name == "last_wind":
            context.last_wind = figure
        return Coded(text + figure, faults)

    def decode(text: str, context: Context) -> Read:
        values, faults = _figures_to_time(text, context)
        figure = text[4]
        if name is None:
            if figure != "/":
                wrong = Fault("figure-not-solidus", f"Group {text} ends with {figure}.", "/")
                faults = (*faults, wrong)
        else:
            values[name] = figure
            if name == "last_wind":
                context.last_wind = figure
                faults = (*faults, *_not_of_the_day(figure, context))
        return Read(values, faults)

    elements = _TIME_ELEMENTS if name is None else (*_TIME_ELEMENTS, name)
    return Group(symbol, "time", (*_DAY_HOUR, last), elements, encode, decode)


def _not_of_the_day(figure: str, context: Context) -> tuple[Fault, ...]:
    """Return the fault of an Id that names 925 hPa where that is no standard level yet."""
    if figure != NEW_FIGURE or context.tenths or NEW_PRESSURE in context.standard.values():
        return ()
    message = f"The figure Id = {figure} names {NEW_PRESSURE:g} hPa, no standard level of that day."
    return (Fault("last-wind-figure", message, "0, 8, 7, 5, 4, 3, 2, 1 or /"),)


TIME_LAST_WIND = _time_group(
    "YYGGId", "last_wind", _say_table("1734", "standard-level winds", "Id")
)
TIME_EQUIPMENT = _time_group("YYGGa4", "wind_equipment", _say_table("0265", "wind equipment", "a4"))
TIME_ONLY = _time_group("YYGG/", None, fixed("/", "/", "always a solidus in part D"))


# --- section 7 --------------------------------------------------------------------------------


def _figure_fields(*fields: tuple[str, int]) -> tuple[Encode, Decode]:
    """Return conversions for a group of plain figure fields, one after another."""

    def encode(values: Values, _context: Context) -> Coded:
        text, faults = "", []
        for name, width in fields:
            value = values.get(name)
            figures = "/" * width if value is None else str(value)
            if len(figures) != width or not set(figures) <= set("0123456789/"):
                faults.append(
                    Fault("value-not-codable", f"{figures!r} for {name}.", f"{width} figures")
                )
                figures = "/" * width
            text += figures
        return Coded(text, tuple(faults))

    def decode(text: str, _context: Context) -> Read:
        values: dict[str, Value] = {}
        faults: list[Fault] = []
        place = 0
        for name, width in fields:
            figures = text[place : place + width]
            place += width
            if set(figures) == {"/"}:
                values[name] = None
            elif figures.isdigit():
                values[name] = figures
            else:
                values[name] = None
                faults.append(
                    Fault("figures-partly-missing", f"Figures {figures} for {name}.", "figures")
                )
        return Read(values, tuple(faults))

    return encode, decode


def _say_system(table: str, what: str, symbol: str, width: int) -> Figures:
    def say(figures: str, _values: Values, _context: Context) -> str:
        return f"{what}: {meaning(table, figures)}"

    return Figures(symbol, width, what, say, table)


_SYSTEM_ENCODE, _SYSTEM_DECODE = _figure_fields(
    ("correction", 1), ("radiosonde_type", 2), ("tracking", 2)
)
SYSTEM = Group(
    "srrarasasa",
    "sounding system",
    (
        _say_system("3849", "radiation correction", "sr", 1),
        _say_system("3685", "radiosonde", "rara", 2),
        _say_system("3872", "tracking", "sasa", 2),
    ),
    ("correction", "radiosonde_type", "tracking"),
    _SYSTEM_ENCODE,
    _SYSTEM_DECODE,
)


def _encode_release(values: Values, _context: Context) -> Coded:
    hour, minute = el.number(values.get("release_hour")), el.number(values.get("release_minute"))
    if hour is None or minute is None:
        return Coded("8////")
    if not (0 <= hour <= 23 and 0 <= minute <= 59):
        return Coded("8////", (Fault("time-not-codable", f"Release at {hour}:{minute}."),))
    return Coded(f"8{int(hour):02d}{int(minute):02d}")


def _decode_release(text: str, _context: Context) -> Read:
    missing: Values = {"release_hour": None, "release_minute": None}
    wrong = indicator_faults(text, "8")
    if text[1:] == "////":
        return Read(missing, wrong)
    if text[1:].isdigit() and int(text[1:3]) <= 23 and int(text[3:]) <= 59:
        return Read({"release_hour": int(text[1:3]), "release_minute": int(text[3:])}, wrong)
    return Read(missing, (Fault("time-impossible", f"Group {text} is no time.", "8GGgg"),))


RELEASE = Group(
    "8GGgg",
    "time of release",
    (
        fixed("8", "8", "time of release follows"),
        Figures("GG", 2, "hour (UTC)", lambda f, _v, _c: f"hour {f} UTC"),
        Figures("gg", 2, "minute", lambda f, _v, _c: f"minute {f}"),
    ),
    ("release_hour", "release_minute"),
    _encode_release,
    _decode_release,
    {"release_minute": "1 minute"},
)


def _encode_sea(values: Values, _context: Context) -> Coded:
    figures, faults = el.sea_temperature_to_figures(values.get("sea_surface_temperature"))
    return Coded("9" + figures, faults)


def _decode_sea(text: str, _context: Context) -> Read:
    temperature, faults = el.figures_to_sea_temperature(text[1:])
    return Read({"sea_surface_temperature": temperature}, (*indicator_faults(text, "9"), *faults))


def _say_sea(_figures: str, values: Values, _context: Context) -> str:
    temperature = values.get("sea_surface_temperature")
    return "not reported" if temperature is None else f"{temperature} degC"


SEA_TEMPERATURE = Group(
    "9snTwTwTw",
    "sea-surface temperature",
    (
        fixed("9", "9", "sea-surface temperature follows"),
        Figures("snTwTwTw", 4, "sign and tenths of a degree", _say_sea, "3845"),
    ),
    ("sea_surface_temperature",),
    _encode_sea,
    _decode_sea,
    {"sea_surface_temperature": "0.1 K"},
)


# --- section 8 --------------------------------------------------------------------------------

_CLOUD_FIELDS = (
    ("amount", "Nh", "2700", "amount of low (or middle) cloud"),
    ("low", "CL", "0513", "low cloud"),
    ("base", "h", "1600", "height of the base"),
    ("middle", "CM", "0515", "middle cloud"),
    ("high", "CH", "0509", "high cloud"),
)
_CLOUD_ENCODE, _CLOUD_DECODE = _figure_fields(
    *((f"cloud_{name}", 1) for name, _symbol, _table, _what in _CLOUD_FIELDS)
)
CLOUD = Group(
    "NhCLhCMCH",
    "cloud",
    tuple(_say_table(table, what, symbol) for _name, symbol, table, what in _CLOUD_FIELDS),
    tuple(f"cloud_{name}" for name, _symbol, _table, _what in _CLOUD_FIELDS),
    _CLOUD_ENCODE,
    _CLOUD_DECODE,
)
