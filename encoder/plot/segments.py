"""The straight segments a reader draws between the decoded levels."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.levels.table import THERMODYNAMIC, LevelKind
from encoder.physics import shortest_turn

if TYPE_CHECKING:
    from encoder.levels.table import Levels
    from encoder.profile import FloatArray

_KINDS = {
    "air_temperature": (int(THERMODYNAMIC), LevelKind.BEGIN_MISSING_TEMPERATURE),
    "dew_point_temperature": (int(THERMODYNAMIC), LevelKind.BEGIN_MISSING_HUMIDITY),
    "relative_humidity": (int(THERMODYNAMIC), LevelKind.BEGIN_MISSING_HUMIDITY),
    "wind_speed": (int(LevelKind.SIGNIFICANT_WIND), LevelKind.BEGIN_MISSING_WIND),
    "wind_from_direction": (int(LevelKind.SIGNIFICANT_WIND), LevelKind.BEGIN_MISSING_WIND),
}


def segment_levels(levels: Levels, name: str) -> list[list[int]]:
    """Return the levels a reader joins by straight lines, one list for each unbroken stretch.

    Parameters
    ----------
    levels : Levels
        As decoded.
    name : str
        Column.
    """
    kinds, begin = _KINDS[name]
    chains: list[list[int]] = [[]]
    for index in levels.having(kinds | int(LevelKind.SURFACE)):
        if np.isnan(levels[name][index]):
            chains.append([])
            continue
        chains[-1].append(int(index))
        if levels.kinds[index] & int(begin):
            chains.append([])
    return [chain for chain in chains if chain]


def segment_lines(levels: Levels, name: str) -> tuple[FloatArray, FloatArray]:
    """Return the segments as one line, broken by NaN.

    Returns
    -------
    tuple of ndarray, shape (point,)
        Values, and pressures in hPa. A direction that passes north leaves on one side of the plot
        and comes back on the other.
    """
    values: list[float] = []
    pressures: list[float] = []
    for chain in segment_levels(levels, name):
        for place, index in enumerate(chain):
            value, pressure = float(levels[name][index]), float(levels["air_pressure"][index])
            if name == "wind_from_direction" and place:
                _over_north(values, pressures, value, pressure)
            values.append(value)
            pressures.append(pressure)
        values.append(np.nan)
        pressures.append(np.nan)
    return np.array(values), np.array(pressures)


def _over_north(values: list[float], pressures: list[float], value: float, pressure: float) -> None:
    turn = float(shortest_turn(values[-1], value))
    reached = values[-1] + turn
    if 0.0 <= reached <= 360.0:
        return
    edge = 360.0 if reached > 360.0 else 0.0
    share = (edge - values[-1]) / turn
    at = float(np.exp(np.log(pressures[-1]) + share * np.log(pressure / pressures[-1])))
    values.extend([edge, np.nan, 360.0 - edge])
    pressures.extend([at, np.nan, at])
