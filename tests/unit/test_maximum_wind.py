"""Maximum wind and its shear."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.levels.maximum_wind import maximum_winds, wind_shear
from encoder.levels.rules import RULES, WMO
from encoder.levels.table import LevelKind
from tests.ascents import ascent_of, curve_at

HEIGHT = np.arange(0.0, 30001.0, 500.0)
INSIDE = int(LevelKind.MAXIMUM_WIND)
TOP = int(LevelKind.MAXIMUM_WIND | LevelKind.SIGNIFICANT_WIND | LevelKind.TOP_OF_WIND_SOUNDING)


def ascent(points, **more):
    """Return an ascent whose speed is straight between (km, m/s) points."""
    speed = curve_at(HEIGHT / 1000.0, points)
    return ascent_of(HEIGHT, 15.0 - np.minimum(HEIGHT, 11000.0) * 0.0065, speed=speed, **more)


def row(kilometres):
    """Return the row at a height."""
    return round(kilometres * 2)


def found(points, rules=WMO, **more):
    """Return (km, kind) of the maximum winds when the points are the significant levels."""
    rows = [row(km) for km, _ in points]
    levels = maximum_winds(ascent(points, **more), rows, rules=rules).value
    return list(zip(levels["geopotential_height"] / 1000.0, levels.kinds, strict=True))


def test_one_maximum():
    """A level above 500 hPa, more than 30 m/s, faster than its neighbours (35.2.4.1)."""
    assert found([(0, 5), (10, 60), (20, 10), (30, 20)]) == [(10.0, INSIDE)]


def test_not_fast_enough():
    """Exactly 30 m/s is not more than 30 m/s."""
    assert found([(0, 5), (10, 30), (20, 10), (30, 20)]) == []
    assert found([(0, 5), (10, 30.1), (20, 10), (30, 20)]) == [(10.0, INSIDE)]


def test_not_high_enough():
    """A low-level jet below 500 hPa is no maximum wind."""
    assert found([(0, 5), (2, 60), (8, 10), (30, 20)]) == []


def test_further_maximum_needs_the_margin_on_both_sides():
    """Others than the greatest: at least 10 m/s above both adjacent minima (32.2.3.2)."""
    greatest = [(0, 5), (8, 70)]
    assert found([*greatest, (12, 40), (16, 50), (20, 40), (30, 30)]) == [
        (8.0, INSIDE),
        (16.0, INSIDE),
    ]
    assert found([*greatest, (12, 40.1), (16, 50), (20, 40), (30, 30)]) == [(8.0, INSIDE)]
    assert found([*greatest, (12, 40), (16, 50), (20, 40.1), (30, 45)]) == [(8.0, INSIDE)]


def test_margin_counts_to_the_minimum_not_to_the_next_level():
    """The adjacent minimum may be several significant levels away."""
    points = [(0, 5), (8, 70), (11, 40), (12, 44), (16, 50), (18, 45), (20, 38), (30, 30)]
    assert found(points) == [(8.0, INSIDE), (16.0, INSIDE)]


def test_lower_maximum_may_be_the_further_one():
    """The greatest is always given, whichever order they come in; reasons say which is which."""
    points = [(0, 5), (8, 50), (12, 35), (16, 70), (20, 30), (30, 35)]
    rows = [row(km) for km, _ in points]
    levels = maximum_winds(ascent(points), rows, rules=WMO).value
    assert [reason[0].rule for reason in levels.reasons] == [
        "maximum-wind-further",
        "maximum-wind",
    ]


def test_equal_maxima():
    """Of equal maxima the lowest is the greatest; the other needs the margin."""
    shallow = [(0, 5), (8, 60), (12, 55), (16, 60), (20, 30), (30, 35)]
    deep = [(0, 5), (8, 60), (12, 45), (16, 60), (20, 30), (30, 35)]
    assert found(shallow) == [(8.0, INSIDE)]
    assert found(deep) == [(8.0, INSIDE), (16.0, INSIDE)]


def test_flat_maximum_is_its_lowest_level():
    """Neighbours of the same speed: the lowest of them is the level of maximum wind."""
    assert found([(0, 5), (8, 60), (9, 60), (12, 60), (20, 10), (30, 20)]) == [(8.0, INSIDE)]
    assert found([(0, 5), (8, 60), (9, 60), (12, 70), (20, 10), (30, 20)]) == [(12.0, INSIDE)]


def test_greatest_at_the_top():
    """The highest level, when it is the fastest of all, is marked as top of the wind sounding."""
    assert found([(0, 5), (10, 25), (30, 60)]) == [(30.0, TOP)]
    assert found([(0, 5), (8, 50), (12, 30), (30, 60)]) == [(8.0, INSIDE), (30.0, TOP)]


def test_top_that_is_not_the_greatest():
    """A fast top that a lower level equals or exceeds is not given."""
    assert found([(0, 5), (8, 60), (12, 30), (30, 60)]) == [(8.0, INSIDE)]
    assert found([(0, 5), (4, 60), (12, 30), (30, 50)]) == []


def test_top_of_the_wind_is_not_the_top_of_the_ascent():
    """Wind that ends at 12 km with the greatest speed there: that level is the top."""
    points = [(0, 5), (12, 60), (30, 90)]
    rows = ascent(points)
    speed = np.where(HEIGHT > 12000.0, np.nan, rows["wind_speed"])
    rows = rows.with_columns({"wind_speed": speed})
    levels = maximum_winds(rows, [0, row(12), row(30)], rules=WMO).value
    assert list(levels["geopotential_height"]) == [12000.0]
    assert list(levels.kinds) == [TOP]


def test_level_at_the_edge_of_a_gap_is_no_maximum():
    """What the wind does in a layer without wind is unknown."""
    points = [(0, 5), (8, 60), (12, 40), (16, 45), (20, 20), (30, 25)]
    rows = ascent(points)
    inside = (HEIGHT > 8000.0) & (HEIGHT < 12000.0)
    rows = rows.with_columns({"wind_speed": np.where(inside, np.nan, rows["wind_speed"])})
    levels = maximum_winds(rows, [row(km) for km, _ in points], rules=WMO).value
    assert list(levels["geopotential_height"]) == [16000.0]


def test_margin_of_the_other_rule_set():
    """The fmh-3 rules ask for 20 kt (10.29 m/s) and 60 kt (30.87 m/s)."""
    points = [(0, 5), (8, 70), (12, 40), (16, 50.1), (20, 39), (30, 30)]
    assert len(found(points)) == 2
    assert len(found(points, rules=RULES["fmh-3"])) == 1
    assert found([(0, 5), (10, 30.5), (30, 10)], rules=RULES["fmh-3"]) == []


def test_no_wind_at_all():
    """Without wind there is no maximum and no shear."""
    rows = ascent([(0, 5), (30, 60)]).with_columns({"wind_speed": np.full(len(HEIGHT), np.nan)})
    assert len(maximum_winds(rows, [0, 60], rules=WMO).value) == 0


@pytest.mark.parametrize("rows", [[], [0], [0, 60]])
def test_short_lists(rows):
    """Lists of no, one or two significant levels."""
    levels = maximum_winds(ascent([(0, 5), (30, 25)]), rows, rules=WMO).value
    assert len(levels) == 0


def test_shear_below_and_above():
    """270/60 with 255/38 one kilometre below and 280/45 above: 25.29 and 17.52 m/s."""
    height = np.array([0.0, 9000.0, 10000.0, 11000.0, 12000.0])
    rows = ascent_of(
        height,
        15.0 - 0.0065 * height,
        direction=[250.0, 255.0, 270.0, 280.0, 280.0],
        speed=[5.0, 38.0, 60.0, 45.0, 20.0],
    )
    levels = maximum_winds(rows, range(5), rules=WMO).value
    assert levels["wind_shear_below"][0] == pytest.approx(25.29, abs=0.005)
    assert levels["wind_shear_above"][0] == pytest.approx(17.52, abs=0.005)


def test_shear_is_interpolated_in_height():
    """Speed falling 10 m/s a km on either side gives 10 m/s, between rows too."""
    points = [(0, 0), (10, 60), (16, 0), (30, 0)]
    below, above = wind_shear(ascent(points), [row(10)], rules=WMO)
    assert below[0] == pytest.approx(6.0)
    assert above[0] == pytest.approx(10.0)


def test_shear_needs_wind_a_kilometre_away():
    """NaN where the sounding or its wind does not reach, and when not asked for."""
    points = [(0, 5), (10, 25), (30, 60)]
    rows = [row(km) for km, _ in points]
    levels = maximum_winds(ascent(points), rows, rules=WMO).value
    assert levels["wind_shear_below"][0] == pytest.approx(1.75)
    assert np.isnan(levels["wind_shear_above"][0])
    without = maximum_winds(ascent(points), rows, rules=WMO, shear=False).value
    assert np.isnan(without["wind_shear_below"][0])


def test_no_shear_without_heights():
    """Winds by pressure alone: where a kilometre lies is not known, so there is no shear."""
    points = [(0, 5), (10, 60), (20, 10)]
    rows = ascent(points)
    heights = np.full(len(rows), np.nan)
    heights[0] = 100.0
    below, above = wind_shear(
        rows.with_columns({"geopotential_height": heights}), [row(10)], rules=WMO
    )

    assert np.isnan([below[0], above[0]]).all()


def test_shear_not_across_a_layer_without_wind():
    """A kilometre below lies in a layer of 50 hPa or more without wind: NaN."""
    points = [(0, 5), (10, 60), (20, 10), (30, 20)]
    rows = ascent(points)
    inside = (HEIGHT > 8500.0) & (HEIGHT < 10000.0)
    rows = rows.with_columns({"wind_speed": np.where(inside, np.nan, rows["wind_speed"])})
    below, above = wind_shear(rows, [row(10)], rules=WMO)
    assert np.isnan(below[0])
    assert above[0] == pytest.approx(5.0)


def test_shear_without_heights():
    """Without heights there is no shear."""
    rows = ascent([(0, 5), (10, 60), (30, 20)])
    rows = rows.with_columns({"geopotential_height": np.full(len(HEIGHT), np.nan)})
    below, above = wind_shear(rows, [row(10)], rules=WMO)
    assert np.isnan(below[0])
    assert np.isnan(above[0])
