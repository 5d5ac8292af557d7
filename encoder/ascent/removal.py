"""Which rows make up the ascent: every row that does not is named with the reason.

The vertical order is judged on one number a row, the *depth*: the logarithm of pressure where
pressure was measured, else height divided by a scale height and turned round. Both fall by about
0.0007 a second for a balloon that rises at 5 m/s.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import Diagnostic, Result, Severity, diagnostic
from encoder.rows import rows_as_text, rows_named, stretches

if TYPE_CHECKING:
    from encoder.profile import FloatArray, Profile
    from encoder.rows import Mask

SCALE_HEIGHT = 7000.0
"""Metres over which pressure falls to 1/e; only to compare depths. Common practice, no source."""
FASTEST_RISE = 0.0035
"""Depth a second no balloon exceeds: about 24 m/s. Common practice, no source."""
SPIKE_PRESSURE, SPIKE_HEIGHT = 0.1, 20.0
"""Jitter of pressure (hPa) and height (m) that is no spike yet. Common practice, no source."""
STUCK_SECONDS = 40.0
"""A pressure that stays this long is stuck: at 2 m/s it would have changed by 1 %, more than the
steps of the file explain above 10 hPa. Common practice, no source."""
SINKING_DEPTH, SINKING_SECONDS = 0.01, 60.0
"""Noise ends and a descent begins at this depth (about 70 m) or duration. Common practice, no
source."""


def in_order_of_time(profile: Profile) -> Result[Profile]:
    """Return the rows after release in the order of time, each time once.

    Parameters
    ----------
    profile : Profile
        Rows as read.

    Returns
    -------
    Result of Profile
        Rows without time, up to release, and with the time of an earlier row are left out; rows
        out of order are sorted (rows of one time keep the order of the file).
    """
    found: list[Diagnostic] = []
    time = profile["time"]
    lost = np.isnan(time)
    early = time <= 0.0
    found += left_out(profile, lost, "row-without-time", "no time given")
    found += left_out(profile, early, "row-before-release", "not after the release")
    profile = profile.select(~lost & ~early)
    time = profile["time"]
    back = time < np.maximum.accumulate(time)
    if back.any():
        found += [
            diagnostic(
                "rows-out-of-order",
                "Sorted by time, because the time is earlier than in a row before: "
                f"{rows_as_text(profile.source_row, back)}.",
                rows=rows_named(profile.source_row, back),
            )
        ]
        profile = profile.select(np.argsort(time, kind="stable"))
    time = profile["time"]
    again = np.zeros(len(time), dtype=bool)
    again[1:] = time[1:] == time[:-1]
    found += left_out(profile, again, "row-repeats-time", "same time as an earlier row")
    return Result(profile.select(~again), tuple(found))


def with_vertical_place(profile: Profile, by_pressure: bool) -> Result[Profile]:
    """Return the rows that have a pressure, or a height for a sonde without pressure."""
    name = "air_pressure" if by_pressure else "geopotential_height"
    lost = np.isnan(profile[name])
    code = "row-without-pressure" if by_pressure else "row-without-height"
    reason = "no pressure" if by_pressure else "neither pressure nor height"
    return Result(profile.select(~lost), tuple(left_out(profile, lost, code, reason)))


def depths(profile: Profile, by_pressure: bool) -> FloatArray:
    """Return the depth of each row, smaller the higher it is.

    Parameters
    ----------
    profile : Profile
        Rows with pressure in hPa (above 0) or geopotential height in m.
    by_pressure : bool
        Which of the two.

    Returns
    -------
    ndarray, shape (row,)
    """
    if by_pressure:
        return np.log(profile["air_pressure"])
    return -profile["geopotential_height"] / SCALE_HEIGHT


def depth_of_surface(value: float, *, by_pressure: bool) -> float:
    """Return the depth of the surface from its pressure in hPa, or its height in m."""
    return float(np.log(value)) if by_pressure else -value / SCALE_HEIGHT


def split_ascent(
    profile: Profile, *, by_pressure: bool, bottom: float
) -> Result[tuple[Profile, Profile]]:
    """Return the rows of the ascent, strictly rising, and the rows after the burst.

    Parameters
    ----------
    profile : Profile
        Rows in the order of time, each with a vertical place.
    by_pressure : bool
        Whether pressure was measured.
    bottom : float
        Depth of the surface observation.

    Returns
    -------
    Result of tuple of Profile
        Ascent and descent, either possibly without rows.
    """
    found: list[Diagnostic] = []
    depth = depths(profile, by_pressure)
    spikes = _spikes(profile, depth, by_pressure)
    found += left_out(profile, spikes, "pressure-spike", "far above the rows before and after")
    profile, depth = profile.select(~spikes), depth[~spikes]
    if not len(profile):
        return Result((profile, profile), tuple(found))
    top = len(depth) - 1 - int(np.argmin(depth[::-1]))
    descent = profile.select(slice(top + 1, None))
    found += _after_burst(profile, depth, top)
    profile, depth = profile.select(slice(0, top + 1)), depth[: top + 1]

    low = depth >= bottom
    found += left_out(profile, low, "row-not-above-surface", "not above the surface observation")
    profile, depth = profile.select(~low), depth[~low]
    reached = np.minimum.accumulate(np.concatenate(([bottom], depth)))[:-1]
    kept = depth < reached
    found += _not_rising(profile, depth - reached, kept)
    return Result((profile.select(kept), descent), tuple(found))


def _spikes(profile: Profile, depth: FloatArray, by_pressure: bool) -> Mask:
    """Return the rows far above the median of the five rows around them.

    One or two wrong rows would otherwise pass for the highest so far and push out every good row
    until the balloon reaches their height.
    """
    spikes = np.zeros(len(depth), dtype=bool)
    if len(depth) < 5:
        return spikes
    time = profile["time"]
    middle = np.median(np.lib.stride_tricks.sliding_window_view(depth, 5), axis=1)
    jitter = (
        SPIKE_PRESSURE / profile["air_pressure"][2:-2]
        if by_pressure
        else SPIKE_HEIGHT / SCALE_HEIGHT
    )
    most = FASTEST_RISE * (time[4:] - time[:-4]) + jitter
    spikes[2:-2] = depth[2:-2] < middle - most
    return spikes


def _after_burst(profile: Profile, depth: FloatArray, top: int) -> list[Diagnostic]:
    """Return what there is to say about the rows after the highest one."""
    after = np.arange(len(depth)) > top
    if not after.any():
        return []
    line = int(profile.source_row[top])
    steps = np.diff(depth[top + 1 :])
    rising = int(np.count_nonzero(steps < 0.0)) > len(steps) / 2
    rows = rows_as_text(profile.source_row, after)
    message = f"Kept apart as descent, after the highest point at line {line}: {rows}"
    message += f", but most of them rise again; is line {line} wrong?" if rising else "."
    return [
        diagnostic(
            "row-after-burst",
            message,
            severity=Severity.WARNING if rising else None,
            rows=rows_named(profile.source_row, after),
        )
    ]


def _not_rising(profile: Profile, excess: FloatArray, kept: Mask) -> list[Diagnostic]:
    """Return the diagnostics for rows that are not above every row before them.

    Parameters
    ----------
    profile : Profile
    excess : ndarray, shape (row,)
        Depth of each row below the highest one so far.
    kept : ndarray of bool, shape (row,)
        Rows of the ascent.
    """
    time = profile["time"]
    stuck, sinking, flat = (np.zeros(len(kept), dtype=bool) for _ in range(3))
    for first, last in stretches(~kept):
        run = slice(first, last + 1)
        since = time[first - 1] if first else 0.0
        lasting = time[last] - since
        deepest = float(np.max(excess[run]))
        if deepest == 0.0 and lasting >= STUCK_SECONDS:
            stuck[run] = True
        elif deepest >= SINKING_DEPTH or lasting >= SINKING_SECONDS:
            sinking[run] = True
        else:
            flat[run] = True
    return [
        *left_out(
            profile,
            stuck,
            "pressure-stuck",
            f"same pressure as the row before for {STUCK_SECONDS:g} s or more",
        ),
        *left_out(profile, sinking, "row-descending", "below a height reached before"),
        *left_out(
            profile, flat, "row-not-rising", "not above the row before (noise or resolution)"
        ),
    ]


def left_out(profile: Profile, mask: Mask, code: str, reason: str) -> list[Diagnostic]:
    """Return the diagnostic that names the rows left out and why, if there are any."""
    if not mask.any():
        return []
    return [
        diagnostic(
            code,
            f"Left out of the ascent, {reason}: {rows_as_text(profile.source_row, mask)}.",
            rows=rows_named(profile.source_row, mask),
        )
    ]
