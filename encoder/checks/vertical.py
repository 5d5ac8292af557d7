"""Checks up the ascent: adiabatic limit, hydrostatic balance, ascent rate, gaps in time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.ascent.derived import moist_temperature
from encoder.ascent.holes import longest_step, steps_of
from encoder.diagnostics import Diagnostic, diagnostic
from encoder.physics import (
    KAPPA,
    ZERO_CELSIUS,
    hypsometric_height,
)
from encoder.rows import rows_counted, rows_named, stretches

if TYPE_CHECKING:
    from encoder.profile import FloatArray, Profile

MOST_TOLD = 5
"""Stretches of one check told one by one; the others are counted."""

ADIABATIC_EXCESS = 1.0
"""K below the dry adiabat from any row underneath. Weather and Forecasting 11 (1996), 350-359."""
ADIABATIC_START = 50.0
"""hPa above the surface from which the adiabatic limit holds; same source."""

HYDROSTATIC_LIMITS = ((500.0, 15.0), (100.0, 30.0), (0.0, 60.0))
"""Largest difference of height, m, down to a pressure, hPa: for heights measured by satellite
navigation beside a pressure sensor. Common practice, no source."""

SLOWEST, FASTEST = 1.0, 10.0
"""Ascent rate in m/s: at 5 usual; questionable beyond 10 by the sounding quality control of the
NCAR Earth Observing Laboratory, below 1 common practice, no source."""
RATE_SECONDS = 30.0
"""Time the ascent rate is averaged over. Common practice, no source."""
SHORTEST_SECONDS = 0.001
"""Times closer than this count as this far apart."""


def superadiabatic(ascent: Profile) -> tuple[Diagnostic, ...]:
    """Return a warning for each stretch colder than a dry adiabat from below.

    Parameters
    ----------
    ascent : Profile
        Prepared rows, pressure falling.

    Notes
    -----
    A row is outside when its temperature lies 1 K or more below the temperature air from some row
    underneath would have there after rising dry adiabatically. Rows less than 50 hPa above the
    surface are left out: the layer heated by the ground is often superadiabatic.
    """
    pressure = ascent["air_pressure"]
    temperature = ascent["air_temperature"]
    exner = np.power(pressure / 1000.0, KAPPA)
    potential = (temperature + ZERO_CELSIUS) / exner
    inside = (pressure <= pressure[0] - ADIABATIC_START) & np.isfinite(potential)
    known = np.where(inside, potential, -np.inf)
    warmest = np.maximum.accumulate(known)
    excess = np.where(inside, (warmest - potential) * exner, 0.0)
    found = []
    runs = stretches(excess >= ADIABATIC_EXCESS)
    for first, last in runs[:MOST_TOLD]:
        worst = first + int(np.argmax(excess[first : last + 1]))
        below = int(np.argmax(known[: worst + 1]))
        found.append(
            diagnostic(
                "superadiabatic",
                f"{temperature[worst]:.1f} degC at {pressure[worst]:.1f} hPa is "
                f"{excess[worst]:.1f} K colder than a dry adiabat from {temperature[below]:.1f} "
                f"degC at {pressure[below]:.1f} hPa; the limit is {ADIABATIC_EXCESS:g} K.",
                path=("air_temperature",),
                rows=_lines(ascent, first, last),
                value=f"{excess[worst]:.1f} K",
                expected=f"less than {ADIABATIC_EXCESS:g} K",
            )
        )
    return (*found, *_rest(ascent, runs, "superadiabatic", "are superadiabatic"))


def hydrostatic(ascent: Profile, formula: str) -> tuple[Diagnostic, ...]:
    """Return a warning where measured height and measured pressure do not fit each other.

    Parameters
    ----------
    ascent : Profile
        Prepared rows. Nothing is told where height or pressure were computed from each other.
    formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS`.
    """
    if "air_pressure" in ascent.computed or _all_heights_computed(ascent):
        return ()
    pressure, height = ascent["air_pressure"], ascent["geopotential_height"]
    virtual = moist_temperature(ascent, pressure, formula)
    known = np.flatnonzero(np.isfinite(virtual) & np.isfinite(height))
    if len(known) < 2:
        return ()
    built = hypsometric_height(pressure[known], virtual[known], float(height[known[0]]))
    limit = np.full(len(known), HYDROSTATIC_LIMITS[-1][1])
    for lowest, most in reversed(HYDROSTATIC_LIMITS):
        limit = np.where(pressure[known] >= lowest, most, limit)
    difference = height[known] - built
    outside = np.abs(difference) > limit
    if not outside.any():
        return ()
    first = int(np.argmax(outside))
    worst = int(np.argmax(np.where(outside, np.abs(difference) / limit, 0.0)))
    mask = np.zeros(len(ascent), dtype=bool)
    mask[known[outside]] = True
    row = known[first]
    return (
        diagnostic(
            "hydrostatic",
            f"From {pressure[row]:.1f} hPa (line {int(ascent.source_row[row])}) on, height differs "
            f"from the hypsometric equation by {difference[first]:+.0f} m, limit "
            f"{limit[first]:.0f} m; most at {pressure[known[worst]]:.1f} hPa (line "
            f"{int(ascent.source_row[known[worst]])}), by {difference[worst]:+.0f} m, limit "
            f"{limit[worst]:.0f} m; outside: {rows_counted(int(np.count_nonzero(outside)))}.",
            path=("geopotential_height",),
            rows=rows_named(ascent.source_row, mask),
            value=f"{difference[first]:+.0f} m",
            expected=f"within {limit[first]:.0f} m",
        ),
    )


def ascent_rate(ascent: Profile) -> tuple[Diagnostic, ...]:
    """Return a warning for each stretch the balloon rises too slowly or too fast.

    Parameters
    ----------
    ascent : Profile
        Prepared rows; a sonde that falls (time falling) is not judged.

    Notes
    -----
    The rate of a row is that from the last row at least 30 s before it.
    """
    time, height = ascent["time"], ascent["geopotential_height"]
    known = np.flatnonzero(np.isfinite(height))
    if len(known) < 2 or time[-1] < time[0]:
        return ()
    rate = _rates(time[known], height[known])
    outside = np.zeros(len(ascent), dtype=bool)
    outside[known] = (rate < SLOWEST) | (rate > FASTEST)
    runs = stretches(outside)
    found = []
    rates = np.full(len(ascent), np.nan)
    rates[known] = rate
    for first, last in runs[:MOST_TOLD]:
        part = rates[first : last + 1]
        worst = first + int(np.argmax(np.abs(part - (SLOWEST + FASTEST) / 2.0)))
        found.append(
            diagnostic(
                "ascent-rate",
                f"The ascent rate is {rates[worst]:.1f} m/s at {_where(ascent, worst)} "
                f"(line {int(ascent.source_row[worst])}, {time[worst]:.0f} s); usual are "
                f"{SLOWEST:g} to {FASTEST:g} m/s.",
                path=("time",),
                rows=_lines(ascent, first, last),
                value=f"{rates[worst]:.1f} m/s",
                expected=f"{SLOWEST:g} to {FASTEST:g} m/s",
            )
        )
    return (*found, *_rest(ascent, runs, "ascent-rate", "have an unusual ascent rate"))


def time_gaps(ascent: Profile) -> tuple[Diagnostic, ...]:
    """Return a warning for each pair of neighbouring rows that are unusually far apart in time.

    Parameters
    ----------
    ascent : Profile
        Prepared rows, time rising (or falling, of a sonde that falls).
    """
    steps = steps_of(ascent["time"])
    limit = longest_step(ascent["time"])
    wide = np.flatnonzero(steps > limit)
    rows = ascent.source_row
    found = [
        diagnostic(
            "time-gap",
            f"There are no rows for {steps[place]:.0f} s between {_where(ascent, place)} and "
            f"{_where(ascent, place + 1)}; the limit is {limit:.0f} s.",
            path=("time",),
            rows=(int(rows[place]), int(rows[place + 1])),
            value=f"{steps[place]:.0f} s",
            expected=f"at most {limit:.0f} s",
        )
        for place in wide[:MOST_TOLD]
    ]
    runs = [(int(place), int(place) + 1) for place in wide]
    return (*found, *_rest(ascent, runs, "time-gap", "have such a gap"))


def _where(ascent: Profile, row: int) -> str:
    """Return the pressure of a row in words, its height where it has none."""
    if np.isfinite(ascent["air_pressure"][row]):
        return f"{ascent['air_pressure'][row]:.1f} hPa"
    return f"{ascent['geopotential_height'][row]:.0f} m"


def _rates(time: FloatArray, height: FloatArray) -> FloatArray:
    """Return the ascent rate of each row in m/s, NaN for the first."""
    before = np.searchsorted(time, time - RATE_SECONDS, side="right") - 1
    before = np.clip(before, 0, np.maximum(np.arange(len(time)) - 1, 0))
    rate = (height - height[before]) / np.maximum(time - time[before], SHORTEST_SECONDS)
    rate[0] = np.nan
    return rate


def _all_heights_computed(ascent: Profile) -> bool:
    words = ascent.computed.get("geopotential_height", "")
    return words.startswith("hypsometric") and "where it was missing" not in words


def _lines(ascent: Profile, first: int, last: int) -> tuple[int, ...]:
    rows = ascent.source_row
    return (int(rows[first]),) if first == last else (int(rows[first]), int(rows[last]))


def _rest(
    ascent: Profile, runs: list[tuple[int, int]], code: str, words: str
) -> tuple[Diagnostic, ...]:
    """Return the diagnostic that counts the stretches not told one by one."""
    more = runs[MOST_TOLD:]
    if not more:
        return ()
    text = f"{len(more)} more {'stretch' if len(more) == 1 else 'stretches'} {words}."
    return (diagnostic(code, text, rows=_lines(ascent, more[0][0], more[-1][1])),)
