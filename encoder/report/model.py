"""What a report is, encoded or decoded: its parts, its levels, and the trace between the two."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date

    from encoder.codes.content import PartContent
    from encoder.levels.table import Levels
    from encoder.repair.proposal import Repair
    from encoder.trace import Trace


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
    heading : str or None
        Abbreviated heading it stood under, as received; None where there was none.
    """

    letters: str
    text: str
    span: tuple[int, int]
    content: PartContent
    heading: str | None = None


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
    repairs : tuple of Repair
        Made and proposed, in the order of the parts.
    on : date or None
        Day whose edition of the form it was read or made in; None for that of today.
    """

    form: str
    parts: tuple[PartReport, ...]
    text: str
    levels: Levels
    trace: Trace
    repairs: tuple[Repair, ...] = ()
    on: date | None = None

    def part(self, letter: str) -> PartReport | None:
        """Return the part of that letter, None where there is none."""
        return next((item for item in self.parts if item.content.letter == letter), None)
