"""Where in the rhythm of a part a group can stand: what of the declaration it may open there.

The place of a group in the rhythm of groups decides what it is, never its look alone: a wind may
read 31313.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from encoder.codes.resume import FAR_REACH, LOOK, REACH, resumption, skips

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.codes.account import Token
    from encoder.codes.content import Record
    from encoder.codes.declare import Context, Part, RecordForm

Opening = tuple[int, int]
"""Section and record form that a group opens; record form -1 is the marker of the section."""


@dataclass(slots=True)
class Standing:
    """Where the reading of a part stands.

    Attributes
    ----------
    tokens : sequence of Token
    part : Part
    sections : dict of str to list of Record
        What has been read, by section number, in the order met.
    """

    tokens: Sequence[Token]
    part: Part
    sections: dict[str, list[Record]] = field(default_factory=dict)
    _context: Context = field(init=False)
    _fresh: Context = field(init=False)
    _section: int = 0
    _record: int = -1
    _lost: bool = False
    _anew: bool = False
    _edges: dict[int, Opening | None] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._context = self.part.context()
        self._fresh = self.part.context()

    def _opening(self, place: int) -> Opening | None:
        """Return what the group at that place opens if all is in order; None if nothing.

        The answer holds until the next section, record or level number: it is kept till then.
        """
        if place in self._edges:
            return self._edges[place]
        opening = self._search(place, loose=False)
        if opening is not None and self._later_is_better(opening, place, lost=False):
            opening = None
        self._edges[place] = opening
        return opening

    def _search(self, place: int, *, loose: bool) -> Opening | None:
        part, current = self.part, self._section
        text = self.tokens[place].text
        marked = part.marked.get(text, -1)
        if marked >= 0 and (
            marked > current or (marked == current and part.sections[marked].verbatim)
        ):
            return self._due_here(text) or self._due_next(place) or (marked, -1)
        for at, index, section, form, sure in part.leads.get(text[:2], part.other_leads):
            here = at == current
            if at < current or (here and index < self._record):
                continue
            if section.opened_by_marker and not (here and section.number in self.sections):
                continue
            if text == form.none_group:
                return at, index
            used = here and index == self._record
            if (form.repeated or not used) and self._opens(form, text, here, sure, loose=loose):
                return at, index
        return None

    def _due_here(self, text: str) -> Opening | None:
        """Return the record that a marker is where it is due: 66666 may be level 66 at 666 hPa."""
        section = self.part.sections[self._section]
        if section.opened_by_marker and section.number not in self.sections:
            return None
        for index in range(max(self._record, 0), len(section.records)):
            form = section.records[index]
            if form.expects is not None and self._opens(form, text, True, False, loose=False):
                return self._section, index
        return None

    def _due_next(self, place: int) -> Opening | None:
        """Return the level that a marker is where a level is due: 66666 may be a maximum wind.

        A section that says 77999 where there is none is due until it has said the one or the other
        (WMO-No. 306 Volume I.1, 35.2.4). Only a level is followed by a wind that can be.
        """
        words = self.tokens[place : place + 2]
        if len(words) < 2:
            return None
        lead, follower = (token.text for token in words)
        for at in range(self._section + 1, len(self.part.sections)):
            for index, form in enumerate(self.part.sections[at].records):
                if form.none_group is None or not self._opens(
                    form, lead, False, False, loose=False
                ):
                    continue
                group = form.uses[1].group
                if group.fits(follower) and not group.decode(follower, self._context).faults:
                    return at, index
        return None

    def _opens(self, form: RecordForm, text: str, here: bool, sure: bool, *, loose: bool) -> bool:
        if not sure and (form.opens is None or not form.opens(text, self._context)):
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
