"""``aerogram plot``: the views of a sounding as a picture file."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from encoder.cli.options import METHODS, show_option

VIEWS = ("profile", "thermodynamic", "hodograph")
SUFFIXES = ("png", "svg", "pdf")


@click.command()
@click.argument("files", metavar="FLIGHT|REPORT...", nargs=-1, required=True)
@click.option(
    "-o",
    "--output",
    metavar="PICTURE",
    required=True,
    help='File ending in .png, .svg or .pdf; "-" is standard output (with --kind).',
)
@click.option(
    "--kind", type=click.Choice(SUFFIXES), help="Kind of file; by default as PICTURE ends."
)
@click.option(
    "--view",
    type=click.Choice(VIEWS),
    default=VIEWS[0],
    show_default=True,
    help="What to draw.",
)
@click.option(
    "--ground",
    type=click.Choice(("light", "dark")),
    default="light",
    show_default=True,
    help="Light or dark ground.",
)
@click.option(
    "--heights",
    type=click.Choice(("m", "ft")),
    default="m",
    show_default=True,
    help="Unit of the heights beside the profile.",
)
@click.option(
    "--dpi",
    type=click.FloatRange(20.0, 600.0),
    default=130.0,
    show_default=True,
    help="Resolution of a PNG.",
)
@click.option(
    "--number",
    type=click.IntRange(min=1),
    help="Which sounding, counted from 1, where the reports hold several.",
)
@click.option(
    "--method",
    type=click.Choice(METHODS),
    default=METHODS[0],
    show_default=True,
    help="How significant levels are chosen where the report is made from the flight.",
)
@show_option
@click.pass_context
def plot(
    context: click.Context,
    /,
    files: tuple[str, ...],
    output: str,
    kind: str | None,
    view: str,
    ground: str,
    heights: str,
    dpi: float,
    number: int | None,
    method: str,
    least: str,
) -> None:
    """Draw a sounding into a picture file.

    A profile, a thermodynamic view or a hodograph.

    FLIGHT and REPORT as for the report page. Needs the extra "plot" (matplotlib).

    \b
    Example:
      aerogram plot samples/flights/harrow-tarn -o profile.png
      aerogram plot samples/flights/harrow-tarn --view hodograph -o winds.svg
    """
    from encoder.cli.output import EXIT_DONE, NotUsable
    from encoder.cli.review import load_review
    from encoder.errors import MissingDependencyError
    from encoder.plot.figure import plot_sounding

    suffix = kind or Path(output).suffix.lower().lstrip(".")
    if suffix not in SUFFIXES:
        msg = f"The picture ends in .png, .svg or .pdf (or give --kind), got {output}."
        raise click.UsageError(msg)
    review = load_review(files, number=number, method=method, least=least)
    try:
        content = plot_sounding(
            review,
            view=view,
            suffix=suffix,
            ground="dark" if ground == "dark" else "light",
            height_unit=heights,
            dpi=dpi,
        )
    except MissingDependencyError as fault:
        raise NotUsable(str(fault)) from fault
    _write(content, output)
    context.exit(EXIT_DONE)


def _write(content: bytes, output: str) -> None:
    """Write a picture, moved into place when complete, or to standard output."""
    from encoder.cli.output import Unreadable

    if output == "-":
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
        return
    target = Path(output)
    temporary = target.with_name(f".{target.name}.part")
    try:
        if target.exists() and not target.is_file():
            target.write_bytes(content)
            return
        temporary.write_bytes(content)
        temporary.replace(target)
    except OSError as fault:
        temporary.unlink(missing_ok=True)
        msg = f"Cannot write {output}: {fault.strerror or fault}. Nothing was left behind."
        raise Unreadable(msg) from fault
