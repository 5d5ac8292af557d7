"""``aerogram levels``: the level tables of a flight."""

from __future__ import annotations

import click

from encoder.cli.options import (
    csv_option,
    json_option,
    output_option,
    selection_options,
    show_option,
)


@click.command()
@click.argument("flight", metavar="FLIGHT")
@selection_options
@click.option("--reasons", is_flag=True, help="Under each level, say why it was chosen.")
@json_option
@csv_option
@output_option
@show_option
@click.pass_context
def levels(
    context: click.Context,
    /,
    flight: str,
    method: str,
    criteria: str | None,
    wind_unit: str | None,
    reasons: bool,
    as_json: bool,
    as_csv: bool,
    output: str | None,
    least: str,
) -> None:
    """Show the levels of a flight.

    Standard and significant levels, tropopauses and maximum winds.

    FLIGHT is a folder with flight.json and profile.csv.

    \b
    Example:
      aerogram levels samples/flights/harrow-tarn --reasons
    """
    from encoder.cli.load import load_flight, select
    from encoder.cli.output import emit, emit_json, exit_code, show
    from encoder.formats.level_table import (
        levels_as_csv,
        levels_as_json,
        levels_as_text,
        marks_legend,
    )

    if as_json and as_csv:
        msg = "--json and --csv exclude each other."
        raise click.UsageError(msg)
    loaded = load_flight(flight, least=least, wind_unit=wind_unit, criteria=criteria)
    table, found = select(loaded, method)
    show(found, least)
    if as_json:
        emit_json(levels_as_json(table), output)
    elif as_csv:
        emit(levels_as_csv(table), output)
    else:
        knots = loaded.reporting.wind_unit == "kt"
        text = levels_as_text(table, knots=knots, reasons=reasons)
        emit(text + marks_legend(table), output)
    context.exit(exit_code((*loaded.diagnostics, *found)))
