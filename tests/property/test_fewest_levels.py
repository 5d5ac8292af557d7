"""The set of fewest levels is a smallest one: every set on small profiles is tried."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from encoder.levels.candidates import Points, levels_at_points, points_of
from encoder.levels.methods import choose
from encoder.levels.missing import missing_layers
from encoder.levels.placing import Plan
from encoder.levels.representation import coded_levels, misfit
from encoder.levels.rules import RULES, WMO, Rules
from encoder.levels.standard import standard_levels
from encoder.levels.table import THERMODYNAMIC, LevelKind, Levels
from encoder.levels.thermal_section import thermal_plan
from encoder.levels.tropopause import first_tropopause_pressure, tropopauses
from encoder.levels.wind_section import wind_plan
from encoder.profile import Profile
from encoder.resolution import Coding, coded_pressure
from tests.soundings import ascent_from

FORMULA = "wmo-49"
SETTINGS = settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)


@st.composite
def small_ascents(draw):
    """Draw 8 to 11 rows: coarse or so close together that rows share coded pressures."""
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    count = draw(st.integers(4, 9))
    step = draw(st.sampled_from([0.3, 0.8, 3.0, 12.0, 40.0]))
    start = draw(st.sampled_from([1000.4, 853.1, 520.0, 320.0, 113.0, 101.2, 60.0]))
    pressure = start - np.cumsum(random.uniform(0.2, 1.8, count) * step)
    pressure = pressure[pressure > 3.0]
    pressure = np.concatenate(([start], pressure))
    count = len(pressure)
    swing = draw(st.sampled_from([0.5, 1.5, 4.0]))
    temperature = np.cumsum(random.normal(-0.5, swing, count)) + draw(st.sampled_from([8.0, -40.0]))
    humidity = np.clip(50.0 + np.cumsum(random.normal(0.0, 6.0 * swing, count)), 2.0, 100.0)
    direction = np.mod(300.0 + np.cumsum(random.normal(0.0, 25.0 * swing, count)), 360.0)
    speed = np.abs(6.0 + np.cumsum(random.normal(0.0, 2.5 * swing, count)))
    holes = draw(st.sampled_from([0.0, 0.0, 0.2, 0.5]))
    for values in (temperature, humidity, speed):
        values[random.uniform(size=count) < holes] = np.nan
    speed[random.uniform(size=count) < 0.1] = 0.0
    if draw(st.booleans()):
        pressure, temperature = np.round(pressure, 1), np.round(temperature, 1)
        keep = np.concatenate(([True], np.diff(pressure) < 0.0))
        pressure, temperature, humidity = pressure[keep], temperature[keep], humidity[keep]
        direction, speed = direction[keep], speed[keep]
    humidity = np.where(np.isfinite(temperature), humidity, np.nan)
    return ascent_from(pressure, temperature, humidity, direction, speed)


@dataclass
class Case:
    """One section of one ascent."""

    ascent: Profile
    standard: Levels
    points: Points
    plan: Plan
    kinds: int
    coding: Coding
    rules: Rules
    tropopause: float = float("nan")


def broken_and_size(case, nodes):
    """Return how many values a set of nodes leaves beyond their limits, and its size."""
    plan = case.plan
    picked = [int(plan.nodes.point[node]) for node in nodes]
    table = levels_at_points(case.points, case.standard, picked)
    bits = [
        int(case.kinds) | (kinds_of(plan, node) if node in plan.forced else 0) for node in nodes
    ]
    levels = Levels(table.columns, bits, (), table.rows)
    found = misfit(
        case.ascent,
        coded_levels(levels, case.coding, FORMULA),
        rules=case.rules,
        coding=case.coding,
        formula=FORMULA,
        tropopause_pressure=case.tropopause,
    )
    return found.broken, len(nodes)


def one_of(wanted, nodes):
    """Tell whether a set has one of the wanted nodes, if there are any."""
    return not wanted.any() or bool(np.any(wanted[list(nodes)]))


def may_follow(case, nodes):
    """Tell whether coded pressures differ and every layer that needs a level has one."""
    points, plan, rules = case.points, case.plan, case.rules
    pressure = points.coded_pressure[plan.nodes.point]
    chosen = pressure[list(nodes)]
    if np.any(np.diff(chosen) >= 0.0):
        return False
    if case.kinds != THERMODYNAMIC:
        return True
    block = np.array([[first <= n <= last for first, last in plan.blocks] for n in nodes])
    for place, (lower, upper) in enumerate(pairwise(chosen)):
        together = np.any(block[place] & block[place + 1])
        neighbours = not np.any((pressure < lower) & (pressure > upper))
        together &= not lower <= case.tropopause
        if together and upper / lower <= float(rules.pressure_ratio) and not neighbours:
            return False
    wanted = [(pressure <= 110.0) & (points.pressure[plan.nodes.point] >= 100.0)]
    if rules.surface_layer is not None:
        wanted.append((pressure < pressure[0]) & (pressure >= pressure[0] - 20.0))
    begin = [n for n in plan.forced if kinds_of(plan, n) & LevelKind.BEGIN_MISSING_HUMIDITY]
    for start in begin:
        ends = [n for n in plan.forced if kinds_of(plan, n) & LevelKind.END_MISSING_HUMIDITY]
        after = [n for n in ends if n > start]
        if after:
            inside = np.arange(len(pressure))
            wanted.append((inside > start) & (inside < min(after)))
    return all(one_of(item, nodes) for item in wanted)


def kinds_of(plan, node):
    """Return the kinds a forced node was wanted for."""
    bits = 0
    for item in plan.forced[node]:
        bits |= item.kinds
    return bits


def smallest(case):
    """Return fewest broken values and then fewest levels over every possible set."""
    forced = sorted(case.plan.forced)
    free = [node for node in range(len(case.plan.nodes.point)) if node not in case.plan.forced]
    best = (10**9, 10**9)
    for size in range(len(free) + 1):
        for extra in combinations(free, size):
            nodes = sorted((*forced, *extra))
            if may_follow(case, nodes):
                best = min(best, broken_and_size(case, nodes))
        if best[0] == 0:
            break
    return best


def prepared(ascent, rules):
    """Return what the plans of both sections are made from."""
    standard = standard_levels(ascent, rules=rules).value
    missing = missing_layers(ascent, rules=rules).value
    return standard, points_of(ascent, standard), missing, tropopauses(ascent, rules=rules).value


def first(tropopause):
    """Return the coded pressure of the first tropopause."""
    return float(coded_pressure(np.array([first_tropopause_pressure(tropopause)]))[0])


@pytest.mark.parametrize("name", ["wmo", "fmh-3"])
@SETTINGS
@given(ascent=small_ascents())
def test_section_5_has_the_fewest_levels(name, ascent):
    """No set with the mandatory levels breaks fewer limits, nor as few with fewer levels."""
    rules = RULES[name]
    standard, points, missing, tropopause = prepared(ascent, rules)
    plan = thermal_plan(points, ascent, missing, tropopause, rules=rules, formula=FORMULA)
    if plan is None:
        return
    case = Case(ascent, standard, points, plan, THERMODYNAMIC, Coding(), rules, first(tropopause))
    chosen, _ = choose(plan, "fewest-levels", ((0,), (1,)), int(THERMODYNAMIC))
    assert may_follow(case, list(chosen))
    assert broken_and_size(case, list(chosen)) == smallest(case)


@pytest.mark.parametrize("unit", ["kt", "m s-1"])
@SETTINGS
@given(ascent=small_ascents())
def test_section_6_has_the_fewest_levels(unit, ascent):
    """The same for direction and speed together, with calms and turns through north."""
    standard, points, missing, tropopause = prepared(ascent, WMO)
    coding = Coding(unit)
    plan = wind_plan(points, ascent, missing, tropopause, rules=WMO, coding=coding)
    if plan is None:
        return
    kinds = LevelKind.SIGNIFICANT_WIND
    case = Case(ascent, standard, points, plan, kinds, coding, WMO)
    chosen, _ = choose(plan, "fewest-levels", ((0, 1),), int(kinds))
    assert may_follow(case, list(chosen))
    assert broken_and_size(case, list(chosen)) == smallest(case)


@SETTINGS
@given(ascent=small_ascents())
def test_largest_deviation_breaks_no_more_limits_where_none_need_be(ascent):
    """Where every row can be kept within its limits the other method keeps them too."""
    standard, points, missing, tropopause = prepared(ascent, WMO)
    plan = thermal_plan(points, ascent, missing, tropopause, rules=WMO, formula=FORMULA)
    if plan is None:
        return
    case = Case(ascent, standard, points, plan, THERMODYNAMIC, Coding(), WMO, first(tropopause))
    fewest, _ = choose(plan, "fewest-levels", ((0,), (1,)), int(THERMODYNAMIC))
    largest, _ = choose(plan, "largest-deviation", ((0,), (1,)), int(THERMODYNAMIC))
    assert may_follow(case, list(largest))
    assert broken_and_size(case, list(largest)) >= broken_and_size(case, list(fewest))
    assert broken_and_size(case, list(largest))[0] == broken_and_size(case, list(fewest))[0]
