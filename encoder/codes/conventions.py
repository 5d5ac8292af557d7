"""Conventions of old records that the figures alone do not tell."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from encoder.diagnostics import Diagnostic, diagnostic
from encoder.resolution import KNOT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.codes.content import PartContent

HUNDRED = 100
TENS_BEYOND = 50
"""Added to dd where ff has lost a hundred units, and two hundred with a solidus."""
SOLIDUS = "/"
"""Between dd and ff where ff has lost two hundred units."""


def two_figure_wind(figures: str, step: float = KNOT) -> tuple[float | None, float | None]:
    """Return direction in degrees and speed in m s-1 of an old group ddff.

    Parameters
    ----------
    figures : str
        Four figures: tens of degrees, units of speed; 50 is added to dd for 100 units and more.
        With a solidus between dd and ff, for 200 to 299.
    step : float
        Unit of the speed in m s-1: a knot, or a mile per hour.

    Returns
    -------
    direction, speed : float or None
        None for solidi and for directions that do not exist.

    Notes
    -----
    50 added, and the solidus: manual of pilot-balloon reports, paragraph 2-907 (see
    :mod:`encoder.codes.pibal`). 50 added is still in use in the winds-aloft forecasts of the United
    States. In knots in the 1950s and 1960s: from memory.
    """
    lost = HUNDRED
    if len(figures) == 5 and figures[2] == SOLIDUS:
        figures, lost = figures[:2] + figures[3:], 2 * HUNDRED
    if len(figures) != 4 or not (figures.isascii() and figures.isdigit()):
        return None, None
    tens, units = int(figures[:2]), int(figures[2:])
    if tens > TENS_BEYOND:
        tens, units = tens - TENS_BEYOND, units + lost
    elif lost > HUNDRED:
        return None, None
    if tens > 36 or (tens == 0 and units > 0):
        return None, None
    return tens * 10.0, units * step


def two_figure_wind_to_figures(
    direction: float | None, speed: float | None, step: float = KNOT, *, solidus: bool = False
) -> str | None:
    """Return ddff of a wind; None where the speed leaves it no figures.

    Parameters
    ----------
    direction, speed : float or None
        degrees and m s-1.
    step : float
        Unit of the speed in m s-1.
    solidus : bool
        Whether 200 to 299 units are written with a solidus between dd and ff.
    """
    if direction is None or speed is None:
        return "////"
    units = int(speed / step + 0.5)
    if units == 0:
        return "0000"
    if units >= (3 if solidus else 2) * HUNDRED:
        return None
    tens = int((direction % 360.0) / 10.0 + 0.5) or 36
    if units < HUNDRED:
        return f"{tens:02d}{units:02d}"
    between = SOLIDUS if units >= 2 * HUNDRED else ""
    return f"{tens + TENS_BEYOND:02d}{between}{units % HUNDRED:02d}"


@dataclass(frozen=True, slots=True)
class HumidityConvention:
    """A habit of a service that hides what the sensor measured.

    Attributes
    ----------
    blocks : range
        Station blocks II concerned.
    begins, ends : date
        First and last day.
    depression : float
        Depression in K that stands for air drier than the limit.
    text : str
        What it means.
    """

    blocks: range
    begins: date
    ends: date
    depression: float
    text: str


HUMIDITY_CONVENTIONS = (
    HumidityConvention(
        range(70, 75),
        date(1973, 1, 1),
        date(1993, 12, 31),
        30.0,
        "it stands for any relative humidity below 20 %; below -40 degC none was sent",
    ),
)
"""Relative humidity below 20 % not reported from 1973 to 1993 in the United States: NCAR/TN-404,
table 3.1, after Trenberth 1994. That 30 K stood for it, nothing below -40 degC, the blocks and the
days in those years: from memory."""


def humidity_remarks(contents: Sequence[PartContent], on: date) -> tuple[Diagnostic, ...]:
    """Return a note for every part whose depressions stand for something else.

    Parameters
    ----------
    contents : sequence of PartContent
    on : date
        Day of the record.
    """
    found: list[Diagnostic] = []
    for content in contents:
        station = content.identification.get("station")
        if not isinstance(station, str):
            continue
        for convention in conventions_of(station, on):
            count = sum(
                record.get("dew_point_depression") == convention.depression
                for section in content.sections
                for record in section.records
            )
            found.extend(humidity_remark(convention, content.letter, count))
    return tuple(found)


def conventions_of(station: str, on: date) -> tuple[HumidityConvention, ...]:
    """Return the conventions of a station, IIiii, on a day."""
    return tuple(
        convention
        for convention in HUMIDITY_CONVENTIONS
        if int(station[:2]) in convention.blocks and convention.begins <= on <= convention.ends
    )


def humidity_remark(
    convention: HumidityConvention, letter: str, count: int
) -> tuple[Diagnostic, ...]:
    """Return the note on a part with so many depressions of a convention; none for none."""
    if not count:
        return ()
    return (
        diagnostic(
            "humidity-by-convention",
            f"{count} depressions of {convention.depression:g} K in part {letter}: "
            f"{convention.text}.",
            path=(letter,),
        ),
    )
