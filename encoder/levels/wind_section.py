"""Section 6: wind ready for selection."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.levels.candidates import nodes_of
from encoder.levels.placing import Placing, Plan, limits_of, points_at
from encoder.levels.segments import Curve
from encoder.levels.stretches import wind_rows
from encoder.levels.table import LevelKind, Reason
from encoder.resolution import DIRECTION_HALF_STEP, coded_wind

if TYPE_CHECKING:
    from encoder.levels.candidates import Points
    from encoder.levels.rules import Rules
    from encoder.levels.table import Levels
    from encoder.profile import Profile
    from encoder.resolution import Coding

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
    owners = [
        0,
        *np.flatnonzero(points.standard >= 0),
        *points_at(points, tropopauses),
        *points_at(points, missing),
    ]
    while True:
        placing = Placing(points, nodes_of(points, usable, owners))
        layers = _place(placing, missing)
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
