"""``aerogram decode``: what a coded report says."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from encoder.cli.options import csv_option, json_option, output_option, show_option

if TYPE_CHECKING:
    from encoder.diagnostics import Diagnostic
    from encoder.formats.bufr.sounding import BufrSounding
    from encoder.report import Report


@click.command()
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
@json_option
@csv_option
@output_option
@show_option
@click.pass_context
def decode(
    context: click.Context,
    /,
    files: tuple[str, ...],
    as_json: bool,
    as_csv: bool,
    output: str | None,
    least: str,
) -> None:
    """Show what a coded report says.

    FILE holds one or more parts as text, or BUFR messages; "-" reads standard input. Parts of
    one sounding in several files are put together.

    \b
    Example:
      aerogram encode samples/flights/harrow-tarn | aerogram decode -
      aerogram decode harrow-tarn.bufr --csv
    """
    from encoder.cli.bufr import split_inputs
    from encoder.cli.output import emit, emit_json, exit_code, show
    from encoder.formats.level_table import levels_as_csv
    from encoder.formats.report_json import reports_as_json

    if as_json and as_csv:
        msg = "--json and --csv exclude each other."
        raise click.UsageError(msg)
    soundings, told, others, given = split_inputs(files)
    if soundings or (told and not others and given is None):
        if others or given is not None:
            msg = "Decode text and BUFR one after the other, not together."
            raise click.UsageError(msg)
        context.exit(_decode_bufr(soundings, told, (as_json, as_csv, output, least)))
    reports, found = _load(others, given)
    show(found, least)
    if as_csv and len(reports) > 1:
        msg = f"A CSV table holds one sounding, found {len(reports)}; use --json."
        raise click.UsageError(msg)
    if as_json:
        emit_json(reports_as_json(reports, found), output)
    elif reports:
        text = "\n".join(
            levels_as_csv(report.levels) if as_csv else _as_text(report) for report in reports
        )
        emit(text, output)
    context.exit(exit_code(found))


def _load(
    names: tuple[str, ...], text: bytes | None
) -> tuple[tuple[Report, ...], tuple[Diagnostic, ...]]:
    """Read the reports of files, and of standard input where it was read already."""
    from encoder.cli.load import load_reports, reports_in

    if text is None:
        return load_reports(names)
    return reports_in(names, text)


def _decode_bufr(
    soundings: list[BufrSounding],
    found: list[Diagnostic],
    asked: tuple[bool, bool, str | None, str],
) -> int:
    """Show BUFR soundings; return the exit code."""
    from encoder.cli.bufr import sounding_text
    from encoder.cli.output import emit, emit_json, exit_code, show
    from encoder.formats.bufr.document import soundings_as_json
    from encoder.formats.level_table import levels_as_csv

    as_json, as_csv, output, least = asked
    show(found, least)
    if as_csv and len(soundings) > 1:
        msg = f"A CSV table holds one sounding, found {len(soundings)}; use --json."
        raise click.UsageError(msg)
    if as_json:
        emit_json(soundings_as_json(soundings, found), output)
    elif soundings:
        parts = [
            levels_as_csv(sounding.levels) if as_csv else sounding_text(sounding)
            for sounding in soundings
        ]
        emit("\n".join(parts), output)
    return exit_code(found)


def _as_text(report: Report) -> str:
    from encoder.codes import FORMS
    from encoder.formats.level_table import levels_as_text, marks_legend

    said = report.parts[0].content.identification
    form = FORMS[report.form]
    parts = " ".join(part.letters for part in report.parts)
    unit = "kt" if said.get("wind_unit") == "kt" else "m/s"
    head = (
        f"{form.number} {form.name}  station {said.get('station') or 'unknown'}  "
        f"day {said.get('day') or '?'}, {_hour(said.get('hour'))} UTC  winds in {unit}  {parts}"
    )
    table = levels_as_text(report.levels, knots=unit == "kt")
    return f"{head}\n\n{table}{marks_legend(report.levels)}"


def _hour(hour: object) -> str:
    return f"{hour:02d}" if isinstance(hour, int) else "??"
