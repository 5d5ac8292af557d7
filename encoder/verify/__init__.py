"""Verification: does what is sent say what the balloon measured.

Flight and report are compared three ways: the curves a reader rebuilds from the significant levels
against every row of the flight, every significant level against the flight at that pressure, and
every field the regulations fix against encoding the flight anew.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from encoder.ascent.holes import with_holes_shown
from encoder.bulletin.openings import PIBAL
from encoder.codes.editions import BEFORE, declared_on
from encoder.diagnostics import Diagnostic, Severity, diagnostic, has_errors
from encoder.levels.table import LevelKind
from encoder.resolution import Coding
from encoder.verify.compare import COMPARED_SECTIONS, compare_fields, levels_in_flight
from encoder.verify.curves import judge_curves
from encoder.verify.form import as_sent, parts_of_the_flight, sections_as_expected
from encoder.verify.heights import FIXED, at_reported_altitudes, judge_heights
from encoder.verify.maxima import with_reported_maxima
from encoder.verify.verdict import Difference, Verdict, WorstMisfit, verdict_text

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from encoder.codes.content import PartContent
    from encoder.codes.declare import Value
    from encoder.levels.rules import Rules
    from encoder.levels.table import Levels
    from encoder.profile import Flight
    from encoder.report import Report

__all__ = ["Difference", "Verdict", "WorstMisfit", "verdict_text", "verify"]


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
    from encoder.report.gather import gather_levels
    from encoder.report.platform import WIND_FORM_OF_PLATFORM

    if flight.ascent.by_height and report.form not in WIND_FORM_OF_PLATFORM.values():
        return _of_another_kind(report)
    if not declared_on(report.form, flight.nominal_time.date()):
        return _without_edition(flight, report)
    if report.form == PIBAL:
        return _of_another_kind(report)
    rules = rules or RULES[flight.reporting.criteria]
    report, more = _as_read(report, flight)
    report_diagnostics = (*report_diagnostics, *more)
    unit = report.parts[0].content.identification.get("wind_unit")
    coding = Coding("m s-1" if unit == "m s-1" else "kt")
    selected = select_levels(flight, rules=rules, coding=coding).value
    practised = flight.with_reporting(wind_unit=coding.wind_unit)
    practice = practice_of(report)
    if practice.step is None:
        practice = replace(practice, step=flight.reporting.pilot_step)
    own = encode_report(practised, selected, form=report.form, practice=practice).value
    winds_alone = report.form in WIND_FORM_OF_PLATFORM.values()
    contents = [part.content for part in own.parts]
    rows, _own = with_holes_shown(flight.ascent, float(rules.missing_temperature))
    shown = replace(flight, ascent=rows)
    if not winds_alone:
        contents = with_reported_maxima(contents, shown, report, rules=rules, coding=coding)
    on = flight.nominal_time.date()
    text = encode_content(contents, on=on).value
    expected = decode_reports(text, formula=flight.vapour_pressure_formula, on=on).value[0]

    found: list[Diagnostic] = [
        item for item in flight.diagnostics if item.severity is not Severity.NOTE
    ]
    found.extend(as_sent(report_diagnostics))
    found.extend(_identity(flight, report))
    found.extend(parts_of_the_flight(report, expected))
    said = [part.content for part in report.parts]
    given = {content.letter for content in said}
    differences, told = _fields(report, expected, flight, coding, winds_alone=winds_alone)
    found.extend(told)
    judged = 0
    worst: list[WorstMisfit] = []
    if "B" in given and not winds_alone:
        significant = [content for content in said if content.letter in "BD"]
        curves = judge_curves(
            shown,
            gather_levels(significant, formula=flight.vapour_pressure_formula).value[0],
            expected.levels,
            selected,
            given=given,
            rules=rules,
            coding=coding,
        )
        found.extend(curves.diagnostics)
        worst.extend(curves.worst)
        judged = curves.rows
    if "B" in given and _winds_by_altitude(said):
        curves = judge_heights(
            flight, report.levels, expected.levels, given=given, rules=rules, coding=coding
        )
        found.extend(curves.diagnostics)
        worst.extend(curves.worst)
        judged = curves.rows
    if not winds_alone:
        found.extend(levels_in_flight(said, shown.ascent, coding))
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


def _of_another_kind(report: Report) -> Verdict:
    """Return the verdict on a report of temperatures where the flight has winds alone."""
    kind = "winds by height alone" if report.form != PIBAL else "rows"
    text = f"The flight has {kind}; the report is {report.form}."
    letters = tuple(part.letters for part in report.parts)
    return Verdict(False, letters, 0, (), (), (diagnostic("report-of-other-flight", text),))


def _without_edition(flight: Flight, report: Report) -> Verdict:
    """Return the verdict on a report of a day for which no edition of its form is known."""
    day = flight.nominal_time.date()
    found = diagnostic("no-edition", f"{report.form} has no edition for {day}. {BEFORE}")
    letters = tuple(part.letters for part in report.parts)
    return Verdict(False, letters, 0, (), (), (found,))


def _fields(
    report: Report, expected: Report, flight: Flight, coding: Coding, *, winds_alone: bool
) -> tuple[list[Difference], list[Diagnostic]]:
    """Compare the fields of every part that both reports have."""
    given = {part.content.letter for part in report.parts}
    differences: list[Difference] = []
    found: list[Diagnostic] = []
    for part in report.parts:
        theirs = expected.part(part.content.letter)
        if theirs is None:
            continue
        # a PILOT has no levels that depend on a choice, but for significant winds by altitude
        sections: tuple[str, ...] = COMPARED_SECTIONS
        content = theirs.content
        if winds_alone:
            content = at_reported_altitudes(part.content, content, flight, coding)
            sections = tuple(one.number for one in content.sections)
        fields = compare_fields(part.content, content, part.letters, coding, sections=sections)
        if not winds_alone and not _winds_given(expected, given):
            fields = [_unjudged_maximum(item) for item in fields]
        differences.extend(fields)
        found.extend(sections_as_expected(part.content, content, part.letters, sections))
    return differences, found


def _winds_by_altitude(said: Sequence[PartContent]) -> bool:
    """Tell whether a report gives significant winds by altitude."""
    return any(record.kind == FIXED for content in said for record in content.records("4"))


def _as_read(report: Report, flight: Flight) -> tuple[Report, tuple[Diagnostic, ...]]:
    """Return the report as a reader of its text finds it."""
    from encoder.report import decode_reports, report_text

    if report.levels.attributes.get("decoded"):
        return report, ()
    again = decode_reports(
        report_text(report).value,
        formula=flight.vapour_pressure_formula,
        on=flight.nominal_time.date(),
    )
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


def _winds_given(expected: Report, given: set[str]) -> bool:
    """Tell whether every part with significant winds is in the report."""
    return {part.content.letter for part in expected.parts} & {"B", "D"} <= given


def _unjudged_maximum(item: Difference) -> Difference:
    """Return a difference of section 4 as a warning: its list of winds is not all there."""
    return replace(item, severity=Severity.WARNING) if item.section == "4" else item


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
