"""What the commands share for BUFR: telling it from text, reading, writing, showing."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import click

from encoder.cli.output import NotUsable, Unreadable, read_input
from encoder.diagnostics import Result

if TYPE_CHECKING:
    from datetime import datetime

    from encoder.diagnostics import Diagnostic
    from encoder.formats.bufr.content import MessageContent, Origin
    from encoder.formats.bufr.read import BufrContent
    from encoder.formats.bufr.sounding import BufrSounding
    from encoder.levels import Levels
    from encoder.profile import Flight
    from encoder.report import Report

_START = re.compile(rb"BUFR[\x00-\xff]{3}[\x02-\x04]", re.DOTALL)
_HEAD = 65536
KINDS = {
    "sounding": None,
    "low-resolution": "309052",
    "wind": "309050",
    "wind-by-height": "309051",
    "descent": "309056",
}
"""Kinds of message by name, each with its template (None: the usual one of the platform)."""


def holds_bufr(data: bytes) -> bool:
    """Tell whether bytes hold BUFR near their beginning, and no coded report beside it.

    Traffic of both kinds is text; :func:`encoder.bulletin.mixed.apart` takes it apart.
    """
    from encoder.bulletin.mixed import report_beside_messages

    return _START.search(data[:_HEAD]) is not None and not report_beside_messages(data)


def is_bufr_file(name: str) -> bool:
    """Tell whether a file holds BUFR messages and no text; false for what cannot be read."""
    from mmap import ACCESS_READ, mmap

    from encoder.bulletin.mixed import report_beside_messages

    path = Path(name)
    if name == "-" or not path.is_file():
        return False
    try:
        with path.open("rb") as stream:
            if _START.search(stream.read(_HEAD)) is None:
                return False
            with mmap(stream.fileno(), 0, access=ACCESS_READ) as data:
                return not report_beside_messages(data)
    except OSError:
        return False


def soundings_of(source: bytes | BinaryIO) -> tuple[list[BufrSounding], list[Diagnostic]]:
    """Read every sounding of a source.

    Raises
    ------
    NotUsable
        If a message needs the coding library and it is not installed.
    """
    from encoder.errors import MissingDependencyError
    from encoder.formats.bufr.read import read_soundings

    soundings: list[BufrSounding] = []
    found: list[Diagnostic] = []
    try:
        for result in read_soundings(source):
            soundings.extend(result.value)
            found.extend(result.diagnostics)
    except MissingDependencyError as fault:
        raise NotUsable(str(fault)) from fault
    return soundings, found


def read_bufr_file(name: str) -> tuple[list[BufrSounding], list[Diagnostic]]:
    """Read every sounding of a file, message by message.

    Raises
    ------
    Unreadable
        If the file cannot be read (exit code 3).
    """
    from encoder.diagnostics import in_file

    try:
        with Path(name).open("rb") as stream:
            soundings, found = soundings_of(stream)
    except OSError as fault:
        msg = f"Cannot read {name}: {fault.strerror or fault}."
        raise Unreadable(msg) from fault
    return soundings, list(in_file(found, name))


def split_inputs(
    names: tuple[str, ...],
) -> tuple[list[BufrSounding], list[Diagnostic], tuple[str, ...], bytes | None]:
    """Read the BUFR among the inputs, also that beside the text of a file.

    Parameters
    ----------
    names : tuple of str
        Files; "-" is standard input.

    Returns
    -------
    soundings : list of BufrSounding
    found : list of Diagnostic
    others : tuple of str
        The inputs that hold text.
    text : bytes or None
        What standard input held, where that is no BUFR; then "-" is not among the others.
    """
    from encoder.bulletin.mixed import apart

    soundings: list[BufrSounding] = []
    found: list[Diagnostic] = []
    others: list[str] = []
    text: bytes | None = None

    def add_messages_of(data: bytes) -> None:
        messages = apart(data)[1]
        if messages:
            read, told = soundings_of(messages)
            soundings.extend(read)
            found.extend(told)

    for name in names:
        if name == "-":
            data = read_input(name)
            if holds_bufr(data):
                read, told = soundings_of(data)
                soundings.extend(read)
                found.extend(told)
            else:
                text = data
                add_messages_of(data)
        elif is_bufr_file(name):
            read, told = read_bufr_file(name)
            soundings.extend(read)
            found.extend(told)
        else:
            others.append(name)
            if Path(name).is_file():
                add_messages_of(read_input(name))
    return soundings, found, tuple(others), text


def bufr_reports(
    name: str, data: bytes, *, selection: str = "flags", wind_unit: str | None = None
) -> tuple[list[Report], list[Diagnostic]]:
    """Return the text reports of a file, or of data that were read already; months too."""
    from io import BytesIO

    from encoder.cli.bufr_stream import BufrInputs

    found: list[Diagnostic] = []
    reports: list[Report] = []
    inputs = BufrInputs.of_stream(name, BytesIO(data)) if data else BufrInputs((name,))
    for content in inputs.contents(found.extend):
        made, told = reports_of_content(content, selection=selection, wind_unit=wind_unit)
        reports.extend(made)
        found.extend(told)
    return reports, found


def reports_of_content(
    content: BufrContent, *, selection: str = "flags", wind_unit: str | None = None
) -> tuple[list[Report], list[Diagnostic]]:
    """Return the text report of a sounding that has one, or of monthly means."""
    from encoder.cli.bufr_months import report_of_month
    from encoder.formats.bufr.months import BufrMonth

    if isinstance(content, BufrMonth):
        return [report_of_month(content, wind_unit)], []
    return reports_of([content], selection=selection, wind_unit=wind_unit)


def flight_of_bufr(name: str) -> Result[Flight | None]:
    """Return the flight a BUFR file with one sounding describes.

    Raises
    ------
    UsageError
        If the file holds several soundings.
    """
    from encoder.formats.bufr.to_flight import flight_of_sounding

    soundings, found = read_bufr_file(name)
    if len(soundings) > 1:
        msg = f"{name} holds {len(soundings)} soundings; a flight is one. Split the file."
        raise click.UsageError(msg)
    if not soundings:
        return Result(None, tuple(found))
    made = flight_of_sounding(soundings[0])
    return Result(made.value, (*found, *made.diagnostics))


def reports_of(
    soundings: list[BufrSounding], *, selection: str = "flags", wind_unit: str | None = None
) -> tuple[list[Report], list[Diagnostic]]:
    """Return the TEMP of each sounding that has one."""
    from encoder.formats.bufr.to_flight import report_of_sounding
    from encoder.profile import Reporting

    practice = Reporting(wind_unit="m s-1" if wind_unit == "m/s" else "kt")
    reports: list[Report] = []
    found: list[Diagnostic] = []
    for sounding in soundings:
        made = report_of_sounding(
            sounding,
            selection="anew" if selection == "anew" else "flags",
            reporting=practice,
        )
        found.extend(made.diagnostics)
        if made.value is not None:
            reports.append(made.value)
    return reports, found


def template_named(kind: str) -> str | None:
    """Return the template of a kind of message, or the template number itself.

    Raises
    ------
    UsageError
        If there is no such kind or template.
    """
    from encoder.formats.bufr.templates import TEMPLATES

    figures = kind.replace(" ", "")
    if kind in KINDS:
        return KINDS[kind]
    if figures in TEMPLATES:
        return figures
    msg = (
        f"--message takes {', '.join(KINDS)} or a template ({', '.join(TEMPLATES)}), got {kind!r}."
    )
    raise click.UsageError(msg)


def content_of_flight(
    flight: Flight,
    levels: Levels,
    *,
    kind: str,
    rows: str,
    moment: str,
    origin: Origin,
) -> tuple[MessageContent | None, list[Diagnostic]]:
    """Return what the message of a flight says; ``moment`` is "whole", "first" or "nil"."""
    from encoder.formats.bufr.compose import message_content, nil_content

    template = template_named(kind)
    if moment == "nil":
        made = nil_content(flight, template=template, origin=origin)
    else:
        made = message_content(
            flight,
            levels,
            template=template,
            rows="selected" if rows == "selected" else "all",
            first=moment == "first",
            origin=origin,
        )
    return made.value, list(made.diagnostics)


def written(content: MessageContent) -> tuple[bytes | None, list[Diagnostic]]:
    """Code a message.

    Raises
    ------
    NotUsable
        If the coding library is not installed.
    """
    from encoder.errors import MissingDependencyError
    from encoder.formats.bufr.write import write_message

    try:
        made = write_message(content)
    except MissingDependencyError as fault:
        raise NotUsable(str(fault)) from fault
    return made.value, list(made.diagnostics)


def emit_bytes(data: bytes, output: str | None) -> None:
    """Write bytes to a file, moved into place when complete, or to standard output.

    Raises
    ------
    Unreadable
        If the file cannot be written.
    UsageError
        If standard output is a terminal.
    """
    from encoder.formats.binary_file import write_octets

    if output in (None, "-"):
        if sys.stdout.isatty():
            msg = "BUFR is binary and not for a terminal; name a file: -o message.bufr"
            raise click.UsageError(msg)
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
        return
    try:
        write_octets(str(output), data)
    except OSError as fault:
        msg = f"Cannot write {output}: {fault.strerror or fault}. Nothing was left behind."
        raise Unreadable(msg) from fault


def in_envelope(
    message: bytes,
    content: MessageContent,
    *,
    centre: str,
    first: bool,
    channel: int | None,
    number: int | None,
    indicator: str,
) -> tuple[bytes, list[Diagnostic]]:
    """Return a message as a bulletin with its envelope.

    Raises
    ------
    UsageError
        If an element of the heading does not have the form that its place demands.
    """
    from encoder.bulletin.envelope import message as envelope
    from encoder.formats.bufr.headings import bulletin_octets, heading_of

    names = [element.name for element in content.template.before]
    place = [content.before[names.index(name)] for name in ("latitude", "longitude")]
    latitude, longitude = (float(value) if isinstance(value, float) else 0.0 for value in place)
    try:
        heading = heading_of(
            content,
            position=(latitude, longitude),
            centre=centre,
            first=first,
            number=number,
            indicator=indicator,
        )
        bulletin = bulletin_octets(message, heading)
    except ValueError as fault:
        raise click.UsageError(str(fault)) from fault
    return envelope(bulletin.value, channel=channel), list(bulletin.diagnostics)


def moment_of(report: Report, date: datetime) -> tuple[datetime, datetime | None]:
    """Return nominal time and release time of a report near a date.

    Raises
    ------
    NotUsable
        If the report names no day and hour, or the month has no such day.
    """
    from encoder.bulletin.dates import DateHint, DateSource, resolve_time

    said = report.parts[0].content.identification
    day, hour = said.get("day"), said.get("hour")
    release: tuple[int, int] | None = None
    for part in report.parts:
        for record in part.content.records("7"):
            hours, minutes = record.get("release_hour"), record.get("release_minute")
            if isinstance(hours, int) and isinstance(minutes, int):
                release = (hours, minutes)
    resolved = resolve_time(
        day=day if isinstance(day, int) else None,
        hour=hour if isinstance(hour, int) else None,
        hints=[DateHint(DateSource.GIVEN, date.year, date.month, date.day)],
        release=release,
    )
    if resolved.value is None:
        words = "; ".join(item.message for item in resolved.diagnostics)
        msg = f"The date of the report is not known: {words}"
        raise NotUsable(msg)
    return resolved.value.nominal_time, resolved.value.release_time
