"""From received text to reports: the parts are read, put together by sounding, and merged."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from encoder.codes import FORMS, form_of_letters
from encoder.codes.conventions import humidity_remarks
from encoder.codes.decode import DecodedPart, Token, decode_part, without_speeds
from encoder.codes.editions import BEFORE, FOUR_PARTS_FROM, declared_on
from encoder.codes.editions import form as form_on
from encoder.diagnostics import Diagnostic, Result, diagnostic, excerpt
from encoder.errors import InputError
from encoder.repair.proposal import REPAIR_MODES, as_diagnostic
from encoder.report.gather import gather_levels
from encoder.report.meeting import Received, meet
from encoder.report.model import PartReport, Report
from encoder.report.text import split_parts

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from encoder.codes.declare import CodeForm, Part
    from encoder.repair.proposal import RepairMode
    from encoder.report.gather import Place
    from encoder.report.text import PartText
    from encoder.trace import TraceEntry

_NOT_OF_TEXT = re.compile(r"[\x00\x05\x06\x08\x0e-\x1f\x7f]")
"""Control characters that neither lines nor the framing of bulletins have."""


def decode_reports(
    text: str,
    *,
    formula: str = "wmo-49",
    on: date | None = None,
    repair: RepairMode = "none",
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
    repair : {"none", "safe", "all"}
        Which repairs of damaged groups are read: none of them, those of which only one reading is
        possible, or all. All of them are told in the diagnostics, whether read or not.

    Returns
    -------
    Result of tuple of Report
        One report a sounding (same form, place, day and hour), in the order of the text. Never
        raises, whatever the text is.

    Raises
    ------
    InputError
        If ``repair`` is none of the three.
    """
    if repair not in REPAIR_MODES:
        msg = f"Expected repair none, safe or all, got {repair!r}."
        raise InputError(msg)
    parts, outside = split_parts(text)
    found: list[Diagnostic] = list(outside)
    if not parts:
        none = [_no_report(text)]
        if on is not None and on < FOUR_PARTS_FROM:
            none.append(diagnostic("no-edition", BEFORE, span=(0, len(text))))
        return Result((), tuple(none))
    received = [_read(part, text, on) for part in parts]
    if outside:
        received, outside, proposed = _beyond(received, outside, text, on, repair)
        found = [*outside, *proposed]
    if any(item.doubtful for item in received):
        _mend(received, text, repair)
    _without_units(received, on)
    soundings, told = meet(received)
    reports = []
    for members in soundings:
        merged, disagreements = _merge(members, text, formula, repair, on)
        for member in members:
            found.extend(member.findings())
        reports.append(merged)
        found.extend(as_diagnostic(item) for item in merged.repairs)
        found.extend(disagreements)
        if on is not None:
            found.extend(humidity_remarks([part.content for part in merged.parts], on))
    found.extend(told)
    return Result(tuple(reports), tuple(found))


def _no_report(text: str) -> Diagnostic:
    """Say once that there is nothing to decode, however much there is of it."""
    message = (
        f"Found no part, such as TTAA, PPBB or UUCC, in {len(text):,} "
        f"character{'' if len(text) == 1 else 's'}."
    )
    if _NOT_OF_TEXT.search(text):
        message += " There are control characters in it: it looks like a binary file."
    shown = excerpt(" ".join(_NOT_OF_TEXT.sub(" ", text[:400]).split()))
    return diagnostic("no-report", message, span=(0, len(text)), value=shown)


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
    if on is not None and form.from_memory and not found:
        found = (diagnostic("edition-from-memory", form.from_memory, path=(letters,)),)
    return Result((form, next(part for part in form.parts if part.letters == letters)), found)


def _read(part: PartText, text: str, on: date | None) -> Received:
    (form, declared), told = _declared(part.letters, on)
    begin, end = part.span
    # words given once for several monthly reports stand before the first; they have no place here
    shared = [Token(word, begin, begin) for word in _shared_words(part)]
    tokens = [*shared, *part.tokens]
    decoded = decode_part(tokens, declared, form.number)
    found = [*part.found, *told]
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
    return Received(
        part.letters, text[begin:end], (begin, end), part.heading, tokens, declared, decoded, found
    )


def _without_units(received: Sequence[Received], on: date | None) -> None:
    """Take the speeds from parts of a form no longer in use whose day, and so unit, is unknown."""
    for item in received:
        form = form_of_letters(item.letters)
        if form is None or form.valid_to is None or (on and declared_on(form.number, on)):
            continue
        content, trace, lost = without_speeds(item.content, item.decoded.trace, item.declared)
        if not lost:
            continue
        first, *others = content.sections
        named = replace(first.records[0], values={**first.records[0].values, "wind_unit": None})
        content = replace(content, sections=(replace(first, records=(named,)), *others))
        item.decoded = DecodedPart(content, trace, item.decoded.diagnostics)
        unknown = "which is not known" if on is None else f"and on {on} there is no edition"
        message = (
            f"The speeds of {item.letters} are in miles per hour or in knots, by the day of the "
            f"report, {unknown}; they are missing."
        )
        path = (item.letters,)
        item.found.append(diagnostic("wind-unit-unknown", message, span=item.span, path=path))


def _beyond(
    received: list[Received],
    outside: tuple[Diagnostic, ...],
    text: str,
    on: date | None,
    mode: RepairMode,
) -> tuple[list[Received], tuple[Diagnostic, ...], list[Diagnostic]]:
    """Look for parts in the text outside parts; return parts, what is outside, proposals."""
    from encoder.repair.framing import mend_framing

    left = outside

    def read(other: str) -> list[Received]:
        nonlocal left
        parts, left = split_parts(other)
        return [_read(part, text, on) for part in parts]

    found, repairs = mend_framing(received, outside, text, read, mode)
    if found is None:
        return received, outside, [as_diagnostic(item) for item in repairs]
    return found, left, []


def _shared_words(part: PartText) -> tuple[str, ...]:
    """Return the words a report takes over from the one before it: its letters and the month."""
    if not part.shared:
        return ()
    rest = part.shared.split()[len(part.letters.split()) :]
    return (part.letters, *rest)


def _mend(received: Sequence[Received], text: str, mode: RepairMode) -> None:
    """Look for repairs of every part in which something is wrong."""
    from encoder.repair.identity import mend_identification
    from encoder.repair.rhythm import mend_rhythm

    for item in received:
        if item.doubtful:
            mended = mend_rhythm(item.tokens, item.declared, item.decoded, text, mode=mode)
            item.take(mended)
    mend_identification(received, text, mode)


def _merge(
    members: Sequence[Received],
    text: str,
    formula: str,
    mode: RepairMode,
    on: date | None,
) -> tuple[Report, tuple[Diagnostic, ...]]:
    from encoder.repair.plausible import implausible
    from encoder.repair.sounding import mend_sounding

    ordered = sorted(members, key=lambda item: item.content.letter)
    form = ordered[0].content.form
    told = mend_sounding(ordered, text, mode)
    (levels, places), found = gather_levels([item.content for item in ordered], formula=formula)
    trace = tuple(entry for item in ordered for entry in _with_levels(item, text, places))
    found = (*told, *found)
    units = {item.content.identification.get("wind_unit") for item in ordered} - {None}
    if len(units) > 1:
        found = (
            *found,
            diagnostic(
                "parts-disagree",
                "The parts give their winds in different units (knots and m/s).",
                path=tuple(item.letters for item in ordered),
            ),
        )
    before = (*found, *(finding for item in ordered for finding in item.decoded.diagnostics))
    found = (*found, *implausible(levels.columns, trace, before))
    have = {item.content.letter for item in ordered}
    declared = {part.letter for part in FORMS[form].parts}
    lacking = {"A", "B"} - have or ({"C", "D"} - have if have & {"C", "D"} else set())
    lacking &= declared
    if lacking:
        names = ", ".join(sorted(lacking))
        found = (*found, diagnostic("parts-missing", f"Part {names} is not in the text."))
    parts = tuple(
        PartReport(item.letters, item.text, item.span, item.content, item.heading)
        for item in ordered
    )
    repairs = tuple(repair for item in ordered for repair in item.repairs)
    return Report(form, parts, text, levels, trace, repairs, on), found


def _with_levels(item: Received, text: str, places: Mapping[Place, int]) -> tuple[TraceEntry, ...]:
    """Return the entries of a part with the index of their level in the table."""
    letter = item.content.letter
    entries = tuple(item.trace(text))
    for entry in entries:
        if entry.record is None:
            continue
        level = places.get((letter, entry.section, entry.record))
        if level is not None:
            # the entry is of this very reading, and nobody has seen it yet: no copy is needed
            object.__setattr__(entry, "level", level)
    return entries
