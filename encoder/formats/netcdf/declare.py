"""How a product is declared: its dimensions, variables and attributes.

The files are written from these declarations, and so are the templates in ``schemas/cf``; what a
file may hold is said once.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

CONVENTIONS = "CF-1.11, ACDD-1.3"
"""Newest version of the conventions that can be proven without a network."""
STANDARD_NAMES = "CF Standard Name Table v93"
"""Table the standard names were looked up in (17 March 2026)."""
SOFTWARE = "aerogram"
VERSION = "0.1.0"
"""Version written into every file."""

EPOCH_UNITS = "seconds since 1970-01-01T00:00:00Z"
TIME_ATTRIBUTES: dict[str, Any] = {
    "units": EPOCH_UNITS,
    "calendar": "standard",
    "units_metadata": "leap_seconds: utc",
}
"""Times count UTC seconds without leap seconds (CF 4.4)."""

MISSING: dict[str, float | int] = {
    "f8": 9.969209968386869e36,
    "i4": -2147483648,
    "i2": -32768,
    "i1": -128,
}
"""Fill values by type: NUG's for floats, the least value for integers; none is a measured value."""


@dataclass(frozen=True, slots=True)
class Packing:
    """One exact way to store a quantity as integers.

    Attributes
    ----------
    dtype : str
        ``"i2"`` or ``"i4"``; ``"f8"`` is not packed.
    steps : int
        Stored figures to one unit: 10 for tenths, 1 for whole units.
    unit : str
        UDUNITS spelling of the unit of the unpacked value.
    factor : float
        Package units to one such unit, for example 0.01 for Pa where the package has hPa.
    divides : bool
        Whether a package value is the figure divided by ``steps`` (and 1/factor) rather than
        multiplied; the operation that gave the source its doubles.
    """

    dtype: str
    steps: int
    unit: str
    factor: float = 1.0
    divides: bool = True


@dataclass(frozen=True, slots=True)
class Variable:
    """One variable of a product.

    Attributes
    ----------
    name : str
    dtype : str
        ``"f8"``, ``"i4"``, ``"i2"``, ``"i1"`` or ``"S1"`` (text, one character a byte).
    dims : tuple of str
        Names of its dimensions; empty for a single value.
    attributes : mapping
        In the order written. A value of None belongs to each file: the writer gives it.
    filled : bool
        Whether values may be missing (then ``_FillValue`` is set).
    always : bool
        Whether every file has it.
    packings : tuple of Packing
        Ways to store it, the first exact one is used.
    """

    name: str
    dtype: str
    dims: tuple[str, ...] = ()
    attributes: Mapping[str, Any] = field(default_factory=dict)
    filled: bool = False
    always: bool = True
    packings: tuple[Packing, ...] = ()

    def named(self, name: str, **attributes: Any) -> Variable:
        """Return a copy under another name with attributes replaced."""
        return replace(self, name=name, attributes={**self.attributes, **attributes})


@dataclass(frozen=True, slots=True)
class Product:
    """One kind of archive file.

    Attributes
    ----------
    name : str
        ``"flight"``, ``"levels"`` or ``"history"``.
    feature_type : str
        CF ``featureType``.
    description : str
        One sentence.
    dimensions : mapping of str to str
        Name to meaning.
    variables : tuple of Variable
    """

    name: str
    feature_type: str
    description: str
    dimensions: Mapping[str, str]
    variables: tuple[Variable, ...]

    @property
    def format(self) -> str:
        """Value of the global attribute ``product_format``."""
        return f"aerogram-archive-{self.name}-1"

    def variable(self, name: str) -> Variable:
        """Return the variable of that name.

        Raises
        ------
        KeyError
            If the product has none.
        """
        for item in self.variables:
            if item.name == name:
                return item
        raise KeyError(name)

    def __contains__(self, name: str) -> bool:
        return any(item.name == name for item in self.variables)


def flags(
    meanings: Sequence[str], dtype: str = "i1", values: Sequence[float] | None = None
) -> dict[str, Any]:
    """Return ``flag_values`` and ``flag_meanings``; values count from 0 unless given."""
    numbers = range(len(meanings)) if values is None else values
    return {
        "flag_values": np.array(list(numbers), dtype=dtype),
        "flag_meanings": " ".join(meanings),
    }


def masks(meanings: Mapping[int, str], dtype: str = "i4") -> dict[str, Any]:
    """Return ``flag_masks`` and ``flag_meanings`` of a bit field."""
    return {
        "flag_masks": np.array(list(meanings), dtype=dtype),
        "flag_meanings": " ".join(meanings.values()),
    }


def text(name: str, long_name: str, *, always: bool = True, **more: Any) -> Variable:
    """Return a text variable with a dimension of its own."""
    return Variable(
        name,
        "S1",
        (f"{name}_length",),
        {"long_name": long_name, "coverage_content_type": "auxiliaryInformation", **more},
        always=always,
    )
