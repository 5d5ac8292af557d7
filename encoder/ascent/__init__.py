"""From the rows of a file to an ascent that can be coded.

The ascent begins with the surface observation, rises strictly, and has every column of
:data:`encoder.columns.PROFILE_COLUMNS`. Every row left out and every column computed is told.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.ascent.derived import heights, humidity, measured_height, pressures, wind
from encoder.ascent.fall import Splash, rows_of_fall, splash_row
from encoder.ascent.removal import (
    depth_of_surface,
    in_order_of_time,
    split_ascent,
    with_vertical_place,
)
from encoder.columns import PROFILE_COLUMNS
from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.physics import geopotential_height
from encoder.profile import SURFACE_ROW, Profile
from encoder.rows import rows_counted

if TYPE_CHECKING:
    from encoder.profile import FloatArray, Station, SurfaceObservation

__all__ = ["Splash", "prepare_ascent"]

FEW_ROWS = 5
"""An ascent with fewer sonde rows than this is told of. Common practice, no source."""

LEAST_PRESSURES = 0.5
"""Share of the rows with height that must have pressure for pressure to lead; below it the sonde
counts as one without pressure sensor. Common practice, no source."""

POSITION = ("latitude", "longitude")

_SUPERSEDED = (
    (("geopotential_height",), ("altitude",), "is not used because the file has"),
    (
        ("relative_humidity",),
        ("dew_point_temperature", "dew_point_depression"),
        "is used only where there is no",
    ),
    (("dew_point_temperature",), ("dew_point_depression",), "is used only where there is no"),
    (
        ("wind_from_direction", "wind_speed"),
        ("eastward_wind", "northward_wind"),
        "is not used because the file has",
    ),
)
"""Columns that give way to others, and in which words."""


def prepare_ascent(
    profile: Profile,
    *,
    station: Station,
    surface: SurfaceObservation,
    vapour_pressure_formula: str = "wmo-49",
    winds_alone: bool = False,
    splash: Splash | None = None,
) -> Result[tuple[Profile, Profile | None] | None]:
    """Return the ascent and the descent of a flight.

    Parameters
    ----------
    profile : Profile
        Rows as read, in any order, with time, temperature, and pressure or height.
    station : Station
        Gives the height of the first row and the latitude for gravity.
    surface : SurfaceObservation
        Becomes row 0 of the ascent.
    vapour_pressure_formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS`.
    winds_alone : bool
        Whether winds alone were observed; without pressure the rows then go by height.
    splash : Splash, optional
        Given for a sonde that fell from an aircraft: when and where it reached the surface.

    Returns
    -------
    Result of tuple of Profile, or None
        Ascent: row 0 is the surface observation (``source_row`` 0), then sonde rows with strictly
        falling pressure and strictly rising time. Descent: rows after the highest point, None
        where there are none. The rows of a sonde that fell are all in the first, from the
        surface upward, so that time falls. The whole is None where no sonde row is left.
    """
    found: list[Diagnostic] = list(_superseded(profile))
    height, height_words = measured_height(profile, station.latitude)
    pressures_given = _count(profile, "air_pressure")
    heights_given = int(np.count_nonzero(np.isfinite(height["geopotential_height"])))
    by_pressure = pressures_given > 0 and pressures_given >= LEAST_PRESSURES * heights_given
    if pressures_given and not by_pressure:
        found.append(
            diagnostic(
                "column-superseded",
                f"air_pressure is not used because it is given in {rows_counted(pressures_given)} "
                f"only, height in {rows_counted(heights_given)}.",
                path=("air_pressure",),
            )
        )
    if winds_alone and _count(profile, "air_temperature"):
        found.append(
            diagnostic(
                "column-superseded",
                "air_temperature is not reported because the facts say that winds alone were "
                "observed.",
                path=("air_temperature",),
            )
        )
    if by_pressure and np.isnan(surface.air_pressure):
        found.append(
            diagnostic(
                "surface-pressure-needed",
                "The profile goes by pressure, but the surface observation has none.",
                path=("surface", "air_pressure_hpa"),
            )
        )
        return Result(None, tuple(found))
    ordered = in_order_of_time(profile.with_columns(height, height_words))
    placed = with_vertical_place(ordered.value, by_pressure)
    start_height = float(geopotential_height(station.elevation, station.latitude))
    bottom = depth_of_surface(
        surface.air_pressure if by_pressure else start_height, by_pressure=by_pressure
    )
    if splash is None:
        split = split_ascent(placed.value, by_pressure=by_pressure, bottom=bottom)
        rising, falling = split.value
    else:
        fallen = rows_of_fall(placed.value, by_pressure=by_pressure, bottom=bottom)
        rising, falling = fallen.value, fallen.value.select(slice(0, 0))
        split = Result((rising, falling), fallen.diagnostics)
    found += (*ordered.diagnostics, *placed.diagnostics, *split.diagnostics)
    first = _surface_row(station, surface, start_height, profile)
    if splash is not None:
        landed = splash_row(first, rising, splash, by_pressure=by_pressure)
        first = landed.value
        found += landed.diagnostics
    elif winds_alone and not by_pressure:
        first = first.with_columns({"air_pressure": np.array([np.nan])})
    hydrostatic = not by_pressure and not winds_alone
    ascent = _complete(first, rising, hydrostatic, vapour_pressure_formula)
    found += ascent.diagnostics
    if any(item.code == "drop-rises" for item in found):
        return Result(None, tuple(found))
    if len(ascent.value) < 2:
        words = "" if np.isnan(surface.air_pressure) else f"{surface.air_pressure:.1f} hPa, "
        found.append(
            diagnostic(
                "ascent-without-rows",
                f"Of {rows_counted(len(profile))} none has its place after release and above the "
                f"surface observation ({words}{station.elevation:.0f} m).",
            )
        )
        return Result(None, tuple(found))
    if len(ascent.value) < 1 + FEW_ROWS:
        found.append(
            diagnostic(
                "few-rows",
                f"The ascent has {rows_counted(len(ascent.value) - 1)} above the surface.",
            )
        )
    if not len(falling):
        return Result((ascent.value, None), tuple(found))
    top = ascent.value.select(slice(len(ascent.value) - 1, None))
    descent = _complete(top, falling, hydrostatic, vapour_pressure_formula)
    return Result((ascent.value, descent.value.select(slice(1, None))), tuple(found))


def _superseded(profile: Profile) -> list[Diagnostic]:
    """Return a note for every column that another one makes needless."""
    return [
        diagnostic(
            "column-superseded",
            f"{other} {words} {' and '.join(used)}.",
            path=(other,),
        )
        for used, others, words in _SUPERSEDED
        for other in others
        if other in profile
        and all(name in profile and np.isfinite(profile[name]).any() for name in used)
    ]


def _count(profile: Profile, name: str) -> int:
    """Return how many rows have a value in a column."""
    return int(np.count_nonzero(np.isfinite(profile[name]))) if name in profile else 0


def _surface_row(
    station: Station, surface: SurfaceObservation, height: float, profile: Profile
) -> Profile:
    """Return the surface observation as a profile of one row."""
    values = {
        "time": 0.0,
        "air_pressure": surface.air_pressure,
        "geopotential_height": height,
        "air_temperature": surface.air_temperature,
        "relative_humidity": surface.relative_humidity,
        "dew_point_temperature": surface.dew_point_temperature,
        "wind_from_direction": surface.wind_from_direction,
        "wind_speed": surface.wind_speed,
    }
    if all(name in profile for name in POSITION):
        values |= {"latitude": station.latitude, "longitude": station.longitude}
    return Profile(
        {name: np.array([value]) for name, value in values.items()}, np.array([SURFACE_ROW])
    )


def _complete(first: Profile, rows: Profile, hydrostatic: bool, formula: str) -> Result[Profile]:
    """Return a known first row and the rows after it with every column filled as far as can be.

    ``hydrostatic``: pressure is to be computed from height.
    """
    moist = humidity(rows, formula)
    moving = wind(rows)
    rows = rows.with_columns(
        {**moist.value.columns, **moving.value.columns},
        {**moist.value.computed, **moving.value.computed},
    )
    found = [*moist.diagnostics, *moving.diagnostics]
    names = [*PROFILE_COLUMNS, *(name for name in POSITION if name in first)]
    columns: dict[str, FloatArray] = {
        name: np.concatenate(
            (first[name], rows[name] if name in rows else np.full(len(rows), np.nan))
        )
        for name in names
    }
    joined = Profile(columns, np.concatenate((first.source_row, rows.source_row)), rows.computed)
    if hydrostatic:
        pressure = pressures(joined, formula)
        found += pressure.diagnostics
        joined = joined.with_columns(pressure.value.columns, pressure.value.computed)
        kept = with_vertical_place(joined, by_pressure=True)
        found += kept.diagnostics
        joined = kept.value
    height = heights(joined, formula)
    found += height.diagnostics
    joined = joined.with_columns(height.value.columns, height.value.computed)
    return Result(joined, tuple(found))
