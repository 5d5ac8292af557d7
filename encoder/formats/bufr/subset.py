"""The values of one subset of a message, by descriptor, in the units of BUFR Table B."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.formats.bufr.elements import ELEMENTS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from encoder.profile import FloatArray

ASSOCIATED = "999999"
"""Descriptor under which a reader gives the associated field of the element that follows it."""
_SPARE_DECIMALS = 3


@dataclass(frozen=True, slots=True)
class Item:
    """One element outside a replication.

    Attributes
    ----------
    fxy : str
    value : float, str or None
        None for missing.
    """

    fxy: str
    value: float | str | None


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """A replicated group of elements.

    Attributes
    ----------
    fxys : tuple of str
        Descriptors of one repetition.
    values : ndarray, shape (repetition, element)
        NaN for missing.
    """

    fxys: tuple[str, ...]
    values: FloatArray

    def __len__(self) -> int:
        return len(self.values)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Block):
            return NotImplemented
        return self.fxys == other.fxys and np.array_equal(self.values, other.values, equal_nan=True)

    __hash__ = None  # type: ignore[assignment]  # holds an array

    def column(self, *fxys: str) -> FloatArray | None:
        """Return the first column with one of the descriptors, None where there is none."""
        for fxy in fxys:
            if fxy in self.fxys:
                return self.values[:, self.fxys.index(fxy)]
        return None


@dataclass(frozen=True, slots=True)
class Subset:
    """One subset: items and blocks in the order of the message."""

    entries: tuple[Item | Block, ...]

    def items(self) -> Iterator[Item]:
        """Give the elements outside replications."""
        return (entry for entry in self.entries if isinstance(entry, Item))

    def blocks(self) -> Iterator[Block]:
        """Give the replicated groups."""
        return (entry for entry in self.entries if isinstance(entry, Block))

    def first(self, *fxys: str) -> float | str | None:
        """Return the first value that is not missing under one of the descriptors."""
        for fxy in fxys:
            for item in self.items():
                if item.fxy == fxy and item.value is not None:
                    return item.value
        return None

    def every(self, fxy: str) -> tuple[float | str | None, ...]:
        """Return all values under a descriptor, None for missing."""
        return tuple(item.value for item in self.items() if item.fxy == fxy)


def decimals(fxy: str) -> int:
    """Return how many decimals of a value of that element can carry meaning."""
    element = ELEMENTS.get(fxy)
    return _SPARE_DECIMALS + (3 if element is None else max(element.scale, 0))


def plain_text(octets: bytes) -> str | None:
    """Return characters without their padding, None for missing (all bits set) or not ASCII."""
    if octets.count(255) == len(octets):
        return None
    try:
        text = octets.rstrip(b" \0").decode("ascii")
    except UnicodeDecodeError:
        return None
    return text or None
