"""The wind barb: the figure that stands for a wind on a plot.

The shaft points to where the wind comes from. Feathers stand at its far end, on the clockwise side
in the northern hemisphere and on the other side in the southern, so that they point to low
pressure. A half feather is 5 knots, a feather 10, a pennant 50; a calm is a ring.

Source: symbols for wind of the Manual on the Global Data-processing and Forecasting System,
WMO-No. 485, attachment on plotting (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from encoder.resolution import KNOT
from encoder.rounding import whole

Point = tuple[float, float]
Stroke = tuple[Point, ...]

SHAFT = 1.0
"""Length of the shaft; everything else is in the same unit."""
_SPACING = 0.13
_FEATHER = 0.42
_SLANT = math.radians(70.0)
"""Angle between a feather and the outward shaft."""


@dataclass(frozen=True, slots=True)
class Barb:
    """A wind barb in its own frame: station at the origin, x to the east, y to the north.

    Attributes
    ----------
    pennants, feathers, halves : int
        How many of each; all zero for a speed that rounds to nothing.
    strokes : tuple of tuple of (float, float)
        Open lines, the shaft first.
    filled : tuple of tuple of (float, float)
        Pennants, as triangles to fill.
    calm : bool
        Draw a ring instead.
    """

    pennants: int
    feathers: int
    halves: int
    strokes: tuple[Stroke, ...]
    filled: tuple[Stroke, ...]
    calm: bool


def wind_barb(direction: float, speed: float, *, southern: bool = False) -> Barb:
    """Return the barb of a wind.

    Parameters
    ----------
    direction : float
        Degrees the wind blows from.
    speed : float
        m s-1, not missing.
    southern : bool
        Whether the station lies in the southern hemisphere.

    Returns
    -------
    Barb
        For the speed to the nearest 5 knots. A wind of less than 2.5 knots that is not calm is a
        shaft without feathers.
    """
    steps = whole(speed / KNOT / 5.0)
    pennants, rest = divmod(steps, 10)
    feathers, halves = divmod(rest, 2)
    if speed <= 0.0:
        return Barb(0, 0, 0, (), (), calm=True)
    turn = math.radians(direction)
    side = -1.0 if southern else 1.0
    outward = (math.sin(turn), math.cos(turn))
    across = (side * math.cos(turn), -side * math.sin(turn))

    def at(along: float, off: float) -> Point:
        return (
            along * outward[0] + off * across[0],
            along * outward[1] + off * across[1],
        )

    def feather(along: float, length: float) -> Stroke:
        tip = at(along + length * math.cos(_SLANT), length * math.sin(_SLANT))
        return (at(along, 0.0), tip)

    strokes: list[Stroke] = [((0.0, 0.0), at(SHAFT, 0.0))]
    filled: list[Stroke] = []
    place = SHAFT
    for _ in range(pennants):
        foot, tip = feather(place, _FEATHER)
        filled.append((foot, tip, at(place - 1.4 * _SPACING, 0.0)))
        place -= 1.6 * _SPACING
    for _ in range(feathers):
        strokes.append(feather(place, _FEATHER))
        place -= _SPACING
    if halves:
        inset = _SPACING if steps == 1 else 0.0
        strokes.append(feather(place - inset, _FEATHER / 2.0))
    return Barb(pennants, feathers, halves, tuple(strokes), tuple(filled), calm=False)


def barb_path(barb: Barb, size: float) -> tuple[str, str]:
    """Return a barb as two SVG paths, lines and filled shapes, y growing downward.

    Parameters
    ----------
    barb : Barb
    size : float
        Length of the shaft in drawing units.
    """
    return _path(barb.strokes, size, ""), _path(barb.filled, size, "Z")


def _path(strokes: tuple[Stroke, ...], size: float, end: str) -> str:
    return "".join(
        "M" + "L".join(f"{x * size:.1f} {0.0 - y * size:.1f}" for x, y in stroke) + end
        for stroke in strokes
    )
