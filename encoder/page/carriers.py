"""Other carriers of the same sounding: BUFR messages and netCDF files, tied to the levels.

A carrier is a table: one row for each level it holds, one column for each element or variable, and
for each row the level of the report it belongs to. Pointing at either marks the other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.levels.table import LevelKind
from encoder.resolution import coded_pressure

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.formats.bufr.sounding import BufrSounding
    from encoder.levels.table import Levels
    from encoder.page.links import LevelLinks
    from encoder.profile import FloatArray, IntArray

_VERTICAL = "air_pressure"
_ROW = "source_row"
_NO_UNIT = ("FLAG TABLE", "CODE TABLE", "CCITT IA5", "Numeric")
"""What Table B says in place of a unit; the values are shown as words and plain numbers."""


@dataclass(frozen=True, slots=True)
class CarrierColumn:
    """An element of BUFR Table B, or a variable of a netCDF file.

    Attributes
    ----------
    name : str
        Descriptor or name of the variable.
    words : str
        What it is.
    unit : str
    """

    name: str
    words: str
    unit: str


@dataclass(frozen=True, slots=True)
class CarrierRow:
    """What a carrier says of one level.

    Attributes
    ----------
    place : str
        Where in the carrier: number of the level, or index of the row.
    level : int or None
        Index in the level table of the report.
    cells : tuple of float, str or None
        By column; None for missing.
    """

    place: str
    level: int | None
    cells: tuple[float | str | None, ...]


@dataclass(frozen=True, slots=True)
class Carrier:
    """A BUFR message or a netCDF file.

    Attributes
    ----------
    kind : {"BUFR", "netCDF"}
    name : str
        File, and what is needed to find it in there.
    columns : tuple of CarrierColumn
    rows : tuple of CarrierRow
    """

    kind: str
    name: str
    columns: tuple[CarrierColumn, ...]
    rows: tuple[CarrierRow, ...]

    def as_json(self) -> dict[str, Any]:
        """Return a dictionary for the data of a page."""
        return {
            "kind": self.kind,
            "name": self.name,
            "columns": [
                {"name": item.name, "words": item.words, "unit": item.unit} for item in self.columns
            ],
            "rows": [
                {"place": row.place, "level": row.level, "cells": list(row.cells)}
                for row in self.rows
            ],
        }


def levels_at(
    levels: Levels, pressures: FloatArray, kinds: IntArray | None = None
) -> list[int | None]:
    """Return the level of the report with the coded pressure of each row, None for none.

    Parameters
    ----------
    levels : Levels
        Of the report, as decoded.
    pressures : ndarray, shape (row,)
        hPa.
    kinds : ndarray of int, shape (row,), optional
        Bits of :class:`encoder.levels.table.LevelKind`; they tell the surface from a standard
        level of the same coded pressure.
    """
    coded = coded_pressure(pressures)
    ground = (levels.kinds & int(LevelKind.SURFACE)) != 0
    found: list[int | None] = []
    for place, pressure in enumerate(coded):
        same = np.flatnonzero(np.abs(levels["air_pressure"] - pressure) < 1e-6)
        if kinds is not None and len(same) > 1:
            surface = bool(kinds[place] & int(LevelKind.SURFACE))
            same = same[ground[same] == surface]
        found.append(int(same[0]) if len(same) else None)
    return found


def carrier_of_bufr(sounding: BufrSounding, levels: Levels, name: str) -> Carrier:
    """Return a BUFR message as a carrier.

    Parameters
    ----------
    sounding : BufrSounding
    levels : Levels
        Of the report.
    name : str
        File the message is in.

    Returns
    -------
    Carrier
        Rows with a level kind (0 08 042); all rows where none has one.
    """
    from encoder.formats.bufr.elements import ELEMENTS
    from encoder.formats.bufr.explain import explain_subset
    from encoder.formats.bufr.sounding import level_block
    from encoder.formats.bufr.subset import Block, Subset

    block = level_block(sounding.plain)
    place = f"{name}, octet {sounding.offset}, subset {sounding.subset}"
    if block is None:
        return Carrier("BUFR", place, (), ())
    kinds = sounding.levels.kinds
    wanted = np.flatnonzero(kinds != 0)
    if len(wanted) == 0:
        wanted = np.arange(len(block))
    columns = []
    for fxy in block.fxys:
        element = ELEMENTS.get(fxy)
        words = "" if element is None else element.name.replace("_", " ")
        unit = "" if element is None or element.unit in _NO_UNIT else element.unit
        columns.append(CarrierColumn(f"{fxy[0]} {fxy[1:3]} {fxy[3:]}", words, unit))
    part = Block(block.fxys, block.values[wanted])
    explained = explain_subset(Subset((part,)))
    at = levels_at(levels, sounding.levels["air_pressure"][wanted], kinds[wanted])
    width = len(block.fxys)
    rows = [
        CarrierRow(
            f"level {int(index) + 1}",
            at[row],
            tuple(
                item.meaning or item.value for item in explained[row * width : (row + 1) * width]
            ),
        )
        for row, index in enumerate(wanted)
    ]
    return Carrier("BUFR", place, tuple(columns), tuple(rows))


def carrier_of_netcdf(
    path: str, levels: Levels, links: Sequence[LevelLinks], name: str
) -> Carrier | None:
    """Return a netCDF file as a carrier.

    Parameters
    ----------
    path : str
        A flight file or a level file.
    levels : Levels
        Of the report.
    links : sequence of LevelLinks
        Give the rows of the flight each level comes from.
    name : str
        What the reader calls the file.

    Returns
    -------
    Carrier or None
        The variables along the rows or levels, at those that belong to a level; None where the
        file cannot be opened or has no pressure along a dimension.

    Raises
    ------
    MissingDependencyError
        If netCDF4 is not installed.
    """
    from encoder.formats.netcdf.container import opened

    dataset = opened(path).value
    if dataset is None:
        return None
    with dataset:
        dataset.set_auto_maskandscale(True)
        pressure = dataset.variables.get(_VERTICAL)
        if pressure is None or len(pressure.dimensions) != 1:
            return None
        along = pressure.dimensions
        values = np.ma.filled(np.ma.asarray(pressure[:], dtype=np.float64), np.nan)
        hundred = 100.0 if getattr(pressure, "units", "hPa") == "Pa" else 1.0
        if _ROW in dataset.variables:
            at = _by_row(np.ma.filled(dataset.variables[_ROW][:], -1), links)
        else:
            found = levels_at(levels, values / hundred)
            at = [(place, level) for place, level in enumerate(found) if level is not None]
        chosen = [
            variable
            for variable in dataset.variables.values()
            if variable.dimensions == along and variable.dtype.kind in "iuf"
        ]
        columns = tuple(
            CarrierColumn(
                variable.name,
                str(getattr(variable, "long_name", getattr(variable, "standard_name", ""))),
                str(getattr(variable, "units", "")),
            )
            for variable in chosen
        )
        rows = tuple(
            CarrierRow(f"{along[0]} {place}", level, tuple(_cell(item, place) for item in chosen))
            for place, level in at
        )
    return Carrier("netCDF", name, columns, rows)


def _by_row(lines: IntArray, links: Sequence[LevelLinks]) -> list[tuple[int, int]]:
    """Return index and level of every row of the file that a level comes from."""
    places = {int(line): place for place, line in enumerate(lines)}
    return sorted(
        (places[row], level)
        for level, link in enumerate(links)
        for row in link.rows
        if row in places
    )


def _cell(variable: Any, place: int) -> float | str | None:
    value = np.ma.asarray(variable[place])
    if np.ma.is_masked(value):
        return None
    number = float(value)
    meanings = str(getattr(variable, "flag_meanings", "")).split()
    if meanings and hasattr(variable, "flag_masks"):
        masks = np.atleast_1d(variable.flag_masks)
        words = [word for word, mask in zip(meanings, masks, strict=False) if int(number) & mask]
        return ", ".join(words) or "none"
    if meanings and hasattr(variable, "flag_values"):
        known = dict(zip(np.atleast_1d(variable.flag_values).tolist(), meanings, strict=False))
        return str(known.get(int(number), f"{number:g}"))
    return None if np.isnan(number) else float(f"{number:.7g}")
