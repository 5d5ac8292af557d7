"""``aerogram verify``: does the report say what the balloon measured."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from encoder.cli.options import json_option, output_option, repair_option, show_option

if TYPE_CHECKING:
    from encoder.diagnostics import Diagnostic
    from encoder.formats.bufr.sounding import BufrSounding
    from encoder.profile import Flight
    from encoder.repair import RepairMode
    from encoder.report import Report


@click.command()
@click.argument("flight", metavar="FLIGHT")
@click.argument("reports", metavar="REPORT...", nargs=-1, required=True)
@click.option(
    "--criteria",
    type=click.Choice(("wmo", "fmh-3")),
    help="Criteria to judge by; by default as flight.json says.",
)
@repair_option
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
    repair: RepairMode,
    as_json: bool,
    output: str | None,
    least: str,
) -> None:
    """Tell whether a report may be sent.

    Does it say what the balloon measured?

    Compares REPORT (text, JSON or BUFR, "-" for standard input) with FLIGHT: the curves a
    reader rebuilds against every row, every level, every field. BUFR is compared with the
    flight, and with the text where both are given, element by element within their steps.
    Leaves with 1 when the report must not be sent.

    \b
    Example:
      aerogram encode samples/flights/harrow-tarn -o report.txt
      aerogram verify samples/flights/harrow-tarn report.txt
      aerogram verify samples/flights/harrow-tarn report.txt harrow-tarn.bufr
    """
    from encoder.cli.bufr import split_inputs
    from encoder.cli.load import load_flight, reports_in
    from encoder.cli.output import EXIT_FAULTS, NotUsable, emit, emit_json, show
    from encoder.verify import verdict_text
    from encoder.verify import verify as verify_report

    _in_order(flight, reports)
    loaded = load_flight(flight, least=least, criteria=criteria)
    soundings, told, others, text = split_inputs(reports)
    decoded, found = (
        reports_in(others, text, on=loaded.nominal_time.date(), repair=repair, with_messages=False)
        if others or text is not None
        else ((), ())
    )
    if soundings or told:
        context.exit(
            _verify_bufr(loaded, soundings, told, (decoded, found), (as_json, output, least))
        )
    if not decoded:
        show(found, least)
        msg = "There is no report to verify."
        raise NotUsable(msg)
    best = _of_station(decoded, loaded)
    found = (*found, *_of_others(decoded, best))
    verdict = verify_report(loaded, best, report_diagnostics=found)
    if as_json:
        emit_json(verdict.as_json(), output)
    else:
        emit(verdict_text(verdict), output)
    context.exit(0 if verdict.may_be_sent else EXIT_FAULTS)


def _in_order(flight: str, reports: tuple[str, ...]) -> None:
    """Leave where the flight is not given first.

    Raises
    ------
    UsageError
        If a flight folder or flight.json is given as report.
    """
    from pathlib import Path

    for name in reports:
        path = Path(name)
        if name != "-" and (path.is_dir() or path.name == "flight.json"):
            msg = (
                f"The flight comes first, then the reports: {name} is a flight, given as report "
                f"after {flight}. Write: aerogram verify FLIGHT REPORT..."
            )
            raise click.UsageError(msg)


def _of_station(decoded: tuple[Report, ...], flight: Flight) -> Report:
    """Return the report of the flight's station, else the first."""
    return next(
        (
            item
            for item in decoded
            if item.parts[0].content.identification.get("station") == flight.station.wmo_index
        ),
        decoded[0],
    )


def _of_others(decoded: tuple[Report, ...], best: Report) -> tuple[Diagnostic, ...]:
    """Tell which parts of the text belong to another sounding than the one verified."""
    from encoder.diagnostics import diagnostic

    return tuple(
        diagnostic(
            "report-of-other-flight",
            f"{', '.join(part.letters for part in item.parts)} in the same text is of station "
            f"{item.parts[0].content.identification.get('station')}, day "
            f"{item.parts[0].content.identification.get('day')}, hour "
            f"{item.parts[0].content.identification.get('hour')}.",
            path=tuple(part.letters for part in item.parts),
        )
        for item in decoded
        if item is not best
    )


def _verify_bufr(
    flight: Flight,
    soundings: list[BufrSounding],
    told: list[Diagnostic],
    texts: tuple[tuple[Report, ...], tuple[Diagnostic, ...]],
    asked: tuple[bool, str | None, str],
) -> int:
    """Compare BUFR with the flight, and with a text given beside it; return the exit code."""
    from encoder.cli.output import EXIT_FAULTS, NotUsable, emit, emit_json, show
    from encoder.verify import verdict_text
    from encoder.verify import verify as verify_report
    from encoder.verify.bufr import agree, agreement_text

    as_json, output, least = asked
    decoded, found = texts
    if not soundings:
        show(told, least)
        msg = "There is no sounding in the BUFR to verify."
        raise NotUsable(msg)
    report = _of_station(decoded, flight) if decoded else None
    verdict = None
    if report is not None:
        verdict = verify_report(flight, report, report_diagnostics=found)
    agreements = [
        agree(sounding, flight=flight, report=report, diagnostics=tuple(told))
        for sounding in soundings
    ]
    if as_json:
        document = {
            "format": "aerogram-verification-1",
            "verdict": None if verdict is None else verdict.as_json(),
            "agreements": [agreement.as_json() for agreement in agreements],
        }
        emit_json(document, output)
    else:
        parts = [] if verdict is None else [verdict_text(verdict)]
        parts += [agreement_text(agreement) for agreement in agreements]
        emit("\n".join(parts), output)
    good = all(agreement.agree for agreement in agreements)
    good = good and (verdict is None or verdict.may_be_sent)
    return 0 if good else EXIT_FAULTS
