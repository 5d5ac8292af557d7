"""The level table: the levels of a sounding, why each was chosen and from which rows.

The level kinds are the bits of BUFR flag table 0 08 042 (extended vertical sounding significance,
WMO-No. 306 Volume I.2, table version 45), bit 1 being the most significant of 18.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import IntFlag
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from encoder.columns import LEVEL_COLUMNS
from encoder.profile import FloatArray, IntArray, frozen

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence


class LevelKind(IntFlag):
    """What a level is, as bits of BUFR flag table 0 08 042."""

    SURFACE = 1 << 17
    STANDARD = 1 << 16
    TROPOPAUSE = 1 << 15
    MAXIMUM_WIND = 1 << 14
    SIGNIFICANT_TEMPERATURE = 1 << 13
    SIGNIFICANT_HUMIDITY = 1 << 12
    SIGNIFICANT_WIND = 1 << 11
    BEGIN_MISSING_TEMPERATURE = 1 << 10
    END_MISSING_TEMPERATURE = 1 << 9
    BEGIN_MISSING_HUMIDITY = 1 << 8
    END_MISSING_HUMIDITY = 1 << 7
    BEGIN_MISSING_WIND = 1 << 6
    END_MISSING_WIND = 1 << 5
    TOP_OF_WIND_SOUNDING = 1 << 4
    REGIONAL = 1 << 3
    FREEZING = 1 << 2
    PRESSURE_FROM_HEIGHT = 1 << 1


KIND_WORDS: dict[LevelKind, str] = {
    LevelKind.SURFACE: "surface",
    LevelKind.STANDARD: "standard",
    LevelKind.TROPOPAUSE: "tropopause",
    LevelKind.MAXIMUM_WIND: "maximum wind",
    LevelKind.SIGNIFICANT_TEMPERATURE: "significant temperature",
    LevelKind.SIGNIFICANT_HUMIDITY: "significant humidity",
    LevelKind.SIGNIFICANT_WIND: "significant wind",
    LevelKind.BEGIN_MISSING_TEMPERATURE: "begin missing temperature",
    LevelKind.END_MISSING_TEMPERATURE: "end missing temperature",
    LevelKind.BEGIN_MISSING_HUMIDITY: "begin missing humidity",
    LevelKind.END_MISSING_HUMIDITY: "end missing humidity",
    LevelKind.BEGIN_MISSING_WIND: "begin missing wind",
    LevelKind.END_MISSING_WIND: "end missing wind",
    LevelKind.TOP_OF_WIND_SOUNDING: "top of wind sounding",
    LevelKind.REGIONAL: "regional",
    LevelKind.FREEZING: "zero crossing",
    LevelKind.PRESSURE_FROM_HEIGHT: "pressure from height",
}
"""Words for each kind, as written in tables and files."""

THERMODYNAMIC = LevelKind.SIGNIFICANT_TEMPERATURE | LevelKind.SIGNIFICANT_HUMIDITY
"""Levels of section 5: chosen for temperature, for humidity or for both."""


def kinds_as_words(kinds: int) -> tuple[str, ...]:
    """Return the words for the bits that are set, most significant first."""
    return tuple(word for kind, word in KIND_WORDS.items() if kinds & kind)


def words_as_kinds(words: Sequence[str]) -> int:
    """Return the bits for a list of words.

    Raises
    ------
    KeyError
        If a word names no kind.
    """
    bits = {word: kind for kind, word in KIND_WORDS.items()}
    total = 0
    for word in words:
        total |= bits[word]
    return total


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a level was chosen.

    Attributes
    ----------
    rule : str
        Short stable name, for example ``"inversion-base"`` or ``"largest-deviation-temperature"``.
    text : str
        One sentence with the numbers of this case.
    source : str
        Regulation, for example ``"WMO-No. 306, 35.3.1.2"``.
    """

    rule: str
    text: str
    source: str


@dataclass(frozen=True, slots=True, eq=False)
class Levels:
    """Levels in descending pressure; each pressure once, with every kind it has.

    Attributes
    ----------
    columns : mapping of str to ndarray, each of shape (level,)
        Values by the names of :data:`encoder.columns.LEVEL_COLUMNS`, unrounded when they come
        from a flight, NaN for missing.
    kinds : ndarray of int, shape (level,)
        Bits of :class:`LevelKind`.
    reasons : tuple of tuple of Reason
        Why each level was chosen; empty for levels read from a report.
    rows : tuple of tuple of int
        Indexes of the ascent rows each level was taken from: one for a row itself, two for an
        interpolated level, none for an extrapolated or decoded one.
    attributes : mapping
        Facts about the table as a whole, for example ``{"method": "fewest-levels"}``.

    Raises
    ------
    ValueError
        If the parts differ in length.
    """

    columns: Mapping[str, FloatArray]
    kinds: IntArray
    reasons: tuple[tuple[Reason, ...], ...] = ()
    rows: tuple[tuple[int, ...], ...] = ()
    attributes: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        kinds = frozen(self.kinds, np.int64)
        count = len(kinds)
        missing = frozen(np.full(count, np.nan))
        columns = {
            name: frozen(self.columns[name]) if name in self.columns else missing
            for name in LEVEL_COLUMNS
        }
        reasons = self.reasons or tuple(() for _ in range(count))
        rows = self.rows or tuple(() for _ in range(count))
        lengths = {name: len(values) for name, values in columns.items()}
        if any(length != count for length in (*lengths.values(), len(reasons), len(rows))):
            msg = f"Expected {count} levels in every column, got {lengths}."
            raise ValueError(msg)
        object.__setattr__(self, "columns", MappingProxyType(columns))
        object.__setattr__(self, "kinds", kinds)
        object.__setattr__(self, "reasons", tuple(tuple(item) for item in reasons))
        object.__setattr__(self, "rows", tuple(tuple(int(r) for r in item) for item in rows))
        object.__setattr__(self, "attributes", MappingProxyType(dict(self.attributes)))

    def __len__(self) -> int:
        return len(self.kinds)

    def __getitem__(self, name: str) -> FloatArray:
        return self.columns[name]

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Levels):
            return NotImplemented
        return (
            np.array_equal(self.kinds, other.kinds)
            and all(
                np.array_equal(values, other.columns[name], equal_nan=True)
                for name, values in self.columns.items()
            )
            and self.reasons == other.reasons
            and self.rows == other.rows
            and dict(self.attributes) == dict(other.attributes)
        )

    __hash__ = None  # type: ignore[assignment]  # holds arrays

    def having(self, kinds: int) -> NDArray[np.intp]:
        """Return the indexes of levels that have any of the kinds, in descending pressure."""
        return np.flatnonzero((self.kinds & int(kinds)) != 0)

    def select(self, levels: Any) -> Levels:
        """Return the levels picked by a boolean mask or an index array."""
        picked = np.arange(len(self))[levels]
        return Levels(
            {name: values[picked] for name, values in self.columns.items()},
            self.kinds[picked],
            tuple(self.reasons[i] for i in picked),
            tuple(self.rows[i] for i in picked),
            self.attributes,
        )
