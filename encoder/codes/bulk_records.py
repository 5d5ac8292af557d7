"""Values of the levels of many reports, one column a quantity."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.codes.bulk_groups import Floats, Groups, Ints, Mask
from encoder.levels.table import THERMODYNAMIC, LevelKind
from encoder.resolution import Coding

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

ABSENT, SOLIDI, GIVEN = 0, 1, 2
"""What a record says of a quantity: no group, a group of solidi, a value."""
SURFACE, STANDARD, TROPOPAUSE, MAXIMUM_WIND, HEAT, WIND = range(6)
"""Kinds of record."""
_HEAT_BITS = int(THERMODYNAMIC)


@dataclass(frozen=True, slots=True, eq=False)
class Records:
    """Records of many parts, one value a record; NaN where there is none.

    Attributes
    ----------
    part : ndarray of int
        Place of the part.
    section : ndarray of int
        2 to 6.
    kind : ndarray of int
        :data:`SURFACE` to :data:`WIND`.
    level_kinds : ndarray of int
        Bits of :class:`encoder.levels.table.LevelKind`.
    pressure, temperature, depression, direction, speed, below, above : ndarray of float
        hPa, degC, K, degree, m s-1; shear below and above in m s-1.
    height_figures : ndarray of int
        hhh, -1 where missing or not of a standard level.
    said : dict of str to ndarray of int8
        For height, temperature, depression, direction, speed: :data:`ABSENT` to :data:`GIVEN`.
    """

    part: Ints
    section: Ints
    kind: Ints
    level_kinds: Ints
    pressure: Floats
    temperature: Floats
    depression: Floats
    direction: Floats
    speed: Floats
    below: Floats
    above: Floats
    height_figures: Ints
    said: dict[str, NDArray[np.int8]]


def records_of(
    rows: Sequence[tuple[Ints, ...]],
    groups: Groups,
    plain: Mask,
    identification: Ints,
    letters: NDArray[np.bytes_],
) -> Records:
    """Return the values of the records of plain parts; what cannot be read makes a part odd."""
    if rows:
        columns = [np.concatenate([item[place] for item in rows]) for place in range(8)]
    else:
        columns = [np.empty(0, dtype=np.int32) for _ in range(8)]
    part, section, kind, lead, heat, wind, shear = (item.astype(np.int32) for item in columns[:7])
    pressure = columns[7].astype(np.float64)
    keep = plain[part]
    part, section, kind, lead, heat, wind, shear = (
        item[keep] for item in (part, section, kind, lead, heat, wind, shear)
    )
    pressure = pressure[keep]
    count = len(part)

    def group(column: Ints, at: Ints) -> Ints:
        if not len(column):
            return np.full(len(at), -1, dtype=np.int32)
        return np.where(at >= 0, column[np.maximum(at, 0)], -1)

    temperature, depression, odd = _heat(group(groups.front, heat), group(groups.back, heat))
    step = np.where(
        identification[part, 0] > 50, Coding("kt").speed_step, Coding("m s-1").speed_step
    )
    direction, speed, odd_wind = _wind(group(groups.two, wind), group(groups.three, wind), step)
    odd |= odd_wind

    below = np.full(count, np.nan)
    above = np.full(count, np.nan)
    with_shear = shear >= 0
    if with_shear.any():
        at = shear[with_shear]
        whole = groups.whole[at]
        own = step[with_shear]
        figure = whole // 100 % 100
        below[with_shear] = np.where(whole >= 0, figure, np.nan) * own
        above[with_shear] = np.where(whole >= 0, whole % 100, np.nan) * own
        wrong = np.zeros(count, dtype=bool)
        wrong[with_shear] = whole < 0
        odd |= wrong

    standard = kind == STANDARD
    hhh = np.where(standard, group(groups.three, lead), -1)
    odd |= hhh == -2

    if odd.any():
        plain[np.unique(part[odd])] = False
    bits = np.zeros(count, dtype=np.int32)
    surface = kind == SURFACE
    significant = (kind == HEAT) | (kind == WIND)
    two = group(groups.two, lead)
    surface |= significant & (two == 0)
    bits[kind == STANDARD] = int(LevelKind.STANDARD)
    bits[kind == TROPOPAUSE] = int(LevelKind.TROPOPAUSE)
    bits[kind == MAXIMUM_WIND] = int(LevelKind.MAXIMUM_WIND)
    bits[(kind == MAXIMUM_WIND) & (two == 66)] |= int(LevelKind.TOP_OF_WIND_SOUNDING)
    bits[kind == HEAT] = _HEAT_BITS
    bits[kind == WIND] = int(LevelKind.SIGNIFICANT_WIND)
    bits[surface] |= int(LevelKind.SURFACE)

    def said(there: Mask, values: Floats) -> NDArray[np.int8]:
        found = np.where(np.isnan(values), SOLIDI, GIVEN)
        return np.where(there, found, ABSENT).astype(np.int8)

    stated = {
        "geopotential_height": np.where(standard, np.where(hhh >= 0, GIVEN, SOLIDI), ABSENT).astype(
            np.int8
        ),
        "air_temperature": said(heat >= 0, temperature),
        "dew_point_depression": said(heat >= 0, depression),
        "wind_from_direction": said(wind >= 0, direction),
        "wind_speed": said(wind >= 0, speed),
    }
    order = np.lexsort((lead, section, part))
    keep = plain[part[order]]
    order = order[keep]
    return Records(
        part[order],
        section[order],
        kind[order],
        bits[order],
        pressure[order],
        temperature[order],
        depression[order],
        direction[order],
        speed[order],
        below[order],
        above[order],
        hhh[order],
        {name: values[order] for name, values in stated.items()},
    )


def _heat(figures: Ints, steps: Ints) -> tuple[Floats, Floats, Mask]:
    """Return temperature and depression of TTTa and DD, and where they are out of the plain."""
    odd = (figures == -2) | (steps == -2) | ((figures == -1) & (steps >= 0))
    odd |= (steps > 50) & (steps < 56)
    temperature: Floats = np.where(figures % 2 == 1, -figures, figures).astype(np.float64) / 10.0
    temperature[figures < 0] = np.nan
    depression: Floats = np.where(steps <= 50, steps / 10.0, steps - 50.0).astype(np.float64)
    depression[steps < 0] = np.nan
    return temperature, depression, odd


def _wind(tens: Ints, units: Ints, step: Floats) -> tuple[Floats, Floats, Mask]:
    """Return direction and speed of dd and fff, and where they are out of the plain."""
    odd = (tens == -2) | (units == -2) | ((tens < 0) != (units < 0))
    five = units >= 500
    speed: Floats = np.where(five, units - 500, units).astype(np.float64) * step
    direction: Floats = tens.astype(np.float64) * 10.0 + np.where(five, 5.0, 0.0)
    missing = (tens < 0) | (units < 0)
    speed[missing] = np.nan
    direction[missing] = np.nan
    odd |= (direction > 360.0) | (((direction == 0.0) != (speed == 0.0)) & ~missing)
    return direction, speed, odd
