"""``aerogram report``: one page to look at, in a browser or on paper."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from encoder.cli.options import METHODS, repair_option, show_option

if TYPE_CHECKING:
    from encoder.diagnostics import Diagnostic
    from encoder.page import Review
    from encoder.repair import RepairMode


@click.command()
@click.argument("files", metavar="FLIGHT|REPORT...", nargs=-1, required=True)
@click.option(
    "-o",
    "--output",
    metavar="PAGE",
    help='Write the page to PAGE, for example page.html; "-" is standard output.',
)
@click.option("--json", "as_json", is_flag=True, help="Write the data of the page as JSON.")
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
@click.option(
    "--due-ab",
    type=click.IntRange(-720, 1440),
    help="Minutes after the nominal time by which parts A and B are to be sent (120).",
)
@click.option(
    "--due-cd",
    type=click.IntRange(-720, 1440),
    help="The same for parts C and D (240).",
)
@click.option("--month", metavar="YYYY-MM", help="Month of a station history; the latest one.")
@click.option("--hours", metavar="HH,HH", help="Nominal hours a flight is expected at.")
@click.option(
    "--sent",
    metavar="CSV",
    help="When parts were sent: nominal_time, part, sent_time; for the month.",
)
@repair_option
@show_option
@click.pass_context
def report(
    context: click.Context,
    /,
    files: tuple[str, ...],
    output: str | None,
    as_json: bool,
    number: int | None,
    method: str,
    due_ab: int | None,
    due_cd: int | None,
    month: str | None,
    hours: str | None,
    sent: str | None,
    repair: RepairMode,
    least: str,
) -> None:
    """Write one page that shows a sounding.

    Verdict, times, profile, report and levels.

    FLIGHT alone shows the report made from it; FLIGHT and REPORT show the report that was
    given against the flight; REPORT alone shows what it says ("-" is standard input).
    Each may be a netCDF file; a BUFR message beside them, or alone, is shown element by
    element.
    A station history (netCDF) gives a month at a glance, the summary.json of a conversion
    its index page. The page is one file that needs no network. Damaged groups are marked, each
    with the repair that is proposed; --repair reads them so. Leaves with 1 when the report must
    not be sent.

    \b
    Example:
      aerogram report samples/flights/harrow-tarn -o page.html
      aerogram encode samples/flights/harrow-tarn | aerogram report - -o page.html
    """
    from encoder.cli.output import emit, emit_json, show
    from encoder.cli.overview import (
        holds_history,
        holds_run,
        month_from,
        write_month,
        write_run,
    )
    from encoder.cli.review import exit_code_of, load_carriers, load_review
    from encoder.page import flight_page
    from encoder.page.document import page_document
    from encoder.page.links import join_links
    from encoder.page.times import DEADLINES

    if output is None and not as_json:
        msg = 'Name the page to write: -o page.html ("-" for standard output).'
        raise click.UsageError(msg)
    deadlines = (
        DEADLINES[0] if due_ab is None else due_ab,
        DEADLINES[1] if due_cd is None else due_cd,
    )
    if len(files) == 1 and holds_run(files[0]):
        context.exit(write_run(files[0], output, as_json=as_json))
    if len(files) == 1 and number is None and holds_history(files[0]):
        glance = month_from(
            files[0], month=month, hours=hours, sent=sent, deadlines=deadlines, least=least
        )
        write_month(glance, output, as_json=as_json)
        context.exit(0)
    if month or hours or sent:
        msg = "--month, --hours and --sent go with a station history."
        raise click.UsageError(msg)
    review = load_review(files, number=number, method=method, least=least, repair=repair)
    links = join_links(review)
    carriers = load_carriers(files, review, links)
    show(_told(review), least)
    if as_json:
        document = page_document(review, deadlines=deadlines, links=links, carriers=carriers)
        emit_json(document, output)
    else:
        emit(flight_page(review, deadlines=deadlines, links=links, carriers=carriers), output)
    context.exit(exit_code_of(review))


def _told(review: Review) -> list[Diagnostic]:
    """Return what has not been shown while the flight was read."""
    read = set() if review.flight is None else set(review.flight.diagnostics)
    return [item for item in review.diagnostics if item not in read]
