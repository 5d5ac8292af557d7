"""From a decoded BUFR sounding to a flight, from which a text report can be made."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np

from encoder.diagnostics import Diagnostic, Result, diagnostic, has_errors
from encoder.levels.table import LevelKind, Levels
from encoder.profile import (
    SURFACE_ROW,
    Flight,
    Profile,
    Reporting,
    Station,
    SurfaceObservation,
)

if TYPE_CHECKING:
    from encoder.formats.bufr.sounding import BufrSounding
    from encoder.levels.methods import Method
    from encoder.report import Report

Selection = Literal["anew", "flags"]
_ROW_COLUMNS = (
    "time",
    "air_pressure",
    "geopotential_height",
    "air_temperature",
    "relative_humidity",
    "dew_point_temperature",
    "wind_from_direction",
    "wind_speed",
    "latitude",
    "longitude",
)


def flight_of_sounding(
    sounding: BufrSounding,
    *,
    reporting: Reporting | None = None,
    formula: str = "wmo-49",
) -> Result[Flight | None]:
    """Return the flight a sounding describes.

    Parameters
    ----------
    sounding : BufrSounding
        With a surface level and pressures.
    reporting : Reporting, optional
        Practice of the text report; the default one otherwise.
    formula : str
        Vapour-pressure formula the relative humidity was computed with.

    Returns
    -------
    Result of Flight or None
        Rows in descending pressure: levels below the ground and heights extrapolated above the top
        are no rows; rows that repeat a pressure are left out and counted. None where surface level,
        pressure, temperature or time is missing.
    """
    levels = sounding.levels
    found: list[Diagnostic] = []
    surface = levels.having(LevelKind.SURFACE)
    time = sounding.nominal_time or sounding.release_time
    wanting = [
        name
        for name, there in (
            ("a surface level with its pressure", _has_surface(levels)),
            ("temperatures", bool(np.any(np.isfinite(levels["air_temperature"])))),
            ("a date", time is not None),
        )
        if not there
    ]
    if wanting or time is None:
        found.append(
            diagnostic(
                "bufr-not-a-flight",
                f"The sounding of {sounding.station} lacks {', '.join(wanting)}.",
            )
        )
        return Result(None, tuple(found))
    first = int(surface[0])
    rows = _rows(levels, first)
    left_out = int(np.count_nonzero(_measured(levels, first))) - len(rows)
    if left_out:
        found.append(
            diagnostic(
                "bufr-rows-left-out",
                f"{left_out} levels repeat a pressure or go back in time; they are no rows.",
            )
        )
    columns = {name: levels[name][rows] for name in _ROW_COLUMNS}
    lines = rows + 1
    lines[0] = SURFACE_ROW
    profile = Profile(columns, lines)
    flight = Flight(
        _station(sounding, first),
        time,
        sounding.release_time or time,
        _surface(sounding, first),
        sounding.instrument,
        reporting or Reporting(),
        profile,
        profile,
        None,
        formula,
        {},
        tuple(found),
    )
    return Result(flight, tuple(found))


def _has_surface(levels: Levels) -> bool:
    surface = levels.having(LevelKind.SURFACE)
    return len(surface) > 0 and bool(np.isfinite(levels["air_pressure"][surface[0]]))


def _measured(levels: Levels, surface: int) -> np.ndarray:
    """Tell which levels were measured: those not below the ground that have more than a height."""
    pressure = levels["air_pressure"]
    content = np.isfinite(levels["air_temperature"]) | np.isfinite(levels["wind_speed"])
    measured: np.ndarray = np.isfinite(pressure) & content & (pressure < pressure[surface])
    measured[surface] = True
    return measured


def _rows(levels: Levels, surface: int) -> np.ndarray:
    """Return the levels that can be rows: pressure falls and time rises from each to the next."""
    candidates = np.flatnonzero(_measured(levels, surface))
    order = np.argsort(-levels["air_pressure"][candidates], kind="stable")
    kept = [surface]
    pressure, time = levels["air_pressure"], levels["time"]
    for index in candidates[order]:
        if index == surface or pressure[index] >= pressure[kept[-1]]:
            continue
        if time[index] <= time[kept[-1]]:
            continue
        kept.append(int(index))
    return np.array(kept, dtype=np.intp)


def _station(sounding: BufrSounding, surface: int) -> Station:
    heights = (
        sounding.barometer_height,
        sounding.ground_height,
        sounding.release_height,
        float(sounding.levels["geopotential_height"][surface]),
    )
    elevation = next((height for height in heights if np.isfinite(height)), float("nan"))
    return Station(
        sounding.station,
        sounding.latitude,
        sounding.longitude,
        elevation,
        sounding.wmo_index,
        sounding.wigos_id,
        call_sign=sounding.call_sign or sounding.aircraft,
    )


def _surface(sounding: BufrSounding, surface: int) -> SurfaceObservation:
    def value(name: str) -> float:
        return float(sounding.levels[name][surface])

    return SurfaceObservation(
        value("air_pressure"),
        value("air_temperature"),
        value("relative_humidity"),
        value("dew_point_temperature"),
        value("wind_from_direction"),
        value("wind_speed"),
        sounding.cloud,
    )


def report_of_sounding(
    sounding: BufrSounding,
    *,
    selection: Selection = "anew",
    method: Method = "largest-deviation",
    reporting: Reporting | None = None,
) -> Result[Report | None]:
    """Return the TEMP of a sounding.

    Parameters
    ----------
    sounding : BufrSounding
    selection : {"anew", "flags"}
        Choose the significant levels anew from all rows, or take the levels the message flags.
    method : {"largest-deviation", "fewest-levels"}
        How levels are chosen anew.
    reporting : Reporting, optional

    Returns
    -------
    Result of Report or None
        None where the sounding is no flight.
    """
    from encoder.levels import select_levels
    from encoder.report import encode_report

    made = flight_of_sounding(sounding, reporting=reporting)
    if made.value is None:
        return Result(None, made.diagnostics)
    found = list(made.diagnostics)
    if selection == "flags":
        flagged = np.flatnonzero(sounding.levels.kinds != 0)
        levels = sounding.levels.select(flagged)
    else:
        chosen = select_levels(made.value, method=method)
        found.extend(chosen.diagnostics)
        levels = chosen.value
    if has_errors(found):
        return Result(None, tuple(found))
    report = encode_report(made.value, levels)
    return Result(report.value, (*found, *report.diagnostics))
