"""Checking a level table before it is coded: is the promise kept, and if not, where."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.columns import COLUMNS
from encoder.diagnostics import Diagnostic, diagnostic
from encoder.levels.representation import ELEMENTS, coded_levels, misfit
from encoder.levels.table import THERMODYNAMIC, LevelKind
from encoder.levels.tropopause import first_tropopause_pressure
from encoder.resolution import coded_pressure
from encoder.rows import MOST_STRETCHES, rows_counted

if TYPE_CHECKING:
    from encoder.levels.representation import Misfit, Stretch
    from encoder.levels.rules import Rules
    from encoder.levels.table import Levels
    from encoder.profile import Profile
    from encoder.resolution import Coding

_UNITS = {"degC": "K", "degree": "degrees"}


def misfit_of_levels(
    ascent: Profile, levels: Levels, *, rules: Rules, coding: Coding, formula: str
) -> Misfit:
    """Return the misfit of levels as a reader decodes them.

    Parameters
    ----------
    ascent : Profile
        Prepared rows.
    levels : Levels
        Unrounded levels with their kinds.
    rules : Rules
    coding : Coding
    formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS`.

    Returns
    -------
    Misfit
        See :func:`encoder.levels.representation.misfit`.
    """
    tropopause = coded_pressure(np.array([first_tropopause_pressure(levels)]))
    return misfit(
        ascent,
        coded_levels(levels, coding, formula),
        rules=rules,
        coding=coding,
        formula=formula,
        tropopause_pressure=float(tropopause[0]),
    )


def promise_kept(
    ascent: Profile, levels: Levels, *, rules: Rules, coding: Coding, formula: str
) -> list[Diagnostic]:
    """Return one diagnostic for every stretch of rows the coded levels do not rebuild.

    Parameters
    ----------
    ascent, levels, rules, coding, formula
        See :func:`misfit_of_levels`.

    Returns
    -------
    list of Diagnostic
        Empty when every row is within tolerance and half-step of the code. Of many stretches of
        one element the lowest are named, the others counted.
    """
    found = misfit_of_levels(ascent, levels, rules=rules, coding=coding, formula=formula)
    findings = []
    for element in ELEMENTS:
        parts = [part for part in found.stretches if part.worst.element == element]
        findings += [_not_met(ascent, part) for part in parts[:MOST_STRETCHES]]
        if len(parts) > MOST_STRETCHES:
            findings.append(_more_not_met(ascent, parts[MOST_STRETCHES:]))
    return findings


def _more_not_met(ascent: Profile, parts: list[Stretch]) -> Diagnostic:
    worst = max((part.worst for part in parts), key=lambda item: item.excess)
    rows = sum(part.last_row - part.first_row + 1 for part in parts)
    first, last = parts[0].first_row, parts[-1].last_row
    return diagnostic(
        "tolerance-not-met",
        f"{COLUMNS[worst.element].description.rstrip('.')} is beyond its limit in {len(parts)} "
        f"more stretches, {rows_counted(rows)} between {ascent['air_pressure'][first]:.2f} and "
        f"{ascent['air_pressure'][last]:.2f} hPa, worst at {worst.pressure:.2f} hPa.",
        rows=[int(ascent.source_row[first]), int(ascent.source_row[last])],
    )


def _not_met(ascent: Profile, part: Stretch) -> Diagnostic:
    worst = part.worst
    column = COLUMNS[worst.element]
    unit = _UNITS.get(column.unit, column.unit)
    lines = ascent.source_row
    count = part.last_row - part.first_row + 1
    rows = "1 row is" if count == 1 else f"{count} rows are"
    found = f"{worst.misfit:.2f} {unit} off the line between the coded levels"
    if worst.element == "wind_from_direction" and np.isnan(worst.rebuilt):
        found = "between two coded levels that leave the way it turns open"
    return diagnostic(
        "tolerance-not-met",
        f"{column.description.rstrip('.')} at {worst.pressure:.2f} hPa "
        f"({worst.observed:.{column.decimals}f} {column.unit}) is {found}, "
        f"limit {worst.limit:.2f} {unit}; {rows} concerned.",
        rows=sorted({int(lines[part.first_row]), int(lines[part.last_row])}),
        value=f"{worst.misfit:.2f} {unit}",
        expected=f"at most {worst.limit:.2f} {unit}",
    )


def ratios_kept(levels: Levels, rules: Rules) -> list[Diagnostic]:
    """Return a diagnostic for neighbouring levels of section 5 that lie too far apart.

    Parameters
    ----------
    levels : Levels
        Unrounded levels with their kinds.
    rules : Rules

    Returns
    -------
    list of Diagnostic
        One for each pair, up to the first tropopause, outside layers without temperature.

    References
    ----------
    WMO-No. 306, 35.3.1.3.
    """
    tropopause = first_tropopause_pressure(levels)
    thermal = levels.select(levels.having(THERMODYNAMIC))
    thermal = thermal.select(np.isfinite(thermal["air_temperature"]))
    pressure = coded_pressure(thermal["air_pressure"])
    open_layer = (thermal.kinds & int(LevelKind.BEGIN_MISSING_TEMPERATURE)) != 0
    findings = []
    for place in range(len(pressure) - 1):
        lower, upper = float(pressure[place]), float(pressure[place + 1])
        far = upper / lower <= float(rules.pressure_ratio)
        below = np.isnan(tropopause) or lower > float(coded_pressure(np.array([tropopause]))[0])
        if far and below and not open_layer[place]:
            findings.append(
                diagnostic(
                    "pressure-ratio-not-met",
                    f"The significant levels {lower:g} and {upper:g} hPa have the ratio "
                    f"{upper / lower:.2f}, more than {rules.pressure_ratio.value:g} is asked "
                    "for; no row lies between them.",
                )
            )
    return findings
