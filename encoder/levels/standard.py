"""The surface level and the standard isobaric surfaces."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.columns import LEVEL_COLUMNS
from encoder.diagnostics import Result
from encoder.levels.ascent_rows import (
    across_thin_gaps,
    levels_at_pressures,
    levels_at_rows,
    rows_around,
)
from encoder.levels.table import LevelKind, Levels, Reason
from encoder.physics import (
    GAS_CONSTANT_DRY,
    GRAVITY,
    ZERO_CELSIUS,
    thickness,
    vapour_pressure,
    virtual_temperature,
)

if TYPE_CHECKING:
    from encoder.levels.rules import Rules
    from encoder.profile import FloatArray, Profile

_SURFACE_LAPSE = 0.0065
"""Lapse rate below the ground in K m-1: the standard atmosphere's (common practice, no source)."""

_SURFACE_SOURCE = "WMO-No. 306, 35.2.2; B/C25.8.1"
_STANDARD_SOURCE = "WMO-No. 306, 35.2.2.1; B/C25.8.2.1"
_BELOW_SOURCE = "WMO-No. 306, 35.2.2.2; the lapse below ground: common practice, no source"
_ABOVE_SOURCE = "WMO-No. 306, 35.2.2.4; B/C25.8.2.4"


def surface_level(ascent: Profile) -> Result[Levels]:
    """Return the surface level.

    Parameters
    ----------
    ascent : Profile
        Prepared rows; row 0 is the surface observation.

    Returns
    -------
    Result of Levels
        One level, which counts as significant for temperature, humidity and wind too; none when
        the ascent has no rows.

    References
    ----------
    WMO-No. 306, 35.2.2; B/C25.8.1.
    """
    kinds = (
        LevelKind.SURFACE
        | LevelKind.SIGNIFICANT_TEMPERATURE
        | LevelKind.SIGNIFICANT_HUMIDITY
        | LevelKind.SIGNIFICANT_WIND
    )
    rows = [0] if len(ascent) else []
    reasons = [
        (
            Reason(
                "surface",
                f"The surface, at {ascent['air_pressure'][row]:.1f} hPa, is always reported.",
                _SURFACE_SOURCE,
            ),
        )
        for row in rows
    ]
    return Result(levels_at_rows(ascent, rows, [int(kinds)] * len(rows), reasons))


def standard_levels(
    ascent: Profile, *, rules: Rules, high: bool = False, formula: str = "wmo-49"
) -> Result[Levels]:
    """Return the standard isobaric surfaces.

    Parameters
    ----------
    ascent : Profile
        Prepared rows, pressure strictly decreasing, row 0 the surface observation.
    rules : Rules
        Gives the surfaces and the limits of extrapolation.
    high : bool
        Whether the surfaces above 10 hPa are wanted too.
    formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS`, the one the dew point of the
        ascent was computed with.

    Returns
    -------
    Result of Levels
        Between surface and top: interpolated, see
        :func:`encoder.levels.ascent_rows.levels_at_pressures`; what is missing in the ascent is
        missing here. Below the ground: the height alone, extrapolated, ``rows`` empty. Above the
        top: the height alone where the rule allows it and it can be computed, otherwise the
        surface is left out.

    References
    ----------
    WMO-No. 306, 35.2.2.1 to 35.2.2.4; B/C25.8.2.
    """
    rows = ascent["air_pressure"]
    if len(rows) == 0:
        return Result(levels_at_rows(ascent, [], [], []))
    surfaces = rules.standard_levels + (rules.high_levels if high else ())
    bottom, top = float(rows[0]), float(rows[-1])
    below = [surface for surface in surfaces if surface > bottom]
    inside = [surface for surface in surfaces if top <= surface <= bottom]
    above = {
        surface: height
        for surface in surfaces
        if surface < top
        and np.isfinite(height := _height_above(ascent, surface, rules=rules, formula=formula))
    }
    wanted = np.array([*below, *inside, *above])
    columns = {name: np.full(len(wanted), np.nan) for name in LEVEL_COLUMNS}
    middle = slice(len(below), len(below) + len(inside))
    for name, values in levels_at_pressures(
        ascent, np.array(inside), rules=rules, formula=formula
    ).items():
        columns[name][middle] = values
    columns["air_pressure"] = wanted
    columns["geopotential_height"][: len(below)] = _heights_below(
        ascent, np.array(below), formula=formula
    )
    columns["geopotential_height"][len(below) + len(inside) :] = list(above.values())
    reasons = [
        *[_reason_below(surface, bottom) for surface in below],
        *[_reason_inside(surface) for surface in inside],
        *[_reason_above(surface, top) for surface in above],
    ]
    return Result(
        Levels(
            columns,
            np.full(len(wanted), int(LevelKind.STANDARD)),
            tuple((reason,) for reason in reasons),
            tuple(rows_around(ascent, float(surface)) for surface in wanted),
        )
    )


def _reason_inside(surface: float) -> Reason:
    return Reason("standard", f"{surface:g} hPa is a standard surface.", _STANDARD_SOURCE)


def _reason_below(surface: float, bottom: float) -> Reason:
    return Reason(
        "standard-below-ground",
        f"{surface:g} hPa lies below the ground ({bottom:.1f} hPa): height extrapolated "
        "downward, nothing else given.",
        _BELOW_SOURCE,
    )


def _reason_above(surface: float, top: float) -> Reason:
    return Reason(
        "standard-above-top",
        f"{surface:g} hPa lies {top - surface:.1f} hPa above the top ({top:.1f} hPa): height "
        "extrapolated upward, nothing else given.",
        _ABOVE_SOURCE,
    )


def _virtual(ascent: Profile, formula: str) -> FloatArray:
    """Return the virtual temperature of the rows in degC; dry where humidity is missing."""
    temperature = ascent["air_temperature"]
    vapour = vapour_pressure(temperature, ascent["relative_humidity"], formula)
    return virtual_temperature(temperature, vapour, ascent["air_pressure"])


def _heights_below(ascent: Profile, surfaces: FloatArray, *, formula: str) -> FloatArray:
    """Return heights of surfaces below the ground.

    The air that is not there gets the virtual temperature of the surface observation and the
    lapse rate of the standard atmosphere downward; NaN when the surface temperature or height is
    missing.
    """
    lowest = ascent.select(slice(0, 1))
    kelvin = float(_virtual(lowest, formula)[0]) + ZERO_CELSIUS
    exponent = GAS_CONSTANT_DRY * _SURFACE_LAPSE / GRAVITY
    ratio = (surfaces / lowest["air_pressure"][0]) ** exponent
    heights: FloatArray = lowest["geopotential_height"] - kelvin / _SURFACE_LAPSE * (ratio - 1.0)
    return heights


def _height_above(ascent: Profile, surface: float, *, rules: Rules, formula: str) -> float:
    """Return the height of a surface above the top, NaN where it must not be given.

    The T-log p curve is a straight line through the top and the point as far below the top, in
    pressure, as the surface is above it.
    """
    rows = ascent["air_pressure"]
    top = float(rows[-1])
    gap = top - surface
    share = float(rules.extrapolation_share) * surface
    if gap > min(share, float(rules.extrapolation_limit)) or top + gap > rows[0]:
        return float("nan")
    second = top + gap
    limit = float(rules.missing_temperature)
    lower, upper = across_thin_gaps(np.array([second, top]), rows, _virtual(ascent, formula), limit)
    slope = (upper - lower) / np.log(second / top)
    here = upper + slope * np.log(top / surface)
    rise = thickness(top, surface, (upper + here) / 2.0)
    return float(ascent["geopotential_height"][-1] + rise)
