"""``aerogram verify``: does the report say what the balloon measured."""

from __future__ import annotations

import click

from encoder.cli.options import json_option, output_option, show_option


@click.command()
@click.argument("flight", metavar="FLIGHT")
@click.argument("reports", metavar="REPORT...", nargs=-1, required=True)
@click.option(
    "--criteria",
    type=click.Choice(("wmo", "fmh-3")),
    help="Criteria to judge by; by default as flight.json says.",
)
@json_option
@output_option
@show_option
@click.pass_context
def verify(
    context: click.Context,
    /,
    flight: str,
    reports: tuple[str, ...],
    criteria: str | None,
    as_json: bool,
    output: str | None,
    least: str,
) -> None:
    """Tell whether a report may be sent: does it say what the balloon measured.

    Compares REPORT (text or JSON, "-" for standard input) with FLIGHT: the curves a reader
    rebuilds against every row, every level, every field. Leaves with 1 when the report must
    not be sent.

    \b
    Example:
      aerogram encode samples/flights/harrow-tarn -o report.txt
      aerogram verify samples/flights/harrow-tarn report.txt
    """
    from encoder.cli.load import load_flight, load_reports
    from encoder.cli.output import EXIT_FAULTS, NotUsable, emit, emit_json, show
    from encoder.verify import verdict_text
    from encoder.verify import verify as verify_report

    loaded = load_flight(flight, least=least, criteria=criteria)
    decoded, found = load_reports(reports)
    if not decoded:
        show(found, least)
        msg = "There is no report to verify."
        raise NotUsable(msg)
    best = next(
        (
            item
            for item in decoded
            if item.parts[0].content.identification.get("station") == loaded.station.wmo_index
        ),
        decoded[0],
    )
    verdict = verify_report(loaded, best, report_diagnostics=found)
    if as_json:
        emit_json(verdict.as_json(), output)
    else:
        emit(verdict_text(verdict), output)
    context.exit(0 if verdict.may_be_sent else EXIT_FAULTS)
