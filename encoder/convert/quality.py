"""Quality checks on whole batches: findings set bits, values stay as they are.

Limits of single values are those of the column table. The other limits stand here, each a rule of
thumb made wide enough that real soundings pass; a finding asks somebody to look.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from encoder.columns import column
from encoder.convert.batch import TENTHS, fill_of, sums_of_soundings
from encoder.formats.netcdf.converted_product import LevelQuality, SoundingQuality
from encoder.levels.table import LevelKind
from encoder.physics.constants import KAPPA, ZERO_CELSIUS
from encoder.rounding import whole

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from encoder.convert.batch import Batch
    from encoder.stations import StationCatalogue

METRES_PER_KELVIN = 29.2713
"""Thickness in gpm of a layer at 1 K with a pressure ratio of e: R/g0, 287.053/9.80665."""
THICKNESS_SHARE = 0.05
THICKNESS_LEAST = 40.0
"""A layer may differ from its hydrostatic thickness by this share of it and this many gpm."""
LAPSE_MARGIN = 3.0
"""K by which a layer may cool more than a dry adiabat does."""
SPIKE = 15.0
"""K by which a level may lie outside the line between its neighbours, where both are within
:data:`SPIKE_LAYER` in the logarithm of pressure."""
SPIKE_LAYER = 0.35
JUMP = 45.0
"""m s-1 by which the wind speed of neighbouring levels may differ."""
FAR_RELEASE = 3.0 * 3600.0
"""Seconds that a release may be away from the nominal time."""
MOVED = 0.1
"""Degrees that a position may differ from the catalogue."""
LEAST_REPEATED = 5
"""Levels from which two equal profiles are no chance."""
UNIT_RATIO = 1.5
"""Median speed against the neighbouring soundings of the station from which, or below the inverse
of which, m s-1 and knots (ratio 1.94) are suspected of having been mixed up."""
UNIT_NEIGHBOURS = 30
UNIT_LEAST = 10
"""Levels with wind a sounding needs, and soundings on each side, for that comparison."""

UNIT_OF_PARTS = (1.55, 2.4)
"""Speeds of standard levels against those between significant winds, as a ratio or its inverse,
from which to which the two are suspected of different units (1.94)."""
UNIT_SPREAD = 0.3
UNIT_LEVELS = 3
"""Most spread of the logarithm of that ratio in a sounding, and standard levels it needs."""

LEAST_IN_TENS = 12
"""Winds from which it is no chance that every direction is a whole ten degrees; with less than half
of the soundings around like that, the fives were lost on the way (common practice, no source)."""

_LIMITS: tuple[tuple[str, LevelQuality], ...] = (
    ("air_pressure", LevelQuality.PRESSURE_OUTSIDE_LIMITS),
    ("geopotential_height", LevelQuality.HEIGHT_OUTSIDE_LIMITS),
    ("air_temperature", LevelQuality.TEMPERATURE_OUTSIDE_LIMITS),
    ("relative_humidity", LevelQuality.HUMIDITY_OUTSIDE_LIMITS),
    ("dew_point_depression", LevelQuality.HUMIDITY_OUTSIDE_LIMITS),
    ("wind_from_direction", LevelQuality.WIND_OUTSIDE_LIMITS),
    ("wind_speed", LevelQuality.WIND_OUTSIDE_LIMITS),
)
BLOCK = 1 << 16


class _Series(NamedTuple):
    """Rows of a batch with some quantities, and which pairs of neighbours are of one sounding."""

    rows: NDArray[np.intp]
    joined: NDArray[np.bool_]


def flag_levels(batch: Batch) -> NDArray[np.int16]:
    """Return the findings on each level, bits of LevelQuality, shape (level,).

    No check looks beyond a sounding, so that some soundings are worked on at a time, whose columns
    stay in the cache.
    """
    found = np.zeros(len(batch.levels["kinds"]), dtype=np.int16)
    offsets = batch.offsets
    first = 0
    while first < len(batch):
        last = int(np.searchsorted(offsets, offsets[first] + BLOCK, "right")) - 1
        last = max(last, first + 1)
        _flag_block(batch.between(first, last), found[offsets[first] : offsets[last]])
        first = last
    return found


def _flag_block(batch: Batch, found: NDArray[np.int16]) -> None:
    """Set the findings on the levels of some soundings."""
    there = {name: _present(batch, name) for name, _bit in _LIMITS}
    for name, bit in _LIMITS:
        low, high = _limits(batch, name)
        values = batch.levels[name]
        outside = (values < low) | (values > high)
        # the figure for missing is outside the limits, NaN is not
        missing = len(values) - np.count_nonzero(there[name]) if batch.tenths else 0
        if np.count_nonzero(outside) != missing:
            found[outside & there[name]] |= int(bit)
    half = there["wind_from_direction"] != there["wind_speed"]
    if half.any():
        found[half] |= int(LevelQuality.HALF_WIND)
    owner = np.repeat(np.arange(len(batch), dtype=np.int32), batch.profiles["row_size"])
    _check_order(batch, there, owner, found)
    _check_layers(batch, there, owner, found)
    _check_winds(batch, there, owner, found)


def _present(batch: Batch, name: str) -> NDArray[np.bool_]:
    values = batch.levels[name]
    if batch.tenths:
        return np.asarray(values != fill_of(name))
    return np.asarray(~np.isnan(values))


def _limits(batch: Batch, name: str) -> tuple[float, float]:
    """Return the gross limits in the figures of the batch."""
    entry = column(name)
    if not batch.tenths:
        return entry.lowest, entry.highest
    packing = TENTHS[name]
    scale = whole(packing.steps / packing.factor)
    return whole(entry.lowest * scale), whole(entry.highest * scale)


def _figures(batch: Batch, name: str, rows: Any) -> NDArray[np.float32]:
    """Return values in package units; float32 is exact enough for checks."""
    values = batch.levels[name][rows].astype(np.float32)
    if batch.tenths:
        packing = TENTHS[name]
        values *= np.float32(packing.factor / packing.steps)
    return np.asarray(values)


def _series(mask: NDArray[np.bool_], owner: NDArray[np.int32]) -> _Series:
    rows = np.flatnonzero(mask)
    own = owner if len(rows) == len(owner) else owner[rows]
    return _Series(rows, own[1:] == own[:-1])


def _mark(found: NDArray[np.int16], rows: NDArray[np.intp], bit: LevelQuality) -> None:
    if len(rows):
        found[rows] |= np.int16(int(bit))


def _check_order(batch: Batch, there: Any, owner: Any, found: Any) -> None:
    with_pressure = _series(there["air_pressure"], owner)
    pressure = batch.levels["air_pressure"][with_pressure.rows]
    rises = (pressure[1:] >= pressure[:-1]) & with_pressure.joined
    if rises.any():
        _mark(found, with_pressure.rows[1:][rises], LevelQuality.PRESSURE_ORDER)
    both = _series(there["air_pressure"] & there["geopotential_height"], owner)
    height = batch.levels["geopotential_height"][both.rows]
    lower = (height[1:] <= height[:-1]) & both.joined
    if lower.any():
        pressure = batch.levels["air_pressure"][both.rows]
        lower &= pressure[1:] < pressure[:-1]
        _mark(found, both.rows[1:][lower], LevelQuality.HEIGHT_ORDER)


def _check_layers(batch: Batch, there: Any, owner: Any, found: Any) -> None:
    """Check lapse rates, spikes and thicknesses between neighbouring levels."""
    warm = _series(there["air_pressure"] & there["air_temperature"], owner)
    if len(warm.rows) < 2:
        return
    temperature = _figures(batch, "air_temperature", warm.rows)
    depth = np.log(np.maximum(_figures(batch, "air_pressure", warm.rows), np.float32(0.01)))
    layer = depth[:-1] - depth[1:]
    rising = warm.joined & (layer > 0)
    change = temperature[1:] - temperature[:-1]
    allowed = (temperature[:-1] + np.float32(ZERO_CELSIUS)) * layer * np.float32(-KAPPA)
    cools = rising & (change < allowed - np.float32(LAPSE_MARGIN))
    _mark(found, warm.rows[1:][cools], LevelQuality.LAPSE_RATE)
    steep = np.abs(change) > SPIKE
    spike = (
        rising[1:]
        & rising[:-1]
        & steep[1:]
        & steep[:-1]
        & ((change[1:] > 0) != (change[:-1] > 0))
        & (layer[1:] < SPIKE_LAYER)
        & (layer[:-1] < SPIKE_LAYER)
    )
    _mark(found, warm.rows[1:-1][spike], LevelQuality.TEMPERATURE_SPIKE)
    # thickness from level to level by the mean temperature of all layers between two heights
    mean = (temperature[1:] + temperature[:-1]) * np.float32(0.5) + np.float32(ZERO_CELSIUS)
    thick = np.where(rising, mean * layer * np.float32(METRES_PER_KELVIN), 0.0)
    high = np.flatnonzero(there["geopotential_height"][warm.rows])
    if len(high) < 2:
        return
    rows = warm.rows[high]
    height = _figures(batch, "geopotential_height", rows)
    same = owner[rows][1:] == owner[rows][:-1]
    expected = np.add.reduceat(thick[: high[-1]], high[:-1], dtype=np.float64)
    misfit = np.abs((height[1:] - height[:-1]) - expected)
    wrong = same & (misfit > np.abs(expected) * THICKNESS_SHARE + THICKNESS_LEAST)
    _mark(found, rows[1:][wrong], LevelQuality.LAYER_THICKNESS)


def _check_winds(batch: Batch, there: Any, owner: Any, found: Any) -> None:
    windy = _series(there["wind_speed"] & there["air_pressure"], owner)
    if len(windy.rows) < 2:
        return
    speed = _figures(batch, "wind_speed", windy.rows)
    jump = (np.abs(speed[1:] - speed[:-1]) > JUMP) & windy.joined
    _mark(found, windy.rows[1:][jump], LevelQuality.WIND_JUMP)


# --- soundings --------------------------------------------------------------------------------


def flag_soundings(
    batch: Batch, found: NDArray[np.int16], catalogue: StationCatalogue | None = None
) -> NDArray[np.int32]:
    """Return the findings on each sounding, bits of SoundingQuality, shape (sounding,).

    Parameters
    ----------
    batch : Batch
        The whole history of a station, in the order of nominal time.
    found : ndarray of int16
        From :func:`flag_levels`.
    catalogue : StationCatalogue, optional
        To compare positions with.
    """
    quality = batch.profiles["sounding_quality"].astype(np.int32)
    offsets = batch.offsets
    some = sums_of_soundings(found != 0, batch.profiles["row_size"], np.int32) > 0
    quality[some] |= int(SoundingQuality.LEVELS_FLAGGED)
    quality[batch.profiles["row_size"] == 0] |= int(SoundingQuality.NO_LEVELS)
    away = np.abs(batch.profiles["time"] - batch.profiles["nominal_time"])
    known = batch.profiles["time_source"] == 0
    hour_known = (quality & int(SoundingQuality.HOUR_UNKNOWN)) == 0
    far = known & hour_known & (away > FAR_RELEASE)
    quality[far] |= int(SoundingQuality.RELEASE_FAR_FROM_NOMINAL)
    quality[_goes_back(batch)] |= int(SoundingQuality.TIME_GOES_BACK)
    quality[_repeated(batch, offsets)] |= int(SoundingQuality.REPEATED_PROFILE)
    quality[_fives_lost(batch)] |= int(SoundingQuality.DIRECTIONS_IN_TENS)
    unit = _unit_suspect(batch) | _units_of_parts(batch)
    quality[unit] |= int(SoundingQuality.WIND_UNIT_SUSPECT)
    if catalogue is not None:
        quality[_moved(batch, catalogue)] |= int(SoundingQuality.POSITION_NOT_OF_CATALOGUE)
    return quality


def _goes_back(batch: Batch) -> NDArray[np.bool_]:
    """Tell which soundings stand in their source after one of a later time."""
    marked = np.zeros(len(batch), dtype=bool)
    profiles = batch.profiles
    order = np.lexsort((profiles["source_offset"], profiles["source_index"]))
    nominal = profiles["nominal_time"][order]
    source = profiles["source_index"][order]
    back = (nominal[1:] < nominal[:-1]) & (source[1:] == source[:-1])
    marked[order[1:][back]] = True
    return marked


def _repeated(batch: Batch, offsets: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Tell which soundings have the very levels of the one before them at another time."""
    sizes = batch.profiles["row_size"]
    nominal = batch.profiles["nominal_time"]
    same = (sizes[1:] == sizes[:-1]) & (sizes[1:] >= LEAST_REPEATED) & (nominal[1:] != nominal[:-1])
    marked = np.zeros(len(batch), dtype=bool)
    names = ("air_pressure", "air_temperature", "wind_speed", "wind_from_direction")
    for place in np.flatnonzero(same).tolist():
        a, b, c = offsets[place], offsets[place + 1], offsets[place + 2]
        columns = (batch.levels[name] for name in names)
        if all(values[a:b].tobytes() == values[b:c].tobytes() for values in columns):
            marked[place + 1] = True
    return marked


def _unit_suspect(batch: Batch) -> NDArray[np.bool_]:
    """Tell which soundings have winds about twice or half those of their neighbours in time."""
    count = len(batch)
    there = _present(batch, "wind_speed")
    speed = np.where(there, _figures(batch, "wind_speed", slice(None)), 0.0)
    number = sums_of_soundings(there, batch.profiles["row_size"], np.int32)
    total = sums_of_soundings(speed, batch.profiles["row_size"], np.float64)
    usable = np.flatnonzero(number >= UNIT_LEAST)
    marked = np.zeros(count, dtype=bool)
    if len(usable) < 2 * UNIT_NEIGHBOURS:
        return marked
    # one wrong sounding is weather; a run of them beside runs of another level is a unit
    mean = np.log(np.maximum(total[usable] / number[usable], 0.1))
    summed = np.concatenate(([0.0], np.cumsum(mean)))
    place = np.arange(len(usable))
    left, right = place - UNIT_NEIGHBOURS, place + UNIT_NEIGHBOURS
    inside = (left >= 0) & (right <= len(usable))
    before = summed[place[inside]] - summed[left[inside]]
    after = summed[right[inside]] - summed[place[inside]]
    step = (after - before) / UNIT_NEIGHBOURS
    limit = np.log(UNIT_RATIO)
    peaks = np.flatnonzero(np.abs(step) > limit)
    if not len(peaks):
        return marked
    groups = np.split(peaks, np.flatnonzero(np.diff(peaks) > UNIT_NEIGHBOURS) + 1)
    edges = [int(group[np.argmax(np.abs(step[group]))]) for group in groups]
    borders = [0, *(int(place[inside][edge]) for edge in edges), len(usable)]
    usual = float(np.median(mean))
    for begin, end in pairwise(borders):
        if abs(float(mean[begin:end].mean()) - usual) > limit * 0.75:
            marked[usable[begin:end]] = True
    return marked


def _fives_lost(batch: Batch) -> NDArray[np.bool_]:
    """Tell which soundings have directions in whole tens where those around give fives as well.

    The five degrees of a direction stand in the hundreds of the speed; who codes a report anew
    without knowing that loses them all.
    """
    sizes, offsets = batch.profiles["row_size"], batch.offsets
    direction, speed = batch.levels["wind_from_direction"], batch.levels["wind_speed"]
    windy = _present(batch, "wind_from_direction") & _present(batch, "wind_speed")
    windy &= speed > 0  # calm has no direction
    judged = np.flatnonzero(sums_of_soundings(windy, sizes, np.int32) >= LEAST_IN_TENS)
    # most give a five among their first levels, and need no look at the others
    first = offsets[:-1][judged][:, None] + np.arange(LEAST_IN_TENS)
    tens = ~((direction[first] % 10 != 0) & windy[first]).any(axis=1)
    for one in np.flatnonzero(tens).tolist():
        rows = slice(offsets[judged[one]], offsets[judged[one] + 1])
        tens[one] = not (direction[rows][windy[rows]] % 10 != 0).any()
    summed = np.concatenate(([0], np.cumsum(tens)))
    place = np.arange(len(judged))
    left, right = np.maximum(place - UNIT_NEIGHBOURS, 0), place + UNIT_NEIGHBOURS + 1
    right = np.minimum(right, len(judged))
    seldom = summed[right] - summed[left] < 0.5 * (right - left)
    marked = np.zeros(len(batch), dtype=bool)
    marked[judged[tens & seldom]] = True
    return marked


def _units_of_parts(batch: Batch) -> NDArray[np.bool_]:
    """Tell in which soundings standard levels and significant winds differ like m s-1 and knots.

    Standard levels are in parts A and C, significant winds in B and D, and each part says its unit
    by itself. The sources in tenths have no such parts.
    """
    count = len(batch)
    marked = np.zeros(count, dtype=bool)
    kinds = batch.levels["kinds"]
    significant = (kinds & int(LevelKind.SIGNIFICANT_WIND)) != 0
    standard = ((kinds & int(LevelKind.STANDARD)) != 0) & ~significant
    if not significant.any() or not standard.any():
        return marked
    windy = _present(batch, "wind_speed") & _present(batch, "air_pressure")
    points, levels = np.flatnonzero(windy & significant), np.flatnonzero(windy & standard)
    owner = np.repeat(np.arange(count), batch.profiles["row_size"])
    after = np.searchsorted(points, levels)
    inside = (after > 0) & (after < len(points))
    levels, after = levels[inside], after[inside]
    below, above = points[after - 1], points[after]
    inside = (owner[below] == owner[levels]) & (owner[above] == owner[levels])
    levels, below, above = levels[inside], below[inside], above[inside]
    depth, speed = np.full(len(kinds), np.nan), np.full(len(kinds), np.nan)
    for rows in (levels, points):
        depth[rows] = np.log(np.maximum(_figures(batch, "air_pressure", rows), np.float32(0.01)))
        speed[rows] = _figures(batch, "wind_speed", rows)
    layer = depth[below] - depth[above]
    share = np.where(layer > 0, (depth[below] - depth[levels]) / np.where(layer > 0, layer, 1), 0)
    between = speed[below] + share * (speed[above] - speed[below])
    strong = (between > 2.0) & (speed[levels] > 1.0)
    ratio = np.log(speed[levels][strong] / between[strong])
    own = owner[levels][strong]
    number = np.bincount(own, minlength=count)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.bincount(own, ratio, count) / number
        spread = np.sqrt(np.maximum(np.bincount(own, ratio**2, count) / number - mean**2, 0.0))
    low, high = np.log(UNIT_OF_PARTS)
    enough = (number >= UNIT_LEVELS) & (spread < UNIT_SPREAD)
    marked[enough] = (np.abs(mean[enough]) > low) & (np.abs(mean[enough]) < high)
    return marked


def _moved(batch: Batch, catalogue: StationCatalogue) -> NDArray[np.bool_]:
    """Tell which soundings give a position that is not that of the catalogue at their date."""
    marked = np.zeros(len(batch), dtype=bool)
    records = catalogue.periods(batch.station)
    if not records:
        return marked
    days = batch.profiles["nominal_time"].astype("datetime64[s]").astype("datetime64[D]")
    settled = np.zeros(len(batch), dtype=bool)
    for record in records:
        inside = (days >= np.datetime64(record.first)) & (days <= np.datetime64(record.last))
        away = np.abs(batch.profiles["latitude"] - record.latitude)
        round_ = np.abs(batch.profiles["longitude"] - record.longitude)
        round_ = np.minimum(round_, 360.0 - round_)
        off = inside & ((away > MOVED) | (round_ > MOVED))
        marked |= off & ~settled
        settled |= inside & ~off
    return marked & ~settled
