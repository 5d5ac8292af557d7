"""``aerogram encode``: the coded report of a flight, or of a decoded report."""

from __future__ import annotations

import click

from encoder.cli.options import json_option, output_option, selection_options, show_option


@click.command()
@click.argument("source", metavar="FLIGHT")
@selection_options
@click.option("--parts", metavar="LETTERS", help="Parts wanted, for example AB; all by default.")
@json_option
@output_option
@show_option
@click.pass_context
def encode(
    context: click.Context,
    /,
    source: str,
    method: str,
    criteria: str | None,
    wind_unit: str | None,
    parts: str | None,
    as_json: bool,
    output: str | None,
    least: str,
) -> None:
    """Write the coded report of a flight.

    FLIGHT is a folder with flight.json and profile.csv, or a report in the JSON form that
    decode --json writes ("-" reads it from standard input); such a report is printed again,
    group for group.

    \b
    Example:
      aerogram encode samples/flights/harrow-tarn
      aerogram decode report.txt --json | aerogram encode -
    """
    from encoder.cli.load import load_flight, select
    from encoder.cli.output import emit, emit_json, exit_code, show
    from encoder.formats.report_json import reports_as_json
    from encoder.report import encode_report

    letters = _letters(parts)
    if not _is_flight(source):
        if as_json:
            msg = "--json goes with a flight; a report in JSON is printed as text."
            raise click.UsageError(msg)
        context.exit(_encode_again(source, letters, output, least))
    flight = load_flight(source, least=least, wind_unit=wind_unit, criteria=criteria)
    table, chosen = select(flight, method)
    report = encode_report(flight, table, letters=letters)
    show((*chosen, *report.diagnostics), least)
    found = (*flight.diagnostics, *chosen, *report.diagnostics)
    if as_json:
        emit_json(reports_as_json([report.value], found), output)
    else:
        emit(report.value.text, output)
    context.exit(exit_code(found))


def _letters(parts: str | None) -> tuple[str, ...] | None:
    if parts is None:
        return None
    letters = tuple(dict.fromkeys(parts.upper().replace(",", "")))
    if not letters or not set(letters) <= set("ABCD"):
        msg = f"--parts takes letters of A, B, C and D, got {parts!r}."
        raise click.UsageError(msg)
    return letters


def _is_flight(source: str) -> bool:
    from pathlib import Path

    from encoder.cli.load import looks_like_flight

    return looks_like_flight(source) or (source != "-" and not Path(source).exists())


def _encode_again(
    source: str, letters: tuple[str, ...] | None, output: str | None, least: str
) -> int:
    """Print a decoded report again; return the exit code."""
    from dataclasses import replace

    from encoder.cli.load import load_reports
    from encoder.cli.output import emit, exit_code, show
    from encoder.report import report_text

    reports, found = load_reports((source,))
    text = ""
    for report in reports:
        wanted = [
            part for part in report.parts if letters is None or part.content.letter in letters
        ]
        again = report_text(replace(report, parts=tuple(wanted)))
        text += again.value
        found = (*found, *again.diagnostics)
    show(found, least)
    emit(text, output)
    return exit_code(found)
