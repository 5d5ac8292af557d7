"""Parts of FM 35 TEMP read across reports: one step of the rhythm for all of them at a time.

A part is read here only while every group is where and as the plainest report has it; the first
thing that is unusual leaves the part to the reader of one report (:mod:`encoder.codes.reader`).
What is read here that reader reads the same: tests hold the two against each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.codes.bulk_groups import Floats, Groups, Ints, Mask, divide
from encoder.codes.bulk_records import (
    HEAT,
    MAXIMUM_WIND,
    STANDARD,
    SURFACE,
    TROPOPAUSE,
    WIND,
    Records,
    records_of,
)
from encoder.codes.fm35 import LOWER_STANDARD, NOT_IN_EVERY_REPORT, UPPER_STANDARD
from encoder.codes.last_wind import wind_expected

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

_CORRECTED = (10181, 10182, 10183, 10184)
_MOST_REPEATS = 3
_OTHERWISE = (66999, 77999, 66666)
"""Groups that may be something else than a level of maximum wind."""


@dataclass(frozen=True, slots=True, eq=False)
class ReadParts:
    """What was read of many parts.

    Attributes
    ----------
    plain : ndarray of bool, shape (part,)
        Whether the part was read here.
    identification : ndarray of int, shape (part, 3)
        Figures YY, GG and IIiii.
    system, release : ndarray of int, shape (part,)
        Group of the sounding system and figures GGgg, -1 where there is none.
    records : Records
        Of plain parts, in the order of part, section and place.
    """

    plain: Mask
    identification: Ints
    system: Ints
    release: Ints
    records: Records


def _table(standard: dict[str, float], *, upper: bool) -> tuple[Floats, NDArray[np.int8]]:
    """Return pressures by PP, and whether Id (rows) asks for a wind there: 1, 0, or -1 unknown."""
    pressure = np.full(100, np.nan)
    asked = np.full((11, 100), -1, dtype=np.int8)
    for figures, value in standard.items():
        pressure[int(figures)] = value
        for row, figure in enumerate("0123456789/"):
            expected = wind_expected(figure, value, upper=upper)
            asked[row, int(figures)] = -1 if expected is None else int(expected)
    return pressure, asked


_LOWER = _table(LOWER_STANDARD, upper=False)
_UPPER = _table(UPPER_STANDARD, upper=True)
_NEEDED = np.array(
    sorted({*LOWER_STANDARD.values(), *UPPER_STANDARD.values()} - NOT_IN_EVERY_REPORT)
)
"""Standard levels that no report lacks between others, in hPa."""
_NUMBER_AFTER = np.full(100, 11, dtype=np.int32)
for _number in range(11, 99, 11):
    _NUMBER_AFTER[_number] = _number + 11


class _Walk:
    """Pointers into the groups of the parts of one letter, and the records met."""

    def __init__(self, groups: Groups, places: Ints, *, upper: bool) -> None:
        self.groups, self.places, self.upper = groups, places, upper
        self.at = groups.first[places].copy()
        self.end = groups.last[places]
        self.good = groups.plain[places].copy()
        self.previous = np.full(len(places), np.inf)
        self.rows: list[tuple[Ints, ...]] = []
        self.system = np.full(len(places), -1, dtype=np.int32)
        self.release = np.full(len(places), -1, dtype=np.int32)

    def group(self, column: Ints, rows: Ints, more: int = 0) -> Ints:
        """Return a column of the groups at the pointers of some rows."""
        return column[np.minimum(self.at[rows] + more, len(column) - 1)]

    def here(self) -> Ints:
        """Return the rows that are good and not at their end."""
        return np.flatnonzero(self.good & (self.at < self.end)).astype(np.int32)

    def fail(self, rows: Ints, wrong: Mask) -> Ints:
        """Leave some rows to the reader of one report; return the others."""
        if wrong.any():
            self.good[rows[wrong]] = False
            return rows[~wrong]
        return rows

    def room(self, rows: Ints, count: int | Ints) -> Ints:
        """Return the rows with that many groups left; the others are odd."""
        return self.fail(rows, self.at[rows] + count > self.end[rows])

    def pressure(self, rows: Ints) -> Floats:
        """Return PPP in hPa, NaN where it cannot be read."""
        value = self.group(self.groups.three, rows).astype(np.float64)
        if self.upper:
            return np.where(value > 0, value / 10.0, np.nan)
        return np.where(value < 0, np.nan, np.where(value < 100, value + 1000.0, value))

    def emit(
        self,
        rows: Ints,
        section: int,
        kind: int,
        pressure: Floats,
        *,
        heat: int = 0,
        wind: int | Ints = 0,
        shear: Mask | None = None,
    ) -> None:
        """Note a record of each row.

        ``heat`` and ``wind`` are places after the first group, 0 for none.
        """
        at = self.at[rows]
        count = len(rows)
        wind_at = np.where(np.asarray(wind) > 0, at + wind, -1)
        shear_at = np.full(count, -1) if shear is None else np.where(shear, at + 2, -1)
        self.rows.append(
            (
                self.places[rows],
                np.full(count, section, dtype=np.int32),
                np.full(count, kind, dtype=np.int32),
                at,
                np.full(count, -1) if not heat else at + heat,
                np.broadcast_to(wind_at, count),
                shear_at,
                pressure,  # type: ignore[arg-type]  # the one column of floats
            )
        )

    def descend(self, rows: Ints, pressure: Floats) -> tuple[Ints, Floats]:
        """Keep the rows whose pressure is known and below the one before."""
        wrong = ~(pressure < self.previous[rows])
        rows = self.fail(rows, wrong)
        pressure = pressure[~wrong]
        self.previous[rows] = pressure
        return rows, pressure

    # --- sections ------------------------------------------------------------------------------

    def standard(self, asks: Ints) -> None:
        """Read section 2."""
        self.previous[:] = np.inf
        if not self.upper:
            rows = self.room(np.flatnonzero(self.good).astype(np.int32), 3)
            rows = self.fail(rows, self.group(self.groups.two, rows) != 99)
            pressure = self.pressure(rows)
            wrong = np.isnan(pressure)
            rows, pressure = self.fail(rows, wrong), pressure[~wrong]
            self.emit(rows, 2, SURFACE, pressure, heat=1, wind=2)
            self.at[rows] += 3
        pressures, asked = _UPPER if self.upper else _LOWER
        while True:
            rows = self.here()
            two = self.group(self.groups.two, rows)
            rows = rows[(two >= 0) & ~np.isnan(pressures[two])]
            if not len(rows):
                return
            two = self.group(self.groups.two, rows)
            expected = asked[asks[rows], two]
            rows = self.fail(rows, expected < 0)
            wind = asked[asks[rows], self.group(self.groups.two, rows)].astype(np.int32)
            rows = self.room(rows, 2 + wind)
            before = self.previous[rows]
            level = pressures[self.group(self.groups.two, rows)]
            between = np.searchsorted(_NEEDED, before) - np.searchsorted(_NEEDED, level, "right")
            rows = self.fail(rows, np.isfinite(before) & (between > 0))
            rows, pressure = self.descend(rows, pressures[self.group(self.groups.two, rows)])
            wind = asked[asks[rows], self.group(self.groups.two, rows)].astype(np.int32)
            self.emit(rows, 2, STANDARD, pressure, heat=1, wind=2 * wind)
            self.at[rows] += 2 + wind

    def tropopauses(self) -> None:
        """Read section 3."""
        self.previous[:] = np.inf
        for _ in range(_MOST_REPEATS):
            rows = self.here()
            rows = rows[self.group(self.groups.two, rows) == 88]
            none = self.group(self.groups.three, rows) == 999
            self.at[rows[none]] += 1
            rows = self.room(rows[~none], 3)
            if not len(rows):
                return
            rows, pressure = self.descend(rows, self.pressure(rows))
            self.emit(rows, 3, TROPOPAUSE, pressure, heat=1, wind=2)
            self.at[rows] += 3

    def maximum_winds(self) -> None:
        """Read section 4."""
        for _ in range(_MOST_REPEATS):
            rows = self.here()
            two = self.group(self.groups.two, rows)
            rows = rows[(two == 77) | (two == 66)]
            none = self.group(self.groups.whole, rows) == 77999
            self.at[rows[none]] += 1
            rows = self.room(rows[~none], 2)
            pressure = self.pressure(rows)
            whole = self.group(self.groups.whole, rows)
            wrong = np.isnan(pressure) | np.isin(whole, _OTHERWISE)
            rows, pressure = self.fail(rows, wrong), pressure[~wrong]
            if not len(rows):
                return
            more = self.at[rows] + 2 < self.end[rows]
            shear = more & (self.group(self.groups.lead, rows, 2) == 4)
            self.emit(rows, 4, MAXIMUM_WIND, pressure, wind=1, shear=shear)
            self.at[rows] += 2 + shear

    def significant(self, section: int, kind: int) -> None:
        """Read section 5, or 6 after its marker."""
        if section == 6:
            rows = self.here()
            rows = rows[self.group(self.groups.whole, rows) == 21212]
            self.at[rows] += 1
            active = np.zeros(len(self.at), dtype=bool)
            active[rows] = True
        else:
            active = np.ones(len(self.at), dtype=bool)
        self.previous[:] = np.inf
        number = np.full(len(self.at), 11 if self.upper else 0, dtype=np.int32)
        while True:
            rows = self.here()
            rows = rows[active[rows]]
            rows = rows[self.group(self.groups.two, rows) == number[rows]]
            rows = self.room(rows, 2)
            if not len(rows):
                return
            rows, pressure = self.descend(rows, self.pressure(rows))
            heat, wind = (1, 0) if kind == HEAT else (0, 1)
            self.emit(rows, section, kind, pressure, heat=heat, wind=wind)
            number[rows] = _NUMBER_AFTER[number[rows]]
            self.at[rows] += 2

    def rest(self, *, cloud: bool) -> None:
        """Read sections 7 to 10."""
        groups = self.groups
        rows = self.here()
        rows = self.room(rows[self.group(groups.whole, rows) == 31313], 2)
        self.system[rows] = self.group(groups.whole, rows, 1)
        rows = self.fail(rows, self.system[rows] < 0)
        self.at[rows] += 2
        rows = rows[self.at[rows] < self.end[rows]]
        rows = rows[self.group(groups.lead, rows) == 8]
        figures = self.group(groups.whole, rows) - 80000
        rows = self.fail(rows, (figures < 0) | (figures >= 2400) | (figures % 100 > 59))
        self.release[rows] = self.group(groups.whole, rows) - 80000
        self.at[rows] += 1
        if cloud:
            rows = self.here()
            rows = self.room(rows[self.group(groups.whole, rows) == 41414], 2)
            rows = self.fail(rows, self.group(groups.whole, rows, 1) < 0)
            self.at[rows] += 2
        rows = self.here()
        marker = self.group(groups.whole, rows)
        ten = marker // 1000 % 10
        regional = (marker // 10000 == 5) & (marker == 50505 + 1010 * ten) & (ten > 0)
        national = (marker // 10000 == 6) & (marker == 60606 + 1010 * ten) & (ten > 0)
        rows = rows[regional | national]
        self.at[rows] = self.end[rows]
        self.good &= self.at == self.end


def read_parts(parts: Sequence[bytes], letters: NDArray[np.bytes_]) -> ReadParts:
    """Read parts of FM 35 TEMP.

    Parameters
    ----------
    parts : sequence of bytes
        Each from its letters to ``=``.
    letters : ndarray of bytes, shape (part,)
        What they open with, four capitals.
    """
    count = len(parts)
    plain = np.zeros(count, dtype=bool)
    identification = np.zeros((count, 3), dtype=np.int32)
    system = np.full(count, -1, dtype=np.int32)
    release = np.full(count, -1, dtype=np.int32)
    groups = divide(parts, letters)
    rows: list[tuple[Ints, ...]] = []
    if len(groups.whole):
        corrected = np.isin(groups.whole, _CORRECTED)
        if corrected.any():
            summed = np.concatenate(([0], np.cumsum(corrected)))
            groups.plain[summed[groups.last] > summed[groups.first]] = False
        for name in (b"TTAA", b"TTBB", b"TTCC", b"TTDD"):
            places = np.flatnonzero(letters == name).astype(np.int32)
            if len(places):
                walk = _read_letter(groups, places, name.decode("ascii")[2], identification)
                plain[places] = walk.good
                system[places], release[places] = walk.system, walk.release
                rows.extend(walk.rows)
    records = records_of(rows, groups, plain, identification, letters)
    return ReadParts(plain, identification, system, release, records)


def _read_letter(groups: Groups, places: Ints, letter: str, identification: Ints) -> _Walk:
    walk = _Walk(groups, places, upper=letter in "CD")
    every = walk.room(np.flatnonzero(walk.good).astype(np.int32), 2)
    day, gg = walk.group(groups.two, every), walk.group(groups.hour, every)
    first = walk.group(groups.whole, every)
    last = np.where(first >= 0, first % 10, 10)  # the last figure alone may be a solidus
    station = walk.group(groups.whole, every, 1)
    day_ok = ((day >= 1) & (day <= 31)) | ((day >= 51) & (day <= 81))
    wrong = ~day_ok | (gg < 0) | (gg > 23) | (station < 0)
    if letter == "D":
        wrong |= last != 10
    asks = np.full(len(places), 10, dtype=np.int32)
    asks[every] = last
    identification[places[every]] = np.stack([day, gg, station], axis=1)
    every = walk.fail(every, wrong)
    walk.at[every] += 2
    if letter in "AC":
        walk.standard(asks)
        walk.tropopauses()
        walk.maximum_winds()
    else:
        walk.significant(5, HEAT)
        walk.significant(6, WIND)
    walk.rest(cloud=letter == "B")
    return walk
