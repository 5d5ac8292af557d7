"""The set of bulletins of a flight: made, shown with its due times, and delivered."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from encoder.cli.output import NotUsable, Unreadable, emit, emit_json, exit_code, show
from encoder.diagnostics import Result

if TYPE_CHECKING:
    from collections.abc import Mapping

    from encoder.bulletin.correct import Correction
    from encoder.bulletin.due_times import DueTime
    from encoder.bulletin.envelope import Bulletin
    from encoder.diagnostics import Diagnostic
    from encoder.levels import Levels
    from encoder.profile import Flight
    from encoder.report import PartReport, Report

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
    earlier: tuple[str, ...]
    used: tuple[str, ...]
    regional: bool
    word: bool
    no_text: bool


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
    from encoder.bulletin.correct import correct
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
    used: Mapping[str, tuple[str, ...]] = {}
    if asked.earlier and not asked.no_text:
        earlier = _earlier(report, asked.earlier)
        correction, told = correct(earlier, report, regional=asked.regional, word=asked.word)
        faults = (*faults, *told)
        used = {part.letters: (*asked.used, *_indicator(part)) for part in earlier.parts}
    composed = Result(()) if asked.no_text else _composed(flight, report, asked, correction, used)
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


def _earlier(report: Report, names: tuple[str, ...]) -> Report:
    """Return the report sent earlier: that of the same sounding, if the files hold several."""
    from encoder.cli.bufr import is_bufr_file
    from encoder.cli.load import load_reports

    texts = tuple(name for name in names if not is_bufr_file(name))
    earlier, found = load_reports(texts or names, on=report.on)
    same = [one for one in earlier if one.form == report.form]
    if not same:
        show(found)
        msg = f"{', '.join(names)} holds no report in the form {report.form} to correct."
        raise NotUsable(msg)
    own = _sounding(report)
    return next((one for one in same if _sounding(one) == own), same[0])


def _sounding(report: Report) -> tuple[object, ...]:
    """Return what tells one sounding from another in a text."""
    said = report.parts[0].content.identification
    return tuple(said.get(name) for name in ("station", "call_sign", "day", "hour"))


def _indicator(part: PartReport) -> tuple[str, ...]:
    """Return the indicator of the heading a part was sent under, if it had one."""
    from encoder.bulletin.heading import parse_heading

    heading = None if part.heading is None else parse_heading(part.heading).value
    return (heading.indicator,) if heading is not None and heading.indicator else ()


def _composed(
    flight: Flight,
    report: Report,
    asked: Asked,
    correction: Correction | None,
    used: Mapping[str, tuple[str, ...]],
) -> Result[tuple[Bulletin, ...]]:
    from encoder.bulletin.compose import compose_bulletins, compose_correction, compose_early

    heads: dict[str, Any] = {
        "centre": asked.centre,
        "headings": asked.headings,
        "area": asked.area,
        "number": asked.number,
    }
    if correction is not None:
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
        text = encode_content([content], on=report.on).value
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
    from encoder.bulletin.envelope import bulletin_text, message
    from encoder.cli.bufr import emit_bytes
    from encoder.cli.bulletin_bufr import bufr_octets

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
    whole = list(messages(made.bulletins, first_channel=channel).value)
    binary = [bufr_octets(made, asked)] if with_bufr else []
    number = None if channel is None else channel + len(whole)
    enveloped = [message(octets, channel=number) for _name, octets in binary]
    if folder is not None:
        files = _named(made, whole if envelope else [text.value for text in texts])
        names = [name for name, _octets in binary]
        octets = enveloped if envelope else [data for _name, data in binary]
        _write(folder, [*files, *zip(names, octets, strict=True)])
    elif batch is not None:
        kind = "BI" if batch == "AN" else batch
        emit_bytes(framed(whole, _form_of(batch)) + framed(enveloped, _form_of(kind)), output)
    elif envelope:
        emit_bytes(b"".join([*whole, *enveloped]), output)
    elif binary:
        emit_bytes(b"".join(data for _name, data in binary), output)
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


def made_at(made: Made, letters: str) -> datetime:
    """Return when a part of the flight was there: the time in the name of its file."""
    name = "parts A and B" if letters[2:] in ("AA", "BB") else "parts C and D"
    ready = next((one.ready for one in made.due if one.name == name), None)
    return made.flight.nominal_time if ready is None else ready


def _file_name(made: Made, one: Bulletin) -> str:
    from encoder.bulletin.file_names import bulletin_file_name

    return bulletin_file_name(one.heading, made_at(made, one.letters[0]))


def _named(made: Made, texts: Any) -> list[tuple[str, bytes]]:
    return [(_file_name(made, one), text) for one, text in zip(made.bulletins, texts, strict=True)]


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
