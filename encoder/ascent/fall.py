"""The rows of a sonde that falls from an aircraft, put in the order of a sonde that rises."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.ascent.removal import depths, left_out
from encoder.diagnostics import Diagnostic, Result, Severity, diagnostic
from encoder.rows import rows_named

if TYPE_CHECKING:
    from encoder.profile import Profile

CLOSE_TO_SURFACE = 0.02
"""Depth from the surface beyond which the time of the splash by the rate of fall has to be looked
at: about 150 m. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Splash:
    """When and where a sonde reached the surface, NaN where not known.

    Attributes
    ----------
    time : float
        Seconds since release.
    latitude, longitude : float
        Degrees.
    """

    time: float = float("nan")
    latitude: float = float("nan")
    longitude: float = float("nan")


def rows_of_fall(profile: Profile, *, by_pressure: bool, bottom: float) -> Result[Profile]:
    """Return the rows of a fall from the surface upward.

    Parameters
    ----------
    profile : Profile
        Rows in the order of time, each with a vertical place.
    by_pressure : bool
        Whether pressure was measured.
    bottom : float
        Depth of the surface observation, see :func:`encoder.ascent.removal.depths`.

    Returns
    -------
    Result of Profile
        Rows that fall strictly and lie above the surface, the last one first. What was left out
        is told.
    """
    found: list[Diagnostic] = []
    depth = depths(profile, by_pressure)
    low = depth >= bottom
    found += left_out(profile, low, "row-not-above-surface", "not above the surface observation")
    profile, depth = profile.select(~low), depth[~low]
    deepest = np.maximum.accumulate(np.concatenate(([-np.inf], depth)))[:-1]
    kept = depth > deepest
    if np.count_nonzero(np.diff(depth) <= 0.0) > len(depth) / 2:
        found.append(
            diagnostic(
                "drop-rises",
                f"The sonde is said to have been dropped, but most of its {len(depth)} rows are "
                "not below the row before.",
                path=("station", "platform"),
                rows=rows_named(profile.source_row, ~kept),
            )
        )
    found += left_out(profile, ~kept, "row-not-falling", "not below every row before it")
    return Result(profile.select(np.flatnonzero(kept)[::-1]), tuple(found))


def splash_row(
    surface: Profile, rows: Profile, splash: Splash, *, by_pressure: bool
) -> Result[Profile]:
    """Return the surface observation with time and position of the splash.

    Parameters
    ----------
    surface : Profile
        The surface observation as one row.
    rows : Profile
        Rows of the fall from the surface upward.
    splash : Splash
    by_pressure : bool
        Whether pressure was measured.

    Returns
    -------
    Result of Profile
        Without a time of the splash it follows from the rate of fall between the last two rows,
        which is told; from a row far above the surface with a warning.
    """
    found: tuple[Diagnostic, ...] = ()
    time = splash.time
    if np.isnan(time) and len(rows) > 1:
        depth = depths(rows.select(slice(0, 2)), by_pressure)
        left = float(depths(surface, by_pressure)[0] - depth[0])
        seconds = rows["time"][:2]
        time = float(seconds[0] + left * (seconds[0] - seconds[1]) / (depth[0] - depth[1]))
        found = (
            diagnostic(
                "splash-time-computed",
                f"The sonde reached the surface {time:.1f} s after release by its rate of fall at "
                f"its last rows, {time - seconds[0]:.1f} s before.",
                severity=Severity.WARNING if left > CLOSE_TO_SURFACE else None,
                path=("drop", "splash_time"),
            ),
        )
    columns = {"time": np.array([time])}
    if "latitude" in surface:
        columns |= {
            "latitude": np.array([splash.latitude]),
            "longitude": np.array([splash.longitude]),
        }
    return Result(surface.with_columns(columns), found)
