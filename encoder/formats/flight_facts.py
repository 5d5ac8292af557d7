"""The facts of ``flight.json`` as the values of :mod:`encoder.profile`, and whether they agree."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.ascent import Splash
from encoder.diagnostics import Diagnostic, Result, diagnostic, has_errors
from encoder.physics import dew_point, relative_humidity
from encoder.profile import CloudGroup, Instrument, Reporting, Station, SurfaceObservation
from encoder.resolution import KNOT

if TYPE_CHECKING:
    from collections.abc import Mapping

RELEASE_EARLIEST, RELEASE_LATEST = -60.0, 29.0
"""Usual release, in minutes from the nominal time: the widest of the published windows.

The World Meteorological Organization asks for H-45 to H (WMO-No. 306 and No. 544, from memory);
the United States practice is H-60 to H+29 (a regional office's published release times).
"""
RELEASE_FARTHEST = 360.0
"""Minutes from the nominal time beyond which one of the two times must be wrong: half the distance
of two soundings a day. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Facts:
    """What a facts file says, in the units of the package.

    Attributes
    ----------
    station : Station
    nominal_time, release_time : datetime
        UTC, aware.
    surface : SurfaceObservation
    instrument : Instrument
    reporting : Reporting
    vapour_pressure_formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS`.
    splash : Splash or None
        Of a sonde dropped from an aircraft.
    """

    station: Station
    nominal_time: datetime
    release_time: datetime
    surface: SurfaceObservation
    instrument: Instrument
    reporting: Reporting
    vapour_pressure_formula: str
    splash: Splash | None = None


def flight_facts(document: Mapping[str, Any]) -> Result[Facts | None]:
    """Return the facts of a document that fits ``flight.schema.json``.

    Parameters
    ----------
    document : mapping
        The content of ``flight.json``.

    Returns
    -------
    Result of Facts or None
        None where facts contradict each other or name a moment that does not exist.
    """
    found: list[Diagnostic] = []
    times = {}
    for key in ("nominal_time", "release_time"):
        result = _moment(document[key], key)
        found += result.diagnostics
        times[key] = result.value
    instrument = document.get("instrument", {})
    formula = instrument.get("vapour_pressure_formula", "wmo-49")
    surface = surface_observation(document["surface"], formula)
    station = _station(document["station"])
    found += surface.diagnostics
    found += _station_faults(station)
    found += _group_faults(document.get("reporting", {}))
    nominal_time, release_time = times["nominal_time"], times["release_time"]
    if nominal_time is None or release_time is None:
        return Result(None, tuple(found))
    found += _time_faults(nominal_time, release_time)
    splash = splash_of(document, release_time)
    found += splash.diagnostics
    if surface.value is None or has_errors(found):
        return Result(None, tuple(found))
    facts = Facts(
        station,
        nominal_time,
        release_time,
        surface.value,
        _instrument(instrument),
        _reporting(document.get("reporting", {})),
        formula,
        splash.value,
    )
    return Result(facts, tuple(found))


def splash_of(document: Mapping[str, Any], release_time: datetime) -> Result[Splash | None]:
    """Return when and where a dropped sonde reached the surface; None for other flights.

    Parameters
    ----------
    document : mapping
        The content of ``flight.json``.
    release_time : datetime
        UTC, aware.
    """
    if document["station"].get("platform") != "drop":
        return Result(None)
    given = document.get("drop", {})
    seconds = float("nan")
    if given.get("splash_time") is not None:
        moment = _moment(given["splash_time"], "drop/splash_time")
        if moment.value is None:
            return Result(None, moment.diagnostics)
        seconds = (moment.value - release_time).total_seconds()
        if seconds <= 0.0:
            fault = diagnostic(
                "splash-before-release",
                f"The sonde is said to have reached the surface {-seconds:.0f} s before its "
                "release.",
                path=("drop", "splash_time"),
                value=given["splash_time"],
            )
            return Result(None, (fault,))
    place = (_number(given, "splash_latitude"), _number(given, "splash_longitude"))
    return Result(Splash(seconds, *place))


def surface_observation(
    document: Mapping[str, Any], formula: str
) -> Result[SurfaceObservation | None]:
    """Return the surface observation, humidity and dew point completed from each other.

    Parameters
    ----------
    document : mapping
        The object ``surface`` of a flight document.
    formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS`.
    """
    found: list[Diagnostic] = []
    for one, other in (
        ("relative_humidity_percent", "dew_point_degc"),
        ("wind_speed_m_s", "wind_speed_kt"),
    ):
        if document.get(one) is not None and document.get(other) is not None:
            found.append(
                diagnostic(
                    "surface-given-twice",
                    f"Expected {one} or {other}, found both.",
                    path=("surface", other),
                    value=str(document[other]),
                )
            )
    temperature = _number(document, "air_temperature_degc")
    humidity = _number(document, "relative_humidity_percent")
    dew = _number(document, "dew_point_degc")
    if dew > temperature:
        found.append(
            diagnostic(
                "surface-dew-point-above-temperature",
                f"The surface dew point {dew} degC is above the air temperature "
                f"{temperature} degC.",
                path=("surface", "dew_point_degc"),
                value=str(dew),
                expected=f"at most {temperature} degC",
            )
        )
    if np.isnan(humidity):
        humidity = float(relative_humidity(temperature, dew, formula))
    else:
        dew = float(dew_point(temperature, humidity, formula))
    wind = _surface_wind(document)
    found += wind.diagnostics
    if has_errors(found):
        return Result(None, tuple(found))
    cloud = document.get("cloud")
    figures = {key: cloud[key] for key in cloud if key != "$comment"} if cloud is not None else None
    direction, speed = wind.value
    observation = SurfaceObservation(
        _number(document, "air_pressure_hpa"),
        temperature,
        humidity,
        dew,
        direction,
        speed,
        None if figures is None else CloudGroup(**figures),
    )
    return Result(observation, tuple(found))


def _surface_wind(document: Mapping[str, Any]) -> Result[tuple[float, float]]:
    """Return direction and speed in degrees and m s-1: both or neither."""
    direction = _number(document, "wind_from_direction_degree")
    speed = _number(document, "wind_speed_m_s")
    if np.isnan(speed):
        speed = _number(document, "wind_speed_kt") * KNOT
    if speed == 0.0:
        return Result((0.0, 0.0))
    if np.isnan(direction) != np.isnan(speed):
        given = "direction" if np.isnan(speed) else "speed"
        fault = diagnostic(
            "surface-wind-incomplete",
            f"The surface wind has only its {given}, so it counts as not observed.",
            path=("surface", "wind_from_direction_degree"),
        )
        return Result((np.nan, np.nan), (fault,))
    if direction == 0.0:
        direction = 360.0
    return Result((direction, speed))


def _moment(text: str, key: str) -> Result[datetime | None]:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as fault:
        return Result(
            None,
            (
                diagnostic(
                    "time-does-not-exist",
                    f'The time "{text}" of {key} does not exist: {fault}.',
                    path=(key,),
                    value=text,
                ),
            ),
        )
    return Result(moment.astimezone(UTC))


def _time_faults(nominal_time: datetime, release_time: datetime) -> list[Diagnostic]:
    found = []
    minutes = (release_time - nominal_time).total_seconds() / 60.0
    size = f"{abs(minutes):.0f} min" if abs(minutes) < 2880.0 else f"{abs(minutes) / 1440:.0f} days"
    word = f"{size} {'before' if minutes < 0 else 'after'} the nominal time"
    if abs(minutes) > RELEASE_FARTHEST:
        found.append(
            diagnostic(
                "release-far-from-nominal",
                f"The release is {word}; beyond {RELEASE_FARTHEST:.0f} min one of them is wrong.",
                path=("release_time",),
                value=release_time.isoformat(),
            )
        )
    elif not RELEASE_EARLIEST <= minutes <= RELEASE_LATEST:
        found.append(
            diagnostic(
                "release-not-usual",
                f"The release is {word}; usual are {-RELEASE_EARLIEST:.0f} min before to "
                f"{RELEASE_LATEST:.0f} min after.",
                path=("release_time",),
                value=release_time.isoformat(),
            )
        )
    if nominal_time.minute or nominal_time.second:
        found.append(
            diagnostic(
                "nominal-time-not-whole-hour",
                f"The nominal time {nominal_time:%H:%M:%S} is not a whole hour.",
                path=("nominal_time",),
                value=nominal_time.isoformat(),
            )
        )
    return found


def _station(document: Mapping[str, Any]) -> Station:
    return Station(
        document["name"],
        float(document["latitude"]),
        float(document["longitude"]),
        float(document["elevation_m"]),
        document.get("wmo_index"),
        document.get("wigos_id"),
        _whole(document, "wmo_region"),
        document.get("call_sign"),
    )


def _station_faults(station: Station) -> list[Diagnostic]:
    """Return an error where the two identifiers of a station name different stations.

    The local part of an identifier of series 0, issuer 20000, issue 0 is the WMO index of the
    station (Manual on the WMO Integrated Global Observing System, WMO-No. 1160, from memory).
    """
    if station.wigos_id is None or station.wmo_index is None:
        return []
    issuer, local = station.wigos_id.rsplit("-", 1)
    if issuer != "0-20000-0" or local == station.wmo_index:
        return []
    return [
        diagnostic(
            "station-identifiers-differ",
            f"wmo_index is {station.wmo_index}, but wigos_id {station.wigos_id} names {local}.",
            path=("station", "wigos_id"),
            value=station.wigos_id,
            expected=f"0-20000-0-{station.wmo_index}",
        )
    ]


def _group_faults(document: Mapping[str, Any]) -> list[Diagnostic]:
    """Return an error where groups of section 9 or 10 do not begin with their indicator.

    The indicators are 51515 to 59595 and 61616 to 69696 (WMO-No. 306 Volume I.1, FM 35).
    """
    found = []
    for key, first in (("regional_groups", "5"), ("national_groups", "6")):
        groups = document.get(key, ())
        known = [f"{first}{figure}{first}{figure}{first}" for figure in range(1, 10)]
        if groups and groups[0] not in known:
            found.append(
                diagnostic(
                    "groups-without-indicator",
                    f"Expected {key} to begin with one of {known[0]} to {known[-1]}, found "
                    f'"{groups[0]}".',
                    path=("reporting", key, 0),
                    value=groups[0],
                    expected=f"{known[0]} to {known[-1]}",
                )
            )
    return found


def _instrument(document: Mapping[str, Any]) -> Instrument:
    return Instrument(
        _whole(document, "radiosonde_type"),
        document.get("correction", "/"),
        _whole(document, "tracking"),
        document.get("wind_equipment", "/"),
        document.get("serial"),
    )


def _reporting(document: Mapping[str, Any]) -> Reporting:
    usual = Reporting()
    return Reporting(
        document.get("wind_unit", usual.wind_unit),
        document.get("criteria", usual.criteria),
        tuple(document.get("section_7_parts", usual.section_7_parts)),
        document.get("shear", usual.shear),
        document.get("high_levels", usual.high_levels),
        tuple(document.get("regional_groups", ())),
        tuple(document.get("national_groups", ())),
        document.get("regional_from_flight", usual.regional_from_flight),
        document.get("pilot_significant_by", usual.pilot_significant_by),
        document.get("pilot_standard_by", usual.pilot_standard_by),
        document.get("pilot_step", usual.pilot_step),
    )


def _number(document: Mapping[str, Any], key: str) -> float:
    """Return a number, NaN for null and for a key that is not there."""
    value = document.get(key)
    return float("nan") if value is None else float(value)


def _whole(document: Mapping[str, Any], key: str) -> int | None:
    """Return a whole number (JSON may write it 90.0), None for null and for no key."""
    value = document.get(key)
    return None if value is None else int(value)
