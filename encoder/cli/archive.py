"""``aerogram archive``: flights and reports as CF netCDF files."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import click

from encoder.cli.archive_writer import PRODUCTS, ArchiveWriter
from encoder.cli.options import METHODS, show_option
from encoder.cli.stations import stations_option

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from encoder.archive import Service
    from encoder.diagnostics import Diagnostic
    from encoder.located import Located
    from encoder.profile import Station
    from encoder.report import Report


@click.command()
@click.argument("sources", metavar="FLIGHT...", nargs=-1, required=True)
@click.option(
    "-o",
    "--output",
    "folder",
    metavar="FOLDER",
    default=".",
    help="Where the files go; by default here.",
)
@click.option(
    "--products",
    metavar="NAMES",
    default=",".join(PRODUCTS),
    show_default=True,
    help="Which files are written.",
)
@click.option("--service", metavar="FILE", help="service.json: who makes and publishes the files.")
@click.option(
    "--report",
    "sent",
    metavar="FILE",
    multiple=True,
    help="The reports as they were sent; by default the flight is encoded.",
)
@click.option("--facts", metavar="FILE", help="flight.json for a CF file of others.")
@click.option("--month", metavar="YYYY-MM", help="Month of coded reports.")
@click.option(
    "--position",
    metavar="LAT,LON[,M]",
    help="Position and elevation of the station of coded reports.",
)
@stations_option
@click.option(
    "--method",
    type=click.Choice(METHODS),
    default=METHODS[0],
    show_default=True,
    help="How significant levels are chosen.",
)
@click.option("--replace", is_flag=True, help="Replace a flight file that says something else.")
@click.option("--created", metavar="TIME", help="When the values were last changed, ISO 8601.")
@show_option
@click.pass_context
def archive(
    context: click.Context,
    /,
    sources: tuple[str, ...],
    folder: str,
    products: str,
    service: str | None,
    sent: tuple[str, ...],
    facts: str | None,
    month: str | None,
    position: str | None,
    station_list: str | None,
    method: str,
    replace: bool,
    created: str | None,
    least: str,
) -> None:
    """Write flights and reports as CF netCDF.

    FLIGHT is a flight, a CF netCDF file of others, or coded reports as text or BUFR. A flight
    gives a flight file (every row), a level file (the report) and adds to the history of its
    station; a report gives the latter two. Reports as text name neither month nor
    position: both are taken from the file name and the station catalogue, or given here.

    \b
    Example:
      aerogram archive samples/flights/harrow-tarn -o archive \\
        --service samples/service.json
      aerogram archive report.txt --month 2031-07 -o archive
    """
    from encoder.cli.output import exit_code, show
    from encoder.diagnostics import diagnostic

    wanted = _products(products)
    maker = ArchiveWriter(folder, wanted, _service(service), _created(created), replace=replace)
    unknown = maker.service.missing()
    found: list[Diagnostic] = []
    if unknown:
        found.append(diagnostic("archive-service-unknown", f"Not known: {', '.join(unknown)}."))
    if sent and len(sources) > 1:
        msg = "--report goes with one flight."
        raise click.UsageError(msg)
    for source in sources:
        found += _one(
            maker,
            source,
            sent=sent,
            facts=facts,
            month=month,
            position=_position(position),
            stations=station_list,
            method=method,
            least=least,
        )
    show(found, least)
    context.exit(exit_code(found))


def _one(
    maker: ArchiveWriter,
    source: str,
    *,
    sent: tuple[str, ...],
    facts: str | None,
    month: str | None,
    position: tuple[float, float, float] | None,
    stations: str | None,
    method: str,
    least: str,
) -> list[Diagnostic]:
    """Archive one source; return what there is to say."""
    from encoder.archive import FlightArchive
    from encoder.cli.archived import is_netcdf_file, read_flight_file
    from encoder.cli.bufr import is_bufr_file
    from encoder.cli.decode import hints_of
    from encoder.cli.load import (
        load_flight,
        load_reports,
        looks_like_flight,
        reports_in,
        select,
    )
    from encoder.cli.output import NotUsable, show
    from encoder.codes.editions import BEFORE, declared_on
    from encoder.diagnostics import diagnostic
    from encoder.report import encode_report, form_of_flight

    if is_bufr_file(source):
        return _bufr(maker, source)
    if is_netcdf_file(source) and facts is not None:
        read = read_flight_file(source, facts=_facts(facts))
        show(read.diagnostics, least)
        if read.value is None:
            msg = f"{source} cannot be used as a flight; see the errors above."
            raise NotUsable(msg)
        flight = read.value
    elif looks_like_flight(source):
        flight = load_flight(source, least=least)
    else:
        origins: dict[int, str | date] = {}
        _hints, on = hints_of(_month(month), "--month")
        reports, found = reports_in((source,), None, on=on, origins=origins)
        if not reports:
            show(found, least)
            msg = f"{source} holds no report."
            raise NotUsable(msg)
        names = [origins.get(id(report)) for report in reports]
        made_of = _reports(maker, reports, month, position, stations, found, names, least)
        return [*found, *made_of]
    levels, chosen = select(flight, method)
    if sent:
        reports, found = load_reports(sent, on=flight.nominal_time.date())
        return [*found, *maker.flight(FlightArchive(flight, levels, reports, (*chosen, *found)))]
    on = flight.nominal_time.date()
    if not declared_on(form_of_flight(flight), on):
        message = (
            f"No report is made of a flight of {on}; its rows and levels are archived. {BEFORE}"
        )
        told = (*chosen, diagnostic("flight-without-edition", message))
        return [*told, *maker.flight(FlightArchive(flight, levels, (), told))]
    made = encode_report(flight, levels, form=form_of_flight(flight))
    said = (*chosen, *made.diagnostics)
    return [*said, *maker.flight(FlightArchive(flight, levels, (made.value,), said))]


def _bufr(maker: ArchiveWriter, source: str) -> list[Diagnostic]:
    """Archive the soundings of BUFR messages: all levels, and the rows where each has a time."""
    import numpy as np

    from encoder.archive import FlightArchive
    from encoder.cli.bufr import soundings_of
    from encoder.cli.output import read_input
    from encoder.formats.bufr.to_flight import flight_of_sounding
    from encoder.formats.bufr_archive import archived

    soundings, found = soundings_of(read_input(source))
    for item in soundings:
        made = archived(item)
        found += made.diagnostics
        if made.value is None:
            continue
        flight = flight_of_sounding(item)
        if flight.value is not None and np.isfinite(flight.value.profile["time"]).all():
            found += maker.rows(FlightArchive(flight.value))
        found += maker.sounding(made.value)
    return found


def _reports(
    maker: ArchiveWriter,
    reports: Sequence[Report],
    month: str | None,
    position: tuple[float, float, float] | None,
    stations: str | None,
    decoded: Sequence[Diagnostic],
    names: Sequence[str | date | None],
    least: str,
) -> list[Diagnostic]:
    from encoder.cli.decode import hints_of
    from encoder.cli.stations import load_stations
    from encoder.codes.editions import declared_on
    from encoder.diagnostics import diagnostic
    from encoder.located import locate
    from encoder.sounding import sounding_of

    hints, _on = hints_of(_month(month), "--month")
    located, found_of_places = locate(
        reports, catalogue=load_stations(stations, least), hints=hints, names=names
    )
    found = [item for item in found_of_places if item.code not in _TOLD_HERE]
    for report, place in zip(reports, located, strict=True):
        if not declared_on(report.form, report.on):
            continue  # told by the decoder
        if place.nominal_time is None:
            dated = "day" in report.parts[0].content.identification
            says = "it names day and hour at most" if dated else "it names neither day nor hour"
            message = f"The date of the report is not known: {says}."
            found.append(diagnostic("report-without-time", message))
            continue
        station = _station_of(place, position)
        if station is None:
            message = f"The position of station {place.station} is not known."
            found.append(diagnostic("report-without-position", message, value=place.station))
            continue
        sounding = sounding_of(
            report, station=station, nominal_time=place.nominal_time, diagnostics=decoded
        )
        found += maker.sounding(sounding)
    return found


_TOLD_HERE = ("date-unknown", "date-impossible", "station-not-in-catalogue")
"""Notes of the decoder that are errors of their own here."""


def _station_of(place: Located, position: tuple[float, float, float] | None) -> Station | None:
    """Return the station of a report: as given, as the report says, or from the catalogue."""
    from encoder.located import OF_REPORT
    from encoder.profile import Station
    from encoder.sounding import UNNAMED

    number = (place.station or "").isdigit()
    index, sign = (place.station, None) if number else (None, place.station)
    name = place.name or place.station or UNNAMED
    if position is not None:
        return Station(name, *position, wmo_index=index, call_sign=sign)
    if place.latitude is None or place.longitude is None:
        return None
    known = place.elevation is not None and place.position_source != OF_REPORT
    elevation = place.elevation if known and place.elevation is not None else float("nan")
    return Station(
        name, place.latitude, place.longitude, elevation, wmo_index=index, call_sign=sign
    )


# --- options ----------------------------------------------------------------------------------


def _products(words: str) -> tuple[str, ...]:
    wanted = tuple(word.strip() for word in words.split(",") if word.strip())
    if not wanted or not set(wanted) <= set(PRODUCTS):
        msg = f"--products takes {', '.join(PRODUCTS)}, got {words!r}."
        raise click.UsageError(msg)
    return wanted


def _service(path: str | None) -> Service:
    from encoder.archive import Service
    from encoder.cli.output import NotUsable, show
    from encoder.formats.service_json import read_service

    if path is None:
        return Service()
    result = read_service(path)
    if result.value is None:
        show(result.diagnostics)
        msg = f"{path} cannot be used; see the errors above."
        raise NotUsable(msg)
    return result.value


def _facts(path: str) -> Any:
    from encoder.cli.output import NotUsable, show
    from encoder.formats.flight_json import read_flight_document

    result = read_flight_document(path)
    if result.value is None:
        show(result.diagnostics)
        msg = f"{path} cannot be used; see the errors above."
        raise NotUsable(msg)
    return result.value


def _created(text: str | None) -> datetime | None:
    if text is None:
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as fault:
        msg = f"--created takes a time such as 2031-07-09T06:00:00Z, got {text!r}: {fault}."
        raise click.UsageError(msg) from fault
    return moment.astimezone(UTC) if moment.tzinfo else moment.replace(tzinfo=UTC)


def _month(text: str | None) -> str | None:
    if text is not None and len(text) != len("YYYY-MM"):
        msg = f"--month expects YYYY-MM, got {text!r}."
        raise click.UsageError(msg)
    return text


def _position(text: str | None) -> tuple[float, float, float] | None:
    if text is None:
        return None
    try:
        numbers = [float(word) for word in text.split(",")]
    except ValueError:
        numbers = []
    if len(numbers) not in (2, 3) or abs(numbers[0]) > 90.0 or abs(numbers[1]) > 180.0:
        msg = f"--position takes latitude,longitude[,elevation] in degrees and m, got {text!r}."
        raise click.UsageError(msg)
    return numbers[0], numbers[1], numbers[2] if len(numbers) == 3 else float("nan")
