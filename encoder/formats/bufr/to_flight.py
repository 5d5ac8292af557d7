"""From a decoded BUFR sounding to a flight, from which a text report can be made."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from encoder.diagnostics import Diagnostic, Result, diagnostic, has_errors
from encoder.errors import InputError
from encoder.formats.bufr.headings import platform_named
from encoder.formats.bufr.ties import decide_ties
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
    from encoder.formats.bufr.templates import Platform
    from encoder.levels.methods import Method
    from encoder.profile import FloatArray
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
        With a surface level, and either temperatures with pressures, or winds.
    reporting : Reporting, optional
        Practice of the text report; the default one otherwise.
    formula : str
        Vapour-pressure formula the relative humidity was computed with.

    Returns
    -------
    Result of Flight or None
        Rows in descending pressure, of winds by height in ascending height: levels below the
        ground and heights extrapolated above the top are no rows; rows that repeat a place are
        left out and counted. None where surface level, temperature or wind, or time is missing.
    """
    levels = sounding.levels
    found: list[Diagnostic] = []
    surface = levels.having(LevelKind.SURFACE)
    time = sounding.nominal_time or sounding.release_time
    warm = bool(np.any(np.isfinite(levels["air_temperature"])))
    windy = bool(np.any(np.isfinite(levels["wind_speed"])))
    by_height = windy and not np.any(np.isfinite(levels["air_pressure"]))
    wanting = [
        name
        for name, there in (
            (
                f"a surface level with its {'height' if by_height else 'pressure'}",
                _has_surface(levels, by_height=by_height),
            ),
            ("temperatures or winds", warm or windy),
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
    platform = platform_named(sounding.header.sub_category)
    rows = _rows(levels, first, by_height=by_height, falling=platform == "drop")
    left_out = int(np.count_nonzero(_measured(levels, first, by_height=by_height))) - len(rows)
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
        _document(sounding, platform, winds_alone=not warm),
        tuple(found),
    )
    return Result(flight, tuple(found))


def _document(
    sounding: BufrSounding, platform: Platform | None, *, winds_alone: bool
) -> dict[str, Any]:
    """Return the facts of the sounding that decide how it is reported, as in flight.json."""
    quality = sounding.facts.get("elevation_quality")
    station = {
        "platform": platform,
        "call_sign": sounding.call_sign or sounding.aircraft,
        "elevation_quality": int(quality) if isinstance(quality, float) else None,
    }
    document: dict[str, Any] = {
        "station": {name: value for name, value in station.items() if value is not None}
    }
    if np.isfinite(sounding.sea_temperature):
        document["surface"] = {"sea_temperature_degc": sounding.sea_temperature}
    return {**document, "winds_alone": True} if winds_alone else document


def _has_surface(levels: Levels, *, by_height: bool) -> bool:
    surface = levels.having(LevelKind.SURFACE)
    place = "geopotential_height" if by_height else "air_pressure"
    return len(surface) > 0 and bool(np.isfinite(levels[place][surface[0]]))


def _depth(levels: Levels, *, by_height: bool) -> FloatArray:
    """Return what falls from each row to the next."""
    return -levels["geopotential_height"] if by_height else levels["air_pressure"]


def _measured(levels: Levels, surface: int, *, by_height: bool) -> np.ndarray:
    """Tell which levels were measured: those not below the ground that have more than a height."""
    depth = _depth(levels, by_height=by_height)
    content = np.isfinite(levels["air_temperature"]) | np.isfinite(levels["wind_speed"])
    measured: np.ndarray = np.isfinite(depth) & content & (depth < depth[surface])
    measured[surface] = True
    return measured


def _rows(levels: Levels, surface: int, *, by_height: bool, falling: bool) -> np.ndarray:
    """Return the levels that can be rows: each above the one before, and later (earlier) than it.

    ``falling``: the sonde was dropped, so that the lower level is the later one.
    """
    candidates = np.flatnonzero(_measured(levels, surface, by_height=by_height))
    depth = _depth(levels, by_height=by_height)
    time = -levels["time"] if falling else levels["time"]
    kept = [surface]
    for index in candidates[np.argsort(-depth[candidates], kind="stable")]:
        if index == surface or depth[index] >= depth[kept[-1]]:
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
    """Return the TEMP of a sounding, or the PILOT of winds alone.

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
    unit = made.value.reporting.wind_unit
    levels, told = decide_ties(levels, sounding.levels, wind_unit=unit)
    found.extend(told)
    try:
        report = encode_report(made.value, levels)
    except InputError as fault:
        found.append(diagnostic("bufr-not-a-flight", f"{sounding.station}: {fault.message}"))
        return Result(None, tuple(found))
    return Result(report.value, (*found, *report.diagnostics))
