"""``aerogram show``: what is in a netCDF file."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from encoder.cli.options import output_option, show_option
from encoder.cli.output import Unreadable

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator


@click.command(name="show")
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
@click.option(
    "--digest", is_flag=True, help="Show a digest of the content of each file, and its name."
)
@output_option
@show_option
@click.pass_context
def show_file(
    context: click.Context,
    /,
    files: tuple[str, ...],
    *,
    digest: bool,
    output: str | None,
    least: str,
) -> None:
    """Show what is in a netCDF file.

    A file of the archive, or a CF file of others.

    FILE is a flight file, a level file, a station history (HISTORY#2 is its second sounding), or
    any netCDF file: then what was recognised as a sounding is shown, and what was not.

    With --digest, files of equal content have equal digests, whichever libraries wrote and
    compressed them: results of two machines can be compared by it.

    \b
    Example:
      aerogram show archive/90417_history.nc
      aerogram show --digest station-files/*.nc
    """
    from encoder.cli.archived import file_and_number, load_product, product_of
    from encoder.cli.output import EXIT_UNREADABLE, emit, emit_pieces
    from encoder.formats.netcdf import PRODUCTS
    from encoder.formats.netcdf.container import opened
    from encoder.formats.summary import foreign_summary, summary

    if digest:
        faults: list[Unreadable] = []
        emit_pieces(_digests(files, faults), output)
        context.exit(EXIT_UNREADABLE if faults else 0)
    if len(files) > 1:
        msg = "One file is shown at a time; --digest takes several."
        raise click.UsageError(msg)
    (file,) = files
    if product_of(file) in PRODUCTS:
        emit(summary(load_product(file, least)), output)
    else:
        with opened(file_and_number(file)[0]).raise_for_errors() as dataset:
            emit(foreign_summary(dataset), output)
    context.exit(0)


def _digests(files: Iterable[str], faults: list[Unreadable]) -> Iterator[str]:
    """Return a line for each file: the digest of its content and its name.

    Files that cannot be read are told, and put into ``faults``.
    """
    from encoder.cli.archived import product_of
    from encoder.formats.netcdf.container import FAULTS, opened
    from encoder.formats.netcdf.content_digest import content_digest

    for name in files:
        try:
            product_of(name)
            with opened(name).raise_for_errors() as dataset:
                yield f"{content_digest(dataset)}  {name}\n"
        except Unreadable as fault:
            faults.append(fault)
            fault.show()
        except FAULTS as fault:
            faults.append(Unreadable(f"{name}: the file is damaged: {fault}."))
            faults[-1].show()
