"""From the groups of a part to what it says; see :mod:`encoder.codes.reader` for the loop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from encoder.codes.account import Token
from encoder.codes.content import PartContent, SectionContent
from encoder.codes.heights import resolve_heights
from encoder.codes.reader import PartReader

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.codes.declare import Part
    from encoder.diagnostics import Diagnostic
    from encoder.trace import TraceEntry

__all__ = ["DecodedPart", "Token", "decode_part"]


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
    reader = PartReader(tokens, part)
    reader.read()
    sections = [
        SectionContent(number, tuple(records), number in reader.none_reported)
        for number, records in reader.sections.items()
    ]
    content = PartContent(form, part.letter, tuple(sections), reader.nil)
    content, trace, found = resolve_heights(content, reader.account.trace, part)
    return DecodedPart(content, trace, (*reader.account.found, *found))
