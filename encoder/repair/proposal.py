"""What a repair is: another reading of some characters, and the checks that speak for it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any, Literal

from encoder.diagnostics import diagnostic, excerpt

if TYPE_CHECKING:
    from encoder.diagnostics import Diagnostic

RepairMode = Literal["none", "safe", "all"]
"""Which proposals are read: none of them, those of which only one reading is possible, or all."""
REPAIR_MODES: tuple[RepairMode, ...] = ("none", "safe", "all")


class RepairKind(StrEnum):
    """What happened to the characters."""

    LETTERS = "letters for figures"
    LETTER_SHIFT = "letter shift"
    MARKS = "marks between figures"
    STUCK = "stuck groups"
    SPLIT = "split group"
    BROKEN_LINE = "broken across a line"
    TWICE = "sent twice"
    FOREIGN = "foreign word"
    LOST_FIGURE = "lost figure"
    EXTRA_FIGURE = "extra figure"
    LEVEL_NUMBER = "level number"
    INDICATOR = "indicator figure"
    MARKER = "section marker"
    OPENING = "letters of the part"
    END = "stray end sign"
    LAST_WIND = "figure Id"
    TIME = "time group"
    STATION = "station number"
    UNIT = "wind unit"
    HEIGHT = "height figure"
    TEMPERATURE = "temperature figure"
    SIGN = "sign figure"
    PRESSURE = "pressure figure"
    WIND = "wind figure"


class Confidence(StrEnum):
    """How sure a proposal is."""

    SAFE = "safe"
    """Only one reading is possible, and a check confirms it."""
    WEAK = "weak"
    """A check speaks for it, but other readings are possible too."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """A check that speaks for a repair.

    Attributes
    ----------
    check : str
        Which check.
    before, after : float
        Its number as received, and with the repair.
    unit : str
    limit : float
        Up to this number the check is passed.
    """

    check: str
    before: float
    after: float
    unit: str
    limit: float

    def as_text(self) -> str:
        """Return the check in words."""
        unit = f" {self.unit}" if self.unit else ""
        return (
            f"{self.check}: {self.before:.4g}{unit} as received, {self.after:.4g}{unit} "
            f"repaired (limit {self.limit:.4g})"
        )


@dataclass(frozen=True, slots=True)
class Repair:
    """A proposal to read some characters in another way.

    Attributes
    ----------
    kind : RepairKind
    span : tuple of int
        Offsets in the received text.
    original : str
        The characters there, verbatim.
    proposed : str
        Groups to be read instead, separated by blanks; "" where nothing is to be read.
    confidence : Confidence
    part : str
        Letters of the part.
    evidence : tuple of Evidence
    applied : bool
        Whether it was read so.
    """

    kind: RepairKind
    span: tuple[int, int]
    original: str
    proposed: str
    confidence: Confidence
    part: str
    evidence: tuple[Evidence, ...] = ()
    applied: bool = False

    def as_json(self) -> dict[str, Any]:
        """Return a dictionary for JSON."""
        document = asdict(self)
        document["kind"] = str(self.kind)
        document["confidence"] = str(self.confidence)
        document["span"] = list(self.span)
        document["evidence"] = [asdict(item) for item in self.evidence]
        return document


def wanted(confidence: Confidence, mode: RepairMode) -> bool:
    """Tell whether a proposal of that confidence is read in a mode."""
    return mode == "all" or (mode == "safe" and confidence is Confidence.SAFE)


def as_diagnostic(repair: Repair) -> Diagnostic:
    """Return what is told about a repair: that it was made, or how it would be read."""
    shown = excerpt(" ".join(repair.original.split()))
    reading = repair.proposed or "nothing"
    said = "; ".join(item.as_text() for item in repair.evidence)
    because = f" ({said})" if said else ""
    if repair.applied:
        return diagnostic(
            "repaired",
            f"{repair.kind.capitalize()}: {shown!r} was read as {reading}{because}.",
            span=repair.span,
            path=(repair.part,),
            value=excerpt(repair.original),
            expected=repair.proposed,
        )
    option = "safe" if repair.confidence is Confidence.SAFE else "all"
    return diagnostic(
        "repair-proposed",
        f"{repair.kind.capitalize()}: {shown!r} may stand for {reading}{because}.",
        span=repair.span,
        path=(repair.part,),
        value=excerpt(repair.original),
        expected=repair.proposed,
        hint=f"It would be read as {reading} with --repair {option}.",
    )
