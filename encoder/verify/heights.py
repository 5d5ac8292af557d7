"""The winds a reader of a PILOT rebuilds by height against every row of the flight."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.columns import COLUMNS
from encoder.diagnostics import Diagnostic, diagnostic
from encoder.levels.altitudes import UPPER_PART_ALTITUDE
from encoder.levels.by_height import misfit_by_height
from encoder.verify.curves import MOST_STRETCHES, CurveJudgement
from encoder.verify.verdict import WorstMisfit

if TYPE_CHECKING:
    from encoder.levels.representation import Misfit
    from encoder.levels.rules import Rules
    from encoder.levels.table import Levels
    from encoder.profile import Flight, Profile
    from encoder.resolution import Coding


def judge_heights(
    flight: Flight,
    reported: Levels,
    expected: Levels,
    *,
    given: set[str],
    rules: Rules,
    coding: Coding,
) -> CurveJudgement:
    """Judge the curves of the winds of parts B and D.

    Parameters
    ----------
    flight : Flight
        With winds by height alone.
    reported : Levels
        Levels of the report, as decoded.
    expected : Levels
        Levels that encoding the flight gives, as decoded.
    given : set of str
        Letters of the parts in the report.
    rules : Rules
    coding : Coding

    Returns
    -------
    CurveJudgement

    References
    ----------
    WMO-No. 306 Volume I.1, 32.3.1.1: within 10 degrees and 5 m/s, and half a step of the code.
    """
    ascent = flight.ascent
    if "D" not in given:
        ascent = ascent.select(ascent["geopotential_height"] <= UPPER_PART_ALTITUDE)
    formula = flight.vapour_pressure_formula
    fit, unavoidable = (
        misfit_by_height(ascent, levels, rules=rules, coding=coding, formula=formula)
        for levels in (reported, expected)
    )
    found = [*_stretches(fit, unavoidable, ascent), *_uncovered(fit, unavoidable, ascent)]
    worst = [
        WorstMisfit(
            element,
            COLUMNS[element].unit,
            item.misfit,
            item.limit,
            None,
            item.observed,
            item.rebuilt,
            int(ascent.source_row[item.row]),
            "curve",
            float(ascent["geopotential_height"][item.row]),
        )
        for element, item in fit.worst.items()
        if item is not None
    ]
    return CurveJudgement(len(ascent), tuple(worst), tuple(found))


def _stretches(fit: Misfit, unavoidable: Misfit, ascent: Profile) -> list[Diagnostic]:
    found = []
    heights = ascent["geopotential_height"]
    for stretch in fit.stretches[:MOST_STRETCHES]:
        worst = stretch.worst
        same = any(
            other.worst.element == worst.element
            and other.first_row <= stretch.last_row
            and stretch.first_row <= other.last_row
            for other in unavoidable.stretches
        )
        rows = ascent.source_row[[stretch.first_row, stretch.last_row]]
        place = f"{heights[worst.row]:.0f} m"
        found.append(
            diagnostic(
                "tolerance-not-reachable" if same else "tolerance-broken",
                f"{worst.element} is {worst.observed:.2f} at {place}, a reader finds "
                f"{worst.rebuilt:.2f}: off by {worst.misfit:.2f}, limit {worst.limit:.2f}.",
                path=(place, worst.element),
                rows=rows.tolist(),
            )
        )
    more = len(fit.stretches) - MOST_STRETCHES
    if more > 0:
        text = f"{more} more stretches are beyond their limits."
        found.append(diagnostic("tolerance-broken", text))
    return found


def _uncovered(fit: Misfit, unavoidable: Misfit, ascent: Profile) -> list[Diagnostic]:
    found = []
    heights = ascent["geopotential_height"]
    for element, rows in fit.uncovered.items():
        lost = np.setdiff1d(rows, unavoidable.uncovered[element])
        if len(lost) == 0:
            continue
        found.append(
            diagnostic(
                "curve-not-covered",
                f"{element} was observed at {len(lost)} rows between {heights[lost[0]]:.0f} and "
                f"{heights[lost[-1]]:.0f} m, where the report gives none.",
                path=(element,),
                rows=ascent.source_row[[lost[0], lost[-1]]].tolist(),
            )
        )
    return found
