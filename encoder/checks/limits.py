"""Gross limits: values no instrument can have measured, and columns in another unit.

A value outside the limits of :data:`encoder.columns.COLUMNS` counts as missing and is told. A
column whose values are mostly outside, or fit the surface observation only in another unit, makes
the flight unusable: guessing the unit is left to nobody.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.checks.surface import FIRST_SECONDS
from encoder.columns import COLUMNS, Column
from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.rows import rows_as_text, rows_counted, rows_named, stretches

if TYPE_CHECKING:
    from encoder.profile import FloatArray, Profile, SurfaceObservation
    from encoder.rows import Mask

MOST_OUTSIDE = 0.5
"""Share of values outside the limits from which the unit is doubted. Common practice, no source."""
LONGEST_RUN = 30
"""Rows on end with an impossible temperature from which the unit is doubted: a spike or a short
fault of the sensor ends before. Common practice, no source."""
LARGEST_SHARE, SHORTEST_RUN = 0.02, 3
"""Share of the rows with an impossible temperature from which the unit is doubted, where at least
three of them follow each other; one or two are a spike. Common practice, no source."""
WARMER, CLOSE = 20.0, 5.0
"""K by which the first temperature must differ from that of the surface, and within which it must
fit in another unit, for that unit to be likely. Common practice, no source."""
FRACTION_HIGHEST = 1.05
"""Relative humidity that never exceeds this through a whole flight is a fraction, not a
percentage. Common practice, no source."""
PRESSURE_FACTOR = 3.0
"""First pressure of the sonde and surface pressure differing by this factor are in different units.
Common practice, no source."""

_OTHER_UNITS: dict[str, tuple[tuple[str, float, float], ...]] = {
    "air_pressure": (("Pa", 0.01, 0.0), ("kPa", 10.0, 0.0)),
    "air_temperature": (("K", 1.0, -273.15), ("degF", 5.0 / 9.0, -160.0 / 9.0)),
    "dew_point_temperature": (("K", 1.0, -273.15), ("degF", 5.0 / 9.0, -160.0 / 9.0)),
    "geopotential_height": (("ft", 0.3048, 0.0), ("km", 1000.0, 0.0)),
    "altitude": (("ft", 0.3048, 0.0), ("km", 1000.0, 0.0)),
}
"""Units often confused with that of the column, as factor and offset into it."""


_TEMPERATURES = ("air_temperature", "dew_point_temperature")


def gross_limits(profile: Profile) -> Result[Profile]:
    """Return the profile with values outside the gross limits taken out.

    Parameters
    ----------
    profile : Profile
        Rows as read; not changed.

    Returns
    -------
    Result of Profile
        A warning for each column with such values; an error where most are such, or more
        temperatures than single faults explain.
    """
    found: list[Diagnostic] = []
    columns: dict[str, FloatArray] = {}
    for name in profile:
        values = profile[name]
        limits = COLUMNS[name]
        outside = (values < limits.lowest) | (values > limits.highest)
        if not outside.any():
            continue
        given = int(np.count_nonzero(np.isfinite(values)))
        count = int(np.count_nonzero(outside))
        if count > MOST_OUTSIDE * given or (
            name in _TEMPERATURES and _beyond_spikes(values, outside)
        ):
            found.append(_impossible_column(limits, values, outside, profile))
        else:
            found.append(_impossible_values(limits, values, outside, profile))
        columns[name] = np.where(outside, np.nan, values)
    return Result(profile.with_columns(columns), tuple(found))


def unit_doubts(profile: Profile, surface: SurfaceObservation) -> tuple[Diagnostic, ...]:
    """Return an error for each column whose values, all possible, fit another unit.

    Parameters
    ----------
    profile : Profile
        Rows within the gross limits.
    surface : SurfaceObservation
        What the first rows are held against.
    """
    found: list[Diagnostic] = []
    if "relative_humidity" in profile:
        humidity = profile["relative_humidity"]
        highest = float(np.max(humidity, initial=0.0, where=np.isfinite(humidity)))
        if np.isfinite(humidity).any() and 0.0 < highest <= FRACTION_HIGHEST:
            found.append(
                diagnostic(
                    "unit-doubtful",
                    f"The relative humidity never exceeds {highest:g} %: is it a fraction?",
                    path=("relative_humidity",),
                    value="%",
                    expected="1",
                )
            )
    if "air_pressure" in profile:
        pressure = profile["air_pressure"]
        highest = float(np.max(pressure, initial=0.0, where=np.isfinite(pressure)))
        factor = surface.air_pressure / highest if highest > 0.0 else 1.0
        if factor > PRESSURE_FACTOR:
            close = next(
                (
                    unit
                    for size, unit in ((10.0, "kPa"), (1.333, "mmHg"), (33.86, "inHg"))
                    if 0.7 < factor / size < 1.4
                ),
                None,
            )
            tail = f": is the unit {close}?" if close else "."
            found.append(
                diagnostic(
                    "unit-doubtful",
                    f"The highest pressure of the profile is {highest:g} hPa, the surface pressure "
                    f"{surface.air_pressure:g} hPa{tail}",
                    path=("air_pressure",),
                    value="hPa",
                    expected=close,
                )
            )
    found += _fahrenheit(profile, surface)
    return tuple(found)


def _fahrenheit(profile: Profile, surface: SurfaceObservation) -> list[Diagnostic]:
    """Return an error where the first temperature fits that of the surface only in degF."""
    if "air_temperature" not in profile:
        return []
    time, temperature = profile["time"], profile["air_temperature"]
    soon = np.flatnonzero((time > 0.0) & (time <= FIRST_SECONDS) & np.isfinite(temperature))
    if not len(soon):
        return []
    first, observed = float(np.median(temperature[soon])), surface.air_temperature
    converted = (first - 32.0) * 5.0 / 9.0
    if not (abs(first - observed) > WARMER and abs(converted - observed) <= CLOSE):
        return []
    return [
        diagnostic(
            "unit-doubtful",
            f"The sonde has {first:.1f} degC just after release, the surface observation "
            f"{observed:.1f} degC: is the unit degF?",
            path=("air_temperature",),
            rows=(int(profile.source_row[soon[0]]),),
            value="degC",
            expected="degF",
        )
    ]


def _beyond_spikes(values: FloatArray, outside: Mask) -> bool:
    """Tell whether impossible temperatures are too many for spikes.

    The same number every time, such as -9999, stands for a missing value.
    """
    wrong = values[outside]
    if wrong.min() == wrong.max():
        return False
    longest = max(last - first + 1 for first, last in stretches(outside))
    many = len(wrong) > LARGEST_SHARE * len(values) and longest >= SHORTEST_RUN
    return many or longest > LONGEST_RUN


def _impossible_column(
    limits: Column, values: FloatArray, outside: Mask, profile: Profile
) -> Diagnostic:
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    count = int(np.count_nonzero(outside))
    unit = next(
        (
            unit
            for unit, factor, offset in _OTHER_UNITS.get(limits.name, ())
            if limits.lowest <= low * factor + offset and high * factor + offset <= limits.highest
        ),
        None,
    )
    tail = f": are the values in {unit}?" if unit else "."
    return diagnostic(
        "column-impossible",
        f"{limits.name} ranges from {low:g} to {high:g} {limits.unit}, possible are "
        f"{limits.lowest:g} to {limits.highest:g}; outside are {count} of "
        f"{rows_counted(len(values))}{tail}",
        path=(limits.name,),
        rows=rows_named(profile.source_row, outside),
        value=limits.unit,
        expected=unit,
    )


def _impossible_values(
    limits: Column, values: FloatArray, outside: Mask, profile: Profile
) -> Diagnostic:
    wrong = values[outside]
    low, high = float(np.min(wrong)), float(np.max(wrong))
    shown = f"{low:g}" if low == high else f"{low:g} to {high:g}"
    return diagnostic(
        "values-impossible",
        f"{limits.name} of {shown} {limits.unit} is outside {limits.lowest:g} to "
        f"{limits.highest:g} and counts as missing at {rows_as_text(profile.source_row, outside)}.",
        path=(limits.name,),
        rows=rows_named(profile.source_row, outside),
        value=shown,
        expected=f"{limits.lowest:g} to {limits.highest:g} {limits.unit}",
    )
