"""The wind barb: counts, where it points, on which side its feathers stand."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.plot.barb import barb_path, wind_barb
from encoder.resolution import KNOT


@pytest.mark.parametrize(
    ("knots", "counts"),
    [
        (2, (0, 0, 0)),
        (3, (0, 0, 1)),
        (7, (0, 0, 1)),
        (8, (0, 1, 0)),
        (15, (0, 1, 1)),
        (47, (0, 4, 1)),
        (48, (1, 0, 0)),
        (65, (1, 1, 1)),
        (165, (3, 1, 1)),
    ],
)
def test_counts_of_feathers(knots, counts):
    """Speed to the nearest 5 knots: pennant 50, feather 10, half feather 5."""
    barb = wind_barb(270.0, knots * KNOT)

    assert (barb.pennants, barb.feathers, barb.halves) == counts
    assert len(barb.filled) == barb.pennants
    assert len(barb.strokes) == 1 + barb.feathers + barb.halves
    assert not barb.calm


@pytest.mark.parametrize(
    ("direction", "east", "north"), [(0, 0, 1), (90, 1, 0), (180, 0, -1), (270, -1, 0)]
)
def test_shaft_points_to_where_the_wind_comes_from(direction, east, north):
    """The shaft goes from the station towards the direction of the wind."""
    barb = wind_barb(float(direction), 10.0)

    assert barb.strokes[0][0] == (0.0, 0.0)
    assert barb.strokes[0][1] == pytest.approx((east, north), abs=1e-12)


@pytest.mark.parametrize("direction", range(0, 360, 15))
def test_feathers_point_to_low_pressure(direction):
    """The wind in the back, low pressure is on the left in the north, else on the right."""
    downwind = -np.sin(np.radians(direction)), -np.cos(np.radians(direction))
    left = np.array([-downwind[1], downwind[0]])
    for southern, sign in ((False, 1.0), (True, -1.0)):
        barb = wind_barb(float(direction), 15 * KNOT, southern=southern)
        for foot, tip in barb.strokes[1:]:
            assert sign * float(np.dot(np.subtract(tip, foot), left)) > 0.1


def test_a_lone_half_feather_stands_in_from_the_end():
    """So that 5 knots are not read as 10."""
    (_shaft, half) = wind_barb(0.0, 5 * KNOT).strokes

    assert half[0][1] < 0.9


def test_calm_has_no_shaft():
    """A calm is a ring."""
    barb = wind_barb(0.0, 0.0)

    assert barb.calm
    assert barb_path(barb, 20.0) == ("", "")


def test_path_grows_downward():
    """SVG has its y downward: a wind from the north has its shaft upward, at negative y."""
    lines, shapes = barb_path(wind_barb(0.0, 50 * KNOT), 20.0)

    assert lines == "M0.0 0.0L0.0 -20.0"
    assert shapes.startswith("M0.0 -20.0L")
    assert shapes.endswith("Z")
