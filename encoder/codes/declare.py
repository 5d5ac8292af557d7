"""How a code form is declared: figures, groups, records, sections, parts.

A declaration is data. The encoder, the decoder, the explanation and the generated documentation
all read the same declaration; none of them knows a group of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from re import Pattern
from typing import Any, Literal

from encoder.codes.context import Coded, Context, Fault, Read, Value, Values

__all__ = [
    "CODE_CHARACTERS",
    "Block",
    "CodeForm",
    "Coded",
    "Context",
    "Fault",
    "Figures",
    "Group",
    "Numbering",
    "Part",
    "Presence",
    "Read",
    "RecordForm",
    "Section",
    "Use",
    "Value",
    "Values",
    "as_text",
    "record_elements",
]

CODE_CHARACTERS = frozenset("0123456789/")
"""Characters of an ordinary group."""


@dataclass(frozen=True, slots=True)
class Figures:
    """Some neighbouring figures of a group that say one thing.

    Attributes
    ----------
    symbol : str
        Symbolic letters, for example ``"TTTa"``.
    width : int
        How many characters.
    meaning : str
        What they stand for, without their value.
    say : callable
        ``say(figures, values, context)`` gives the plain sentence for these very figures.
    table : str or None
        Code table, for example ``"3931"``.
    """

    symbol: str
    width: int
    meaning: str
    say: Callable[[str, Values, Context], str]
    table: str | None = None


@dataclass(frozen=True, slots=True)
class Group:
    """One group of the code.

    Attributes
    ----------
    symbol : str
        Symbolic form, for example ``"TTTaDD"``.
    title : str
        What it holds.
    figures : tuple of Figures
        Their widths sum to the width of the group.
    elements : tuple of str
        Names of the values it carries.
    encode : callable
        ``encode(values, context) -> Coded``.
    decode : callable
        ``decode(text, context) -> Read``; the text has the look that ``fits`` tells.
    steps : mapping of str to str
        Resolution of each element, in words with unit.
    source : str
        Regulation.
    look : pattern or None
        Look of a group that is not made of figures and solidi (letters, call sign).
    """

    symbol: str
    title: str
    figures: tuple[Figures, ...]
    elements: tuple[str, ...]
    encode: Callable[[Values, Context], Coded]
    decode: Callable[[str, Context], Read]
    steps: Mapping[str, str] = field(default_factory=dict)
    source: str = "WMO-No. 306 Volume I.1"
    look: Pattern[str] | None = None
    width: int = field(init=False)
    """Characters of the group."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "width", sum(part.width for part in self.figures))

    def fits(self, text: str) -> bool:
        """Tell whether the text has the look of this group, whatever it says."""
        if self.look is not None:
            return self.look.fullmatch(text) is not None
        return len(text) == self.width and CODE_CHARACTERS.issuperset(text)


Presence = Literal["always", "to-last-wind", "if-recognised"]


@dataclass(frozen=True, slots=True)
class Use:
    """A group at its place in a record.

    Attributes
    ----------
    group : Group
    presence : {"always", "to-last-wind", "if-recognised"}
        Always there; there up to the level named by Id; there if its look says so.
    recognise : callable or None
        For "if-recognised": ``recognise(text, context)``.
    """

    group: Group
    presence: Presence = "always"
    recognise: Callable[[str, Context], bool] | None = None


@dataclass(frozen=True, slots=True)
class Block:
    """Some levels named together by one group, their winds following one by one.

    Attributes
    ----------
    most : int
        Greatest number of levels in a block.
    spread : callable
        ``spread(values, context)`` gives the values of each level from those of the first group.
    collect : callable
        ``collect(levels, context)`` gives the values of the first group from those of the levels.
    joins : callable
        ``joins(levels, level, context)`` tells whether one more level goes into the block.
    """

    most: int
    spread: Callable[[Values, Context], tuple[dict[str, Value], ...]]
    collect: Callable[[Sequence[Values], Context], Values]
    joins: Callable[[Sequence[Values], Values, Context], bool]


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

    def __post_init__(self) -> None:
        marked: dict[str, int] = {}
        for place, section in enumerate(self.sections):
            own = () if section.marker is None else (section.marker,)
            marked.update(dict.fromkeys((*own, *section.markers), place))
        object.__setattr__(self, "marked", marked)

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
    """

    number: str
    name: str
    title: str
    parts: tuple[Part, ...]
    valid_from: str | None = None
    valid_to: str | None = None
    source: str = "WMO-No. 306 Volume I.1"

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
