"""The one loop that reads a declaration backward, from groups to values.

The place of a group in the rhythm of groups decides what it is, never its look alone: a wind may
read 31313. Reading is tolerant: whatever the text, there is a value and a list of diagnostics, each
with the span of characters it is about.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from encoder.codes.account import CORRECTION, Account, Token, label
from encoder.codes.content import Record
from encoder.codes.declare import followers
from encoder.codes.groups import NUMBERS, next_number
from encoder.codes.last_wind import wind_expected
from encoder.codes.resume import counts_anew
from encoder.codes.standing import Standing

if TYPE_CHECKING:
    from encoder.codes.declare import (
        Follower,
        Group,
        Read,
        RecordForm,
        Section,
        Use,
        Value,
        Values,
    )


@dataclass(slots=True)
class PartReader(Standing):
    """Reads the groups of one part; the outcome is in its fields.

    Attributes
    ----------
    tokens : sequence of Token
    part : Part
    sections : dict of str to list of Record
        By section number, in the order met.
    nil : bool
        Whether the report says only that there is none.
    none_reported : set of str
        Sections that say there is no such level.
    account : Account
        Trace and diagnostics.
    """

    nil: bool = False
    none_reported: set[str] = field(default_factory=set)
    account: Account = field(init=False)
    _place: int = 0
    _winds_ended: bool = False
    _last: tuple[int, str, Read | None] = (-1, "", None)

    def __post_init__(self) -> None:
        Standing.__post_init__(self)
        self.account = Account(self.part.letters)

    def read(self) -> None:
        """Read every group."""
        self._read_identification()
        if self.nil:
            return
        unread: list[Token] = []
        count = len(self.tokens)
        while self._place < count:
            token = self.tokens[self._place]
            opening = self._opening(self._place) or self._search(self._place, loose=True)
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
            if unread:
                self.account.unread(unread)
                unread.clear()
            self._open(*opening)
        self.account.unread(unread)

    # --- reading -------------------------------------------------------------------------------

    def _read_identification(self) -> None:
        section = self.part.sections[0]
        values: dict[str, Value] = {}
        self._context.said = values
        for use in section.records[0].uses:
            self._pass_correction(section)
            if self._place < len(self.tokens) and self.tokens[self._place].text == "NIL":
                break
            if self._place >= len(self.tokens):
                self._missing(section, use.group, "the report ends here", values)
                continue
            self._group(section, use.group, values, 0)
        self._pass_correction(section)
        self.sections["1"] = [Record.of("identification", values)]
        self._section = 1
        if self._place < len(self.tokens) and self.tokens[self._place].text == "NIL":
            self.nil = True
            self._enter(section, "NIL")
            self.account.unread(self.tokens[self._place :])
            while self._place < len(self.tokens):
                self._skip()

    def _pass_correction(self, section: Section) -> None:
        """Pass the word COR among the groups of section 1."""
        while self._place < len(self.tokens) and self.tokens[self._place].text == CORRECTION:
            self.account.correction(self.tokens[self._place])
            self._enter(section, CORRECTION)

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
        if form.opens is not None:
            self._expect_number(section, form)
            self._group(section, form.uses[0].group, values, record)
            self._after_lead(section, form, values)
        if form.block is None:
            for due in form.after_lead:
                if self._present(section, due, values):
                    self._group(section, due.use.group, values, record)
            records.append(Record.of(form.kind, values))
            return
        levels = form.block.spread(values, self._context)
        uses = [item.use for item in form.after_lead]
        for place, due in enumerate(followers(uses * len(levels))):
            number = place // len(uses)
            if self._present(section, due, levels[number]):
                self._group(section, due.use.group, levels[number], record + number)
        records.extend(Record.of(form.kind, level) for level in levels)

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

    def _present(self, section: Section, due: Follower, values: dict[str, Value]) -> bool:
        """Tell whether the group that is due stands here, by where the next record begins."""
        use, least, most, last = due
        if use.presence == "if-recognised":
            return self._recognised(use, self._place)
        ended = self._place >= len(self.tokens)
        with_it = False
        for place in range(self._place + 1 + least, self._place + 2 + most):
            if (
                place == len(self.tokens)
                or self._begins(place)
                or (last is not None and self._recognised(last, place))
            ):
                with_it = True
                break
        if use.presence == "to-last-wind":
            without = self._begins_early(least, most)
            with_it = with_it and (not without or self._sound(use.group))
            return self._wind_present(section, values, with_it=with_it, without=without)
        if with_it and self._sound(use.group):
            return True
        if not ended and not self._begins_early(least, most):
            return True
        where = (
            "the report ends here"
            if ended
            else f"the next record begins at {self.tokens[self._place].text}"
        )
        self._missing(section, use.group, where, values)
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
        said: Values
        read = self._decoded(group)
        if read is not None:
            said = read.values
            for fault in read.faults:
                if fault.code != "level-number":  # told before, with what follows from it
                    path = (section.number, label(values, record), group.symbol)
                    self.account.fault(fault.code, fault.message, token, path, fault.expected)
        else:
            said = dict.fromkeys(group.elements)
            self.account.malformed(token, section, group, values, record)
        values.update(said)
        self.account.enter(token, section.number, group.symbol, record, said)
        self._place += 1

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
        values: Values | None = None,
    ) -> None:
        self.account.enter(self.tokens[self._place], section.number, symbol, record, values)
        self._place += 1

    def _skip(self) -> None:
        section = self.part.sections[min(self._section, len(self.part.sections) - 1)]
        self._enter(section, "unread")
        self._lost = True
