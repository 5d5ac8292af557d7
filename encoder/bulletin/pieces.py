"""The pieces a stream of traffic is split into, and how many bytes are in each kind."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator


class Kind(StrEnum):
    """What a piece of the stream is."""

    REPORT = "report"
    FRAMING = "framing"
    UNREAD = "unread"


class HeadingLine(NamedTuple):
    """An abbreviated heading as it stands in the stream.

    Attributes
    ----------
    offset : int
        Of its first byte in the stream.
    text : bytes
        Verbatim, without line end.
    """

    offset: int
    text: bytes


class Piece(NamedTuple):
    """A run of bytes of the stream.

    Attributes
    ----------
    kind : Kind
    offset : int
        Of its first byte in the stream.
    text : bytes
        Verbatim.
    heading : HeadingLine or None
        The heading that a report or unread text stands under; None for framing, except for the
        NIL of an empty bulletin.
    letters : str
        What the report opens with, in capitals: ``"TTAA"``, ``"CLIMAT TEMP"``; "" for others.
    ended : bool
        Whether the report ends with ``=``.
    remark : str
        ``"nil"`` for the text of an empty bulletin, ``"binary"`` for a binary message, ``"cut"``
        for a report cut at the greatest length, else "".
    shared : bytes
        Words given once for several monthly reports of a bulletin; the report continues them.
    """

    kind: Kind
    offset: int
    text: bytes
    heading: HeadingLine | None = None
    letters: str = ""
    ended: bool = False
    remark: str = ""
    shared: bytes = b""


@dataclass(frozen=True, slots=True)
class Tally:
    """Bytes by what they are.

    Attributes
    ----------
    reports, framing, unread : int
        Bytes.
    pieces : dict of str to int
        Number of pieces by opening letters, and of ``"framing"`` and ``"unread"``.
    """

    reports: int = 0
    framing: int = 0
    unread: int = 0
    pieces: dict[str, int] = field(default_factory=dict)

    @property
    def total(self) -> int:
        """Bytes of the whole stream."""
        return self.reports + self.framing + self.unread


def tally(pieces: Iterable[Piece]) -> Tally:
    """Return how many bytes of a stream are reports, framing and unread."""
    sizes = dict.fromkeys(Kind, 0)
    numbers: dict[str, int] = {}
    for piece in pieces:
        kind = piece.kind
        sizes[kind] += len(piece.text)
        name = piece.letters or kind
        numbers[name] = numbers.get(name, 0) + 1
    return Tally(
        sizes[Kind.REPORT],
        sizes[Kind.FRAMING],
        sizes[Kind.UNREAD],
        {str(name): number for name, number in numbers.items()},
    )


def reports(pieces: Iterable[Piece]) -> Iterator[Piece]:
    """Return the reports among pieces."""
    return (piece for piece in pieces if piece.kind is Kind.REPORT)
