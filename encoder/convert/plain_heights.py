"""The heights of standard levels across reports; :mod:`encoder.codes.heights` is the definition."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder import physics
from encoder.codes.bulk_records import STANDARD, SURFACE, Records
from encoder.codes.elements import BELOW_SEA_LEVEL, HEIGHT_IN_TENS_FROM
from encoder.codes.fm35 import LOWER_STANDARD, UPPER_STANDARD
from encoder.codes.groups import standard_height
from encoder.codes.heights import (
    KAPPA,
    LARGEST_MISFIT,
    LARGEST_TOLERANCE,
    LEAST_TOLERANCE,
    METRES_OF_START,
    METRES_PER_KELVIN,
    MOST_VAPOUR,
    SHARE_OF_START,
    ZERO_CELSIUS,
)
from encoder.convert.plain_limits import NEAR

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

PRESSURES = np.array(sorted({*LOWER_STANDARD.values(), *UPPER_STANDARD.values()}, reverse=True))
"""Standard levels of all parts, downward pressure."""
_HEIGHTS = np.array([standard_height(float(p)) for p in PRESSURES])
_USUAL = np.asarray(physics.standard_atmosphere_temperature(_HEIGHTS))


def virtual_temperature(records: Records) -> Floats:
    """Return the virtual temperature in degC of records, their temperature without humidity."""
    warm = records.temperature.copy()
    moist = np.flatnonzero(np.isfinite(records.temperature) & np.isfinite(records.depression))
    if not len(moist):
        return warm
    heat, pressure = records.temperature[moist], records.pressure[moist]
    vapour = physics.saturation_vapour_pressure(heat - records.depression[moist], "wmo-8")
    possible = vapour < MOST_VAPOUR * pressure
    found = np.asarray(physics.virtual_temperature(heat, vapour, pressure))
    warm[moist[possible]] = found[possible]
    return warm


def plain_heights(
    records: Records, letters: NDArray[np.bytes_], virtual: Floats
) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the heights of records, and of each part whether they are beyond doubt.

    Parameters
    ----------
    records : Records
    letters : ndarray of bytes, shape (part,)
    virtual : ndarray, shape (record,)
        Virtual temperature in degC.

    Returns
    -------
    heights : ndarray, shape (record,)
        gpm, NaN where there is none.
    sure : ndarray of bool, shape (part,)
    """
    parts = len(letters)
    heights = np.full(len(records.part), np.nan)
    sure = np.ones(parts, dtype=bool)
    with_figures = np.flatnonzero((records.kind == STANDARD) & (records.height_figures >= 0))
    if not len(with_figures):
        return heights, sure
    slots = np.searchsorted(-PRESSURES, -records.pressure)
    figures = np.full((parts, len(PRESSURES)), -1, dtype=np.int64)
    place = (records.part[with_figures], slots[with_figures])
    figures[place] = records.height_figures[with_figures]
    deviation, measured, sure = _deviations(records, slots, virtual, figures >= 0, parts)
    chosen, sure_chain = _choose(figures, deviation)
    sure &= sure_chain
    # a height far from the usual one may have led the chain astray: see heights.METRES_OF_START
    limit = NEAR * (METRES_OF_START + SHARE_OF_START * _HEIGHTS)
    sure &= ~(np.abs(chosen - _HEIGHTS) > limit[None, :]).any(axis=1)
    sure &= _near_enough(chosen, deviation, measured)
    heights[with_figures] = chosen[place]
    return heights, sure


def _deviations(
    records: Records,
    slots: NDArray[np.intp],
    virtual: Floats,
    has: NDArray[np.bool_],
    parts: int,
) -> tuple[Floats, NDArray[np.bool_], NDArray[np.bool_]]:
    """Return how much warmer than the standard atmosphere the levels are."""
    deviation: Floats = np.zeros(has.shape)
    measured: NDArray[np.bool_] = np.zeros(has.shape, dtype=bool)
    rows = np.flatnonzero((records.kind == STANDARD) & np.isfinite(virtual))
    place = (records.part[rows], slots[rows])
    deviation[place] = virtual[rows] - _USUAL[slots[rows]]
    measured[place] = True
    # below the lowest known level the deviation of that level holds, the surface included
    lowest = np.where(measured.any(axis=1), PRESSURES[measured.argmax(axis=1)], 0.0)
    low = deviation[np.arange(parts), measured.argmax(axis=1)]
    low = np.where(measured.any(axis=1), low, 0.0)
    ground = np.flatnonzero((records.kind == SURFACE) & np.isfinite(virtual))
    pressure = records.pressure[ground]
    usual = physics.standard_atmosphere_temperature(
        np.asarray(physics.standard_atmosphere_height(pressure))
    )
    own = records.part[ground]
    deeper = pressure > lowest[own]
    lowest[own[deeper]] = pressure[deeper]
    low[own[deeper]] = (virtual[ground] - np.asarray(usual))[deeper]
    lacking = has & ~measured
    below = lacking & (PRESSURES[None, :] >= lowest[:, None])
    deviation = np.where(below, low[:, None], deviation)
    return deviation, measured, np.asarray(~(lacking & ~below).any(axis=1))


def _choose(figures: NDArray[np.int64], deviation: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Return heights chained from the first sure level, up and down, and where all fit well."""
    fits = np.ones(len(figures), dtype=bool)
    slots = figures.shape[1]
    has = figures >= 0
    order = np.arange(slots)
    high = has & (PRESSURES <= HEIGHT_IN_TENS_FROM)[None, :]
    plain = has & (PRESSURES == 1000.0)[None, :]
    start = np.where(
        high.any(axis=1),
        high.argmax(axis=1),
        np.where(plain.any(axis=1), plain.argmax(axis=1), has.argmax(axis=1)),
    )
    heights = np.full(figures.shape, np.nan)
    rows = np.flatnonzero(has.any(axis=1))
    at = start[rows]
    heights[rows, at] = _nearest(figures[rows, at], at, _HEIGHTS[at])
    for steps in (order[::-1], order):
        last = start.copy()
        for slot in steps.tolist():
            side = slot < start if steps[0] > 0 else slot > start
            own = np.flatnonzero(has[:, slot] & side)
            if not len(own):
                continue
            before = last[own]
            mean = (deviation[own, before] + deviation[own, slot]) / 2.0
            thick = _HEIGHTS[slot] - _HEIGHTS[before]
            thick = thick + METRES_PER_KELVIN * mean * np.log(PRESSURES[before] / PRESSURES[slot])
            expected = heights[own, before] + thick
            heights[own, slot] = _nearest(figures[own, slot], np.full(len(own), slot), expected)
            fits[own[np.abs(heights[own, slot] - expected) > NEAR * LARGEST_MISFIT]] = False
            last[own] = slot
    return heights, fits


def _nearest(figures: NDArray[np.int64], slot: NDArray[np.intp], expected: Floats) -> Floats:
    """Return the candidate of figures nearest to what is expected."""
    tens = PRESSURES[slot] <= HEIGHT_IN_TENS_FROM
    unit, turn = np.where(tens, 10.0, 1.0), np.where(tens, 10000.0, 1000.0)
    plain = figures * unit
    candidates = plain[None, :] + turn[None, :] * np.arange(7)[:, None]
    below = np.where(~tens & (figures > BELOW_SEA_LEVEL), BELOW_SEA_LEVEL - figures, np.inf)
    candidates = np.concatenate((below[None, :], candidates))
    best = np.abs(candidates - expected[None, :]).argmin(axis=0)
    return np.asarray(candidates[best, np.arange(len(figures))])


def _near_enough(
    heights: Floats, deviation: Floats, measured: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Tell which parts have no layer near the limit of its thickness."""
    good = np.ones(len(heights), dtype=bool)
    has = np.isfinite(heights)
    temperature = deviation + _USUAL[None, :] + ZERO_CELSIUS
    last = np.full(len(heights), -1)
    for slot in range(heights.shape[1]):
        own = np.flatnonzero(has[:, slot])
        before = last[own]
        pair = (before >= 0) & measured[own, slot] & measured[own, before]
        rows, low = own[pair], before[pair]
        ratio = np.log(PRESSURES[low] / PRESSURES[slot])
        layer = METRES_PER_KELVIN * (temperature[rows, low] + temperature[rows, slot]) / 2.0 * ratio
        residual = np.abs(heights[rows, slot] - heights[rows, low] - layer)
        coefficient = 0.5 * METRES_PER_KELVIN * ratio
        cooling = np.exp(-KAPPA * ratio)
        lower = coefficient * (1.0 + cooling) * temperature[rows, low]
        upper = coefficient * (1.0 + 1.0 / cooling) * temperature[rows, slot]
        limit = np.clip(0.5 * (upper - lower), LEAST_TOLERANCE, LARGEST_TOLERANCE)
        good[rows[residual > NEAR * limit]] = False
        last[own] = slot
    return good
