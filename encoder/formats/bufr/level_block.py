"""From the level block of a message to a level table."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder import physics
from encoder.columns import COLUMNS
from encoder.diagnostics import Diagnostic, diagnostic
from encoder.formats.bufr.elements import ELEMENTS
from encoder.levels.table import LevelKind, Levels

if TYPE_CHECKING:
    from collections.abc import Mapping

    from encoder.formats.bufr.subset import Block
    from encoder.profile import FloatArray, IntArray

STANDARD_GRAVITY = 9.80665
"""m s-2; geopotential over this is geopotential height."""
ZERO_CELSIUS = 273.15
_FINE = frozenset({"309056", "309057", "303056"})
"""Sequences whose levels give pressure to 1 Pa and height to 0.1 m."""
_OLD_KINDS = {
    64: LevelKind.SURFACE,
    32: LevelKind.STANDARD,
    16: LevelKind.TROPOPAUSE,
    8: LevelKind.MAXIMUM_WIND,
    4: LevelKind.SIGNIFICANT_TEMPERATURE | LevelKind.SIGNIFICANT_HUMIDITY,
    2: LevelKind.SIGNIFICANT_WIND,
}
"""Bits of BUFR flag table 0 08 001 as kinds of level."""
_ALL_KINDS = (1 << 18) - 1


def levels_of(
    block: Block,
    shear: Block | None,
    *,
    position: tuple[float, float],
    formula: str,
    precision: Mapping[str, float],
) -> tuple[Levels, list[Diagnostic]]:
    """Return the level table of a block.

    Parameters
    ----------
    block : Block
        The levels.
    shear : Block or None
        Levels with wind shear, put to the level of the same pressure and time.
    position : tuple of float
        Latitude and longitude the displacements count from, degrees.
    formula : str
        Vapour-pressure formula for the relative humidity.
    precision : mapping of str to float
        Step of each column, kept in the attributes.

    Returns
    -------
    Levels
        In the order of the message; levels without any value are left out.
    list of Diagnostic
    """
    found: list[Diagnostic] = []
    count = len(block)
    nothing = np.full(count, np.nan)

    def column(*fxys: str) -> FloatArray:
        values = block.column(*fxys)
        return nothing if values is None else values

    temperature = np.round(column("012101", "012001") - ZERO_CELSIUS, 2)
    dew_point = np.round(column("012103", "012003") - ZERO_CELSIUS, 2)
    humidity = column("013009", "013003")
    if np.all(np.isnan(humidity)):
        humidity = _humidity(temperature, dew_point, formula)
    speed = column("011002")
    columns = {
        "time": column("004086"),
        "air_pressure": np.round(column("007004") / 100.0, 3),
        "geopotential_height": _height(block, nothing),
        "air_temperature": temperature,
        "relative_humidity": humidity,
        "dew_point_temperature": dew_point,
        "dew_point_depression": np.round(temperature - dew_point, 2),
        "wind_from_direction": _direction(column("011001"), speed, found),
        "wind_speed": speed,
        "latitude": np.round(position[0] + column("005015"), 5),
        "longitude": _longitude(position[1] + column("006015")),
        "wind_shear_below": nothing.copy(),
        "wind_shear_above": nothing.copy(),
    }
    if shear is not None:
        _put_shear(columns, shear, found)
    levels = Levels(
        columns,
        _kinds(block),
        attributes={"decoded": True, "precision": dict(precision)},
    )
    kept = ~np.isnan(levels["air_pressure"]) | ~np.isnan(levels["geopotential_height"])
    dropped = int(np.count_nonzero(~kept & ~_empty(block)))
    if dropped:
        found.append(
            diagnostic(
                "bufr-level-without-place",
                f"{dropped} levels have neither pressure nor height; they are left out.",
            )
        )
    return (levels if bool(np.all(kept)) else levels.select(kept)), found


def _humidity(temperature: FloatArray, dew_point: FloatArray, formula: str) -> FloatArray:
    """Return the relative humidity, missing for values the formula is not made for."""
    own, dew = COLUMNS["air_temperature"], COLUMNS["dew_point_temperature"]
    sound = (temperature >= own.lowest) & (temperature <= own.highest)
    sound &= (dew_point >= dew.lowest) & (dew_point <= dew.highest)
    humidity = np.full(len(temperature), np.nan)
    humidity[sound] = physics.relative_humidity(temperature[sound], dew_point[sound], formula)
    return humidity


def _empty(block: Block) -> np.ndarray:
    """Tell which levels have no value at all, apart from their flags and associated fields."""
    measured = [
        place
        for place, fxy in enumerate(block.fxys)
        if fxy in ELEMENTS and fxy not in ("008042", "008001")
    ]
    empty: np.ndarray = np.all(np.isnan(block.values[:, measured]), axis=1)
    return empty


def _height(block: Block, nothing: FloatArray) -> FloatArray:
    given = block.column("010009", "007009")
    if given is not None:
        return given
    geopotential = block.column("010003", "010008")
    if geopotential is None:
        return nothing
    height: FloatArray = np.round(geopotential / STANDARD_GRAVITY, 3)
    return height


def _longitude(degrees: FloatArray) -> FloatArray:
    within = np.mod(degrees + 180.0, 360.0) - 180.0
    chosen = np.where(np.abs(degrees) <= 180.0, degrees, within)
    return np.asarray(np.round(chosen, 5), np.float64)


def _direction(direction: FloatArray, speed: FloatArray, found: list[Diagnostic]) -> FloatArray:
    """Return directions, missing where the message says light and variable (0 with a speed)."""
    variable = (direction == 0.0) & (speed > 0.0)
    if not np.any(variable):
        return direction
    found.append(
        diagnostic(
            "bufr-variable-wind",
            f"{int(np.count_nonzero(variable))} winds are light and variable: speed, no direction.",
        )
    )
    return np.where(variable, np.nan, direction)


def _kinds(block: Block) -> IntArray:
    flags = block.column("008042")
    if flags is not None:
        kinds = np.where(np.isnan(flags), 0.0, flags).astype(np.int64)
        return np.where((kinds < 0) | (kinds > _ALL_KINDS), 0, kinds)
    old = block.column("008001")
    kinds = np.zeros(len(block), np.int64)
    if old is not None:
        bits = np.where(np.isnan(old), 0.0, old).astype(np.int64)
        for bit, kind in _OLD_KINDS.items():
            kinds |= np.where(bits & bit, int(kind), 0)
    return kinds


def _put_shear(columns: Mapping[str, FloatArray], shear: Block, found: list[Diagnostic]) -> None:
    """Put the shear to its levels."""
    by_height = "007009" in shear.fxys
    place = shear.column("007004", "007009")
    below, above = shear.column("011061"), shear.column("011062")
    if place is None or below is None or above is None:
        return
    own = columns["geopotential_height"] if by_height else columns["air_pressure"]
    own_time, time = columns["time"], shear.column("004086")
    for row in range(len(shear)):
        if np.isnan(below[row]) and np.isnan(above[row]):
            continue
        target = place[row] if by_height else place[row] / 100.0
        gap = np.abs(own - target)
        near = np.flatnonzero(gap <= (0.5 if by_height else 0.05) + 1e-9)
        if len(near) == 0:
            found.append(
                diagnostic(
                    "bufr-shear-without-level",
                    f"Wind shear is given at {target:g}, where there is no level.",
                )
            )
            continue
        rank = gap[near]
        if time is not None and not np.isnan(time[row]):
            rank = rank + np.abs(np.nan_to_num(own_time[near] - time[row]))
        level = int(near[int(np.argmin(rank))])
        columns["wind_shear_below"][level] = below[row]
        columns["wind_shear_above"][level] = above[row]


def precision_of(descriptors: tuple[str, ...], block: Block) -> dict[str, float]:
    """Return the step of each level column, in the units of the package.

    Parameters
    ----------
    descriptors : tuple of str
        Of section 3.
    block : Block

    Returns
    -------
    dict of str to float
    """
    fine = bool(_FINE & set(descriptors))
    old_height = "010003" in block.fxys
    steps = {
        "004086": {"time": 1.0},
        "007004": {"air_pressure": 0.01 if fine else 0.1},
        "010009": {"geopotential_height": 0.1 if fine else 1.0},
        "007009": {"geopotential_height": 1.0},
        "010003": {"geopotential_height": 10.0 / STANDARD_GRAVITY} if old_height else {},
        "012101": {"air_temperature": 0.01},
        "012001": {"air_temperature": 0.1},
        "012103": {"dew_point_temperature": 0.01},
        "012003": {"dew_point_temperature": 0.1},
        "013009": {"relative_humidity": 0.1},
        "013003": {"relative_humidity": 1.0},
        "011001": {"wind_from_direction": 1.0},
        "011002": {"wind_speed": 0.1},
        "005015": {"latitude": 1e-5},
        "006015": {"longitude": 1e-5},
    }
    precision: dict[str, float] = {}
    for fxy in block.fxys:
        precision.update(steps.get(fxy, {}))
    return precision
