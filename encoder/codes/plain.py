"""Reading in the declared rhythm: every group where the code wants it, or no reading at all.

A part as coded is regular: sections and records in order, the groups of a record in order, winds at
standard levels as far as Id says. Read so, its groups need no guess. Where this reading meets no
fault up to the last group, it is the reading of the part, however much a wind or a temperature may
look like a level; where it meets one, :mod:`encoder.codes.reader` looks for the rhythm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from encoder.codes.groups import standard_height
from encoder.codes.last_wind import wind_expected
from encoder.codes.reader import PartReader

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.codes.account import Token
    from encoder.codes.declare import Follower, Part, Section, Value

METRES_OFF = 2000.0
KELVINS_OFF = 20.0
"""Heights and temperatures of a standard level as odd as each other, by their distance from the
standard atmosphere (common practice, no source)."""


def read_part(tokens: Sequence[Token], part: Part) -> PartReader:
    """Read a part in the declared rhythm, or else in the best one that its groups have.

    Parameters
    ----------
    tokens : sequence of Token
    part : Part

    Returns
    -------
    PartReader
        With the outcome in its fields.

    Notes
    -----
    Table 1734 does not say which levels above 10 hPa have a wind, nor does Id where it is not
    understood. Then each number of levels that may have one is tried, and of the readings without
    a fault that one is taken whose levels are nearest to the standard atmosphere.
    """
    found: list[PlainReader] = []
    for winds in range(len(part.standard) + 1):
        reader = PlainReader(tokens, part, winds=winds)
        if reader.read_plainly():
            found.append(reader)
        if reader.untold <= winds:
            break
    if found:
        return found[0] if len(found) == 1 else min(found, key=PlainReader.oddness)
    tolerant = PartReader(tokens, part)
    tolerant.read()
    return tolerant


@dataclass(slots=True)
class PlainReader(PartReader):
    """Reads a part as the declaration has it, up to the first fault.

    Attributes
    ----------
    winds : int
        How many of the standard levels of which Id does not tell have a wind.
    untold : int
        How many such levels were met.
    """

    winds: int = 0
    untold: int = 0

    def read_plainly(self) -> bool:
        """Read the groups as far as they are in order; tell whether all of them are."""
        self._read_identification()
        if self.nil:
            return True
        found = self.account.found
        before = len(found)
        while self._place < len(self.tokens):
            opening = self._search(self._place, loose=False)
            if opening is None:
                return False
            self._open(*opening)
            if len(found) > before:
                return False
        return True

    def oddness(self) -> float:
        """Return how far the oddest standard level is from the standard atmosphere."""
        from encoder.physics import standard_atmosphere_temperature

        odd = 0.0
        for record in self.sections.get("2", ()):
            pressure, height = record.get("air_pressure"), record.get("geopotential_height")
            if record.kind != "standard" or not isinstance(pressure, float):
                continue
            usual = standard_height(pressure)
            if isinstance(height, float):
                odd = max(odd, abs(height - usual) / METRES_OFF)
            warmth = record.get("air_temperature")
            if isinstance(warmth, float):
                usual = float(standard_atmosphere_temperature(usual))
                odd = max(odd, abs(warmth - usual) / KELVINS_OFF)
        return odd

    def _present(self, section: Section, due: Follower, values: dict[str, Value]) -> bool:
        """Tell whether the group that is due stands here: it does, if all is in order."""
        use = due.use
        if use.presence == "if-recognised":
            return self._recognised(use, self._place)
        if use.presence == "to-last-wind" and not self._wind_due(values):
            return False
        if self._place < len(self.tokens):
            return True
        self._missing(section, use.group, "the report ends here", values)
        return False

    def _wind_due(self, values: dict[str, Value]) -> bool:
        """Tell whether a standard level has a wind, by Id where it tells."""
        pressure = values.get("air_pressure")
        expected = wind_expected(
            self._context.last_wind,
            pressure if isinstance(pressure, float) else None,
            upper=self.part.tenths,
        )
        if expected is None:
            self.untold += 1
            expected = self.untold <= self.winds
        return expected
