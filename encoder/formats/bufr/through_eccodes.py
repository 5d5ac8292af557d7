"""The coding library (ecCodes): reading any message of soundings through it.

The library is imported on first use; its own error output is silenced, because every fault is told
as a diagnostic.
"""

from __future__ import annotations

import os
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

import numpy as np

from encoder.diagnostics import Result, diagnostic
from encoder.errors import MissingDependencyError
from encoder.formats.bufr.elements import ELEMENTS
from encoder.formats.bufr.subset import ASSOCIATED, Block, Item, Subset, decimals

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.formats.bufr.sections import MessageHeader
    from encoder.profile import FloatArray

INSTALL = 'BUFR needs the library eccodes; install it with: pip install "aerogram[bufr]"'
MISSING = -1e100
"""Value by which the library shows a missing number."""
MOST_SUBSETS = 65535
_TEXT_STEP = 1000.0
"""In the array of all values a text stands as a thousand times its place, plus its length."""


@cache
def library() -> Any:
    """Return the coding library.

    Its wheel opens the PROJ it carries for all libraries that are loaded later (ecCodes 2.50 with
    findlibs 0.1.3). A pyproj loaded after it, by itself or through MetPy or Cartopy, would call
    that one instead of its own, which ends the process; loaded before, each keeps its own.

    Raises
    ------
    MissingDependencyError
        If it is not installed.
    """
    with suppress(ImportError):
        import pyproj  # noqa: F401
    try:
        import eccodes
    except (ImportError, RuntimeError) as fault:
        raise MissingDependencyError(INSTALL) from fault
    eccodes.codes_context_set_logging(_nowhere())
    return eccodes


@cache
def _nowhere() -> TextIO:
    """Return the file the library's own words go to.

    The library keeps using it, so it must stay open as long as the process runs.
    """
    return Path(os.devnull).open("w", encoding="ascii")


class _Replication:
    """A replication in the expanded descriptors: its children, and whether they are all plain."""

    def __init__(self, children: list[Any]) -> None:
        self.children = children
        self.plain = all(isinstance(child, str) for child in children)
        self.texts = any(
            isinstance(child, str) and child in ELEMENTS and ELEMENTS[child].is_text
            for child in children
        )


def read_with_library(message: bytes, header: MessageHeader) -> Result[tuple[Subset, ...]]:
    """Read the values of a message through the coding library.

    Parameters
    ----------
    message : bytes
    header : MessageHeader

    Returns
    -------
    Result of tuple of Subset
        Empty where the library cannot read the message; the diagnostic carries its words.
    """
    codes = library()
    faults = (codes.CodesInternalError, ValueError, MemoryError, UnicodeDecodeError)
    try:
        handle = codes.codes_new_from_message(message)
    except faults as fault:
        return _refused(str(fault))
    try:
        codes.codes_set(handle, "skipExtraKeyAttributes", 1)
        codes.codes_set(handle, "unpack", 1)
        expanded = [
            f"{int(value):06d}" for value in codes.codes_get_array(handle, "expandedDescriptors")
        ]
        numbers = np.asarray(codes.codes_get_array(handle, "numericValues"), dtype=np.float64)
        texts = _texts(codes, handle)
    except faults as fault:
        return _refused(str(fault))
    finally:
        codes.codes_release(handle)
    try:
        nodes = _nodes(expanded)
        subsets = _subsets(nodes, numbers, texts, header.subsets)
    except ValueError as fault:
        return _refused(str(fault))
    return Result(subsets)


def _refused(words: str) -> Result[tuple[Subset, ...]]:
    return Result(
        (), (diagnostic("bufr-not-decodable", f"The message cannot be decoded: {words}."),)
    )


def _texts(codes: Any, handle: Any) -> list[str | None]:
    if not codes.codes_is_defined(handle, "stringValues"):
        return []
    try:
        values = codes.codes_get_array(handle, "stringValues")
    except codes.CodesInternalError:
        return []
    return [_text(value) for value in values]


def _text(value: Any) -> str | None:
    octets = value if isinstance(value, bytes) else str(value).encode("latin-1", "replace")
    if not octets or octets.count(255) == len(octets):
        return None
    text = octets.decode("latin-1").rstrip(" \0")
    return text if text and text.isascii() else None


def _nodes(expanded: Sequence[str]) -> list[Any]:
    """Return the expanded descriptors with every delayed replication as one node."""
    nodes: list[Any] = []
    at = 0
    while at < len(expanded):
        fxy = expanded[at]
        if fxy[0] == "1":
            count = int(fxy[1:3])
            children = expanded[at + 2 : at + 2 + count]
            if len(children) != count:
                msg = f"replication {fxy} goes beyond the last descriptor"
                raise ValueError(msg)
            nodes.append(_Replication(_nodes(children)))
            at += 2 + count
        else:
            nodes.append(fxy)
            at += 1
    return nodes


def _subsets(
    nodes: list[Any], numbers: FloatArray, texts: list[str | None], count: int
) -> tuple[Subset, ...]:
    walk = _Walk(numbers, texts)
    subsets = []
    for _ in range(count):
        if walk.at >= len(numbers):
            break
        entries: list[Item | Block] = []
        walk.through(nodes, entries)
        subsets.append(Subset(tuple(entries)))
    if walk.at != len(numbers):
        msg = f"{len(numbers)} values where the descriptors ask for {walk.at}"
        raise ValueError(msg)
    return tuple(subsets)


class _Walk:
    """Goes through the array of all values with the descriptors in hand."""

    def __init__(self, numbers: FloatArray, texts: list[str | None]) -> None:
        self._numbers = numbers
        self._texts = texts
        self.at = 0

    def through(self, nodes: list[Any], entries: list[Item | Block]) -> None:
        for node in nodes:
            if self.at >= len(self._numbers):
                msg = "the values end before the descriptors"
                raise ValueError(msg)
            if isinstance(node, _Replication):
                self._repeat(node, entries)
            else:
                entries.append(Item(node, self._value(node)))

    def _value(self, fxy: str) -> float | str | None:
        number = float(self._numbers[self.at])
        self.at += 1
        if number == MISSING:
            return None
        element = ELEMENTS.get(fxy)
        if fxy[:3] == "205" or (element is not None and element.is_text):
            place = int(number // _TEXT_STEP) - 1
            return self._texts[place] if 0 <= place < len(self._texts) else None
        return float(np.round(number, decimals(fxy)))

    def _repeat(self, node: _Replication, entries: list[Item | Block]) -> None:
        count = int(self._numbers[self.at])
        self.at += 1
        if count < 0:
            msg = "a replication without a count"
            raise ValueError(msg)
        if not node.plain or node.texts:
            for _ in range(count):
                self.through(node.children, entries)
            return
        width = len(node.children)
        end = self.at + count * width
        values = self._numbers[self.at : end]
        if len(values) != count * width:
            msg = "the values end within a replication"
            raise ValueError(msg)
        self.at = end
        entries.append(_block(tuple(node.children), values.reshape(count, width)))


def _block(fxys: tuple[str, ...], values: FloatArray) -> Block:
    table = np.where(values == MISSING, np.nan, values)
    for place, fxy in enumerate(fxys):
        if fxy != ASSOCIATED:
            table[:, place] = np.round(table[:, place], decimals(fxy))
    table.flags.writeable = False
    return Block(fxys, table)
