"""What a message says beyond its template: regional and national additions.

Region IV adds corrected, doubtful and generated levels, a stability index and mean winds to the
template (WMO-No. 306 Volume I.2, B/C25, annex); other services add what they need. Whatever is
there is kept: read by name where BUFR Table B of this package has the element, listed where not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.diagnostics import Diagnostic, diagnostic
from encoder.formats.bufr.elements import ELEMENTS
from encoder.formats.bufr.subset import ASSOCIATED, Block, Item

if TYPE_CHECKING:
    from collections.abc import Iterable

    from encoder.formats.bufr.subset import Subset

CORRECTION = 21.0
"""Figure of code table 0 31 021: the associated field tells whether a value was corrected."""
QUALITY = "222000"
"""Operator after which quality information on the values before it follows."""
_REASON, _FIELD, _CHARACTERS = "008040", "031021", "205"
_DOUBTFUL = frozenset({4.0, 9.0})
_GENERATED = frozenset({26.0, 31.0})
"""Figures of code table 0 08 040."""
_VERTICAL = frozenset({"007004", "007009", "010009"})
_COUNTS = frozenset({"031000", "031001", "031002", "031011", "031012"})


@dataclass(frozen=True, slots=True)
class Extra:
    """A group of values beyond the template.

    Attributes
    ----------
    kind : str
        "corrected levels", "doubtful levels", "generated levels", "more levels", "values" or
        "quality information", of which only the number of values is given.
    rows : tuple of tuple of (str, float, str or None)
        Name and value, in the unit of BUFR Table B; "name: field" is the associated field of an
        element, and an element that is not known is named by its descriptor.
    """

    kind: str
    rows: tuple[tuple[tuple[str, float | str | None], ...], ...]

    def as_json(self) -> dict[str, Any]:
        """Return a plain dictionary."""
        return {
            "kind": self.kind,
            "rows": [[{"name": name, "value": value} for name, value in row] for row in self.rows],
        }

    def as_text(self) -> str:
        """Return lines of text."""
        lines = [f"{self.kind}:"]
        for row in self.rows:
            said = (
                f"{name} {value:.10g}" if isinstance(value, float) else f"{name} {value}"
                for name, value in row
                if value is not None
            )
            lines.append("  " + ", ".join(said))
        return "\n".join(lines) + "\n"


def extras_of(subset: Subset, own: tuple[Block | None, ...]) -> tuple[Extra, ...]:
    """Return what stands in a subset behind its levels, and every further group of levels.

    Parameters
    ----------
    subset : Subset
    own : tuple of Block or None
        The blocks that are read as levels and as wind shear.

    Returns
    -------
    tuple of Extra
        In the order of the message; values that are missing throughout are left out.
    """
    found: list[Extra] = []
    loose: list[Item] = []
    field: float | None = None
    behind = False
    for place, entry in enumerate(subset.entries):
        if isinstance(entry, Item) and entry.fxy == QUALITY:
            _put_loose(loose, found)
            found.append(_quality(subset.entries[place:]))
            break
        if isinstance(entry, Block):
            _put_loose(loose, found)
            if any(entry is block for block in own):
                behind = True
            elif np.any(np.isfinite(entry.values)):
                found.append(_block(entry, field))
        elif behind and entry.fxy not in _COUNTS and _has_value(entry.fxy):
            loose.append(entry)
        if isinstance(entry, Item) and entry.fxy == _FIELD:
            field = entry.value if isinstance(entry.value, float) else None
    _put_loose(loose, found)
    return tuple(found)


def _quality(entries: tuple[Item | Block, ...]) -> Extra:
    """Return how many values of quality information follow the data."""
    count = sum(
        int(np.count_nonzero(np.isfinite(entry.values)))
        if isinstance(entry, Block)
        else int(entry.value is not None and entry.fxy[0] == "0")
        for entry in entries
    )
    return Extra("quality information", ((("values", float(count)),),))


def _has_value(fxy: str) -> bool:
    """Tell whether a descriptor stands for a value: an element, a field, or characters."""
    return fxy[0] == "0" or fxy == ASSOCIATED or fxy[:3] == _CHARACTERS


def _put_loose(loose: list[Item], found: list[Extra]) -> None:
    row = _row((item.fxy, item.value) for item in loose)
    loose.clear()
    if any(value is not None for _name, value in row):
        found.append(Extra("values", (row,)))


def _row(
    pairs: Iterable[tuple[str, float | str | None]],
) -> tuple[tuple[str, float | str | None], ...]:
    row: list[tuple[str, float | str | None]] = []
    pending: float | str | None = None
    for fxy, value in pairs:
        if fxy == ASSOCIATED:
            pending = value
            continue
        name = _name(fxy)
        if pending is not None:
            row.append((f"{name}: field", pending))
            pending = None
        row.append((name, value))
    return tuple(row)


def _name(fxy: str) -> str:
    if fxy[:3] == _CHARACTERS:
        return "characters"
    element = ELEMENTS.get(fxy)
    return element.name if element is not None else f"{fxy[0]} {fxy[1:3]} {fxy[3:]}"


def _block(block: Block, field: float | None) -> Extra:
    reasons = block.column(_REASON)
    given = set() if reasons is None else set(reasons[np.isfinite(reasons)].tolist())
    kind = "values"
    if _VERTICAL & set(block.fxys):
        kind = "more levels"
        if given and given <= _DOUBTFUL:
            kind = "doubtful levels"
        elif given and given <= _GENERATED:
            kind = "generated levels"
        elif field == CORRECTION and ASSOCIATED in block.fxys:
            kind = "corrected levels"
    rows = tuple(
        _row(
            (fxy, None if np.isnan(number) else float(number))
            for fxy, number in zip(block.fxys, values, strict=True)
        )
        for values in block.values
    )
    return Extra(kind, rows)


def unread_elements(subset: Subset, level: Block, place: str) -> list[Diagnostic]:
    """Tell which elements are not known here, and which associated fields have no use here.

    Parameters
    ----------
    subset : Subset
    level : Block
        The levels.
    place : str
        Words for the place of the subset.
    """
    found: list[Diagnostic] = []
    unknown = dict.fromkeys(fxy for fxy in _with_values(subset) if not _known(fxy))
    if unknown:
        names = ", ".join(f"{fxy[0]} {fxy[1:3]} {fxy[3:]}" for fxy in unknown)
        found.append(
            diagnostic(
                "bufr-element-unknown",
                f"The {place} has elements that are not known here: {names}.",
                value=" ".join(unknown),
            )
        )
    fields = [place for place, fxy in enumerate(level.fxys) if fxy == ASSOCIATED]
    if fields:
        values = level.values[:, fields]
        told = int(np.count_nonzero(np.isfinite(values) & (values != 0.0)))
        found.append(
            diagnostic(
                "bufr-associated-fields",
                f"The levels of the {place} carry {values.size} associated fields, {told} of "
                "them other than 0.",
            )
        )
    return found


def _known(fxy: str) -> bool:
    return fxy in ELEMENTS or fxy in (ASSOCIATED, *_COUNTS) or fxy[:3] == _CHARACTERS


def _with_values(subset: Subset) -> list[str]:
    """Return the descriptors that have a value, of operators only the one of characters."""
    found: list[str] = []
    for entry in subset.entries:
        if isinstance(entry, Block):
            there = np.any(np.isfinite(entry.values), axis=0)
            found += [fxy for fxy, has in zip(entry.fxys, there, strict=True) if has]
        elif entry.value is not None:
            found.append(entry.fxy)
    return [fxy for fxy in found if _has_value(fxy)]
