"""Levels where the temperature passes 0 degC."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import Result
from encoder.levels.ascent_rows import levels_at_pressures, rows_around
from encoder.levels.rules import WMO
from encoder.levels.stretches import missing_stretches
from encoder.levels.table import LevelKind, Levels, Reason
from encoder.resolution import TEMPERATURE_HALF_STEP

if TYPE_CHECKING:
    from encoder.levels.rules import Rules
    from encoder.profile import FloatArray, Profile

_SOURCE = "BUFR flag table 0 08 042, bit 16; the algorithm: common practice, no source"


def zero_crossings(
    ascent: Profile, *, rules: Rules = WMO, formula: str = "wmo-49"
) -> Result[Levels]:
    """Return the levels where the temperature passes 0 degC.

    Parameters
    ----------
    ascent : Profile
        Prepared rows, pressure strictly decreasing.
    rules : Rules
        Gives the thickness from which a layer without temperature is not bridged.
    formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS` for the dew point.

    Returns
    -------
    Result of Levels
        One level for each change of sign, temperature linear in ln p, so 0 degC exactly. A row
        of exactly 0 degC, or a run of them, counts once, at its lowest row, if the sign changes
        there or the ascent begins or ends there. The curve has to get 0.1 K (the half-step of
        the coded temperature) beyond zero on either side: noise around the crossing gives one
        level, the lowest.

    References
    ----------
    BUFR flag table 0 08 042, bit 16 (WMO-No. 306 Volume I.2).
    """
    valid = np.isfinite(ascent["air_temperature"])
    rows = ascent["air_pressure"][valid]
    temperature = ascent["air_temperature"][valid]
    found = _crossings(rows, temperature)
    pressure = ascent["air_pressure"]
    for begin, end in missing_stretches(pressure, valid, float(rules.missing_temperature)):
        if begin >= 0 and end < len(pressure):
            low, high = pressure[end], pressure[begin]
            found = [value for value in found if not low < value < high]
    wanted = np.array(found, dtype=np.float64)
    columns = levels_at_pressures(ascent, wanted, rules=rules, formula=formula)
    columns["air_temperature"] = np.zeros(len(wanted))
    reasons = [
        (Reason("zero-crossing", f"The temperature passes 0 degC at {value:.1f} hPa.", _SOURCE),)
        for value in found
    ]
    return Result(
        Levels(
            columns,
            np.full(len(found), int(LevelKind.FREEZING)),
            tuple(reasons),
            tuple(rows_around(ascent, value) for value in found),
        )
    )


def _crossings(pressure: FloatArray, temperature: FloatArray) -> list[float]:
    """Return the pressures, in hPa, where a curve without gaps passes zero, upward."""
    if len(temperature) == 0:
        return []
    signs = np.sign(temperature)
    signed = np.flatnonzero(np.abs(temperature) >= TEMPERATURE_HALF_STEP)
    changes = np.flatnonzero(signs[signed[:-1]] * signs[signed[1:]] < 0)
    found = []
    if signs[0] == 0:
        found.append(float(pressure[0]))
    for change in changes:
        first, last = int(signed[change]), int(signed[change + 1])
        upper = first + 1 + int(np.argmax(signs[first + 1 : last + 1] != signs[first]))
        below, above = temperature[upper - 1], temperature[upper]
        ratio = pressure[upper] / pressure[upper - 1]
        between = pressure[upper - 1] * ratio ** (below / (below - above))
        found.append(float(pressure[upper] if above == 0.0 else between))
    nonzero = np.flatnonzero(signs)
    if len(nonzero) and nonzero[-1] < len(signs) - 1:
        found.append(float(pressure[nonzero[-1] + 1]))
    return found
