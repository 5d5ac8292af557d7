"""From what a part says to its groups: the one loop that reads a declaration forward."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from encoder.codes.content import Record
from encoder.codes.groups import next_number
from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.trace import TraceEntry

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from encoder.codes.content import PartContent, SectionContent
    from encoder.codes.declare import Context, Group, Part, RecordForm, Section, Value

LINE_WIDTH = 69
"""Longest line of a bulletin on the global telecommunication circuits (WMO-No. 386)."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One group before it has a place in a text."""

    text: str
    section: str
    symbol: str
    record: int | None = None
    values: Mapping[str, Value] = field(default_factory=dict)
    level: int | None = None


def encode_part(content: PartContent, part: Part) -> Result[tuple[Piece, ...]]:
    """Encode what a part says.

    Parameters
    ----------
    content : PartContent
        Records by section.
    part : Part
        Declaration of the part.

    Returns
    -------
    Result of tuple of Piece
        The groups in order. Values that cannot be coded are reported missing, with a diagnostic.
    """
    writer = _Writer(part, part.context())
    for section in part.sections:
        said = content.section(section.number)
        if said is None:
            continue
        if section.verbatim:
            writer.pieces.extend(_verbatim(said))
            continue
        if section.marker is not None:
            writer.pieces.append(Piece(section.marker, section.number, section.marker))
        if said.none_reported:
            none_group = next(form.none_group for form in section.records if form.none_group)
            writer.pieces.append(Piece(none_group, section.number, none_group))
        writer.section(section, said)
        if content.nil:
            writer.pieces.append(Piece("NIL", section.number, "NIL"))
            break
    return Result(tuple(writer.pieces), tuple(writer.found))


@dataclass(slots=True)
class _Writer:
    part: Part
    context: Context
    pieces: list[Piece] = field(default_factory=list)
    found: list[Diagnostic] = field(default_factory=list)

    def section(self, section: Section, said: SectionContent) -> None:
        """Write the records of a section."""
        self.context.number = "11"
        block: list[tuple[int, Record]] = []
        for place, record in enumerate(said.records):
            form = section.form(record.kind)
            if form is None:
                self.found.append(
                    diagnostic(
                        "record-not-in-section",
                        f"Part {self.part.letters} section {section.number} holds no "
                        f"{record.kind!r} record; it was left out.",
                        path=(self.part.letters, section.number, place),
                        expected=", ".join(item.kind for item in section.records),
                    )
                )
                continue
            if block and not self.joins(section, block, record):
                self.block(section, block)
                block = []
            if form.block is not None:
                block.append((place, record))
                continue
            if form.numbering == "surface":
                self.context.number = "00"
            self.record(section, form, record, place)
            if form.numbering:
                self.context.number = next_number(self.context.number)
        if block:
            self.block(section, block)

    def joins(self, section: Section, block: Sequence[tuple[int, Record]], record: Record) -> bool:
        """Tell whether a record goes into the block that has been begun."""
        form = section.form(record.kind)
        if form is None or form.block is None or block[0][1].kind != record.kind:
            return False
        if record.get("place_in_block") == 1 or len(block) == form.block.most:
            return False
        levels = [item.values for _place, item in block]
        return form.block.joins(levels, record.values, self.context)

    def block(self, section: Section, block: Sequence[tuple[int, Record]]) -> None:
        """Write the group that names the levels of a block, then the groups of each level."""
        form = section.form(block[0][1].kind)
        if form is None or form.block is None:
            return
        values = form.block.collect([record.values for _place, record in block], self.context)
        place, first = block[0]
        self.group(section, form.uses[0].group, Record(form.kind, values, first.level), place)
        for place, record in block:
            for use in form.uses[1:]:
                self.group(section, use.group, record, place)

    def record(self, section: Section, form: RecordForm, record: Record, place: int) -> None:
        """Write the groups of a record."""
        for use in form.uses:
            said = any(name in record.values for name in use.group.elements)
            if use.presence == "always" or said:
                self.group(section, use.group, record, place)

    def group(self, section: Section, group: Group, record: Record, place: int) -> None:
        """Write one group, and tell what could not be coded."""
        coded = group.encode(record.values, self.context)
        self.pieces.append(
            Piece(
                coded.text,
                section.number,
                group.symbol,
                place,
                {name: record.values.get(name) for name in group.elements},
                record.level,
            )
        )
        self.found.extend(
            diagnostic(
                fault.code,
                fault.message,
                path=(self.part.letters, section.number, _label(record, place), group.symbol),
                expected=fault.expected,
                value=coded.text,
            )
            for fault in coded.faults
        )


def with_places(records: Sequence[Record], section: Section, part: Part) -> tuple[Record, ...]:
    """Return the records of blocks with their place in the block, as few blocks as can be.

    Parameters
    ----------
    records : sequence of Record
        Levels upward.
    section : Section
        Declaration of the section they belong to.
    part : Part

    Returns
    -------
    tuple of Record
        With the value ``place_in_block``, 1 for the first level of each block.
    """
    context = part.context()
    placed: list[Record] = []
    block: list[Record] = []
    for record in records:
        form = section.form(record.kind)
        if form is None or form.block is None:
            placed.append(record)
            continue
        joins = (
            0 < len(block) < form.block.most
            and block[0].kind == record.kind
            and form.block.joins([item.values for item in block], record.values, context)
        )
        block = [*block, record] if joins else [record]
        values = {**record.values, "place_in_block": len(block)}
        placed.append(Record(record.kind, values, record.level))
    return tuple(placed)


def _label(record: Record, place: int) -> str | int:
    pressure = record.get("air_pressure")
    return f"{pressure:g} hPa" if isinstance(pressure, float) else place


def _verbatim(said: SectionContent) -> list[Piece]:
    pieces: list[Piece] = []
    for place, record in enumerate(said.records):
        pieces.extend(
            Piece(text, said.number, "verbatim", place)
            for text in str(record.get("groups") or "").split()
        )
    return pieces


def lay_out(
    pieces: Sequence[Piece], letters: str, *, start: int = 0, width: int = LINE_WIDTH
) -> tuple[str, tuple[TraceEntry, ...]]:
    """Lay groups out in lines and tell where each one stands.

    Parameters
    ----------
    pieces : sequence of Piece
        Groups of one part.
    letters : str
        Letters of the part.
    start : int
        Offset of the first character in the whole text.
    width : int
        Longest line in characters.

    Returns
    -------
    text : str
        Lines ended by line feeds, the last group followed by ``=``.
    trace : tuple of TraceEntry
        One entry a group, with offsets in the whole text.
    """
    text = ""
    column = 0
    entries = []
    last = len(pieces) - 1
    for place, piece in enumerate(pieces):
        length = len(piece.text) + (1 if place == last else 0)
        if place and column + 1 + length > width:
            text += "\n"
            column = 0
        elif place:
            text += " "
            column += 1
        begin = start + len(text)
        text += piece.text
        column += len(piece.text)
        entries.append(
            TraceEntry(
                (begin, begin + len(piece.text)),
                piece.text,
                letters,
                piece.section,
                piece.symbol,
                piece.record,
                piece.values,
                piece.level,
            )
        )
    return text + "=\n", tuple(entries)
