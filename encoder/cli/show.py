"""``aerogram show``: what is in a netCDF file."""

from __future__ import annotations

import click

from encoder.cli.options import output_option, show_option


@click.command(name="show")
@click.argument("file", metavar="FILE")
@output_option
@show_option
@click.pass_context
def show_file(context: click.Context, /, file: str, output: str | None, least: str) -> None:
    """Show what is in a netCDF file.

    A file of the archive, or a CF file of others.

    FILE is a flight file, a level file, a station history (HISTORY#2 is its second sounding), or
    any netCDF file: then what was recognised as a sounding is shown, and what was not.

    \b
    Example:
      aerogram show archive/90417_history.nc
    """
    from encoder.cli.archived import file_and_number, load_product, product_of
    from encoder.cli.output import emit
    from encoder.formats.netcdf import PRODUCTS
    from encoder.formats.netcdf.container import opened
    from encoder.formats.summary import foreign_summary, summary

    if product_of(file) in PRODUCTS:
        emit(summary(load_product(file, least)), output)
    else:
        with opened(file_and_number(file)[0]).raise_for_errors() as dataset:
            emit(foreign_summary(dataset), output)
    context.exit(0)
