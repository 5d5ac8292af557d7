"""``aerogram decode``: what a coded report says."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from encoder.cli.options import csv_option, json_option, output_option, repair_option, show_option
from encoder.cli.stations import stations_option

if TYPE_CHECKING:
    from datetime import date

    from encoder.bulletin.dates import DateHint
    from encoder.cli.bufr_stream import BufrInputs
    from encoder.located import Located
    from encoder.repair import RepairMode
    from encoder.report import Report


@click.command()
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
@click.option(
    "--date",
    "when",
    metavar="YYYY-MM[-DD]",
    help="Month or day near the reports; by default as file names say.",
)
@stations_option
@repair_option
@json_option
@csv_option
@output_option
@show_option
@click.pass_context
def decode(
    context: click.Context,
    /,
    files: tuple[str, ...],
    when: str | None,
    station_list: str | None,
    repair: RepairMode,
    as_json: bool,
    as_csv: bool,
    output: str | None,
    least: str,
) -> None:
    """Show what a coded report says.

    FILE holds one or more parts as text, or BUFR messages; "-" reads standard input. Parts of
    one sounding in several files are put together. A report names only the day of the month:
    year and month come from --date, from a file name or from another report beside it. An old
    report is read in the edition of its form of that day; pilot-balloon reports in two-figure
    winds begin with the word PIBAL. The position of a land station comes from the catalogue
    (aerogram stations). Damaged groups are read as they are; how they would be read with
    --repair is told.

    \b
    Example:
      aerogram encode samples/flights/harrow-tarn | aerogram decode -
      aerogram decode report.txt --date 2031-07
      aerogram decode garbled.txt --repair safe
      aerogram decode harrow-tarn.bufr --csv
    """
    from encoder.cli.bufr_stream import BufrInputs
    from encoder.cli.load import reports_in
    from encoder.cli.output import emit, emit_json, exit_code, show
    from encoder.cli.stations import load_stations
    from encoder.formats.level_table import levels_as_csv
    from encoder.formats.report_json import reports_as_json
    from encoder.located import locate

    if as_json and as_csv:
        msg = "--json and --csv exclude each other."
        raise click.UsageError(msg)
    inputs = BufrInputs(files)
    others, given = inputs.others, inputs.text
    if inputs.bufr:
        if others or given is not None:
            msg = "Decode text and BUFR one after the other, not together."
            raise click.UsageError(msg)
        context.exit(_decode_bufr(inputs, (as_json, as_csv, output, least)))
    hints, on = hints_of(when)
    origins: dict[int, str | date] = {}
    reports, found = reports_in(others, given, on=on, repair=repair, origins=origins)
    located, told_of_places = locate(
        reports,
        catalogue=load_stations(station_list, least),
        hints=hints,
        names=[origins.get(id(report)) for report in reports],
        date_needed=False,
    )
    found = (*found, *told_of_places)
    show(found, least)
    if as_csv and len(reports) > 1:
        msg = f"A CSV table holds one sounding, found {len(reports)}; use --json."
        raise click.UsageError(msg)
    if as_json:
        emit_json(reports_as_json(reports, found, located), output)
    elif reports:
        text = "\n".join(
            levels_as_csv(report.levels) if as_csv else _as_text(report, place)
            for report, place in zip(reports, located, strict=True)
        )
        emit(text, output)
    context.exit(exit_code(found))


def hints_of(when: str | None, option: str = "--date") -> tuple[tuple[DateHint, ...], date | None]:
    """Return what ``--date`` says of the date, and the day that picks the edition of the forms.

    Raises
    ------
    UsageError
        If it is neither a month nor a day.
    """
    from datetime import date

    from encoder.bulletin.dates import DateHint, DateSource

    if when is None:
        return (), None
    try:
        day = date.fromisoformat(when if len(when) > 7 else f"{when}-01")
    except ValueError as fault:
        msg = f"{option} expects YYYY-MM or YYYY-MM-DD, got {when!r}."
        raise click.UsageError(msg) from fault
    known = day.day if len(when) > 7 else None
    return (DateHint(DateSource.GIVEN, day.year, day.month, known),), day


def _decode_bufr(inputs: BufrInputs, asked: tuple[bool, bool, str | None, str]) -> int:
    """Show BUFR message by message; return the exit code."""
    from encoder.cli.bufr_stream import content_text, show_bufr
    from encoder.formats.bufr.document import FORMAT, content_as_json

    return show_bufr(inputs, asked, content_text, (FORMAT, content_as_json))


def _as_text(report: Report, place: Located) -> str:
    from encoder.codes.editions import edition
    from encoder.formats.level_table import levels_as_text, marks_legend
    from encoder.located import heading_of

    said = report.parts[0].content.identification
    form = edition(report.form, report.on)
    day, hour = said.get("day"), said.get("hour")
    above, by = heading_of(report), ""
    if above is not None and "day" in said and (day is None or hour is None):
        day, hour, by = above.day, above.hour, " (of the heading)"
    parts = " ".join(part.letters for part in report.parts)
    unit = "kt" if said.get("wind_unit") == "kt" else "m/s"
    coded = {"mph": "mph", "None": "unknown units"}.get(str(said.get("wind_unit")), unit)
    station = said.get("station") or said.get("call_sign") or "unknown"
    who = f"station {station}  day {day or '?'}, {_hour(hour)} UTC{by}"
    words = [str(one.get("word")) for one in report.parts[0].content.records("2", "word")]
    if words:
        who = f"words {' '.join(words)}"
    head = f"{form.number} {form.name}  {who}  winds in {coded}  {parts}"
    head += "".join(f"\n{line}" for line in headings_of(report))
    where = place.as_text()
    head += f"\n{where}" if where else ""
    table = levels_as_text(report.levels, knots=unit == "kt")
    return f"{head}\n\n{table}{marks_legend(report.levels)}"


def headings_of(report: Report) -> list[str]:
    """Return a line for every heading the parts were received under, with its BBB in words."""
    from encoder.bulletin.heading import parse_heading
    from encoder.bulletin.indicator import explain_indicator

    lines = []
    for text in dict.fromkeys(part.heading for part in report.parts if part.heading is not None):
        letters = " ".join(part.letters for part in report.parts if part.heading == text)
        heading = parse_heading(text).value
        indicator = "" if heading is None else heading.indicator
        words = f" ({explain_indicator(indicator)})" if indicator else ""
        lines.append(f"{letters} under {text}{words}")
    return lines


def _hour(hour: object) -> str:
    return f"{hour:02d}" if isinstance(hour, int) else "??"
