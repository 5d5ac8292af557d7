"""The groups of the PILOT forms that name wind levels, several at a time or one by altitude."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING

from encoder.codes import elements as el
from encoder.codes.declare import Block, Coded, Context, Fault, Figures, Group, Read, as_text
from encoder.codes.fm35 import NATIONAL_MARKERS
from encoder.codes.groups import fixed, indicator_faults
from encoder.levels.altitudes import STANDARD_ALTITUDES, THOUSAND_FEET, WHOLE_STEP
from encoder.rounding import whole

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.codes.declare import Value, Values

MOST_LEVELS = 3
"""Levels in one block: n of 44nP1P1, or u1 u2 u3 of 9tnu1u2u3."""

Level = dict[str, "Value"]


# --- 44nP1P1 and 55nP1P1 ----------------------------------------------------------------------


def _standard_run(first: float | None, count: int, context: Context) -> list[float]:
    pressures = sorted(context.standard.values(), reverse=True)
    if first not in pressures:
        return []
    start = pressures.index(first)
    return pressures[start : start + count]


def _standard_group(symbol: str, indicator: str, how: str) -> Group:
    def encode(values: Values, context: Context) -> Coded:
        first, count = values.get("first_pressure"), values.get("levels_in_block")
        figures = next((pp for pp, own in context.standard.items() if own == first), None)
        if figures is None:
            message = f"{first} hPa is no standard level of this part."
            return Coded(f"{indicator}{count}//", (Fault("not-a-standard-level", message),))
        return Coded(f"{indicator}{count}{figures}")

    def decode(text: str, context: Context) -> Read:
        faults = list(indicator_faults(text, indicator))
        first = context.standard.get(text[3:])
        count = int(text[2]) if text[2] in "123" else 0
        if count == 0:
            message = f"Figure {text[2]} is no number of levels."
            faults.append(Fault("figures-impossible", message, "1, 2 or 3"))
        if first is None:
            message = f"Figures {text[3:]} name no standard level of this part."
            faults.append(Fault("not-a-standard-level", message, ", ".join(context.standard)))
        elif len(_standard_run(first, count, context)) < count:
            message = f"Group {text} reaches beyond the standard levels of this part."
            faults.append(Fault("figures-impossible", message))
        if first is not None and first >= context.previous_pressure:
            message = f"Expected a pressure below {context.previous_pressure:g} hPa, got {first:g}."
            faults.append(Fault("level-order", message))
        return Read({"first_pressure": first, "levels_in_block": count}, tuple(faults))

    return Group(
        symbol,
        f"winds at standard levels by {how}",
        (
            fixed(indicator, indicator, f"standard levels, found by {how}"),
            Figures("n", 1, "how many levels", lambda f, _v, _c: f"{f} levels in turn"),
            Figures(
                "P1P1",
                2,
                "the lowest of them",
                lambda _f, v, _c: f"beginning with {as_text(v.get('first_pressure'))} hPa",
            ),
        ),
        ("first_pressure", "levels_in_block"),
        encode,
        decode,
        source="WMO-No. 306 Volume I.1, 32.2.2",
    )


STANDARD_BY_PRESSURE = _standard_group("44nP1P1", "44", "pressure")
STANDARD_BY_ALTITUDE = _standard_group("55nP1P1", "55", "altitude")


def _spread_standard(values: Values, context: Context) -> tuple[Level, ...]:
    first, count = el.number(values.get("first_pressure")), el.number(values.get("levels_in_block"))
    run = _standard_run(first, int(count or 0), context)
    if run:
        context.previous_pressure = run[-1]
    return tuple(
        {"air_pressure": pressure, "place_in_block": place} for place, pressure in enumerate(run, 1)
    )


def _spread_altitudes_of_standard(values: Values, context: Context) -> tuple[Level, ...]:
    levels = _spread_standard(values, context)
    for level in levels:
        pressure = el.number(level["air_pressure"])
        level["geopotential_height"] = (
            None if pressure is None else STANDARD_ALTITUDES.get(pressure)
        )
    return levels


def _collect_standard(levels: Sequence[Values], _context: Context) -> Values:
    return {"first_pressure": levels[0].get("air_pressure"), "levels_in_block": len(levels)}


def _standard_joins(levels: Sequence[Values], level: Values, context: Context) -> bool:
    first = el.number(levels[0].get("air_pressure"))
    run = _standard_run(first, len(levels) + 1, context)
    return len(run) == len(levels) + 1 and run[-1] == level.get("air_pressure")


STANDARD_BLOCK = Block(MOST_LEVELS, _spread_standard, _collect_standard, _standard_joins)
STANDARD_ALTITUDE_BLOCK = Block(
    MOST_LEVELS, _spread_altitudes_of_standard, _collect_standard, _standard_joins
)


def is_standard_lead(indicator: str, text: str, context: Context) -> bool:
    """Tell whether a group looks like 44nP1P1 (55nP1P1)."""
    return text.startswith(indicator) and text[2:3] in "123" and text[3:] in context.standard


def is_next_standard_lead(text: str, context: Context) -> bool:
    """Tell whether the first level of 44nP1P1 lies above the level before."""
    return context.standard[text[3:]] < context.previous_pressure


# --- 9tnu1u2u3, 8tnu1u2u3 and 1tnu1u2u3 -------------------------------------------------------

_FIXED = re.compile(r"[981][0-9](?:[0-9]{1,3}/{0,2}|/[0-9]{0,2}/{0,2})")
STEPS = {"9": 300, "8": 500, "1": 300}
"""Unit of the altitudes in m by the first figure; 1 stands for 9 from 100 units (30 km) on."""
BEYOND = 100
"""Units added where the first figure is 1."""
BLOCKS_IN_FEET = range(69, 80)
"""Station blocks II of Region IV (from memory)."""


def altitude_step(station: Value) -> float:
    """Return the unit of 9tnu1u2u3 that a station uses, in m.

    Parameters
    ----------
    station : str or None
        IIiii; None for a station without one.
    """
    in_feet = isinstance(station, str) and int(station[:2]) in BLOCKS_IN_FEET
    return THOUSAND_FEET if in_feet else WHOLE_STEP


def is_fixed_lead(text: str, _context: Context) -> bool:
    """Tell whether a group looks like 9tnu1u2u3 (8tn..., 1tn...)."""
    return len(text) == 5 and _FIXED.fullmatch(text) is not None


def is_next_fixed_lead(text: str, context: Context) -> bool:
    """Tell whether its altitudes ascend, and begin above the level before."""
    units = _units_of(text)
    heights = [context.previous_height, *(-0.5 if unit is None else float(unit) for unit in units)]
    return all(below < above for below, above in pairwise(heights))


def _units_of(text: str) -> tuple[int | None, ...]:
    """Return the altitudes in units; None for the surface spelled as a solidus."""
    base = 10 * int(text[1]) + (BEYOND if text[0] == "1" else 0)
    figures = text[2:].rstrip("/")
    units: list[int | None] = []
    if base == 0 and text[2] == "/":
        units.append(None)
        figures = figures[1:]
    units.extend(base + int(figure) for figure in figures if figure != "/")
    return tuple(units)


def _encode_fixed(values: Values, _context: Context) -> Coded:
    return Coded(str(values.get("altitudes")))


def _decode_fixed(text: str, context: Context) -> Read:
    if not is_fixed_lead(text, context):
        fault = Fault("figures-impossible", f"Group {text} names no altitudes.", "9tnu1u2u3")
        return Read({"altitudes": None}, (fault,))
    faults: tuple[Fault, ...] = ()
    if text[2] == "/" and (text[1] != "0" or text[0] == "1"):
        faults = (
            Fault("figures-impossible", f"Group {text} names no first altitude.", "9tnu1u2u3"),
        )
    elif not is_next_fixed_lead(text, context):
        faults = (Fault("level-order", f"The altitudes of group {text} do not ascend."),)
    return Read({"altitudes": text}, faults)


def _say_step(figures: str, _values: Values, _context: Context) -> str:
    more = f", {BEYOND} units added" if figures == "1" else ""
    return f"altitudes in units of {STEPS.get(figures, 300)} m{more}"


def _say_unit(figures: str, _values: Values, _context: Context) -> str:
    return (
        "not used, or the surface where it stands first" if figures == "/" else f"units {figures}"
    )


FIXED_ALTITUDES = Group(
    "9tnu1u2u3",
    "winds at fixed and significant altitudes",
    (
        Figures("9", 1, "unit of the altitudes", _say_step),
        Figures("tn", 1, "tens of the altitudes", lambda f, _v, _c: f"tens {f} for all of them"),
        Figures("u1", 1, "units of the first altitude", _say_unit),
        Figures("u2", 1, "units of the second altitude", _say_unit),
        Figures("u3", 1, "units of the third altitude", _say_unit),
    ),
    ("altitudes",),
    _encode_fixed,
    _decode_fixed,
    {"altitude_units": "300 m (1000 ft in Region IV), or 500 m"},
    "WMO-No. 306 Volume I.1, 32.3",
)


def _spread_fixed(values: Values, context: Context) -> tuple[Level, ...]:
    text = values.get("altitudes")
    if not isinstance(text, str):
        return ()
    units = _units_of(text)
    known = [unit for unit in units if unit is not None]
    if known:
        context.previous_height = float(known[-1])
    return tuple(
        {"altitude_units": unit, "altitude_step": STEPS[text[0]], "place_in_block": place}
        for place, unit in enumerate(units, 1)
    )


def _first_figures(level: Values) -> tuple[str, int, str]:
    """Return first figure, tens and units figure of an altitude."""
    units = el.number(level.get("altitude_units"))
    indicator = "8" if level.get("altitude_step") == 500 else "9"
    if units is None:
        return indicator, 0, "/"
    whole_units = whole(units)
    if indicator == "9" and whole_units >= BEYOND:
        indicator, whole_units = "1", whole_units - BEYOND
    return indicator, whole_units // 10, str(whole_units % 10)


def _collect_fixed(levels: Sequence[Values], _context: Context) -> Values:
    indicator, tens, _unit = _first_figures(levels[0])
    figures = "".join(_first_figures(level)[2] for level in levels)
    return {"altitudes": f"{indicator}{tens}{figures:/<3}"}


def _fixed_joins(levels: Sequence[Values], level: Values, _context: Context) -> bool:
    return _first_figures(levels[0])[:2] == _first_figures(level)[:2]


FIXED_BLOCK = Block(MOST_LEVELS, _spread_fixed, _collect_fixed, _fixed_joins)

# --- maximum wind by altitude -----------------------------------------------------------------

TENS = 10.0
"""Metres in the unit of HmHmHmHm."""


def _encode_maximum(values: Values, _context: Context) -> Coded:
    indicator = "6" if values.get("top_of_wind_sounding") else "7"
    height = el.number(values.get("geopotential_height"))
    if height is None:
        return Coded(f"{indicator}////")
    tens = whole(height / TENS)
    limit = 7000 if indicator == "7" else 6000
    if not 0 <= tens < limit:
        message = f"An altitude of {height:g} m cannot be coded; reported as missing."
        return Coded(f"{indicator}////", (Fault("value-not-codable", message, f"< {limit}0 m"),))
    text = f"{indicator}{tens:04d}"
    if text in NATIONAL_MARKERS:
        message = f"{text} would read as the beginning of a section; coded {TENS:.0f} m higher."
        return Coded(f"{indicator}{tens + 1:04d}", (Fault("altitude-like-marker", message),))
    return Coded(text)


def _decode_maximum(text: str, _context: Context) -> Read:
    values: dict[str, Value] = {
        "geopotential_height": None,
        "top_of_wind_sounding": text[0] == "6",
    }
    wrong = indicator_faults(text, "7", "6")
    if text[1:].isdigit():
        values["geopotential_height"] = int(text[1:]) * TENS
    elif text[1:] != "////":
        fault = Fault(
            "figures-partly-missing", f"Figures {text[1:]} give only part of an altitude."
        )
        wrong = (*wrong, fault)
    return Read(values, wrong)


MAXIMUM_WIND_ALTITUDE = Group(
    "7HmHmHmHm",
    "altitude of maximum wind",
    (
        Figures(
            "7",
            1,
            "7 within the sounding, 6 at its top",
            lambda f, _v, _c: (
                "greatest wind, at the top of the wind sounding"
                if f == "6"
                else "maximum wind, within the sounding"
            ),
        ),
        Figures(
            "HmHmHmHm",
            4,
            "altitude in tens of metres",
            lambda _f, v, _c: f"altitude {as_text(v.get('geopotential_height'))} m",
        ),
    ),
    ("geopotential_height", "top_of_wind_sounding"),
    _encode_maximum,
    _decode_maximum,
    {"geopotential_height": "10 m"},
    "WMO-No. 306 Volume I.1, 32.2.3 (tens of metres from memory)",
)


def is_maximum_altitude(text: str, _context: Context) -> bool:
    """Tell whether a group looks like 7HmHmHmHm or 6HmHmHmHm: 77 and 66 lead a pressure."""
    return text[:1] in ("7", "6") and text[:2] not in ("77", "66")
