"""``aerogram explain``: a report group by group in plain language."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from encoder.cli.options import json_option, output_option, repair_option, show_option

if TYPE_CHECKING:
    from encoder.diagnostics import Diagnostic
    from encoder.formats.bufr.sounding import BufrSounding
    from encoder.repair import RepairMode
    from encoder.report import Report


@click.command()
@click.argument("files", metavar="FILE...", nargs=-1)
@click.option("--form", metavar="FORM", help="Print the declaration of a code form instead.")
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
    repair: RepairMode,
    as_json: bool,
    output: str | None,
    least: str,
) -> None:
    """Explain a report figure by figure.

    FILE is a report as text or BUFR ("-" for standard input), or a flight, whose report is
    made first and explained together with the rows and rules behind each level.

    \b
    Example:
      aerogram encode samples/flights/harrow-tarn | aerogram explain -
      aerogram explain --form "FM 35"
    """
    from encoder.cli.explain_terminal import is_terminal, show_explanation
    from encoder.cli.output import emit, emit_json, exit_code, show
    from encoder.report.explain import explain as explain_report
    from encoder.report.explain import explanation_text

    if form is not None:
        emit(_declaration(form), output)
        context.exit(0)
    if not files:
        msg = "Name a report, a flight, or a code form (--form)."
        raise click.UsageError(msg)
    from encoder.cli.bufr import split_inputs

    soundings, told, others, given = split_inputs(files)
    if soundings or (told and not others and given is None):
        if others or given is not None:
            msg = "Explain text and BUFR one after the other, not together."
            raise click.UsageError(msg)
        context.exit(_explain_bufr(soundings, told, (as_json, output, least)))
    reports, found = _load(others, given, least, repair)
    show(found, least)
    if as_json:
        emit_json(
            {
                "format": "aerogram-explanation-1",
                "reports": [
                    {"form": report.form, "groups": [g.as_json() for g in explain_report(report)]}
                    for report in reports
                ],
                "diagnostics": [item.as_json() for item in found],
            },
            output,
        )
    elif reports and output is None and is_terminal(sys.stdout):
        for report in reports:
            show_explanation(explain_report(report), _titles(report))
    elif reports:
        text = "\n".join(
            explanation_text(explain_report(report), _titles(report)) for report in reports
        )
        emit(text, output)
    context.exit(exit_code(found))


def _titles(report: Report) -> dict[str, str]:
    from encoder.codes import FORMS

    return {part.letters: part.title for part in FORMS[report.form].parts}


def _explain_bufr(
    soundings: list[BufrSounding],
    found: list[Diagnostic],
    asked: tuple[bool, str | None, str],
) -> int:
    """Explain BUFR soundings element by element; return the exit code."""
    from encoder.cli.output import emit, emit_json, exit_code, show
    from encoder.formats.bufr.document import explanations_as_json
    from encoder.formats.bufr.explain import explanation_of

    as_json, output, least = asked
    show(found, least)
    if as_json:
        emit_json(explanations_as_json(soundings, found), output)
    elif soundings:
        emit("\n".join(explanation_of(sounding) for sounding in soundings), output)
    return exit_code(found)


def _load(
    files: tuple[str, ...], text: bytes | None, least: str, repair: RepairMode
) -> tuple[tuple[Report, ...], tuple[Diagnostic, ...]]:
    from encoder.cli.load import form_wanted, load_flight, looks_like_flight, reports_in, select
    from encoder.report import encode_report

    if len(files) == 1 and looks_like_flight(files[0]):
        flight = load_flight(files[0], least=least)
        table, chosen = select(flight, "largest-deviation")
        report = encode_report(flight, table, form=form_wanted(flight))
        return (report.value,), (*chosen, *report.diagnostics)
    return reports_in(files, text, repair=repair)


def _declaration(form: str) -> str:
    from encoder.codes import FORMS
    from encoder.reference import form_as_markdown

    by_name = {name.replace(" ", "").upper(): declared for name, declared in FORMS.items()}
    wanted = form.replace(" ", "").upper()
    if wanted not in by_name:
        msg = f"There is no code form {form!r}; known: {', '.join(FORMS)}."
        raise click.UsageError(msg)
    return form_as_markdown(by_name[wanted])
