"""Reading plain messages of soundings straight from their bits, with numpy.

A message is plain when it is not compressed and its descriptors are one of the written templates,
with or without the WIGOS identifier before it and plain elements or texts after it. The level block
of such a message is a table of bits with rows of equal length. Anything else is left to the coding
library; the tests hold both readers to the same values.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from encoder.formats.bufr.bits import number_at, unpack_rows
from encoder.formats.bufr.elements import ELEMENTS, Element
from encoder.formats.bufr.subset import Block, Item, Subset, decimals, plain_text
from encoder.formats.bufr.templates import SEQUENCES, TEMPLATES

if TYPE_CHECKING:
    from encoder.formats.bufr.sections import MessageHeader

_EXTENDED_BITS = 16
_SHORT_BITS = 8


@dataclass(frozen=True, slots=True)
class _Layout:
    before: tuple[Element, ...]
    level: tuple[Element, ...]
    shear: tuple[Element, ...]
    after: tuple[Element, ...]


def is_plain(header: MessageHeader) -> bool:
    """Tell whether :func:`read_plain` can read a message."""
    return not header.compressed and _layout(header.descriptors) is not None


@cache
def _layout(descriptors: tuple[str, ...]) -> _Layout | None:
    places = [place for place, fxy in enumerate(descriptors) if fxy in TEMPLATES]
    if len(places) != 1:
        return None
    template = TEMPLATES[descriptors[places[0]]]
    before = _plain_elements(descriptors[: places[0]])
    after = _plain_elements(descriptors[places[0] + 1 :])
    if before is None or after is None:
        return None
    return _Layout((*before, *template.before), template.level, template.shear, after)


def _plain_elements(descriptors: tuple[str, ...]) -> tuple[Element, ...] | None:
    found: list[Element] = []
    for fxy in descriptors:
        if fxy in SEQUENCES and fxy not in ("303056",):
            found.extend(SEQUENCES[fxy])
        elif fxy in ELEMENTS and fxy[:3] != "031":
            found.append(ELEMENTS[fxy])
        elif fxy[:3] == "205":
            found.append(Element(fxy, "text", "text", "CCITT IA5", 0, 0, 8 * int(fxy[3:])))
        else:
            return None
    return tuple(found)


def read_plain(message: bytes, header: MessageHeader) -> tuple[Subset, ...] | None:
    """Read the values of a plain message.

    Parameters
    ----------
    message : bytes
    header : MessageHeader

    Returns
    -------
    tuple of Subset or None
        None where the message is not plain, or its bits end too early.
    """
    layout = _layout(header.descriptors)
    if layout is None or header.compressed:
        return None
    first, end = header.data
    data = message[first:end]
    at = 0
    subsets = []
    try:
        for _ in range(header.subsets):
            subset, at = _read_subset(data, at, layout)
            subsets.append(subset)
    except ValueError:
        return None
    return tuple(subsets)


def _read_subset(data: bytes, at: int, layout: _Layout) -> tuple[Subset, int]:
    entries: list[Item | Block] = []
    at = _items(data, at, layout.before, entries)
    for elements, count_bits in ((layout.level, _EXTENDED_BITS), (layout.shear, _SHORT_BITS)):
        count = number_at(data, at, count_bits)
        at += count_bits
        entries.append(_block(data, at, count, elements))
        at += count * sum(element.bits for element in elements)
    at = _items(data, at, layout.after, entries)
    return Subset(tuple(entries)), at


def _items(data: bytes, at: int, elements: tuple[Element, ...], entries: list[Item | Block]) -> int:
    for element in elements:
        code = number_at(data, at, element.bits)
        at += element.bits
        value: float | str | None
        if element.is_text:
            value = plain_text(code.to_bytes(element.length, "big"))
        elif code == (1 << element.bits) - 1:
            value = None
        else:
            value = float(
                np.round((code + element.reference) * element.step, decimals(element.fxy))
            )
        entries.append(Item(element.fxy, value))
    return at


def _block(data: bytes, at: int, count: int, elements: tuple[Element, ...]) -> Block:
    table = np.empty((count, len(elements)))
    fields = unpack_rows(data, at, count, [element.bits for element in elements])
    for place, (element, codes) in enumerate(zip(elements, fields, strict=True)):
        values = codes + float(element.reference)
        if element.scale > 0:
            values /= 10.0**element.scale
        elif element.scale < 0:
            values *= 10.0**-element.scale
        values[codes == (1 << element.bits) - 1] = np.nan
        table[:, place] = values
    table.flags.writeable = False
    return Block(tuple(element.fxy for element in elements), table)


def level_codes(message: bytes, header: MessageHeader) -> tuple[int, tuple[np.ndarray, ...]] | None:
    """Return where the level block of a plain single-subset message begins, and its codes.

    Parameters
    ----------
    message : bytes
    header : MessageHeader

    Returns
    -------
    tuple of (int, tuple of ndarray of int64) or None
        Bit of the data at which the first level begins, and one array a level element.
    """
    layout = _layout(header.descriptors)
    if layout is None or header.compressed or header.subsets != 1:
        return None
    first, end = header.data
    data = message[first:end]
    at = sum(element.bits for element in layout.before)
    count = number_at(data, at, _EXTENDED_BITS)
    at += _EXTENDED_BITS
    return at, unpack_rows(data, at, count, [element.bits for element in layout.level])
