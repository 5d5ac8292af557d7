"""The trace: which characters of a report say what, about which level, from which rows, and why.

Encoding and decoding both return it, so that a page, a check or an explanation can go from a group
to its level and rows and back without parsing anything again.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any, cast

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True)
class TraceEntry:
    """One group of a report.

    Attributes
    ----------
    span : tuple of int
        Start and end offset (characters) in the text of the report.
    text : str
        The characters there, verbatim; the group as read where it was repaired.
    part : str
        Letters of the part, for example ``"TTAA"``.
    section : str
        Number of the section, ``"1"`` to ``"10"``.
    symbol : str
        Symbolic form of the group, for example ``"TTTaDD"``.
    record : int or None
        Position of the record (level) inside its section.
    values : mapping of str to float, int, str or None
        What the group says, by element name, in the units of :mod:`encoder.columns`.
    level : int or None
        Index of the level in the level table of the sounding.
    rows : tuple of int
        1-based lines of ``profile.csv`` the level came from (0 is the surface observation);
        empty on decoding.
    rules : tuple of str
        Names of the rules that chose the level (``Reason.rule``); empty on decoding.
    original : str or None
        The characters as received, where a repair read something else; else None.
    """

    span: tuple[int, int]
    text: str
    part: str
    section: str
    symbol: str
    record: int | None = None
    values: Mapping[str, Any] = field(default_factory=dict)
    level: int | None = None
    rows: tuple[int, ...] = ()
    rules: tuple[str, ...] = ()
    original: str | None = None

    def as_json(self) -> dict[str, Any]:
        """Return a dictionary that validates against ``trace.schema.json``."""
        document = asdict(self)
        document["span"] = list(self.span)
        document["values"] = dict(self.values)
        document["rows"] = list(self.rows)
        document["rules"] = list(self.rules)
        if self.original is None:
            del document["original"]
        return document


@dataclass(slots=True)
class _Entry:
    """The slots of :class:`TraceEntry`, not frozen: made in a sixth of the time."""

    span: tuple[int, int]
    text: str
    part: str
    section: str
    symbol: str
    record: int | None
    values: Mapping[str, Any]
    level: int | None = None
    rows: tuple[int, ...] = ()
    rules: tuple[str, ...] = ()
    original: str | None = None


def entry_as_read(
    span: tuple[int, int],
    text: str,
    part: str,
    section: str,
    symbol: str,
    *,
    record: int | None,
    values: Mapping[str, Any],
) -> TraceEntry:
    """Return the entry of a group that was read; see :class:`TraceEntry`.

    Notes
    -----
    A report has one entry a group, and the making of frozen objects would be a seventh of the time
    that reading takes. So the entry is filled while open, and then takes its class.
    """
    entry: Any = _Entry(span, text, part, section, symbol, record, values)
    entry.__class__ = TraceEntry
    return cast("TraceEntry", entry)


Trace = tuple[TraceEntry, ...]
"""Entries in the order of the text."""
