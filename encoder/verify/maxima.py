"""The maximum winds a report must give: those of its own list of significant wind levels.

The regulations take the maximum wind from the list of significant levels, not from the raw curve
(WMO-No. 306 Volume I.1, 35.2.4.1), so the levels of section 4 depend on how section 6 was chosen.
They are therefore judged against the levels the report itself gives.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from encoder.codes.content import PartContent
from encoder.levels.maximum_wind import maximum_winds
from encoder.levels.table import LevelKind
from encoder.physics import shortest_turn
from encoder.report.arrange import maximum_wind_section
from encoder.resolution import UPPER_PART_PRESSURE, coded_pressure, coded_wind

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.levels.rules import Rules
    from encoder.levels.table import Levels
    from encoder.profile import Flight, Profile
    from encoder.report import Report
    from encoder.resolution import Coding


def with_reported_maxima(
    contents: Sequence[PartContent],
    flight: Flight,
    report: Report,
    *,
    rules: Rules,
    coding: Coding,
) -> list[PartContent]:
    """Return the expected parts with section 4 from the significant winds the report gives.

    Parameters
    ----------
    contents : sequence of PartContent
        What encoding the flight gives.
    flight : Flight
        With its holes shown (:func:`encoder.ascent.holes.with_holes_shown`).
    report : Report
        As decoded. The winds of a part it does not have are those of the contents; without
        significant winds the contents are returned as they are.
    rules : Rules
    coding : Coding
        Unit of the report's winds.

    Returns
    -------
    list of PartContent
    """
    rows = _rows_of_report(contents, flight, report, coding)
    if not rows:
        return list(contents)
    maxima = maximum_winds(flight.ascent, rows, rules=rules, shear=flight.reporting.shear).value
    pressure = maxima["air_pressure"]
    changed = []
    for content in contents:
        upper = content.letter in "CD"
        here = (pressure < UPPER_PART_PRESSURE) if upper else (pressure >= UPPER_PART_PRESSURE)
        section = maximum_wind_section(maxima, here, shear=flight.reporting.shear)
        changed.append(
            replace(
                content,
                sections=tuple(section if own.number == "4" else own for own in content.sections),
            )
        )
    return changed


def _rows_of_report(
    contents: Sequence[PartContent], flight: Flight, report: Report, coding: Coding
) -> list[int]:
    """Return the rows of the winds given, completed by those of parts that are not given."""
    from encoder.report import decode_reports, encode_content

    given = {part.content.letter for part in report.parts}
    ascent, on = flight.ascent, flight.nominal_time.date()
    rows = reported_rows(report.levels, ascent, coding)
    absent = [item for item in contents if item.letter in "BD" and item.letter not in given]
    if not rows or not absent:
        return rows
    text = encode_content(absent, on=on).value
    own = decode_reports(text, on=on).value
    more = [row for item in own for row in reported_rows(item.levels, ascent, coding)]
    return sorted({*rows, *more})


def reported_rows(reported: Levels, ascent: Profile, coding: Coding) -> list[int]:
    """Return the ascent row behind every reported significant wind level, where there is one.

    Of the rows that share the coded pressure, the one whose coded wind is nearest to the report.
    """
    pressure = coded_pressure(ascent["air_pressure"])
    direction, speed = coded_wind(ascent["wind_from_direction"], ascent["wind_speed"], coding)
    found: list[int] = []
    for level in reported.having(LevelKind.SIGNIFICANT_WIND):
        if not np.isfinite(reported["wind_speed"][level]):
            continue
        rows = np.flatnonzero(pressure == reported["air_pressure"][level])
        rows = rows[np.isfinite(speed[rows])]
        if len(rows) == 0:
            continue
        turn = np.abs(np.asarray(shortest_turn(direction[rows], _same(reported, level, rows))))
        off = np.abs(speed[rows] - reported["wind_speed"][level]) + np.nan_to_num(turn) / 10.0
        best = rows[off <= np.min(off) + 1e-9]
        found.append(int(best[np.argmax(ascent["wind_speed"][best])]))
    return sorted(set(found))


def _same(reported: Levels, level: int, rows: np.ndarray) -> np.ndarray:
    return np.full(len(rows), float(reported["wind_from_direction"][level]))
