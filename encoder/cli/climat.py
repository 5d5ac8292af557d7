"""``aerogram climat``: the CLIMAT TEMP of a month of soundings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from encoder.cli.options import output_option, show_option

if TYPE_CHECKING:
    from datetime import date

    from encoder.climat import MonthlySounding
    from encoder.diagnostics import Diagnostic


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
@click.option("--station", metavar="IIiii", help="Station; by default that of the soundings.")
@click.option("--knots", is_flag=True, help="Winds in knots.")
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
    knots: bool,
    output: str | None,
    least: str,
) -> None:
    """Write the CLIMAT TEMP of a month.

    Means, steadiness of the wind, days missing.

    FILE holds reports of the month as text, JSON or BUFR, FLIGHT is a flight folder. Soundings
    of other stations, hours and months are left out, and their number is told.

    \b
    Example:
      aerogram climat samples/traffic/harrow-tarn-2031-06.txt --month 2031-06
    """
    from datetime import date

    from encoder.cli.output import NotUsable, emit, exit_code, show
    from encoder.climat import climat_temp, monthly_means
    from encoder.report import encode_content

    try:
        first = date.fromisoformat(f"{month}-01")
    except ValueError as fault:
        msg = f"--month expects YYYY-MM, got {month!r}."
        raise click.UsageError(msg) from fault
    soundings, found = _soundings(files, first, least)
    stations = {name for name, _sounding in soundings}
    if station is None and len(stations) > 1:
        msg = f"There are soundings of {', '.join(sorted(stations))}; choose with --station."
        raise click.UsageError(msg)
    wanted = station or next(iter(stations), None)
    kept = [one for name, one in soundings if name == wanted and (not hours or one.hour in hours)]
    show(found, least)
    if not kept:
        msg = f"There is no sounding of {month} to average."
        raise NotUsable(msg)
    means = monthly_means(kept, year=first.year, month=first.month)
    content = climat_temp(means, station=wanted, wind_unit="kt" if knots else "m s-1")
    text, faults = encode_content([content])
    show(faults, least)
    left = len(soundings) - len(kept)
    click.echo(f"{len(kept)} soundings of {wanted}, {left} left out", err=True)
    emit(text, output)
    context.exit(exit_code((*found, *faults)))


def _soundings(
    files: tuple[str, ...], month: date, least: str
) -> tuple[list[tuple[str, MonthlySounding]], tuple[Diagnostic, ...]]:
    """Return the soundings of a month by station, and what reading them found.

    A report names its day alone and is taken to be of the month asked for; a flight has its date.
    """
    from calendar import monthrange

    from encoder.cli.load import load_flight, load_reports, looks_like_flight, select
    from encoder.climat import MonthlySounding

    flights = [name for name in files if looks_like_flight(name)]
    others = tuple(name for name in files if name not in flights)
    reports, found = load_reports(others) if others else ((), ())
    days = monthrange(month.year, month.month)[1]
    soundings: list[tuple[str, MonthlySounding]] = []
    for report in reports:
        said = report.parts[0].content.identification
        station, day, hour = (said.get(name) for name in ("station", "day", "hour"))
        if not isinstance(station, str) or not isinstance(day, int) or not isinstance(hour, int):
            continue
        if 1 <= day <= days:
            soundings.append((station, MonthlySounding(day, hour, report.levels)))
    for name in flights:
        flight = load_flight(name, least=least)
        when = flight.nominal_time
        if (when.year, when.month) != (month.year, month.month):
            click.echo(f"{name} is of {when:%Y-%m} and was left out", err=True)
            continue
        table, chosen = select(flight, "largest-deviation")
        found = (*found, *chosen)
        station = flight.station.wmo_index or ""
        soundings.append((station, MonthlySounding(when.day, when.hour, table)))
    return soundings, found
