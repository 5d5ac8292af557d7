"""One sounding of an open CF file of others: its rows, its single values, its words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.diagnostics import Diagnostic, diagnostic
from encoder.formats.foreign_cf import Found, attribute, is_text, numbers, text

if TYPE_CHECKING:
    from encoder.profile import FloatArray


@dataclass(frozen=True, slots=True)
class SoundingReader:
    """One sounding of an open file."""

    dataset: Any
    found: Found
    place: int

    def part(self, variable: Any) -> Any:
        """Return the index of this sounding's values in a variable along the levels."""
        dims = variable.dimensions
        if self.found.instance in dims and self.found.sample in dims:
            return tuple(self.place if dim == self.found.instance else slice(None) for dim in dims)
        if self.found.count is not None:
            sizes = np.asarray(self.dataset.variables[self.found.count][...]).astype(np.int64)
            begin = int(sizes[: self.place].sum())
            return slice(begin, begin + int(sizes[self.place]))
        if self.found.index is not None:
            index = np.asarray(self.dataset.variables[self.found.index][...])
            return np.flatnonzero(index == self.place)
        return slice(None)

    def rows(self, name: str) -> FloatArray:
        """Return the values of a row variable."""
        variable = self.dataset.variables[self.found.rows[name]]
        return numbers(variable, self.part(variable)).reshape(-1)

    def single(self, name: str) -> float:
        """Return the value of a variable with one value a sounding, NaN where there is none."""
        if name not in self.found.single:
            return float("nan")
        variable = self.dataset.variables[self.found.single[name]]
        if is_text(variable):
            return float("nan")
        values = numbers(variable, ...).reshape(-1)
        return float(values[self.place if variable.ndim else 0])

    def words(self, name: str) -> str:
        """Return a text with one value a sounding, empty where there is none."""
        if name not in self.found.single:
            return ""
        return text(self.dataset.variables[self.found.single[name]], self.place)

    def units(self, name: str) -> str | None:
        """Return the units of the variable of a column."""
        place = self.found.rows.get(name) or self.found.single.get(name)
        units = None if place is None else attribute(self.dataset.variables[place], "units")
        return units if isinstance(units, str) else None


def lacks(name: str, words: str) -> Diagnostic:
    """Return the error for a quantity a flight needs and the file does not have."""
    return diagnostic(
        "netcdf-coordinate-missing",
        f"Expected {words}, found no variable with standard_name {name}.",
        path=(name,),
        expected=name,
    )


def turned(longitude: FloatArray) -> FloatArray:
    """Return longitudes of 0 to 360 degrees as -180 to 180."""
    return np.where(longitude > 180.0, longitude - 360.0, longitude)
