"""The search for the fewest levels against the plain way of doing it, on sections of any length."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest

from encoder.levels.fewest_levels import ShortestPath
from encoder.levels.fewest_misfits import fewest_nodes, least_misfits
from encoder.levels.largest_deviation import insert_levels
from encoder.levels.repair import mended
from encoder.levels.segments import SLACK, first_rows, limits_of_next, misfits, shorter_turn
from tests.unit.test_largest_deviation import plain_section

NAN = float("nan")


def broken(section, nodes):
    """Return how many values a set of nodes leaves beyond their limits."""
    total = 0
    for lower, upper in pairwise(nodes):
        for curve in section.curves:
            misfit, limit = misfits(section, curve, lower, upper)
            total += int(np.count_nonzero(misfit > limit + SLACK))
    return total


def plain_search(section, end):
    """Return the shortest path from node 0, every segment judged on its own."""
    levels = {0: (0, -1)}
    for lower in range(end):
        if lower not in levels:
            continue
        for upper in range(lower + 1, end + 1):
            steps = levels[lower][0] + 1
            if upper in levels and levels[upper][0] <= steps:
                continue
            if section.allowed(lower, upper) and broken(section, [lower, upper]) == 0:
                levels[upper] = (steps, lower)
    path = [end]
    while path[-1] != 0:
        path.append(levels[path[-1]][1])
    return path[::-1]


def rough_section(seed, *, wind):
    """Return a section of 420 rows with noise, gaps and, for wind, calms."""
    random = np.random.default_rng(seed)
    count = 420
    pressure = np.geomspace(1000.0, 300.0, count)
    slow = np.cumsum(random.normal(0.0, 0.25, count))
    fine = random.normal(0.0, 0.15, count)
    if not wind:
        humidity = 50.0 + 8.0 * slow[::-1] + 10.0 * fine
        humidity[100:130] = NAN
        curves = [("air_temperature", slow + fine, 1.0, False)]
        curves.append(("relative_humidity", humidity, 15.0, False))
        return plain_section(pressure, curves, ratio=0.6, stops=[(200, 210), (300, 300)])
    direction = np.mod(350.0 + 12.0 * slow + 10.0 * fine, 360.0)
    speed = np.maximum(6.0 + 2.0 * slow[::-1] + fine, 0.0)
    speed[250:256] = 0.0
    direction[speed == 0.0] = NAN
    curves = [("wind_from_direction", direction, 10.0, True), ("wind_speed", speed, 5.0, False)]
    section = plain_section(pressure, curves, largest_turn=165.0)
    turning = section.curves[0]
    judged = np.where(speed >= 5.0, direction, NAN)
    return replace(section, curves=(replace(turning, observed=judged), section.curves[1]))


@pytest.mark.parametrize("wind", [False, True])
@pytest.mark.parametrize("seed", [1, 2])
def test_the_search_is_as_short_as_the_plain_one(seed, wind):
    """Windows, sectors and layers of the search change nothing about the number of levels."""
    section = rough_section(seed, wind=wind)
    path, _ = ShortestPath(section).between(0, 419)
    assert len(path) == len(plain_search(section, 419))
    assert broken(section, path) == 0
    assert all(section.allowed(lower, upper) for lower, upper in pairwise(path))


def spoilt_section(seed):
    """Return ten rows one of which is far off and cannot be chosen."""
    random = np.random.default_rng(seed)
    values = np.cumsum(random.normal(0.0, 0.9, 10))
    section = plain_section(
        1000.0 * np.exp(-np.arange(10.0) / 5.0), [("wind_speed", values, 1.0, False)]
    )
    spoilt = int(random.integers(1, 9))
    observed = section.curves[0].observed.copy()
    observed[spoilt] += 30.0
    node_of_row = section.node_of_row.copy()
    node_of_row[spoilt] = -1
    curve = replace(section.curves[0], observed=observed)
    return replace(section, curves=(curve,), node_of_row=node_of_row)


@pytest.mark.parametrize("seed", range(25))
def test_fewest_misfits_and_then_fewest_levels(seed):
    """Where a row cannot be kept: as few misfits as possible, and of those sets the smallest."""
    section = spoilt_section(seed)
    sets = [[0, *inner, 9] for size in range(9) for inner in combinations(range(1, 9), size)]
    best = min((broken(section, nodes), len(nodes)) for nodes in sets)
    for found in (least_misfits(section, 0, 9), fewest_nodes(section, 0, 9)):
        assert (broken(section, found), len(found)) == best
    assert best[0] >= 1


def test_the_nearest_level_is_taken_where_the_row_itself_is_not_free():
    """The row that is farthest off stands for no level: the nearest one is inserted."""
    section = plain_section(
        [1000.0, 900.0, 890.0, 700.0, 600.0], [("wind_speed", [0, 0, 9, 0, 0], 5.0, False)]
    )
    node_of_row = section.node_of_row.copy()
    node_of_row[2] = -1
    section = replace(section, node_of_row=node_of_row)
    found = insert_levels(section, (0, 4), ((0,),))
    assert [item.node for item in found] == [1, 2]
    assert found[1].row == 2


def test_a_long_stretch_leaves_out_only_what_cannot_be_kept():
    """A spike that no level can stand for costs its own row, and no further levels."""
    count = 900
    pressure = np.geomspace(1000.0, 300.0, count)
    plain = plain_section(pressure, [("wind_speed", np.zeros(count), 1.0, False)])
    observed = plain.curves[0].observed.copy()
    observed[[300, 600]] = 50.0
    node_of_row = plain.node_of_row.copy()
    node_of_row[[300, 600]] = -1
    section = replace(
        plain, curves=(replace(plain.curves[0], observed=observed),), node_of_row=node_of_row
    )
    path = fewest_nodes(section, 0, count - 1)
    assert path == [0, count - 1]
    assert broken(section, path) == 2


def test_mending_leaves_good_levels_alone():
    """Where every row is within its limits nothing is chosen again."""
    section = rough_section(1, wind=False)
    path, _ = ShortestPath(section).between(0, 419)
    assert mended(section, path) == (path, set())


def test_mending_replaces_levels_that_leave_misfits():
    """A set with a level missing gets one, and the new levels are named."""
    section = rough_section(1, wind=False)
    path, _ = ShortestPath(section).between(0, 419)
    thinned = path[:2] + path[3:]
    nodes, again = mended(section, thinned)
    assert broken(section, thinned) > 0
    assert broken(section, nodes) == 0
    assert again
    assert again <= set(nodes) - {0, 419}


def test_two_calms_do_not_tell_a_direction():
    """Between two calm levels no row with a judged direction can be kept."""
    section = plain_section(
        [1000.0, 900.0, 800.0, 700.0],
        [("wind_from_direction", [NAN, 200.0, 205.0, NAN], 10.0, True)],
    )
    assert len(ShortestPath(section).between(0, 3)[0]) == 3


def test_a_row_at_a_level_belongs_to_the_segment_below():
    """The first row of a segment lies above its lower level, by pressure as coded."""
    rows = np.array([1000.4, 950.2, 950.0, 949.7, 900.0])
    assert list(first_rows(rows, np.array([1000.0, 950.0, 900.0]))) == [1, 3, 5]


def test_nodes_that_share_a_pressure_may_not_follow_each_other():
    """Two levels at one coded pressure exclude each other, wherever they come from."""
    coded = np.array([1000.0, 950.0, 950.0, 900.0])
    section = plain_section([1000.0, 950.2, 949.8, 900.0], [("wind_speed", [0] * 4, 1.0, False)])
    section = replace(section, coded_pressure=coded)
    assert section.allowed(0, 1)
    assert not section.allowed(1, 2)


def test_the_next_level_at_the_latest():
    """A range of which one has to be chosen stops every segment that starts below it."""
    coded = np.array([1000.0, 900.0, 800.0, 700.0, 600.0])
    first, last = limits_of_next(coded, [(2, 3)], np.zeros(5))
    assert list(last) == [3, 3, 4, 4, 4]
    assert list(first[:2]) == [2, 2]


def test_turns_are_the_short_way():
    """Turns are brought to -180 to 180 degrees."""
    turns = shorter_turn(np.array([-350.0, -190.0, 10.0, 200.0, 350.0]))
    assert list(turns) == [10.0, 170.0, 10.0, -160.0, -10.0]
