"""The winds of a PILOT by altitude against the flight: each wind, and the curves between them.

Which significant winds are given is a choice, so that the winds of section 4 are held against the
flight at the altitudes the report has; only the fixed altitudes must all be there.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from encoder.codes.elements import number
from encoder.columns import COLUMNS
from encoder.diagnostics import Diagnostic, diagnostic
from encoder.levels.altitudes import UPPER_PART_ALTITUDE, step_of_altitudes
from encoder.levels.by_height import misfit_by_height
from encoder.levels.heights import wind_at_heights
from encoder.report.arrange_pilot import UNITS_ELSEWHERE, UNITS_REGION_IV
from encoder.resolution import UPPER_PART_PRESSURE, coded_wind
from encoder.verify.curves import CurveJudgement, stretches_told
from encoder.verify.verdict import WorstMisfit

if TYPE_CHECKING:
    from encoder.codes.content import PartContent, Record
    from encoder.codes.declare import Value
    from encoder.levels.representation import Misfit
    from encoder.levels.rules import Rules
    from encoder.levels.table import Levels
    from encoder.profile import Flight, Profile
    from encoder.resolution import Coding


_WIND = ("wind_from_direction", "wind_speed")
FIXED = "fixed-altitude"
"""Kind of the records of section 4."""


def at_reported_altitudes(
    reported: PartContent, expected: PartContent, flight: Flight, coding: Coding
) -> PartContent:
    """Return the expected part with section 4 at the altitudes the report gives.

    Parameters
    ----------
    reported, expected : PartContent
        Both as decoded.
    flight : Flight
        With heights.
    coding : Coding
        Unit of the report's winds.

    Returns
    -------
    PartContent
        Winds of the flight at the altitudes of the report, those of fixed altitudes the report
        leaves out as well. Either spelling of the surface is right.
    """
    own, theirs = reported.records("4"), expected.records("4")
    if not any(record.kind == FIXED for record in (*own, *theirs)):
        return expected
    region = flight.station.wmo_region
    fixed = UNITS_REGION_IV if region == 4 else UNITS_ELSEWHERE
    by_place = {_units(record): record for record in theirs}
    wanted = {}
    for record in own:
        units = _units(record)
        if units == 0.0:
            winds = by_place[units].values if units in by_place else {}
        else:
            asked = 500 if record.get("altitude_step") == 500 else flight.reporting.pilot_step
            winds = _wind(flight, units * step_of_altitudes(region, asked), coding)
        values = {name: winds.get(name) for name in _WIND}
        wanted[units] = replace(record, values={**record.values, **values})
    for units, record in by_place.items():
        if units == 0.0 or units in fixed:
            wanted.setdefault(units, record)
    records = tuple(wanted[units] for units in sorted(wanted))
    sections = tuple(
        replace(section, records=records) if section.number == "4" else section
        for section in expected.sections
    )
    return replace(expected, sections=sections)


def _units(record: Record) -> float:
    return number(record.get("altitude_units")) or 0.0


def _wind(flight: Flight, height: float, coding: Coding) -> dict[str, Value]:
    """Return the wind of the flight at a height, as a reader decodes it."""
    direction, speed = coded_wind(*wind_at_heights(flight.ascent, np.array([height])), coding)
    if np.isnan(speed[0]):
        return {}
    return {_WIND[0]: float(direction[0]), _WIND[1]: float(speed[0])}


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
        With heights.
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
    ascent = flight.ascent.select(np.isfinite(flight.ascent["geopotential_height"]))
    if "D" not in given:
        low = ascent["air_pressure"] >= UPPER_PART_PRESSURE
        if ascent.by_height:
            low = ascent["geopotential_height"] <= UPPER_PART_ALTITUDE
        ascent = ascent.select(low)
    formula = flight.vapour_pressure_formula
    fit, unavoidable = (
        misfit_by_height(ascent, levels, rules=rules, coding=coding, formula=formula)
        for levels in (reported, expected)
    )
    places = [f"{height:.0f} m" for height in ascent["geopotential_height"]]
    found = [
        *stretches_told(fit, unavoidable, ascent, places),
        *_uncovered(fit, unavoidable, ascent),
    ]
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
