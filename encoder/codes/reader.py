"""The one loop that reads a declaration backward, from groups to values.

The place of a group in the rhythm of groups decides what it is, never its look alone: a wind may
read 31313. Reading is tolerant: whatever the text, there is a value and a list of diagnostics, each
with the span of characters it is about.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from encoder.codes.account import Account, Token, label
from encoder.codes.content import Record
from encoder.codes.groups import NUMBERS, next_number
from encoder.codes.last_wind import wind_expected
from encoder.codes.resume import FAR_REACH, LOOK, REACH, counts_anew, resumption, skips

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.codes.declare import Context, Group, Part, Read, RecordForm, Section, Use, Value

Opening = tuple[int, int]
"""Section and record form that a group opens; record form -1 is the marker of the section."""


class _Due(NamedTuple):
    """A group that is due in a record, and where its values go."""

    use: Use
    values: dict[str, Value]
    record: int


@dataclass(slots=True)
class PartReader:
    """Reads the groups of one part; the outcome is in its fields.

    Attributes
    ----------
    tokens : sequence of Token
    part : Part
    nil : bool
        Whether the report says only that there is none.
    sections : dict of str to list of Record
        By section number, in the order met.
    none_reported : set of str
        Sections that say there is no such level.
    account : Account
        Trace and diagnostics.
    """

    tokens: Sequence[Token]
    part: Part
    nil: bool = False
    sections: dict[str, list[Record]] = field(default_factory=dict)
    none_reported: set[str] = field(default_factory=set)
    account: Account = field(init=False)
    _context: Context = field(init=False)
    _fresh: Context = field(init=False)
    _place: int = 0
    _section: int = 0
    _record: int = -1
    _lost: bool = False
    _winds_ended: bool = False
    _anew: bool = False
    _edges: dict[int, Opening | None] = field(default_factory=dict)
    _last: tuple[int, str, Read | None] = (-1, "", None)

    def __post_init__(self) -> None:
        self.account = Account(self.part.letters)
        self._context = self.part.context()
        self._fresh = self.part.context()

    def read(self) -> None:
        """Read every group."""
        self._read_identification()
        if self.nil:
            return
        unread: list[Token] = []
        while self._place < len(self.tokens):
            token = self.tokens[self._place]
            opening = self._opening(self._place) or self._search(token.text, loose=True)
            if opening is not None and opening[1] >= 0:
                form = self.part.sections[opening[0]].records[opening[1]]
                here = opening[0] == self._section
                if here and counts_anew(form, token.text, self._context):
                    self._anew = True
                    self._edges.clear()
                    opening = None
                elif self._later_is_better(opening, self._place, lost=bool(unread)):
                    opening = None
            if opening is None:
                unread.append(token)
                self._skip()
                continue
            self.account.unread(unread)
            unread.clear()
            self._open(*opening)
        self.account.unread(unread)

    # --- where a group can stand ---------------------------------------------------------------

    def _opening(self, place: int) -> Opening | None:
        """Return what the group at that place opens if all is in order; None if nothing.

        The answer holds until the next section, record or level number: it is kept till then.
        """
        if place in self._edges:
            return self._edges[place]
        opening = self._search(self.tokens[place].text, loose=False)
        if opening is not None and self._later_is_better(opening, place, lost=False):
            opening = None
        self._edges[place] = opening
        return opening

    def _search(self, text: str, *, loose: bool) -> Opening | None:
        sections = self.part.sections
        marked = self.part.marked.get(text, -1)
        if marked > self._section or (marked == self._section and sections[marked].verbatim):
            return self._due_here(text) or (marked, -1)
        for at in range(self._section, len(sections)):
            section = sections[at]
            here = at == self._section
            if section.opened_by_marker and not (here and section.number in self.sections):
                continue
            first = max(self._record, 0) if here else 0
            for index in range(first, len(section.records)):
                form = section.records[index]
                if text == form.none_group:
                    return at, index
                used = here and index == self._record
                if (form.repeated or not used) and self._opens(form, text, here, loose=loose):
                    return at, index
        return None

    def _due_here(self, text: str) -> Opening | None:
        """Return the record that a marker is where it is due: 66666 may be level 66 at 666 hPa."""
        section = self.part.sections[self._section]
        if section.opened_by_marker and section.number not in self.sections:
            return None
        for index in range(max(self._record, 0), len(section.records)):
            form = section.records[index]
            if form.expects is not None and self._opens(form, text, True, loose=False):
                return self._section, index
        return None

    def _opens(self, form: RecordForm, text: str, here: bool, *, loose: bool) -> bool:
        if form.opens is None or not form.opens(text, self._context):
            return False
        if self._anew and here and form.numbering == "counted":
            return False
        lead = form.uses[0].group
        if not lead.fits(text) and not (loose and len(text) == lead.width):
            return False
        if form.expects is None or (loose and (form.resumes or not self._lost)):
            return True
        return form.expects(text, self._context if here else self._fresh)

    def _later_is_better(self, opening: Opening, place: int, *, lost: bool) -> bool:
        """Tell whether the standard levels go on in a better rhythm from a later group on."""
        at, index = opening
        if index < 0 or self.part.sections[at].records[index].kind != "standard":
            return False
        previous = self._context.previous_pressure
        skipping = skips(self.tokens[place].text, self.part.standard, previous)
        if not (skipping or lost):
            return False
        reach = FAR_REACH if skipping else REACH
        words = [token.text for token in self.tokens[place : place + reach + LOOK]]
        return resumption(words, self.part.standard, previous, reach=reach) > 0

    def _begins(self, place: int) -> bool:
        """Tell whether a record begins at that place."""
        return place < len(self.tokens) and self._opening(place) is not None

    # --- reading -------------------------------------------------------------------------------

    def _read_identification(self) -> None:
        section = self.part.sections[0]
        values: dict[str, Value] = {}
        self._context.said = values
        for use in section.records[0].uses:
            if self._place < len(self.tokens) and self.tokens[self._place].text == "NIL":
                break
            if self._place >= len(self.tokens):
                self._missing(section, use.group, "the report ends here", values)
                continue
            self._group(section, use.group, values, 0)
        self.sections["1"] = [Record("identification", values)]
        self._section = 1
        if self._place < len(self.tokens) and self.tokens[self._place].text == "NIL":
            self.nil = True
            self._enter(section, "NIL")
            self.account.unread(self.tokens[self._place :])
            while self._place < len(self.tokens):
                self._skip()

    def _open(self, at: int, index: int) -> None:
        section = self.part.sections[at]
        if at != self._section or section.number not in self.sections:
            self._section, self._record = at, -1
            self._context.previous_pressure = float("inf")
            self._context.previous_height = -1.0
            self._context.number = "11"
            self.sections.setdefault(section.number, [])
        self._lost = False
        text = self.tokens[self._place].text
        if section.verbatim:
            self._read_verbatim(section)
        elif index < 0:
            self._anew = False
            self._enter(section, text)
            self._edges.clear()
            if section.records[0].opens is None:
                self._record = 0
                self._read_record(section, section.records[0])
        elif text == section.records[index].none_group:
            self._record = index
            self.none_reported.add(section.number)
            self._enter(section, text)
        else:
            self._record = index
            self._read_record(section, section.records[index])
            return
        self._edges.clear()

    def _read_verbatim(self, section: Section) -> None:
        records = self.sections[section.number]
        record = len(records)
        later = self.part.sections[self._section + 1 :]
        groups: list[str] = []
        while self._place < len(self.tokens):
            text = self.tokens[self._place].text
            opens_other = section.opened_by(text) or any(item.opened_by(text) for item in later)
            if groups and opens_other:
                break
            groups.append(text)
            self._enter(section, "verbatim", record)
        records.append(Record("verbatim", {"groups": " ".join(groups)}))

    def _read_record(self, section: Section, form: RecordForm) -> None:
        records = self.sections[section.number]
        record = len(records)
        values: dict[str, Value] = {}
        self._context.said = values
        uses = form.uses
        if form.opens is not None:
            uses = form.uses[1:]
            self._expect_number(section, form)
            self._group(section, form.uses[0].group, values, record)
            self._after_lead(section, form, values)
        levels = (values,) if form.block is None else form.block.spread(values, self._context)
        due = [
            _Due(use, level, record + place) for place, level in enumerate(levels) for use in uses
        ]
        for place, item in enumerate(due):
            if self._present(section, item, due[place + 1 :]):
                self._group(section, item.use.group, item.values, item.record)
        records.extend(Record(form.kind, level) for level in levels)

    def _expect_number(self, section: Section, form: RecordForm) -> None:
        if form.numbering == "surface":
            self._context.number = "00"
            return
        token = self.tokens[self._place]
        number = token.text[:2]
        if form.numbering and number != self._context.number and number in NUMBERS:
            self.account.fault(
                "level-number",
                f"Expected level number {self._context.number}, got {number} in {token.text}.",
                token,
                (section.number,),
                self._context.number,
            )
            self._context.number = number

    def _after_lead(self, section: Section, form: RecordForm, values: dict[str, Value]) -> None:
        self._edges.clear()
        if form.numbering:
            self._context.number = next_number(self._context.number)
        pressure = values.get("air_pressure")
        if not isinstance(pressure, float) or not form.descends:
            return
        previous = self._context.previous_pressure
        if pressure >= previous:
            token = self.tokens[self._place - 1]
            self.account.fault(
                "level-order",
                f"Expected a pressure below {previous:g} hPa, got {pressure:g} hPa in "
                f"{token.text}.",
                token,
                (section.number, f"{pressure:g} hPa"),
                f"less than {previous:g} hPa",
            )
        self._context.previous_pressure = pressure

    def _present(self, section: Section, due: _Due, later: Sequence[_Due]) -> bool:
        """Tell whether the group that is due stands here, by where the next record begins."""
        if due.use.presence == "if-recognised":
            return self._recognised(due.use, self._place)
        ended = self._place >= len(self.tokens)
        least = most = 0
        for item in later:
            if item.use.presence == "always":
                least += 1
            if item.use.presence != "if-recognised":
                most += 1
        with_it = False
        for place in range(self._place + 1 + least, self._place + 2 + most):
            if (
                place == len(self.tokens)
                or self._begins(place)
                or (later and self._recognised(later[-1].use, place))
            ):
                with_it = True
                break
        if due.use.presence == "to-last-wind":
            without = self._begins_early(least, most)
            with_it = with_it and (not without or self._sound(due.use.group))
            return self._wind_present(section, due.values, with_it=with_it, without=without)
        if with_it and self._sound(due.use.group):
            return True
        if not ended and not self._begins_early(least, most):
            return True
        where = (
            "the report ends here"
            if ended
            else f"the next record begins at {self.tokens[self._place].text}"
        )
        self._missing(section, due.use.group, where, due.values)
        return False

    def _sound(self, group: Group) -> bool:
        """Tell whether the group here can be what is due, by its look and its figures."""
        if self._place >= len(self.tokens):
            return False
        read = self._decoded(group)
        return read is not None and (
            not read.faults or all(fault.code == "figures-partly-missing" for fault in read.faults)
        )

    def _decoded(self, group: Group) -> Read | None:
        """Return what the group here says, None where it has another look; read only once."""
        place, symbol, read = self._last
        if place != self._place or symbol != group.symbol:
            text = self.tokens[self._place].text
            read = group.decode(text, self._context) if group.fits(text) else None
            self._last = (self._place, group.symbol, read)
        return read

    def _begins_early(self, least: int, most: int) -> bool:
        """Tell whether a record begins one group too early for the group that is due."""
        for place in range(self._place + least, self._place + most + 1):
            if self._begins(place):
                return True
        return False

    def _recognised(self, use: Use, place: int) -> bool:
        """Tell whether an optional group stands at that place, by its look."""
        if use.recognise is None or place >= len(self.tokens):
            return False
        text = self.tokens[place].text
        return use.group.fits(text) and use.recognise(text, self._context)

    def _wind_present(
        self, section: Section, values: dict[str, Value], *, with_it: bool, without: bool
    ) -> bool:
        pressure = values.get("air_pressure")
        expected = wind_expected(
            self._context.last_wind,
            pressure if isinstance(pressure, float) else None,
            upper=self.part.tenths,
        )
        if self._place >= len(self.tokens):
            present = False
        elif expected is False or (expected is None and self._winds_ended):
            present = with_it and not without
        else:
            present = with_it or not without
        self._winds_ended = not present
        if expected is None or present == expected:
            return present
        token = self.tokens[min(self._place, len(self.tokens) - 1)]
        there = "a wind group" if present else "no wind group"
        self.account.fault(
            "last-wind-figure",
            f"The figure Id = {self._context.last_wind} does not fit: found {there} at "
            f"{pressure:g} hPa.",
            token,
            (section.number, f"{pressure:g} hPa", "ddfff"),
        )
        return present

    def _group(self, section: Section, group: Group, values: dict[str, Value], record: int) -> None:
        token = self.tokens[self._place]
        said: dict[str, Value]
        read = self._decoded(group)
        if read is not None:
            said = dict(read.values)
            for fault in read.faults:
                if fault.code != "level-number":  # told before, with what follows from it
                    path = (section.number, label(values, record), group.symbol)
                    self.account.fault(fault.code, fault.message, token, path, fault.expected)
        else:
            said = dict.fromkeys(group.elements)
            self.account.malformed(token, section, group, values, record)
        values.update(said)
        self._enter(section, group.symbol, record, said)

    def _missing(
        self, section: Section, group: Group, where: str, values: dict[str, Value]
    ) -> None:
        at = self.tokens[min(self._place, len(self.tokens) - 1)].end if self.tokens else 0
        self.account.missing(at, section, group, values, where)
        values.update(dict.fromkeys(group.elements))

    def _enter(
        self,
        section: Section,
        symbol: str,
        record: int | None = None,
        values: dict[str, Value] | None = None,
    ) -> None:
        self.account.enter(self.tokens[self._place], section, symbol, record, values)
        self._place += 1

    def _skip(self) -> None:
        section = self.part.sections[min(self._section, len(self.part.sections) - 1)]
        self._enter(section, "unread")
        self._lost = True
