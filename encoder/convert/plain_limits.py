"""Levels with nothing that can hardly be, across soundings.

The limits are those of :mod:`encoder.repair.plausible`, which is the definition; here they are a
little tighter, so that what passes here passes there.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.codes.groups import standard_height
from encoder.codes.heights import KAPPA, METRES_OF_START, SHARE_OF_START, ZERO_CELSIUS
from encoder.repair.plausible import (
    COLDEST,
    HOTTEST,
    KELVIN_BY_DEPTH,
    KELVIN_OF_FALL,
    KELVIN_OF_FALL_NEAR_GROUND,
    KELVIN_OF_RISE,
    KELVIN_OF_RISE_NEAR_GROUND,
    LIMIT_DEPTHS,
    NEAR_GROUND,
    SHARE_OF_PEAK,
    SPEED_BY_DEPTH,
    SPEED_OF_PEAK,
    STANDARD_PRESSURES,
    STRONGEST_WIND,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Mask = NDArray[np.bool_]

NEAR = 0.98
"""Share of a limit from which a report is left to the decoder of one report."""
_PRESSURES = np.array(sorted(STANDARD_PRESSURES))
_HEIGHTS = np.array([standard_height(pressure) for pressure in sorted(STANDARD_PRESSURES)])


def hardly_possible(columns: Mapping[str, Floats], sounding: NDArray[np.int32]) -> Mask:
    """Tell which levels hold a value that is near or beyond a limit.

    Parameters
    ----------
    columns : mapping of str to ndarray, shape (level,)
        Levels of soundings one after another, upward each.
    sounding : ndarray of int, shape (level,)
        To which one each level belongs.

    Returns
    -------
    ndarray of bool, shape (level,)
    """
    doubtful = np.zeros(len(sounding), dtype=bool)
    pressure = columns["air_pressure"]
    _heights(columns["geopotential_height"], pressure, doubtful)
    _temperatures(columns["air_temperature"], pressure, sounding, doubtful)
    _winds(columns, sounding, doubtful)
    return doubtful


def _heights(height: Floats, pressure: Floats, doubtful: Mask) -> None:
    known = np.flatnonzero(np.isfinite(height) & np.isin(pressure, _PRESSURES))
    usual = _HEIGHTS[np.searchsorted(_PRESSURES, pressure[known])]
    limit = NEAR * (METRES_OF_START + SHARE_OF_START * usual)
    doubtful[known[np.abs(height[known] - usual) > limit]] = True


def _temperatures(
    heat: Floats, pressure: Floats, sounding: NDArray[np.int32], doubtful: Mask
) -> None:
    known = np.flatnonzero(np.isfinite(heat) & (pressure > 0.0))
    if not len(known):
        return
    warmth, own, force = heat[known], sounding[known], pressure[known]
    depth = np.log(force)
    high = np.interp(depth, LIMIT_DEPTHS, HOTTEST) - 1.0
    low = np.interp(depth, LIMIT_DEPTHS, COLDEST) + 1.0
    doubtful[known[(warmth > high) | (warmth < low)]] = True
    first = np.concatenate(([True], own[1:] != own[:-1]))
    ground = force[np.maximum.accumulate(np.where(first, np.arange(len(known)), 0))]
    near = force[:-1] > ground[:-1] - NEAR_GROUND + 1.0
    ratio = depth[:-1] - depth[1:]
    dry = (warmth[:-1] + ZERO_CELSIUS) * np.expm1(-KAPPA * ratio)
    change = warmth[1:] - warmth[:-1]
    fall = np.where(near, KELVIN_OF_FALL_NEAR_GROUND, KELVIN_OF_FALL)
    rise = np.where(near, KELVIN_OF_RISE_NEAR_GROUND, KELVIN_OF_RISE) + KELVIN_BY_DEPTH * ratio
    wrong = ((dry - change > NEAR * fall) | (change > NEAR * rise)) & ~first[1:]
    doubtful[known[1:][wrong]] = True


def _winds(columns: Mapping[str, Floats], sounding: NDArray[np.int32], doubtful: Mask) -> None:
    direction, speed = columns["wind_from_direction"], columns["wind_speed"]
    known = np.flatnonzero(np.isfinite(direction) & np.isfinite(speed))
    size, own = speed[known], sounding[known]
    doubtful[known[size > NEAR * STRONGEST_WIND]] = True
    if len(known) < 3:
        return
    wind = size * np.exp(1j * np.radians(direction[known]))
    step = np.abs(np.diff(wind))
    amount = np.minimum(step[1:], step[:-1]) - 0.5 * np.abs(wind[2:] - wind[:-2])
    limit = SPEED_OF_PEAK + SHARE_OF_PEAK * np.maximum(size[2:], size[:-2])
    force = columns["air_pressure"][known]
    limit = limit + SPEED_BY_DEPTH * np.abs(np.log(force[:-2] / force[2:]))
    doubtful[known[1:-1][(amount > NEAR * limit) & (own[2:] == own[:-2])]] = True
