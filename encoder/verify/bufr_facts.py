"""Comparing what a BUFR message says apart from its levels with its flight and with its text."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from encoder.diagnostics import diagnostic
from encoder.formats.bufr.clouds import base_figure
from encoder.formats.bufr.elements import ELEMENTS
from encoder.verify.agreement import Disagreement, Tally

if TYPE_CHECKING:
    from collections.abc import Iterable

    from encoder.formats.bufr.facts import Values
    from encoder.formats.bufr.sounding import BufrSounding
    from encoder.profile import Flight
    from encoder.report import Report

DESCENT = "309056"
_TIMES = frozenset({"year", "month", "day", "hour", "minute", "second"})
_ELSEWHERE = frozenset({"latitude", "longitude", "barometer_height"})
"""Elements that are compared as position and elevation."""
_NOT_OF_DESCENT = frozenset(
    {
        "coordinates_significance",
        "release_height",
        "ground_height",
        "elevation_quality",
        "sea_temperature",
        "cloud_significance",
        "cloud_amount",
        "cloud_base",
        "cloud_type",
    }
)
POSITION_OF_TEXT = 0.05
"""Degrees; half of the step of LaLaLa and LoLoLoLo."""
RELEASE_OF_TEXT = 60.0
"""Seconds; 8GGgg of section 7 has minutes, cut or rounded."""
NOWHERE = float("nan")


def compare_facts(sounding: BufrSounding, flight: Flight, tally: Tally) -> None:
    """Compare identity, times, place, header, instruments and cloud with the flight.

    Parameters
    ----------
    sounding : BufrSounding
    flight : Flight
    tally : Tally
        Values that differ are disagreements; what only one of both says is a warning.
    """
    _identity(sounding, flight, tally)
    if sounding.nil:
        rows = len(flight.ascent)
        tally.value(Disagreement("flight and BUFR", NOWHERE, "rows", rows, "NIL", NOWHERE, 0.0))
        return
    expected = _expected(flight)
    descent = sounding.template == DESCENT
    turns: dict[str, int] = {}
    for item in sounding.plain.items():
        element = ELEMENTS.get(item.fxy)
        if element is None or element.name not in expected:
            continue
        name = element.name
        value = expected[name]
        if isinstance(value, list):
            turn = turns[name] = turns.get(name, -1) + 1
            value = value[turn] if turn < len(value) else None
        if name in _TIMES | _ELSEWHERE or (descent and name in _NOT_OF_DESCENT):
            continue
        pair = (_classed(name, value), _classed(name, item.value))
        _one(name, pair, element.step / 2.0, ("flight and BUFR", tally))


def _expected(flight: Flight) -> Values:
    """Return the elements of a message of the flight by name."""
    from encoder.formats.bufr.facts import identification, platform_of, release_facts

    named = identification(flight, platform_of(flight)).value
    values: Values = {**release_facts(flight, flight.release_time).value, **named}
    for name in ("call_sign", "aircraft_flight_number"):
        values.setdefault(name, None)
    return values


def _identity(sounding: BufrSounding, flight: Flight, tally: Tally) -> None:
    from encoder.formats.bufr.facts import origin_of, platform_of
    from encoder.formats.bufr.templates import TEMPLATES

    station, header = flight.station, sounding.header
    nominal = flight.nominal_time.replace(minute=0, second=0, microsecond=0)
    pairs: list[tuple[str, Any, Any, float]] = [
        ("nominal_time", nominal.isoformat(), _iso(sounding.nominal_time), 0.0)
    ]
    if station.wmo_index is not None and (sounding.wmo_index or not sounding.wigos_id):
        pairs.append(("station", station.wmo_index, sounding.wmo_index, 0.0))
    if station.wigos_id is not None and sounding.wigos_id is not None:
        pairs.append(("wigos_id", station.wigos_id, sounding.wigos_id, 0.0))
    template = TEMPLATES.get(sounding.template)
    wanted = None if template is None else template.sub_category.get(platform_of(flight))
    if template is not None and header.sub_category != 255:
        pairs.append(("sub_category", str(wanted), str(header.sub_category), 0.0))
    centre = origin_of(flight).value
    if flight.document.get("reporting", {}).get("centre") is not None:
        pairs.append(("centre", str(centre.centre), str(header.centre), 0.0))
    if sounding.template != DESCENT and not sounding.nil:
        release = flight.release_time.replace(microsecond=0)
        pairs += [
            ("release_time", release.isoformat(), _iso(sounding.release_time), 0.0),
            ("latitude", station.latitude, sounding.latitude, 5e-6),
            ("longitude", station.longitude, sounding.longitude, 5e-6),
            ("elevation", station.elevation, sounding.barometer_height, 0.05),
        ]
    for name, expected, message, limit in pairs:
        if isinstance(expected, str):
            off = 0.0 if expected == message else NOWHERE
        else:
            off = abs(expected - message)
        tally.value(Disagreement("flight and BUFR", NOWHERE, name, expected, message, off, limit))


def _iso(time: Any) -> str | None:
    return None if time is None else str(time.isoformat())


def _one(name: str, pair: tuple[Any, Any], limit: float, where: tuple[str, Tally]) -> None:
    """Compare one element."""
    between, tally = where
    expected, message = pair
    if expected is None and message is None:
        return
    if expected is None or message is None:
        tally.compared[between] = tally.compared.get(between, 0) + 1
        whose = between.split(" ")[0]
        shown = ["nothing" if value is None else _shown(value) for value in pair]
        tally.found.append(
            diagnostic(
                "bufr-fact-one-sided",
                f"{name}: {whose} {shown[0]}, message {shown[1]}.",
                path=(name,),
                value=shown[1],
                expected=shown[0],
            )
        )
        return
    if isinstance(expected, str) or isinstance(message, str):
        off = 0.0 if str(expected).strip() == str(message).strip() else NOWHERE
        tally.value(Disagreement(between, NOWHERE, name, expected, message, off, 0.0))
        return
    off = abs(float(expected) - float(message))
    tally.value(Disagreement(between, NOWHERE, name, expected, message, off, limit))


def _shown(value: Any) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _classed(name: str, value: Any) -> Any:
    """Return a value as it is compared: of a cloud base its class, which is all that is coded."""
    if name == "cloud_base" and isinstance(value, float):
        return f"class {base_figure(value)}"
    return value


def _name(fxy: str) -> str:
    element = ELEMENTS.get(fxy)
    return "" if element is None else element.name


# --- text -----------------------------------------------------------------------------------------


def compare_text_facts(sounding: BufrSounding, report: Report, tally: Tally) -> None:
    """Compare position, instruments, release, cloud and sea of a text report with the message.

    Parameters
    ----------
    sounding : BufrSounding
    report : Report
    tally : Tally
        What only the message says is not told: the text has no room for most of it.
    """
    from encoder.formats.bufr.from_text import facts_of_report

    if sounding.nil:
        return
    where = ("text and BUFR", tally)
    for name, value, message, limit in _of_text(sounding, facts_of_report(report)):
        if value is not None:
            _one(name, (value, message), limit, where)
    _release(sounding, report, tally)


def _of_text(sounding: BufrSounding, expected: Values) -> Iterable[tuple[str, Any, Any, float]]:
    said: dict[str, list[float | str | None]] = {}
    for item in sounding.plain.items():
        said.setdefault(_name(item.fxy), []).append(item.value)
    limits = {
        "latitude": POSITION_OF_TEXT + 5e-6,
        "longitude": POSITION_OF_TEXT + 5e-6,
        "barometer_height": 0.55,
        "sea_temperature": 0.055,
    }
    names = (
        "call_sign",
        "latitude",
        "longitude",
        "barometer_height",
        "radiosonde_type",
        "radiation_correction",
        "tracking_technique",
        "measuring_equipment",
        "elevation_quality",
        "sea_temperature",
        "cloud_significance",
        "cloud_amount",
        "cloud_base",
        "cloud_type",
    )
    for name in names:
        if name not in said:
            continue
        value = expected.get(name)
        values = value if isinstance(value, list) else [value]
        for turn, one in enumerate(values):
            message = said[name][turn] if turn < len(said[name]) else None
            if name in ("radiosonde_type", "tracking_technique") and isinstance(message, float):
                message = message % 100.0
            yield name, _classed(name, one), _classed(name, message), limits.get(name, 0.0)


def _release(sounding: BufrSounding, report: Report, tally: Tally) -> None:
    time = sounding.release_time
    for part in report.parts:
        for record in part.content.records("7"):
            hour, minute = record.get("release_hour"), record.get("release_minute")
            if not (isinstance(hour, int) and isinstance(minute, int)):
                continue
            text = f"{hour:02d}:{minute:02d}"
            off, shown = NOWHERE, None
            if time is not None:
                shown = f"{time:%H:%M:%S}"
                seconds = time.hour * 3600 + time.minute * 60 + time.second
                apart = abs(seconds - hour * 3600 - minute * 60)
                off = float(min(apart, 86400 - apart))
            tally.value(
                Disagreement(
                    "text and BUFR", NOWHERE, "release_time", text, shown, off, RELEASE_OF_TEXT
                )
            )
            return
