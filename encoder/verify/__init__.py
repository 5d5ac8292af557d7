"""Verification: does what is sent say what the balloon measured.

Flight and report are compared three ways: the curves a reader rebuilds from the significant levels
against every row of the flight, every significant level against the flight at that pressure, and
every field the regulations fix against encoding the flight anew.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from encoder.columns import COLUMNS
from encoder.diagnostics import Diagnostic, Severity, diagnostic, has_errors
from encoder.levels.table import THERMODYNAMIC, LevelKind
from encoder.resolution import UPPER_PART_PRESSURE, Coding, coded_pressure
from encoder.verify.compare import COMPARED_SECTIONS, compare_fields, levels_in_flight
from encoder.verify.maxima import with_reported_maxima
from encoder.verify.verdict import Difference, Verdict, WorstMisfit, verdict_text

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from encoder.codes.declare import Value
    from encoder.levels.representation import Misfit
    from encoder.levels.rules import Rules
    from encoder.levels.table import Levels
    from encoder.profile import Flight, Profile
    from encoder.report import Report

__all__ = ["Difference", "Verdict", "WorstMisfit", "verdict_text", "verify"]

MOST_STRETCHES = 12
"""Stretches beyond a limit told one by one; the rest are counted."""


def verify(
    flight: Flight,
    report: Report,
    *,
    report_diagnostics: Sequence[Diagnostic] = (),
    rules: Rules | None = None,
) -> Verdict:
    """Verify a decoded report against its flight.

    Parameters
    ----------
    flight : Flight
    report : Report
        As decoded by :func:`encoder.report.decode_reports`; one that was just encoded, and so
        holds unrounded levels, is read from its text first.
    report_diagnostics : sequence of Diagnostic
        What decoding found; its errors stand against sending, and so do parts that contradict
        each other.
    rules : Rules, optional
        Criteria; those of the flight's reporting practice by default.

    Returns
    -------
    Verdict
    """
    from encoder.levels import RULES, select_levels
    from encoder.report import decode_reports, encode_content, encode_report, practice_of
    from encoder.report.platform import WIND_FORM_OF_PLATFORM

    rules = rules or RULES[flight.reporting.criteria]
    report, more = _as_read(report, flight)
    report_diagnostics = (*report_diagnostics, *more)
    unit = report.parts[0].content.identification.get("wind_unit")
    coding = Coding("m s-1" if unit == "m s-1" else "kt")
    selected = select_levels(flight, rules=rules, coding=coding).value
    practised = flight.with_reporting(wind_unit=coding.wind_unit)
    own = encode_report(practised, selected, form=report.form, practice=practice_of(report)).value
    winds_alone = report.form in WIND_FORM_OF_PLATFORM.values()
    contents = [part.content for part in own.parts]
    if not winds_alone:
        contents = with_reported_maxima(contents, flight, report.levels, rules=rules, coding=coding)
    text = encode_content(contents).value
    expected = decode_reports(text, formula=flight.vapour_pressure_formula).value[0]

    found: list[Diagnostic] = [
        item for item in flight.diagnostics if item.severity is not Severity.NOTE
    ]
    found.extend(
        replace(item, severity=Severity.ERROR) if item.code == "parts-disagree" else item
        for item in report_diagnostics
    )
    said = [part.content for part in report.parts]
    found.extend(_identity(flight, report))
    differences: list[Difference] = []
    for part in report.parts:
        theirs = expected.part(part.content.letter)
        if theirs is None:
            continue
        # a PILOT gives its winds at altitudes that the regulations fix: every section is compared
        sections = tuple(one.number for one in theirs.content.sections) if winds_alone else ()
        differences.extend(
            compare_fields(
                part.content,
                theirs.content,
                part.letters,
                coding,
                sections=sections or COMPARED_SECTIONS,
            )
        )
    given = {part.content.letter for part in report.parts}
    absent = [part.letters for part in expected.parts if part.content.letter not in given]
    found.extend(
        diagnostic("part-not-given", f"{letters} is not in the report.", path=(letters,))
        for letters in absent
    )
    judged, worst = 0, []
    if "B" in given and not winds_alone:
        ascent = _judged_rows(flight.ascent, given)
        fit = _misfit(ascent, report.levels, flight, rules, coding)
        unavoidable = _misfit(ascent, expected.levels, flight, rules, coding)
        found.extend(_stretches(fit, unavoidable, ascent))
        found.extend(_uncovered(fit, unavoidable, ascent, _reach(flight, given, rules)))
        found.extend(_mandatory(selected, report.levels, given))
        found.extend(_band(flight, report.levels, rules))
        worst.extend(_curve_worst(fit, ascent))
        judged = len(ascent)
    if not winds_alone:
        found.extend(levels_in_flight(said, flight.ascent, coding))
    height = None if winds_alone else _height_worst(report.levels, selected)
    if height is not None:
        worst.append(height)
    errors = has_errors(found) or any(item.severity is Severity.ERROR for item in differences)
    return Verdict(
        not errors,
        tuple(part.letters for part in report.parts),
        judged,
        tuple(worst),
        tuple(differences),
        tuple(found),
    )


def _as_read(report: Report, flight: Flight) -> tuple[Report, tuple[Diagnostic, ...]]:
    """Return the report as a reader of its text finds it."""
    from encoder.report import decode_reports, report_text

    if report.levels.attributes.get("decoded"):
        return report, ()
    again = decode_reports(report_text(report).value, formula=flight.vapour_pressure_formula)
    return again.value[0], again.diagnostics


def _identity(flight: Flight, report: Report) -> list[Diagnostic]:
    said = report.parts[0].content.identification
    facts = flight.document.get("station", {})
    pairs = (
        *_named(said, "station", flight.station.wmo_index),
        *_named(said, "call_sign", facts.get("call_sign")),
        ("day", said.get("day"), flight.nominal_time.day),
        ("hour", said.get("hour"), flight.nominal_time.hour),
    )
    wrong = [f"{name} {mine} instead of {theirs}" for name, mine, theirs in pairs if mine != theirs]
    if not wrong:
        return []
    return [
        diagnostic(
            "report-of-other-flight", f"The report is of another flight: {'; '.join(wrong)}."
        )
    ]


def _named(
    said: Mapping[str, Value], name: str, own: str | None
) -> tuple[tuple[str, Value, Value], ...]:
    """Return what names the place, where the form of the report has such a group."""
    return ((name, said.get(name), own),) if name in said else ()


def _judged_rows(ascent: Profile, given: set[str]) -> Profile:
    """Return the rows the given parts have to rebuild: those to 100 hPa without part D."""
    if "D" in given or not np.any(ascent["air_pressure"] < UPPER_PART_PRESSURE):
        return ascent
    return ascent.select(coded_pressure(ascent["air_pressure"]) >= UPPER_PART_PRESSURE)


def _misfit(
    ascent: Profile, levels: Levels, flight: Flight, rules: Rules, coding: Coding
) -> Misfit:
    from encoder.levels.representation import misfit

    first = levels.having(LevelKind.TROPOPAUSE)
    pressure = float(levels["air_pressure"][first[0]]) if len(first) else float("nan")
    return misfit(
        ascent,
        levels,
        rules=rules,
        coding=coding,
        formula=flight.vapour_pressure_formula,
        tropopause_pressure=pressure,
    )


def _stretches(fit: Misfit, unavoidable: Misfit, ascent: Profile) -> list[Diagnostic]:
    found = []
    for stretch in fit.stretches[:MOST_STRETCHES]:
        worst = stretch.worst
        same = any(
            other.worst.element == worst.element
            and other.first_row <= stretch.last_row
            and stretch.first_row <= other.last_row
            for other in unavoidable.stretches
        )
        rows = ascent.source_row[[stretch.first_row, stretch.last_row]]
        found.append(
            diagnostic(
                "tolerance-not-reachable" if same else "tolerance-broken",
                f"{worst.element} is {worst.observed:.2f} at {worst.pressure:.1f} hPa, a reader "
                f"finds {worst.rebuilt:.2f}: off by {worst.misfit:.2f}, limit {worst.limit:.2f}.",
                path=(f"{worst.pressure:.1f} hPa", worst.element),
                rows=rows.tolist(),
            )
        )
    more = len(fit.stretches) - MOST_STRETCHES
    if more > 0:
        found.append(
            diagnostic("tolerance-broken", f"{more} more stretches are beyond their limits.")
        )
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


def _height_worst(reported: Levels, selected: Levels) -> WorstMisfit | None:
    """Return the worst height of a standard level against the flight."""
    own = {
        float(selected["air_pressure"][i]): float(selected["geopotential_height"][i])
        for i in selected.having(LevelKind.STANDARD)
    }
    worst: WorstMisfit | None = None
    for i in reported.having(LevelKind.STANDARD):
        pressure = float(reported["air_pressure"][i])
        height, expected = float(reported["geopotential_height"][i]), own.get(pressure)
        if expected is None or np.isnan(height) or np.isnan(expected):
            continue
        off, limit = abs(height - expected), 5.0 if pressure <= 500.0 else 0.5
        item = WorstMisfit(
            "geopotential_height", "m", off, limit, pressure, expected, height, None, "level"
        )
        if worst is None or item.misfit - item.limit > worst.misfit - worst.limit:
            worst = item
    return worst
