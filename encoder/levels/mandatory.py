"""Mandatory significant levels: inversions, isothermal layers and the ends of the sounding.

The regulation speaks of inversions as read from a curve. Rows a second apart carry sensor noise
and turbulence, which would make hundreds of them; so the layers are found on a temperature that
is averaged over a few hectopascals, and their base and top are then moved to the rows that are
coldest and warmest nearby. Rows farther apart than that are taken as they are.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.levels.table import THERMODYNAMIC, LevelKind, Reason

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.levels.rules import Rules
    from encoder.profile import FloatArray

SMOOTHING_HALF_DEPTH = 2.0
"""Rows within this many hPa below and above are averaged; common practice, no source."""
SMALLEST_RISE = 0.1
"""A rise counts as an inversion from this many K on, the resolution of a reported temperature;
common practice, no source."""
_LEVEL_SPREAD = 0.2
"""Largest range, in K, of the averaged temperature inside a layer that counts as isothermal;
common practice, no source."""
_FUZZ = 1e-9

MANDATORY_RULES = frozenset(
    {
        "surface",
        "lowest-level",
        "highest-level",
        "inversion-base",
        "inversion-top",
        "isothermal-base",
        "isothermal-top",
        "begin-missing-temperature",
        "end-missing-temperature",
        "begin-missing-humidity",
        "end-missing-humidity",
    }
)
"""Names of the reasons (``Reason.rule``) of levels that section 5 must have."""


@dataclass(frozen=True, slots=True)
class MandatoryLevel:
    """A row that must be a significant level.

    Attributes
    ----------
    row : int
        Index of the row.
    kinds : int
        Bits of :class:`encoder.levels.table.LevelKind`.
    reason : Reason
    """

    row: int
    kinds: int
    reason: Reason


@dataclass(frozen=True, slots=True)
class StableLayer:
    """An inversion or isothermal layer, thin ones joined.

    Attributes
    ----------
    base, top : int
        Indexes of the rows.
    rise : float
        Temperature at the top less that at the base, in K.
    depth : float
        Pressure at the base less that at the top, in hPa.
    humidity_change : float
        Relative humidity at the top less that at the base, in percentage points; NaN if missing.
    """

    base: int
    top: int
    rise: float
    depth: float
    humidity_change: float

    @property
    def word(self) -> str:
        """Return what the layer is called."""
        return "inversion" if self.rise > SMALLEST_RISE - _FUZZ else "isothermal"


def smoothed(pressure: FloatArray, values: FloatArray, half_depth: float) -> FloatArray:
    """Return running means over as many rows below as above, within a distance in pressure.

    Parameters
    ----------
    pressure : ndarray, shape (row,)
        hPa, strictly decreasing.
    values : ndarray, shape (row,)
        Without gaps.
    half_depth : float
        hPa.

    Returns
    -------
    ndarray, shape (row,)
        The first and the last value are unchanged.
    """
    rows = np.arange(len(values))
    falling = -pressure
    below = rows - np.searchsorted(falling, falling - half_depth, side="left")
    above = np.searchsorted(falling, falling + half_depth, side="right") - 1 - rows
    reach = np.minimum(below, above)
    total = np.concatenate(([0.0], np.cumsum(values)))
    means: FloatArray = (total[rows + reach + 1] - total[rows - reach]) / (2 * reach + 1)
    return means


def turning_points(values: FloatArray, reversal: float) -> list[int]:
    """Return the rows where a curve turns by at least an amount, its two ends included.

    Parameters
    ----------
    values : ndarray, shape (row,)
        Without gaps.
    reversal : float
        A turn counts once the curve has come back by this much.

    Returns
    -------
    list of int
        Minima and maxima in turn; of equal values the first.
    """
    series = values.tolist()
    if not series:
        return []
    points = [0]
    heading = 0
    low = high = 0
    for row, value in enumerate(series):
        if value < series[low]:
            low = row
        if value > series[high]:
            high = row
        if heading >= 0 and series[high] - value >= reversal:
            points.append(high)
            heading, low = -1, row
        elif heading <= 0 and value - series[low] >= reversal:
            points.append(low)
            heading, high = 1, row
        if heading > 0:
            low = row
        elif heading < 0:
            high = row
    points.append({1: high, -1: low, 0: len(series) - 1}[heading])
    return [p for n, p in enumerate(points) if n == 0 or p != points[n - 1]]


def stable_layers(
    pressure: FloatArray, temperature: FloatArray, humidity: FloatArray, *, rules: Rules
) -> list[StableLayer]:
    """Return inversions and isothermal layers, thin inversions close together joined.

    Parameters
    ----------
    pressure : ndarray, shape (row,)
        hPa, strictly decreasing.
    temperature : ndarray, shape (row,)
        degC, without gaps.
    humidity : ndarray, shape (row,)
        Relative humidity in %, NaN for missing.
    rules : Rules
        Gives the thickness of isothermal layers, their tolerance, and the joining distance.

    Returns
    -------
    list of StableLayer
        Upward. Inversions that follow within the joining distance above a top belong to the
        layer, as long as its top is not colder than its base.

    References
    ----------
    WMO-No. 306, 35.3.1.2 with its note.
    """
    if len(pressure) < 2:
        return []
    mean = smoothed(pressure, temperature, SMOOTHING_HALF_DEPTH)
    points = turning_points(mean, SMALLEST_RISE - _FUZZ)
    rises = [(a, b) for a, b in itertools.pairwise(points) if mean[b] > mean[a]]
    rises = [_moved(pressure, temperature, a, b) for a, b in rises]
    pieces = _touching(rises + _level_layers(pressure, mean, rules))
    reach = float(rules.layer_merge)
    layers: list[tuple[int, int]] = []
    for base, top in pieces:
        if layers and base < layers[-1][1]:
            continue
        high = top
        for start, end in rises:
            near = pressure[high] - pressure[start] <= reach and end > high and start >= base
            if near and temperature[end] >= temperature[base]:
                high = end
        layers.append((base, high))
    return [_layer(pressure, temperature, humidity, base, top) for base, top in layers]


def _layer(
    pressure: FloatArray, temperature: FloatArray, humidity: FloatArray, base: int, top: int
) -> StableLayer:
    return StableLayer(
        base,
        top,
        float(temperature[top] - temperature[base]),
        float(pressure[base] - pressure[top]),
        float(humidity[top] - humidity[base]),
    )


def _moved(pressure: FloatArray, temperature: FloatArray, base: int, top: int) -> tuple[int, int]:
    """Return the coldest row near a base and the warmest row near a top; ends stay ends."""
    ends = (0, len(pressure) - 1)
    found = []
    for row, sign in ((base, 1.0), (top, -1.0)):
        if row in ends:
            found.append(row)
            continue
        near = np.flatnonzero(np.abs(pressure - pressure[row]) <= SMOOTHING_HALF_DEPTH)
        found.append(int(near[np.argmin(sign * temperature[near])]))
    return (found[0], found[1]) if found[0] < found[1] else (base, top)


def _level_layers(pressure: FloatArray, mean: FloatArray, rules: Rules) -> list[tuple[int, int]]:
    """Return layers of the thickness that counts in which the averaged temperature stays."""
    falling = -pressure
    ends = np.searchsorted(falling, falling + float(rules.layer_thickness) - _FUZZ, side="left")
    starts = np.flatnonzero(ends < len(pressure))
    change = np.abs(mean[ends[starts]] - mean[starts])
    starts = starts[change <= float(rules.isothermal_tolerance) + _FUZZ]
    found = []
    for start in starts:
        inside = mean[start : ends[start] + 1]
        if inside.max() - inside.min() <= _LEVEL_SPREAD + _FUZZ:
            found.append((int(start), int(ends[start])))
    return found


def _touching(layers: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return layers with those joined that overlap or share a row."""
    joined: list[tuple[int, int]] = []
    for base, top in sorted(layers):
        if joined and base <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], top))
        else:
            joined.append((base, top))
    return joined


def layer_limit(rules: Rules, tropopause: float) -> float:
    """Return the pressure above which the base of a layer no longer counts, in hPa.

    Parameters
    ----------
    rules : Rules
    tropopause : float
        Pressure of the first tropopause in hPa, NaN if there is none.

    Returns
    -------
    float
        The 300 hPa surface or the first tropopause, whichever is higher in altitude.

    References
    ----------
    WMO-No. 306, 35.3.1.2.
    """
    surface = float(rules.layer_limit)
    return surface if np.isnan(tropopause) else min(surface, tropopause)


def mandatory_levels(
    pressure: FloatArray,
    temperature: FloatArray,
    humidity: FloatArray,
    *,
    rules: Rules,
    tropopause: float,
) -> tuple[MandatoryLevel, ...]:
    """Return base and top of every inversion and isothermal layer that has to be reported.

    Parameters
    ----------
    pressure : ndarray, shape (row,)
        hPa, strictly decreasing.
    temperature : ndarray, shape (row,)
        degC, NaN for missing.
    humidity : ndarray, shape (row,)
        Relative humidity in %, NaN for missing.
    rules : Rules
    tropopause : float
        Pressure of the first tropopause in hPa, NaN if there is none.

    Returns
    -------
    tuple of MandatoryLevel
        Upward, a row may come up more than once.

    References
    ----------
    WMO-No. 306, 35.3.1.2; B/C25.8.5.2 and 8.6.2.
    """
    known = np.flatnonzero(np.isfinite(temperature))
    layers = stable_layers(pressure[known], temperature[known], humidity[known], rules=rules)
    limit = layer_limit(rules, tropopause)
    found: list[MandatoryLevel] = []
    for layer in layers:
        if pressure[known[layer.base]] <= limit:
            continue
        met = _criteria_met(layer, rules)
        if not met:
            continue
        kinds = 0
        for kind, _ in met:
            kinds |= int(kind)
        text = _sentence(layer, pressure[known[[layer.base, layer.top]]], [m for _, m in met])
        for name, row in (("base", layer.base), ("top", layer.top)):
            reason = Reason(f"{layer.word}-{name}", text, rules.layer_thickness.source)
            found.append(MandatoryLevel(int(known[row]), kinds, reason))
    return tuple(found)


def _criteria_met(layer: StableLayer, rules: Rules) -> list[tuple[LevelKind, str]]:
    """Return the criteria a layer meets: what its levels are significant for, and the words."""
    met: list[tuple[LevelKind, str]] = []
    thick = float(rules.layer_thickness)
    if layer.depth >= thick - _FUZZ and layer.rise >= -_LEVEL_SPREAD - _FUZZ:
        met.append((THERMODYNAMIC, f"{layer.depth:.1f} hPa thick, limit {thick:g} hPa"))
    if layer.word == "inversion":
        limit = float(rules.inversion_temperature)
        if layer.rise >= limit - _FUZZ:
            words = f"{layer.rise:.1f} K warmer at the top, limit {limit:g} K"
            met.append((LevelKind.SIGNIFICANT_TEMPERATURE, words))
        limit = float(rules.inversion_humidity)
        if abs(layer.humidity_change) >= limit - _FUZZ:
            words = f"humidity changes by {layer.humidity_change:+.0f} %, limit {limit:g} %"
            met.append((LevelKind.SIGNIFICANT_HUMIDITY, words))
    return met


def _sentence(layer: StableLayer, ends: FloatArray, met: Sequence[str]) -> str:
    name = "Inversion" if layer.word == "inversion" else "Isothermal layer"
    return f"{name} from {ends[0]:.1f} to {ends[1]:.1f} hPa: {'; '.join(met)}."
