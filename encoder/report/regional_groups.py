"""The regional section that a flight can give: stability index, mean winds, extra winds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.codes.content import Record
from encoder.codes.regional import EXTRA_NUMBERS, write_regional
from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.levels.derived import (
    FEET_5000,
    FEET_10000,
    mean_wind,
    pressure_at_height,
    stability_index,
    wind_at_pressure,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from encoder.codes.declare import Value
    from encoder.levels.table import Levels
    from encoder.profile import Flight

MARKER = "51515"
EXTRA_HEIGHT = 1000.0
"""Height above the ground of the first extra wind in gpm (WMO-No. 306 Volume I.2, B/C25 10.6.2)."""


def regional_groups(flight: Flight, levels: Levels) -> Result[tuple[str, ...]]:
    """Return the groups of section 9 that the region of the station asks for.

    Parameters
    ----------
    flight : Flight
    levels : Levels
        From :func:`encoder.levels.select_levels` on the same flight.

    Returns
    -------
    Result of tuple of str
        Beginning with 51515, to be given as ``reporting.regional_groups``; empty where the region
        asks for none. A note tells why there is no stability index.
    """
    make = _BY_REGION.get(flight.station.wmo_region or 0)
    if make is None:
        return Result(())
    records, found = make(flight, levels)
    text, faults = write_regional(records, wind_unit=flight.reporting.wind_unit)
    found.extend(diagnostic(fault.code, fault.message, path=("9",)) for fault in faults)
    if not text:
        return Result((), tuple(found))
    return Result((MARKER, *text.split()), tuple(found))


def _value(number: float) -> Value:
    return number if np.isfinite(number) else None


def _region_iv(flight: Flight, levels: Levels) -> tuple[list[Record], list[Diagnostic]]:
    ascent = flight.ascent
    ground = float(ascent["geopotential_height"][0])
    index = stability_index(levels, ascent, ground)
    found = []
    if index.reason:
        message = f"No stability index: {index.reason}."
        found.append(diagnostic("no-stability-index", message, path=("9", "10164")))
    code = {"additional": "64", "stability_index": _value(index.value), "no_index": None}
    values: dict[str, Value] = {"additional": "94"}
    for layer, bottom, top in (
        ("lower", ground, FEET_5000),
        ("upper", max(ground, FEET_5000), FEET_10000),
    ):
        direction, speed = mean_wind(ascent, bottom, top)
        values[f"{layer}_wind_from_direction"] = _value(direction)
        values[f"{layer}_wind_speed"] = _value(speed)
    return [Record("stability-index", code), Record("mean-winds", values)], found


def _extra_winds(flight: Flight, _levels: Levels) -> tuple[list[Record], list[Diagnostic]]:
    ascent = flight.ascent
    ground = float(ascent["geopotential_height"][0])
    records = []
    for number, named in EXTRA_NUMBERS.items():
        pressure = pressure_at_height(ascent, ground + EXTRA_HEIGHT) if named is None else named
        if not pressure <= float(ascent["air_pressure"][0]):
            continue
        direction, speed = wind_at_pressure(ascent, pressure)
        values: dict[str, Value] = {
            "extra_number": number,
            "air_pressure": pressure,
            "wind_from_direction": _value(direction),
            "wind_speed": _value(speed),
        }
        records.append(Record("extra-wind", values))
    return records, []


_BY_REGION: dict[int, Callable[[Flight, Levels], tuple[list[Record], list[Diagnostic]]]] = {
    1: _extra_winds,
    4: _region_iv,
    6: _extra_winds,
}
"""What each WMO Region asks for."""
