"""The part of ``aerogram encode`` that writes BUFR."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from encoder.cli.bufr import (
    content_of_flight,
    emit_bytes,
    in_envelope,
    is_bufr_file,
    moment_of,
    template_named,
    written,
)
from encoder.cli.output import NotUsable, exit_code, show

if TYPE_CHECKING:
    from datetime import datetime

    from encoder.cli.bufr_options import BufrOptions
    from encoder.diagnostics import Diagnostic
    from encoder.formats.bufr.content import MessageContent, Origin
    from encoder.profile import Flight, Station
    from encoder.report import Report
    from encoder.stations import StationCatalogue


def encode_flight_as_bufr(
    flight: Flight, *, method: str, options: BufrOptions, output: str | None, least: str
) -> int:
    """Write the message of a flight; return the exit code.

    Raises
    ------
    NotUsable
        If the coding library is not installed.
    """
    from encoder.cli.load import select
    from encoder.formats.bufr.facts import origin_of

    table, found = select(flight, method)
    origin = origin_of(
        flight, centre=options.centre, sub_centre=options.sub_centre, update=options.update
    )
    moment = "nil" if options.nil else "first" if options.first else "whole"
    content, told = content_of_flight(
        flight,
        table,
        kind=options.kind,
        rows=options.rows,
        moment=moment,
        origin=origin.value,
    )
    told = [*found, *origin.diagnostics, *told]
    return _finish([content], told, flight.diagnostics, (options, output, least))


def encode_text_as_bufr(
    source: str, *, options: BufrOptions, output: str | None, least: str
) -> int:
    """Write messages of text reports; return the exit code.

    Raises
    ------
    UsageError
        If the date of a text report is not given.
    """
    from encoder.cli.bufr_months import centre_told
    from encoder.cli.load import load_reports
    from encoder.cli.stations import load_stations
    from encoder.formats.bufr.climat_text import MONTHLY_FORMS
    from encoder.formats.bufr.from_text import PLATFORM_OF_FORM, content_of_report

    if is_bufr_file(source):
        msg = f"{source} is BUFR already; --to text makes a text of it."
        raise click.UsageError(msg)
    on = None if options.date is None else options.date.date()
    reports, told = load_reports((source,), on=on)
    found = [*told, *centre_told(options.centre)]
    wanted = [report for report in reports if report.form in PLATFORM_OF_FORM]
    monthly = [report for report in reports if report.form in MONTHLY_FORMS]
    if monthly and not wanted:
        return _months(monthly, found, (options, output, least))
    if not wanted:
        show(found, least)
        msg = f"{source} holds no report of the TEMP or PILOT family."
        raise NotUsable(msg)
    if options.date is None:
        msg = "A text report names only its day; give the date near it: --date YYYY-MM-DD."
        raise click.UsageError(msg)
    origin = _origin_of(options)
    contents: list[MessageContent | None] = []
    template = None if options.kind == "sounding" else template_named(options.kind)
    catalogue = load_stations(options.stations, least)
    for report in wanted:
        nominal, release = moment_of(report, options.date)
        station, faults = _station_of(report, catalogue, nominal)
        found.extend(faults)
        made = content_of_report(
            report,
            nominal_time=nominal,
            release_time=release,
            station=station,
            template=template,
            origin=origin,
            forced=options.force,
        )
        found.extend(made.diagnostics)
        contents.append(made.value)
    return _finish(contents, found, (), (options, output, least))


def _origin_of(options: BufrOptions) -> Origin:
    from encoder.formats.bufr.content import Origin

    centre = Origin().centre if options.centre is None else options.centre
    return Origin(centre, options.sub_centre or 0, options.update)


def _months(
    reports: list[Report], told: list[Diagnostic], asked: tuple[BufrOptions, str | None, str]
) -> int:
    """Write the messages of CLIMAT TEMP in text; return the exit code."""
    from encoder.cli.bufr_months import month_octets, month_of_text
    from encoder.cli.stations import load_stations

    options, output, least = asked
    catalogue = load_stations(options.stations, least)
    parts: list[bytes] = []
    for report in reports:
        month, found = month_of_text(report, catalogue)
        told.extend(found)
        if month is None:
            continue
        octets, faults = month_octets(
            month, _origin_of(options), bulletin=options.bulletin, indicator=options.indicator
        )
        told.extend(faults)
        if octets is not None:
            parts.append(octets)
    show(told, least)
    if not parts:
        msg = "No message was written; see the errors above."
        raise NotUsable(msg)
    emit_bytes(b"".join(parts), output)
    return exit_code(told)


def _station_of(
    report: Report, catalogue: StationCatalogue, nominal: datetime
) -> tuple[Station | None, tuple[Diagnostic, ...]]:
    """Return the station of a land report, whose position only the catalogue has."""
    from encoder.profile import Station

    index = report.parts[0].content.identification.get("station")
    if not isinstance(index, str) or not index.isdigit():
        return None, ()
    record, told = catalogue.find(index, nominal.date())
    if record is None:
        return None, told
    return (
        Station(record.name, record.latitude, record.longitude, record.elevation, index),
        told,
    )


def _finish(
    contents: list[MessageContent | None],
    told: list[Diagnostic],
    before: tuple[Diagnostic, ...],
    asked: tuple[BufrOptions, str | None, str],
) -> int:
    """Code the messages, show what was found, write them."""
    options, output, least = asked
    parts: list[bytes] = []
    for content in contents:
        if content is None:
            continue
        message, faults = written(content)
        told.extend(faults)
        if message is None:
            continue
        if options.bulletin is not None:
            message, faults = in_envelope(
                message,
                content,
                centre=options.bulletin,
                first=options.first,
                channel=options.channel,
                number=options.number,
                indicator=options.indicator,
            )
            told.extend(faults)
        parts.append(message)
    show(told, least)
    if not parts:
        msg = "No message was written; see the errors above."
        raise NotUsable(msg)
    emit_bytes(b"".join(parts), output)
    return exit_code((*before, *told))
