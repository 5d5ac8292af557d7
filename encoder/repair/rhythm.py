"""Candidates for what damaged groups were, and the search for those that restore the rhythm.

The rhythm of groups decides: a candidate is tried by reading the part with it, and counts only if
fewer things are wrong then. Nothing is looked at but groups that could not be read where they stand
and their neighbours.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple

from encoder.codes.account import Token
from encoder.codes.declare import CODE_CHARACTERS
from encoder.codes.decode import decode_part
from encoder.codes.groups import NUMBERS, next_number
from encoder.repair.proposal import Confidence, Evidence, Repair, RepairKind, wanted
from encoder.repair.spelling import MARKS, spellings

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from encoder.codes.declare import Part
    from encoder.codes.decode import DecodedPart
    from encoder.repair.proposal import RepairMode

WIDTH = 5
MOST_TRIALS = 120
"""Readings tried for one part; damage beyond that is left as it is."""
MOST_ROUNDS = 12
"""Damaged places looked at in one part."""
COPY_REACH = 7
"""Groups looked back for one that was sent twice."""
LONGEST_COPY = 14
"""Groups of a line that was sent twice; a line has at most 69 characters (WMO-No. 386)."""

COSTS = {
    "group-unexpected": 3,
    "group-malformed": 3,
    "group-missing": 3,
    "letters-wrong": 3,
    "indicator-wrong": 3,
    "station-unknown": 3,
    "time-impossible": 3,
    "pressure-impossible": 3,
    "figures-impossible": 3,
    "figures-partly-missing": 2,
    "depression-unused-figure": 2,
    "humidity-without-temperature": 2,
    "wind-direction-impossible": 2,
    "wind-calm-direction": 2,
    "wind-half-missing": 2,
    "wind-unit-unknown": 2,
    "not-a-standard-level": 3,
    "level-number": 3,
    "level-order": 3,
    "last-wind-figure": 2,
    "height-inconsistent": 2,
    "position-unknown": 2,
    "marsden-square": 2,
}
"""What a finding weighs in the choice between readings (common practice, no source)."""
LEAST_GAIN = 2
LAST_WIND_FIGURES = "012345789"
"""Figures of code table 1734."""
_OF_LEVELS = ("last-wind-figure", "height-inconsistent")
"""Findings that are not about the group they are shown at."""
_EXACT = frozenset(
    (
        RepairKind.LETTERS,
        RepairKind.LETTER_SHIFT,
        RepairKind.MARKS,
        RepairKind.STUCK,
        RepairKind.SPLIT,
        RepairKind.BROKEN_LINE,
        RepairKind.TWICE,
        RepairKind.FOREIGN,
        RepairKind.LEVEL_NUMBER,
        RepairKind.INDICATOR,
        RepairKind.MARKER,
        RepairKind.LOST_FIGURE,
        RepairKind.EXTRA_FIGURE,
    )
)
"""Kinds that are safe when they restore the rhythm and nothing else does."""


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


@dataclass(slots=True)
class Mended:
    """A part read with repairs.

    Attributes
    ----------
    tokens : list of Token
        Groups as read.
    decoded : DecodedPart
    repairs : list of Repair
        Made and proposed.
    """

    tokens: list[Token]
    decoded: DecodedPart
    repairs: list[Repair] = field(default_factory=list)


def cost(decoded: DecodedPart) -> int:
    """Return how much is wrong with a reading."""
    unread = sum(1 for entry in decoded.trace if entry.symbol == "unread")
    return 3 * unread + sum(COSTS.get(item.code, 0) for item in decoded.diagnostics)


def mend_rhythm(
    tokens: Sequence[Token],
    part: Part,
    decoded: DecodedPart,
    text: str,
    *,
    mode: RepairMode,
) -> Mended:
    """Look for readings of damaged groups that restore the rhythm of a part.

    Parameters
    ----------
    tokens : sequence of Token
        Groups as received.
    part : Part
    decoded : DecodedPart
        The part as read without repairs.
    text : str
        The received text, for the characters of the tokens and between them.
    mode : {"none", "safe", "all"}
        Which proposals are made.

    Returns
    -------
    Mended
        In mode "none" the tokens and reading given, with the proposals.
    """
    # without repairs the safe ones are made on a copy, so that what follows them is seen aright
    trial = _Search(list(tokens), part, decoded, text, "safe" if mode == "none" else mode)
    trial.run()
    if mode == "none":
        proposed = [replace(item, applied=False) for item in trial.repairs]
        return Mended(list(tokens), decoded, proposed)
    return Mended(trial.tokens, trial.decoded, trial.repairs)


@dataclass(slots=True)
class _Search:
    tokens: list[Token]
    part: Part
    decoded: DecodedPart
    text: str
    mode: RepairMode
    repairs: list[Repair] = field(default_factory=list)
    trials: int = 0

    def run(self) -> None:
        """Look at every suspect group in turn, for safe repairs first.

        A repair may clear the way for another, so each kind of turn is taken again after success.
        """
        asked = self.mode
        turns: tuple[RepairMode, ...] = ("safe",) if asked == "safe" else ("safe", "all")
        for mode in turns:
            self.mode = mode
            if self._turn():
                self._turn()
        self.settle_last_wind()

    def _turn(self) -> bool:
        """Look at every suspect group once; tell whether a repair was made."""
        read = self.decoded
        done = -1
        for _round in range(MOST_ROUNDS):
            suspects = [place for place in self.suspects() if self.tokens[place].start > done]
            if not suspects or self.trials >= MOST_TRIALS:
                break
            done = self.tokens[suspects[0]].start
            self.settle(suspects[0])
        return self.decoded is not read

    def suspects(self) -> list[int]:
        """Return the groups that findings are about, and those just before what is missing."""
        spans = [
            item.span
            for item in self.decoded.diagnostics
            if item.span is not None and item.code in COSTS and item.code not in _OF_LEVELS
        ]
        shapeless = {
            entry.span[0]
            for entry in self.decoded.trace
            if entry.symbol == "unread"
            or (len(entry.text) != WIDTH and entry.symbol not in ("verbatim", "MiMiMjMj", "D....D"))
        }
        return [
            place
            for place, token in enumerate(self.tokens)
            if place
            and (
                token.start in shapeless
                or any(first <= token.start < max(last, first + 1) for first, last in spans)
            )
        ]

    def settle(self, place: int) -> None:
        """Try every candidate for one place, and keep the only best one."""
        before = cost(self.decoded)
        outcomes: list[tuple[int, Candidate, list[Token], DecodedPart]] = []
        seen: set[tuple[str, ...]] = set()
        for candidate in candidates(self.tokens, place, self.part, self.decoded, self.text):
            changed = [
                *self.tokens[: candidate.begin],
                *candidate.tokens,
                *self.tokens[candidate.end :],
            ]
            words = tuple(token.text for token in changed)
            if words in seen:
                continue
            if self.trials >= MOST_TRIALS:
                return
            seen.add(words)
            self.trials += 1
            read = decode_part(changed, self.part, self.decoded.content.form)
            after = cost(read)
            if after <= before - LEAST_GAIN:
                outcomes.append((after, candidate, changed, read))
        if any(outcome[1].kind is not RepairKind.FOREIGN for outcome in outcomes):
            outcomes = [item for item in outcomes if item[1].kind is not RepairKind.FOREIGN]
        if not outcomes:
            return
        least = min(outcome[0] for outcome in outcomes)
        best = [outcome for outcome in outcomes if outcome[0] == least]
        after, candidate, changed, read = best[0]
        if self.troubled(candidate, read, beside=0):
            return
        sure = (
            len(best) == 1
            and not self.troubled(candidate, read, beside=1)
            and candidate.sure
            and candidate.kind in _EXACT
            and before - after >= 3
        )
        if len(best) > 1 and len({outcome[1].kind for outcome in best}) == 1:
            return  # one kind of damage, several readings: nothing tells which
        confidence = Confidence.SAFE if sure else Confidence.WEAK
        applied = wanted(confidence, self.mode)
        self.propose(candidate, confidence, _faults("rhythm of groups", before, after))
        if applied:
            self.tokens, self.decoded = changed, read

    def troubled(self, candidate: Candidate, read: DecodedPart, *, beside: int) -> bool:
        """Tell whether something is wrong still at the repaired groups, or beside them."""
        first = self.tokens[max(candidate.begin - beside, 0)].start
        last = self.tokens[min(candidate.end - 1 + beside, len(self.tokens) - 1)].end
        return any(
            item.span is not None
            and item.code in COSTS
            and item.code not in _OF_LEVELS
            and item.span[0] < last
            and first < max(item.span[1], item.span[0] + 1)
            for item in read.diagnostics
        )

    def propose(self, candidate: Candidate, confidence: Confidence, evidence: Evidence) -> None:
        span = (self.tokens[candidate.begin].start, self.tokens[candidate.end - 1].end)
        self.repairs = [item for item in self.repairs if item.applied or item.span != span]
        self.repairs.append(
            Repair(
                candidate.kind,
                span,
                self.text[span[0] : span[1]],
                " ".join(token.text for token in candidate.tokens),
                confidence,
                self.part.letters,
                (evidence,),
                applied=wanted(confidence, self.mode),
            )
        )

    def settle_last_wind(self) -> None:
        """Try the other figures Id where it contradicts the wind groups."""
        code = "last-wind-figure"
        place = next(
            (
                place
                for place, token in enumerate(self.tokens)
                if any(
                    entry.symbol == "YYGGId" and entry.span[0] == token.start
                    for entry in self.decoded.trace
                )
            ),
            None,
        )
        if place is None or all(item.code != code for item in self.decoded.diagnostics):
            return
        token = self.tokens[place]
        if len(token.text) != WIDTH:
            return
        before = cost(self.decoded)
        outcomes = []
        for figure in LAST_WIND_FIGURES:
            other = Token(token.text[:4] + figure, token.start, token.end)
            changed = [*self.tokens[:place], other, *self.tokens[place + 1 :]]
            read = decode_part(changed, self.part, self.decoded.content.form)
            outcomes.append((cost(read), figure, changed, read))
        least = min(outcome[0] for outcome in outcomes)
        best = [outcome for outcome in outcomes if outcome[0] == least]
        if len(best) != 1 or before - least < 2 * COSTS[code]:
            return  # a single contradiction is rather a wind that was lost
        after, _figure, changed, read = best[0]
        clean = all(item.code != code for item in read.diagnostics)
        confidence = Confidence.SAFE if clean else Confidence.WEAK
        candidate = Candidate(RepairKind.LAST_WIND, place, place + 1, (changed[place],))
        self.propose(candidate, confidence, _faults("figure Id and winds", before, after))
        if wanted(confidence, self.mode):
            self.tokens, self.decoded = changed, read


def _faults(check: str, before: int, after: int) -> Evidence:
    return Evidence(check, float(before), float(after), "points of fault", 0.0)


# --- candidates ---------------------------------------------------------------------------------


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
