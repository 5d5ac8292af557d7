"""The BUFR bulletin of a flight: whole, first, NIL or corrected."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import click

from encoder.cli.output import NotUsable, show

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.cli.bulletin_set import Asked, Made
    from encoder.diagnostics import Diagnostic
    from encoder.formats.bufr.sounding import BufrSounding

MOST_SHOWN = 30
"""Changes of a correction that are shown one by one."""


def bufr_octets(made: Made, asked: Asked) -> tuple[str, bytes]:
    """Return name and octets (heading and message) of the BUFR bulletin of a flight.

    A correction shows what changed against the message sent earlier, where that is given, and
    counts the update sequence number up.

    Raises
    ------
    NotUsable
        If the coding library is not installed, or the flight gives no message.
    """
    from encoder.bulletin.file_names import bulletin_file_name
    from encoder.cli.bufr import content_of_flight, written
    from encoder.cli.bulletin_set import made_at
    from encoder.formats.bufr.facts import origin_of
    from encoder.formats.bufr.headings import bulletin_octets, heading_of

    earlier, told = _sent_earlier(asked.earlier)
    update, indicator = _turn(earlier, asked)
    origin = origin_of(made.flight, update=update)
    content, found = content_of_flight(
        made.flight,
        made.levels,
        kind="sounding",
        rows="all",
        moment="first" if asked.early else "nil" if asked.nil else "whole",
        origin=origin.value,
    )
    message, faults = (None, []) if content is None else written(content)
    if content is None or message is None:
        show((*told, *origin.diagnostics, *found, *faults))
        msg = "No BUFR message was made, and nothing was written."
        raise NotUsable(msg)
    if earlier is not None:
        told = [*told, *_show_changes(earlier, message)]
    station = made.flight.station
    heading = heading_of(
        content,
        position=(station.latitude, station.longitude),
        centre=asked.centre,
        first=asked.early,
        indicator=indicator,
    )
    octets = bulletin_octets(message, heading)
    show((*told, *origin.diagnostics, *found, *faults, *octets.diagnostics), "warning")
    when = made_at(made, "TTAA" if asked.early else "TTCC")
    return bulletin_file_name(heading, when, binary=True), octets.value


def _sent_earlier(names: Sequence[str]) -> tuple[BufrSounding | None, list[Diagnostic]]:
    """Return the last sounding of the BUFR files among the reports sent earlier."""
    from encoder.cli.bufr import is_bufr_file, read_bufr_file

    last: BufrSounding | None = None
    found: list[Diagnostic] = []
    for name in names:
        if is_bufr_file(name):
            soundings, told = read_bufr_file(name)
            found.extend(told)
            last = soundings[-1] if soundings else last
    return last, found


def _turn(earlier: BufrSounding | None, asked: Asked) -> tuple[int, str]:
    """Return update sequence number and BBB of the message."""
    from encoder.bulletin.heading import parse_heading
    from encoder.bulletin.indicator import next_indicator

    if not asked.earlier:
        return 0, asked.indicator
    used = list(asked.used)
    if earlier is not None and earlier.heading is not None:
        heading = parse_heading(earlier.heading).value
        used += [] if heading is None or not heading.indicator else [heading.indicator]
    update = len(asked.used) + 1 if earlier is None else earlier.header.update + 1
    return update, next_indicator("CC", used)


def _show_changes(earlier: BufrSounding, message: bytes) -> tuple[Diagnostic, ...]:
    """Show what a message says otherwise than the earlier one.

    Raises
    ------
    NotUsable
        If it is of another sounding, or says the same.
    """
    from encoder.formats.bufr.changes import message_changes
    from encoder.formats.bufr.read import read_message

    later = read_message(message).value[0]
    compared = message_changes(earlier, replace(later, heading=earlier.heading))
    for change in compared.value[:MOST_SHOWN]:
        click.echo(f"changes {change.as_text()}", err=True)
    more = len(compared.value) - MOST_SHOWN
    if more > 0:
        click.echo(f"changes BUFR: {more} more values", err=True)
    if compared.diagnostics:
        show(compared.diagnostics)
        msg = "No correction in BUFR was made, and nothing was written."
        raise NotUsable(msg)
    return compared.diagnostics
