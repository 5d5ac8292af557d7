"""The account a reader keeps: which characters say what, and what is wrong with them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from encoder.diagnostics import Diagnostic, diagnostic, excerpt
from encoder.trace import entry_as_read

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.codes.declare import Group, Section, Values
    from encoder.trace import TraceEntry


CORRECTION = "COR"
"""Word of a part that corrects an earlier one; a practice of some services (from memory)."""


class Token(NamedTuple):
    """Characters between blanks, with their place in the received text."""

    text: str
    start: int
    end: int


@dataclass(slots=True)
class Account:
    """Trace and diagnostics of one part.

    Attributes
    ----------
    letters : str
        Letters of the part.
    trace : list of TraceEntry
        One entry a group.
    found : list of Diagnostic
    """

    letters: str
    trace: list[TraceEntry] = field(default_factory=list)
    found: list[Diagnostic] = field(default_factory=list)

    def enter(
        self,
        token: Token,
        section: str,
        symbol: str,
        record: int | None = None,
        values: Values | None = None,
    ) -> None:
        """Note what a group of a section was read as."""
        text, start, end = token
        said = {} if values is None else values
        self.trace.append(
            entry_as_read(
                (start, end), text, self.letters, section, symbol, record=record, values=said
            )
        )

    def fault(
        self,
        code: str,
        message: str,
        token: Token,
        path: tuple[str | int, ...],
        expected: str | None = None,
    ) -> None:
        """Note a fault of one group."""
        self.found.append(
            diagnostic(
                code,
                message,
                span=(token.start, token.end),
                path=(self.letters, *path),
                value=excerpt(token.text),
                expected=expected,
            )
        )

    def malformed(
        self, token: Token, section: Section, group: Group, values: Values, record: int
    ) -> None:
        """Note a group that has not the look it should have."""
        self.fault(
            "group-malformed",
            f"Expected {group.symbol} ({group.title}), got {excerpt(token.text)!r}; "
            "its values are missing.",
            token,
            (section.number, label(values, record), group.symbol),
            group.symbol,
        )

    def missing(self, at: int, section: Section, group: Group, values: Values, where: str) -> None:
        """Note a group that is not there, at the offset where it should be."""
        self.found.append(
            diagnostic(
                "group-missing",
                f"Expected {group.symbol} ({group.title}), but {where}.",
                span=(at, at),
                path=(self.letters, section.number, label(values, 0), group.symbol),
                expected=group.symbol,
            )
        )

    def correction(self, token: Token) -> None:
        """Note that the part says it is a correction."""
        self.fault(
            "correction-announced",
            f"{CORRECTION} says that this part corrects an earlier one.",
            token,
            ("1", CORRECTION),
        )

    def unread(self, tokens: Sequence[Token]) -> None:
        """Note groups that fit nowhere; nothing where there are none."""
        if not tokens:
            return
        words = excerpt(" ".join(token.text for token in tokens[:8]))
        more = f" and {len(tokens) - 8} more" if len(tokens) > 8 else ""
        self.found.append(
            diagnostic(
                "group-unexpected",
                f"No group of the code fits here; kept as received, not read: {words}{more}.",
                span=(tokens[0].start, tokens[-1].end),
                path=(self.letters,),
                value=words,
            )
        )


def label(values: Values, record: int) -> str | int:
    """Return how a record is called in the path of a diagnostic."""
    pressure = values.get("air_pressure")
    return f"{pressure:g} hPa" if isinstance(pressure, float) else record
