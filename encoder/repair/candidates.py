"""Candidates for what damaged groups were: other spellings, joined and divided groups, beginnings.

Nothing is looked at but groups that could not be read where they stand and their neighbours; which
candidate is right the rhythm of groups tells (:mod:`encoder.repair.rhythm`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from encoder.codes.account import Token
from encoder.codes.declare import CODE_CHARACTERS
from encoder.codes.elements import figures_to_pressure, number
from encoder.codes.groups import NUMBERS, next_number
from encoder.repair.proposal import RepairKind
from encoder.repair.spelling import MARKS, spellings

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from encoder.codes.declare import Part
    from encoder.codes.decode import DecodedPart
    from encoder.trace import TraceEntry

WIDTH = 5
COPY_REACH = 7
"""Groups looked back for one that was sent twice."""
LONGEST_COPY = 14
"""Groups of a line that was sent twice; a line has at most 69 characters (WMO-No. 386)."""


class Candidate(NamedTuple):
    """Groups to be read instead of some tokens.

    Attributes
    ----------
    kind : RepairKind
    begin, end : int
        Tokens that are replaced.
    tokens : tuple of Token
        What is read instead; empty where nothing is.
    sure : bool
        Whether the characters allow no other reading of this kind.
    """

    kind: RepairKind
    begin: int
    end: int
    tokens: tuple[Token, ...]
    sure: bool = True


def candidates(
    tokens: Sequence[Token], place: int, part: Part, decoded: DecodedPart, text: str
) -> Iterator[Candidate]:
    """Yield what the groups at a place may have been, the likeliest first.

    Parameters
    ----------
    tokens : sequence of Token
    place : int
        A group that could not be read where it stands.
    part : Part
    decoded : DecodedPart
        Reading of the tokens; tells which level numbers and markers are due.
    text : str
        The received text.

    Yields
    ------
    Candidate
    """
    yield from _respelled(tokens, place)
    yield from _rejoined(tokens, place, text)
    yield from _copies(tokens, place)
    yield from _beginnings(tokens, place, part, decoded)
    yield from _lost_marker(tokens, place, part, decoded)
    yield from _other_pressures(tokens, place, part, decoded)
    yield from _one_figure_less(tokens, place)
    token = tokens[place]
    if not _is_group(token.text):
        figures = sum(char.isdigit() for char in token.text)
        yield Candidate(RepairKind.FOREIGN, place, place + 1, (), sure=figures == 0)


def _is_group(text: str) -> bool:
    return len(text) == WIDTH and CODE_CHARACTERS.issuperset(text)


def _fives(text: str, offsets: Sequence[int]) -> tuple[Token, ...]:
    return tuple(
        Token(text[at : at + WIDTH], offsets[at], offsets[at + WIDTH - 1] + 1)
        for at in range(0, len(text), WIDTH)
    )


def _respelled(tokens: Sequence[Token], place: int) -> Iterator[Candidate]:
    token = tokens[place]
    for spelling in spellings(token.text, token.start):
        if len(spelling.text) % WIDTH == 0:
            groups = _fives(spelling.text, spelling.offsets)
            yield Candidate(spelling.kind, place, place + 1, groups, spelling.sure)
    if (
        len(token.text) % WIDTH == 0
        and len(token.text) > WIDTH
        and CODE_CHARACTERS.issuperset(token.text)
    ):
        groups = _fives(token.text, range(token.start, token.start + len(token.text)))
        yield Candidate(RepairKind.STUCK, place, place + 1, groups)


def _rejoined(tokens: Sequence[Token], place: int, text: str) -> Iterator[Candidate]:
    """Join pieces of groups that lie beside each other."""
    for begin in (place, place - 1, place - 2):
        for count in (2, 3, 4):
            end = begin + count
            if begin < 1 or end > len(tokens) or not begin <= place < end:
                continue
            run = tokens[begin:end]
            if _is_group(run[0].text) or _is_group(run[-1].text):
                continue
            pairs = [
                (char, token.start + at)
                for token in run
                for at, char in enumerate(token.text)
                if char not in MARKS
            ]
            if len(pairs) % WIDTH or not pairs or len(pairs) > WIDTH * (count - 1):
                continue
            joined = "".join(char for char, _at in pairs)
            if not CODE_CHARACTERS.issuperset(joined):
                continue
            gaps = text[run[0].end : run[-1].start]
            broken = "\n" in gaps or "\r" in gaps
            yield Candidate(
                RepairKind.BROKEN_LINE if broken else RepairKind.SPLIT,
                begin,
                end,
                _fives(joined, [at for _char, at in pairs]),
            )


def _copies(tokens: Sequence[Token], place: int) -> Iterator[Candidate]:
    """Leave out a second copy of one or more groups."""
    words = [token.text for token in tokens]
    for count in range(1, LONGEST_COPY + 1):
        back = max(2 * count, COPY_REACH)
        for begin in range(max(1, place - back), place + 1):
            middle, end = begin + count, begin + 2 * count
            if end <= len(words) and words[begin:middle] == words[middle:end]:
                yield Candidate(RepairKind.TWICE, middle, end, ())


def _one_figure_less(tokens: Sequence[Token], place: int) -> Iterator[Candidate]:
    token = tokens[place]
    if len(token.text) != WIDTH + 1 or not CODE_CHARACTERS.issuperset(token.text):
        return
    for at in range(WIDTH + 1):
        shorter = token.text[:at] + token.text[at + 1 :]
        group = Token(shorter, token.start, token.end)
        yield Candidate(RepairKind.EXTRA_FIGURE, place, place + 1, (group,), sure=False)


def _beginnings(
    tokens: Sequence[Token], place: int, part: Part, decoded: DecodedPart
) -> Iterator[Candidate]:
    """Give a group the first figures that are due at its place."""
    token = tokens[place]
    if not WIDTH - 1 <= len(token.text) <= WIDTH + 1 or not CODE_CHARACTERS.issuperset(token.text):
        return
    entry = next((item for item in decoded.trace if item.span[0] == token.start), None)
    if entry is None or (entry.symbol in _INNER and len(token.text) <= WIDTH):
        return
    numbers, indicators, markers = due_beginnings(part, decoded, token.start)
    for kind, beginnings in (
        (RepairKind.LEVEL_NUMBER, numbers),
        (RepairKind.INDICATOR, indicators),
        (RepairKind.MARKER, markers),
    ):
        for turn, beginning in enumerate(beginnings):
            groups = {_with_beginning(token.text, beginning), _turned(token.text, beginning)}
            groups -= {None, token.text}
            own = kind
            if kind is not RepairKind.MARKER and len(token.text) != WIDTH:
                lost = len(token.text) < WIDTH
                own = RepairKind.LOST_FIGURE if lost else RepairKind.EXTRA_FIGURE
            sure = kind is not RepairKind.LEVEL_NUMBER or turn == 0
            for group in sorted(group for group in groups if group is not None):
                changed = (Token(group, token.start, token.end),)
                yield Candidate(own, place, place + 1, changed, sure)


def _lost_marker(
    tokens: Sequence[Token], place: int, part: Part, decoded: DecodedPart
) -> Iterator[Candidate]:
    """Put 21212 before a group at which the level numbers begin anew, at the same surface."""
    first = next((entry for entry in decoded.trace if entry.symbol == "nnPPP"), None)
    token = tokens[place]
    if first is None or "21212" not in part.marked or token.text != first.text:
        return
    if first.span[0] == token.start or any(item.text == "21212" for item in tokens):
        return
    marker = Token("21212", token.start, token.start)
    yield Candidate(RepairKind.MARKER, place, place + 1, (marker, token))


def _other_pressures(
    tokens: Sequence[Token], place: int, part: Part, decoded: DecodedPart
) -> Iterator[Candidate]:
    """Put another figure for one, or turn two round, in a pressure out of order."""
    order = [
        item.span[0]
        for item in decoded.diagnostics
        if item.code == "level-order" and item.span is not None
    ]
    if tokens[place].start not in order:
        return
    levels = [entry for entry in decoded.trace if entry.symbol == "nnPPP"]
    at = next((at for at, entry in enumerate(levels) if entry.span[0] == tokens[place].start), None)
    if at is None:
        return
    for wrong in (at, at - 1):
        if wrong < 1 or wrong + 1 >= len(levels):
            continue
        own = next(
            (n for n, item in enumerate(tokens) if item.start == levels[wrong].span[0]), None
        )
        above, below = _pressure(levels[wrong - 1]), _pressure(levels[wrong + 1])
        if own is None or above is None or below is None:
            continue
        token = tokens[own]
        for text in sorted(one_figure_away(token.text, 2)):
            pressure, _faults = figures_to_pressure(text[2:], part.context())
            if pressure is not None and below < pressure < above:
                changed = Token(text, token.start, token.end)
                yield Candidate(RepairKind.PRESSURE, own, own + 1, (changed,), sure=False)


def _pressure(entry: TraceEntry) -> float | None:
    return number(entry.values.get("air_pressure"))


def one_figure_away(text: str, begin: int) -> set[str]:
    """Return a group of figures with one other figure, or two neighbours turned round."""
    if not text.isdigit():
        return set()
    found = {
        text[:at] + figure + text[at + 1 :]
        for at in range(begin, len(text))
        for figure in "0123456789"
    }
    found |= {
        text[:at] + text[at + 1] + text[at] + text[at + 2 :] for at in range(begin, len(text) - 1)
    }
    return found - {text}


_INNER = ("TTTaDD", "ddfff", "4vbvbvava", "verbatim")
"""Groups that never begin a level."""


def _with_beginning(text: str, beginning: str) -> str | None:
    """Return the group with that beginning if one figure tells them apart, else None."""
    width = len(beginning)
    if len(text) == WIDTH:
        wrong = sum(a != b for a, b in zip(text, beginning, strict=False))
        swapped = sorted(text[:width]) == sorted(beginning) and wrong == 2
        return beginning + text[width:] if wrong == 1 or swapped else None
    if text.startswith(beginning) and width < WIDTH:
        return None  # the fault lies behind the beginning
    if len(text) < WIDTH:
        rest = text[width - 1 :]
        lost = any(text[: width - 1] == beginning[:at] + beginning[at + 1 :] for at in range(width))
        return beginning + rest if lost else None
    rest = text[width + 1 :]
    gained = any(
        text[:at] + text[at + 1 : width + 1] == beginning for at in range(min(width + 1, len(text)))
    )
    return beginning + rest if gained else None


def _turned(text: str, beginning: str) -> str | None:
    """Return the group with that beginning if two figures changed places, else None."""
    at = len(beginning) - 1
    if len(text) != WIDTH or len(beginning) >= WIDTH:
        return None
    turned = text[:at] + text[at + 1] + text[at] + text[at + 2 :]
    return turned if turned.startswith(beginning) else None


def due_beginnings(
    part: Part, decoded: DecodedPart, offset: int
) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    """Return the first figures that may come next at an offset.

    Returns
    -------
    numbers, indicators, markers : tuple of str
        Level numbers or standard levels; indicators of sections 2 to 4; markers of sections.
    """
    number, last, section = "", "", "1"
    for entry in decoded.trace:
        if entry.span[0] >= offset:
            break
        section = entry.section if entry.symbol != "unread" else section
        if entry.symbol == "nnPPP":
            number = entry.text[:2]
        elif entry.symbol == "PPhhh":
            last = entry.text[:2]
    places = {item.number: at for at, item in enumerate(part.sections)}
    at = places.get(section, 0)
    ahead = part.sections[at:]
    markers = tuple(
        marker for item in ahead for marker in ((item.marker,) if item.marker is not None else ())
    )
    numbers: tuple[str, ...] = ()
    if section in ("5", "6") and number:
        numbers = (next_number(number),) if number in ("00", *NUMBERS) else ()
    elif section in ("1", "2") and part.standard:
        names = list(part.standard)
        first = names.index(last) + 1 if last in names else 0
        numbers = tuple(names[first : first + 3])
    elif section == "1":
        numbers = ("00",) if part.letter == "B" else ("11",)
    indicators: tuple[str, ...] = ()
    if part.standard:
        indicators = ("99",) if section == "1" else ("88", "77", "66")
        indicators += ("88999", "77999")
    return numbers, indicators, markers
