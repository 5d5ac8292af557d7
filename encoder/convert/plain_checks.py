"""Soundings with no contradiction anywhere near, across reports.

The checks are those of :mod:`encoder.repair.contradictions`, which is the definition; here the
limits are a little tighter, so that what passes here passes there.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from encoder import physics
from encoder.codes.bulk_records import HEAT, MAXIMUM_WIND, STANDARD, TROPOPAUSE, WIND, Records
from encoder.codes.elements import HEIGHT_IN_TENS_FROM
from encoder.codes.heights import KAPPA, METRES_PER_KELVIN, ZERO_CELSIUS
from encoder.convert.plain_limits import NEAR
from encoder.levels.table import LevelKind
from encoder.repair.contradictions import (
    HUMIDITY_AT_LEVEL,
    KELVIN_AT_LEVEL,
    KELVIN_AT_UPPER_LEVEL,
    KELVIN_BEYOND_ADIABAT,
    KELVIN_OF_LAYER,
    KELVIN_OF_UPPER_LAYER,
    LEAST_SHARE,
    LEAST_SHARE_OF_FALL,
    LEAST_SHARE_OF_HUMIDITY,
    LEAST_USUAL,
    METRES_OF_FIGURES,
    METRES_OF_TENS,
    NEAR_THE_GROUND,
    SHARE_OF_SPEED,
    SPEED_AT_LEVEL,
    TIMES_USUAL,
    UPPER,
    USUAL_PLACE,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Places = NDArray[np.intp]

_SPAN = 2048.0


def all_well(
    records: Records, sounding: NDArray[np.int32], virtual: Floats, heights: Floats, count: int
) -> NDArray[np.bool_]:
    """Tell which soundings pass every check with a margin.

    Parameters
    ----------
    records : Records
    sounding : ndarray of int, shape (record,)
    virtual, heights : ndarray, shape (record,)
    count : int
        Number of soundings.
    """
    good = np.ones(count, dtype=bool)
    _surfaces(records, sounding, good)
    heat = np.flatnonzero((records.kind == HEAT) & np.isfinite(records.temperature))
    heat = heat[np.argsort(_key(records, sounding, heat), kind="stable")]
    _lapse_rates(records, sounding, heat, good)
    _temperatures(records, sounding, heat, good)
    _winds(records, sounding, good)
    _humidities(records, sounding, heat, good)
    _thickness(records, sounding, (virtual, heights), heat, good)
    return good


def _key(records: Records, sounding: NDArray[np.int32], rows: Places) -> Floats:
    """Return numbers that rise with the sounding and, inside it, with falling pressure."""
    return np.asarray(sounding[rows] * _SPAN + (1100.0 - records.pressure[rows]))


def _surfaces(records: Records, sounding: NDArray[np.int32], good: NDArray[np.bool_]) -> None:
    rows = np.flatnonzero((records.level_kinds & int(LevelKind.SURFACE)) != 0)
    low = np.full(len(good), np.inf)
    high = np.full(len(good), -np.inf)
    np.minimum.at(low, sounding[rows], records.pressure[rows])
    np.maximum.at(high, sounding[rows], records.pressure[rows])
    good[high > low] = False


def _lapse_rates(
    records: Records, sounding: NDArray[np.int32], rows: Places, good: NDArray[np.bool_]
) -> None:
    if len(rows) < 2:
        return
    pressure, heat, own = records.pressure[rows], records.temperature[rows], sounding[rows]
    first = np.concatenate(([True], own[1:] != own[:-1]))
    ground = pressure[np.maximum.accumulate(np.where(first, np.arange(len(rows)), 0))]
    ratio = (pressure[1:] / pressure[:-1]) ** KAPPA
    adiabatic = (heat[:-1] + ZERO_CELSIUS) * ratio - ZERO_CELSIUS
    shares = (adiabatic - heat[1:]) / KELVIN_BEYOND_ADIABAT
    free = (own[1:] == own[:-1]) & (pressure[1:] != pressure[:-1])
    free &= pressure[:-1] <= ground[:-1] - NEAR_THE_GROUND
    shares, layer = shares[free], own[1:][free]
    good[layer[_beyond(shares, layer, len(good), LEAST_SHARE_OF_FALL)]] = False


def _between(
    records: Records, sounding: NDArray[np.int32], levels: Places, points: Places
) -> tuple[Places, Places, Floats, Places]:
    """Return for levels the points below and above, the share of the way, and which have both."""
    keys = _key(records, sounding, points)
    at = np.searchsorted(keys, _key(records, sounding, levels), side="left")
    inside = at < len(points)
    safe = np.minimum(at, max(len(points) - 1, 0))
    inside &= sounding[points[safe]] == sounding[levels]
    same = inside & (records.pressure[points[safe]] == records.pressure[levels])
    before = np.maximum(safe - 1, 0)
    lower = inside & (safe > 0) & (sounding[points[before]] == sounding[levels])
    keep = same | lower
    levels, same, safe, before = levels[keep], same[keep], safe[keep], before[keep]
    above = points[safe]
    below = np.where(same, above, points[before])
    bottom, top = records.pressure[below], records.pressure[above]
    depth = np.log(np.where(same, math.e, bottom / top))
    share = np.where(same, 0.0, np.log(bottom / records.pressure[levels]) / depth)
    return below, above, share, levels


def _beyond(
    shares: Floats, owner: NDArray[np.int32], count: int, least: float
) -> NDArray[np.bool_]:
    """Tell which shares of a limit are near it, or near what their sounding makes of it."""
    found = shares > NEAR * least
    concerned = np.zeros(count, dtype=bool)
    concerned[owner[found]] = True
    rows = np.flatnonzero(concerned[owner])
    if not len(rows):
        return found
    own, share = owner[rows], shares[rows]
    number = np.bincount(own, minlength=count)
    ordered = share[np.lexsort((-share, own))]
    place = np.minimum(np.cumsum(number) - number + USUAL_PLACE, len(ordered) - 1)
    bound = np.maximum(least, TIMES_USUAL * ordered[place])
    bound = np.where(number < LEAST_USUAL, 1.0, np.minimum(bound, 1.0))
    found[rows] = share > NEAR * bound[own]
    return found


def _temperatures(
    records: Records, sounding: NDArray[np.int32], points: Places, good: NDArray[np.bool_]
) -> None:
    checked = (records.kind == STANDARD) | (records.kind == TROPOPAUSE)
    levels = np.flatnonzero(checked & np.isfinite(records.temperature))
    if not len(points) or not len(levels):
        return
    below, above, share, levels = _between(records, sounding, levels, points)
    heat = records.temperature
    line = heat[below] + share * (heat[above] - heat[below])
    limit = np.where(records.pressure[levels] > UPPER, KELVIN_AT_LEVEL, KELVIN_AT_UPPER_LEVEL)
    good[sounding[levels[np.abs(heat[levels] - line) > NEAR * limit]]] = False


def _humidities(
    records: Records, sounding: NDArray[np.int32], points: Places, good: NDArray[np.bool_]
) -> None:
    moist = np.isfinite(records.temperature) & np.isfinite(records.depression)
    levels = np.flatnonzero((records.kind == STANDARD) & moist)
    if not len(points) or not len(levels):
        return
    below, above, share, levels = _between(records, sounding, levels, points)
    humidity = np.full(len(moist), np.nan)
    heat = records.temperature[moist]
    dew_point = heat - records.depression[moist]
    humidity[moist] = physics.relative_humidity(heat, dew_point, "wmo-8")
    line = humidity[below] + share * (humidity[above] - humidity[below])
    shares = np.abs(humidity[levels] - line) / HUMIDITY_AT_LEVEL
    known = np.isfinite(shares)
    own = sounding[levels[known]]
    good[own[_beyond(shares[known], own, len(good), LEAST_SHARE_OF_HUMIDITY)]] = False


def _winds(records: Records, sounding: NDArray[np.int32], good: NDArray[np.bool_]) -> None:
    known = np.isfinite(records.speed)
    points = np.flatnonzero((records.kind == WIND) & known)
    other = (records.kind == TROPOPAUSE) | (records.kind == MAXIMUM_WIND)
    levels = np.flatnonzero(((records.kind == STANDARD) | other) & known)
    if not len(points) or not len(levels):
        return
    points = points[np.argsort(_key(records, sounding, points), kind="stable")]
    below, above, share, levels = _between(records, sounding, levels, points)
    angle = np.radians(records.direction)
    east, north = records.speed * np.sin(angle), records.speed * np.cos(angle)
    off_east = east[levels] - (east[below] + share * (east[above] - east[below]))
    off_north = north[levels] - (north[below] + share * (north[above] - north[below]))
    limit = SPEED_AT_LEVEL + SHARE_OF_SPEED * records.speed[levels]
    shares, own = np.hypot(off_east, off_north) / limit, sounding[levels]
    good[own[shares > NEAR]] = False
    usual = records.kind[levels] == STANDARD
    good[own[usual][_beyond(shares[usual], own[usual], len(good), LEAST_SHARE)]] = False


def _thickness(
    records: Records,
    sounding: NDArray[np.int32],
    values: tuple[Floats, Floats],
    points: Places,
    good: NDArray[np.bool_],
) -> None:
    """Check layers; ``values`` are virtual temperatures and heights of the records."""
    virtual, heights = values
    levels = np.flatnonzero((records.kind == STANDARD) & np.isfinite(heights))
    if len(levels) < 2 or not len(points):
        return
    levels = levels[np.argsort(_key(records, sounding, levels), kind="stable")]
    pressure = records.pressure
    keys = _key(records, sounding, points)
    at = np.searchsorted(keys, _key(records, sounding, levels), side="left")
    count = np.bincount(sounding[points], minlength=len(good))
    ends = np.cumsum(count)
    begins = ends - count
    own = sounding[levels]
    # the virtual temperature at a level: its own, else on the line between significant levels
    safe = np.clip(at, 0, len(points) - 1)
    above, below = points[safe], points[np.maximum(safe - 1, 0)]
    same = (pressure[above] == pressure[levels]) | (at <= begins[own])
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.log(pressure[below] / pressure[levels])
        share = share / np.log(pressure[below] / pressure[above])
        line = virtual[below] + share * (virtual[above] - virtual[below])
    warm = np.where(
        np.isfinite(virtual[levels]), virtual[levels], np.where(same, virtual[above], line)
    )
    depth = np.log(pressure[points])
    mean = (virtual[points][1:] + virtual[points][:-1]) / 2.0 + ZERO_CELSIUS
    summed = np.concatenate(([0.0], np.cumsum(mean * (depth[:-1] - depth[1:]))))
    low, high = levels[:-1], levels[1:]
    pair = own[1:] == own[:-1]
    bottom, top = pressure[low], pressure[high]
    pair &= count[own[1:]] >= 2
    first = points[np.minimum(begins[own[1:]], len(points) - 1)]
    final = points[np.maximum(ends[own[1:]] - 1, 0)]
    pair &= (bottom <= pressure[first]) & (top >= pressure[final])
    start, stop = at[:-1].copy(), at[1:].copy()
    at_bottom = points[np.minimum(start, len(points) - 1)]
    start += pressure[at_bottom] == bottom
    pair &= np.isfinite(warm[:-1]) & np.isfinite(warm[1:])
    some = stop > start
    one = np.minimum(start, len(points) - 1)
    two = np.clip(stop - 1, 0, len(points) - 1)
    lowest, highest = np.log(bottom), np.log(top)

    def layer(warm_low: Floats, warm_high: Floats, depth_low: Floats, depth_high: Floats) -> Floats:
        return ((warm_low + warm_high) / 2.0 + ZERO_CELSIUS) * (depth_low - depth_high)

    through = (
        layer(warm[:-1], virtual[points[one]], lowest, depth[one])
        + summed[two]
        - summed[one]
        + layer(virtual[points[two]], warm[1:], depth[two], highest)
    )
    straight = layer(warm[:-1], warm[1:], lowest, highest)
    thick = METRES_PER_KELVIN * np.where(some, through, straight)
    amount = np.abs(heights[high] - heights[low] - thick)
    steps = np.where(top <= HEIGHT_IN_TENS_FROM, METRES_OF_TENS, METRES_OF_FIGURES)
    kelvin = np.where(bottom > UPPER, KELVIN_OF_LAYER, KELVIN_OF_UPPER_LAYER)
    limit = steps + kelvin * METRES_PER_KELVIN * (lowest - highest)
    shares, own = amount[pair] / limit[pair], own[1:][pair]
    good[own[_beyond(shares, own, len(good), LEAST_SHARE)]] = False
