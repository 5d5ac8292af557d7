"""What a page or a plot shows: one review, as flown, as coded and as read back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from encoder.diagnostics import Severity
from encoder.errors import InputError
from encoder.levels.table import LevelKind
from encoder.resolution import Coding

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.diagnostics import Diagnostic
    from encoder.levels.representation import Misfit
    from encoder.levels.table import Levels
    from encoder.profile import Flight
    from encoder.report import Report
    from encoder.verify import Verdict


@dataclass(frozen=True, slots=True, eq=False)
class Review:
    """One sounding from all sides.

    Attributes
    ----------
    report : Report
        As a reader decodes it; its levels are drawn.
    diagnostics : tuple of Diagnostic
        Everything found on the way, each once.
    flight : Flight or None
        None where only a report was given.
    made : Report or None
        The report encoding the flight gives, with rows and rules in its trace.
    selected : Levels or None
        The levels of the flight before coding.
    verdict : Verdict or None
        None without a flight.
    fit : Misfit or None
        How the decoded levels rebuild the rows of the ascent; None without a flight.
    """

    report: Report
    diagnostics: tuple[Diagnostic, ...]
    flight: Flight | None = None
    made: Report | None = None
    selected: Levels | None = None
    verdict: Verdict | None = None
    fit: Misfit | None = None

    @property
    def wind_unit(self) -> str:
        """Unit of wind speed in the report, "kt" or "m s-1"."""
        return coding_of(self.report).wind_unit


def coding_of(report: Report) -> Coding:
    """Return the steps of a report."""
    unit = report.parts[0].content.identification.get("wind_unit")
    return Coding("m s-1" if unit == "m s-1" else "kt")


def review_of_report(report: Report, diagnostics: Sequence[Diagnostic] = ()) -> Review:
    """Return the sounding a report alone tells of."""
    report, found = as_read(report, "wmo-49")
    return Review(report, once((*diagnostics, *found)))


def as_read(report: Report, formula: str) -> tuple[Report, tuple[Diagnostic, ...]]:
    """Return a report as a reader has it, and what reading it found.

    A report that was kept as it was made has the levels of the flight, not those of the code; it
    is decoded from its text. One that was decoded already is returned as it is.
    """
    from encoder.report import decode_reports

    if report.levels.attributes.get("decoded") or not report.text:
        return report, ()
    decoded, found = decode_reports(report.text, formula=formula, on=report.on)
    return (decoded[0], found) if len(decoded) == 1 else (report, ())


def review_of_flight(
    flight: Flight,
    report: Report | None = None,
    diagnostics: Sequence[Diagnostic] = (),
    *,
    method: str = "largest-deviation",
) -> Review:
    """Return the sounding of a flight, with its own report or one that was given.

    Parameters
    ----------
    flight : Flight
    report : Report, optional
        As decoded; the report that encoding the flight gives by default.
    diagnostics : sequence of Diagnostic
        What reading the report found.
    method : {"largest-deviation", "fewest-levels"}
        How significant levels are chosen.

    Returns
    -------
    Review

    Raises
    ------
    InputError
        If the flight gives no report at all.
    """
    from encoder.levels import RULES, select_levels
    from encoder.levels.by_height import misfit_by_height
    from encoder.levels.representation import misfit
    from encoder.report import decode_reports, encode_report, form_of_flight, practice_of
    from encoder.verify import verify

    if report is not None:
        report, faults = as_read(report, flight.vapour_pressure_formula)
        diagnostics = (*diagnostics, *faults)
    coding = coding_of(report) if report else Coding(flight.reporting.wind_unit)
    own = flight.with_reporting(wind_unit=coding.wind_unit)
    selected, chosen = (
        select_levels(own, method="fewest-levels")
        if method == "fewest-levels"
        else select_levels(own, method="largest-deviation")
    )
    if report is None:
        made, faults = encode_report(own, selected, form=form_of_flight(flight))
    else:
        practice = practice_of(report)
        made, faults = encode_report(own, selected, form=report.form, practice=practice)
    found = [*flight.diagnostics, *chosen, *faults, *diagnostics]
    if report is None:
        decoded, faults = decode_reports(
            made.text, formula=flight.vapour_pressure_formula, on=made.on
        )
        if not decoded:
            msg = "The flight gives no report."
            raise InputError(msg, tuple(found))
        report = decoded[0]
        diagnostics = faults
        found.extend(faults)
    verdict = verify(flight, report, report_diagnostics=diagnostics)
    found.extend(verdict.diagnostics)
    tropopauses = report.levels.having(LevelKind.TROPOPAUSE)
    if flight.ascent.by_height:
        fit = misfit_by_height(
            flight.ascent,
            report.levels,
            rules=RULES[flight.reporting.criteria],
            coding=coding,
            formula=flight.vapour_pressure_formula,
        )
        return Review(report, once(found), flight, made, selected, verdict, fit)
    fit = misfit(
        flight.ascent,
        report.levels,
        rules=RULES[flight.reporting.criteria],
        coding=coding,
        formula=flight.vapour_pressure_formula,
        tropopause_pressure=(
            float(report.levels["air_pressure"][tropopauses[0]])
            if len(tropopauses)
            else float("nan")
        ),
    )
    return Review(report, once(found), flight, made, selected, verdict, fit)


def once(diagnostics: Sequence[Diagnostic]) -> tuple[Diagnostic, ...]:
    """Return diagnostics gravest first, each once, otherwise in their order."""
    unique = dict.fromkeys(diagnostics)
    grave = [Severity.ERROR, Severity.WARNING, Severity.NOTE]
    return tuple(sorted(unique, key=lambda item: grave.index(item.severity)))
