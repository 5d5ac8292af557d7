"""Giving heights their dropped thousands back, by the thickness of the layers between the levels.

The figures hhh drop the thousands (ten-thousands from 500 hPa upward). The nearest height to the
standard atmosphere is right at 500 hPa and above, where candidates lie 10 km apart, but can be
wrong at 700 or 850 hPa in a deep low. So heights are chained from an unambiguous level: each next
level takes the candidate that the hypsometric thickness of the layer points to.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from encoder.codes.content import PartContent, Record, SectionContent
from encoder.codes.elements import HEIGHT_IN_TENS_FROM, nearest_candidate, number
from encoder.codes.groups import nearest_height, standard_height
from encoder.diagnostics import Diagnostic, diagnostic

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.codes.declare import Part
    from encoder.trace import TraceEntry

METRES_PER_KELVIN = 29.271247
"""Rd / g0 in m K-1: thickness = this times the mean virtual temperature times ln(p1/p2)."""
ZERO_CELSIUS = 273.15
KAPPA = 2.0 / 7.0
LEAST_TOLERANCE = 30.0
"""Residuals up to this many metres are never called inconsistent (common practice, no source)."""
LARGEST_TOLERANCE = 150.0
"""Residuals beyond this many metres always are (common practice, no source)."""
LARGEST_MISFIT = 200.0
"""Heights that a layer points to no nearer than this many metres are those nearest to the standard
atmosphere, so that a wrong level does not shift the others (common practice, no source)."""
METRES_OF_START = 600.0
SHARE_OF_START = 0.08
"""The level the chain begins at is off the standard atmosphere by at most the first and this share
of its height: at 500 hPa by 1,050 m, at 10 hPa by 3,100 m (common practice, no source)."""
MOST_VAPOUR = 0.1
"""Largest share of vapour pressure in the pressure; more is a fault of the figures (common
practice, no source), and then the virtual temperature is not computed."""


@dataclass(slots=True)
class _Level:
    record: int
    pressure: float
    figures: str
    span: tuple[int, int]
    temperature: float
    measured: bool
    height: float | None = None


def resolve_heights(
    content: PartContent, trace: Sequence[TraceEntry], part: Part
) -> tuple[PartContent, tuple[TraceEntry, ...], list[Diagnostic]]:
    """Choose the height of every standard level of a part.

    Parameters
    ----------
    content : PartContent
        With first guesses for the heights.
    trace : sequence of TraceEntry
    part : Part

    Returns
    -------
    content, trace
        With the chosen heights.
    diagnostics : list of Diagnostic
        "height-inconsistent" where no candidate fits the layer.
    """
    records = content.records("2")
    levels = _levels(records, trace)
    if not levels:
        return content, tuple(trace), []
    _choose(levels)
    found = _residuals(levels, part)
    heights = {
        level.record: level.height
        for level in levels
        if level.height != records[level.record].values.get("geopotential_height")
    }
    if not heights:  # the first guesses are right, as they nearly always are
        return content, tuple(trace), found
    changed = tuple(
        record
        if place not in heights
        else Record(
            record.kind, {**record.values, "geopotential_height": heights[place]}, record.level
        )
        for place, record in enumerate(records)
    )
    sections = tuple(
        SectionContent("2", changed, section.none_reported) if section.number == "2" else section
        for section in content.sections
    )
    entries = tuple(
        replace(entry, values={**entry.values, "geopotential_height": heights[entry.record]})
        if entry.symbol == "PPhhh" and entry.record in heights
        else entry
        for entry in trace
    )
    return replace(content, sections=sections), entries, found


def virtual_temperatures(records: Sequence[Record]) -> list[float | None]:
    """Return the virtual temperature in degC of each record; its temperature without humidity."""
    from encoder import physics

    facts = [
        [number(record.get(name)) for name in ("air_temperature", "dew_point_depression")]
        for record in records
    ]
    pressures = [number(record.get("air_pressure")) for record in records]
    moist = [
        place
        for place, (pair, pressure) in enumerate(zip(facts, pressures, strict=True))
        if pressure is not None and None not in pair
    ]
    found = [pair[0] for pair in facts]
    if moist:
        heat = np.array([facts[place] for place in moist], dtype=np.float64)
        pressure = np.array([pressures[place] for place in moist], dtype=np.float64)
        vapour = physics.saturation_vapour_pressure(heat[:, 0] - heat[:, 1], "wmo-8")
        warm = np.asarray(physics.virtual_temperature(heat[:, 0], vapour, pressure))
        possible = vapour < MOST_VAPOUR * pressure
        for place, value, sound in zip(moist, warm.tolist(), possible.tolist(), strict=True):
            if sound:
                found[place] = value
    return found


def _levels(records: Sequence[Record], trace: Sequence[TraceEntry]) -> list[_Level]:
    known: list[tuple[float, float]] = []
    warmth = virtual_temperatures(records)
    for record, warm in zip(records, warmth, strict=True):
        pressure = number(record.get("air_pressure"))
        if pressure is not None and warm is not None:
            known.append((math.log(pressure), warm - _standard_temperature(pressure)))
    known.sort(reverse=True)
    levels = []
    for entry in trace:
        if entry.section != "2" or entry.symbol != "PPhhh" or entry.record is None:
            continue
        pressure = number(entry.values.get("air_pressure"))
        figures = entry.text[2:]
        if pressure is None or len(figures) != 3 or not figures.isdigit():
            continue
        own = warmth[entry.record]
        if own is None:
            usual = _standard_temperature(pressure)
            own_or_usual = usual + _deviation_at(math.log(pressure), known)
        else:
            own_or_usual = own
        levels.append(
            _Level(
                entry.record,
                pressure,
                figures,
                entry.span,
                own_or_usual,
                own is not None,
            )
        )
    return levels


def _deviation_at(log_pressure: float, known: Sequence[tuple[float, float]]) -> float:
    """Interpolate linearly in ln p; the end values hold beyond the ends, 0 where none is known."""
    if not known:
        return 0.0
    if log_pressure >= known[0][0]:
        return known[0][1]
    for (below, first), (above, second) in pairwise(known):
        if above <= log_pressure <= below:
            share = (below - log_pressure) / (below - above) if below > above else 0.0
            return first + share * (second - first)
    return known[-1][1]


@cache
def _standard_temperature(pressure: float) -> float:
    """Return the temperature of the standard atmosphere at a pressure in hPa, in degC."""
    from encoder import physics

    return float(physics.standard_atmosphere_temperature(standard_height(pressure)))


def _choose(levels: list[_Level]) -> None:
    sure = [i for i, level in enumerate(levels) if level.pressure <= HEIGHT_IN_TENS_FROM]
    likely = [i for i in sure if _likely_start(levels[i])]
    plain = [i for i, level in enumerate(levels) if level.pressure == 1000.0]
    start = (likely or sure or plain or [0])[0]
    levels[start].height = nearest_height(levels[start].figures, levels[start].pressure)
    for step in (-1, 1):
        fitting = before = levels[start]
        place = start + step
        while 0 <= place < len(levels):
            level = levels[place]
            off, level.height = _from_base(fitting, level)
            if off > LARGEST_MISFIT and before is not fitting:
                off, level.height = _from_base(before, level)
            if off > LARGEST_MISFIT:
                level.height = nearest_height(level.figures, level.pressure)
            else:
                fitting = level
            before = level
            place += step


def _from_base(base: _Level, level: _Level) -> tuple[float, float]:
    """Return how far a height is off the layer from another level, and the height itself."""
    expected = (base.height or 0.0) + _likely_thickness(base, level)
    height = nearest_candidate(level.figures, level.pressure, expected)
    return abs(height - expected), height


def _likely_start(level: _Level) -> bool:
    """Tell whether the height nearest to the standard atmosphere is not far from it."""
    usual = standard_height(level.pressure)
    off = abs(nearest_height(level.figures, level.pressure) - usual)
    return off <= METRES_OF_START + SHARE_OF_START * usual


def _likely_thickness(lower: _Level, upper: _Level) -> float:
    """Return the thickness in the standard atmosphere, warmer or colder as the two levels are.

    The levels may lie far apart, where the mean of their temperatures is a poor guide.
    """
    deviation = (
        lower.temperature
        - _standard_temperature(lower.pressure)
        + upper.temperature
        - _standard_temperature(upper.pressure)
    ) / 2.0
    usual = standard_height(upper.pressure) - standard_height(lower.pressure)
    return usual + METRES_PER_KELVIN * deviation * math.log(lower.pressure / upper.pressure)


def _thickness(lower: _Level, upper: _Level) -> float:
    mean = (lower.temperature + upper.temperature) / 2.0 + ZERO_CELSIUS
    return METRES_PER_KELVIN * mean * math.log(lower.pressure / upper.pressure)


def _residuals(levels: Sequence[_Level], part: Part) -> list[Diagnostic]:
    found = []
    for lower, upper in pairwise(levels):
        if not (lower.measured and upper.measured):
            continue
        if lower.height is None or upper.height is None or lower.pressure <= upper.pressure:
            continue
        layer = _thickness(lower, upper)
        residual = upper.height - lower.height - layer
        limit = thickness_tolerance(
            (lower.pressure, lower.temperature), (upper.pressure, upper.temperature)
        )
        if abs(residual) > limit:
            found.append(
                diagnostic(
                    "height-inconsistent",
                    f"The layer {lower.pressure:g} to {upper.pressure:g} hPa is "
                    f"{upper.height - lower.height:.0f} gpm thick by the heights, {layer:.0f} gpm "
                    f"by the temperatures (limit {limit:.0f} gpm).",
                    span=upper.span,
                    path=(part.letters, "2", f"{upper.pressure:g} hPa", "PPhhh"),
                    value=upper.figures,
                )
            )
    return found


def thickness_tolerance(lower: tuple[float, float], upper: tuple[float, float]) -> float:
    """Return how far the thickness of a layer may be off that by the temperatures at its ends.

    Parameters
    ----------
    lower, upper : (float, float)
        Pressure in hPa and virtual temperature in degC.

    Returns
    -------
    float
        In gpm: half the spread between an isothermal-above and a dry-adiabatic layer, within
        :data:`LEAST_TOLERANCE` and :data:`LARGEST_TOLERANCE`.
    """
    coefficient = 0.5 * METRES_PER_KELVIN * math.log(lower[0] / upper[0])
    ratio = math.exp(KAPPA * math.log(upper[0] / lower[0]))
    low = coefficient * (1.0 + ratio) * (lower[1] + ZERO_CELSIUS)
    high = coefficient * (1.0 + 1.0 / ratio) * (upper[1] + ZERO_CELSIUS)
    return min(max(0.5 * (high - low), LEAST_TOLERANCE), LARGEST_TOLERANCE)
