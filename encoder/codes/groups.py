"""The groups that describe a level: pressure, height, temperature, wind and shear.

Each group is declared once; see :mod:`encoder.codes.declare` for what a declaration holds.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from encoder.codes import elements as el
from encoder.codes.declare import Coded, Context, Fault, Figures, Group, Read, as_text
from encoder.codes.tables import code_values

if TYPE_CHECKING:
    from encoder.codes.declare import Value, Values

NUMBERS = tuple(f"{figure}{figure}" for figure in range(1, 10))
"""Level numbers 11 to 99; after 99 comes 11 again."""


def next_number(number: str) -> str:
    """Return the level number nn that follows; "11" after "00" and after "99"."""
    return "11" if number in ("00", "99") else f"{int(number) + 11:02d}"


# --- sentences --------------------------------------------------------------------------------


def say_pressure(figures: str, values: Values, _context: Context) -> str:
    """Return the sentence for PPP."""
    pressure = values.get("air_pressure")
    return "pressure not reported" if pressure is None else f"pressure {as_text(pressure)} hPa"


def _say_temperature(figures: str, values: Values, _context: Context) -> str:
    temperature = values.get("air_temperature")
    if temperature is None:
        return "temperature not reported"
    parity = "odd last figure: below zero" if int(figures[2]) % 2 else "even last figure: not below"
    return f"temperature {temperature} degC ({parity})"


def _say_depression(figures: str, values: Values, _context: Context) -> str:
    depression = values.get("dew_point_depression")
    if depression is None:
        return "humidity not reported"
    scale = "tenths" if int(figures) <= 50 else "whole degrees plus 50"
    return f"dew point {depression} K below the temperature ({scale})"


def _say_direction(figures: str, values: Values, _context: Context) -> str:
    direction, speed = values.get("wind_from_direction"), values.get("wind_speed")
    if direction is None:
        return "wind direction not reported"
    if direction == 0.0 and speed == 0.0:
        return "calm"
    five = ", the 5 carried by the next figures" if float(direction) % 10 == 5.0 else ""
    return f"wind from {as_text(direction)} degrees{five}"


def _say_speed(figures: str, values: Values, context: Context) -> str:
    speed = values.get("wind_speed")
    if speed is None:
        return "wind speed not reported"
    units = int(figures)
    odd = " (500 added for the odd 5 degrees)" if units >= 500 else ""
    word = "knots" if context.wind_unit == "kt" else "m/s"
    return f"{units % 500} {word}{odd}"


def _say_shear(side: str, name: str) -> Figures:
    def say(figures: str, values: Values, context: Context) -> str:
        if values.get(name) is None:
            return f"shear 1 km {side} not reported"
        word = "knots" if context.wind_unit == "kt" else "m/s"
        return f"wind 1 km {side} differs by {int(figures)} {word} (vector)"

    symbol = "vbvb" if side == "below" else "vava"
    return Figures(symbol, 2, f"vertical wind shear of the layer 1 km {side}", say)


def _say_height(figures: str, values: Values, _context: Context) -> str:
    height, pressure = values.get("geopotential_height"), values.get("air_pressure")
    if height is None:
        return "height not reported"
    tens = pressure is not None and float(pressure) <= el.HEIGHT_IN_TENS_FROM
    how = "tens of metres" if tens else "metres"
    return f"height {as_text(height)} gpm ({how}, higher figures dropped)"


def indicator_faults(text: str, *indicators: str) -> tuple[Fault, ...]:
    """Return a fault where a group begins with none of its indicator figures."""
    if text.startswith(indicators):
        return ()
    expected = " or ".join(indicators)
    return (Fault("indicator-wrong", f"Group {text} does not begin with {expected}.", expected),)


def fixed(symbol: str, text: str, sentence: str) -> Figures:
    """Return figures that always read the same and say one fixed thing."""
    return Figures(symbol, len(text), sentence, lambda _f, _v, _c: sentence)


_PPP = Figures("PPP", 3, "air pressure", say_pressure)

# --- pressure groups with an indicator --------------------------------------------------------


def _pressure_group(symbol: str, indicator: str, title: str, source: str) -> Group:
    """Declare a group of an indicator figure pair and PPP."""

    def encode(values: Values, context: Context) -> Coded:
        figures, faults = el.pressure_to_figures(values.get("air_pressure"), context)
        return Coded(indicator + figures, faults)

    def decode(text: str, context: Context) -> Read:
        pressure, faults = el.figures_to_pressure(text[2:], context)
        return Read({"air_pressure": pressure}, (*indicator_faults(text, indicator), *faults))

    return Group(
        symbol,
        title,
        (fixed(indicator, indicator, title), _PPP),
        ("air_pressure",),
        encode,
        decode,
        {"air_pressure": "1 hPa (0.1 hPa in parts C and D)"},
        source,
    )


SURFACE_PRESSURE = _pressure_group(
    "99PoPoPo", "99", "surface level", "WMO-No. 306 Volume I.1, 35.2.2"
)
TROPOPAUSE_PRESSURE = _pressure_group(
    "88PtPtPt", "88", "tropopause", "WMO-No. 306 Volume I.1, 35.2.3"
)


def _encode_maximum_wind(values: Values, context: Context) -> Coded:
    figures, faults = el.pressure_to_figures(values.get("air_pressure"), context)
    return Coded(("66" if values.get("top_of_wind_sounding") else "77") + figures, faults)


def _decode_maximum_wind(text: str, context: Context) -> Read:
    pressure, faults = el.figures_to_pressure(text[2:], context)
    values: dict[str, Value] = {
        "air_pressure": pressure,
        "top_of_wind_sounding": text[:2] == "66",
    }
    return Read(values, (*indicator_faults(text, "77", "66"), *faults))


def _say_maximum_wind(figures: str, _values: Values, _context: Context) -> str:
    if figures == "66":
        return "greatest wind, at the top of the wind sounding"
    return "maximum wind, within the sounding"


MAXIMUM_WIND_PRESSURE = Group(
    "77PmPmPm",
    "level of maximum wind",
    (Figures("77", 2, "77 within the sounding, 66 at its top", _say_maximum_wind), _PPP),
    ("air_pressure", "top_of_wind_sounding"),
    _encode_maximum_wind,
    _decode_maximum_wind,
    {"air_pressure": "1 hPa (0.1 hPa in parts C and D)"},
    "WMO-No. 306 Volume I.1, 35.2.4",
)


def _encode_numbered(values: Values, context: Context) -> Coded:
    figures, faults = el.pressure_to_figures(values.get("air_pressure"), context)
    return Coded(context.number + figures, faults)


def _decode_numbered(text: str, context: Context) -> Read:
    pressure, faults = el.figures_to_pressure(text[2:], context)
    if text[:2] != context.number:
        faults = (
            Fault(
                "level-number",
                f"Group {text} carries level number {text[:2]}.",
                context.number,
            ),
            *faults,
        )
    return Read({"air_pressure": pressure}, faults)


def _say_number(figures: str, values: Values, _context: Context) -> str:
    if figures == "00":
        return "surface level"
    if values.get("air_pressure") is None:
        return f"level number {figures}: a layer without data lies here"
    return f"level number {figures}"


NUMBERED_PRESSURE = Group(
    "nnPPP",
    "significant level",
    (Figures("nn", 2, "level number: 00 surface, then 11 to 99 in turn", _say_number), _PPP),
    ("air_pressure",),
    _encode_numbered,
    _decode_numbered,
    {"air_pressure": "1 hPa (0.1 hPa in parts C and D)"},
    "WMO-No. 306 Volume I.1, 35.3.1",
)


# --- standard level with height ---------------------------------------------------------------


def _encode_standard(values: Values, context: Context) -> Coded:
    pressure = el.number(values.get("air_pressure"))
    for figures, standard in context.standard.items():
        if pressure == standard:
            height, faults = el.height_to_figures(values.get("geopotential_height"), pressure)
            return Coded(figures + height, faults)
    return Coded(
        "/////",
        (Fault("not-a-standard-level", f"{pressure} hPa is no standard level of this part."),),
    )


def _decode_standard(text: str, context: Context) -> Read:
    pressure = context.standard.get(text[:2])
    figures = text[2:]
    if pressure is None:
        fault = Fault(
            "not-a-standard-level",
            f"Figures {text[:2]} name no standard level of this part.",
            ", ".join(context.standard),
        )
        return Read({"air_pressure": None, "geopotential_height": None}, (fault,))
    values: dict[str, Value] = {"air_pressure": pressure, "geopotential_height": None}
    if figures == "///":
        return Read(values)
    if not figures.isdigit():
        fault = Fault(
            "figures-partly-missing",
            f"Figures {figures} give only part of a height.",
            "all figures, or all solidi",
        )
        return Read(values, (fault,))
    values["geopotential_height"] = nearest_height(figures, pressure)
    return Read(values)


def nearest_height(figures: str, pressure: float) -> float:
    """Return the candidate height nearest to the standard atmosphere; a first guess."""
    return el.nearest_candidate(figures, pressure, standard_height(pressure))


@cache
def standard_height(pressure: float) -> float:
    """Return the height of a standard level in the standard atmosphere, in gpm."""
    from encoder.physics import standard_atmosphere_height

    return float(standard_atmosphere_height(pressure))


def _say_standard(figures: str, values: Values, _context: Context) -> str:
    return f"standard level {as_text(values.get('air_pressure'))} hPa"


STANDARD_LEVEL = Group(
    "PPhhh",
    "standard level and its geopotential height",
    (
        Figures("PP", 2, "standard isobaric surface", _say_standard),
        Figures("hhh", 3, "geopotential height", _say_height),
    ),
    ("air_pressure", "geopotential_height"),
    _encode_standard,
    _decode_standard,
    {"geopotential_height": "1 gpm below 500 hPa, 10 gpm from 500 hPa upward"},
    "WMO-No. 306 Volume I.1, 35.2.2",
)


# --- temperature and humidity -----------------------------------------------------------------


def _encode_temperature(values: Values, _context: Context) -> Coded:
    temperature = values.get("air_temperature")
    ttt, faults = el.temperature_to_figures(temperature)
    dd, more = el.depression_to_figures(values.get("dew_point_depression"))
    if ttt == "///" and dd != "//":
        lone = Fault(
            "humidity-without-temperature",
            "A dew-point depression without a temperature cannot be coded.",
        )
        return Coded("/////", (*faults, lone))
    return Coded(ttt + dd, (*faults, *more))


def _decode_temperature(text: str, _context: Context) -> Read:
    figures, dry = text[:3], code_values("0777").get(text[3:])
    if dry is not None and figures.isdigit():
        warmth = el.temperatures_by_figures()[figures]
        return Read({"air_temperature": warmth, "dew_point_depression": dry})
    temperature, faults = el.figures_to_temperature(text[:3])
    depression, more = el.figures_to_depression(text[3:])
    if text[:3] == "///" and text[3:] != "//":
        more = (
            *more,
            Fault(
                "humidity-without-temperature",
                f"Group {text} gives a dew-point depression without a temperature.",
                "/////",
            ),
        )
    return Read(
        {"air_temperature": temperature, "dew_point_depression": depression}, (*faults, *more)
    )


TEMPERATURE = Group(
    "TTTaDD",
    "temperature and dew-point depression",
    (
        Figures("TTTa", 3, "air temperature", _say_temperature, "3931"),
        Figures("DD", 2, "dew-point depression over water", _say_depression, "0777"),
    ),
    ("air_temperature", "dew_point_depression"),
    _encode_temperature,
    _decode_temperature,
    {
        "air_temperature": "0.2 K (the parity of the last figure is the sign)",
        "dew_point_depression": "0.1 K to 5.0 K, 1 K above",
    },
    "WMO-No. 306 Volume I.1, 35.2.2 and 35.3.1",
)


# --- wind -------------------------------------------------------------------------------------


def _encode_wind(values: Values, context: Context) -> Coded:
    text, faults = el.wind_to_figures(
        values.get("wind_from_direction"), values.get("wind_speed"), context
    )
    return Coded(text, faults)


def _decode_wind(text: str, context: Context) -> Read:
    direction, speed, faults = el.figures_to_wind(text, context)
    return Read({"wind_from_direction": direction, "wind_speed": speed}, faults)


WIND = Group(
    "ddfff",
    "wind",
    (
        Figures("dd", 2, "direction in tens of degrees", _say_direction, "0877"),
        Figures("fff", 3, "speed, plus 500 for the odd 5 degrees", _say_speed),
    ),
    ("wind_from_direction", "wind_speed"),
    _encode_wind,
    _decode_wind,
    {"wind_from_direction": "5 degrees", "wind_speed": "1 kt or 1 m s-1"},
    "WMO-No. 306 Volume I.1, 35.2.2 and 35.3.2",
)


def _encode_shear(values: Values, context: Context) -> Coded:
    below, faults = el.shear_to_figures(values.get("wind_shear_below"), context)
    above, more = el.shear_to_figures(values.get("wind_shear_above"), context)
    return Coded("4" + below + above, (*faults, *more))


def _decode_shear(text: str, context: Context) -> Read:
    below, faults = el.figures_to_shear(text[1:3], context)
    above, more = el.figures_to_shear(text[3:], context)
    return Read(
        {"wind_shear_below": below, "wind_shear_above": above},
        (*indicator_faults(text, "4"), *faults, *more),
    )


SHEAR = Group(
    "4vbvbvava",
    "vertical wind shear at the maximum wind",
    (
        fixed("4", "4", "vertical wind shear"),
        _say_shear("below", "wind_shear_below"),
        _say_shear("above", "wind_shear_above"),
    ),
    ("wind_shear_below", "wind_shear_above"),
    _encode_shear,
    _decode_shear,
    {"wind_shear_below": "1 kt or 1 m s-1", "wind_shear_above": "1 kt or 1 m s-1"},
    "WMO-No. 306 Volume I.1, 35.2.4.4",
)
