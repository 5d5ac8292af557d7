"""A report: the coded parts of one sounding, what they say, and the trace between the two.

``encode_report`` goes from a flight to text, ``decode_reports`` from text to what it says. Both
return the same :class:`Report`, so that whatever is built on one works on the other.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from encoder.codes import FORMS
from encoder.codes.editions import form as form_on
from encoder.codes.encode import LINE_WIDTH, encode_part, lay_out
from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.errors import InputError
from encoder.report.arrange import arrange, parts_of
from encoder.report.arrange_pilot import WindPractice, practice_of_flight
from encoder.report.decode import decode_reports
from encoder.report.model import PartReport, Report
from encoder.report.platform import FORM_OF_PLATFORM, form_of_flight, practice_of
from encoder.report.regional_groups import regional_groups

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from encoder.codes.content import PartContent
    from encoder.codes.declare import CodeForm
    from encoder.levels.table import Levels
    from encoder.profile import Flight
    from encoder.trace import TraceEntry

__all__ = [
    "FORM_OF_PLATFORM",
    "PartReport",
    "Report",
    "WindPractice",
    "decode_reports",
    "encode_content",
    "encode_report",
    "form_of_flight",
    "practice_of",
    "report_text",
]


def encode_report(
    flight: Flight,
    levels: Levels,
    *,
    form: str | None = None,
    letters: Sequence[str] | None = None,
    width: int = LINE_WIDTH,
    practice: WindPractice | None = None,
) -> Result[Report]:
    """Encode a flight.

    Parameters
    ----------
    flight : Flight
    levels : Levels
        From :func:`encoder.levels.select_levels` on the same flight.
    form : str, optional
        Number of the code form; by default as the flight asks, see :func:`form_of_flight`.
    letters : sequence of str, optional
        Parts wanted ("A" to "D"); all that the flight reaches by default.
    width : int
        Longest line in characters.
    practice : WindPractice, optional
        How the winds of a PILOT are given; by default as the flight says.

    Returns
    -------
    Result of Report
        With a trace from every group to its level, profile rows and rules.

    Raises
    ------
    InputError
        If there is no such form on the day of the flight, one flight does not fill it, or a
        flight without pressure is to fill a form of temperatures.
    """
    if form is None or form in FORMS:
        form = form_of_flight(flight, form)
    if practice is None or flight.ascent.by_height:
        practice = practice_of_flight(flight)
    found: list[Diagnostic] = []
    own = flight.reporting
    wanted = own.regional_from_flight and form in FORM_OF_PLATFORM.values()
    if wanted and not own.regional_groups:
        groups, told = regional_groups(flight, levels)
        flight = flight.with_reporting(regional_groups=groups)
        found.extend(told)
    declared = _form_of_a_flight(form, flight.nominal_time.date())
    text = ""
    parts: list[PartReport] = []
    trace: list[TraceEntry] = []
    reached = parts_of(levels)
    for letter in letters or reached:
        if letter not in reached:
            found.append(
                diagnostic(
                    "levels-not-in-parts",
                    f"Part {letter} holds levels above 100 hPa, but the flight ends below.",
                    path=(letter,),
                )
            )
            continue
        content = arrange(flight, levels, declared, letter, practice)
        part = declared.part(letter)
        pieces, faults = encode_part(content, part)
        body, entries = lay_out(pieces, part.letters, start=len(text), width=width)
        span = (len(text), len(text) + len(body) - 1)
        parts.append(PartReport(part.letters, body[:-1], span, content))
        text += body
        trace.extend(_with_rows(entry, flight, levels) for entry in entries)
        found.extend(faults)
    report = Report(form, tuple(parts), text, levels, tuple(trace), on=flight.nominal_time.date())
    return Result(report, tuple(found))


def _form_of_a_flight(number: str, on: date) -> CodeForm:
    suited = [name for name, form in FORMS.items() if {"A", "B"} <= {p.letter for p in form.parts}]
    if number in suited:
        return form_on(number, on)
    msg = f"Expected a form that one flight fills ({', '.join(suited)}), got {number!r}."
    if number in FORMS:
        msg += " Monthly means are made by encoder.climat."
    raise InputError(msg)


def _with_rows(entry: TraceEntry, flight: Flight, levels: Levels) -> TraceEntry:
    if entry.level is None:
        return entry
    rows = tuple(int(flight.ascent.source_row[row]) for row in levels.rows[entry.level])
    rules = tuple(reason.rule for reason in levels.reasons[entry.level])
    return replace(entry, rows=rows, rules=rules)


def encode_content(
    contents: Sequence[PartContent], *, width: int = LINE_WIDTH, on: date | None = None
) -> Result[str]:
    """Encode what parts say, one after another.

    Parameters
    ----------
    contents : sequence of PartContent
    width : int
        Longest line in characters.
    on : date, optional
        Day whose edition of the form is used; that of today where it is not given.

    Returns
    -------
    Result of str
        The parts in lines, each ended by ``=``.
    """
    text = ""
    found: list[Diagnostic] = []
    for content in contents:
        part = form_on(content.form, on).part(content.letter)
        pieces, faults = encode_part(content, part)
        body, _entries = lay_out(pieces, part.letters, width=width)
        text += body
        found.extend(faults)
    return Result(text, tuple(found))


def report_text(report: Report) -> Result[str]:
    """Return the text of a report: as received where it still says the same, else coded anew.

    Parameters
    ----------
    report : Report

    Returns
    -------
    Result of str
        Parts in the order A, B, C, D, one after another, in the edition of the report.
    """
    pieces: list[str] = []
    found: list[Diagnostic] = []
    for part in report.parts:
        received, _faults = decode_reports(part.text, on=report.on) if part.text else Result(())
        unchanged = [
            item for again in received for item in again.parts if item.content == part.content
        ]
        if unchanged:
            pieces.append(part.text.rstrip() + "\n")
            continue
        text, faults = encode_content([part.content], on=report.on)
        pieces.append(text)
        found.extend(faults)
    return Result("".join(pieces), tuple(found))
