"""From received text to the groups of each part; everything outside a part is accounted for.

The text goes through the stream splitter, so a file, a pasted letter and a day of traffic are
divided by the same rules.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from encoder.bulletin.pieces import Kind, Piece
from encoder.bulletin.stream import split_bytes
from encoder.codes import FORMS
from encoder.codes.decode import Token
from encoder.diagnostics import Diagnostic, diagnostic, excerpt

_WORD = re.compile(r"[^\s=>\x00-\x20\x7f]+")
_CODE_WORD = re.compile(r"[0-9/]+\Z")
_WIDE_BLANK = re.compile(r"[^\S\x00-\x7f]")
_GROUP = re.compile(r"(?<![^\s])[0-9/]{5}(?![^\s=])")
_WORDS = 6
MOST_OUTSIDE = 10
"""So many places outside reports are told one by one, all others in one sentence."""
_LETTERS = frozenset(part.letters for form in FORMS.values() for part in form.parts)
_CAPITALS = {small: small - 32 for small in range(ord("a"), ord("z") + 1)}


@dataclass(slots=True)
class PartText:
    """The groups of one part in the received text.

    Attributes
    ----------
    letters : str
        What the part opens with.
    tokens : list of Token
        Groups from the letters on, in capitals.
    ended : bool
        Whether ``=`` follows.
    found : list of Diagnostic
    heading : str or None
        The abbreviated heading it stands under.
    shared : str
        Words given once for several monthly reports, which this one continues; "" for others.
    """

    letters: str
    tokens: list[Token] = field(default_factory=list)
    ended: bool = False
    found: list[Diagnostic] = field(default_factory=list)
    heading: str | None = None
    shared: str = ""

    @property
    def span(self) -> tuple[int, int]:
        """Offsets of the first and past the last character."""
        return self.tokens[0].start, self.tokens[-1].end


def split_parts(text: str) -> tuple[tuple[PartText, ...], tuple[Diagnostic, ...]]:
    """Find the parts in a text.

    Parameters
    ----------
    text : str
        Received text: one or more parts, with or without headings, line ends and ``=``.

    Returns
    -------
    parts : tuple of PartText
        In the order of the text.
    diagnostics : tuple of Diagnostic
        What stands outside any part, headings included: some places one by one, the others in
        one sentence.
    """
    # one byte a character, so that offsets in bytes are offsets in the text
    plain = _WIDE_BLANK.sub(" ", text)
    pieces = split_bytes(plain.encode("latin-1", "replace"))
    capitals = plain.translate(_CAPITALS)
    parts: list[PartText] = []
    outside: list[Diagnostic] = []
    for piece in pieces:
        if piece.kind is Kind.REPORT and piece.letters in _LETTERS:
            parts.append(_part(piece, capitals))
        elif words := _WORD.findall(capitals, piece.offset, piece.offset + len(piece.text)):
            outside.append(_outside(piece, words, capitals))
    found = _at_most(outside)
    if any(text[part.span[0] : part.span[1]] != _joined(part, capitals) for part in parts):
        found.append(diagnostic("lower-case", "Small letters were read as capitals."))
    return tuple(parts), tuple(found)


def _joined(part: PartText, capitals: str) -> str:
    begin, end = part.span
    return capitals[begin:end]


def _part(piece: Piece, capitals: str) -> PartText:
    heading = piece.heading.text.decode("latin-1") if piece.heading is not None else None
    part = PartText(piece.letters, ended=piece.ended, heading=heading)
    part.shared = piece.shared.decode("latin-1")
    end = piece.offset + len(piece.text)
    place = piece.offset
    if not piece.shared:
        place = _opening_end(piece.letters, capitals, piece.offset)
        part.tokens.append(Token(piece.letters, piece.offset, place))
        if place < end and _CODE_WORD.match(capitals[place]):
            glued = _WORD.match(capitals, piece.offset)
            if glued is not None:
                part.found.append(_run_together(glued.group(), piece.offset))
    for match in _WORD.finditer(capitals, place, end):
        begin, past = match.span()
        token = Token(match.group(), begin, past)
        if past - begin < 10:
            part.tokens.append(token)
        else:
            _append(part, token)
    if piece.remark == "cut":
        part.found.append(
            diagnostic(
                "report-cut",
                f"{piece.letters} has no end within {len(piece.text)} characters.",
                span=(piece.offset, end),
                path=(piece.letters,),
            )
        )
    return part


def _opening_end(letters: str, capitals: str, begin: int) -> int:
    """Return the offset past the letters or words that open a report."""
    place = begin
    for word in letters.split():
        place = capitals.index(word, place) + len(word)
    return place


def _append(part: PartText, token: Token) -> None:
    """Add a group, taking apart groups that stand without a blank between them."""
    count, rest = divmod(len(token.text), 5)
    if count < 2 or rest or not _CODE_WORD.match(token.text):
        part.tokens.append(token)
        return
    part.found.append(_run_together(token.text, token.start))
    for place in range(count):
        begin = token.start + 5 * place
        part.tokens.append(Token(token.text[5 * place : 5 * place + 5], begin, begin + 5))


def _run_together(text: str, start: int) -> Diagnostic:
    return diagnostic(
        "groups-run-together",
        f"{excerpt(text)!r} was read as groups of five.",
        span=(start, start + len(text)),
        value=excerpt(text),
    )


def _outside(piece: Piece, words: list[str], capitals: str) -> Diagnostic:
    """Report words that are part of no report that can be decoded."""
    begin = capitals.index(words[0], piece.offset)
    end = capitals.rindex(words[-1], begin, piece.offset + len(piece.text)) + len(words[-1])
    shown = _shown(words)
    what = "Heading or other framing" if piece.kind is Kind.FRAMING else "Not part of a report"
    return diagnostic("text-outside-report", f"{what}: {shown}.", span=(begin, end), value=shown)


def _shown(words: list[str]) -> str:
    """Return some of the words, from where most groups of figures stand close together."""
    groups = [bool(_GROUP.match(word)) for word in words]
    begin = 0
    if sum(groups[:_WORDS]) < min(_WORDS // 2, sum(groups)):
        counts = [sum(groups[place : place + _WORDS]) for place in range(len(words))]
        begin = counts.index(max(counts))
    shown = excerpt(" ".join(words[begin : begin + 2 * _WORDS]))
    return f"... {shown}" if begin else shown


def _at_most(outside: list[Diagnostic]) -> list[Diagnostic]:
    """Return the first few of what stands outside reports, and the others in one sentence."""
    if len(outside) <= MOST_OUTSIDE:
        return outside
    # text with groups of figures may be a damaged report, so it goes before mere words
    by_weight = sorted(outside, key=lambda item: -len(_GROUP.findall(item.value or "")))
    first = {id(item) for item in by_weight[:MOST_OUTSIDE]}
    rest = [item for item in outside if id(item) not in first]
    begins, ends = zip(*(item.span for item in rest if item.span is not None), strict=True)
    summary = diagnostic(
        "text-outside-report",
        f"Not part of a report either: {len(rest):,} more places between characters "
        f"{min(begins):,} and {max(ends):,}.",
        span=(min(begins), max(ends)),
        value=rest[0].value,
    )
    return [*(item for item in outside if id(item) in first), summary]
