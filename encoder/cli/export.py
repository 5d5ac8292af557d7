"""``aerogram export``: a product of the archive as CSV, JSON or Parquet."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from encoder.cli.options import output_option, show_option

if TYPE_CHECKING:
    from encoder.formats.tables import Table


@click.command()
@click.argument("source", metavar="FILE")
@click.option(
    "--to",
    "form",
    type=click.Choice(("csv", "json", "parquet")),
    default="csv",
    show_default=True,
    help="Format of the table.",
)
@output_option
@show_option
@click.pass_context
def export(
    context: click.Context, /, source: str, form: str, output: str | None, least: str
) -> None:
    """Write a netCDF file as a plain table.

    Units stand in the header.

    FILE is a flight file, a level file or a station history (HISTORY#2 takes its second
    sounding), or a flight folder. Rows are the rows of the flight, or the levels.

    \b
    Example:
      aerogram export archive/90417_history.nc --to csv -o levels.csv
    """
    from encoder.cli.output import emit, emit_json
    from encoder.formats.table_forms import table_as_csv, table_as_json

    table = _table(source, least)
    if form == "csv":
        emit(table_as_csv(table), output)
    elif form == "json":
        emit_json(table_as_json(table), output)
    else:
        _parquet(table, output)
    context.exit(0)


def _table(source: str, least: str) -> Table:
    from encoder.archive import FlightArchive
    from encoder.cli.archived import is_netcdf_file, load_product, product_of
    from encoder.cli.load import load_flight
    from encoder.cli.output import NotUsable
    from encoder.errors import InputError
    from encoder.formats.netcdf import PRODUCTS
    from encoder.formats.tables import table_of

    try:
        if is_netcdf_file(source) and product_of(source) in PRODUCTS:
            return table_of(load_product(source, least))
        return table_of(FlightArchive(load_flight(source, least=least)))
    except InputError as fault:
        raise NotUsable(fault.message) from fault


def _parquet(table: Table, output: str | None) -> None:
    from encoder.cli.output import Unreadable
    from encoder.errors import MissingDependencyError
    from encoder.formats.netcdf.container import write_bytes
    from encoder.formats.table_forms import table_as_parquet

    try:
        data = table_as_parquet(table)
    except MissingDependencyError as fault:
        raise Unreadable(str(fault)) from fault
    if output in (None, "-"):
        if sys.stdout.isatty():
            msg = "Parquet is no text: name a file with -o."
            raise click.UsageError(msg)
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
        return
    try:
        write_bytes(str(output), data)
    except OSError as fault:
        msg = f"Cannot write {output}: {fault.strerror or fault}. Nothing was left behind."
        raise Unreadable(msg) from fault
