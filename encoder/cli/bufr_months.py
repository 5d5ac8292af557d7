"""Monthly means in BUFR for the commands: written, made from text, and turned into text."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from encoder.cli.output import NotUsable

if TYPE_CHECKING:
    from encoder.diagnostics import Diagnostic
    from encoder.formats.bufr.content import Origin
    from encoder.formats.bufr.monthly import MonthlyMessage
    from encoder.formats.bufr.months import BufrMonth
    from encoder.report import Report
    from encoder.stations import StationCatalogue


def month_octets(
    month: MonthlyMessage, origin: Origin, *, bulletin: str | None, indicator: str
) -> tuple[bytes | None, list[Diagnostic]]:
    """Code monthly means, in the envelope of a bulletin where a centre is given.

    Raises
    ------
    NotUsable
        If the coding library is not installed.
    UsageError
        If an element of the heading does not have the form that its place demands.
    """
    from encoder.bulletin.envelope import message as envelope
    from encoder.errors import MissingDependencyError
    from encoder.formats.bufr.headings import bulletin_octets, heading_of_month
    from encoder.formats.bufr.monthly import write_monthly

    try:
        made = write_monthly(month, origin=origin)
    except MissingDependencyError as fault:
        raise NotUsable(str(fault)) from fault
    found = list(made.diagnostics)
    if made.value is None or bulletin is None:
        return made.value, found
    heading = heading_of_month(month, centre=bulletin, indicator=indicator)
    try:
        octets = bulletin_octets(made.value, heading)
    except ValueError as fault:
        raise click.UsageError(str(fault)) from fault
    return envelope(octets.value), [*found, *octets.diagnostics]


def centre_told(centre: int | None) -> tuple[Diagnostic, ...]:
    """Return the warning that no originating centre was given, nothing where one was."""
    from encoder.diagnostics import diagnostic

    if centre is not None:
        return ()
    text = "--centre is not given; the originating centre is coded as not known."
    return (diagnostic("bufr-centre-missing", text),)


def month_of_text(
    report: Report, catalogue: StationCatalogue
) -> tuple[MonthlyMessage | None, tuple[Diagnostic, ...]]:
    """Return what the message of a CLIMAT TEMP in text says.

    Parameters
    ----------
    report : Report
        In FM 75 or FM 76.
    catalogue : StationCatalogue
        Gives the position of a land station.
    """
    from encoder.formats.bufr.climat_text import month_of_report
    from encoder.profile import Station

    said = report.parts[0].content.identification
    nan = float("nan")
    latitude, longitude = said.get("latitude"), said.get("longitude")
    if isinstance(latitude, float) and isinstance(longitude, float):
        ship = Station("ship", latitude, longitude, nan)
        return month_of_report(report, ship, call_sign="SHIP")
    index = said.get("station")
    if not isinstance(index, str):
        return month_of_report(report, Station("unknown", nan, nan, nan))
    record, told = catalogue.find(index)
    if record is None:
        made = month_of_report(report, Station(index, nan, nan, nan, index))
        return made.value, (*told, *made.diagnostics)
    place = (record.latitude, record.longitude, record.elevation)
    return month_of_report(report, Station(record.name, *place, index))


def report_of_month(month: BufrMonth, wind_unit: str | None) -> Report:
    """Return the CLIMAT TEMP that says what a message of monthly means says."""
    from encoder.formats.bufr.climat_text import content_of_month
    from encoder.report import decode_reports, encode_content

    content = content_of_month(month, wind_unit="kt" if wind_unit == "kt" else "m s-1")
    return decode_reports(encode_content([content]).value).value[0]
