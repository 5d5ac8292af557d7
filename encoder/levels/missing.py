"""Layers without data and the levels that are their limits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import Result
from encoder.levels.ascent_rows import levels_at_rows
from encoder.levels.stretches import missing_stretches, wind_rows
from encoder.levels.table import LevelKind, Levels, Reason

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from encoder.levels.rules import Criterion, Rules
    from encoder.profile import FloatArray, Profile


@dataclass(frozen=True, slots=True)
class _Element:
    """One element a layer can lack."""

    word: str
    begin: LevelKind
    end: LevelKind


_TEMPERATURE = _Element(
    "Temperature", LevelKind.BEGIN_MISSING_TEMPERATURE, LevelKind.END_MISSING_TEMPERATURE
)
_HUMIDITY = _Element("Humidity", LevelKind.BEGIN_MISSING_HUMIDITY, LevelKind.END_MISSING_HUMIDITY)
_WIND = _Element("Wind", LevelKind.BEGIN_MISSING_WIND, LevelKind.END_MISSING_WIND)


def missing_layers(ascent: Profile, *, rules: Rules) -> Result[Levels]:
    """Return the levels that limit layers without temperature, humidity or wind.

    Parameters
    ----------
    ascent : Profile
        Prepared rows, pressure strictly decreasing, row 0 the surface observation.
    rules : Rules
        Gives the least thickness for each element.

    Returns
    -------
    Result of Levels
        The nearest rows with data below (BEGIN) and above (END) each layer. Where an element is
        missing up to the top only BEGIN is marked, where it is missing from the surface on only
        END: there is no level with data on the other side. An element without any data has no
        levels. A layer without temperature has no dew point either and is marked for both.

    References
    ----------
    WMO-No. 306, 35.3.1.6 and 35.3.2.2; B/C25.8.8 to 8.10.
    """
    humid = np.isfinite(ascent["dew_point_temperature"])
    checks: tuple[tuple[_Element, NDArray[np.bool_], Criterion], ...] = (
        (_TEMPERATURE, np.isfinite(ascent["air_temperature"]), rules.missing_temperature),
        (_HUMIDITY, humid, rules.missing_humidity),
        (_WIND, wind_rows(ascent), rules.missing_wind),
    )
    kinds: dict[int, int] = {}
    reasons: dict[int, list[Reason]] = {}
    pressure = ascent["air_pressure"]
    for element, valid, limit in checks:
        for begin, end in missing_stretches(pressure, valid, float(limit)):
            for row, kind, rule in (
                (begin, element.begin, f"begin-missing-{element.word.lower()}"),
                (end, element.end, f"end-missing-{element.word.lower()}"),
            ):
                if 0 <= row < len(pressure):
                    text = _sentence(element.word, pressure, begin, end, limit)
                    kinds[row] = kinds.get(row, 0) | int(kind)
                    reasons.setdefault(row, []).append(Reason(rule, text, limit.source))
    rows = sorted(kinds)
    return Result(
        levels_at_rows(ascent, rows, [kinds[row] for row in rows], [reasons[r] for r in rows])
    )


def _sentence(word: str, pressure: FloatArray, begin: int, end: int, limit: Criterion) -> str:
    """Say between which pressures the element is missing, how thick that is, and the limit."""
    bottom = pressure[max(begin, 0)]
    top = pressure[min(end, len(pressure) - 1)]
    start = "the surface" if begin < 0 else f"{bottom:.1f} hPa"
    stop = f"{top:.1f} hPa"
    if end == len(pressure):
        stop = f"the top at {stop}"
    return (
        f"{word} is missing from {start} to {stop}: {bottom - top:.1f} hPa, "
        f"shown from {limit.value:g} hPa on."
    )
