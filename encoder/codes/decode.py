"""From the groups of a part to what it says: the one loop that reads a declaration backward.

The place of a group in the rhythm of groups decides what it is, never its look alone: a wind may
read 31313. Reading is tolerant: whatever the text, there is a value and a list of diagnostics, each
with the span of characters it is about.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from encoder.codes.content import PartContent, Record, SectionContent
from encoder.codes.groups import NUMBERS, next_number
from encoder.codes.heights import resolve_heights
from encoder.codes.last_wind import wind_expected
from encoder.diagnostics import Diagnostic, diagnostic
from encoder.trace import TraceEntry

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.codes.declare import Context, Group, Part, RecordForm, Section, Use, Value

_CODE_CHARACTERS = frozenset("0123456789/")


@dataclass(frozen=True, slots=True)
class Token:
    """Characters between blanks, with their place in the received text."""

    text: str
    start: int
    end: int


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
    reader = _Reader(tokens, part, part.context())
    reader.read()
    sections = [
        SectionContent(number, tuple(records), number in reader.none_reported)
        for number, records in reader.sections.items()
    ]
    content = PartContent(form, part.letter, tuple(sections), reader.nil)
    content, trace, found = resolve_heights(content, reader.trace, part)
    return DecodedPart(content, trace, (*reader.found, *found))


@dataclass(slots=True)
class _Reader:
    tokens: Sequence[Token]
    part: Part
    context: Context
    place: int = 0
    section_place: int = 0
    record_place: int = -1
    previous_pressure: float = float("inf")
    lost: bool = False
    nil: bool = False
    sections: dict[str, list[Record]] = field(default_factory=dict)
    none_reported: set[str] = field(default_factory=set)
    trace: list[TraceEntry] = field(default_factory=list)
    found: list[Diagnostic] = field(default_factory=list)

    def read(self) -> None:
        self._read_identification()
        if self.nil:
            return
        unread: list[Token] = []
        while self.place < len(self.tokens):
            opening = self._opening(self.tokens[self.place].text, tolerant=True)
            if opening is None:
                unread.append(self.tokens[self.place])
                self._skip(self.tokens[self.place])
                continue
            self._report_unread(unread)
            self._open(*opening)
        self._report_unread(unread)

    # --- where a group can stand ---------------------------------------------------------------

    def _opening(self, text: str, *, tolerant: bool) -> tuple[int, int] | None:
        """Return (section, record form) the group can open; record form -1 is a marker."""
        strict = self._search(text, loose=False)
        if strict is not None or not tolerant:
            return strict
        return self._search(text, loose=True)

    def _search(self, text: str, *, loose: bool) -> tuple[int, int] | None:
        sections = self.part.sections
        for at in range(self.section_place, len(sections)):
            section = sections[at]
            here = at == self.section_place
            if section.marker is not None or section.markers:
                if section.opened_by(text) and (not here or section.verbatim):
                    return at, -1
                if not here or section.number not in self.sections:
                    continue
            first = max(self.record_place, 0) if here else 0
            for index in range(first, len(section.records)):
                form = section.records[index]
                used = here and index == self.record_place
                if text == form.none_group or (
                    not (used and not form.repeated) and self._opens(form, text, here, loose=loose)
                ):
                    return at, index
        return None

    def _opens(self, form: RecordForm, text: str, here: bool, *, loose: bool) -> bool:
        if form.opens is None or len(text) != form.uses[0].group.width:
            return False
        if form.numbered:
            return self._opens_numbered(form, text, here, loose=loose)
        if not form.opens(text, self.context):
            return False
        if form.kind == "standard":
            pressure = self.context.standard[text[:2]]
            return pressure < self.previous_pressure or (loose and not self.lost)
        return True

    def _opens_numbered(self, form: RecordForm, text: str, here: bool, *, loose: bool) -> bool:
        if form.kind == "surface":
            return text[:2] == "00" and set(text) <= _CODE_CHARACTERS
        expected = self.context.number if here and self.context.number else "11"
        if not set(text) <= _CODE_CHARACTERS:
            return False
        return text[:2] == expected or (loose and text[:2] in NUMBERS)

    def _boundary(self, place: int) -> bool:
        """Tell whether a record can begin (or the part end) at that place."""
        if place >= len(self.tokens):
            return place == len(self.tokens)
        return self._opening(self.tokens[place].text, tolerant=False) is not None

    # --- reading -------------------------------------------------------------------------------

    def _read_identification(self) -> None:
        section = self.part.sections[0]
        values: dict[str, Value] = {}
        for use in section.records[0].uses:
            if self.place < len(self.tokens) and self.tokens[self.place].text == "NIL":
                break
            if self.place >= len(self.tokens):
                self._missing(section, use.group, "the report ends here", values)
                continue
            self._group(section, use.group, values, 0)
        self.sections["1"] = [Record("identification", values)]
        self.section_place = 1
        if self.place < len(self.tokens) and self.tokens[self.place].text == "NIL":
            self.nil = True
            self._trace(section, "NIL", {}, None)
            self.place += 1
            while self.place < len(self.tokens):
                self._report_unread([self.tokens[self.place]])
                self._skip(self.tokens[self.place])

    def _open(self, at: int, index: int) -> None:
        section = self.part.sections[at]
        if at != self.section_place or section.number not in self.sections:
            self.section_place, self.record_place = at, -1
            self.previous_pressure = float("inf")
            self.context.number = "11"
            self.sections.setdefault(section.number, [])
        self.lost = False
        if section.verbatim:
            self._read_verbatim(section)
        elif index < 0:
            self._trace(section, str(section.marker), {}, None)
            self.place += 1
            if section.records[0].opens is None:
                self.record_place = 0
                self._read_record(section, section.records[0])
        elif self.tokens[self.place].text == section.records[index].none_group:
            self.record_place = index
            self.none_reported.add(section.number)
            self._trace(section, self.tokens[self.place].text, {}, None)
            self.place += 1
        else:
            self.record_place = index
            self._read_record(section, section.records[index])

    def _read_verbatim(self, section: Section) -> None:
        records = self.sections[section.number]
        record = len(records)
        later = self.part.sections[self.section_place + 1 :]
        groups: list[str] = []
        while self.place < len(self.tokens):
            text = self.tokens[self.place].text
            opens_other = section.opened_by(text) or any(item.opened_by(text) for item in later)
            if groups and opens_other:
                break
            groups.append(text)
            self._trace(section, "verbatim", {}, record)
            self.place += 1
        records.append(Record("verbatim", {"groups": " ".join(groups)}))

    def _read_record(self, section: Section, form: RecordForm) -> None:
        records = self.sections[section.number]
        values: dict[str, Value] = {}
        if form.numbered:
            self._expect_number(form)
        for index, use in enumerate(form.uses):
            lead = index == 0 and form.opens is not None
            if lead or self._present(section, form, index, use, values):
                self._group(section, use.group, values, len(records))
            if lead:
                self._after_lead(section, form, values)
        records.append(Record(form.kind, values))

    def _expect_number(self, form: RecordForm) -> None:
        text = self.tokens[self.place].text
        if form.kind == "surface":
            self.context.number = "00"
        elif text[:2] != self.context.number and text[:2] in NUMBERS:
            token = self.tokens[self.place]
            self.found.append(
                diagnostic(
                    "level-number",
                    f"Expected level number {self.context.number}, got {text[:2]} in {text}.",
                    span=(token.start, token.end),
                    path=(self.part.letters, self.part.sections[self.section_place].number),
                    value=text,
                    expected=self.context.number,
                )
            )
            self.context.number = text[:2]

    def _after_lead(self, section: Section, form: RecordForm, values: dict[str, Value]) -> None:
        if form.numbered:
            self.context.number = next_number(self.context.number)
        pressure = values.get("air_pressure")
        if not isinstance(pressure, float):
            return
        ordered = form.kind not in ("maximum-wind",)
        if ordered and pressure >= self.previous_pressure:
            token = self.tokens[self.place - 1]
            self.found.append(
                diagnostic(
                    "level-order",
                    f"Expected a pressure below {self.previous_pressure:g} hPa, got {pressure:g} "
                    f"hPa in {token.text}.",
                    span=(token.start, token.end),
                    path=(self.part.letters, section.number, f"{pressure:g} hPa"),
                    value=token.text,
                    expected=f"less than {self.previous_pressure:g} hPa",
                )
            )
        if form.kind != "surface" or form.numbered:
            self.previous_pressure = pressure

    def _present(
        self, section: Section, form: RecordForm, index: int, use: Use, values: dict[str, Value]
    ) -> bool:
        if use.presence == "if-recognised":
            if self.place >= len(self.tokens):
                return False
            token = self.tokens[self.place].text
            right_shape = len(token) == use.group.width and set(token) <= _CODE_CHARACTERS
            return right_shape and bool(use.recognise and use.recognise(token, self.context))
        rest = form.uses[index + 1 :]
        least = sum(1 for item in rest if item.presence == "always")
        most = sum(1 for item in rest if item.presence != "if-recognised")
        with_it = any(
            self._boundary(self.place + 1 + more) or self._optional(form, self.place + 1 + more)
            for more in range(least, most + 1)
        )
        without = any(self._boundary(self.place + more) for more in range(least, most + 1))
        if use.presence == "to-last-wind":
            return self._wind_present(section, values, with_it=with_it, without=without)
        if self.place < len(self.tokens) and (with_it or not without):
            return True
        where = (
            "the report ends here"
            if self.place >= len(self.tokens)
            else (f"the next record begins at {self.tokens[self.place].text}")
        )
        self._missing(section, use.group, where, values)
        return False

    def _optional(self, form: RecordForm, place: int) -> bool:
        """Tell whether an optional last group of the record can stand at that place."""
        last = form.uses[-1]
        if last.presence != "if-recognised" or place >= len(self.tokens):
            return False
        token = self.tokens[place].text
        return len(token) == last.group.width and bool(
            last.recognise and last.recognise(token, self.context)
        )

    def _wind_present(
        self, section: Section, values: dict[str, Value], *, with_it: bool, without: bool
    ) -> bool:
        pressure = values.get("air_pressure")
        expected = wind_expected(
            self.context.last_wind,
            pressure if isinstance(pressure, float) else None,
            upper=self.part.tenths,
        )
        if self.place >= len(self.tokens):
            present = False
        elif expected is None:
            return with_it or not without
        elif expected:
            present = with_it or not without
        else:
            present = with_it and not without
        if expected is None or present == expected:
            return present
        token = self.tokens[min(self.place, len(self.tokens) - 1)]
        there = "a wind group" if present else "no wind group"
        self.found.append(
            diagnostic(
                "last-wind-figure",
                f"The figure Id = {self.context.last_wind} does not fit: found {there} at "
                f"{pressure:g} hPa.",
                span=(token.start, token.end),
                path=(self.part.letters, section.number, f"{pressure:g} hPa", "ddfff"),
                value=token.text,
            )
        )
        return present

    def _group(self, section: Section, group: Group, values: dict[str, Value], record: int) -> None:
        token = self.tokens[self.place]
        path = (self.part.letters, section.number, _label(values, record), group.symbol)
        letters = group.symbol == "MiMiMjMj"
        if letters or (len(token.text) == group.width and set(token.text) <= _CODE_CHARACTERS):
            read = group.decode(token.text, self.context)
            for fault in read.faults:
                if fault.code == "level-number":
                    continue
                self.found.append(
                    diagnostic(
                        fault.code,
                        fault.message,
                        span=(token.start, token.end),
                        path=path,
                        value=token.text,
                        expected=fault.expected,
                    )
                )
            said: dict[str, Value] = dict(read.values)
        else:
            self.found.append(
                diagnostic(
                    "group-malformed",
                    f"Expected {group.symbol} ({group.width} figures or solidi), got "
                    f"{token.text!r}; its values are missing.",
                    span=(token.start, token.end),
                    path=path,
                    value=token.text,
                    expected=group.symbol,
                )
            )
            said = dict.fromkeys(group.elements)
        values.update(said)
        self._trace(section, group.symbol, said, record)
        self.place += 1

    def _missing(
        self, section: Section, group: Group, where: str, values: dict[str, Value]
    ) -> None:
        at = self.tokens[min(self.place, len(self.tokens) - 1)].end if self.tokens else 0
        self.found.append(
            diagnostic(
                "group-missing",
                f"Expected {group.symbol} ({group.title}), but {where}.",
                span=(at, at),
                path=(self.part.letters, section.number, _label(values, 0), group.symbol),
                expected=group.symbol,
            )
        )
        values.update(dict.fromkeys(group.elements))

    # --- keeping account -----------------------------------------------------------------------

    def _trace(
        self, section: Section, symbol: str, values: dict[str, Value], record: int | None
    ) -> None:
        token = self.tokens[self.place]
        self.trace.append(
            TraceEntry(
                (token.start, token.end),
                token.text,
                self.part.letters,
                section.number,
                symbol,
                record,
                values,
            )
        )

    def _skip(self, token: Token) -> None:
        section = self.part.sections[min(self.section_place, len(self.part.sections) - 1)]
        self._trace(section, "unread", {}, None)
        self.place += 1
        self.lost = True

    def _report_unread(self, unread: list[Token]) -> None:
        if not unread:
            return
        words = " ".join(token.text for token in unread[:8])
        more = f" and {len(unread) - 8} more" if len(unread) > 8 else ""
        self.found.append(
            diagnostic(
                "group-unexpected",
                f"No group of the code fits here; kept as received, not read: {words}{more}.",
                span=(unread[0].start, unread[-1].end),
                path=(self.part.letters,),
                value=words,
            )
        )
        unread.clear()


def _label(values: dict[str, Value], record: int) -> str | int:
    pressure = values.get("air_pressure")
    return f"{pressure:g} hPa" if isinstance(pressure, float) else record
