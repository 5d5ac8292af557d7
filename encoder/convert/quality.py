"""Quality checks on whole batches: findings set bits, values stay as they are.

Limits of single values are those of the column table. The other limits stand here, each a rule of
thumb made wide enough that real soundings pass; a finding asks somebody to look.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from encoder.columns import column
from encoder.convert.batch import TENTHS, sums_of_soundings
from encoder.convert.quality_winds import figures, fives_lost, present, unit_suspect, units_of_parts
from encoder.formats.netcdf.converted_product import LevelQuality, SoundingQuality
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
    there = {name: present(batch, name) for name, _bit in _LIMITS}
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


def _limits(batch: Batch, name: str) -> tuple[float, float]:
    """Return the gross limits in the figures of the batch."""
    entry = column(name)
    if not batch.tenths:
        return entry.lowest, entry.highest
    packing = TENTHS[name]
    scale = whole(packing.steps / packing.factor)
    return whole(entry.lowest * scale), whole(entry.highest * scale)


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
    temperature = figures(batch, "air_temperature", warm.rows)
    depth = np.log(np.maximum(figures(batch, "air_pressure", warm.rows), np.float32(0.01)))
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
    height = figures(batch, "geopotential_height", rows)
    same = owner[rows][1:] == owner[rows][:-1]
    expected = np.add.reduceat(thick[: high[-1]], high[:-1], dtype=np.float64)
    misfit = np.abs((height[1:] - height[:-1]) - expected)
    wrong = same & (misfit > np.abs(expected) * THICKNESS_SHARE + THICKNESS_LEAST)
    _mark(found, rows[1:][wrong], LevelQuality.LAYER_THICKNESS)


def _check_winds(batch: Batch, there: Any, owner: Any, found: Any) -> None:
    windy = _series(there["wind_speed"] & there["air_pressure"], owner)
    if len(windy.rows) < 2:
        return
    speed = figures(batch, "wind_speed", windy.rows)
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
    quality[fives_lost(batch)] |= int(SoundingQuality.DIRECTIONS_IN_TENS)
    unit = unit_suspect(batch) | units_of_parts(batch)
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
