"""The facts of a flight as the elements that stand before the levels."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.formats.bufr.clouds import cloud_elements
from encoder.formats.bufr.content import Origin
from encoder.formats.bufr.sections import MISSING_CENTRE

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from encoder.formats.bufr.content import Value
    from encoder.formats.bufr.elements import Element
    from encoder.formats.bufr.templates import Platform, Template
    from encoder.profile import Flight

ZERO_CELSIUS = 273.15
LAUNCH = 18.0
"""Figure of code table 0 08 021: launch time of the balloon."""
DESCENT_START = 2.0
"""Figure of code table 0 08 091: the position is that of the start of the observation."""
EQUIPMENT: dict[str, int] = {
    "0": 0,
    "1": 1,
    "2": 2,
    "3": 3,
    "4": 14,
    "5": 4,
    "6": 5,
    "7": 6,
    "8": 7,
}
"""Code table 0265 to BUFR code table 0 02 003."""
GASES = {"hydrogen": 0, "helium": 1, "natural gas": 2, "other": 14}
"""BUFR code table 0 02 084."""
TERMINATIONS = {
    "burst": 1,
    "icing": 2,
    "leak": 3,
    "floating": 3,
    "weak signal": 4,
    "ground equipment failure": 6,
    "interference": 7,
    "radiosonde failure": 8,
    "temperature failure": 11,
    "pressure failure": 12,
    "stopped by operator": 13,
    "other": 30,
}
"""BUFR code table 0 35 035."""
MOLAR_MASS = {"hydrogen": 2.016e-3, "helium": 4.0026e-3}
"""kg mol-1 (IUPAC standard atomic weights, from memory)."""
MOLAR_GAS_CONSTANT = 8.314462618
"""J mol-1 K-1 (CODATA 2018)."""
Values = dict[str, "Value | list[Value]"]


def origin_of(
    flight: Flight, *, centre: int | None = None, sub_centre: int | None = None, update: int = 0
) -> Result[Origin]:
    """Return who issues the messages of a flight.

    Parameters
    ----------
    flight : Flight
        Its facts may name ``reporting.centre`` and ``reporting.sub_centre``.
    centre, sub_centre : int, optional
        Given instead of those.
    update : int
        Update sequence number.
    """
    reporting = flight.document.get("reporting", {})
    own = reporting.get("centre") if centre is None else centre
    sub = reporting.get("sub_centre") if sub_centre is None else sub_centre
    if own is None:
        fault = diagnostic(
            "bufr-centre-missing",
            "reporting.centre is not given; the originating centre is coded as not known.",
            path=("reporting", "centre"),
        )
        return Result(Origin(MISSING_CENTRE, int(sub or 0), update), (fault,))
    return Result(Origin(int(own), int(sub or 0), update))


def platform_of(flight: Flight) -> Platform:
    """Return what a flight was made from; a land station where its facts do not say."""
    named: Any = flight.document.get("station", {}).get("platform")
    platform: Platform = named or "land"
    return platform


def wigos_values(identifier: str | None) -> tuple[Value, ...] | None:
    """Return the four elements of a WIGOS station identifier, None where there is none."""
    if identifier is None:
        return None
    series, issuer, issue, local = identifier.split("-", 3)
    return float(series), float(issuer), float(issue), local


def identification(flight: Flight, platform: Platform) -> Result[Values]:
    """Return the elements that say who made the sounding.

    Parameters
    ----------
    flight : Flight
    platform : {"land", "ship", "mobile", "drop"}

    Notes
    -----
    WMO-No. 306 Volume I.2, B/C25.4: a land station gives block and station number, a ship or mobile
    station its call sign, an aircraft its flight number.
    """
    station = flight.station
    sign = flight.document.get("station", {}).get("call_sign")
    values: Values = {}
    found: list[Diagnostic] = []
    wigos = wigos_values(station.wigos_id)
    if wigos is not None:
        names = ("wigos_series", "wigos_issuer", "wigos_issue", "wigos_local")
        values.update(zip(names, wigos, strict=True))
    if platform == "land" and station.wmo_index is not None:
        values["block_number"] = float(station.wmo_index[:2])
        values["station_number"] = float(station.wmo_index[2:])
    elif platform == "drop":
        values["aircraft_flight_number"] = sign
    elif platform in ("ship", "mobile"):
        values["call_sign"] = sign
    named = {"land": station.wmo_index or station.wigos_id}.get(platform, sign)
    if named is None:
        what = "WMO index or WIGOS identifier" if platform == "land" else "call sign"
        found.append(
            diagnostic(
                "bufr-identifier-missing",
                f"The sounding is made from: {platform}; its {what} is not given.",
                path=("station",),
            )
        )
    return Result(values, tuple(found))


def _release_height(flight: Flight) -> float:
    """Return the height of the release in m: of a drop that of the aircraft, as far as known."""
    if platform_of(flight) != "drop":
        return flight.station.elevation
    given = flight.document.get("drop", {}).get("release_height_m")
    return float(flight.ascent["geopotential_height"][-1] if given is None else given)


def release_facts(flight: Flight, time: datetime | None) -> Result[Values]:
    """Return time and place of the release, cloud, sea and everything about the instruments.

    Parameters
    ----------
    flight : Flight
    time : datetime or None
        Launch time; None for missing.
    """
    station, document = flight.station, flight.document
    own = document.get("station", {})
    ground = own.get("ground_elevation_m")
    found: list[Diagnostic] = []
    if ground is None:
        found.append(
            diagnostic(
                "bufr-ground-height-assumed",
                f"The height of the ground is taken to be that of the release, "
                f"{station.elevation:g} m.",
                path=("station", "ground_elevation_m"),
            )
        )
    quality = own.get("elevation_quality")
    sea = document.get("surface", {}).get("sea_temperature_degc")
    values: Values = {
        "latitude": station.latitude,
        "longitude": station.longitude,
        "ground_height": float(station.elevation if ground is None else ground),
        "barometer_height": station.elevation,
        "release_height": _release_height(flight),
        "elevation_quality": None if quality is None else float(quality),
        "sea_temperature": None if sea is None else float(sea) + ZERO_CELSIUS,
    }
    values.update(time_values(time))
    cloud = flight.surface.cloud
    elements = cloud_elements(cloud)
    if elements.base is not None:
        found.append(
            diagnostic(
                "bufr-cloud-base-class",
                f"The cloud base is written as {elements.base:g} m, the lower limit of its class.",
                path=("surface", "cloud", "base"),
            )
        )
    values.update(
        {
            "cloud_significance": [elements.significance, None],
            "cloud_amount": elements.amount,
            "cloud_base": elements.base,
            "cloud_type": [elements.low, elements.middle, elements.high],
        }
    )
    values.update(_instrument(flight))
    return Result(values, tuple(found))


def time_values(time: datetime | None) -> Values:
    """Return the elements of sequence 3 01 113 for a launch time."""
    if time is None:
        return {}
    return {
        "time_significance": LAUNCH,
        "year": float(time.year),
        "month": float(time.month),
        "day": float(time.day),
        "hour": float(time.hour),
        "minute": float(time.minute),
        "second": float(time.second),
    }


def _instrument(flight: Flight) -> Values:
    """Return sequence 3 01 128 and the figures for sonde and tracking."""
    instrument = flight.instrument
    given: Mapping[str, Any] = flight.document.get("equipment", {})
    balloon: Mapping[str, Any] = flight.document.get("balloon", {})
    reason = flight.document.get("termination", {}).get("reason")
    equipment = EQUIPMENT.get(instrument.wind_equipment)
    frequency, mass = given.get("frequency_mhz"), balloon.get("mass_g")
    gas = balloon.get("gas")
    correction = instrument.correction
    values: Values = {
        "radiosonde_type": _or_missing(instrument.radiosonde_type),
        "radiation_correction": None if correction == "/" else float(correction),
        "tracking_technique": _or_missing(instrument.tracking),
        "measuring_equipment": _or_missing(equipment),
        "serial_number": instrument.serial,
        "frequency": None if frequency is None else float(frequency) * 1e6,
        "balloon_mass": None if mass is None else float(mass) / 1000.0,
        "gas": _or_missing(GASES.get(gas)) if gas is not None else None,
        "gas_amount": _gas_mass(flight),
        "train_length": _or_missing(balloon.get("string_length_m")),
        "termination_reason": _or_missing(TERMINATIONS.get(reason)) if reason else None,
        "observer": given.get("observer"),
        "software": given.get("software"),
    }
    for name in (
        "ascension_number",
        "release_number",
        "completeness",
        "configuration",
        "humidity_correction",
        "ground_system",
        "balloon_maker",
        "balloon_type",
        "balloon_shelter",
        "pressure_sensor",
        "temperature_sensor",
        "humidity_sensor",
        "radome",
        "height_calculation",
    ):
        values[name] = _or_missing(given.get(name))
    return values


def _or_missing(value: float | None) -> float | None:
    return None if value is None else float(value)


def _gas_mass(flight: Flight) -> float | None:
    """Return the mass of the gas in kg: as given, or from its volume by the ideal gas law."""
    given = flight.document.get("equipment", {}).get("gas_amount_kg")
    if given is not None:
        return float(given)
    balloon = flight.document.get("balloon", {})
    volume, molar_mass = balloon.get("gas_amount_m3"), MOLAR_MASS.get(balloon.get("gas") or "")
    kelvin = flight.surface.air_temperature + ZERO_CELSIUS
    if volume is None or molar_mass is None or not np.isfinite(kelvin):
        return None
    pascal = flight.surface.air_pressure * 100.0
    return float(pascal * float(volume) * molar_mass / (MOLAR_GAS_CONSTANT * kelvin))


def in_order(elements: Sequence[Element], values: Values) -> tuple[Value, ...]:
    """Return the values of elements in the order of a template, None where there is none.

    Parameters
    ----------
    elements : sequence of Element
    values : dict
        By element name; a list where an element comes more than once.
    """
    turns: dict[str, int] = {}
    ordered: list[Value] = []
    for element in elements:
        value = values.get(element.name)
        if isinstance(value, list):
            turn = turns[element.name] = turns.get(element.name, -1) + 1
            ordered.append(value[turn])
        else:
            ordered.append(value)
    return tuple(ordered)


def template_facts(template: Template, values: Values) -> tuple[Value, ...]:
    """Return ``before`` of a message: the values of a template's elements in their order."""
    return in_order(template.before, values)
