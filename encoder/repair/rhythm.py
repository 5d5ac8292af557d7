"""The search for readings of damaged groups that restore the rhythm.

The rhythm of groups decides: a candidate is tried by reading the part with it, and counts only if
fewer things are wrong then. Nothing is looked at but groups that could not be read where they stand
and their neighbours.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from encoder.codes.account import CORRECTION, Token
from encoder.codes.decode import decode_part
from encoder.repair.candidates import WIDTH, Candidate, candidates
from encoder.repair.proposal import Confidence, Evidence, Repair, RepairKind, wanted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.codes.declare import Part
    from encoder.codes.decode import DecodedPart
    from encoder.repair.proposal import RepairMode

MOST_TRIALS = 120
"""Readings tried for one part; damage beyond that is left as it is."""
MOST_ROUNDS = 12
"""Damaged places looked at in one part."""
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
_ANY_WIDTH = ("verbatim", "MiMiMjMj", "D....D", "NIL", CORRECTION)
"""What need not be a group of five figures."""
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
_OTHER_FIGURES = (
    RepairKind.LEVEL_NUMBER,
    RepairKind.INDICATOR,
    RepairKind.LOST_FIGURE,
    RepairKind.EXTRA_FIGURE,
    RepairKind.PRESSURE,
)
"""Kinds that put figures nobody received: what stands beside them must be in order then."""


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
            or (len(entry.text) != WIDTH and entry.symbol not in _ANY_WIDTH)
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
        if self.troubled(candidate, read, beside=int(candidate.kind in _OTHER_FIGURES)):
            return
        if _out_of_order(read) > _out_of_order(self.decoded):
            return  # what follows does not go with it
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


def _out_of_order(decoded: DecodedPart) -> int:
    return sum(item.code == "level-order" for item in decoded.diagnostics)


def _faults(check: str, before: int, after: int) -> Evidence:
    return Evidence(check, float(before), float(after), "points of fault", 0.0)
