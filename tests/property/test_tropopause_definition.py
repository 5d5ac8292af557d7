"""Tropopauses of sparse curves against the words of the definition, level by level."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from encoder.levels.rules import WMO
from encoder.levels.tropopause import tropopauses
from tests.ascents import ascent_of

STEPS = st.lists(
    st.tuples(st.sampled_from([300.0, 500.0, 1000.0, 1500.0]), st.integers(-40, 90)),
    min_size=4,
    max_size=24,
)


def average(height, temperature, level, top):
    """Return the average lapse rate (K/km) from a level to a height."""
    there = np.interp(top, height, temperature)
    return (temperature[level] - there) / (top - height[level]) * 1000.0


def averages(height, temperature, level, depth):
    """Return the averages to every higher level within a depth, and to that depth exactly."""
    tops = [top for top in height[level + 1 :] if top <= height[level] + depth]
    tops.append(height[level] + depth)
    return [average(height, temperature, level, top) for top in tops]


def plain_definition(height, temperature, pressure):
    """Return the positions of all tropopauses, straight from the wording."""
    count = len(height)

    def meets(level):
        return height[level] + 2000.0 <= height[-1] and all(
            value <= 2.0 + 1e-9 for value in averages(height, temperature, level, 2000.0)
        )

    def falls(level):
        return meets(level) and level > 0 and not meets(level - 1)

    def steep(level):
        return height[level] + 1000.0 <= height[-1] and all(
            value > 3.0 + 1e-9 for value in averages(height, temperature, level, 1000.0)
        )

    found, after = [], 0
    while True:
        starts = [i for i in range(after, count - 1) if falls(i) and pressure[i] <= 500.0]
        if not starts:
            break
        found.append(starts[0])
        turns = [i for i in range(starts[0] + 1, count - 1) if steep(i)]
        if not turns:
            break
        after = turns[0]
    if found:
        return found
    low = [i for i in range(count - 1) if falls(i) and pressure[i] > 500.0][:1]
    kilometres = [i for i in range(count) if height[i] + 1000.0 <= height[-1]]
    above = [i for i in kilometres if low and i > low[0]]
    if any(average(height, temperature, i, height[i] + 1000.0) > 3.0 + 1e-9 for i in above):
        return []
    return low


@settings(max_examples=300, deadline=None)
@given(STEPS, st.integers(-40, 30))
def test_sparse_curves_follow_the_plain_definition(steps, surface):
    """On levels 300 m and more apart the result is the definition read word by word."""
    depths = np.array([depth for depth, _ in steps])
    lapses = np.array([tenths / 10.0 for _, tenths in steps])
    height = np.concatenate(([0.0], np.cumsum(depths)))
    temperature = surface - np.concatenate(([0.0], np.cumsum(depths * lapses / 1000.0)))
    ascent = ascent_of(height, np.maximum(temperature, -120.0), humidity=np.nan)
    result = tropopauses(ascent, rules=WMO)
    expected = plain_definition(height, ascent["air_temperature"], ascent["air_pressure"])
    if not (expected == [] and result.diagnostics):
        assert [row for (row,) in result.value.rows] == expected or (
            result.diagnostics and all(ascent["air_pressure"][i] > 500.0 for i in expected)
        )


@settings(max_examples=30, deadline=None)
@given(
    st.floats(7.5, 17.0),
    st.floats(5.0, 8.0),
    st.floats(-6.0, 1.0),
    st.integers(0, 2**31),
    st.sampled_from([5.0, 10.0, 20.0]),
)
def test_one_bend_with_noise_gives_one_tropopause_there(bend, below, above, seed, spacing):
    """A single bend at full resolution with 0.1 K of noise is found within 100 m, nothing else."""
    height = np.arange(0.0, 28000.0, spacing)
    knee = bend * 1000.0
    kelvin = -below * np.minimum(height, knee) - above * np.maximum(height - knee, 0.0)
    noise = 0.1 * np.random.default_rng(seed).standard_normal(len(height))
    ascent = ascent_of(height, 25.0 + kelvin / 1000.0 + noise, humidity=np.nan)
    levels = tropopauses(ascent, rules=WMO).value
    assert len(levels) == 1
    assert abs(levels["geopotential_height"][0] - knee) <= 100.0
