"""Reading what a command is given: a flight, a coded report, or a report in JSON."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from encoder.cli.output import NotUsable, Unreadable, read_input, show

if TYPE_CHECKING:
    from datetime import date

    from encoder.diagnostics import Diagnostic
    from encoder.levels import Levels
    from encoder.profile import Flight
    from encoder.repair import RepairMode
    from encoder.report import Report

_FILE_CODES = ("file-not-found", "file-not-readable")


def load_flight(
    name: str, *, least: str, wind_unit: str | None = None, criteria: str | None = None
) -> Flight:
    """Read a flight, show what was found, and leave if it cannot be used.

    Raises
    ------
    Unreadable
        If a file is missing or cannot be read (exit code 3).
    NotUsable
        If the content of a file has errors (exit code 1).
    """
    from encoder.cli.archived import is_netcdf_file, read_flight_file
    from encoder.cli.bufr import flight_of_bufr, is_bufr_file
    from encoder.formats.flight_folder import read_flight

    if is_bufr_file(name):
        result = flight_of_bufr(name)
    elif is_netcdf_file(name):
        result = read_flight_file(name)
    else:
        result = read_flight(name)
    show(result.diagnostics, least)
    if result.value is None:
        message = f"{name} cannot be used as a flight; see the errors above."
        if any(item.code in _FILE_CODES for item in result.diagnostics):
            raise Unreadable(message)
        raise NotUsable(message)
    changes: dict[str, str] = {}
    if wind_unit is not None:
        changes["wind_unit"] = "kt" if wind_unit == "kt" else "m s-1"
    if criteria is not None:
        changes["criteria"] = criteria
    return result.value.with_reporting(**changes) if changes else result.value


def looks_like_flight(name: str) -> bool:
    """Tell whether a name is a flight folder, facts file or flight file rather than a report."""
    from encoder.cli.archived import holds_flight, is_netcdf_file

    if name == "-":
        return False
    if is_netcdf_file(name):
        return holds_flight(name)
    path = Path(name)
    return path.is_dir() or path.name == "flight.json"


def text_of(data: bytes) -> str:
    """Return bytes as text, one character a byte, so that offsets stay those of the file."""
    try:
        return data.decode("ascii")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def json_document(data: bytes) -> object | None:
    """Return the JSON document the bytes hold, None if they are not JSON."""
    if not data.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{"):
        return None
    try:
        document: object = json.loads(data.decode("utf-8-sig"))
    except (UnicodeDecodeError, json.JSONDecodeError) as fault:
        msg = f"The input begins like JSON but is none: {fault}."
        raise NotUsable(msg) from fault
    return document


def load_reports(
    names: tuple[str, ...],
    *,
    selection: str = "flags",
    wind_unit: str | None = None,
    on: date | None = None,
) -> tuple[tuple[Report, ...], tuple[Diagnostic, ...]]:
    """Read reports from texts, their JSON form, or BUFR; parts in several files become one.

    Parameters
    ----------
    names : tuple of str
    selection : {"flags", "anew"}
        How the levels of a report made from BUFR are chosen.
    wind_unit : {"kt", "m/s"}, optional
        Unit of wind speeds in a report made from BUFR; knots by default.
    on : date, optional
        Day whose editions of the forms are used; by default as the file names say.

    Raises
    ------
    Unreadable
        If a file cannot be read (exit code 3).
    NotUsable
        If a file is JSON of another kind (exit code 1).
    """
    return reports_in(names, None, selection=selection, wind_unit=wind_unit, on=on)


def reports_in(
    names: tuple[str, ...],
    text: bytes | None,
    *,
    selection: str = "flags",
    wind_unit: str | None = None,
    on: date | None = None,
    repair: RepairMode = "none",
    origins: dict[int, str | date] | None = None,
    with_messages: bool = True,
) -> tuple[tuple[Report, ...], tuple[Diagnostic, ...]]:
    """Read reports like :func:`load_reports`, and from data that were read already.

    ``on`` picks the edition of the forms; where it is not given, the month in a file name does for
    the text of that file, and for texts beside it whose names say nothing. ``repair`` picks the
    repairs that are read; ``origins`` takes the file of each report of a text, and the date of one
    from an archive, by the identity of the report. BUFR messages beside the text of a file come
    last, unless not wanted.
    """
    from encoder.bulletin.mixed import apart
    from encoder.cli.archived import is_netcdf_file, reports_of_file
    from encoder.cli.bufr import bufr_reports, holds_bufr, is_bufr_file
    from encoder.report import decode_reports

    texts: list[str] = []
    sources: list[str] = []
    reports: list[Report] = []
    beside: list[Report] = []
    found: tuple[Diagnostic, ...] = ()
    inputs = [(name, None) for name in names] + ([] if text is None else [("-", text)])
    for name, known in inputs:
        if known is None and is_netcdf_file(name):
            archived, said = reports_of_file(name, "note", origins)
            reports.extend(archived)
            found = (*found, *said)
            continue
        binary = known is None and is_bufr_file(name)
        data = b"" if binary else read_input(name) if known is None else known
        if binary or holds_bufr(data):
            made, told = bufr_reports(name, data, selection=selection, wind_unit=wind_unit)
            reports.extend(made)
            found = (*found, *told)
            continue
        document = json_document(data)
        if document is None:
            data, messages = apart(data)
            if messages and with_messages:
                made, told = bufr_reports(name, messages, selection=selection, wind_unit=wind_unit)
                beside.extend(made)
                if origins is not None and name != "-":
                    origins.update({id(one): Path(name).name for one in made})
                found = (*found, *told)
            texts.append(text_of(data))
            sources.append(name)
            continue
        reports.extend(_reports_of_document(name, document))
    if texts:
        for day, members in _by_day(sources, on):
            own = [texts[place] for place in members]
            decoded = decode_reports("\n".join(own), on=day, repair=repair)
            if origins is not None:
                names_of_own = [sources[place] for place in members]
                _note_origins(decoded.value, own, names_of_own, origins)
            reports.extend(decoded.value)
            found = (*found, *decoded.diagnostics)
    reports.extend(beside)
    return tuple(reports), found


def _by_day(names: list[str], on: date | None) -> list[tuple[date | None, list[int]]]:
    """Return the places of texts that are read together, with the day that picks the editions.

    Texts are read together where the same editions and conventions hold on their days, so that
    the parts of a sounding meet. A text without a day goes with the others if they are of one time.
    """
    from encoder.bulletin.dates import DateHint
    from encoder.codes.editions import period

    if on is not None:
        return [(on, list(range(len(names))))]
    days: dict[int, date] = {}
    members: dict[int, list[int]] = {}
    undated: list[int] = []
    for place, name in enumerate(names):
        hint = None if name == "-" else DateHint.of_name(Path(name).name)
        day = None if hint is None else hint.nearest(hint.day or 1)
        if day is None:
            undated.append(place)
            continue
        days.setdefault(period(day), day)
        members.setdefault(period(day), []).append(place)
    if len(members) == 1:
        (key,) = members
        return [(days[key], list(range(len(names))))]
    apart: list[tuple[date | None, list[int]]] = [(days[key], members[key]) for key in members]
    return [*apart, (None, undated)] if undated else apart


def _note_origins(
    reports: tuple[Report, ...],
    texts: list[str],
    sources: list[str],
    origins: dict[int, str | date],
) -> None:
    """Note the file that the first part of each report stands in."""
    begin, begins = 0, []
    for text in texts:
        begins.append(begin)
        begin += len(text) + 1
    for report in reports:
        at = report.parts[0].span[0]
        name = sources[sum(1 for one in begins if one <= at) - 1]
        if name != "-":
            origins[id(report)] = Path(name).name


def _reports_of_document(name: str, document: object) -> tuple[Report, ...]:
    from encoder.errors import FormatError
    from encoder.formats.report_json import reports_from_json

    try:
        return tuple(reports_from_json(document))
    except FormatError as fault:
        msg = f"{name}: {fault.message}"
        raise NotUsable(msg) from fault


def form_wanted(flight: Flight, form: str | None = None) -> str:
    """Return the form a flight is reported in, or the one asked for.

    Raises
    ------
    UsageError
        If a flight cannot be reported in that form.
    NotUsable
        If no edition of it is known for the day of the flight (exit code 1).
    """
    import click

    from encoder.codes.editions import form as form_on
    from encoder.errors import InputError
    from encoder.report import form_of_flight

    try:
        wanted = form_of_flight(flight, form)
    except InputError as fault:
        raise click.UsageError(fault.message) from fault
    if wanted in ("FM 75", "FM 76"):
        msg = "A CLIMAT TEMP holds the means of a month; see aerogram climat."
        raise click.UsageError(msg)
    try:
        form_on(wanted, flight.nominal_time.date())
    except InputError as fault:
        msg = f"{fault.message} BUFR (encode --to bufr) and the archive have no such limit."
        raise NotUsable(msg) from fault
    return wanted


def select(flight: Flight, method: str) -> tuple[Levels, tuple[Diagnostic, ...]]:
    """Select the levels of a flight."""
    from encoder.levels import select_levels

    result = (
        select_levels(flight, method="fewest-levels")
        if method == "fewest-levels"
        else select_levels(flight, method="largest-deviation")
    )
    return result.value, result.diagnostics
