"""How a code form is declared: figures, groups, records, sections, parts.

A declaration is data. The encoder, the decoder, the explanation and the generated documentation
all read the same declaration; none of them knows a group of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple

from encoder.codes.context import Coded, Context, Fault, Read, Value, Values
from encoder.codes.declare_groups import (
    CODE_CHARACTERS,
    Block,
    Figures,
    Follower,
    Group,
    Pairs,
    Presence,
    Use,
    followers,
)

__all__ = [
    "CODE_CHARACTERS",
    "Block",
    "CodeForm",
    "Coded",
    "Context",
    "Fault",
    "Figures",
    "Follower",
    "Group",
    "Lead",
    "Numbering",
    "Pairs",
    "Part",
    "Presence",
    "Read",
    "RecordForm",
    "Section",
    "Use",
    "Value",
    "Values",
    "as_text",
    "followers",
    "record_elements",
]

Numbering = Literal["", "surface", "counted"]


@dataclass(frozen=True, slots=True)
class RecordForm:
    """A record: the groups that together describe one level or one fact.

    Attributes
    ----------
    kind : str
        Name of the record, for example ``"standard"``.
    uses : tuple of Use
        Groups in order; the first one opens the record.
    opens : callable or None
        ``opens(text, context)`` tells whether a group can open this record by its look; None
        where the record always follows (after a marker, or at the start of the part).
    expects : callable or None
        ``expects(text, context)`` tells whether it opens the record that is due here; None where
        the look is enough.
    resumes : bool
        Whether the look is enough also after groups that could not be read.
    repeated : bool
        Whether any number may follow.
    none_group : str or None
        Group that says there is no such record, for example ``"88999"``.
    numbering : {"", "surface", "counted"}
        Whether the record carries a level number nn: none, 00, or 11 to 99 in turn.
    descends : bool
        Whether the pressure decreases from record to record.
    block : Block or None
        Where the first group names several levels; each of them is a record of its own.
    level_kinds : int
        Bits of :class:`encoder.levels.table.LevelKind` that such a level has.
    gap_kinds : tuple of int
        Bits of the level below and above a record of solidi; empty where none marks a gap.
    """

    kind: str
    uses: tuple[Use, ...]
    opens: Callable[[str, Context], bool] | None = None
    expects: Callable[[str, Context], bool] | None = None
    resumes: bool = False
    repeated: bool = False
    none_group: str | None = None
    numbering: Numbering = ""
    descends: bool = True
    block: Block | None = None
    level_kinds: int = 0
    gap_kinds: tuple[int, ...] = ()
    after_lead: tuple[Follower, ...] = field(init=False, repr=False, compare=False)
    """The groups that do not open the record."""

    def __post_init__(self) -> None:
        rest = self.uses if self.opens is None else self.uses[1:]
        object.__setattr__(self, "after_lead", followers(rest))

    @property
    def told_by_pair(self) -> bool:
        """Whether the first two figures of a group alone tell that it may begin the record."""
        if not isinstance(self.opens, Pairs):
            return False
        pairs = self.opens.pairs
        return self.none_group is None or (pairs is not None and self.none_group[:2] in pairs)

    def pairs(self, standard: Iterable[str]) -> frozenset[str] | None:
        """Return the first two figures of every group that can begin it, None where any can."""
        if self.opens is None:
            own: frozenset[str] = frozenset()
        elif not isinstance(self.opens, Pairs):
            return None
        else:
            own = frozenset(standard) if self.opens.pairs is None else self.opens.pairs
        return own if self.none_group is None else own | {self.none_group[:2]}


@dataclass(frozen=True, slots=True)
class Section:
    """A section of a part.

    Attributes
    ----------
    number : str
        ``"1"`` to ``"10"``.
    title : str
    records : tuple of RecordForm
        In order.
    marker : str or None
        Group that opens the section, for example ``"21212"``.
    verbatim : bool
        Whether the section is kept as received to its end (regional and national groups).
    markers : tuple of str
        For verbatim sections: every marker that opens it.
    source : str
        Regulation.
    """

    number: str
    title: str
    records: tuple[RecordForm, ...] = ()
    marker: str | None = None
    verbatim: bool = False
    markers: tuple[str, ...] = ()
    source: str = "WMO-No. 306 Volume I.1"

    @property
    def opened_by_marker(self) -> bool:
        """Whether only a marker opens the section."""
        return self.marker is not None or bool(self.markers)

    def opened_by(self, text: str) -> bool:
        """Tell whether the group is a marker of this section."""
        return text == self.marker or text in self.markers

    def form(self, kind: str) -> RecordForm | None:
        """Return the record form of that kind, None where the section holds none."""
        return next((item for item in self.records if item.kind == kind), None)


class Lead(NamedTuple):
    """Where a record stands in a part: its section and its place there."""

    at: int
    place: int
    section: Section
    form: RecordForm
    sure: bool
    """Whether the first two figures are enough to tell that it may begin."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a code form; travels as a report of its own.

    Attributes
    ----------
    letter : str
        "A", "B", "C" or "D".
    letters : str
        The four letters that open it, for example ``"TTAA"``.
    title : str
    sections : tuple of Section
        In the order of the code.
    tenths : bool
        Pressures PPP in tenths of hPa.
    standard : mapping of str to float
        Figures PP with pressures of the standard levels this part holds.
    """

    letter: str
    letters: str
    title: str
    sections: tuple[Section, ...]
    tenths: bool = False
    standard: Mapping[str, float] = field(default_factory=dict)
    marked: Mapping[str, int] = field(init=False)
    """Position of the section that each marker opens."""
    leads: Mapping[str, tuple[Lead, ...]] = field(init=False, repr=False, compare=False)
    """By the first two figures of a group: the records it may begin."""
    other_leads: tuple[Lead, ...] = field(init=False, repr=False, compare=False)
    """The records that a group of any other figures may begin."""

    def __post_init__(self) -> None:
        marked: dict[str, int] = {}
        for place, section in enumerate(self.sections):
            own = () if section.marker is None else (section.marker,)
            marked.update(dict.fromkeys((*own, *section.markers), place))
        object.__setattr__(self, "marked", marked)
        leads = [
            (form.pairs(self.standard), Lead(place, index, section, form, form.told_by_pair))
            for place, section in enumerate(self.sections)
            for index, form in enumerate(section.records)
        ]
        pairs = {pair for own, _lead in leads for pair in own or ()}
        by_pair = {
            pair: tuple(lead for own, lead in leads if own is None or pair in own) for pair in pairs
        }
        object.__setattr__(self, "leads", by_pair)
        object.__setattr__(self, "other_leads", tuple(lead for own, lead in leads if own is None))

    def context(self) -> Context:
        """Return a fresh context for this part."""
        return Context(tenths=self.tenths, standard=self.standard)

    def section(self, number: str) -> Section | None:
        """Return the section of that number, None where the part has none."""
        return next((item for item in self.sections if item.number == number), None)


@dataclass(frozen=True, slots=True)
class CodeForm:
    """A code form.

    Attributes
    ----------
    number : str
        For example ``"FM 35"``.
    name : str
        For example ``"TEMP"``.
    title : str
    parts : tuple of Part
    valid_from, valid_to : str or None
        ISO dates between which this edition is used; None where open.
    source : str
    from_memory : str
        What of it no source could be found for, as a sentence for the reader of a report; "" where
        there is nothing to tell.
    """

    number: str
    name: str
    title: str
    parts: tuple[Part, ...]
    valid_from: str | None = None
    valid_to: str | None = None
    source: str = "WMO-No. 306 Volume I.1"
    from_memory: str = ""

    def part(self, letter: str) -> Part:
        """Return the part of that letter.

        Raises
        ------
        KeyError
            If the form has no such part.
        """
        for part in self.parts:
            if part.letter == letter:
                return part
        raise KeyError(letter)


def record_elements(form: RecordForm) -> tuple[str, ...]:
    """Return the names of every value a record can carry, in the order of the groups.

    The group that names the levels of a block is left out: it speaks of several records.
    """
    names: list[str] = []
    for use in form.uses[1:] if form.block is not None else form.uses:
        names.extend(name for name in use.group.elements if name not in names)
    return tuple(names)


def as_text(value: Any) -> str:
    """Return a value for a sentence: whole numbers without decimals, others as they are."""
    if isinstance(value, float) and value == int(value):
        return str(int(value))
    return str(value)
