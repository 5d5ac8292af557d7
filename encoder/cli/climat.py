"""``aerogram climat``: the CLIMAT TEMP of a month of soundings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from encoder.cli.options import output_option, show_option
from encoder.cli.stations import stations_option

if TYPE_CHECKING:
    from datetime import date

    from encoder.climat import MonthlyMeans
    from encoder.diagnostics import Diagnostic
    from encoder.profile import Station


@click.command()
@click.argument("files", metavar="FILE|FLIGHT...", nargs=-1, required=True)
@click.option("--month", metavar="YYYY-MM", required=True, help="The month.")
@click.option(
    "--hour",
    "hours",
    type=click.IntRange(0, 23),
    multiple=True,
    help="Hour of the soundings, repeatable; all by default.",
)
@click.option(
    "--station",
    metavar="IIiii|SIGN",
    help="Station or ship; by default that of the soundings.",
)
@click.option(
    "--position",
    metavar="LAT,LON",
    help="Position, degrees north and east; by default that of the soundings.",
)
@click.option("--knots", is_flag=True, help="Winds in knots.")
@click.option(
    "--to",
    type=click.Choice(("text", "bufr")),
    default="text",
    show_default=True,
    help="CLIMAT TEMP as text, or BUFR message (3 09 054).",
)
@click.option("--centre", type=click.IntRange(0, 65535), help="BUFR: originating centre (C-11).")
@click.option(
    "--sub-centre", type=click.IntRange(0, 65535), default=0, help="BUFR: sub-centre (C-12)."
)
@click.option(
    "--update",
    type=click.IntRange(0, 255),
    default=0,
    help="BUFR: update sequence number, one more for each correction.",
)
@click.option(
    "--bulletin", metavar="CCCC", help="BUFR: as a bulletin of this centre, with its envelope."
)
@click.option("--indicator", metavar="BBB", default="", help="BUFR: BBB of the heading.")
@stations_option
@output_option
@show_option
@click.pass_context
def climat(
    context: click.Context,
    /,
    files: tuple[str, ...],
    month: str,
    hours: tuple[int, ...],
    station: str | None,
    position: str | None,
    knots: bool,
    to: str,
    centre: int | None,
    sub_centre: int,
    update: int,
    bulletin: str | None,
    indicator: str,
    station_list: str | None,
    output: str | None,
    least: str,
) -> None:
    """Write the CLIMAT TEMP of a month.

    Means, steadiness of the wind, days missing.

    FILE holds reports of the month as text, JSON or BUFR, FLIGHT is a flight folder. Soundings
    of other stations, hours and months are left out, and that is told. The soundings of a ship
    make a CLIMAT TEMP SHIP at its position.

    \b
    Example:
      aerogram climat samples/traffic/harrow-tarn-2031-06.txt --month 2031-06
      aerogram climat samples/traffic/harrow-tarn-2031-06.txt --month 2031-06
        --to bufr -o climat.bufr
    """
    from encoder.cli.bufr_stream import Findings
    from encoder.cli.climat_soundings import gather, of_station, place_of
    from encoder.cli.output import NotUsable, exit_code
    from encoder.cli.stations import load_stations
    from encoder.climat import monthly_means

    if to == "text" and (bulletin or indicator or centre is not None or update):
        msg = "--centre, --update, --bulletin and --indicator go with --to bufr."
        raise click.UsageError(msg)
    first = _month_of(month)
    asked = None if position is None else _position_of(position)
    gathered = gather(files, first, load_stations(station_list, least), least)
    findings = Findings(least)
    findings.take(gathered.found)
    findings.finish()
    kept = of_station(gathered.soundings, station, hours)
    if not kept:
        msg = f"There is no sounding of {month} to average."
        raise NotUsable(msg)
    means = monthly_means([one.sounding for one in kept], year=first.year, month=first.month)
    name, ship = kept[0].station, kept[0].ship
    left = len(gathered.soundings) - len(kept)
    click.echo(f"{len(kept)} soundings of {name}, {left} left out", err=True)
    if to == "text":
        place = place_of(kept, asked) if ship else None
        told = _write_text(means, name, place, (knots, output, least))
    else:
        who = _station(name, place_of(kept, asked), ship=ship)
        origin = (centre, sub_centre, update, bulletin, indicator)
        told = _write_bufr(means, (who, name if ship else None), origin, (output, least))
    context.exit(exit_code((*gathered.found, *told)))


def _month_of(text: str) -> date:
    """Return the first day of a month of the command line.

    Raises
    ------
    UsageError
        If it is none.
    """
    from datetime import date

    try:
        return date.fromisoformat(f"{text}-01")
    except ValueError as fault:
        msg = f"--month expects YYYY-MM, got {text!r}."
        raise click.UsageError(msg) from fault


def _position_of(text: str) -> tuple[float, float]:
    """Return a position of the command line.

    Raises
    ------
    UsageError
        If it is none.
    """
    try:
        latitude, longitude = (float(word) for word in text.split(","))
    except ValueError:
        latitude = longitude = 999.0
    if not (-90.0 <= latitude <= 90.0 and -180.0 <= longitude <= 180.0):
        msg = f"--position expects LATITUDE,LONGITUDE in degrees, got {text!r}."
        raise click.UsageError(msg)
    return latitude, longitude


def _station(name: str, place: tuple[float, float, float], *, ship: bool) -> Station:
    from encoder.profile import Station

    index = name if not ship and len(name) == 5 and name.isdigit() else None
    return Station(name, *place, index)


def _write_text(
    means: MonthlyMeans,
    name: str,
    place: tuple[float, float, float] | None,
    how: tuple[bool, str | None, str],
) -> tuple[Diagnostic, ...]:
    """Write the report as text; return what coding it found."""
    from encoder.cli.output import emit, show
    from encoder.climat import climat_temp
    from encoder.report import encode_content

    knots, output, least = how
    content = climat_temp(
        means,
        station=name,
        position=None if place is None else place[:2],
        wind_unit="kt" if knots else "m s-1",
    )
    text, faults = encode_content([content])
    show(faults, least)
    emit(text, output)
    return faults


def _write_bufr(
    means: MonthlyMeans,
    who: tuple[Station, str | None],
    origin: tuple[int | None, int, int, str | None, str],
    how: tuple[str | None, str],
) -> tuple[Diagnostic, ...]:
    """Write the report as BUFR; return what coding it found.

    Raises
    ------
    NotUsable
        If the coding library is not installed, or a value cannot be coded.
    """
    from encoder.cli.bufr import emit_bytes
    from encoder.cli.bufr_months import centre_told, month_octets
    from encoder.cli.output import NotUsable, show
    from encoder.formats.bufr.content import Origin
    from encoder.formats.bufr.monthly import monthly_message

    station, call_sign = who
    centre, sub_centre, update, bulletin, indicator = origin
    output, least = how
    issued = Origin(Origin().centre if centre is None else centre, sub_centre, update)
    month = monthly_message(means, station, call_sign=call_sign)
    octets, told = month_octets(month, issued, bulletin=bulletin, indicator=indicator)
    told = [*centre_told(centre), *told]
    show(told, least)
    if octets is None:
        msg = "No message was written; see the errors above."
        raise NotUsable(msg)
    emit_bytes(octets, output)
    return tuple(told)
