"""The curves a reader rebuilds from the significant levels against every row of the flight."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.columns import COLUMNS
from encoder.diagnostics import Diagnostic, Severity, diagnostic
from encoder.levels.table import THERMODYNAMIC, LevelKind
from encoder.resolution import UPPER_PART_PRESSURE, coded_pressure
from encoder.rows import stretches
from encoder.verify.verdict import WorstMisfit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.levels.representation import Misfit, Stretch
    from encoder.levels.rules import Rules
    from encoder.levels.table import Levels
    from encoder.profile import Flight, Profile
    from encoder.resolution import Coding

MOST_STRETCHES = 12
"""Stretches beyond a limit told one by one; the rest are counted."""
LEAST_INVENTED = 5.0
"""hPa: shorter stretches rebuilt without an observation lie within the coding of the limits."""


@dataclass(frozen=True, slots=True)
class CurveJudgement:
    """What comparing the curves gives.

    Attributes
    ----------
    rows : int
        Rows of the ascent compared.
    worst : tuple of WorstMisfit
    diagnostics : tuple of Diagnostic
    """

    rows: int
    worst: tuple[WorstMisfit, ...]
    diagnostics: tuple[Diagnostic, ...]


def judge_curves(
    flight: Flight,
    reported: Levels,
    expected: Levels,
    selected: Levels,
    *,
    given: set[str],
    rules: Rules,
    coding: Coding,
) -> CurveJudgement:
    """Judge the curves of the significant levels.

    Parameters
    ----------
    flight : Flight
        With its holes shown (:func:`encoder.ascent.holes.with_holes_shown`).
    reported : Levels
        Levels of sections 5 and 6 of the report alone, as decoded.
    expected : Levels
        Levels that encoding the flight gives, as decoded, with its tropopauses.
    selected : Levels
        The same levels unrounded, with their reasons.
    given : set of str
        Letters of the parts in the report.
    rules : Rules
    coding : Coding

    Returns
    -------
    CurveJudgement

    References
    ----------
    WMO-No. 306 Volume I.1, 35.3.1.2, 35.3.1.3, 35.3.1.6, 35.3.2.
    """
    from encoder.levels.representation import ELEMENTS, misfit

    ascent = _judged_rows(flight.ascent, given)
    first = expected.having(LevelKind.TROPOPAUSE)
    tropopause = float(expected["air_pressure"][first[0]]) if len(first) else float("nan")

    def compared(levels: Levels) -> Misfit:
        return misfit(
            ascent,
            levels,
            rules=rules,
            coding=coding,
            formula=flight.vapour_pressure_formula,
            tropopause_pressure=tropopause,
        )

    fit, unavoidable = compared(reported), compared(expected)
    places = [f"{pressure:.1f} hPa" for pressure in ascent["air_pressure"]]
    found = [
        *stretches_told(fit, unavoidable, ascent, places),
        *_uncovered(fit, unavoidable, ascent, _reach(flight, given, rules)),
        *_invented(fit, unavoidable, ascent),
        *_mandatory(selected, reported, given),
        *_band(flight, reported, rules),
    ]
    observed = np.any([np.isfinite(ascent[name]) for name in ELEMENTS], axis=0)
    return CurveJudgement(
        int(np.count_nonzero(observed)), tuple(_curve_worst(fit, ascent)), tuple(found)
    )


def _judged_rows(ascent: Profile, given: set[str]) -> Profile:
    """Return the rows the given parts have to rebuild: those to 100 hPa without part D."""
    if "D" in given or not np.any(ascent["air_pressure"] < UPPER_PART_PRESSURE):
        return ascent
    return ascent.select(coded_pressure(ascent["air_pressure"]) >= UPPER_PART_PRESSURE)


def _is_unavoidable(stretch: Stretch, unavoidable: Misfit) -> bool:
    """Tell whether encoding the flight itself leaves rows of a stretch beyond their limits."""
    return any(
        other.worst.element == stretch.worst.element
        and other.first_row <= stretch.last_row
        and stretch.first_row <= other.last_row
        for other in unavoidable.stretches
    )


def stretches_told(
    fit: Misfit, unavoidable: Misfit, ascent: Profile, places: Sequence[str]
) -> list[Diagnostic]:
    """Tell of every stretch beyond its limit, those that coding could have kept first.

    Parameters
    ----------
    fit, unavoidable : Misfit
        Of the report, and of encoding the flight.
    ascent : Profile
        Rows compared.
    places : sequence of str
        Where each row lies, in words.

    Returns
    -------
    list of Diagnostic
    """
    found = []
    reachable = [stretch for stretch in fit.stretches if not _is_unavoidable(stretch, unavoidable)]
    others = [stretch for stretch in fit.stretches if stretch not in reachable]
    for stretch in (*reachable, *others)[:MOST_STRETCHES]:
        worst = stretch.worst
        place = places[worst.row]
        rows = ascent.source_row[[stretch.first_row, stretch.last_row]]
        found.append(
            diagnostic(
                "tolerance-broken" if stretch in reachable else "tolerance-not-reachable",
                f"{worst.element} is {worst.observed:.2f} at {place}, a reader finds "
                f"{worst.rebuilt:.2f}: off by {worst.misfit:.2f}, limit {worst.limit:.2f}.",
                path=(place, worst.element),
                rows=rows.tolist(),
            )
        )
    more = len(fit.stretches) - MOST_STRETCHES
    if more > 0:
        left = len(reachable) > MOST_STRETCHES
        text = f"{more} more stretches are beyond their limits."
        code = "tolerance-broken" if left else "tolerance-not-reachable"
        found.append(diagnostic(code, text))
    return found


def _reach(flight: Flight, given: set[str], rules: Rules) -> float:
    """Return the pressure up to which the given parts must rebuild the curves, in hPa.

    Without part D nobody can ask for more than a level between 110 and 100 hPa.
    """
    above = np.any(flight.ascent["air_pressure"] < UPPER_PART_PRESSURE)
    return float(rules.band_bottom) if above and "D" not in given else 0.0


def _band(flight: Flight, reported: Levels, rules: Rules) -> list[Diagnostic]:
    bottom, top = float(rules.band_bottom), float(rules.band_top)
    pressure = coded_pressure(flight.ascent["air_pressure"])
    heat = flight.ascent["air_temperature"]
    if not np.any((pressure <= bottom) & (pressure >= top) & np.isfinite(heat)):
        return []
    given = reported["air_pressure"][reported.having(int(THERMODYNAMIC))]
    if np.any((given <= bottom) & (given >= top)):
        return []
    return [
        diagnostic(
            "mandatory-level-missing",
            f"No significant level between {bottom:g} and {top:g} hPa.",
            path=(f"{bottom:g} hPa",),
            source=rules.band_bottom.source,
        )
    ]


def _uncovered(fit: Misfit, unavoidable: Misfit, ascent: Profile, reach: float) -> list[Diagnostic]:
    found = []
    for element, rows in fit.uncovered.items():
        lost = np.setdiff1d(rows, unavoidable.uncovered[element])
        lost = lost[ascent["air_pressure"][lost] > reach]
        if len(lost) == 0:
            continue
        pressures = ascent["air_pressure"][[lost[0], lost[-1]]]
        open_end = reach > 0.0 and element.startswith("wind")
        found.append(
            diagnostic(
                "curve-not-covered",
                f"{element} was observed at {len(lost)} rows between {pressures[0]:.1f} and "
                f"{pressures[1]:.1f} hPa, where the report gives none.",
                severity=Severity.WARNING if open_end else None,
                path=(element,),
                rows=ascent.source_row[[lost[0], lost[-1]]].tolist(),
            )
        )
    return found


def _mandatory(selected: Levels, reported: Levels, given: set[str]) -> list[Diagnostic]:
    from encoder.levels.mandatory import MANDATORY_RULES

    have = set(reported["air_pressure"][reported.having(int(THERMODYNAMIC))].tolist())
    found = []
    for index in selected.having(int(THERMODYNAMIC)):
        reasons = [item for item in selected.reasons[index] if item.rule in MANDATORY_RULES]
        unrounded = float(selected["air_pressure"][index])
        if not reasons or (unrounded < UPPER_PART_PRESSURE and "D" not in given):
            continue
        pressure = float(coded_pressure(selected["air_pressure"][[index]])[0])
        near = 0.1 if pressure < UPPER_PART_PRESSURE else 1.0
        if any(abs(other - pressure) <= near + 1e-6 for other in have):
            continue
        found.append(
            diagnostic(
                "mandatory-level-missing",
                f"No significant level at {pressure:g} hPa: {reasons[0].text}",
                path=(f"{pressure:g} hPa",),
                source=reasons[0].source,
            )
        )
    return found


def _curve_worst(fit: Misfit, ascent: Profile) -> list[WorstMisfit]:
    return [
        WorstMisfit(
            element,
            COLUMNS[element].unit,
            item.misfit,
            item.limit,
            round(item.pressure, 2),
            item.observed,
            item.rebuilt,
            int(ascent.source_row[item.row]),
            "curve",
        )
        for element, item in fit.worst.items()
        if item is not None
    ]


def _invented(fit: Misfit, unavoidable: Misfit, ascent: Profile) -> list[Diagnostic]:
    """Tell where the report gives a reader a curve through a layer the flight has no data in."""
    found = []
    pressure = ascent["air_pressure"]
    for element, rebuilt in fit.rebuilt.items():
        known = ascent["dew_point_temperature" if element == "relative_humidity" else element]
        invented = np.isfinite(rebuilt) & ~np.isfinite(known)
        invented &= ~np.isfinite(unavoidable.rebuilt[element])
        for first, last in stretches(invented):
            if pressure[first] - pressure[last] < LEAST_INVENTED:
                continue
            found.append(
                diagnostic(
                    "curve-invented",
                    f"{element} was not observed between {pressure[first]:.1f} and "
                    f"{pressure[last]:.1f} hPa, but the report gives a reader a curve there.",
                    path=(element,),
                    rows=ascent.source_row[[first, last]].tolist(),
                )
            )
    return found
