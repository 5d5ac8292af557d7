"""``aerogram encode``: the coded report of a flight, or of a decoded report."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from encoder.cli.bufr_options import bufr_options
from encoder.cli.options import json_option, output_option, selection_options, show_option

if TYPE_CHECKING:
    from collections.abc import Iterator

    from encoder.cli.bufr_options import BufrOptions
    from encoder.cli.bufr_stream import BufrInputs
    from encoder.diagnostics import Result
    from encoder.report import Report


@click.command()
@click.argument("source", metavar="FLIGHT|REPORT")
@selection_options
@bufr_options
@click.option("--parts", metavar="LETTERS", help="Parts wanted, for example AB; all by default.")
@click.option(
    "--form",
    metavar="FORM",
    help='Code form, "FM 32" or PILOT; by default as the platform of the flight asks.',
)
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
    form: str | None,
    bufr: BufrOptions,
    as_json: bool,
    output: str | None,
    least: str,
) -> None:
    """Write the coded report of a flight.

    As text or as BUFR.

    FLIGHT is a folder with flight.json and profile.csv, or a report in the JSON form that
    decode --json writes ("-" reads it from standard input); such a report is printed again,
    group for group. A text report becomes BUFR with --to bufr --date, a BUFR message becomes
    text. A ship, a mobile station or a drop is reported in its own form (FM 36, 38, 37), a
    flight with winds alone as PILOT.

    \b
    Example:
      aerogram encode samples/flights/harrow-tarn
      aerogram encode samples/flights/harrow-tarn --form PILOT
      aerogram encode samples/flights/harrow-tarn --to bufr -o harrow-tarn.bufr
      aerogram encode harrow-tarn.bufr
      aerogram decode report.txt --json | aerogram encode -
    """
    from encoder.cli.load import form_wanted, load_flight, select
    from encoder.cli.output import emit, emit_json, exit_code, show
    from encoder.formats.report_json import reports_as_json
    from encoder.report import encode_report

    letters = _letters(parts)
    if bufr.to == "bufr":
        if parts is not None or as_json or form is not None:
            msg = "--parts, --form and --json go with text reports, not with --to bufr."
            raise click.UsageError(msg)
        context.exit(_encode_bufr(source, (method, criteria, wind_unit), bufr, output, least))
    if not _is_flight(source):
        if as_json or form is not None:
            msg = "--json and --form go with a flight; a report in JSON is printed as text."
            raise click.UsageError(msg)
        context.exit(_encode_again(source, letters, (bufr.selection, wind_unit, output, least)))
    flight = load_flight(source, least=least, wind_unit=wind_unit, criteria=criteria)
    table, chosen = select(flight, method)
    report = encode_report(flight, table, form=form_wanted(flight, form), letters=letters)
    show((*chosen, *report.diagnostics), least)
    found = (*flight.diagnostics, *chosen, *report.diagnostics)
    if as_json:
        emit_json(reports_as_json([report.value], found), output)
    else:
        emit(report.value.text, output)
    context.exit(exit_code(found))


def _encode_bufr(
    source: str,
    choice: tuple[str, str | None, str | None],
    options: BufrOptions,
    output: str | None,
    least: str,
) -> int:
    """Write BUFR of a flight or of text reports; return the exit code."""
    from encoder.cli.encode_bufr import encode_flight_as_bufr, encode_text_as_bufr
    from encoder.cli.load import load_flight

    if not _is_flight(source):
        return encode_text_as_bufr(source, options=options, output=output, least=least)
    method, criteria, wind_unit = choice
    flight = load_flight(source, least=least, wind_unit=wind_unit, criteria=criteria)
    return encode_flight_as_bufr(flight, method=method, options=options, output=output, least=least)


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
    source: str, letters: tuple[str, ...] | None, asked: tuple[str, str | None, str | None, str]
) -> int:
    """Print a decoded report again, or BUFR as text; return the exit code."""
    from encoder.cli.bufr_stream import BufrInputs
    from encoder.cli.load import reports_in
    from encoder.cli.output import emit, exit_code, show

    selection, wind_unit, output, least = asked
    inputs = BufrInputs((source,))
    if inputs.bufr:
        return _encode_bufr_again(inputs, letters, asked)
    reports, found = reports_in(
        inputs.others, inputs.text, selection=selection, wind_unit=wind_unit
    )
    text = ""
    for report in reports:
        again = _parts_again(report, letters)
        text += again.value
        found = (*found, *again.diagnostics)
    show(found, least)
    emit(text, output)
    return exit_code(found)


def _parts_again(report: Report, letters: tuple[str, ...] | None) -> Result[str]:
    """Return the text of the parts wanted."""
    from dataclasses import replace

    from encoder.report import report_text

    wanted = [part for part in report.parts if letters is None or part.content.letter in letters]
    return report_text(replace(report, parts=tuple(wanted)))


def _encode_bufr_again(
    inputs: BufrInputs,
    letters: tuple[str, ...] | None,
    asked: tuple[str, str | None, str | None, str],
) -> int:
    """Print BUFR as text, message by message; return the exit code."""
    from encoder.cli.bufr import reports_of_content
    from encoder.cli.bufr_stream import Findings
    from encoder.cli.output import emit_pieces

    selection, wind_unit, output, least = asked
    findings = Findings(least)

    def pieces() -> Iterator[str]:
        for content in inputs.contents(findings.take):
            reports, told = reports_of_content(content, selection=selection, wind_unit=wind_unit)
            findings.take(told)
            for report in reports:
                again = _parts_again(report, letters)
                findings.take(again.diagnostics)
                yield again.value

    emit_pieces(pieces(), output)
    return findings.finish()
