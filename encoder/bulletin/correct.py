"""Corrected reports: what changed against the report sent earlier, and how it is sent."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from encoder.bulletin.envelope import wrap
from encoder.columns import LEVEL_COLUMNS, column
from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.resolution import KNOT

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from encoder.codes.content import PartContent, Record
    from encoder.codes.declare import Value
    from encoder.report import PartReport, Report

REGIONAL_CODES: dict[str, str] = {"A": "10181", "B": "10182", "C": "10183", "D": "10184"}
"""Groups of section 51515 that mark a corrected part in Region IV (WMO-No. 306 Volume II, code
table 0421; 10181 is seen in real reports, the others are from memory)."""
_ARGUMENTS = {"10164": 1, "10166": 1, "10167": 1, "10168": 1, "10190": 1, "10194": 2}
_REGIONAL_MARKER = "51515"
_NONE_REPORTED = "none reported"
_SPEED = "m s-1"


@dataclass(frozen=True, slots=True)
class Change:
    """One value that two reports of a sounding give differently.

    Attributes
    ----------
    part : str
        Letters of the part.
    section : str
        Number of the section, "" where a whole part came or went.
    kind : str
        Kind of the record.
    place : str
        Level (``"850 hPa"``) or number of the record in its section.
    element : str
        Name of the value, "" where a whole record or part came or went.
    before, after : float, int, str, bool or None
        None where missing; ``"absent"`` where not reported at all.
    """

    part: str
    section: str
    kind: str
    place: str
    element: str
    before: Value
    after: Value

    def as_text(self) -> str:
        """Return the change as one line."""
        section = f"section {self.section}" if self.kind == _NONE_REPORTED else ""
        words = (self.part, section, self.kind, self.place, self.element)
        where = " ".join(word for word in words if word)
        return f"{where}: {_shown(self.before, self.element)} -> {_shown(self.after, self.element)}"


@dataclass(frozen=True, slots=True)
class Correction:
    """What is sent to correct a report.

    Attributes
    ----------
    changes : tuple of Change
        Everything that differs; to be looked at before anything is sent.
    letters : tuple of str
        Parts that changed and are sent again whole, in order.
    texts : tuple of str
        Their text, in lines, each ended by ``=``.
    first_sent : tuple of str
        Those of the parts that the earlier report does not have: they correct nothing and are sent
        without any mark of a correction.
    """

    changes: tuple[Change, ...]
    letters: tuple[str, ...]
    texts: tuple[str, ...]
    first_sent: tuple[str, ...] = ()


def _shown(value: Value, element: str) -> str:
    """Return a value as it is read: with its unit, speeds also in knots."""
    if value is None:
        return "missing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, float):
        return str(value)
    unit = column(element).unit if element in LEVEL_COLUMNS else ""
    if unit == _SPEED:
        return f"{value:.1f} {unit} ({value / KNOT:.0f} kt)"
    return f"{value:g} {unit}".rstrip()


def changes(earlier: Report, later: Report) -> tuple[Change, ...]:
    """Return every value that a later report of a sounding gives differently.

    Parameters
    ----------
    earlier, later : Report
        Compared by what a reader decodes from their text: neither spelling nor digits beyond the
        code count.

    Returns
    -------
    tuple of Change
        In the order of parts, sections and levels of the later report; what is no longer there
        follows at the end of its section.
    """
    before = {part.letters: _as_read(part, earlier.on) for part in earlier.parts}
    after = {part.letters: _as_read(part, later.on) for part in later.parts}
    found: list[Change] = []
    for letters in sorted({*before, *after}):
        if letters not in before:
            found.append(Change(letters, "", "part", "", "", "absent", "reported"))
        elif letters not in after:
            found.append(Change(letters, "", "part", "", "", "reported", "absent"))
        else:
            found.extend(_part_changes(letters, before[letters], after[letters]))
    return tuple(found)


def _as_read(part: PartReport, on: date | None) -> PartContent:
    """Return what a reader decodes from the text of a part."""
    from encoder.report import decode_reports

    again = [
        one.content
        for report in decode_reports(part.text, on=on).value
        for one in report.parts
        if one.letters == part.letters
    ]
    return again[0] if again else part.content


def _part_changes(letters: str, before: PartContent, after: PartContent) -> Iterator[Change]:
    numbers = [section.number for section in after.sections]
    numbers += [section.number for section in before.sections if section.number not in numbers]
    if before.nil != after.nil:
        yield Change(letters, "1", "NIL", "", "", before.nil, after.nil)
    for number in numbers:
        old, new = before.section(number), after.section(number)
        if (old is not None and old.none_reported) != (new is not None and new.none_reported):
            yield Change(
                letters,
                number,
                _NONE_REPORTED,
                "",
                "",
                old is not None and old.none_reported,
                new is not None and new.none_reported,
            )
        olds = _keyed(old.records if old is not None else ())
        news = _keyed(new.records if new is not None else ())
        for key, record in news.items():
            if key in olds:
                yield from _record_changes(letters, number, key, olds[key], record)
            else:
                yield Change(letters, number, record.kind, key[1], "", "absent", "reported")
        for key, record in olds.items():
            if key not in news:
                yield Change(letters, number, record.kind, key[1], "", "reported", "absent")


def _keyed(records: tuple[Record, ...]) -> dict[tuple[str, str], Record]:
    """Return records by kind and level; by their number where the level is unknown or repeated."""
    table: dict[tuple[str, str], Record] = {}
    for place, record in enumerate(records):
        pressure = record.get("air_pressure")
        # the surface keeps its identity when its pressure is corrected
        known = isinstance(pressure, float) and record.kind != "surface"
        label = f"{pressure:g} hPa" if known else ("" if record.kind == "surface" else f"{place}")
        key = (record.kind, label)
        table[key if key not in table else (record.kind, f"{label} ({place})")] = record
    return table


def _record_changes(
    letters: str, number: str, key: tuple[str, str], old: Record, new: Record
) -> Iterator[Change]:
    names = [*new.values, *(name for name in old.values if name not in new.values)]
    for name in names:
        before = old.values.get(name, "absent")
        after = new.values.get(name, "absent")
        if not _same(before, after):
            yield Change(letters, number, key[0], key[1], name, before, after)


def _same(one: Value, other: Value) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return math.isclose(one, other, rel_tol=0.0, abs_tol=1e-9)
    return one == other and (one is None) == (other is None)


def correct(
    earlier: Report, later: Report, *, regional: bool = False, word: bool = False
) -> Result[Correction]:
    """Return what is sent to correct a report.

    Parameters
    ----------
    earlier : Report
        As sent.
    later : Report
        As it should have been.
    regional : bool
        Add the group 10181 to 10184 to section 51515, as is done in Region IV.
    word : bool
        Put the word COR after the letters, a national practice that FM 35 does not have.

    Returns
    -------
    Result of Correction
        Parts that say the same as before are not sent again. "correction-of-another" where station
        or time differ, unless nothing else identifies them; "correction-changes-nothing" where
        there is nothing to send; "correction-part-new" for a part that the earlier report does not
        have, "correction-of-nil" for one that said NIL in it.

    Notes
    -----
    The whole corrected part is sent again, under its heading with the indicator CCx (WMO-No. 386).
    """
    found: list[Diagnostic] = []
    for name in ("station", "day", "hour"):
        before, after = _said(earlier, name), _said(later, name)
        if before is not None and after is not None and before != after:
            found.append(
                diagnostic(
                    "correction-of-another",
                    f"The {name} was {before} and is {after} now.",
                    value=str(after),
                    expected=str(before),
                )
            )
    differences = changes(earlier, later)
    touched = {change.part for change in differences}
    parts = [part for part in later.parts if part.letters in touched]
    if not parts:
        found.append(
            diagnostic(
                "correction-changes-nothing",
                f"{len(later.parts)} parts were compared; all say the same as before.",
            )
        )
    sent = {part.letters for part in earlier.parts}
    empty = tuple(part.letters for part in earlier.parts if part.content.nil)
    late = [part.letters for part in parts if part.letters in empty]
    if late:
        found.append(
            diagnostic("correction-of-nil", f"{', '.join(late)} said NIL before.", path=tuple(late))
        )
    new = tuple(part.letters for part in parts if part.letters not in sent)
    if new:
        found.append(
            diagnostic(
                "correction-part-new",
                f"{', '.join(new)} cannot be corrected: the earlier report has only "
                f"{', '.join(sorted(sent))}.",
                path=new,
            )
        )
    return Result(
        Correction(
            differences,
            tuple(part.letters for part in parts),
            tuple(
                _corrected_text(
                    part,
                    later,
                    regional=regional and part.letters not in new,
                    word=word and part.letters not in new,
                )
                for part in parts
            ),
            new,
        ),
        tuple(found),
    )


def _said(report: Report, name: str) -> Value:
    values = (part.content.identification.get(name) for part in report.parts)
    return next((value for value in values if value is not None), None)


def _corrected_text(part: PartReport, report: Report, *, regional: bool, word: bool) -> str:
    groups = part.text.rstrip().removesuffix("=").split()
    code = REGIONAL_CODES.get(part.content.letter)
    if regional and code is not None and code not in groups:
        at, marker = _regional_place(part, report, code, groups)
        groups[at:at] = [code] if marker else [_REGIONAL_MARKER, code]
    if word and "COR" not in groups:
        groups.insert(1, "COR")
    return wrap(" ".join(groups) + "=")


def _regional_place(
    part: PartReport, report: Report, code: str, groups: list[str]
) -> tuple[int, bool]:
    """Return where among the groups the code goes, and whether section 51515 is there already."""
    own = [entry for entry in report.trace if entry.part == part.letters]
    texts = [entry.text for entry in own]
    if texts != groups:  # groups run together or out of place: after everything else
        return len(groups), False
    opened = [
        place
        for place, entry in enumerate(own)
        if entry.section == "9" and entry.text == _REGIONAL_MARKER
    ]
    if not opened:
        after = [place for place, entry in enumerate(own) if entry.section == "10"]
        return (after[0] if after else len(groups)), False
    place = opened[0] + 1
    while place < len(own) and own[place].section == "9":
        text = own[place].text
        if not text.startswith("101") or text > code:
            break
        place += 1 + _ARGUMENTS.get(text, 0)
    return min(place, len(groups)), True
