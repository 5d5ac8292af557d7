"""``aerogram stations``: the catalogue that tells where land stations are."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

import click

from encoder.cli.options import json_option, output_option, show_option

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date

    from encoder.stations import StationCatalogue, StationRecord

CommandT = TypeVar("CommandT", bound="Callable[..., Any]")


def stations_option(function: CommandT) -> CommandT:
    """Add ``--stations``."""
    return click.option(
        "--stations",
        "station_list",
        metavar="FILE",
        help="Station list (CSV or IGRA) that comes before the catalogue, for this run.",
    )(function)


def data_folder() -> str:
    """Return the folder of the user's own catalogue; it need not exist."""
    from platformdirs import user_data_dir

    return user_data_dir("aerogram", appauthor=False)


def load_stations(station_list: str | None, least: str) -> StationCatalogue:
    """Return the catalogue in force.

    Raises
    ------
    Unreadable
        If a list cannot be read (exit code 3).
    """
    from encoder.cli.output import Unreadable, show
    from encoder.diagnostics import has_errors
    from encoder.formats.station_catalogue import load_catalogue

    catalogue, found = load_catalogue(data_folder(), station_list)
    if found:
        show(found, least)
    if has_errors(found):
        msg = f"The station list {station_list or data_folder()} cannot be used; see above."
        raise Unreadable(msg)
    return catalogue


@click.group()
def stations() -> None:
    """Keep the catalogue of land stations.

    It tells where they are.

    A land report carries a station number and no position. Three invented stations are built
    in; add a list of your own. It is kept in your data folder.

    \b
    Example:
      aerogram stations add stations.csv
      aerogram stations show 90417
    """


@stations.command()
@click.argument("file", metavar="FILE")
@show_option
@click.pass_context
def add(context: click.Context, /, file: str, least: str) -> None:
    """Add a station list to your catalogue.

    FILE is the fixed-width station list of the IGRA archive, or CSV with the columns wmo_index,
    name, latitude, longitude, elevation and, where known, from and to.

    \b
    Example:
      aerogram stations add stations.csv
    """
    from encoder.cli.output import Unreadable, exit_code, show
    from encoder.formats.station_catalogue import add_stations

    folder = data_folder()
    try:
        added, found = add_stations(file, folder)
    except OSError as fault:
        msg = f"Cannot write to {folder}: {fault.strerror or fault}. The catalogue is as before."
        raise Unreadable(msg) from fault
    show(found, least)
    if added is None:
        msg = f"{file} gave no station; nothing was added."
        raise Unreadable(msg)
    click.echo(
        f"Read {added.read:,} entr{'y' if added.read == 1 else 'ies'} of {file}; the catalogue has "
        f"{len(added.catalogue):,} now ({added.before:,} before).\nwrote {added.path}"
    )
    context.exit(exit_code(found))


@stations.command()
@click.argument("index", metavar="INDEX")
@click.option("--date", "on", metavar="YYYY-MM-DD", help="Day it is asked for; the latest entry.")
@stations_option
@json_option
@output_option
@show_option
@click.pass_context
def show(
    context: click.Context,
    /,
    index: str,
    on: str | None,
    station_list: str | None,
    as_json: bool,
    output: str | None,
    least: str,
) -> None:
    """Look up a station: every period, or that of a day.

    \b
    Example:
      aerogram stations show 90417
      aerogram stations show 90417 --date 2031-07-09
    """
    from encoder.cli.output import emit, emit_json
    from encoder.cli.output import show as show_findings

    if not (len(index) == 5 and index.isascii() and index.isdigit()):
        msg = f"A station number has five figures, got {index!r}."
        raise click.UsageError(msg)
    catalogue = load_stations(station_list, least)
    day = None if on is None else day_of(on)
    record, found = catalogue.find(index, day)
    show_findings(found, least)
    if record is None:
        context.exit(1)
    records = catalogue.periods(index) if day is None else (record,)
    if as_json:
        emit_json([_as_json(one) for one in records], output)
    else:
        emit(_table(records), output)


@stations.command(name="list")
@stations_option
@json_option
@output_option
@show_option
def list_stations(
    *, station_list: str | None, as_json: bool, output: str | None, least: str
) -> None:
    """Show every station of the catalogue.

    \b
    Example:
      aerogram stations list
    """
    from encoder.cli.output import emit, emit_json

    catalogue = load_stations(station_list, least)
    if as_json:
        emit_json([_as_json(one) for one in catalogue.records], output)
    else:
        emit(_table(catalogue.records), output)


def day_of(text: str) -> date:
    """Return a date of the command line.

    Raises
    ------
    UsageError
        If it is none.
    """
    from datetime import date

    try:
        return date.fromisoformat(text)
    except ValueError as fault:
        msg = f"--date expects YYYY-MM-DD, got {text!r}."
        raise click.UsageError(msg) from fault


def _as_json(record: StationRecord) -> dict[str, Any]:
    return {
        "wmo_index": record.wmo_index,
        "name": record.name,
        "latitude": record.latitude,
        "longitude": record.longitude,
        "elevation": None if record.elevation != record.elevation else record.elevation,
        "from": None if record.valid_from is None else record.valid_from.isoformat(),
        "to": None if record.valid_to is None else record.valid_to.isoformat(),
        "source": record.source,
    }


def _table(records: tuple[StationRecord, ...]) -> str:
    lines = [f"{'index':<6}{'name':<24}{'lat':>9}{'lon':>10}{'m':>7}  period, source"]
    for one in records:
        height = "" if one.elevation != one.elevation else f"{one.elevation:g}"
        lines.append(
            f"{one.wmo_index:<6}{one.name[:23]:<24}{one.latitude:>9.4f}{one.longitude:>10.4f}"
            f"{height:>7}  {one.period()}, {one.source}"
        )
    return "\n".join(lines) + "\n"
