"""From a flight to the content of its messages: ascent, upper wind, drop, descent, NIL."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import Diagnostic, Result, diagnostic, has_errors
from encoder.formats.bufr.content import MessageContent, Origin
from encoder.formats.bufr.facts import (
    DESCENT_START,
    Values,
    identification,
    origin_of,
    platform_of,
    release_facts,
    template_facts,
    time_values,
    wigos_values,
)
from encoder.formats.bufr.rows import (
    LevelRows,
    Rows,
    down_to_pressure,
    level_columns,
    level_rows,
    shear_columns,
    wind_rows,
    with_positions,
)
from encoder.formats.bufr.templates import TEMPLATES, Platform, Template
from encoder.levels.altitudes import UPPER_PART_ALTITUDE

if TYPE_CHECKING:
    from collections.abc import Mapping

    from encoder.levels.table import Levels
    from encoder.profile import Flight, FloatArray, Profile

DEFAULT_TEMPLATE = "309057"
DESCENT_TEMPLATE = "309056"
WIND_TEMPLATE = "309050"
"""For a flight without temperatures."""
HEIGHT_TEMPLATE = "309051"
"""For a flight without pressure."""
FIRST_MESSAGE_PRESSURE = 100.0
"""hPa; the first message goes out when it is passed (WMO-No. 306 Volume I.2, B/C25.1)."""


def template_for(platform: Platform, *, wanted: str | None = None) -> Template:
    """Return the template of a flight: the one wanted, else the usual one of its platform."""
    usual = "309053" if platform == "drop" else DEFAULT_TEMPLATE
    return TEMPLATES[wanted or usual]


def message_content(
    flight: Flight,
    levels: Levels,
    *,
    template: str | None = None,
    rows: Rows = "all",
    first: bool = False,
    origin: Origin | None = None,
) -> Result[MessageContent | None]:
    """Return what the message of a flight is to say.

    Parameters
    ----------
    flight : Flight
    levels : Levels
        From :func:`encoder.levels.select_levels` on the same flight.
    template : str, optional
        Number; by default the one of highest resolution for the platform, that of upper wind for
        a flight without temperatures. ``"309056"`` gives the descent.
    rows : {"all", "selected"}
        All rows of the flight or the levels alone.
    first : bool
        The first message: only the levels up to 100 hPa.
    origin : Origin, optional
        By default as the facts of the flight say.

    Returns
    -------
    Result of MessageContent or None
        None where there is nothing to say, or nobody to say it.
    """
    if template == DESCENT_TEMPLATE:
        return descent_content(flight, origin=origin)
    found: list[Diagnostic] = []
    chosen, platform = _template_and_platform(flight, template, found)
    facts, origin = _facts(flight, platform, origin, found)
    start = (flight.station.latitude, flight.station.longitude)
    table = level_rows(flight.ascent, levels, rows, start)
    if not np.any(np.isfinite(table["latitude"][table["time"] > 0.0])):
        table = with_positions(table, flight.ascent, start)
        found.append(
            diagnostic(
                "bufr-positions-from-wind", "The displacements are integrated from the wind."
            )
        )
    if first:
        highest = _highest(flight.ascent)
        if highest is not None:
            text = f"The highest row is at {highest}."
            found.append(diagnostic("bufr-first-message-not-due", text))
        table = down_to_pressure(table, FIRST_MESSAGE_PRESSURE)
    if chosen.wind_only:
        table = wind_rows(table, chosen)
        if len(table) == 0:
            found.append(diagnostic("bufr-no-wind", "No row of the flight has a wind."))
    if has_errors(found):
        return Result(None, tuple(found))
    columns, shear = level_columns(table, start), shear_columns(table, start)
    content = _content(flight, (chosen, platform), facts, columns, shear)
    return Result(replace(content, origin=origin), tuple(found))


def _highest(ascent: Profile) -> str | None:
    """Return in words where the highest row is, None where it has passed 100 hPa."""
    if ascent.by_height:
        height = float(ascent["geopotential_height"][-1])
        return f"{height:.0f} m" if height < UPPER_PART_ALTITUDE else None
    pressure = float(np.nanmin(ascent["air_pressure"]))
    return f"{pressure:.1f} hPa" if pressure > FIRST_MESSAGE_PRESSURE else None


def _template_and_platform(
    flight: Flight, wanted: str | None, found: list[Diagnostic]
) -> tuple[Template, Platform]:
    """Return the template, and the platform under which it is sent."""
    platform = platform_of(flight)
    if wanted is None and not np.any(np.isfinite(flight.ascent["air_temperature"][1:])):
        wanted = HEIGHT_TEMPLATE if flight.ascent.by_height else WIND_TEMPLATE
    chosen = template_for(platform, wanted=wanted)
    if platform not in chosen.sub_category:
        found.append(
            diagnostic(
                "bufr-template-unfit",
                f"Template {chosen.number} ({chosen.title}) is not for a sounding made from: "
                f"{platform}.",
                value=chosen.number,
                expected=template_for(platform).number,
            )
        )
    return chosen, platform


def _facts(
    flight: Flight, platform: Platform, origin: Origin | None, found: list[Diagnostic]
) -> tuple[Values, Origin]:
    """Return identification and release facts, and the origin, with what there is to say."""
    named = identification(flight, platform)
    release = release_facts(flight, flight.release_time)
    found.extend((*named.diagnostics, *release.diagnostics))
    if origin is None:
        own = origin_of(flight)
        found.extend(own.diagnostics)
        origin = own.value
    return {**release.value, **named.value}, origin


def _content(
    flight: Flight,
    kind: tuple[Template, Platform],
    facts: Values,
    columns: Mapping[str, FloatArray],
    shear: Mapping[str, FloatArray],
) -> MessageContent:
    template, platform = kind
    return MessageContent(
        template,
        platform,
        flight.nominal_time.replace(minute=0, second=0, microsecond=0),
        template_facts(template, facts),
        None if template.with_wigos else wigos_values(flight.station.wigos_id),
        {element.name: columns[element.name] for element in template.level},
        {element.name: shear[element.name] for element in template.shear},
    )


def descent_content(
    flight: Flight, *, origin: Origin | None = None
) -> Result[MessageContent | None]:
    """Return what the message of the descent is to say.

    Parameters
    ----------
    flight : Flight
        With rows after the burst.
    origin : Origin, optional

    Returns
    -------
    Result of MessageContent or None
        Levels in descending pressure, which is against the order of time; times and displacements
        count from the first row of the descent (WMO-No. 306 Volume I.2, notes to 3 09 056).
    """
    descent = flight.descent
    if descent is None or len(descent) == 0:
        return Result(None, (diagnostic("bufr-no-descent", "There are no rows after the burst."),))
    found: list[Diagnostic] = []
    template, platform = _template_and_platform(flight, DESCENT_TEMPLATE, found)
    facts, origin = _facts(flight, platform, origin, found)
    if has_errors(found):
        return Result(None, tuple(found))
    begin = flight.release_time + timedelta(seconds=float(descent["time"][0]))
    latitude, longitude = _column(descent, "latitude"), _column(descent, "longitude")
    start = (float(latitude[0]), float(longitude[0]))
    facts.update(time_values(begin))
    height = float(descent["geopotential_height"][0])
    facts.update(
        {
            "latitude": start[0] if np.isfinite(start[0]) else None,
            "longitude": start[1] if np.isfinite(start[1]) else None,
            "release_height": height if np.isfinite(height) else None,
            "coordinates_significance": [DESCENT_START, None],
        }
    )
    count = len(descent)
    names = (
        "air_pressure",
        "geopotential_height",
        "air_temperature",
        "dew_point_temperature",
        "wind_from_direction",
        "wind_speed",
        "latitude",
        "longitude",
        "wind_shear_below",
        "wind_shear_above",
    )
    own = {name: _column(descent, name) for name in names}
    own["time"] = descent["time"] - descent["time"][0]
    table = LevelRows(own, np.zeros(count, np.int64))
    table = table.select(np.argsort(-table["air_pressure"], kind="stable"))
    columns, shear = level_columns(table, start), shear_columns(table, start)
    content = _content(flight, (template, platform), facts, columns, shear)
    return Result(replace(content, origin=origin), tuple(found))


def _column(profile: Profile, name: str) -> np.ndarray:
    return np.array(profile[name]) if name in profile else np.full(len(profile), np.nan)


def nil_content(
    flight: Flight, *, template: str | None = None, origin: Origin | None = None
) -> Result[MessageContent | None]:
    """Return what a NIL message is to say: the station, and one level without a value.

    Parameters
    ----------
    flight : Flight
        Gives the station and the nominal time.
    template : str, optional
    origin : Origin, optional

    Notes
    -----
    WMO-No. 306 Volume I.2, B/C25: the replication factors of a NIL message are positive, its
    values are missing.
    """
    found: list[Diagnostic] = []
    chosen, platform = _template_and_platform(flight, template, found)
    named = identification(flight, platform)
    found.extend(named.diagnostics)
    if origin is None:
        own = origin_of(flight)
        found.extend(own.diagnostics)
        origin = own.value
    if has_errors(found):
        return Result(None, tuple(found))
    facts: Values = {
        **named.value,
        "latitude": flight.station.latitude,
        "longitude": flight.station.longitude,
    }
    missing = np.full(1, np.nan)
    content = _content(
        flight,
        (chosen, platform),
        facts,
        {element.name: missing for element in chosen.level},
        {element.name: missing for element in chosen.shear},
    )
    return Result(replace(content, origin=origin), tuple(found))


def corrected(content: MessageContent) -> MessageContent:
    """Return the content of the next correction: the update sequence number one higher."""
    origin = replace(content.origin, update=content.origin.update + 1)
    return replace(content, origin=origin)
