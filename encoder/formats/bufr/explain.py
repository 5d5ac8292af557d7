"""A BUFR message element by element in plain language."""

from __future__ import annotations

import textwrap
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.codes.tables import code_table
from encoder.formats.bufr.elements import ELEMENTS, TEXT
from encoder.formats.bufr.subset import ASSOCIATED, Block

if TYPE_CHECKING:
    from collections.abc import Iterator

    from encoder.formats.bufr.months import BufrMonth
    from encoder.formats.bufr.sections import MessageHeader
    from encoder.formats.bufr.sounding import BufrSounding
    from encoder.formats.bufr.subset import Subset

TABLES: dict[str, str] = {
    "002003": "0-02-003",
    "002011": "c-2",
    "002013": "0-02-013",
    "002014": "c-7",
    "002015": "0-02-015",
    "002017": "0-02-017",
    "002084": "0-02-084",
    "002095": "0-02-095",
    "002096": "0-02-096",
    "002097": "0-02-097",
    "002191": "0-02-191",
    "008002": "0-08-002",
    "008021": "0-08-021",
    "008023": "0-08-023",
    "008040": "0-08-040",
    "008050": "0-08-050",
    "008091": "0-08-091",
    "020011": "0-20-011",
    "020012": "0-20-012",
    "031021": "0-31-021",
    "033024": "0-33-024",
    "035035": "0-35-035",
}
"""Code table of an element, by descriptor."""
FLAG_TABLES: dict[str, tuple[str, int]] = {
    "002016": ("0-02-016", 5),
    "004059": ("0-04-059", 6),
    "008001": ("0-08-001", 7),
    "008042": ("0-08-042", 18),
}
"""Flag table of an element and its number of bits, by descriptor."""
_TWO_FIGURES = frozenset({"c-2", "c-7"})


@dataclass(frozen=True, slots=True)
class ElementExplained:
    """One element of a message.

    Attributes
    ----------
    descriptor : str
        FXY, six figures.
    name : str
    value : float, str or None
        In the unit of BUFR Table B; None for missing.
    unit : str
    meaning : str
        What the figure means, "" for plain numbers.
    repetition : int or None
        Number of the level, from 1; None outside the levels.
    """

    descriptor: str
    name: str
    value: float | str | None
    unit: str
    meaning: str
    repetition: int | None = None

    def as_json(self) -> dict[str, Any]:
        """Return a plain dictionary."""
        return asdict(self)


def explain_subset(subset: Subset) -> tuple[ElementExplained, ...]:
    """Return every element of a subset with its meaning, in the order of the message.

    Parameters
    ----------
    subset : Subset
    """
    return tuple(_elements(subset))


def _elements(subset: Subset) -> Iterator[ElementExplained]:
    for entry in subset.entries:
        if isinstance(entry, Block):
            for row in range(len(entry)):
                for place, fxy in enumerate(entry.fxys):
                    number = float(entry.values[row, place])
                    value = None if np.isnan(number) else number
                    yield _element(fxy, value, row + 1)
        else:
            yield _element(entry.fxy, entry.value, None)


def _element(fxy: str, value: float | str | None, repetition: int | None) -> ElementExplained:
    element = ELEMENTS.get(fxy)
    if element is None:
        name = "associated field" if fxy == ASSOCIATED else "not of a sounding"
        name = "characters" if fxy[:3] == "205" else name
        return ElementExplained(fxy, name, value, "", "", repetition)
    plain = element.unit in ("FLAG TABLE", "Numeric", TEXT) or element.unit.startswith("CODE TABLE")
    unit = "" if plain else element.unit
    name = element.name.replace("_", " ")
    return ElementExplained(fxy, name, value, unit, meaning_of(fxy, value), repetition)


def meaning_of(fxy: str, value: float | str | None) -> str:
    """Return what the figure of an element means, "" where it is a plain number or missing.

    Parameters
    ----------
    fxy : str
    value : float, str or None
    """
    if not isinstance(value, int | float):
        return ""
    figure = int(value)
    if fxy in FLAG_TABLES:
        table, bits = FLAG_TABLES[fxy]
        meanings = code_table(table)
        set_bits = [bit for bit in range(1, bits + 1) if figure >> (bits - bit) & 1]
        words = [meanings.get(str(bit), f"bit {bit}") for bit in set_bits]
        return ", ".join(words) or "none of the kinds"
    number = TABLES.get(fxy)
    if number is None:
        return ""
    meanings = code_table(number)
    text = f"{figure:02d}" if number in _TWO_FIGURES else str(figure)
    return meanings.get(text, f"figure {figure}, not in the table")


def header_text(header: MessageHeader) -> str:
    """Return sections 0, 1 and 3 as text."""
    kinds = code_table("c-13")
    kind = kinds.get(str(header.sub_category), f"sub-category {header.sub_category}")
    time = "not a time" if header.time is None else f"{header.time:%Y-%m-%d %H:%M} UTC"
    lines = [
        f"edition {header.edition}, master tables version {header.table_version}",
        f"centre {header.centre}, sub-centre {header.sub_centre}, update {header.update}",
        f"category {header.category}, {kind}",
        f"section 1: {time}",
        f"{header.subsets} subset(s), {'compressed' if header.compressed else 'not compressed'}",
        f"descriptors: {' '.join(header.descriptors)}",
    ]
    return "\n".join(lines) + "\n"


def explanation_of(sounding: BufrSounding | BufrMonth) -> str:
    """Return a sounding, or monthly means, element by element, as text of about 80 columns.

    Parameters
    ----------
    sounding : BufrSounding or BufrMonth
    """
    lines = [
        f"Message at octet {sounding.offset}, subset {sounding.subset}: {sounding.station}",
        header_text(sounding.header),
    ]
    level = None
    for item in explain_subset(sounding.plain):
        if item.repetition is not None and item.repetition != level:
            lines.append(f"level {item.repetition}")
        level = item.repetition
        lines.append(_line(item))
    return "\n".join(lines) + "\n"


def _line(item: ElementExplained) -> str:
    fxy = f"{item.descriptor[0]} {item.descriptor[1:3]} {item.descriptor[3:]}"
    value = "missing" if item.value is None else _shown(item.value)
    unit = "" if item.value is None else item.unit
    head = f"  {fxy}  {item.name:<23} {value:>12} {unit:<5}".rstrip()
    if not item.meaning:
        return head
    indent = " " * 50
    folded = textwrap.wrap(item.meaning, 30, break_long_words=False)
    first = f"{head:<50}{folded[0]}"
    return "\n".join([first, *(indent + line for line in folded[1:])])


def _shown(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:.10g}"
