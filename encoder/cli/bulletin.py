"""``aerogram bulletin``: the bulletins of a flight, ready to be sent."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from encoder.cli.options import json_option, selection_options, show_option

if TYPE_CHECKING:
    from encoder.cli.bulletin_set import Asked


@click.command()
@click.argument("flight", metavar="FLIGHT")
@click.option("--centre", metavar="CCCC", required=True, help="Compiling centre, four letters.")
@click.option("--area", metavar="AA", help="A1A2 of the headings; of ships by their position.")
@click.option("--number", metavar="ii", default="01", show_default=True, help="ii of the headings.")
@click.option(
    "--heading",
    "headings",
    metavar="TTAAii",
    multiple=True,
    help="Heading of one kind of report where it differs, for example UKZZ02; repeatable.",
)
@click.option("--indicator", metavar="BBB", default="", help="RRx of late reports, AAx.")
@click.option("--early", is_flag=True, help="Parts A and B of a flight that still rises.")
@click.option("--nil", is_flag=True, help="NIL reports: there was no sounding.")
@click.option(
    "--correct",
    "earlier",
    metavar="REPORT",
    multiple=True,
    help="Correct the report sent earlier, as text or BUFR; both with the option twice.",
)
@click.option("--used", metavar="CCx", multiple=True, help="Indicators of corrections sent before.")
@click.option("--regional", is_flag=True, help="Mark corrected parts with 51515 1018x (Region IV).")
@click.option("--cor", "word", is_flag=True, help="Mark corrected parts with COR.")
@click.option("--form", metavar="FORM", help="Code form; by default as the platform asks.")
@click.option("--envelope", is_flag=True, help="Starting line, CR CR LF, end of message.")
@click.option(
    "--batch",
    type=click.Choice(("00", "01", "AN")),
    help="One after another, each behind its length: files (00, 01) or sockets (AN).",
)
@click.option("--channel", type=click.IntRange(0, 999), help="Number of the first message.")
@click.option("--out", "folder", metavar="FOLDER", help="One file a bulletin, under its own name.")
@click.option("--bufr", "with_bufr", is_flag=True, help="The BUFR bulletin as well.")
@click.option("--no-text", is_flag=True, help="The BUFR bulletin alone.")
@selection_options
@json_option
@click.option("-o", "--output", metavar="FILE", help="Write to FILE instead of standard output.")
@show_option
@click.pass_context
def bulletin(
    context: click.Context,
    /,
    flight: str,
    centre: str,
    area: str | None,
    number: str,
    headings: tuple[str, ...],
    indicator: str,
    early: bool,
    nil: bool,
    earlier: tuple[str, ...],
    used: tuple[str, ...],
    regional: bool,
    word: bool,
    form: str | None,
    envelope: bool,
    batch: str | None,
    channel: int | None,
    folder: str | None,
    with_bufr: bool,
    no_text: bool,
    method: str,
    criteria: str | None,
    wind_unit: str | None,
    as_json: bool,
    output: str | None,
    least: str,
) -> None:
    """Make the bulletins of a flight.

    In the order they are sent.

    The times they are due are shown on standard error against those of the flight, and so is
    what a correction changes, before anything is written.

    \b
    Example:
      aerogram bulletin samples/flights/harrow-tarn --centre XNOR --area ZZ
      aerogram bulletin my-flight --centre XNOR --area ZZ --out sent --bufr
    """
    from encoder.cli.bulletin_set import deliver, make_set

    if sum((early, nil, bool(earlier))) > 1:
        msg = "--early, --nil and --correct exclude each other."
        raise click.UsageError(msg)
    if sum((as_json, folder is not None, batch is not None)) > 1:
        msg = "--json, --batch and --out exclude each other."
        raise click.UsageError(msg)
    if not earlier and (used or regional or word):
        msg = "--used, --regional and --cor go with --correct REPORT."
        raise click.UsageError(msg)
    if earlier and indicator:
        msg = "--indicator does not go with --correct, which counts CCA, CCB itself (see --used)."
        raise click.UsageError(msg)
    if channel is not None and not envelope and batch is None:
        msg = "--channel is a number of the starting line: it goes with --envelope or --batch."
        raise click.UsageError(msg)
    if with_bufr and not (no_text or envelope) and folder is None and batch is None:
        msg = "--bufr goes with --out FOLDER, --batch or --envelope; or alone: --no-text."
        raise click.UsageError(msg)
    if (with_bufr or no_text) and as_json:
        msg = "--json shows the bulletins in text; leave out --bufr and --no-text."
        raise click.UsageError(msg)
    asked = _asked(
        (centre, area, number, headings, indicator),
        (early, nil, earlier, used, regional, word, no_text),
    )
    made = make_set(flight, asked, (form, method, criteria, wind_unit), least)
    how = (envelope, batch, channel, folder, with_bufr or no_text, as_json, output)
    context.exit(deliver(made, asked, how, least))


def _asked(
    heading: tuple[str, str | None, str, tuple[str, ...], str],
    what: tuple[bool, bool, tuple[str, ...], tuple[str, ...], bool, bool, bool],
) -> Asked:
    """Return what was asked for, once it has the form that headings demand."""
    import re

    from encoder.bulletin.heading import data_type_of
    from encoder.bulletin.openings import FAMILIES, PARTS
    from encoder.cli.bulletin_set import Asked

    centre, area, number, headings, indicator = heading
    for name, value, pattern in (
        ("--centre", centre, "[A-Z]{4}"),
        ("--area", area or "AA", "[A-Z]{2}"),
        ("--number", number, "[0-9]{2}"),
        ("--indicator", indicator or "RRA", "(RR|CC|AA)[A-Z]"),
        *(("--used", one, "CC[A-Z]") for one in what[3]),
    ):
        if re.fullmatch(pattern, value) is None:
            msg = f"{name} has the form {pattern}, got {value!r}."
            raise click.UsageError(msg)
    letters = (family + part for family in FAMILIES for part in PARTS)
    own_types = list(dict.fromkeys(data_type_of(one) for one in letters))
    for one in headings:
        if re.fullmatch("[A-Z]{4}[0-9]{2}", one) is None:
            msg = f"--heading has the form T1T2A1A2ii, for example UKZZ02, got {one!r}."
            raise click.UsageError(msg)
        if one[:2] not in own_types:
            msg = f"--heading {one}: no part goes under {one[:2]}; known: {', '.join(own_types)}."
            raise click.UsageError(msg)
    own = {one[:2]: (one[2:4], one[4:]) for one in headings}
    return Asked(centre, area, number, own, indicator, *what)
