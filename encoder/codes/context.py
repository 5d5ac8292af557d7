"""What conversions give and take: values, faults, and what earlier groups have settled."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from encoder.resolution import Coding, WindUnit

Value = float | int | str | bool | None
Values = Mapping[str, Value]
_CODINGS: dict[WindUnit, Coding] = {"kt": Coding("kt"), "m s-1": Coding("m s-1")}


@dataclass(slots=True)
class Context:
    """What earlier groups of a part have settled; the engine fills it, conversions read it.

    Attributes
    ----------
    tenths : bool
        Pressures PPP are in tenths of hPa (parts C and D).
    wind_unit : {"kt", "m s-1"}
        From the day figures YY.
    last_wind : str
        Figure Id: last standard level with wind, "/" for none, "" where the part has none.
    number : str
        Level number nn the next record of sections 5 and 6 must carry.
    standard : mapping of str to float
        Figures PP of the standard levels of this part, with their pressure in hPa.
    previous_pressure : float
        Pressure of the record before in the same section, in hPa; infinite at its beginning.
    previous_height : float
        Height of the level before in the same section, in its own steps; -1 at its beginning.
    carried : str
        Figures of a value that ends in the next group.
    said : mapping of str to float, int, str, bool or None
        Values of the record that is being read, as far as read.
    """

    tenths: bool = False
    wind_unit: WindUnit = "kt"
    last_wind: str = ""
    number: str = "11"
    standard: Mapping[str, float] = field(default_factory=dict)
    previous_pressure: float = float("inf")
    previous_height: float = -1.0
    carried: str = ""
    said: Values = field(default_factory=dict)

    @property
    def coding(self) -> Coding:
        """Steps of the report."""
        return _CODINGS[self.wind_unit]


@dataclass(frozen=True, slots=True)
class Fault:
    """Something wrong inside one group, before the engine adds the place.

    Attributes
    ----------
    code : str
        Diagnostic code.
    message : str
        One sentence.
    expected : str or None
        What would have been right.
    """

    code: str
    message: str
    expected: str | None = None


@dataclass(frozen=True, slots=True)
class Coded:
    """Outcome of encoding a group: its characters and the faults met."""

    text: str
    faults: tuple[Fault, ...] = ()


class Read(NamedTuple):
    """Outcome of decoding a group: its values (None for missing) and the faults met."""

    values: Values
    faults: tuple[Fault, ...] = ()
