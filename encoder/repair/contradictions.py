"""What the values of a sounding say against each other, and how far apart they may be.

Parts A and C give heights and temperatures at the standard levels, parts B and D the temperatures
and winds from which a reader rebuilds the curves. The same air is thus described twice, and a wrong
figure shows where the two descriptions part.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from encoder.codes.elements import HEIGHT_IN_TENS_FROM
from encoder.codes.heights import (
    KAPPA,
    METRES_PER_KELVIN,
    ZERO_CELSIUS,
    thickness_tolerance,
)
from encoder.repair.profile import Point

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from encoder.repair.profile import Key, SoundingProfile

METRES_OF_FIGURES = 8.0
METRES_OF_TENS = 15.0
"""Part of the limit of a layer that comes from the steps of the heights, in gpm."""
KELVIN_OF_LAYER = 1.0
KELVIN_OF_UPPER_LAYER = 1.5
"""Part that comes from the temperatures, as a mean over the layer. WMO-No. 306 Volume I.1, 35.3.1
lets the curve be off by 1 K, or 2 K above 300 hPa, and seldom all along a layer (common practice,
no source)."""
KELVIN_AT_LEVEL = 1.5
KELVIN_AT_UPPER_LEVEL = 2.5
"""35.3.1, with half a kelvin for the steps of the figures."""
UPPER = 300.0
"""From this pressure upward the curve may be off by 2 K, in hPa."""
SPEED_AT_LEVEL = 7.5
SHARE_OF_SPEED = 0.3
"""Limit of a vector difference: 5 m/s and 10 degrees by 32.3.1, with margin (common practice, no
source)."""
HUMIDITY_AT_LEVEL = 60.0
"""35.3.1 lets the relative humidity be off by 15 %, but many stations chose their levels by the
temperature alone, so only the grossest contradiction counts (common practice, no source), or what
the report itself does not do elsewhere."""
LEAST_USUAL = 6
USUAL_PLACE = 2
TIMES_USUAL = 3.0
LEAST_SHARE = 0.6
LEAST_SHARE_OF_HUMIDITY = 25.0 / HUMIDITY_AT_LEVEL
LEAST_SHARE_OF_FALL = 0.5
"""A report with so many comparisons that all but two of them are well within a limit keeps its
promises, and the limit shrinks to so many times the third largest, but to no less than this share
of itself (common practice, no source; two, because one wrong height shows in two layers)."""
KELVIN_BEYOND_ADIABAT = 1.5
"""A fall of potential temperature up to this is within the steps (common practice, no source)."""
NEAR_THE_GROUND = 50.0
"""Air may be superadiabatic in this layer above the surface, in hPa (common practice, no
source)."""


ENDS_ALONE = "height-inconsistent"
"""Code of a layer judged by the temperatures at its ends alone; told when its part is read."""


@dataclass(frozen=True, slots=True)
class Misfit:
    """Values that contradict each other.

    Attributes
    ----------
    code : str
        Diagnostic code.
    pressures : tuple of float
        One level, or lower and upper level of a layer, in hPa.
    amount, limit : float
        How far apart they are, and how far they may be.
    unit : str
    keys : tuple of tuple
        The groups concerned, the one that is shown first.
    unusual : bool
        Whether the limit is that of this report, which elsewhere is much nearer.
    """

    code: str
    pressures: tuple[float, ...]
    amount: float
    limit: float
    unit: str
    keys: tuple[Key, ...]
    unusual: bool = False

    @property
    def name(self) -> tuple[str, tuple[float, ...]]:
        """What tells it from others."""
        return self.code, self.pressures


def misfits(profile: SoundingProfile, *, every: bool = False) -> list[Misfit]:
    """Return every contradiction in a profile.

    Parameters
    ----------
    profile : SoundingProfile
    every : bool
        Also what is within its limit.

    Returns
    -------
    list of Misfit
        Layers whose thickness by the heights is not that by the temperatures between them,
        temperatures and winds of standard levels off the line through the significant levels, and
        layers colder at the top than dry air can be.
    """
    return [
        *_thickness(profile, every=every),
        *_temperatures(profile, every=every),
        *_wind_misfits(profile, every=every),
        *_lapse_rates(profile.significant, every=every),
    ]


def other_misfits(profile: SoundingProfile) -> list[Misfit]:
    """Return contradictions that are told, but that no repair is looked for.

    Returns
    -------
    list of Misfit
        Tropopauses and maximum winds off the line through the significant levels, whose pressure
        may be as wrong as their values; humidities of standard levels off that line; what is within
        its limit, but far beyond all else in the report.
    """
    layers = [item for item in _thickness(profile, every=True) if item.code != ENDS_ALONE]
    humidities = list(_humidities(profile))
    return [
        *_temperatures(replace(profile, standard=profile.other), every=False),
        *_wind_misfits(replace(profile, standard_winds=profile.other_winds), every=False),
        *(item for item in humidities if abs(item.amount) > item.limit),
        *_unusual(humidities, LEAST_SHARE_OF_HUMIDITY),
        *_unusual(list(_wind_misfits(profile, every=True)), LEAST_SHARE),
        *_unusual(layers, LEAST_SHARE),
        *_unusual(list(_lapse_rates(profile.significant, every=True)), LEAST_SHARE_OF_FALL),
    ]


def _unusual(found: Sequence[Misfit], least: float) -> Iterator[Misfit]:
    """Yield what is within its limit but not within that of a report that keeps its promises."""
    if len(found) < LEAST_USUAL:
        return
    shares = [_size(item) / item.limit for item in found]
    if max(shares) <= least:
        return
    bound = max(least, TIMES_USUAL * sorted(shares, reverse=True)[USUAL_PLACE])
    for item, share in zip(found, shares, strict=True):
        if bound < share <= 1.0:
            yield replace(item, limit=bound * item.limit, unusual=True)


def _size(misfit: Misfit) -> float:
    """Return how far values are apart; air that cools less than dry air does is no fault."""
    return abs(misfit.amount) if misfit.code != "lapse-rate-impossible" else -misfit.amount


def _humidities(profile: SoundingProfile) -> Iterable[Misfit]:
    """Yield every humidity that can be judged."""
    points = profile.significant
    depths = [-point.pressure for point in points]
    runs: list[tuple[Point, Point, Point]] = []
    for level in profile.standard:
        at = bisect_left(depths, -level.pressure)
        if at >= len(points) or (at == 0 and points[0].pressure != level.pressure):
            continue
        above = points[at]
        below = above if above.pressure == level.pressure else points[at - 1]
        if None in (level.depression, below.depression, above.depression):
            continue
        if not (profile.gaps and _in_gap(profile, below.pressure, above.pressure)):
            runs.append((level, below, above))
    if not runs:
        return
    humidities = _relative_humidity([point for run in runs for point in run])
    for place, (level, below, above) in enumerate(runs):
        own, low, high = humidities[3 * place : 3 * place + 3]
        share = 0.0
        if below is not above:
            share = _share(below.pressure, level.pressure, above.pressure)
        amount = own - (low + share * (high - low))
        keys = (level.key, below.key, above.key)
        yield Misfit("humidity-misfit", (level.pressure,), amount, HUMIDITY_AT_LEVEL, "%", keys)


def _relative_humidity(points: Sequence[Point]) -> list[float]:
    from encoder import physics

    heat = np.array([point.temperature for point in points])
    dry = np.array([point.depression for point in points], dtype=np.float64)
    humidity: list[float] = physics.relative_humidity(heat, heat - dry, "wmo-8").tolist()
    return humidity


def _in_gap(profile: SoundingProfile, lower: float, upper: float) -> bool:
    return any(gap_lower > upper and gap_upper < lower for gap_lower, gap_upper in profile.gaps)


def _thickness(profile: SoundingProfile, *, every: bool) -> Iterable[Misfit]:
    points = profile.significant
    own = {point.pressure: point for point in profile.standard}
    depths = [-point.pressure for point in points]
    levels = sorted(profile.heights, reverse=True)
    for lower, upper in pairwise(levels):
        if len(points) < 2 or lower > points[0].pressure or upper < points[-1].pressure:
            if lower in own and upper in own:
                yield from _thickness_alone(profile, own[lower], own[upper], every=every)
            continue
        if profile.gaps and _in_gap(profile, lower, upper):
            continue
        inside = points[bisect_left(depths, -lower) : bisect_left(depths, -upper)]
        ends = [own.get(end) or _on_the_line(points, depths, end) for end in (lower, upper)]
        run = [ends[0], *(p for p in inside if upper < p.pressure < lower), ends[1]]
        layer = 0.0
        for below, above in pairwise(run):
            mean = (below.virtual + above.virtual) / 2.0 + ZERO_CELSIUS
            layer += mean * math.log(below.pressure / above.pressure)
        (low, low_key), (high, high_key) = profile.heights[lower], profile.heights[upper]
        amount = high - low - METRES_PER_KELVIN * layer
        steps = METRES_OF_TENS if upper <= HEIGHT_IN_TENS_FROM else METRES_OF_FIGURES
        kelvin = KELVIN_OF_LAYER if lower > UPPER else KELVIN_OF_UPPER_LAYER
        limit = steps + kelvin * METRES_PER_KELVIN * math.log(lower / upper)
        if every or abs(amount) > limit:
            keys = (high_key, low_key, *(point.key for point in run))
            yield Misfit("thickness-misfit", (lower, upper), amount, limit, "gpm", keys)


def expected_height(profile: SoundingProfile, pressure: float) -> float:
    """Return the height of a standard level by that of its neighbour and the layer between.

    Parameters
    ----------
    profile : SoundingProfile
    pressure : float
        Of a level that has a height, in hPa.

    Returns
    -------
    float
        In gpm; the height itself where no layer tells.
    """
    height = profile.heights[pressure][0]
    off = [
        -item.amount if item.pressures[1] == pressure else item.amount
        for item in _thickness(profile, every=True)
        if pressure in item.pressures
    ]
    return height + min(off, key=abs, default=0.0)


def _thickness_alone(
    profile: SoundingProfile, below: Point, above: Point, *, every: bool
) -> Iterable[Misfit]:
    """Judge a layer by the temperatures at its ends, where no significant levels are known."""
    lower, upper = below.pressure, above.pressure
    (low, low_key), (high, high_key) = profile.heights[lower], profile.heights[upper]
    mean = (below.virtual + above.virtual) / 2.0 + ZERO_CELSIUS
    amount = high - low - METRES_PER_KELVIN * mean * math.log(lower / upper)
    limit = thickness_tolerance((lower, below.virtual), (upper, above.virtual))
    if every or abs(amount) > limit:
        keys = (high_key, low_key, below.key, above.key)
        yield Misfit(ENDS_ALONE, (lower, upper), amount, limit, "gpm", keys)


def _on_the_line(points: Sequence[Point], depths: Sequence[float], pressure: float) -> Point:
    """Return the temperature between significant levels, where a standard level gives none."""
    at = bisect_left(depths, -pressure)
    above = points[at]
    if above.pressure == pressure or at == 0:
        return above
    below = points[at - 1]
    share = _share(below.pressure, pressure, above.pressure)
    return Point(
        pressure,
        below.temperature + share * (above.temperature - below.temperature),
        below.virtual + share * (above.virtual - below.virtual),
        above.key,
    )


def _temperatures(profile: SoundingProfile, *, every: bool) -> Iterable[Misfit]:
    points = profile.significant
    depths = [-point.pressure for point in points]
    for level in profile.standard:
        at = bisect_left(depths, -level.pressure)
        if at >= len(points) or (at == 0 and points[0].pressure != level.pressure):
            continue
        above = points[at]
        if above.pressure == level.pressure:
            below = above
            line = above.temperature
        else:
            below = points[at - 1]
            if profile.gaps and _in_gap(profile, below.pressure, above.pressure):
                continue
            share = _share(below.pressure, level.pressure, above.pressure)
            line = below.temperature + share * (above.temperature - below.temperature)
        limit = KELVIN_AT_LEVEL if level.pressure > UPPER else KELVIN_AT_UPPER_LEVEL
        amount = level.temperature - line
        if every or abs(amount) > limit:
            keys = (level.key, below.key, above.key)
            yield Misfit("temperature-misfit", (level.pressure,), amount, limit, "K", keys)


def _share(below: float, pressure: float, above: float) -> float:
    return math.log(below / pressure) / math.log(below / above)


def _wind_misfits(profile: SoundingProfile, *, every: bool) -> Iterable[Misfit]:
    winds = profile.significant_winds
    depths = [-wind.pressure for wind in winds]
    for level in profile.standard_winds:
        at = bisect_left(depths, -level.pressure)
        if at >= len(winds) or (at == 0 and winds[0].pressure != level.pressure):
            continue
        above = winds[at]
        below = above if above.pressure == level.pressure else winds[at - 1]
        share = 0.0 if below is above else _share(below.pressure, level.pressure, above.pressure)
        east = below.east + share * (above.east - below.east)
        north = below.north + share * (above.north - below.north)
        speed = math.hypot(level.east, level.north)
        limit = SPEED_AT_LEVEL + SHARE_OF_SPEED * speed
        amount = math.hypot(level.east - east, level.north - north)
        if every or amount > limit:
            keys = (level.key, below.key, above.key)
            yield Misfit("wind-misfit", (level.pressure,), amount, limit, "m s-1", keys)


def _lapse_rates(points: Sequence[Point], *, every: bool) -> Iterable[Misfit]:
    for below, above in pairwise(points):
        if (
            below.pressure > points[0].pressure - NEAR_THE_GROUND
            or below.pressure == above.pressure
        ):
            continue
        ratio = (above.pressure / below.pressure) ** KAPPA
        adiabatic = (below.temperature + ZERO_CELSIUS) * ratio - ZERO_CELSIUS
        amount = above.temperature - adiabatic
        if every or amount < -KELVIN_BEYOND_ADIABAT:
            yield Misfit(
                "lapse-rate-impossible",
                (below.pressure, above.pressure),
                amount,
                KELVIN_BEYOND_ADIABAT,
                "K",
                (above.key, below.key),
            )
