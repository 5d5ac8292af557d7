"""Choosing every level of a flight and putting them into one table."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.ascent.holes import with_holes_shown
from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.errors import InputError
from encoder.levels.by_height import select_by_height
from encoder.levels.candidates import levels_at_points, points_of
from encoder.levels.combine import combine
from encoder.levels.judgement import promise_kept, ratios_kept
from encoder.levels.maximum_wind import maximum_winds
from encoder.levels.methods import METHODS, Method, choose
from encoder.levels.missing import missing_layers
from encoder.levels.rules import RULES, Rules, rules_on
from encoder.levels.standard import standard_levels, surface_level
from encoder.levels.stretches import wind_rows
from encoder.levels.table import THERMODYNAMIC, LevelKind, Levels
from encoder.levels.thermal_section import thermal_plan
from encoder.levels.tropopause import first_tropopause_pressure, tropopauses
from encoder.levels.wind_section import wind_plan
from encoder.levels.zero_crossing import zero_crossings
from encoder.resolution import Coding
from encoder.rows import rows_counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.levels.candidates import Points
    from encoder.levels.methods import Chosen
    from encoder.levels.placing import Plan
    from encoder.profile import Flight, FloatArray, IntArray, Profile

_OF_TEMPERATURES = ("no-temperature", "no-humidity", "tropopause-not-searched")
"""Findings that say nothing new of a flight whose facts say that winds alone were observed."""
_ONE_BY_ONE = ((0,), (1,))
_TOGETHER = ((0, 1),)


def select_levels(
    flight: Flight,
    *,
    method: Method = "largest-deviation",
    rules: Rules | None = None,
    coding: Coding | None = None,
) -> Result[Levels]:
    """Choose every level of a flight.

    Parameters
    ----------
    flight : Flight
        Its ascent has pressure strictly decreasing, row 0 the surface observation.
    method : {"largest-deviation", "fewest-levels"}
        How additional significant levels are chosen: where the rebuilt curve is farthest off
        until it is within the limits, or as the smallest set of levels that keeps it there.
    rules : Rules, optional
        Default: the ones named in ``flight.reporting.criteria``. They count as they were on the
        day of the flight (:func:`encoder.levels.rules.rules_on`).
    coding : Coding, optional
        Default: with the unit of wind speed in ``flight.reporting.wind_unit``.

    Returns
    -------
    Result of Levels
        Surface, standard levels, tropopauses, significant levels for temperature, humidity and
        wind, maximum winds, limits of layers without data, and zero crossings, in one table in
        descending pressure (winds without pressure: by height, :mod:`encoder.levels.by_height`).
        Values are unrounded; what is promised holds for the values a reader decodes: see
        :mod:`encoder.levels.representation`. Where it cannot be kept a diagnostic names the rows. A
        hole without rows is treated as a layer without data
        (:func:`encoder.ascent.holes.with_holes_shown`).

        ``Levels.attributes`` holds ``method``, ``rules``, ``wind_unit``,
        ``vapour_pressure_formula``, ``ascent_rows``, ``surface_pressure``, ``top_pressure``,
        ``top_temperature_pressure``, ``top_humidity_pressure``, ``top_wind_pressure``,
        ``first_tropopause_pressure`` (hPa, None where there is none), ``tropopause_searched``,
        ``wind_observed``, ``humidity_observed``, ``high_levels`` and ``shear``.

    Raises
    ------
    InputError
        If there is no such method or rule set.

    References
    ----------
    WMO-No. 306, 35.2 and 35.3; B/C25.8.
    """
    if method not in METHODS:
        raise InputError(f"Expected method {' or '.join(METHODS)}, got {method!r}.")
    if rules is None:
        rules = rules_named(flight.reporting.criteria)
    rules = rules_on(rules, flight.nominal_time.date())
    if coding is None:
        coding = Coding(flight.reporting.wind_unit)
    if flight.ascent.by_height:
        return select_by_height(flight, method=method, rules=rules, coding=coding)
    formula = flight.vapour_pressure_formula
    ascent, rows = with_holes_shown(_consistent(flight.ascent), float(rules.missing_temperature))
    findings: list[Diagnostic] = _what_is_missing(ascent)
    if len(ascent) == 0:
        facts = _attributes(flight, ascent, np.nan, rules=rules, method=method, coding=coding)
        return Result(combine([], facts), tuple(findings))
    results = {
        "surface": surface_level(ascent),
        "standard": standard_levels(
            ascent, rules=rules, high=flight.reporting.high_levels, formula=formula
        ),
        "tropopauses": tropopauses(ascent, rules=rules),
        "missing": missing_layers(ascent, rules=rules),
        "zero": zero_crossings(ascent, rules=rules, formula=formula),
    }
    findings += [item for result in results.values() for item in result.diagnostics]
    if flight.document.get("winds_alone") is True:
        findings = [item for item in findings if item.code not in _OF_TEMPERATURES]
    found = {name: result.value for name, result in results.items()}
    standard, tropopause, missing = found["standard"], found["tropopauses"], found["missing"]
    points = points_of(ascent, standard)
    thermal = thermal_plan(points, ascent, missing, tropopause, rules=rules, formula=formula)
    windy = wind_plan(points, ascent, missing, tropopause, rules=rules, coding=coding)
    significant, more = _chosen_levels(
        points, standard, thermal, method=method, order=_ONE_BY_ONE, kinds=THERMODYNAMIC
    )
    winds, still_more = _chosen_levels(
        points,
        standard,
        windy,
        method=method,
        order=_TOGETHER,
        kinds=LevelKind.SIGNIFICANT_WIND,
    )
    maxima = _maxima(points, standard, winds, rules, shear=flight.reporting.shear)
    findings += [*more, *still_more, *maxima.diagnostics]
    levels = combine(
        [found["surface"], standard, tropopause, significant, winds, maxima.value, found["zero"]],
        _attributes(
            flight,
            ascent,
            first_tropopause_pressure(tropopause),
            rules=rules,
            method=method,
            coding=coding,
        ),
    )
    findings += promise_kept(ascent, levels, rules=rules, coding=coding, formula=formula)
    findings += ratios_kept(levels, rules)
    return Result(_at_rows(levels, rows), tuple(findings))


def _at_rows(levels: Levels, rows: IntArray) -> Levels:
    """Return levels with the rows of the flight's own ascent, where holes are not shown."""
    own = tuple(tuple(dict.fromkeys(int(rows[row]) for row in item)) for item in levels.rows)
    return replace(levels, rows=own)


def rules_named(name: str) -> Rules:
    """Return the rule set of that name.

    Raises
    ------
    InputError
        If there is none.
    """
    if name not in RULES:
        raise InputError(f"Expected criteria {' or '.join(RULES)}, got {name!r}.")
    return RULES[name]


def _consistent(ascent: Profile) -> Profile:
    """Return the ascent with humidity missing wherever its dew point is."""
    known = np.isfinite(ascent["dew_point_temperature"]) & np.isfinite(ascent["air_temperature"])
    humidity = ascent["relative_humidity"]
    if bool(np.all(known | np.isnan(humidity))):
        return ascent
    return ascent.with_columns({"relative_humidity": np.where(known, humidity, np.nan)})


def _what_is_missing(ascent: Profile) -> list[Diagnostic]:
    """Say what the ascent has nothing of."""
    if len(ascent) == 0:
        return [diagnostic("no-ascent", "Expected rows of an ascent, found none.")]
    findings = []
    if len(ascent) == 1:
        findings.append(
            diagnostic("surface-only", "The ascent has one row, the surface observation.")
        )
    count = len(ascent)
    for code, column, word in (
        ("no-temperature", "air_temperature", "a temperature"),
        ("no-humidity", "relative_humidity", "a humidity with a dew point"),
    ):
        if not np.isfinite(ascent[column]).any():
            findings.append(diagnostic(code, f"Of {rows_counted(count)} none has {word}."))
    if not wind_rows(ascent).any():
        findings.append(diagnostic("no-wind", f"Of {rows_counted(count)} none has a wind."))
    return findings


def _chosen_levels(
    points: Points,
    standard: Levels,
    plan: Plan | None,
    *,
    method: Method,
    order: Sequence[Sequence[int]],
    kinds: int,
) -> tuple[Levels, tuple[Diagnostic, ...]]:
    """Return the levels chosen in one section; none where there is nothing to choose from."""
    if plan is None:
        return levels_at_points(points, standard, []), ()
    chosen, findings = choose(plan, method, order, int(kinds))
    table = levels_at_points(points, standard, [int(plan.nodes.point[node]) for node in chosen])
    return _with_reasons(table, chosen), (*plan.diagnostics, *findings)


def _with_reasons(table: Levels, chosen: Chosen) -> Levels:
    """Return the table with the kinds and reasons of the chosen nodes."""
    kinds = []
    reasons = []
    for items in chosen.values():
        bits = 0
        for kind, _ in items:
            bits |= int(kind)
        kinds.append(bits)
        reasons.append(tuple(reason for _, reason in items))
    return Levels(table.columns, np.array(kinds, dtype=np.int64), tuple(reasons), table.rows)


def _maxima(
    points: Points, standard: Levels, winds: Levels, rules: Rules, *, shear: bool
) -> Result[Levels]:
    """Return the maximum winds among the significant wind levels, at the levels themselves."""
    picked = np.searchsorted(-points.pressure, -winds["air_pressure"])
    found = maximum_winds(
        points.profile, [int(point) for point in picked], rules=rules, shear=shear
    )
    table = found.value
    at = [row[0] for row in table.rows]
    plain = levels_at_points(points, standard, at)
    columns = {**plain.columns}
    for name in ("wind_shear_below", "wind_shear_above"):
        columns[name] = table[name]
    return Result(Levels(columns, table.kinds, table.reasons, plain.rows), found.diagnostics)


def _highest(ascent: Profile, known: Any) -> float | None:
    """Return the lowest pressure of the rows that are known, None if there are none."""
    rows = np.flatnonzero(known)
    return float(ascent["air_pressure"][rows[-1]]) if len(rows) else None


def _attributes(
    flight: Flight,
    ascent: Profile,
    tropopause: float,
    *,
    rules: Rules,
    method: Method,
    coding: Coding,
) -> dict[str, Any]:
    """Return the facts about the table as a whole."""
    pressure: FloatArray = ascent["air_pressure"]
    humid = np.isfinite(ascent["relative_humidity"])
    warm = np.isfinite(ascent["air_temperature"])
    wind = wind_rows(ascent)
    both = warm & np.isfinite(ascent["geopotential_height"])
    return {
        "method": method,
        "rules": rules.name,
        "wind_unit": coding.wind_unit,
        "vapour_pressure_formula": flight.vapour_pressure_formula,
        "ascent_rows": len(flight.ascent),
        "surface_pressure": float(pressure[0]) if len(ascent) else None,
        "top_pressure": float(pressure[-1]) if len(ascent) else None,
        "top_temperature_pressure": _highest(ascent, warm),
        "top_humidity_pressure": _highest(ascent, humid),
        "top_wind_pressure": _highest(ascent, wind),
        "first_tropopause_pressure": None if np.isnan(tropopause) else float(tropopause),
        "tropopause_searched": int(np.count_nonzero(both)) > 1,
        "wind_observed": bool(wind.any()),
        "humidity_observed": bool(humid.any()),
        "high_levels": flight.reporting.high_levels,
        "shear": flight.reporting.shear,
    }
