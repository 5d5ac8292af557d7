"""Comparing a BUFR message with the alphanumeric report of the same sounding."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.diagnostics import Severity, diagnostic
from encoder.formats.bufr.rows import wind_kinds
from encoder.levels.table import LevelKind
from encoder.physics import shortest_turn
from encoder.resolution import (
    DIRECTION_HALF_STEP,
    KNOT,
    coded_depression,
    depression_half_step,
)
from encoder.verify.agreement import SLACK, Disagreement, Tally
from encoder.verify.bufr_facts import DESCENT, compare_text_facts

if TYPE_CHECKING:
    from encoder.formats.bufr.sounding import BufrSounding
    from encoder.levels.table import Levels
    from encoder.report import Report

TEXT_ELEMENTS = (
    "geopotential_height",
    "air_temperature",
    "dew_point_depression",
    "wind_from_direction",
    "wind_speed",
    "wind_shear_below",
    "wind_shear_above",
)
_SHEAR = ("wind_shear_below", "wind_shear_above")
HALF_DEGREE = 0.5 * np.pi / 180.0
TEXT_TEMPERATURE = 0.15
"""Largest coding error of TTTa in K: half a tenth, and a tenth by the pairs of table 3931."""
_CALM = 0.5
"""m s-1; below it a direction says nothing in whole units of the text."""


def compare_with_text(sounding: BufrSounding, report: Report, tally: Tally) -> None:
    """Compare every level of a text report with the message.

    Parameters
    ----------
    sounding : BufrSounding
    report : Report
    tally : Tally
        Takes what is found.
    """
    said = report.parts[0].content.identification
    index = said.get("station")
    pairs: list[tuple[str, Any, Any]] = []
    if index and sounding.wmo_index:
        pairs.append(("station", index, sounding.wmo_index))
    if sounding.nominal_time is not None:
        pairs += [
            ("day", said.get("day"), sounding.nominal_time.day),
            ("hour", said.get("hour"), sounding.nominal_time.hour),
        ]
    descent = sounding.template == DESCENT
    for name, expected, message in () if descent else pairs:
        off = 0.0 if expected == message else float("nan")
        tally.value(Disagreement("text and BUFR", float("nan"), name, expected, message, off, 0.0))
    text, levels = report.levels, sounding.levels
    precision = levels.attributes.get("precision", {})
    if descent or ("air_pressure" not in precision and np.any(np.isfinite(text["air_pressure"]))):
        why = "is of the descent" if descent else "has heights, the text pressures"
        tally.found.append(diagnostic("bufr-text-not-compared", f"The message {why}."))
        return
    compare_text_facts(sounding, report, tally)
    winds_alone = "air_temperature" not in precision
    own_half = precision.get("air_pressure", 0.1) / 2.0
    speed_half = 0.5 if said.get("wind_unit") == "m s-1" else KNOT / 2.0
    for place in range(len(text)):
        pressure = float(text["air_pressure"][place])
        if not np.isfinite(pressure) or (winds_alone and not _has_wind(text, place)):
            continue
        half = (0.05 if pressure < 100.0 else 0.5) + own_half + SLACK
        near = np.abs(levels["air_pressure"] - pressure) <= half
        near &= _same_side(text, place, levels)
        if not np.any(near):
            tally.found.append(
                diagnostic(
                    "bufr-level-missing",
                    f"The text has a level at {pressure:g} hPa, which the message does not have.",
                    path=(f"{pressure:g} hPa",),
                )
            )
            continue
        indexes = np.flatnonzero(near)
        for name in TEXT_ELEMENTS:
            if winds_alone and not name.startswith("wind"):
                continue
            limit = _text_limit(name, text, place, (speed_half, precision))
            item = _text_value((text, place), levels, indexes, name, limit)
            if item is not None and not _may_be_rounding(item, text, place, tally):
                tally.value(item)


def _has_wind(text: Levels, place: int) -> bool:
    """Tell whether a level of the text belongs into a message of winds alone."""
    kinds = wind_kinds(text.kinds[[place]], text["air_pressure"][[place]])
    return bool(kinds[0]) and bool(np.isfinite(text["wind_speed"][place]))


def _may_be_rounding(item: Disagreement, text: Levels, place: int, tally: Tally) -> bool:
    """Tell, with a warning, a wind shear that differs by no more than rounded winds explain.

    A shear computed anew from the winds of a message differs from that of the flight by the half
    degree of their directions.
    """
    if item.element not in _SHEAR or not item.difference > item.limit + SLACK:
        return False
    if item.difference > item.limit + float(text["wind_speed"][place]) * HALF_DEGREE:
        return False
    tally.found.append(
        diagnostic(
            "bufr-unlike-text",
            f"{item.element} at {item.pressure:g} hPa: text {item.expected:.4g}, message "
            f"{item.message:.4g}; the rounding of the winds may explain it.",
            severity=Severity.WARNING,
            path=(f"{item.pressure:g} hPa", item.element),
        )
    )
    return True


def _same_side(text: Levels, place: int, levels: Levels) -> np.ndarray:
    """Keep surface and standard levels of about the same pressure apart."""
    for kind in (LevelKind.SURFACE, LevelKind.STANDARD):
        if text.kinds[place] & kind:
            same: np.ndarray = (levels.kinds & int(kind)) != 0
            if np.any(same):
                return same
    return np.ones(len(levels), np.bool_)


def _text_limit(
    name: str, text: Levels, place: int, scale: tuple[float, dict[str, float]]
) -> float:
    """Return half a step of both codes."""
    speed_half, precision = scale
    pressure = float(text["air_pressure"][place])
    if name == "dew_point_depression":
        coded = np.array([float(text[name][place])])
        own = precision.get("air_temperature", 0.01) + precision.get("dew_point_temperature", 0.01)
        return float(depression_half_step(coded)[0]) + own / 2.0
    half = {
        "geopotential_height": 5.0 if pressure <= 500.0 else 0.5,
        "air_temperature": TEXT_TEMPERATURE,
        "wind_from_direction": DIRECTION_HALF_STEP,
    }.get(name, speed_half)
    step = precision.get("wind_speed" if name.startswith("wind_shear") else name, 0.0)
    return half + step / 2.0


def _text_value(
    of_text: tuple[Levels, int],
    levels: Levels,
    indexes: np.ndarray,
    name: str,
    limit: float,
) -> Disagreement | None:
    text, place = of_text
    said = float(text[name][place])
    if np.isnan(said):
        return None
    pressure = float(text["air_pressure"][place])
    values = levels[name][indexes]
    finite = values[np.isfinite(values)]
    between = "text and BUFR"
    if len(finite) == 0:
        return Disagreement(between, pressure, name, said, None, float("nan"), limit)
    if name == "wind_from_direction":
        if said == 0.0 or float(np.nanmin(levels["wind_speed"][indexes])) < _CALM:
            return None
        offs = np.abs(np.asarray(shortest_turn(finite, np.full(len(finite), said))))
    elif name == "dew_point_depression":
        offs = np.abs(np.maximum(finite, 0.0) - said)
        step = limit - float(depression_half_step(np.array([said]))[0])
        about = np.stack([finite - step, finite, finite + step])
        coded = np.any(np.isclose(coded_depression(about), said), axis=0)
        offs = np.where(coded, np.minimum(offs, limit), offs)
        if said >= 49.0 and float(np.max(finite)) >= 49.0:
            offs = np.zeros(1)
    else:
        offs = np.abs(finite - said)
    best = int(np.argmin(offs))
    off = float(offs[best])
    if float(np.min(finite)) - limit <= said <= float(np.max(finite)) + limit:
        off = min(off, limit)
    message = float(finite[min(best, len(finite) - 1)])
    return Disagreement(between, pressure, name, said, message, off, limit)
