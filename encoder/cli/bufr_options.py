"""Options of ``aerogram encode`` that concern BUFR, gathered into one value."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from datetime import datetime


@dataclass(frozen=True, slots=True)
class BufrOptions:
    """What was asked for.

    Attributes
    ----------
    to : str
        "text" or "bufr".
    kind : str
        Kind of message, or a template number.
    rows : str
        "all" or "selected".
    first, nil, force : bool
    update : int
    centre, sub_centre : int or None
    bulletin : str or None
        CCCC of the compiling centre, for a bulletin with its envelope.
    channel, number : int or None
    indicator : str
    date : datetime or None
        Date of a text report.
    stations : str or None
        Station list that comes before the catalogue, for a text report.
    selection : str
        "flags" or "anew": how the levels of a text made from BUFR are chosen.
    """

    to: str
    kind: str
    rows: str
    first: bool
    nil: bool
    force: bool
    update: int
    centre: int | None
    sub_centre: int | None
    bulletin: str | None
    channel: int | None
    number: int | None
    indicator: str
    date: datetime | None
    stations: str | None
    selection: str


_OPTIONS = (
    click.option(
        "--to",
        type=click.Choice(("text", "bufr")),
        default="text",
        show_default=True,
        help="Alphanumeric report, or BUFR message.",
    ),
    click.option(
        "--message",
        "kind",
        default="sounding",
        show_default=True,
        metavar="KIND",
        help="BUFR: sounding, low-resolution, wind, wind-by-height or descent; or a template.",
    ),
    click.option(
        "--rows",
        type=click.Choice(("all", "selected")),
        default="all",
        show_default=True,
        help="BUFR: all rows of the flight, or the selected levels alone.",
    ),
    click.option("--first", is_flag=True, help="BUFR: the first message, up to 100 hPa."),
    click.option("--nil", is_flag=True, help="BUFR: a message that says there is no report."),
    click.option(
        "--update",
        type=click.IntRange(0, 255),
        default=0,
        show_default=True,
        help="BUFR: update sequence number, one more for each correction.",
    ),
    click.option(
        "--centre",
        type=click.IntRange(0, 65535),
        help="BUFR: originating centre (C-11); by default as flight.json says.",
    ),
    click.option(
        "--sub-centre",
        type=click.IntRange(0, 65535),
        help="BUFR: sub-centre (C-12); by default as flight.json says.",
    ),
    click.option(
        "--bulletin", metavar="CCCC", help="BUFR: as a bulletin of this centre, with its envelope."
    ),
    click.option(
        "--channel", type=click.IntRange(0, 999), help="BUFR: transmission number of the bulletin."
    ),
    click.option(
        "--number", type=click.IntRange(1, 99), help="BUFR: ii of the heading; by platform."
    ),
    click.option(
        "--indicator", metavar="BBB", default="", help="BUFR: BBB of the heading, for example CCA."
    ),
    click.option(
        "--date",
        type=click.DateTime(("%Y-%m-%d",)),
        metavar="YYYY-MM-DD",
        help="Date near a text report, which names only its day (for text to BUFR).",
    ),
    click.option(
        "--stations",
        metavar="FILE",
        help="Text to BUFR: station list (CSV or IGRA) that comes before the catalogue.",
    ),
    click.option("--force", is_flag=True, help="BUFR also of a lone part of a text report."),
    click.option(
        "--levels",
        "selection",
        type=click.Choice(("flags", "anew")),
        default="anew",
        show_default=True,
        help="BUFR to text: the levels the message flags, or chosen anew from its rows.",
    ),
)


def bufr_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options; the command gets them as one value named ``bufr``."""

    @functools.wraps(function)
    def gathered(*arguments: Any, **options: Any) -> Any:
        own = {field.name: options.pop(field.name) for field in fields(BufrOptions)}
        return function(*arguments, bufr=BufrOptions(**own), **options)

    decorated: Callable[..., Any] = gathered
    for option in reversed(_OPTIONS):
        decorated = option(decorated)
    return decorated
