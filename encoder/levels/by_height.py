"""Levels of winds without pressure: the ascent of a pilot balloon.

Every level goes by height, and no pressure is given to any. Significant winds are chosen among
whole units of altitude (300 m, 500 m or 1000 ft), because the code has no others: what is promised
of them holds for what a reader decodes. Straight lines between levels are straight in height.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.columns import COLUMNS
from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.levels.altitudes import (
    ABOVE_GROUND,
    LONGEST_GAP,
    LOWEST_PILOT_STANDARD,
    STANDARD_ALTITUDES,
    step_of_altitudes,
)
from encoder.levels.ascent_rows import levels_at_rows
from encoder.levels.candidates import Nodes
from encoder.levels.combine import combine
from encoder.levels.heights import highest_only, levels_at_heights
from encoder.levels.maximum_wind import maximum_winds
from encoder.levels.methods import choose
from encoder.levels.placing import Plan, Wanted
from encoder.levels.representation import misfit
from encoder.levels.rules import Criterion
from encoder.levels.segments import SLACK, Curve, Section, first_rows, limits_of_next, misfits
from encoder.levels.stretches import wind_rows
from encoder.levels.table import LevelKind, Levels, Reason
from encoder.profile import Profile
from encoder.resolution import DIRECTION_HALF_STEP, coded_wind
from encoder.rows import rows_counted

if TYPE_CHECKING:
    from encoder.levels.methods import Method
    from encoder.levels.representation import Misfit
    from encoder.levels.rules import Rules
    from encoder.profile import Flight, FloatArray
    from encoder.resolution import Coding

SCALE_HEIGHT = 7000.0
"""Any length: the logarithm of exp(-z / length) is a straight line in height."""
_MISSING = Criterion(LONGEST_GAP, "m", "WMO-No. 306 Volume I.2, B/C20.7.5")
_STANDARD_SOURCE = "WMO-No. 306, 32.2.2; B/C20.7.2; the altitude from memory"
_ENDS = "WMO-No. 306, 32.3.1.1"
_KEPT = "common practice, no source: the maximum wind reported is then that of the flight"
_SURFACE_SOURCE = "WMO-No. 306, 32.3; B/C20.7.1"
_UNITS = {"degree": "degrees"}


@dataclass(frozen=True, slots=True)
class _Winds:
    """What the selection works on.

    Attributes
    ----------
    ascent : Profile
    rules : Rules
    coding : Coding
    step : float
        Unit of altitude in m.
    windy : ndarray of bool, shape (row,)
    """

    ascent: Profile
    rules: Rules
    coding: Coding
    step: float
    windy: np.ndarray

    @property
    def height(self) -> FloatArray:
        return self.ascent["geopotential_height"]


def select_by_height(
    flight: Flight, *, method: Method, rules: Rules, coding: Coding
) -> Result[Levels]:
    """Choose every level of a flight that has heights and winds alone.

    Parameters
    ----------
    flight : Flight
        Its ascent has height strictly increasing and no pressure, row 0 the surface observation.
    method : {"largest-deviation", "fewest-levels"}
    rules : Rules
    coding : Coding

    Returns
    -------
    Result of Levels
        Surface, the altitudes that stand for standard surfaces, significant winds, maximum winds
        and limits of layers without wind, in ascending height. ``Levels.attributes`` holds
        ``method``, ``rules``, ``wind_unit``, ``ascent_rows``, ``by_height``, ``altitude_step``,
        ``surface_height``, ``top_height`` and ``shear``.

    References
    ----------
    WMO-No. 306, 32.2 and 32.3; B/C20.7.
    """
    ascent = flight.ascent
    step = step_of_altitudes(flight.station.wmo_region, flight.reporting.pilot_step)
    winds = _Winds(ascent, rules, coding, step, wind_rows(ascent))
    facts: dict[str, Any] = {
        "method": method,
        "rules": rules.name,
        "wind_unit": coding.wind_unit,
        "ascent_rows": len(ascent),
        "by_height": True,
        "altitude_step": step,
        "surface_height": float(winds.height[0]),
        "top_height": float(winds.height[-1]),
        "wind_observed": bool(winds.windy.any()),
        "shear": flight.reporting.shear,
    }
    surface = _surface(ascent)
    if not winds.windy.any():
        text = f"Of {rows_counted(len(ascent))} none has a wind."
        return Result(combine([surface], facts, by_height=True), (diagnostic("no-wind", text),))
    greatest = _greatest(winds)
    plan = _plan(winds, greatest)
    chosen, findings = choose(plan, method, ((0, 1),), int(LevelKind.SIGNIFICANT_WIND))
    places = np.array(plan.section.heights)[list(chosen)]
    significant = levels_at_heights(
        ascent,
        places,
        [_bits(items) for items in chosen.values()],
        [tuple(reason for _, reason in items) for items in chosen.values()],
    )
    maxima = _maxima(winds, significant, greatest, shear=flight.reporting.shear)
    tables = [surface, _standard(winds), significant, maxima]
    levels = highest_only(combine(tables, facts, by_height=True))
    return Result(levels, (*findings, *_promise(winds, plan, list(chosen))))


def misfit_by_height(
    ascent: Profile, decoded: Levels, *, rules: Rules, coding: Coding, formula: str
) -> Misfit:
    """Compare the winds a reader rebuilds from levels by height with the rows of the ascent.

    Parameters
    ----------
    ascent : Profile
        Rows with height and wind alone.
    decoded : Levels
        Levels with the values of the code; the surface has the height of the first row.
    rules : Rules
    coding : Coding
    formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS`; nothing depends on it.

    Returns
    -------
    Misfit
        As of :func:`encoder.levels.representation.misfit`, with straight lines in height; the
        pressures in it mean nothing.
    """
    heights = np.array(decoded["geopotential_height"])
    heights[(decoded.kinds & int(LevelKind.SURFACE)) != 0] = ascent["geopotential_height"][0]
    known = np.isfinite(heights)
    levels = Levels({**decoded.columns, "air_pressure": _depth(heights)}, decoded.kinds)
    levels = levels.select(np.flatnonzero(known)[np.argsort(heights[known], kind="stable")])
    rows = ascent.with_columns({"air_pressure": _depth(ascent["geopotential_height"])})
    return misfit(
        rows,
        levels,
        rules=rules,
        coding=coding,
        formula=formula,
        tropopause_pressure=float("nan"),
    )


def _bits(items: list[tuple[int, Reason]]) -> int:
    total = 0
    for kind, _ in items:
        total |= int(kind)
    return total


def _surface(ascent: Profile) -> Levels:
    kinds = int(LevelKind.SURFACE | LevelKind.SIGNIFICANT_WIND)
    reason = Reason(
        "surface",
        f"The surface, at {ascent['geopotential_height'][0]:.0f} m, is always reported.",
        _SURFACE_SOURCE,
    )
    return levels_at_rows(ascent, [0], [kinds], [(reason,)])


def _standard(winds: _Winds) -> Levels:
    """Return the altitudes that stand for standard surfaces, from the ground to the last wind."""
    top = float(winds.height[winds.windy][-1])
    found = [
        (surface, altitude)
        for surface, altitude in STANDARD_ALTITUDES.items()
        if surface <= LOWEST_PILOT_STANDARD and winds.height[0] + ABOVE_GROUND < altitude <= top
    ]
    kinds = int(LevelKind.STANDARD | LevelKind.PRESSURE_FROM_HEIGHT)
    reasons = [
        Reason(
            "standard-by-altitude",
            f"{altitude:g} m stand for the standard surface {surface:g} hPa.",
            _STANDARD_SOURCE,
        )
        for surface, altitude in found
    ]
    altitudes = np.array([altitude for _, altitude in found])
    return levels_at_heights(
        winds.ascent, altitudes, [kinds] * len(found), [(reason,) for reason in reasons]
    )


def _greatest(winds: _Winds) -> int | None:
    """Return the row of the greatest wind where it may be a maximum wind, else None."""
    speed = np.where(winds.windy, winds.ascent["wind_speed"], np.nan)
    surface = STANDARD_ALTITUDES[float(winds.rules.wind_maximum_surface)]
    fast = (winds.height > surface) & (speed > float(winds.rules.wind_maximum_speed))
    return int(np.argmax(np.where(fast, speed, -np.inf))) if fast.any() else None


def _nodes(winds: _Winds) -> Levels:
    """Return the heights that may be chosen: the surface with wind, and whole units above it."""
    ground, top = float(winds.height[0]), float(winds.height[winds.windy][-1])
    units = np.arange(1, int(top // winds.step) + 1) * winds.step
    units = units[units > ground + ABOVE_GROUND]
    places = np.concatenate((winds.height[:1] if winds.windy[0] else [], units))
    table = levels_at_heights(winds.ascent, places)
    usable = np.isfinite(table["wind_speed"])
    if not usable.any():  # winds between two units: the row nearest to one
        row = int(np.flatnonzero(winds.windy)[0])
        return levels_at_rows(winds.ascent, [row], [0], [()])
    return table.select(usable)


def _plan(winds: _Winds, greatest: int | None) -> Plan:
    nodes = _nodes(winds)
    places = nodes["geopotential_height"]
    count = len(places)
    rows, coded = _depth(winds.height), _depth(places)
    direction, speed = coded_wind(nodes["wind_from_direction"], nodes["wind_speed"], winds.coding)
    edges = (places[1:] + places[:-1]) / 2.0
    rules = winds.rules
    observed = np.where(winds.windy, winds.ascent["wind_speed"], np.nan)
    blowing = observed >= float(rules.direction_floor)
    turn = np.full(len(rows), float(rules.direction) + DIRECTION_HALF_STEP)
    fast = np.full(len(rows), float(rules.speed) + winds.coding.speed_half_step)
    curves = (
        Curve(
            "wind_from_direction",
            np.where(blowing, winds.ascent["wind_from_direction"], np.nan),
            turn,
            turn,
            np.where(speed > 0.0, direction, np.nan),
            turning=True,
        ),
        Curve("wind_speed", observed, fast, fast, speed),
    )
    forced: dict[int, list[Wanted]] = {}

    def put(node: int, kinds: LevelKind, reason: Reason) -> None:
        bits = int(kinds | LevelKind.SIGNIFICANT_WIND)
        forced.setdefault(node, []).append(Wanted(node, bits, reason))

    put(0, LevelKind.SIGNIFICANT_WIND, Reason("lowest-wind", "Lowest level with wind.", _ENDS))
    top = LevelKind.TOP_OF_WIND_SOUNDING
    put(count - 1, top, Reason("highest-wind", "Highest level with wind.", _ENDS))
    if greatest is not None:
        text = f"The unit nearest to the greatest wind, {observed[greatest]:.1f} m/s."
        node = int(np.searchsorted(edges, winds.height[greatest]))
        put(node, LevelKind.SIGNIFICANT_WIND, Reason("greatest-wind", text, _KEPT))
    blocks = _blocks(winds, places, put)
    first_row = first_rows(rows, coded)
    for start, _ in blocks:
        first_row[start] = np.searchsorted(-rows, -coded[start], side="left")
    singles = [(node, node) for node in forced]
    next_first, next_last = limits_of_next(coded, singles, np.zeros(count))
    section = Section(
        rows,
        coded,
        first_row,
        np.searchsorted(edges, winds.height).astype(np.int64),
        np.ones(count, dtype=np.bool_),
        next_first,
        next_last,
        curves,
        float(rules.largest_turn),
        places,
    )
    numbers = np.arange(count, dtype=np.int64)
    return Plan(section, Nodes(numbers, numbers), blocks, forced, ())


def _depth(height: FloatArray) -> FloatArray:
    """Return numbers whose logarithm falls linearly with height; they mean nothing else."""
    return np.asarray(1000.0 * np.exp(-height / SCALE_HEIGHT))


def _blocks(winds: _Winds, places: FloatArray, put: Any) -> tuple[tuple[int, int], ...]:
    """Mark the limits of layers without wind; return the first and last node of each stretch."""
    known = winds.height[winds.windy]
    edges = np.concatenate((winds.height[:1], known, winds.height[-1:]))
    blocks = []
    start = 0
    for bottom, top in pairwise(edges.tolist()):
        if top - bottom < LONGEST_GAP:
            continue
        text = (
            f"Wind is missing from {bottom:.0f} to {top:.0f} m: {top - bottom:.0f} m, shown from "
            f"{LONGEST_GAP:g} m on."
        )
        below = int(np.searchsorted(places, bottom, side="right")) - 1
        above = int(np.searchsorted(places, top))
        if bottom >= known[0] and below >= 0:
            reason = Reason("begin-missing-wind", text, _MISSING.source)
            put(below, LevelKind.BEGIN_MISSING_WIND, reason)
        if top <= known[-1] and above < len(places):
            reason = Reason("end-missing-wind", text, _MISSING.source)
            put(above, LevelKind.END_MISSING_WIND, reason)
        if known[0] <= bottom and top <= known[-1] and start <= below < above < len(places):
            blocks.append((start, below))
            start = above
    return (*blocks, (start, len(places) - 1))


def _maxima(winds: _Winds, significant: Levels, greatest: int | None, *, shear: bool) -> Levels:
    """Return the maximum winds among the significant ones, the greatest where it was observed."""
    ascent = winds.ascent
    apart = ~np.isin(significant["geopotential_height"], winds.height)
    between = significant.select(apart)
    columns = {
        name: np.concatenate(
            (values, between[name] if name in between.columns else np.full(len(between), np.nan))
        )
        for name, values in ascent.columns.items()
    }
    order = np.argsort(columns["geopotential_height"], kind="stable")
    columns = {name: values[order] for name, values in columns.items()}
    heights = columns["geopotential_height"]
    columns["air_pressure"] = -heights  # falls upward; only compared
    merged = Profile(columns, np.arange(len(order)))
    wanted = significant["geopotential_height"]
    if greatest is not None:
        near = float(winds.height[greatest])
        wanted = np.append(wanted[np.abs(wanted - near) > 0.5 * winds.step + SLACK], near)
    rules = replace(
        winds.rules,
        wind_maximum_surface=Criterion(
            -STANDARD_ALTITUDES[float(winds.rules.wind_maximum_surface)],
            "m",
            winds.rules.wind_maximum_surface.source,
        ),
        missing_wind=_MISSING,
    )
    picked = np.searchsorted(heights, np.sort(wanted))
    table = maximum_winds(merged, picked.tolist(), rules=rules, shear=shear).value
    plain = levels_at_heights(ascent, table["geopotential_height"])
    columns = {**table.columns, "air_pressure": np.full(len(table), np.nan)}
    own = table.kinds & ~int(LevelKind.SIGNIFICANT_WIND)
    return Levels(columns, own, table.reasons, plain.rows)


def _promise(winds: _Winds, plan: Plan, chosen: list[int]) -> list[Diagnostic]:
    """Return a warning for every stretch between chosen levels with rows beyond their limits."""
    section, found = plan.section, []
    ends = {end for _, end in plan.blocks}
    lines = winds.ascent.source_row
    for lower, upper in pairwise(chosen):
        if lower in ends:
            continue
        for curve in section.curves:
            misfit, limit = misfits(section, curve, lower, upper)
            broken = np.flatnonzero(misfit > limit + SLACK)
            if len(broken) == 0:
                continue
            worst = int(broken[np.argmax((misfit - limit)[broken])])
            unit = _UNITS.get(COLUMNS[curve.name].unit, COLUMNS[curve.name].unit)
            rows = int(section.first_row[lower]) + broken
            found.append(
                diagnostic(
                    "tolerance-not-met",
                    f"{COLUMNS[curve.name].description.rstrip('.')} is off by "
                    f"{misfit[worst]:.2f} {unit} {section.between(lower, upper)}, limit "
                    f"{limit[worst]:.2f} {unit}; {rows_counted(len(rows))} concerned.",
                    rows=sorted({int(lines[rows[0]]), int(lines[rows[-1]])}),
                    value=f"{misfit[worst]:.2f} {unit}",
                    expected=f"at most {limit[worst]:.2f} {unit}",
                )
            )
    return found
