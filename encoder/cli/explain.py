"""``aerogram explain``: a report group by group in plain language."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from encoder.cli.options import json_option, output_option, repair_option, show_option
from encoder.cli.stations import stations_option

if TYPE_CHECKING:
    from datetime import date

    from encoder.cli.bufr_stream import BufrInputs
    from encoder.diagnostics import Diagnostic
    from encoder.located import Located
    from encoder.repair import RepairMode
    from encoder.report import Report


@click.command()
@click.argument("files", metavar="FILE...", nargs=-1)
@click.option("--form", metavar="FORM", help="Print the declaration of a code form instead.")
@click.option(
    "--date",
    "when",
    metavar="YYYY-MM[-DD]",
    help="Month or day near the reports; by default as file names say.",
)
@stations_option
@repair_option
@json_option
@output_option
@show_option
@click.pass_context
def explain(
    context: click.Context,
    /,
    files: tuple[str, ...],
    form: str | None,
    when: str | None,
    station_list: str | None,
    repair: RepairMode,
    as_json: bool,
    output: str | None,
    least: str,
) -> None:
    """Explain a report figure by figure.

    FILE is a report as text or BUFR ("-" for standard input), or a flight, whose report is
    made first and explained together with the rows and rules behind each level. The position of
    a land station comes from the catalogue (aerogram stations). An old report is explained in the
    edition of its day, from --date or the file name.

    \b
    Example:
      aerogram encode samples/flights/harrow-tarn | aerogram explain -
      aerogram explain --form "FM 35"
      aerogram explain --form PIBAL --date 1944-06
    """
    from encoder.cli.decode import hints_of
    from encoder.cli.explain_terminal import is_terminal, show_explanation
    from encoder.cli.output import emit, emit_json, exit_code, show
    from encoder.report.explain import explain as explain_report
    from encoder.report.explain import explanation_text

    if form is not None:
        emit(_declaration(form, hints_of(when)[1]), output)
        context.exit(0)
    if not files:
        msg = "Name a report, a flight, or a code form (--form)."
        raise click.UsageError(msg)
    from encoder.cli.bufr_stream import BufrInputs

    inputs = BufrInputs(files)
    others, given = inputs.others, inputs.text
    if inputs.bufr:
        if others or given is not None:
            msg = "Explain text and BUFR one after the other, not together."
            raise click.UsageError(msg)
        context.exit(_explain_bufr(inputs, (as_json, output, least)))
    asked = (when, station_list, least, repair)
    reports, located, found = _load(others, given, asked)
    show(found, least)
    if as_json:
        emit_json(
            {
                "format": "aerogram-explanation-1",
                "reports": [
                    {
                        "form": report.form,
                        "groups": [g.as_json() for g in explain_report(report)],
                        **({} if place is None else {"located": place.as_json()}),
                    }
                    for report, place in zip(reports, located, strict=True)
                ],
                "diagnostics": [item.as_json() for item in found],
            },
            output,
        )
    elif reports and output is None and is_terminal(sys.stdout):
        for report, place in zip(reports, located, strict=True):
            click.echo(_head(report, place), nl=False)
            show_explanation(explain_report(report), _titles(report))
    elif reports:
        text = "\n".join(
            _head(report, place) + explanation_text(explain_report(report), _titles(report))
            for report, place in zip(reports, located, strict=True)
        )
        emit(text, output)
    context.exit(exit_code(found))


def _head(report: Report, place: Located | None) -> str:
    """Return the headings of a report and its place, in lines; "" where neither is known."""
    from encoder.cli.decode import headings_of

    lines = headings_of(report)
    where = "" if place is None else place.as_text()
    return "".join(f"{line}\n" for line in (*lines, *([where] if where else [])))


def _titles(report: Report) -> dict[str, str]:
    from encoder.codes.editions import edition

    return {part.letters: part.title for part in edition(report.form, report.on).parts}


def _explain_bufr(inputs: BufrInputs, asked: tuple[bool, str | None, str]) -> int:
    """Explain BUFR message by message, element by element; return the exit code."""
    from encoder.cli.bufr_stream import show_bufr
    from encoder.formats.bufr.document import EXPLANATION_FORMAT, explanation_as_json
    from encoder.formats.bufr.explain import explanation_of

    as_json, output, least = asked
    how = (as_json, False, output, least)
    return show_bufr(inputs, how, explanation_of, (EXPLANATION_FORMAT, explanation_as_json))


def _load(
    files: tuple[str, ...],
    text: bytes | None,
    asked: tuple[str | None, str | None, str, RepairMode],
) -> tuple[tuple[Report, ...], tuple[Located | None, ...], tuple[Diagnostic, ...]]:
    from encoder.cli.decode import hints_of
    from encoder.cli.load import form_wanted, load_flight, looks_like_flight, reports_in, select
    from encoder.cli.stations import load_stations
    from encoder.located import locate
    from encoder.report import encode_report

    when, station_list, least, repair = asked
    hints, on = hints_of(when)
    if len(files) == 1 and looks_like_flight(files[0]):
        flight = load_flight(files[0], least=least)
        table, chosen = select(flight, "largest-deviation")
        report = encode_report(flight, table, form=form_wanted(flight))
        return (report.value,), (None,), (*chosen, *report.diagnostics)
    origins: dict[int, str | date] = {}
    reports, found = reports_in(files, text, on=on, repair=repair, origins=origins)
    located, told = locate(
        reports,
        catalogue=load_stations(station_list, least),
        hints=hints,
        names=[origins.get(id(report)) for report in reports],
    )
    return reports, located, (*found, *told)


def _declaration(form: str, on: date | None) -> str:
    """Return the page of a form, in the edition of a day where one is given."""
    from encoder.codes import FORMS
    from encoder.codes.editions import form as form_on
    from encoder.codes.pages import form_as_markdown
    from encoder.errors import InputError

    by_name = {name.replace(" ", "").upper(): declared for name, declared in FORMS.items()}
    wanted = form.replace(" ", "").upper()
    if wanted not in by_name:
        msg = f"There is no code form {form!r}; known: {', '.join(FORMS)}."
        raise click.UsageError(msg)
    try:
        return form_as_markdown(form_on(by_name[wanted].number, on))
    except InputError as fault:
        raise click.UsageError(fault.message) from fault
