"""Tropopauses by the definition of WMO, on a full-resolution ascent or on a few levels.

The definition speaks of the lapse rate at a level and of averages between levels; a curve of
one-second rows has neither without smoothing. Here

- the lapse rate at a row is that of the straight line fitted to the rows up to 200 m above it, or
  of the straight line to the next row where rows are farther apart than that;
- averages run from the foot of that fitted line to the mean temperature of the rows within 100 m
  of each higher level, and to the level exactly 2 km higher;
- where rows are dense, the level is the row at which two straight lines, one below and one above,
  fit the curve best: smoothing alone would put it too low by up to 200 m.

On levels farther apart than 200 m all of this is the plain definition on straight lines between
the levels. The 200 m and 100 m: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.levels.ascent_rows import levels_at_rows
from encoder.levels.lapse import LapseCurve, kink_row, lapse_curve
from encoder.levels.table import LevelKind, Levels, Reason
from encoder.rounding import round_half_away

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from encoder.levels.rules import Rules
    from encoder.profile import Profile


def first_tropopause_pressure(levels: Levels) -> float:
    """Return the pressure of the lowest tropopause of a level table.

    Parameters
    ----------
    levels : Levels
        Any table, from :func:`tropopauses` or decoded.

    Returns
    -------
    float
        hPa; NaN when the table has no tropopause.
    """
    found = levels.having(LevelKind.TROPOPAUSE)
    return float(np.max(levels["air_pressure"][found])) if len(found) else float("nan")


@dataclass(frozen=True, slots=True)
class _Search:
    """What the definition says about every level of a curve."""

    meets: NDArray[np.bool_]
    """The definition holds and 2 km of data prove it."""
    unproven: NDArray[np.bool_]
    """Nothing speaks against it, but data end, or are missing, within 2 km."""


def tropopauses(ascent: Profile, *, rules: Rules) -> Result[Levels]:
    """Return every tropopause.

    Parameters
    ----------
    ascent : Profile
        Prepared rows, pressure strictly decreasing. Rows without temperature count as missing
        data, so levels that carry wind alone have to be left out by the caller.
    rules : Rules
        Gives lapse rates and depths.

    Returns
    -------
    Result of Levels
        Rows of the ascent, kind TROPOPAUSE. Diagnostics: ``tropopause-not-searched`` when fewer
        than two rows have temperature and height; ``tropopause-unproven`` when a level looks
        like one but data do not reach 2 km beyond it.

    Notes
    -----
    First: the lowest level at which the lapse rate falls to 2 K/km or less, and from which the
    average lapse rate to every higher level within 2 km is no more. Further ones: by the same
    test above a level from which the average lapse rate to every higher level within 1 km
    exceeds 3 K/km. Below 500 hPa one counts only if no level above meets the definition and no
    layer of 1 km above it is steeper than 3 K/km. The lapse rate has to fall: the lowest row of
    the ascent, and a row that follows a layer without data, are no tropopause.

    References
    ----------
    WMO-No. 182, International Meteorological Vocabulary, tropopause; WMO-No. 306, 35.2.3.
    """
    curve = lapse_curve(ascent, gap=float(rules.missing_temperature))
    if len(curve.rows) < 2:
        finding = diagnostic(
            "tropopause-not-searched",
            f"A tropopause needs temperature and height at two rows or more, "
            f"found {len(curve.rows)}.",
        )
        return Result(levels_at_rows(ascent, [], [], []), (finding,))
    search = _search(curve, rules)
    high = curve.pressure <= float(rules.tropopause_lowest)
    found: list[int] = []
    findings: list[Diagnostic] = []
    after = 0
    while True:
        start = _next_start(curve, search.meets, high, after)
        doubtful = (
            _next_start(curve, search.unproven, high, after),
            _next_start(curve, search.meets, high, after, above_gap=True),
        )
        findings += [
            _unproven(ascent, curve, level, rules)
            for level in sorted(set(doubtful))
            if level >= 0 and (start < 0 or level < start)
        ]
        if start < 0:
            break
        found.append(start)
        after = _steep(curve, rules, start + 1)
        if after < 0:
            break
    if not found and not findings:
        found = _only_low_one(curve, search, high, rules)
    return Result(_as_levels(ascent, curve, found, search, rules), tuple(findings))


def _search(curve: LapseCurve, rules: Rules) -> _Search:
    """Judge every level of the curve by the definition of the first tropopause."""
    limit, depth = float(rules.tropopause_lapse), float(rules.tropopause_depth)
    holds = (curve.lapse <= limit + 1e-9) & curve.never_above(limit, depth)
    proven = curve.complete(depth)
    return _Search(holds & proven, holds & ~proven & curve.complete(curve.layer))


def _next_start(
    curve: LapseCurve,
    meets: NDArray[np.bool_],
    wanted: NDArray[np.bool_],
    after: int,
    *,
    above_gap: bool = False,
) -> int:
    """Return the lowest level, from one on, where a run of levels that qualify begins, or -1.

    Runs that are parted by less than the local layer are one; the run from the lowest row on
    does not count. One that begins at the upper limit of a layer without data counts only when
    such are asked for, and then no other does.
    """
    rows = np.flatnonzero(meets[after:]) + after
    if len(rows) == 0:
        return -1
    heights = curve.height
    parted = np.diff(rows) > 1
    parted &= np.diff(heights[rows]) > curve.layer
    starts = rows[np.concatenate(([True], parted))]
    falls = (starts > 0) & (curve.gap_above[np.maximum(starts - 1, 0)] == above_gap)
    starts = starts[falls & wanted[starts]]
    return int(starts[0]) if len(starts) else -1


def _steep(curve: LapseCurve, rules: Rules, after: int) -> int:
    """Return the lowest level from which the air cools fast enough to look for another, or -1."""
    limit, depth = float(rules.tropopause_restart_lapse), float(rules.tropopause_restart_depth)
    steep = (curve.lapse > limit) & curve.always_above(limit, depth) & curve.complete(depth)
    rows = np.flatnonzero(steep[after:])
    return int(rows[0]) + after if len(rows) else -1


def _only_low_one(
    curve: LapseCurve, search: _Search, high: NDArray[np.bool_], rules: Rules
) -> list[int]:
    """Return the one level below 500 hPa that may be called a tropopause, if any."""
    start = _next_start(curve, search.meets, ~high, 0)
    if start < 0:
        return []
    limit, depth = float(rules.tropopause_restart_lapse), float(rules.tropopause_restart_depth)
    above = curve.average_over(depth)[start + 1 :]
    return [] if np.any(above > limit + 1e-9) else [start]


def _as_levels(
    ascent: Profile, curve: LapseCurve, found: list[int], search: _Search, rules: Rules
) -> Levels:
    """Return the levels found, each moved to the row where the curve bends."""
    limit, depth = float(rules.tropopause_lapse), float(rules.tropopause_depth)
    rows, reasons = [], []
    for number, start in enumerate(found):
        level = kink_row(curve, start, limit)
        level = level if search.meets[level] else start
        rows.append(int(curve.rows[level]))
        word = "first" if number == 0 else "further"
        lapse = round_half_away(float(curve.lapse[level]), 0.1)
        average = round_half_away(curve.greatest_average(level, depth), 0.1)
        text = (
            f"Lapse rate falls to {lapse:.1f} K/km and averages at most {average:.1f} K/km to any "
            f"level within {depth / 1000:g} km above (limit {limit:g} K/km)."
        )
        reasons.append((Reason(f"tropopause-{word}", text, rules.tropopause_lapse.source),))
    return levels_at_rows(ascent, rows, [int(LevelKind.TROPOPAUSE)] * len(rows), reasons)


def _unproven(ascent: Profile, curve: LapseCurve, level: int, rules: Rules) -> Diagnostic:
    row = int(curve.rows[level])
    lapse = round_half_away(float(curve.lapse[level]), 0.1)
    return diagnostic(
        "tropopause-unproven",
        f"At {curve.pressure[level]:.1f} hPa the lapse rate falls to {lapse:.1f} K/km, but "
        "temperature is missing just below or within the "
        f"{float(rules.tropopause_depth) / 1000:g} km above that a tropopause needs; none is "
        "reported there.",
        rows=[int(ascent.source_row[row])],
    )
