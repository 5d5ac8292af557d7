"""How a code form is declared: figures, groups, records, sections, parts.

A declaration is data. The encoder, the decoder, the explanation and the generated documentation
all read the same declaration; none of them knows a group of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from encoder.resolution import Coding, WindUnit

Value = float | int | str | bool | None
Values = Mapping[str, Value]

GROUP_WIDTH = 5
"""Figures of an ordinary group."""


@dataclass(slots=True)
class Context:
    """What earlier groups of a part have settled; the engine fills it, conversions read it.

    Attributes
    ----------
    tenths : bool
        Pressures PPP are in tenths of hPa (parts C and D).
    wind_unit : {"kt", "m s-1"}
        From the day figures YY.
    last_wind : str
        Figure Id: last standard level with wind, "/" for none, "" where the part has none.
    number : str
        Level number nn the next record of sections 5 and 6 must carry.
    standard : mapping of str to float
        Figures PP of the standard levels of this part, with their pressure in hPa.
    """

    tenths: bool = False
    wind_unit: WindUnit = "kt"
    last_wind: str = ""
    number: str = ""
    standard: Mapping[str, float] = field(default_factory=dict)

    @property
    def coding(self) -> Coding:
        """Steps of the report."""
        return Coding(self.wind_unit)


@dataclass(frozen=True, slots=True)
class Fault:
    """Something wrong inside one group, before the engine adds the place.

    Attributes
    ----------
    code : str
        Diagnostic code.
    message : str
        One sentence.
    expected : str or None
        What would have been right.
    """

    code: str
    message: str
    expected: str | None = None


@dataclass(frozen=True, slots=True)
class Coded:
    """Outcome of encoding a group: its characters and the faults met."""

    text: str
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True, slots=True)
class Read:
    """Outcome of decoding a group: its values (None for missing) and the faults met."""

    values: Values
    faults: tuple[Fault, ...] = ()


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
        ``decode(text, context) -> Read``; the text has the right width and holds figures and
        solidi (letters only for the group that opens a part).
    steps : mapping of str to str
        Resolution of each element, in words with unit.
    source : str
        Regulation.
    """

    symbol: str
    title: str
    figures: tuple[Figures, ...]
    elements: tuple[str, ...]
    encode: Callable[[Values, Context], Coded]
    decode: Callable[[str, Context], Read]
    steps: Mapping[str, str] = field(default_factory=dict)
    source: str = "WMO-No. 306 Volume I.1"

    @property
    def width(self) -> int:
        """Characters of the group."""
        return sum(part.width for part in self.figures)


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
class RecordForm:
    """A record: the groups that together describe one level or one fact.

    Attributes
    ----------
    kind : str
        Name of the record, for example ``"standard"``.
    uses : tuple of Use
        Groups in order; the first one opens the record.
    opens : callable or None
        ``opens(text, context)`` tells whether a group can open this record at this place; None
        where the record always follows (after a marker, or at the start of the part).
    repeated : bool
        Whether any number may follow.
    none_group : str or None
        Group that says there is no such record, for example ``"88999"``.
    numbered : bool
        Whether records carry the level number nn.
    """

    kind: str
    uses: tuple[Use, ...]
    opens: Callable[[str, Context], bool] | None = None
    repeated: bool = False
    none_group: str | None = None
    numbered: bool = False


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

    def opened_by(self, text: str) -> bool:
        """Tell whether the group is a marker of this section."""
        return text == self.marker or text in self.markers


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
    """Return the names of every value a record can carry, in the order of the groups."""
    names: list[str] = []
    for use in form.uses:
        names.extend(name for name in use.group.elements if name not in names)
    return tuple(names)


def as_text(value: Any) -> str:
    """Return a value for a sentence: whole numbers without decimals, others as they are."""
    if isinstance(value, float) and value == int(value):
        return str(int(value))
    return str(value)
