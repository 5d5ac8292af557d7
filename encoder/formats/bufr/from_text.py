"""From a decoded alphanumeric report to the content of a BUFR message.

All parts of a sounding make one message; a lone part is refused, because a reader could not tell
the levels that are not there from those that were not sent.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import Diagnostic, Result, diagnostic, has_errors
from encoder.formats.bufr.clouds import cloud_elements
from encoder.formats.bufr.content import MessageContent, Origin
from encoder.formats.bufr.facts import EQUIPMENT, Values, template_facts, time_values, wigos_values
from encoder.formats.bufr.rows import (
    LevelRows,
    completed_kinds,
    level_columns,
    shear_columns,
    wind_rows,
)
from encoder.formats.bufr.templates import TEMPLATES, Platform
from encoder.profile import CloudGroup

if TYPE_CHECKING:
    from datetime import datetime

    from encoder.profile import Station
    from encoder.report import Report

ZERO_CELSIUS = 273.15
PLATFORM_OF_FORM: dict[str, Platform] = {
    "FM 32": "land",
    "FM 33": "ship",
    "FM 34": "mobile",
    "FM 35": "land",
    "FM 36": "ship",
    "FM 37": "drop",
    "FM 38": "mobile",
}
_PILOT = frozenset({"FM 32", "FM 33", "FM 34"})
_FACT_SECTIONS = ("7", "8")


def content_of_report(
    report: Report,
    *,
    nominal_time: datetime,
    release_time: datetime | None = None,
    station: Station | None = None,
    template: str | None = None,
    origin: Origin | None = None,
    forced: bool = False,
) -> Result[MessageContent | None]:
    """Return what the message of a decoded report is to say.

    Parameters
    ----------
    report : Report
        With all its parts.
    nominal_time : datetime
        UTC; a report gives only day and hour.
    release_time : datetime, optional
    station : Station, optional
        Gives the position of a land station, which its report does not.
    template : str, optional
        By default 3 09 052, 3 09 053 for a drop, 3 09 050 or 3 09 051 for upper wind.
    origin : Origin, optional
    forced : bool
        Make a message also of a lone part.

    Returns
    -------
    Result of MessageContent or None
        None for a report without its other parts, unless forced.
    """
    platform = PLATFORM_OF_FORM[report.form]
    chosen = TEMPLATES[template or _usual_template(report)]
    found: list[Diagnostic] = [diagnostic("bufr-from-text", f"Made from {report.form}.")]
    lacking = lacking_parts(report)
    if lacking and not forced:
        have = ", ".join(part.letters for part in report.parts)
        found.append(
            diagnostic(
                "bufr-lone-part",
                f"There is {have}, but not part {', '.join(lacking)}.",
                path=tuple(part.letters for part in report.parts),
            )
        )
    if platform not in chosen.sub_category:
        found.append(
            diagnostic(
                "bufr-template-unfit",
                f"Template {chosen.number} ({chosen.title}) is not for {report.form}.",
                value=chosen.number,
            )
        )
    if has_errors(found):
        return Result(None, tuple(found))
    start, facts = _facts(report, platform, station)
    facts.update(time_values(release_time))
    names = report.levels.columns
    rows = LevelRows(
        {name: np.array(values) for name, values in names.items()},
        completed_kinds(report.levels.kinds),
    )
    if chosen.vertical == "pressure":
        rows = rows.select(np.flatnonzero(np.isfinite(rows["air_pressure"])))
    if chosen.wind_only:
        rows = wind_rows(rows, chosen)
    columns, shear = level_columns(rows, start), shear_columns(rows, start)
    content = MessageContent(
        chosen,
        platform,
        nominal_time,
        template_facts(chosen, facts),
        None if station is None or chosen.with_wigos else wigos_values(station.wigos_id),
        {element.name: columns[element.name] for element in chosen.level},
        {element.name: shear[element.name] for element in chosen.shear},
        origin or Origin(),
    )
    return Result(content, tuple(found))


def facts_of_report(report: Report) -> Values:
    """Return what a report says apart from levels, by element name, None where missing.

    Parameters
    ----------
    report : Report
        In a form of the TEMP or PILOT family.
    """
    return _facts(report, PLATFORM_OF_FORM[report.form], None)[1]


def lacking_parts(report: Report) -> tuple[str, ...]:
    """Return the letters of parts without which a sounding is not whole.

    Parameters
    ----------
    report : Report

    Returns
    -------
    tuple of str
        Part A or B where one is missing, C or D where only one of both is there.
    """
    have = {part.content.letter for part in report.parts}
    needed = {"A", "B"} | ({"C", "D"} if have & {"C", "D"} else set())
    return tuple(sorted(needed - have))


def _usual_template(report: Report) -> str:
    if report.form in _PILOT:
        by_pressure = bool(np.all(np.isfinite(report.levels["air_pressure"])))
        return "309050" if by_pressure else "309051"
    return "309053" if report.form == "FM 37" else "309052"


def _facts(
    report: Report, platform: Platform, station: Station | None
) -> tuple[tuple[float, float], Values]:
    """Return the position, and what the report says apart from levels."""
    said: dict[str, object] = {}
    cloud: dict[str, object] = {}
    for part in report.parts:
        said.update(part.content.identification)
        for number in _FACT_SECTIONS:
            for record in part.content.records(number):
                known = {name: value for name, value in record.values.items() if value is not None}
                (cloud if record.kind == "cloud" else said).update(known)
    latitude, longitude = _number(said, "latitude"), _number(said, "longitude")
    elevation = _number(said, "elevation")
    if station is not None:
        latitude, longitude = station.latitude, station.longitude
        elevation = station.elevation
    heights = None if np.isnan(elevation) else elevation
    sea = _number(said, "sea_surface_temperature")
    group = CloudGroup(
        **{
            name: str(cloud.get(f"cloud_{name}") or "/")
            for name in ("amount", "low", "base", "middle", "high")
        }
    )
    elements = cloud_elements(group if cloud else None)
    figures = {
        "radiosonde_type": "radiosonde_type",
        "radiation_correction": "correction",
        "tracking_technique": "tracking",
        "elevation_quality": "elevation_accuracy",
    }
    values: Values = {name: _figure(said.get(own)) for name, own in figures.items()}
    equipment = EQUIPMENT.get(str(said.get("wind_equipment")))
    values.update(
        {
            "latitude": None if np.isnan(latitude) else latitude,
            "longitude": None if np.isnan(longitude) else longitude,
            "ground_height": heights,
            "barometer_height": heights,
            "release_height": heights,
            "sea_temperature": None if np.isnan(sea) else sea + ZERO_CELSIUS,
            "measuring_equipment": None if equipment is None else float(equipment),
            "cloud_significance": [elements.significance, None],
            "cloud_amount": elements.amount,
            "cloud_base": elements.base,
            "cloud_type": [elements.low, elements.middle, elements.high],
        }
    )
    index, sign = said.get("station"), said.get("call_sign")
    if isinstance(index, str) and index.isdigit():
        values["block_number"] = float(index[:2])
        values["station_number"] = float(index[2:])
    if isinstance(sign, str):
        values["aircraft_flight_number" if platform == "drop" else "call_sign"] = sign
    if station is not None and station.wigos_id is not None:
        names = ("wigos_series", "wigos_issuer", "wigos_issue", "wigos_local")
        values.update(zip(names, wigos_values(station.wigos_id) or (), strict=False))
    return (latitude, longitude), values


def _number(said: dict[str, object], name: str) -> float:
    value = said.get(name)
    return float(value) if isinstance(value, int | float) else float("nan")


def _figure(value: object) -> float | None:
    text = str(value)
    return float(text) if text.isdigit() else None
