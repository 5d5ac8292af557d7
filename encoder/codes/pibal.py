"""Pilot-balloon reports of the United States in two-figure winds, as sent by teletypewriter.

Declarations only. Known from a manual of the airways whose page is public in transcription
(Smithsonian Institution, NASM.2003.0033, M0000095-00300, paragraphs 2-907 and 2-908): a group for
the surface and for every standard level, with a figure of the height, the direction in tens of
degrees and the speed in miles per hour; 50 added to the direction from 100, a solidus from 200
miles per hour; standard levels each 1000 ft to 15,000 ft, then each 5000 ft.

From memory: figure 0 for the surface, solidi for a wind that is missing, calm as 0000, the years,
and knots with the same groups from 1949 on. The words before the winds (station, time) are on pages
that could not be read: they are kept as received. The word PIBAL is the name of such an observation
and stands here for whatever heading a record has; put it before each report of a file.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from encoder.codes import elements as el
from encoder.codes.conventions import SOLIDUS, two_figure_wind, two_figure_wind_to_figures
from encoder.codes.declare import (
    Coded,
    CodeForm,
    Fault,
    Figures,
    Group,
    Part,
    Read,
    RecordForm,
    Section,
    Use,
)
from encoder.codes.groups import fixed
from encoder.codes.groups_facts import opening
from encoder.levels.altitudes import THOUSAND_FEET
from encoder.levels.table import LevelKind
from encoder.resolution import KNOT, MILE_PER_HOUR

if TYPE_CHECKING:
    from encoder.codes.declare import Context, Value, Values

LETTERS = "PIBAL"
"""Word that opens a report; also the number of the form."""
SOURCE = (
    "manual of pilot-balloon reports, paragraphs 2-907 and 2-908 (Smithsonian Institution, "
    "NASM.2003.0033, M0000095-00300)"
)
STANDARD_LEVELS = (*range(1, 16), *range(20, 101, 5))
"""Standard levels in thousands of feet; the manual names no last one."""
_WIND = re.compile(r"[0-9](?:[0-9]{4}|[0-9]{2}/[0-9]{2}|////)")
_SPEEDS = "0 to 299"


def next_level(figure: int, below: float) -> int | None:
    """Return the lowest standard level above another one that ends in a figure.

    Parameters
    ----------
    figure : int
        Last figure of the thousands of feet.
    below : float
        Level before, in thousands of feet; less than 1 for none.
    """
    return next(
        (level for level in STANDARD_LEVELS if level > below and level % 10 == figure), None
    )


def _levels_between(below: float, above: int) -> list[int]:
    return [level for level in STANDARD_LEVELS if below < level < above] if below >= 1 else []


def is_wind(text: str) -> bool:
    """Tell whether a group looks like hDDvv, or hDD/vv."""
    return _WIND.fullmatch(text) is not None


def _is_surface(text: str, _context: Context) -> bool:
    return text.startswith("0") and is_wind(text)


def _is_level(text: str, _context: Context) -> bool:
    return is_wind(text)


def _is_word(text: str, _context: Context) -> bool:
    return not is_wind(text) and text != "NIL"


# --- words before the winds -------------------------------------------------------------------

WORD = Group(
    "word",
    "word before the winds",
    (Figures("word", 5, "station, time or other word, kept as received", lambda f, _v, _c: f),),
    ("word",),
    lambda values, _context: Coded(str(values.get("word") or "/")),
    lambda text, _context: Read({"word": text}),
    source="kept as received; the page that tells them could not be read",
    look=re.compile(r"\S+"),
)


# --- hDDvv ------------------------------------------------------------------------------------


def _wind_figures(unit: str) -> tuple[tuple[Figures, ...], tuple[Figures, ...]]:
    """Return the figures of the wind, four of them, and with a solidus between."""

    def say_direction(figures: str, values: Values, _context: Context) -> str:
        direction = el.number(values.get("wind_from_direction"))
        if direction is None:
            missing = set(figures) == {SOLIDUS}
            return "wind missing" if missing else "no direction that exists; wind missing"
        more = ", 50 added: 100 or more" if int(figures) > 50 else ""
        if direction == 0.0:
            return f"calm{more}"
        return f"wind from {direction:g} degrees (tens of degrees){more}"

    def say_speed(figures: str, values: Values, _context: Context) -> str:
        speed = el.number(values.get("wind_speed"))
        if speed is None:
            return "speed missing"
        step = MILE_PER_HOUR if unit == "mph" else KNOT
        return f"{speed / step:.0f} {_UNIT_NAMES[unit]}"

    direction = Figures("DD", 2, "direction in tens of degrees", say_direction)
    speed = Figures("vv", 2, f"speed in {_UNIT_NAMES[unit]}", say_speed)
    solidus = fixed(SOLIDUS, SOLIDUS, "200 or more: the speed is less by 200")
    return (direction, speed), (direction, solidus, speed)


_UNIT_NAMES = {"mph": "miles per hour", "kt": "knots"}


def _encode_wind(lead: str, values: Values, step: float) -> Coded:
    direction = el.number(values.get("wind_from_direction"))
    speed = el.number(values.get("wind_speed"))
    figures = two_figure_wind_to_figures(direction, speed, step, solidus=True)
    if figures is None:
        message = f"A speed of {speed:g} m/s cannot be coded; reported as missing."
        fault = Fault("value-not-codable", message, f"{_SPEEDS} units")
        return Coded(f"{lead}////", (fault,))
    return Coded(f"{lead}{figures}")


def _decode_wind(text: str, step: float) -> tuple[dict[str, Value], tuple[Fault, ...]]:
    direction, speed = two_figure_wind(text[1:], step)
    faults: tuple[Fault, ...] = ()
    if direction is None and text[1:] != "////":
        message = f"Figures {text[1:]} are no wind; read as missing."
        faults = (Fault("wind-direction-impossible", message, "01 to 36, or 51 to 86"),)
    return {"wind_from_direction": direction, "wind_speed": speed}, faults


def _surface(unit: str, step: float) -> Group:
    plain, solidus = _wind_figures(unit)
    lead = fixed("0", "0", "the surface (figure 0: from memory)")

    def decode(text: str, _context: Context) -> Read:
        values, faults = _decode_wind(text, step)
        return Read({"altitude_units": None, **values}, faults)

    return Group(
        "0DDvv",
        "wind at the surface",
        (lead, *plain),
        ("altitude_units", "wind_from_direction", "wind_speed"),
        lambda values, _context: _encode_wind("0", values, step),
        decode,
        {"wind_from_direction": "10 degrees", "wind_speed": f"1 {unit}"},
        f"{SOURCE}; figure 0: from memory",
        _WIND,
        (lead, *solidus),
    )


def _level(unit: str, step: float) -> Group:
    plain, solidus = _wind_figures(unit)

    def say(_figures: str, values: Values, _context: Context) -> str:
        level = el.number(values.get("altitude_units"))
        return "no standard level" if level is None else f"{level:g},000 ft above mean sea level"

    lead = Figures("h", 1, "last figure of the thousands of feet", say)

    def encode(values: Values, _context: Context) -> Coded:
        level = el.number(values.get("altitude_units"))
        if level is None or level not in STANDARD_LEVELS:
            message = f"{level} thousand feet are no standard level."
            fault = Fault("not-a-standard-level", message, "1 to 15, then 20, 25 and so on")
            return Coded("/////", (fault,))
        return _encode_wind(str(int(level) % 10), values, step)

    def decode(text: str, context: Context) -> Read:
        values, faults = _decode_wind(text, step)
        below = context.previous_height
        level = next_level(int(text[0]), below)
        if level is None:
            message = f"No standard level above {below:g},000 ft ends in {text[0]}."
            faults = (*faults, Fault("level-order", message, "5 or 0 above 15,000 ft"))
        else:
            lost = _levels_between(below, level)
            if lost:
                names = ", ".join(f"{item},000" for item in lost)
                message = f"After {below:g},000 ft comes {level},000 ft: {names} ft missing."
                faults = (*faults, Fault("standard-level-missing", message, f"{names} ft"))
            context.previous_height = float(level)
        return Read({"altitude_units": level, "altitude_step": THOUSAND_FEET, **values}, faults)

    return Group(
        "hDDvv",
        "wind at a standard level",
        (lead, *plain),
        ("altitude_units", "altitude_step", "wind_from_direction", "wind_speed"),
        encode,
        decode,
        {
            "altitude_units": "1000 ft to 15,000 ft, 5000 ft above",
            "wind_from_direction": "10 degrees",
            "wind_speed": f"1 {unit}",
        },
        SOURCE,
        _WIND,
        (lead, *solidus),
    )


def _opening(title: str, unit: str) -> Group:
    """Return the word PIBAL, which in this edition settles the unit of the speeds."""
    word = opening(LETTERS, title)

    def decode(text: str, context: Context) -> Read:
        return Read({"wind_unit": unit}, word.decode(text, context).faults)

    source = "name of such an observation, put before each report"
    return replace(word, elements=("wind_unit",), decode=decode, source=source)


def _form(unit: str, step: float, years: tuple[str, str], from_memory: str) -> CodeForm:
    title = f"winds from a pilot balloon, in {_UNIT_NAMES[unit]}"
    first = RecordForm("identification", (Use(_opening(title, unit)),))
    word = RecordForm("word", (Use(WORD),), opens=_is_word, repeated=True, descends=False)
    surface = RecordForm(
        "surface-wind",
        (Use(_surface(unit, step)),),
        opens=_is_surface,
        descends=False,
        level_kinds=int(LevelKind.SURFACE | LevelKind.SIGNIFICANT_WIND),
    )
    level = RecordForm(
        "wind-by-thousand-feet",
        (Use(_level(unit, step)),),
        opens=_is_level,
        repeated=True,
        descends=False,
        level_kinds=int(LevelKind.SIGNIFICANT_WIND),
    )
    sections = (
        Section("1", "identification", (first,), source=SOURCE),
        Section("2", "words before the winds", (word,), source=SOURCE),
        Section("3", "winds at the surface and at standard levels", (surface, level)),
    )
    return CodeForm(
        LETTERS,
        "pilot balloon",
        "upper winds of the United States, in two-figure winds",
        (Part("P", LETTERS, title, sections),),
        *years,
        source=SOURCE,
        from_memory=from_memory,
    )


IN_MILES = _form(
    "mph",
    MILE_PER_HOUR,
    ("1940-01-01", "1948-12-31"),
    "Figure 0 for the surface, solidi for missing winds and the years are from memory.",
)
IN_KNOTS = _form(
    "kt",
    KNOT,
    ("1949-01-01", "1967-12-31"),
    "That these years had the groups of the manual before them, in knots, is from memory; so are "
    "figure 0 for the surface and solidi for missing winds.",
)
