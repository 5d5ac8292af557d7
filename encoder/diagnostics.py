"""Diagnostics: what is wrong, where, why, and what to do about it.

Every step that can meet a fault returns a :class:`Result`: the value it could make and the
diagnostics it has to tell. The codes are stable and listed in :mod:`encoder.catalogue`.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from enum import StrEnum
from typing import TYPE_CHECKING, Any, Generic, NamedTuple, TypeVar

from encoder.errors import ReportError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

ValueT = TypeVar("ValueT")


class Severity(StrEnum):
    """How much a diagnostic weighs."""

    ERROR = "error"
    """The thing must not be used or sent as it is."""
    WARNING = "warning"
    """Somebody has to look before it is sent."""
    NOTE = "note"
    """Told so that nothing happens silently."""


@dataclass(frozen=True, slots=True)
class Rule:
    """One entry of the catalogue: the fixed part of every diagnostic with that code.

    Attributes
    ----------
    severity : Severity
        Default severity.
    title : str
        What this code means, one sentence without the particulars.
    hint : str
        What to do about it.
    source : str
        Regulation, table or paper, or "common practice, no source", or "" for our own rules.
    """

    severity: Severity
    title: str
    hint: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class Diagnostic:
    """One finding.

    Attributes
    ----------
    code : str
        Stable name, for example ``"group-not-figures"``; a key of ``CATALOGUE``.
    severity : Severity
        error, warning or note.
    message : str
        One sentence with the particulars: what was expected, what was found.
    file : str or None
        File the finding belongs to.
    line : int or None
        1-based line in that file.
    span : tuple of int or None
        Start and end offset (characters) in the received text.
    path : tuple of str or int
        Place in a document or report, for example ``("TTAA", "2", 850, "TTTaDD")``.
    rows : tuple of int
        1-based lines of ``profile.csv`` concerned (first and last when there are many).
    value : str or None
        The offending text, verbatim; only its beginning where it is long (see ``excerpt``).
    expected : str or None
        What would have been right.
    hint : str
        What to do about it.
    source : str
        Regulation or table behind the rule.
    """

    code: str
    severity: Severity
    message: str
    file: str | None = None
    line: int | None = None
    span: tuple[int, int] | None = None
    path: tuple[str | int, ...] = ()
    rows: tuple[int, ...] = ()
    value: str | None = None
    expected: str | None = None
    hint: str = ""
    source: str = ""

    def as_json(self) -> dict[str, Any]:
        """Return a dictionary that validates against ``diagnostic.schema.json``."""
        document = {name: getattr(self, name) for name in _FIELDS}
        document["severity"] = str(self.severity)
        document["span"] = list(self.span) if self.span else None
        document["path"] = list(self.path)
        document["rows"] = list(self.rows)
        return document

    def where(self) -> str:
        """Return the place as text: file, line, report path and offsets, as far as known."""
        words: list[str] = []
        if self.file is not None:
            words.append(self.file if self.line is None else f"{self.file}:{self.line}")
        elif self.line is not None:
            words.append(f"line {self.line}")
        if self.path:
            words.append("/".join(str(step) for step in self.path))
        if self.span is not None:
            words.append(f"characters {self.span[0]}-{self.span[1]}")
        if self.rows:
            first, last = self.rows[0], self.rows[-1]
            words.append(f"row {first}" if first == last else f"rows {first}-{last}")
        return ", ".join(words)

    def as_text(self) -> str:
        """Return the finding as one to two lines of text."""
        where = self.where()
        head = f"{self.severity} {self.code}: {self.message}"
        if where:
            head += f" [{where}]"
        return head + (f"\n    -> {self.hint}" if self.hint else "")


_FIELDS = tuple(field.name for field in fields(Diagnostic))


class Result(NamedTuple, Generic[ValueT]):
    """A value and what there is to say about it."""

    value: ValueT
    diagnostics: tuple[Diagnostic, ...] = ()

    def raise_for_errors(self) -> ValueT:
        """Return the value, or raise one exception that lists every error diagnostic.

        Raises
        ------
        ReportError
            If any diagnostic is an error.
        """
        errors = [item for item in self.diagnostics if item.severity is Severity.ERROR]
        if errors:
            text = "; ".join(f"{item.code}: {item.message}" for item in errors)
            raise ReportError(text, errors)
        return self.value


def diagnostic(
    code: str,
    message: str,
    *,
    severity: Severity | None = None,
    file: str | None = None,
    line: int | None = None,
    span: tuple[int, int] | None = None,
    path: Iterable[str | int] = (),
    rows: Iterable[int] = (),
    value: str | None = None,
    expected: str | None = None,
    hint: str | None = None,
    source: str | None = None,
) -> Diagnostic:
    """Make a diagnostic, taking severity, hint and source from the catalogue.

    Parameters
    ----------
    code : str
        A key of :data:`encoder.catalogue.CATALOGUE`.
    message : str
        The sentence with the particulars.
    severity, hint, source : optional
        Given only where this one case differs from the catalogue.
    file, line, span, path, rows, value, expected
        See :class:`Diagnostic`.

    Raises
    ------
    KeyError
        If the code is not in the catalogue.
    """
    from encoder.catalogue import CATALOGUE

    rule = CATALOGUE[code]
    return Diagnostic(
        code=code,
        severity=rule.severity if severity is None else severity,
        message=message,
        file=file,
        line=line,
        span=span,
        path=tuple(path),
        rows=tuple(int(row) for row in rows),
        value=value,
        expected=expected,
        hint=rule.hint if hint is None else hint,
        source=rule.source if source is None else source,
    )


def excerpt(text: str, *, at_most: int = 60) -> str:
    """Return a text as it may stand in a message: whole if short, else its beginning.

    Parameters
    ----------
    text : str
    at_most : int
        Longest result in characters, the ``...`` of a shortened one included.
    """
    return text if len(text) <= at_most else f"{text[: at_most - 4].rstrip()} ..."


def has_errors(diagnostics: Iterable[Diagnostic]) -> bool:
    """Tell whether any of the diagnostics is an error."""
    return any(item.severity is Severity.ERROR for item in diagnostics)


def in_file(diagnostics: Sequence[Diagnostic], file: str) -> tuple[Diagnostic, ...]:
    """Return the diagnostics with the file filled in where it was not known yet."""
    return tuple(replace(item, file=file) if item.file is None else item for item in diagnostics)
