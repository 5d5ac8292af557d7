"""The set of bulletins of a flight: made, shown with its due times, and delivered."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from encoder.cli.output import NotUsable, Unreadable, emit, emit_json, exit_code, show

if TYPE_CHECKING:
    from collections.abc import Mapping

    from encoder.bulletin.correct import Correction
    from encoder.bulletin.due_times import DueTime
    from encoder.bulletin.envelope import Bulletin
    from encoder.diagnostics import Diagnostic, Result
    from encoder.levels import Levels
    from encoder.profile import Flight
    from encoder.report import Report

FORMAT = "aerogram-bulletins-1"


@dataclass(frozen=True, slots=True)
class Asked:
    """What was asked for: the headings, and which set."""

    centre: str
    area: str | None
    number: str
    headings: Mapping[str, tuple[str, str]]
    indicator: str
    early: bool
    nil: bool
    earlier: str | None
    used: tuple[str, ...]
    regional: bool
    word: bool


@dataclass(frozen=True, slots=True)
class Made:
    """The set of a flight."""

    flight: Flight
    levels: Levels
    bulletins: tuple[Bulletin, ...]
    due: tuple[DueTime, ...]
    correction: Correction | None
    found: tuple[Diagnostic, ...]


def make_set(
    name: str, asked: Asked, choice: tuple[str | None, str, str | None, str | None], least: str
) -> Made:
    """Make the bulletins of a flight.

    Raises
    ------
    Unreadable, NotUsable
        If the flight or the earlier report cannot be used.
    """
    from encoder.bulletin.due_times import due_times
    from encoder.cli.load import form_wanted, load_flight, select
    from encoder.report import encode_report

    form, method, criteria, wind_unit = choice
    flight = load_flight(name, least=least, wind_unit=wind_unit, criteria=criteria)
    levels, chosen = select(flight, method)
    report, faults = encode_report(flight, levels, form=form_wanted(flight, form))
    times, late = due_times(flight)
    asked = _with_sea_area(flight, report, asked)
    correction = None
    if asked.earlier is not None:
        correction, told = _correction(report, asked.earlier, asked)
        faults = (*faults, *told)
    composed = _composed(flight, report, asked, correction)
    due = times[:2] if asked.early else times
    if asked.nil:  # nothing was released, so nothing was early or late
        due, late = tuple(replace(one, ready=None) for one in due), ()
    found = (*chosen, *faults, *late, *composed.diagnostics)
    return Made(flight, levels, composed.value, due, correction, found)


def _with_sea_area(flight: Flight, report: Report, asked: Asked) -> Asked:
    """Return what was asked for with the A1A2 of a ship by its position, unless given."""
    from encoder.bulletin.areas import ship_area

    if asked.area is not None or report.form not in ("FM 33", "FM 36"):
        return asked
    return replace(asked, area=ship_area(flight.station.latitude, flight.station.longitude))


def _correction(report: Report, name: str, asked: Asked) -> Result[Correction]:
    from encoder.bulletin.correct import correct
    from encoder.cli.load import load_reports

    earlier, found = load_reports((name,))
    same = [one for one in earlier if one.form == report.form]
    if not same:
        show(found)
        msg = f"{name} holds no report in the form {report.form} to correct."
        raise NotUsable(msg)
    return correct(same[0], report, regional=asked.regional, word=asked.word)


def _composed(
    flight: Flight, report: Report, asked: Asked, correction: Correction | None
) -> Result[tuple[Bulletin, ...]]:
    from encoder.bulletin.compose import compose_bulletins, compose_correction, compose_early

    heads: dict[str, Any] = {
        "centre": asked.centre,
        "headings": asked.headings,
        "area": asked.area,
        "number": asked.number,
    }
    if correction is not None:
        used = dict.fromkeys(correction.letters, asked.used)
        return compose_correction(flight, correction, used=used, **heads)
    if asked.early:
        return compose_early(flight, report, indicator=asked.indicator, **heads)
    if asked.nil:
        report = _nil(report)
    return compose_bulletins(flight, report, indicator=asked.indicator, **heads)


def _nil(report: Report) -> Report:
    """Return the report that says NIL in every part."""
    from encoder.report import encode_content

    parts = []
    for part in report.parts:
        content = replace(part.content, sections=part.content.sections[:1], nil=True)
        text = encode_content([content]).value
        parts.append(replace(part, content=content, text=text.rstrip("\n")))
    return replace(report, parts=tuple(parts))


# --- delivery -------------------------------------------------------------------------------------


def deliver(
    made: Made,
    asked: Asked,
    how: tuple[bool, str | None, int | None, str | None, bool, bool, str | None],
    least: str,
) -> int:
    """Show due times and changes, then write the bulletins; return the exit code."""
    from encoder.bulletin.compose import messages
    from encoder.bulletin.envelope import batch as framed
    from encoder.bulletin.envelope import bulletin_text
    from encoder.cli.bufr import emit_bytes

    envelope, batch, channel, folder, with_bufr, as_json, output = how
    click.echo(due_table(made.due), err=True)
    if made.correction is not None:
        for change in made.correction.changes:
            click.echo(f"changes {change.as_text()}", err=True)
    texts = [bulletin_text(one) for one in made.bulletins]
    found = (*made.found, *(item for text in texts for item in text.diagnostics))
    show(found, least)
    code = exit_code(found)
    if as_json:
        emit_json(_document(made, found), output)
        return code
    if code:
        msg = "Nothing was written; see the errors above."
        raise NotUsable(msg)
    whole = messages(made.bulletins, first_channel=channel).value
    if folder is not None:
        files = _named(made, whole if envelope else [text.value for text in texts])
        if with_bufr:
            files.append(_bufr_file(made, asked, envelope=envelope))
        _write(folder, files)
    elif batch is not None:
        emit_bytes(framed(whole, _form_of(batch)), output)
    elif envelope:
        emit_bytes(b"".join(whole), output)
    else:
        lines = b"".join(text.value for text in texts).replace(b"\r\r\n", b"\n")
        emit(lines.decode("ascii"), output)
    return code


def _form_of(batch: str) -> Any:
    """Return the batch format, which click has checked."""
    return batch


def due_table(due: tuple[DueTime, ...]) -> str:
    """Return due times as a table, UTC."""
    lines = [f"{'due':<15}{'from':<7}{'to':<7}{'flight':<8}state"]
    for one in due:
        begin, end, ready = (
            "-" if time is None else f"{time:%H:%M}"
            for time in (one.earliest, one.latest, one.ready)
        )
        lines.append(f"{one.name:<15}{begin:<7}{end:<7}{ready:<8}{one.state} ({one.source})")
    return "\n".join(lines)


def _made_at(made: Made, letters: str) -> datetime:
    """Return when a part of the flight was there: the time in the name of its file."""
    name = "parts A and B" if letters[2:] in ("AA", "BB") else "parts C and D"
    ready = next((one.ready for one in made.due if one.name == name), None)
    return made.flight.nominal_time if ready is None else ready


def _file_name(made: Made, one: Bulletin) -> str:
    from encoder.bulletin.file_names import bulletin_file_name

    return bulletin_file_name(one.heading, _made_at(made, one.letters[0]))


def _named(made: Made, texts: Any) -> list[tuple[str, bytes]]:
    return [(_file_name(made, one), text) for one, text in zip(made.bulletins, texts, strict=True)]


def _bufr_file(made: Made, asked: Asked, *, envelope: bool) -> tuple[str, bytes]:
    """Return name and octets of the BUFR bulletin of the flight.

    Raises
    ------
    NotUsable
        If the coding library is not installed, or the flight gives no message.
    """
    from encoder.bulletin.envelope import message as enveloped
    from encoder.bulletin.file_names import bulletin_file_name
    from encoder.cli.bufr import content_of_flight, written
    from encoder.formats.bufr.facts import origin_of
    from encoder.formats.bufr.headings import bulletin_octets, heading_of

    origin = origin_of(made.flight)
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
        show((*origin.diagnostics, *found, *faults))
        msg = "No BUFR message was made, and nothing was written."
        raise NotUsable(msg)
    station = made.flight.station
    heading = heading_of(
        content,
        position=(station.latitude, station.longitude),
        centre=asked.centre,
        first=asked.early,
        indicator=asked.indicator,
    )
    octets = bulletin_octets(message, heading)
    show((*origin.diagnostics, *found, *faults, *octets.diagnostics), "warning")
    when = _made_at(made, "TTAA" if asked.early else "TTCC")
    name = bulletin_file_name(heading, when, binary=True)
    return name, enveloped(octets.value) if envelope else octets.value


def _write(folder: str, files: list[tuple[str, bytes]]) -> None:
    from encoder.formats.binary_file import write_octets

    target = Path(folder)
    try:
        target.mkdir(parents=True, exist_ok=True)
        for name, data in files:
            write_octets(target / name, data)
            click.echo(f"wrote {target / name}")
    except OSError as fault:
        msg = f"Cannot write to {folder}: {fault.strerror or fault}."
        raise Unreadable(msg) from fault


def _document(made: Made, found: tuple[Diagnostic, ...]) -> dict[str, Any]:
    """Return a dictionary that validates against ``bulletins.schema.json``."""
    from encoder.bulletin.heading import describe_heading

    changes = () if made.correction is None else made.correction.changes
    return {
        "format": FORMAT,
        "bulletins": [
            {
                "heading": one.heading.text,
                "description": describe_heading(one.heading),
                "letters": list(one.letters),
                "reports": list(one.reports),
                "file_name": _file_name(made, one),
            }
            for one in made.bulletins
        ],
        "due": [one.as_json() for one in made.due],
        "changes": [
            {
                "part": one.part,
                "section": one.section,
                "record": one.kind,
                "place": one.place,
                "element": one.element,
                "before": one.before,
                "after": one.after,
            }
            for one in changes
        ],
        "diagnostics": [item.as_json() for item in found],
    }
