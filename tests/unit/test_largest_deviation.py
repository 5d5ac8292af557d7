"""Inserting levels at the largest deviation, on curves that are not rounded."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from encoder.levels.fewest_levels import ShortestPath
from encoder.levels.largest_deviation import insert_levels
from encoder.levels.segments import Curve, Section, first_rows, limits_of_next

NAN = float("nan")


def plain_section(pressure, curves, *, ratio=0.0, stops=(), largest_turn=180.0) -> Section:
    """Return a section whose nodes are the rows themselves, without any rounding.

    ``curves`` holds name, values, limit and whether the values are directions.
    """
    pressure = np.asarray(pressure, dtype=np.float64)
    count = len(pressure)
    first_row = first_rows(pressure, pressure)
    first_row[0] = 0
    next_first, next_last = limits_of_next(pressure, list(stops), np.full(count, ratio))
    return Section(
        pressure,
        pressure,
        first_row,
        np.arange(count),
        np.ones(count, dtype=bool),
        next_first,
        next_last,
        tuple(
            Curve(name, np.array(v, float), np.full(count, t), np.full(count, t), np.array(v), turn)
            for name, v, t, turn in curves
        ),
        largest_turn,
    )


EXAMPLE_PRESSURE = [
    1000, 970, 950, 925, 900, 850, 800, 750, 700, 650, 600, 550, 500, 450, 400, 350, 300, 250,
]  # fmt: skip
EXAMPLE_TEMPERATURE = [
    15.0, 12.6, 11.0, 12.4, 12.0, 8.6, 4.8, 0.8, -2.6, -6.4, -10.6, -15.6, -20.0, -25.8, -32.4,
    -39.8, -46.2, -54.0,
]  # fmt: skip


def example_section() -> Section:
    """Return the made-up profile with an inversion between 950 and 925 hPa, limit 1 K."""
    return plain_section(EXAMPLE_PRESSURE, [("air_temperature", EXAMPLE_TEMPERATURE, 1.0, False)])


def test_levels_of_a_worked_example_between_the_ends():
    """Worked by hand: 350 (2.547 K), 900 (2.500), 950 (2.539) and 750 hPa (1.200) are inserted."""
    found = insert_levels(example_section(), (0, 17), ((0,),))
    pressures = [EXAMPLE_PRESSURE[item.node] for item in found]
    misfits = {EXAMPLE_PRESSURE[item.node]: round(item.misfit, 3) for item in found}
    assert pressures == [950, 900, 750, 350]
    assert misfits == {350: 2.547, 900: 2.5, 950: 2.539, 750: 1.2}


def test_levels_of_a_worked_example_with_the_inversion_given():
    """With base and top of the inversion given: 350 (2.877 K), 900 (1.072) and 750 hPa (1.200)."""
    found = insert_levels(example_section(), (0, 2, 3, 17), ((0,),))
    misfits = {EXAMPLE_PRESSURE[item.node]: round(item.misfit, 3) for item in found}
    assert misfits == {350: 2.877, 900: 1.072, 750: 1.2}


def test_fewest_levels_of_the_worked_example_are_no_more():
    """The smallest set between the ends of the same profile has no more levels."""
    path, farthest = ShortestPath(example_section()).between(0, 17)
    assert farthest == 17
    assert len(path) <= 6


def test_winds_of_a_worked_example():
    """Worked by hand, linear in height: 2 km (27 degrees), 1 km (6 m/s), 9 km (10.25 m/s)."""
    height = np.array([0, 0.5, 1, 1.5, 2, 3, 4, 5, 6, 7, 8, 9, 10])
    direction = [180, 190, 205, 215, 225, 230, 240, 245, 250, 255, 255, 260, 270]
    speed = [4, 9, 14, 13, 12, 15, 18, 22, 26, 33, 41, 45, 38]
    section = plain_section(
        1000.0 * np.exp(-height / 7.0),
        [("wind_from_direction", direction, 10.0, True), ("wind_speed", speed, 5.0, False)],
    )
    found = insert_levels(section, (0, 12), ((0, 1),))
    assert [(height[i.node], i.curve, round(i.misfit, 2)) for i in found] == [
        (1.0, "wind_speed", 6.0),
        (2.0, "wind_from_direction", 27.0),
        (9.0, "wind_speed", 10.25),
    ]


def test_equal_deviations_take_the_lowest_level():
    """Of two rows that are equally far off the lower one is chosen."""
    pressure = 1000.0 * np.exp(-np.arange(6.0))
    section = plain_section(pressure, [("wind_speed", [0, 9, 0, 0, 9, 0], 5.0, False)])
    found = insert_levels(section, (0, 5), ((0,),))
    first = min(found, key=lambda item: -item.misfit)
    assert found[0].node == 1
    assert first.misfit == 9.0


def test_temperature_is_seen_to_before_humidity():
    """A segment is divided for humidity only once its temperature is within the limit."""
    pressure = [1000, 900, 800, 700, 600]
    curves = [
        ("air_temperature", [0.0, 3.0, 0.0, 0.0, 0.0], 1.0, False),
        ("relative_humidity", [50.0, 50.0, 50.0, 90.0, 50.0], 15.0, False),
    ]
    found = insert_levels(plain_section(pressure, curves), (0, 4), ((0,), (1,)))
    chosen_for = {pressure[item.node]: item.curve for item in found}
    assert chosen_for[900] == "air_temperature"
    assert chosen_for[700] == "relative_humidity"
    assert list(chosen_for) == sorted(chosen_for, reverse=True)


def test_ratio_of_pressures_brings_a_level_in_between():
    """On a straight curve levels are inserted until each is above 0.6 of the one below."""
    pressure = np.linspace(1000.0, 300.0, 71)
    section = plain_section(pressure, [("air_temperature", np.zeros(71), 1.0, False)], ratio=0.6)
    found = insert_levels(section, (0, 70), ((0,),))
    chosen = [1000.0, *(pressure[item.node] for item in found), 300.0]
    assert all(upper / lower > 0.6 for lower, upper in pairwise(chosen))
    assert {item.curve for item in found} == {None}


def test_a_gap_wider_than_the_ratio_allows_is_passed():
    """Two neighbouring rows may follow each other however far apart they are."""
    section = plain_section([1000.0, 500.0, 200.0], [("air_temperature", np.zeros(3), 1.0, False)])
    assert list(section.next_last) == [2, 2, 2]
    section = plain_section(
        [1000.0, 500.0, 200.0], [("air_temperature", np.zeros(3), 1.0, False)], ratio=0.6
    )
    assert list(section.next_last)[:2] == [1, 2]
    assert ShortestPath(section).between(0, 2)[0] == [0, 1, 2]


def test_a_level_asked_for_in_a_layer_is_inserted():
    """Where one node of a range has to be chosen and none is, the one farthest off is taken."""
    values = [0.0, 0.1, 0.4, 0.2, 0.0]
    section = plain_section(
        [1000, 900, 800, 700, 600], [("air_temperature", values, 1.0, False)], stops=[(1, 3)]
    )
    found = insert_levels(section, (0, 4), ((0,),))
    assert [item.node for item in found] == [2]


def test_a_turn_that_leaves_the_way_open_is_divided_in_the_middle():
    """A wind that turns by 180 degrees between two levels gets a level between them."""
    pressure = np.linspace(1000.0, 500.0, 11)
    direction = np.linspace(90.0, 270.0, 11)
    section = plain_section(
        pressure, [("wind_from_direction", direction, 10.0, True)], largest_turn=165.0
    )
    found = insert_levels(section, (0, 10), ((0,),))
    assert [item.node for item in found] == [5]
    assert found[0].misfit == 180.0


def test_directions_turn_the_short_way_through_north():
    """From 350 to 20 degrees by way of north nothing needs to be inserted."""
    pressure = 1000.0 * np.exp(-np.arange(4.0))
    section = plain_section(
        pressure, [("wind_from_direction", [350.0, 0.0, 10.0, 20.0], 5.0, True)]
    )
    assert insert_levels(section, (0, 3), ((0,),)) == []
    assert ShortestPath(section).between(0, 3)[0] == [0, 3]


def test_a_calm_level_takes_the_direction_of_its_neighbour():
    """Between a calm and 270 degrees every judged row has to be near 270 degrees."""
    pressure = [1000.0, 900.0, 800.0]
    near = plain_section(pressure, [("wind_from_direction", [NAN, 265.0, 270.0], 10.0, True)])
    far = plain_section(pressure, [("wind_from_direction", [NAN, 200.0, 270.0], 10.0, True)])
    assert insert_levels(near, (0, 2), ((0,),)) == []
    assert ShortestPath(near).between(0, 2)[0] == [0, 2]
    assert [item.node for item in insert_levels(far, (0, 2), ((0,),))] == [1]
    assert ShortestPath(far).between(0, 2)[0] == [0, 1, 2]
