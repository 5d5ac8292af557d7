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
"""Added to dd where ff has lost a hundred knots."""


def two_figure_wind(figures: str) -> tuple[float | None, float | None]:
    """Return direction in degrees and speed in m s-1 of an old group ddff.

    Parameters
    ----------
    figures : str
        Four figures: tens of degrees, knots; 50 is added to dd for 100 knots and more.

    Returns
    -------
    direction, speed : float or None
        None for solidi and for directions that do not exist.

    Notes
    -----
    In use in the 1950s and 1960s (from memory).
    """
    if len(figures) != 4 or not figures.isdigit():
        return None, None
    tens, knots = int(figures[:2]), int(figures[2:])
    if tens > TENS_BEYOND:
        tens, knots = tens - TENS_BEYOND, knots + HUNDRED
    if tens > 36 or (tens == 0 and knots > 0):
        return None, None
    return tens * 10.0, knots * KNOT


def two_figure_wind_to_figures(direction: float | None, speed: float | None) -> str | None:
    """Return ddff of a wind; None where 200 knots and more leave it no figures.

    Parameters
    ----------
    direction, speed : float or None
        degrees and m s-1.
    """
    if direction is None or speed is None:
        return "////"
    knots = int(speed / KNOT + 0.5)
    if knots == 0:
        return "0000"
    if knots >= 2 * HUNDRED:
        return None
    tens = int((direction % 360.0) / 10.0 + 0.5) or 36
    if knots >= HUNDRED:
        tens, knots = tens + TENS_BEYOND, knots - HUNDRED
    return f"{tens:02d}{knots:02d}"


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
"""From memory; years uncertain."""


def humidity_remarks(contents: Sequence[PartContent], on: date) -> tuple[Diagnostic, ...]:
    """Return a note for every part whose depressions stand for something else.

    Parameters
    ----------
    contents : sequence of PartContent
    on : date
        Day of the record.
    """
    found = []
    for content in contents:
        station = content.identification.get("station")
        block = int(station[:2]) if isinstance(station, str) else -1
        for convention in HUMIDITY_CONVENTIONS:
            if block not in convention.blocks or not convention.begins <= on <= convention.ends:
                continue
            count = sum(
                record.get("dew_point_depression") == convention.depression
                for section in content.sections
                for record in section.records
            )
            if count:
                found.append(
                    diagnostic(
                        "humidity-by-convention",
                        f"{count} depressions of {convention.depression:g} K in part "
                        f"{content.letter}: {convention.text}.",
                        path=(content.letter,),
                    )
                )
    return tuple(found)
