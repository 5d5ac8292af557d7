"""Parts that are not found where they stand: their letters are damaged, or ended by a stray ``=``.

Such a part is text outside reports. It is proposed as a part only if its time and station are those
of another part in the text, and a part is joined across ``=`` only if what follows goes on in its
rhythm. The other reading of the text has the same length, so that all offsets stay.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from encoder.codes import form_of_letters
from encoder.repair.proposal import Confidence, Evidence, Repair, RepairKind, wanted

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from encoder.diagnostics import Diagnostic
    from encoder.repair.proposal import RepairMode
    from encoder.report.meeting import Received

_OPENING = re.compile(
    r"(?<!\S)(?P<letters>[A-Z]{4}|[A-Z]{2}[ \t]{1,2}[A-Z]{2}|[A-Z][ \t][A-Z]{3}|[A-Z]{3}[ \t][A-Z])"
    r"[ \t\r\n]{1,40}(?P<time>[0-9]{4})[0-9/][ \t\r\n]{1,40}(?P<station>[0-9]{5})(?![^\s=])"
)
_GROUPS = re.compile(r"[ \t\r\n]*(?:[0-9/]{5}[ \t\r\n]+){2}")
LONGEST_TEXT = 100_000
"""Longer texts are not looked through: each trial reads the whole text again."""
MOST_PLACES = 20
"""So many damaged places are looked at in one text."""
MOST_FAULTS = 4
"""A part that is found by other letters has fewer findings than one group in so many."""


@dataclass(frozen=True, slots=True)
class Framing:
    """Another reading of what opens or ends a part.

    Attributes
    ----------
    kind : RepairKind
    span : tuple of int
    proposed : str
        What is read there, of the same length.
    letters : str
        Of the part concerned.
    """

    kind: RepairKind
    span: tuple[int, int]
    proposed: str
    letters: str

    def of(self, text: str) -> str:
        """Return a text with this reading."""
        begin, end = self.span
        return text[:begin] + self.proposed + text[end:]


def mend_framing(
    received: Sequence[Received],
    outside: Sequence[Diagnostic],
    text: str,
    read: Callable[[str], list[Received]],
    mode: RepairMode,
) -> tuple[list[Received] | None, list[Repair]]:
    """Look for parts outside the parts that were found.

    Parameters
    ----------
    received : sequence of Received
        Parts of the text, as read before any repair.
    outside : sequence of Diagnostic
        What stands outside them.
    text : str
        The received text.
    read : callable
        ``read(text)`` gives the parts of another text of the same length.
    mode : {"none", "safe", "all"}

    Returns
    -------
    received : list of Received or None
        Parts of the text with these repairs; None where nothing else is to be read.
    repairs : list of Repair
        Made and proposed.
    """
    if len(text) > LONGEST_TEXT:
        return None, []
    spans = [
        item.span
        for item in outside
        if item.code == "text-outside-report" and item.span is not None
    ]
    found = list(_candidates(received, spans, text))[:MOST_PLACES]
    good: list[tuple[Framing, Evidence]] = []
    now = text
    parts = list(received)
    for framing in found:
        other = framing.of(now)
        again = read(other)
        evidence = _evidence(framing, parts, again)
        if evidence is None:
            continue
        good.append((framing, evidence))
        now, parts = other, again
    applied = wanted(Confidence.SAFE, mode)
    repairs = [
        Repair(
            framing.kind,
            framing.span,
            text[framing.span[0] : framing.span[1]],
            framing.proposed.strip(),
            Confidence.SAFE,
            framing.letters,
            (evidence,),
            applied,
        )
        for framing, evidence in good
    ]
    if not (good and applied):
        return None, repairs
    parts = read(now)
    for item in parts:
        begin, end = item.span
        item.repairs.extend(one for one in repairs if begin <= one.span[0] < end)
    return parts, []


def _candidates(
    received: Sequence[Received], spans: Sequence[tuple[int, int]], text: str
) -> Iterator[Framing]:
    capitals = text.upper() if text.isascii() else text  # else capitals may be longer
    for begin, end in spans:
        for match in _OPENING.finditer(capitals, begin, end):
            letters = _letters_of(match, received)
            if letters is not None:
                span = match.span("letters")
                proposed = letters.ljust(span[1] - span[0])
                yield Framing(RepairKind.OPENING, span, proposed, letters)
    for item in received:
        at = item.span[1] - 1
        follows = any(begin > at and not text[at + 1 : begin].strip() for begin, _end in spans)
        if follows and text[at] == "=" and _GROUPS.match(text, at + 1):
            yield Framing(RepairKind.END, (at, at + 1), " ", item.letters)


def _letters_of(match: re.Match[str], received: Sequence[Received]) -> str | None:
    """Return the letters of a part that another one with the same time and station lacks."""
    given = "".join(match.group("letters").split())
    kin = [
        item
        for item in received
        if any(entry.text[:4] == match.group("time") for entry in item.decoded.trace[:3])
        and item.content.identification.get("station") == match.group("station")
    ]
    have = {item.letters for item in kin}
    possible: set[str] = set()
    for item in kin:
        form = form_of_letters(item.letters)
        if form is not None:
            possible.update(part.letters for part in form.parts)
    likely = [
        letters
        for letters in sorted(possible - have)
        if len(letters) == len(given)
        and sum(a != b for a, b in zip(letters, given, strict=True)) <= 1
    ]
    return likely[0] if len(likely) == 1 else None


def _evidence(
    framing: Framing, before: Sequence[Received], after: Sequence[Received]
) -> Evidence | None:
    """Return what speaks for another reading, None where it does not serve."""
    from encoder.repair.rhythm import cost

    begin = framing.span[0]
    part = next((item for item in after if item.span[0] <= begin < item.span[1]), None)
    if part is None:
        return None
    faults = cost(part.decoded)
    if framing.kind is RepairKind.END:
        cut = next((item for item in before if item.span[0] <= begin < item.span[1]), None)
        if cut is None or part.letters != cut.letters or faults > cost(cut.decoded):
            return None
        lost = len(part.tokens) - len(cut.tokens)
        return Evidence("groups outside the part", float(lost), 0.0, "groups", 0.0)
    if part.letters != framing.letters or MOST_FAULTS * faults > 3 * len(part.tokens):
        return None
    return Evidence("groups outside the part", float(len(part.tokens)), 0.0, "groups", 0.0)
