"""Section 6: wind ready for selection."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.levels.candidates import nodes_of
from encoder.levels.placing import Placing, Plan, Wanted, limits_of, points_at
from encoder.levels.segments import Curve
from encoder.levels.stretches import wind_rows
from encoder.levels.table import LevelKind, Reason
from encoder.resolution import DIRECTION_HALF_STEP, coded_wind

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from encoder.levels.candidates import Points
    from encoder.levels.rules import Rules
    from encoder.levels.table import Levels
    from encoder.profile import Profile
    from encoder.resolution import Coding

_KEPT = "common practice, no source: the maximum wind reported is then that of the flight"
_ENDS = "WMO-No. 306, 35.3.2.1 and 32.3.1.1"


def wind_plan(
    points: Points,
    ascent: Profile,
    missing: Levels,
    tropopauses: Levels,
    *,
    rules: Rules,
    coding: Coding,
) -> Plan | None:
    """Return section 6 ready for selection.

    Parameters
    ----------
    points : Points
    ascent : Profile
        Prepared rows.
    missing : Levels
        Limits of layers without data.
    tropopauses : Levels
    rules : Rules
    coding : Coding
        Gives the unit of the wind speed.

    Returns
    -------
    Plan or None
        None when no row has a wind.

    References
    ----------
    WMO-No. 306, 35.3.2.
    """
    usable = wind_rows(points.profile)
    if not usable.any():
        return None
    greatest = _greatest(points, usable, rules)
    owners = [
        0,
        *np.flatnonzero(points.standard >= 0),
        *points_at(points, tropopauses),
        *points_at(points, missing),
        *(wanted.point for wanted in greatest),
    ]
    while True:
        placing = Placing(points, nodes_of(points, usable, owners))
        layers = _place(placing, missing)
        for wanted in greatest:
            placing.put_in_place(wanted)
        shared = placing.shared_pressures()
        if not shared:
            break
        owners += shared
    nodes = placing.nodes.point
    direction, speed = coded_wind(
        points.profile["wind_from_direction"][nodes], points.profile["wind_speed"][nodes], coding
    )
    count = len(ascent)
    observed = ascent["wind_speed"]
    fast = observed >= float(rules.direction_floor)
    turn_limit = np.full(count, float(rules.direction) + DIRECTION_HALF_STEP)
    speed_limit = np.full(count, float(rules.speed) + coding.speed_half_step)
    curves = (
        Curve(
            "wind_from_direction",
            np.where(fast, ascent["wind_from_direction"], np.nan),
            turn_limit,
            turn_limit,
            np.where(speed > 0.0, direction, np.nan),
            turning=True,
        ),
        Curve("wind_speed", observed, speed_limit, speed_limit, speed),
    )
    zones = (np.ones(len(nodes), dtype=np.bool_), np.zeros(len(nodes)))
    return placing.plan(
        ascent["air_pressure"],
        curves,
        zones=zones,
        stops=(),
        layers=layers,
        largest_turn=float(rules.largest_turn),
    )


def _greatest(points: Points, usable: NDArray[np.bool_], rules: Rules) -> list[Wanted]:
    """Return the greatest wind where it may be a maximum wind, the lowest of equals.

    The maximum wind is taken from the list of significant levels, which may pass the greatest
    wind of the flight by as much as the tolerance of speed. It is therefore made one of them.
    """
    speed = np.where(usable, points.profile["wind_speed"], np.nan)
    fast = (points.pressure < float(rules.wind_maximum_surface)) & (
        speed > float(rules.wind_maximum_speed)
    )
    if not fast.any():
        return []
    point = int(np.argmax(np.where(fast, speed, -np.inf)))
    text = f"The greatest wind of the sounding, {speed[point]:.1f} m/s."
    return [Wanted(point, int(LevelKind.SIGNIFICANT_WIND), Reason("greatest-wind", text, _KEPT))]


def _place(placing: Placing, missing: Levels) -> list[tuple[int, int]]:
    """Place everything that must be chosen; return the layers without wind."""
    count = len(placing.nodes.point)
    for node, name, word in ((0, "lowest-wind", "Lowest"), (count - 1, "highest-wind", "Highest")):
        kinds = LevelKind.SIGNIFICANT_WIND
        if node == count - 1:
            kinds |= LevelKind.TOP_OF_WIND_SOUNDING
        placing.put(node, int(kinds), Reason(name, f"{word} level with wind.", _ENDS))
    return placing.put_limits(
        limits_of(
            placing.points, missing, LevelKind.BEGIN_MISSING_WIND, LevelKind.END_MISSING_WIND
        ),
        np.ones(count, dtype=np.bool_),
        int(LevelKind.SIGNIFICANT_WIND),
    )
