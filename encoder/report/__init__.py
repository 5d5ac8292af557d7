"""A report: the coded parts of one sounding, what they say, and the trace between the two.

``encode_report`` goes from a flight to text, ``decode_reports`` from text to what it says. Both
return the same :class:`Report`, so that whatever is built on one works on the other.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from encoder.codes import FORMS, form_of_letters
from encoder.codes.conventions import humidity_remarks
from encoder.codes.decode import Token, decode_part
from encoder.codes.editions import form as form_on
from encoder.codes.encode import LINE_WIDTH, encode_part, lay_out
from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.errors import InputError
from encoder.report.arrange import arrange, parts_of
from encoder.report.arrange_pilot import WindPractice
from encoder.report.gather import gather_levels
from encoder.report.text import split_parts
from encoder.trace import Trace, TraceEntry

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from encoder.codes.content import PartContent
    from encoder.codes.declare import CodeForm, Part
    from encoder.levels.table import Levels
    from encoder.profile import Flight
    from encoder.report.gather import Place
    from encoder.report.text import PartText

__all__ = [
    "PartReport",
    "Report",
    "WindPractice",
    "decode_reports",
    "encode_content",
    "encode_report",
    "report_text",
]


_USUAL_WINDS = WindPractice()
_MONTH = ("month", "year_figures")
_SAME_SOUNDING = ("station", "call_sign", "latitude", "longitude", "day", "hour", *_MONTH)
"""What the parts of one sounding have in common."""


@dataclass(frozen=True, slots=True)
class PartReport:
    """One part of a report.

    Attributes
    ----------
    letters : str
        For example ``"TTAA"``.
    text : str
        The part as received or as made, from its letters to ``=``.
    span : tuple of int
        Offsets of the part in ``Report.text``.
    content : PartContent
        What it says.
    """

    letters: str
    text: str
    span: tuple[int, int]
    content: PartContent


@dataclass(frozen=True, slots=True)
class Report:
    """The parts of one sounding.

    Attributes
    ----------
    form : str
        Number of the code form.
    parts : tuple of PartReport
        In the order A, B, C, D.
    text : str
        Everything received or made; spans count from its beginning.
    levels : Levels
        The level table: selected from the flight, or merged from the parts.
    trace : tuple of TraceEntry
        One entry a group, in the order of the parts.
    """

    form: str
    parts: tuple[PartReport, ...]
    text: str
    levels: Levels
    trace: Trace

    def part(self, letter: str) -> PartReport | None:
        """Return the part of that letter, None where there is none."""
        return next((item for item in self.parts if item.content.letter == letter), None)


def encode_report(
    flight: Flight,
    levels: Levels,
    *,
    form: str = "FM 35",
    letters: Sequence[str] | None = None,
    width: int = LINE_WIDTH,
    practice: WindPractice = _USUAL_WINDS,
) -> Result[Report]:
    """Encode a flight.

    Parameters
    ----------
    flight : Flight
    levels : Levels
        From :func:`encoder.levels.select_levels` on the same flight.
    form : str
        Number of the code form.
    letters : sequence of str, optional
        Parts wanted ("A" to "D"); all that the flight reaches by default.
    width : int
        Longest line in characters.
    practice : WindPractice
        How the winds of a PILOT are given.

    Returns
    -------
    Result of Report
        With a trace from every group to its level, profile rows and rules.

    Raises
    ------
    InputError
        If there is no such form on the day of the flight, or one flight does not fill it.
    """
    declared = _form_of_a_flight(form, flight.nominal_time.date())
    text = ""
    parts: list[PartReport] = []
    trace: list[TraceEntry] = []
    found: list[Diagnostic] = []
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
    return Result(Report(form, tuple(parts), text, levels, tuple(trace)), tuple(found))


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


def decode_reports(
    text: str, *, formula: str = "wmo-49", on: date | None = None
) -> Result[tuple[Report, ...]]:
    """Decode a text that holds the parts of one or more soundings.

    Parameters
    ----------
    text : str
        As received; headings, line ends and control characters may be in it.
    formula : str
        Vapour-pressure formula for the relative humidity of the levels.
    on : date, optional
        Day of the reports, for old ones: its editions of the forms are used and conventions of
        the time are told. The forms of today where it is not given.

    Returns
    -------
    Result of tuple of Report
        One report a sounding (same form, place, day and hour), in the order of the text. Never
        raises, whatever the text is.
    """
    parts, outside = split_parts(text)
    found: list[Diagnostic] = list(outside)
    if not parts:
        found.append(
            diagnostic("no-report", "Found no part, such as TTAA, PPBB or UUCC.", value=text[:40])
        )
        return Result((), tuple(found))
    soundings: dict[tuple[object, ...], list[tuple[PartReport, tuple[TraceEntry, ...]]]] = {}
    for part in parts:
        report, trace, faults = _decode(part, text, on)
        found.extend(faults)
        said = report.content.identification
        key = (report.content.form, *(said.get(name) for name in _SAME_SOUNDING))
        members = soundings.setdefault(key, [])
        if any(item.content.letter == report.content.letter for item, _trace in members):
            found.append(
                diagnostic(
                    "part-twice",
                    f"{report.letters} of this sounding occurs again; the first one is used.",
                    span=report.span,
                    path=(report.letters,),
                    value=report.text,
                )
            )
            continue
        members.append((report, trace))
    reports = []
    for sounding, members in soundings.items():
        merged, disagreements = _merge(str(sounding[0]), members, text, formula)
        reports.append(merged)
        found.extend(disagreements)
        if on is not None:
            found.extend(humidity_remarks([part.content for part in merged.parts], on))
    return Result(tuple(reports), tuple(found))


def _declared(letters: str, on: date | None) -> Result[tuple[CodeForm, Part]]:
    """Return form and part of the letters, in the edition of a day where there is one."""
    form = form_of_letters(letters)
    if form is None:  # split_parts gives letters of declared parts only
        raise KeyError(letters)
    found: tuple[Diagnostic, ...] = ()
    try:
        form = form_on(form.number, on)
    except InputError as fault:
        found = (diagnostic("no-edition", str(fault), path=(letters,)),)
    return Result((form, next(part for part in form.parts if part.letters == letters)), found)


def _decode(
    part: PartText, text: str, on: date | None
) -> tuple[PartReport, tuple[TraceEntry, ...], list[Diagnostic]]:
    (form, declared), told = _declared(part.letters, on)
    begin, end = part.span
    # words given once for several monthly reports stand before the first; they have no place here
    shared = [Token(word, begin, begin) for word in _shared_words(part)]
    decoded = decode_part([*shared, *part.tokens], declared, form.number)
    trace = tuple(entry for entry in decoded.trace if entry.span != (begin, begin))
    found = [*part.found, *told, *decoded.diagnostics]
    if part.ended:
        end = text.index("=", end) + 1
    else:
        found.append(
            diagnostic(
                "report-not-ended",
                f"{part.letters} ends without an equals sign.",
                span=(end, end),
                path=(part.letters,),
            )
        )
    report = PartReport(part.letters, text[begin:end], (begin, end), decoded.content)
    return report, trace, found


def _shared_words(part: PartText) -> tuple[str, ...]:
    """Return the words a report takes over from the one before it: its letters and the month."""
    if not part.shared:
        return ()
    rest = part.shared.split()[len(part.letters.split()) :]
    return (part.letters, *rest)


def _merge(
    form: str,
    members: Sequence[tuple[PartReport, tuple[TraceEntry, ...]]],
    text: str,
    formula: str,
) -> tuple[Report, tuple[Diagnostic, ...]]:
    ordered = sorted(members, key=lambda item: item[0].content.letter)
    (levels, places), found = gather_levels(
        [part.content for part, _trace in ordered], formula=formula
    )
    trace = tuple(
        _with_level(entry, places, part.content.letter)
        for part, entries in ordered
        for entry in entries
    )
    units = {part.content.identification.get("wind_unit") for part, _trace in ordered} - {None}
    if len(units) > 1:
        found = (
            *found,
            diagnostic(
                "parts-disagree",
                "The parts give their winds in different units (knots and m/s).",
                path=tuple(part.letters for part, _trace in ordered),
            ),
        )
    have = {part.content.letter for part, _trace in ordered}
    declared = {part.letter for part in FORMS[form].parts}
    lacking = {"A", "B"} - have or ({"C", "D"} - have if have & {"C", "D"} else set())
    lacking &= declared
    if lacking:
        names = ", ".join(sorted(lacking))
        found = (*found, diagnostic("parts-missing", f"Part {names} is not in the text."))
    parts = tuple(part for part, _trace in ordered)
    return Report(form, parts, text, levels, trace), found


def _with_level(entry: TraceEntry, places: Mapping[Place, int], letter: str) -> TraceEntry:
    """Return the entry with the index of its level in the table."""
    if entry.record is None:
        return entry
    level = places.get((letter, entry.section, entry.record))
    if level is None:
        return entry
    return TraceEntry(
        entry.span,
        entry.text,
        entry.part,
        entry.section,
        entry.symbol,
        entry.record,
        entry.values,
        level,
    )


def report_text(report: Report) -> Result[str]:
    """Return the text of a report: as received where it still says the same, else coded anew.

    Parameters
    ----------
    report : Report

    Returns
    -------
    Result of str
        Parts in the order A, B, C, D, one after another.
    """
    pieces: list[str] = []
    found: list[Diagnostic] = []
    for part in report.parts:
        received, _faults = decode_reports(part.text) if part.text else Result(())
        unchanged = [
            item for again in received for item in again.parts if item.content == part.content
        ]
        if unchanged:
            pieces.append(part.text.rstrip() + "\n")
            continue
        text, faults = encode_content([part.content])
        pieces.append(text)
        found.extend(faults)
    return Result("".join(pieces), tuple(found))
