"""How a group is declared: its figures, its place in a record, what may come after it there."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from re import Pattern
from typing import Literal, NamedTuple

from encoder.codes.context import Coded, Context, Read, Value, Values

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
    other : tuple of Figures
        Its figures where it is written with another width.
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
    other: tuple[Figures, ...] = ()
    width: int = field(init=False)
    """Characters of the group."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "width", sum(part.width for part in self.figures))

    def figures_of(self, text: str) -> tuple[Figures, ...]:
        """Return the figures a text is made of: those of its other width where it has that one."""
        if self.other and len(text) == sum(part.width for part in self.other):
            return self.other
        return self.figures

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


@dataclass(frozen=True, slots=True)
class Pairs:
    """Test of the look of a group by its first two figures alone.

    Attributes
    ----------
    pairs : frozenset of str or None
        The figures; None for those of the standard levels of the part.
    """

    pairs: frozenset[str] | None = None

    def __call__(self, text: str, context: Context) -> bool:
        """Tell whether the group begins with one of them."""
        return text[:2] in (context.standard if self.pairs is None else self.pairs)


class Follower(NamedTuple):
    """A group after the first one of a record, and what may come after it there.

    Attributes
    ----------
    use : Use
    least, most : int
        Groups after it that are always there; that may be there, those told by their look apart.
    last : Use or None
        The last one of them.
    """

    use: Use
    least: int
    most: int
    last: Use | None


def followers(uses: Sequence[Use]) -> tuple[Follower, ...]:
    """Return the groups of a record with what may come after each."""
    found: list[Follower] = []
    for place, use in enumerate(uses):
        later = uses[place + 1 :]
        least = sum(item.presence == "always" for item in later)
        most = sum(item.presence != "if-recognised" for item in later)
        found.append(Follower(use, least, most, later[-1] if later else None))
    return tuple(found)
