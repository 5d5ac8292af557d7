"""From the groups of a part to what it says; see :mod:`encoder.codes.reader` for the loop."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from encoder.codes.account import Token
from encoder.codes.content import PartContent, Record, SectionContent
from encoder.codes.fm35 import NOT_IN_EVERY_REPORT
from encoder.codes.heights import resolve_heights
from encoder.codes.plain import read_part
from encoder.diagnostics import diagnostic

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.codes.declare import Part
    from encoder.diagnostics import Diagnostic
    from encoder.trace import TraceEntry

__all__ = ["DecodedPart", "Token", "decode_part"]


@dataclass(frozen=True, slots=True)
class DecodedPart:
    """A part as read: what it says, where it says so, and what is wrong with it."""

    content: PartContent
    trace: tuple[TraceEntry, ...]
    diagnostics: tuple[Diagnostic, ...]


def decode_part(tokens: Sequence[Token], part: Part, form: str) -> DecodedPart:
    """Decode the groups of one part.

    Parameters
    ----------
    tokens : sequence of Token
        Groups from the letters of the part to its end, ``=`` removed.
    part : Part
        Declaration of the part.
    form : str
        Number of the code form.

    Returns
    -------
    DecodedPart
        Never raises, whatever the tokens are.
    """
    reader = read_part(tokens, part)
    sections = [
        SectionContent(number, tuple(records), number in reader.none_reported)
        for number, records in reader.sections.items()
    ]
    content = PartContent(form, part.letter, tuple(sections), reader.nil)
    content, trace, found = resolve_heights(content, reader.account.trace, part)
    said = content.identification
    if "wind_unit" in said and said["wind_unit"] is None and not reader.nil:
        content, trace, more = without_speeds(content, trace, part)
        found = [*found, *more]
    if "2" in reader.sections and part.standard:
        found = [*found, *_levels_lost(trace, part)]
    if "7" in reader.sections:
        found = [*found, *_release_lost(trace, part)]
    return DecodedPart(content, trace, (*reader.account.found, *found))


def _release_lost(trace: Sequence[TraceEntry], part: Part) -> list[Diagnostic]:
    """Tell of a time of release that seems to stand in the place of the sounding system."""
    symbols = {entry.symbol for entry in trace if entry.section == "7"}
    if "8GGgg" in symbols:
        return []
    return [
        diagnostic(
            "group-missing",
            f"Expected srrarasasa and 8GGgg, but {entry.text} is the only one of them.",
            span=entry.span,
            path=(part.letters, "7", entry.symbol),
            value=entry.text,
            expected="srrarasasa 8GGgg",
        )
        for entry in trace
        if entry.symbol == "srrarasasa" and entry.text.startswith("8")
    ]


def _levels_lost(trace: Sequence[TraceEntry], part: Part) -> list[Diagnostic]:
    """Tell of standard levels that are not between their neighbours."""
    found: list[Diagnostic] = []
    before: float | None = None
    for entry in trace:
        if entry.symbol == "unread":
            before = None  # the levels may be there
        if entry.symbol != "PPhhh":
            continue
        pressure = entry.values.get("air_pressure")
        if before is not None and pressure is not None and pressure < before:
            lost = [
                level
                for level in part.standard.values()
                if pressure < level < before and level not in NOT_IN_EVERY_REPORT
            ]
            if lost:
                names = ", ".join(f"{level:g}" for level in lost)
                found.append(
                    diagnostic(
                        "standard-level-missing",
                        f"After {before:g} hPa comes {pressure:g} hPa: {names} hPa "
                        f"{'is' if len(lost) == 1 else 'are'} missing.",
                        span=entry.span,
                        path=(part.letters, "2", f"{pressure:g} hPa", "PPhhh"),
                        value=entry.text,
                        expected=f"{names} hPa",
                    )
                )
        before = pressure
    return found


_IN_WIND_UNITS = ("wind_speed", "wind_shear_below", "wind_shear_above")


def without_speeds(
    content: PartContent, trace: Sequence[TraceEntry], part: Part
) -> tuple[PartContent, tuple[TraceEntry, ...], list[Diagnostic]]:
    """Return a part whose speeds are missing, because its day figures do not tell their unit.

    Parameters
    ----------
    content : PartContent
    trace : sequence of TraceEntry
    part : Part

    Returns
    -------
    content, trace
        With the speeds other than calms missing.
    diagnostics : list of Diagnostic
        One for every group with a speed.
    """
    found: list[Diagnostic] = []
    entries: list[TraceEntry] = []
    for entry in trace:
        lost = [name for name in _IN_WIND_UNITS if entry.values.get(name)]
        if not lost:
            entries.append(entry)
            continue
        entries.append(replace(entry, values={**entry.values, **dict.fromkeys(lost)}))
        found.append(
            diagnostic(
                "wind-unit-unknown",
                f"The speed in {entry.text} is in knots or in m/s; it is missing.",
                span=entry.span,
                path=(part.letters, entry.section, entry.symbol),
                value=entry.text,
            )
        )
    sections = tuple(
        replace(
            section,
            records=tuple(
                Record(
                    record.kind,
                    {
                        name: None if value and name in _IN_WIND_UNITS else value
                        for name, value in record.values.items()
                    },
                    record.level,
                )
                for record in section.records
            ),
        )
        for section in content.sections
    )
    return replace(content, sections=sections), tuple(entries), found
