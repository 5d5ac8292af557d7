"""Parts of FM 35 TEMP read across reports: one step of the rhythm for all of them at a time.

A part is read here only while every group is where and as the plainest report has it; the first
thing that is unusual leaves the part to the reader of one report (:mod:`encoder.codes.reader`).
What is read here that reader reads the same: tests hold the two against each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from encoder.codes.fm35 import LOWER_STANDARD, UPPER_STANDARD
from encoder.codes.last_wind import wind_expected
from encoder.levels.table import THERMODYNAMIC, LevelKind
from encoder.resolution import Coding

if TYPE_CHECKING:
    from collections.abc import Sequence

Ints = NDArray[np.int32]
Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

ABSENT, SOLIDI, GIVEN = 0, 1, 2
"""What a record says of a quantity: no group, a group of solidi, a value."""
SURFACE, STANDARD, TROPOPAUSE, MAXIMUM_WIND, HEAT, WIND = range(6)
"""Kinds of record."""
_HEAT_BITS = int(THERMODYNAMIC)
_CORRECTED = (10181, 10182, 10183, 10184)
_MOST_REPEATS = 3

_SEPARATOR, _GROUP, _END, _LETTER, _OTHER = range(5)
_CLASS = np.full(256, _OTHER, dtype=np.uint8)
for _sign in b" \r\n":
    _CLASS[_sign] = _SEPARATOR
for _sign in b"0123456789/":
    _CLASS[_sign] = _GROUP
_CLASS[ord("=")] = _END
for _sign in b"TABCD":
    _CLASS[_sign] = _LETTER


@dataclass(frozen=True, slots=True, eq=False)
class Records:
    """Records of many parts, one value a record; NaN where there is none.

    Attributes
    ----------
    part : ndarray of int
        Place of the part.
    section : ndarray of int
        2 to 6.
    kind : ndarray of int
        :data:`SURFACE` to :data:`WIND`.
    level_kinds : ndarray of int
        Bits of :class:`encoder.levels.table.LevelKind`.
    pressure, temperature, depression, direction, speed, below, above : ndarray of float
        hPa, degC, K, degree, m s-1; shear below and above in m s-1.
    height_figures : ndarray of int
        hhh, -1 where missing or not of a standard level.
    said : dict of str to ndarray of int8
        For height, temperature, depression, direction, speed: :data:`ABSENT` to :data:`GIVEN`.
    """

    part: Ints
    section: Ints
    kind: Ints
    level_kinds: Ints
    pressure: Floats
    temperature: Floats
    depression: Floats
    direction: Floats
    speed: Floats
    below: Floats
    above: Floats
    height_figures: Ints
    said: dict[str, NDArray[np.int8]]


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


class _Groups(NamedTuple):
    """Groups of five figures of all parts, one after another."""

    first: Ints
    last: Ints
    plain: Mask
    two: Ints
    three: Ints
    front: Ints
    back: Ints
    whole: Ints
    lead: Ints
    hour: Ints


def _divide(parts: Sequence[bytes], letters: NDArray[np.bytes_]) -> _Groups:
    """Divide parts into groups; parts with anything but letters, groups of five and = are odd."""
    text = b" ".join(parts) + b" " * 8
    data = np.frombuffer(text, np.uint8)
    lengths = np.fromiter((len(item) for item in parts), np.int64, len(parts))
    begins = np.concatenate(([0], np.cumsum(lengths[:-1] + 1))).astype(np.int64)
    ends = begins + lengths
    kind = _CLASS[data]
    plain = lengths > 16
    safe_end = np.maximum(ends - 1, 0)
    plain &= (kind[safe_end] == _END) & (kind[begins + 4] == _SEPARATOR)
    own = data[begins[:, None] + np.arange(4)]
    given = np.ascontiguousarray(letters).view(np.uint8).reshape(-1, 4)
    plain &= (own == given).all(axis=1)
    for wrong, allowed in ((kind == _OTHER, 0), (kind == _END, 1), (kind == _LETTER, 4)):
        summed = np.concatenate(([0], np.cumsum(wrong, dtype=np.int64)))
        plain &= summed[ends] - summed[begins] == allowed
    inside = kind == _GROUP
    edge = np.flatnonzero(np.diff(inside.view(np.int8), prepend=0, append=0))
    starts, stops = edge[::2], edge[1::2]
    first = np.searchsorted(starts, begins).astype(np.int32)
    last = np.searchsorted(starts, ends).astype(np.int32)
    odd = np.concatenate(([0], np.cumsum(stops - starts != 5, dtype=np.int64)))
    plain &= odd[last] == odd[first]
    figure = data[starts[:, None] + np.arange(5)].astype(np.int32) - 48  # a solidus is -1
    bad = figure < 0
    digit = np.where(bad, 0, figure)

    def number(begin: int, end: int) -> Ints:
        """Return figures as a number, -1 for solidi, -2 for some of each."""
        value = np.zeros(len(figure), dtype=np.int32)
        for place in range(begin, end):
            value = value * 10 + digit[:, place]
        wrong = bad[:, begin:end]
        some = wrong.any(axis=1)
        every = wrong.all(axis=1)
        return np.where(every, -1, np.where(some, -2, value)).astype(np.int32)

    return _Groups(
        first,
        last,
        plain,
        two=number(0, 2),
        three=number(2, 5),
        front=number(0, 3),
        back=number(3, 5),
        whole=number(0, 5),
        lead=figure[:, 0],
        hour=number(2, 4),
    )


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
_NUMBER_AFTER = np.full(100, 11, dtype=np.int32)
for _number in range(11, 99, 11):
    _NUMBER_AFTER[_number] = _number + 11


class _Walk:
    """Pointers into the groups of the parts of one letter, and the records met."""

    def __init__(self, groups: _Groups, places: Ints, *, upper: bool) -> None:
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
            wrong = np.isnan(pressure) | (self.group(self.groups.three, rows) == 999)
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
    groups = _divide(parts, letters)
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
    records = _records(rows, groups, plain, identification, letters)
    return ReadParts(plain, identification, system, release, records)


def _read_letter(groups: _Groups, places: Ints, letter: str, identification: Ints) -> _Walk:
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


# --- values -----------------------------------------------------------------------------------


def _records(
    rows: Sequence[tuple[Ints, ...]],
    groups: _Groups,
    plain: Mask,
    identification: Ints,
    letters: NDArray[np.bytes_],
) -> Records:
    """Return the values of the records of plain parts; what cannot be read makes a part odd."""
    if rows:
        columns = [np.concatenate([item[place] for item in rows]) for place in range(8)]
    else:
        columns = [np.empty(0, dtype=np.int32) for _ in range(8)]
    part, section, kind, lead, heat, wind, shear = (item.astype(np.int32) for item in columns[:7])
    pressure = columns[7].astype(np.float64)
    keep = plain[part]
    part, section, kind, lead, heat, wind, shear = (
        item[keep] for item in (part, section, kind, lead, heat, wind, shear)
    )
    pressure = pressure[keep]
    count = len(part)

    def group(column: Ints, at: Ints) -> Ints:
        if not len(column):
            return np.full(len(at), -1, dtype=np.int32)
        return np.where(at >= 0, column[np.maximum(at, 0)], -1)

    temperature, depression, odd = _heat(group(groups.front, heat), group(groups.back, heat))
    step = np.where(
        identification[part, 0] > 50, Coding("kt").speed_step, Coding("m s-1").speed_step
    )
    direction, speed, odd_wind = _wind(group(groups.two, wind), group(groups.three, wind), step)
    odd |= odd_wind

    below = np.full(count, np.nan)
    above = np.full(count, np.nan)
    with_shear = shear >= 0
    if with_shear.any():
        at = shear[with_shear]
        whole = groups.whole[at]
        own = step[with_shear]
        figure = whole // 100 % 100
        below[with_shear] = np.where(whole >= 0, figure, np.nan) * own
        above[with_shear] = np.where(whole >= 0, whole % 100, np.nan) * own
        wrong = np.zeros(count, dtype=bool)
        wrong[with_shear] = whole < 0
        odd |= wrong

    standard = kind == STANDARD
    hhh = np.where(standard, group(groups.three, lead), -1)
    odd |= hhh == -2

    if odd.any():
        plain[np.unique(part[odd])] = False
    bits = np.zeros(count, dtype=np.int32)
    surface = kind == SURFACE
    significant = (kind == HEAT) | (kind == WIND)
    two = group(groups.two, lead)
    surface |= significant & (two == 0)
    bits[kind == STANDARD] = int(LevelKind.STANDARD)
    bits[kind == TROPOPAUSE] = int(LevelKind.TROPOPAUSE)
    bits[kind == MAXIMUM_WIND] = int(LevelKind.MAXIMUM_WIND)
    bits[(kind == MAXIMUM_WIND) & (two == 66)] |= int(LevelKind.TOP_OF_WIND_SOUNDING)
    bits[kind == HEAT] = _HEAT_BITS
    bits[kind == WIND] = int(LevelKind.SIGNIFICANT_WIND)
    bits[surface] |= int(LevelKind.SURFACE)

    def said(there: Mask, values: Floats) -> NDArray[np.int8]:
        found = np.where(np.isnan(values), SOLIDI, GIVEN)
        return np.where(there, found, ABSENT).astype(np.int8)

    stated = {
        "geopotential_height": np.where(standard, np.where(hhh >= 0, GIVEN, SOLIDI), ABSENT).astype(
            np.int8
        ),
        "air_temperature": said(heat >= 0, temperature),
        "dew_point_depression": said(heat >= 0, depression),
        "wind_from_direction": said(wind >= 0, direction),
        "wind_speed": said(wind >= 0, speed),
    }
    order = np.lexsort((lead, section, part))
    keep = plain[part[order]]
    order = order[keep]
    return Records(
        part[order],
        section[order],
        kind[order],
        bits[order],
        pressure[order],
        temperature[order],
        depression[order],
        direction[order],
        speed[order],
        below[order],
        above[order],
        hhh[order],
        {name: values[order] for name, values in stated.items()},
    )


def _heat(figures: Ints, steps: Ints) -> tuple[Floats, Floats, Mask]:
    """Return temperature and depression of TTTa and DD, and where they are out of the plain."""
    odd = (figures == -2) | (steps == -2) | ((figures == -1) & (steps >= 0))
    odd |= (steps > 50) & (steps < 56)
    temperature: Floats = np.where(figures % 2 == 1, -figures, figures).astype(np.float64) / 10.0
    temperature[figures < 0] = np.nan
    depression: Floats = np.where(steps <= 50, steps / 10.0, steps - 50.0).astype(np.float64)
    depression[steps < 0] = np.nan
    return temperature, depression, odd


def _wind(tens: Ints, units: Ints, step: Floats) -> tuple[Floats, Floats, Mask]:
    """Return direction and speed of dd and fff, and where they are out of the plain."""
    odd = (tens == -2) | (units == -2) | ((tens < 0) != (units < 0))
    five = units >= 500
    speed: Floats = np.where(five, units - 500, units).astype(np.float64) * step
    direction: Floats = tens.astype(np.float64) * 10.0 + np.where(five, 5.0, 0.0)
    missing = (tens < 0) | (units < 0)
    speed[missing] = np.nan
    direction[missing] = np.nan
    odd |= (direction > 360.0) | (((direction == 0.0) != (speed == 0.0)) & ~missing)
    return direction, speed, odd
