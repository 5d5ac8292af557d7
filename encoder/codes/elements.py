"""Conversions between values and figures; each pair side by side, sharing its constants.

``<value>_to_figures`` takes a value (None for missing) and returns ``(figures, faults)``;
``figures_to_<value>`` takes figures and solidi and returns ``(value, faults)``. Out of range is
never wrapped or clipped into another value: it becomes missing, with a fault. The one exception is
a dew-point depression above 49 degrees, which code table 0777 has no figure for and common practice
codes as 49, with a fault of severity note.
"""

from __future__ import annotations

from functools import cache, lru_cache
from math import ceil, isfinite
from typing import TYPE_CHECKING

import numpy as np

from encoder.codes.declare import Context, Fault
from encoder.codes.tables import code_table, code_values
from encoder.resolution import coded_depression, coded_temperature, coded_wind
from encoder.rounding import round_half_away, whole

if TYPE_CHECKING:
    from encoder.codes.declare import Value

Faults = tuple[Fault, ...]
_NONE: Faults = ()

HIGHEST_TEMPERATURE_FIGURE = 99.9
LARGEST_SPEED_FIGURE = 499
HEIGHT_IN_TENS_FROM = 500.0
"""From this pressure upward in altitude heights are coded in tens of metres (35.2.2)."""
LARGEST_SUPERSATURATION = 1.0
"""A dew point up to this many K above the temperature is coded as saturation (common practice)."""
MOST_TURNS = 6
"""So many thousands (ten thousands in tens of metres) can have been dropped."""
BELOW_SEA_LEVEL = 500
"""Added to the size of a height below mean sea level."""


def number(value: Value) -> float | None:
    """Return a value as a finite float, None where missing or not a number."""
    if value is None or isinstance(value, str):
        return None
    as_float = float(value)
    return as_float if isfinite(as_float) else None


# --- pressure PPP -----------------------------------------------------------------------------


def pressure_to_figures(pressure: Value, context: Context) -> tuple[str, Faults]:
    """Return PPP: whole hPa without the thousand, or tenths of hPa in parts C and D."""
    value = number(pressure)
    if value is None:
        return "///", _NONE
    if context.tenths:
        tenths = whole(value * 10.0)
        if not (0 < tenths <= 1000 and value < 100.0):
            return "///", (_range("pressure", value, "0.1 to 99.9 hPa"),)
        return f"{min(tenths, 999):03d}", _NONE
    hectopascals = whole(value)
    if not 100 <= hectopascals < 1100:
        return "///", (_range("pressure", value, "100 to 1099 hPa"),)
    return f"{hectopascals % 1000:03d}", _NONE


def figures_to_pressure(figures: str, context: Context) -> tuple[float | None, Faults]:
    """Return the pressure in hPa that PPP stands for."""
    if figures == "///":
        return None, _NONE
    if not figures.isdigit():
        return None, (_partly(figures, "pressure"),)
    value = int(figures)
    if context.tenths:
        if value == 0:
            return None, (
                Fault("pressure-impossible", "A pressure of 0 hPa was coded.", "001 to 999"),
            )
        return value / 10.0, _NONE
    return float(value + 1000 if value < 100 else value), _NONE


# --- height hhh -------------------------------------------------------------------------------


def height_to_figures(height: Value, pressure: float | None) -> tuple[str, Faults]:
    """Return hhh: whole gpm without thousands below 500 hPa, tens of gpm from there on."""
    value = number(height)
    if value is None or pressure is None:
        return "///", _NONE
    if pressure <= HEIGHT_IN_TENS_FROM:
        tens = whole(value / 10.0)
        if tens < 0:
            return "///", (_range("geopotential height", value, "0 gpm and more here"),)
        return f"{tens % 1000:03d}", _NONE
    metres = whole(value)
    if metres < 0:
        if -metres >= BELOW_SEA_LEVEL:
            return "///", (_range("geopotential height", value, "more than -500 gpm"),)
        return f"{BELOW_SEA_LEVEL - metres:03d}", _NONE
    return f"{metres % 1000:03d}", _NONE


def figures_to_height_candidates(figures: str, pressure: float) -> tuple[float, ...]:
    """Return every height in gpm that hhh may stand for at that pressure.

    The figures drop the thousands (or ten-thousands); :mod:`encoder.codes.heights` chooses.
    """
    value = int(figures)
    if pressure <= HEIGHT_IN_TENS_FROM:
        return tuple(10.0 * value + 10000.0 * extra for extra in range(MOST_TURNS + 1))
    candidates = [value + 1000.0 * extra for extra in range(MOST_TURNS + 1)]
    if value > BELOW_SEA_LEVEL:
        candidates.insert(0, float(BELOW_SEA_LEVEL - value))
    return tuple(candidates)


def nearest_candidate(figures: str, pressure: float, expected: float) -> float:
    """Return that of the heights hhh may stand for which is nearest to an expected one, in gpm."""
    value = int(figures)
    if pressure <= HEIGHT_IN_TENS_FROM:
        return 10.0 * value + 10000.0 * _turns((expected - 10.0 * value) / 10000.0)
    nearest = value + 1000.0 * _turns((expected - value) / 1000.0)
    if value > BELOW_SEA_LEVEL:
        below = float(BELOW_SEA_LEVEL - value)
        if abs(below - expected) <= abs(nearest - expected):
            return below
    return nearest


def _turns(exact: float) -> int:
    """Return how often the dropped figures have turned, 0 to 6; the fewer where it is halfway."""
    return max(0, min(MOST_TURNS, ceil(exact - 0.5)))


# --- temperature TTTa and depression DD -------------------------------------------------------


def temperature_to_figures(temperature: Value) -> tuple[str, Faults]:
    """Return TTTa (code table 3931): the parity of the tenths figure holds the sign."""
    value = number(temperature)
    return ("///", _NONE) if value is None else _temperature_figures(value)


@lru_cache(maxsize=4096)
def _temperature_figures(value: float) -> tuple[str, Faults]:
    if abs(value) >= HIGHEST_TEMPERATURE_FIGURE + 0.05:
        return "///", (_range("temperature", value, "-99.9 to 99.9 degC"),)
    coded = float(coded_temperature(np.array([value]))[0])
    return f"{whole(abs(coded) * 10.0):03d}", _NONE


def figures_to_temperature(figures: str) -> tuple[float | None, Faults]:
    """Return the temperature in degC, read literally (even tenths positive, odd negative)."""
    value = temperatures_by_figures().get(figures)
    if value is None and figures != "///":
        return None, (_partly(figures, "temperature"),)
    return value, _NONE


@cache
def temperatures_by_figures() -> dict[str, float]:
    """Return the temperature in degC of every TTTa, the sign from code table 3931."""
    found: dict[str, float] = {}
    for tenths in range(1000):
        figures = f"{tenths:03d}"
        sign = code_values("3931")[figures[2]] or 0.0
        found[figures] = (-tenths if sign < 0.0 else tenths) / 10.0
    return found


def depression_to_figures(depression: Value) -> tuple[str, Faults]:
    """Return DD (code table 0777): tenths to 5.0, then whole degrees plus 50."""
    value = number(depression)
    return ("//", _NONE) if value is None else _depression_figures(value)


@lru_cache(maxsize=4096)
def _depression_figures(value: float) -> tuple[str, Faults]:
    faults: list[Fault] = []
    if value < -LARGEST_SUPERSATURATION:
        return "//", (_range("dew-point depression", value, "0 and more"),)
    if value < -0.05:
        faults.append(
            Fault(
                "depression-negative",
                f"A dew-point depression of {value:.1f} K (air above saturation) is coded as 0.",
            )
        )
    if value >= 49.5:
        faults.append(
            Fault(
                "depression-beyond-table",
                f"A dew-point depression of {value:.1f} K is coded as 49, the end of table 0777.",
            )
        )
    coded = float(coded_depression(np.array([value]))[0])
    figure = whole(coded * 10.0) if coded <= 5.0 else whole(coded) + 50
    return f"{figure:02d}", tuple(faults)


def figures_to_depression(figures: str) -> tuple[float | None, Faults]:
    """Return the dew-point depression in K."""
    if figures == "//":
        return None, _NONE
    if not figures.isdigit():
        return None, (_partly(figures, "dew-point depression"),)
    value = code_values("0777")[figures]
    if value is not None:
        return value, _NONE
    fault = Fault(
        "depression-unused-figure",
        f"Figures {figures} are not used in code table 0777.",
        "00 to 50 or 56 to 99",
    )
    return None, (fault,)


# --- wind ddfff -------------------------------------------------------------------------------


def wind_to_figures(direction: Value, speed: Value, context: Context) -> tuple[str, Faults]:
    """Return ddfff: direction to 5 degrees, the odd 5 carried by adding 500 to the speed."""
    from_direction, metres_per_second = number(direction), number(speed)
    if metres_per_second is None or from_direction is None:
        both_missing = metres_per_second is None and from_direction is None
        calm = metres_per_second is not None and metres_per_second == 0.0
        if calm:
            return "00000", _NONE
        faults = (
            ()
            if both_missing
            else (Fault("wind-half-missing", "Only one of wind direction and speed is known."),)
        )
        return "/////", faults
    coding = context.coding
    coded_direction, coded_speed = coded_wind(
        np.array([from_direction]), np.array([metres_per_second]), coding
    )
    units = whole(float(coded_speed[0]) / coding.speed_step)
    if not 0 <= units <= LARGEST_SPEED_FIGURE:
        return "/////", (_range("wind speed", metres_per_second, f"0 to 499 {coding.wind_unit}"),)
    if units == 0:
        return "00000", _NONE
    degrees = whole(float(coded_direction[0]))
    tens, five = divmod(degrees, 10)
    return f"{tens:02d}{units + (500 if five else 0):03d}", _NONE


def figures_to_wind(figures: str, context: Context) -> tuple[float | None, float | None, Faults]:
    """Return direction in degrees and speed in m s-1."""
    if figures == "/////":
        return None, None, _NONE
    dd, fff = figures[:2], figures[2:]
    faults: list[Fault] = []
    direction: float | None = None
    speed: float | None = None
    five = False
    if figures.isdigit() and dd in code_table("0877"):
        units = int(fff)
        five = units >= 500
        units = units - 500 if five else units
        direction = int(dd) * 10.0 + (5.0 if five else 0.0)
        if direction <= 360.0 and (direction > 0.0) == (units > 0):
            return direction, units * context.coding.speed_step, _NONE
        five, direction = False, None
    if fff.isdigit():
        units = int(fff)
        five = units >= 500
        speed = (units - 500 if five else units) * context.coding.speed_step
    elif fff != "///":
        faults.append(_partly(fff, "wind speed"))
    if dd.isdigit():
        direction = int(dd) * 10.0 + (5.0 if five else 0.0)
        if dd not in code_table("0877") or direction > 360.0:
            faults.append(
                Fault(
                    "wind-direction-impossible",
                    f"Figures {figures} give a direction of {direction:.0f} degrees.",
                    "dd from 00 to 36",
                )
            )
            direction = None
    elif dd != "//":
        faults.append(_partly(dd, "wind direction"))
    if direction is not None and speed is not None:
        if direction == 0.0 and speed > 0.0:
            faults.append(
                Fault(
                    "wind-calm-direction",
                    f"Figures {figures} give the direction of calm with a speed.",
                    "36 for north",
                )
            )
            direction = None
        elif direction > 0.0 and speed == 0.0:
            faults.append(
                Fault(
                    "wind-calm-direction",
                    f"Figures {figures} give a direction with no speed; read as calm.",
                    "00000",
                )
            )
            direction = 0.0
    elif (direction is None) != (speed is None) and not faults:
        faults.append(
            Fault("wind-half-missing", f"Figures {figures} give only half of a wind.", "/////")
        )
    return direction, speed, tuple(faults)


# --- shear vbvb, vava -------------------------------------------------------------------------


def shear_to_figures(shear: Value, context: Context) -> tuple[str, Faults]:
    """Return vv: size of the vector difference in the wind unit, 99 and more as 99."""
    value = number(shear)
    if value is None:
        return "//", _NONE
    units = whole(value / context.coding.speed_step)
    if units > 99:
        return "//", (_range("vertical wind shear", value, f"0 to 99 {context.coding.wind_unit}"),)
    return f"{units:02d}", _NONE


def figures_to_shear(figures: str, context: Context) -> tuple[float | None, Faults]:
    """Return the size of the vector difference in m s-1."""
    if figures == "//":
        return None, _NONE
    if not figures.isdigit():
        return None, (_partly(figures, "vertical wind shear"),)
    return int(figures) * context.coding.speed_step, _NONE


# --- sea-surface temperature snTwTwTw ---------------------------------------------------------


def sea_temperature_to_figures(temperature: Value) -> tuple[str, Faults]:
    """Return snTwTwTw: sign (code table 3845) and tenths of a degree."""
    value = number(temperature)
    if value is None:
        return "////", _NONE
    if abs(value) >= HIGHEST_TEMPERATURE_FIGURE + 0.05:
        return "////", (_range("sea-surface temperature", value, "-99.9 to 99.9 degC"),)
    tenths = whole(round_half_away(value, 0.1) * 10.0)
    return f"{1 if tenths < 0 else 0}{abs(tenths):03d}", _NONE


def figures_to_sea_temperature(figures: str) -> tuple[float | None, Faults]:
    """Return the sea-surface temperature in degC."""
    if figures == "////":
        return None, _NONE
    signed = figures[0] in code_table("3845") and figures != "1000"
    if not figures.isdigit() or not signed:
        return None, (
            Fault(
                "figures-impossible",
                f"Figures {figures} are no sea-surface temperature.",
                "sign figure 0 or 1, then tenths",
            ),
        )
    tenths = int(figures[1:])
    return (-tenths if figures[0] == "1" else tenths) / 10.0, _NONE


def _range(what: str, value: float, allowed: str) -> Fault:
    return Fault(
        "value-not-codable",
        f"A {what} of {value:g} cannot be coded ({allowed}); reported as missing.",
        allowed,
    )


def _partly(figures: str, what: str) -> Fault:
    return Fault(
        "figures-partly-missing",
        f"Figures {figures} give only part of a {what}; read as missing.",
        "all figures, or all solidi",
    )
