"""Reading what a page or a plot shows: a flight, a flight and its report, or a report alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from encoder.cli.output import EXIT_DONE, EXIT_FAULTS, NotUsable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.diagnostics import Diagnostic
    from encoder.page import Review
    from encoder.page.carriers import Carrier
    from encoder.page.links import Links
    from encoder.profile import Flight
    from encoder.repair import RepairMode
    from encoder.report import Report


def load_review(
    files: tuple[str, ...],
    *,
    number: int | None,
    method: str,
    least: str,
    repair: RepairMode = "none",
) -> Review:
    """Return the sounding the files hold.

    Parameters
    ----------
    files : tuple of str
        A flight, a flight followed by reports, or reports.
    number : int or None
        Which review, counted from 1; asked for where the reports hold several.
    method : str
        How significant levels are chosen.
    least : str
        Least severity of the findings shown.
    repair : {"none", "safe", "all"}
        Repairs of damaged groups that are read.

    Raises
    ------
    Unreadable
        If a file cannot be read (exit code 3).
    NotUsable
        If there is no report in the files, or the flight cannot be used (exit code 1).
    UsageError
        If the reports hold several soundings and none was chosen.
    """
    from encoder.cli.bufr import is_bufr_file
    from encoder.cli.load import load_flight, looks_like_flight, reports_in
    from encoder.page import review_of_report

    files = _without_companions(files, [name for name in files if looks_like_flight(name)])
    flights = [name for name in files if looks_like_flight(name)]
    if len(flights) > 1:
        msg = f"One flight at a time, got {', '.join(flights)}."
        raise click.UsageError(msg)
    messages = [name for name in files if name not in flights and is_bufr_file(name)]
    texts = tuple(name for name in files if name not in flights and name not in messages)
    if messages and not flights and not texts:
        return _of_message(messages[0], number, method)
    flight = load_flight(flights[0], least=least) if flights else None
    if flight is not None and not texts:
        return _of_flight(flight, None, (), method)
    on = None if flight is None else flight.nominal_time.date()
    reports, found = reports_in(texts, None, on=on, repair=repair)
    if not reports:
        from encoder.cli.output import show

        show(found, least)
        msg = f"There is no report in {', '.join(texts)}."
        raise NotUsable(msg)
    station = None if flight is None else flight.station.wmo_index
    chosen = _chosen(reports, number, station)
    own = _of_one(chosen, reports, found)
    if flight is None:
        return review_of_report(chosen, own)
    return _of_flight(flight, chosen, own, method)


def _of_flight(
    flight: Flight, report: Report | None, found: Sequence[Diagnostic], method: str
) -> Review:
    """Return the sounding of a flight, or leave where no report of it can be made."""
    from encoder.errors import InputError
    from encoder.page import review_of_flight

    try:
        return review_of_flight(flight, report, found, method=method)
    except InputError as fault:
        raise NotUsable(fault.message) from fault


def _without_companions(files: tuple[str, ...], flights: list[str]) -> tuple[str, ...]:
    """Return the files without the netCDF files that only accompany a flight or a report.

    A flight file beside the flight it was made from, and a level file beside the text it holds,
    are shown variable by variable; neither is a second sounding.
    """
    from encoder.cli.archived import is_netcdf_file
    from encoder.cli.bufr import is_bufr_file

    archived = [name for name in files if is_netcdf_file(name)]
    if any(name not in archived for name in flights):
        files = tuple(name for name in files if not (name in archived and name in flights))
    others = [name for name in files if name not in flights and name not in archived]
    if any(not is_bufr_file(name) for name in others):
        files = tuple(name for name in files if name in flights or name not in archived)
    return files


def _of_message(name: str, number: int | None, method: str) -> Review:
    """Return the sounding of a BUFR message, with the text report made from it."""
    from encoder.cli.bufr import read_bufr_file
    from encoder.cli.output import show
    from encoder.formats.bufr.to_flight import flight_of_sounding
    from encoder.page import review_of_flight

    soundings, found = read_bufr_file(name)
    if not soundings:
        show(found)
        msg = f"There is no sounding in {name}."
        raise NotUsable(msg)
    if number is None and len(soundings) > 1:
        msg = f"{name} holds {len(soundings)} soundings, choose with --number."
        raise click.UsageError(msg)
    if number is not None and number > len(soundings):
        msg = f"--number {number}, but {name} holds {len(soundings)} soundings."
        raise click.UsageError(msg)
    made = flight_of_sounding(soundings[(number or 1) - 1])
    if made.value is None:
        show((*found, *made.diagnostics))
        msg = f"{name} tells of no flight; see the errors above."
        raise NotUsable(msg)
    flight = replace(made.value, diagnostics=(*made.value.diagnostics, *found, *made.diagnostics))
    return review_of_flight(flight, method=method)


def load_carriers(files: tuple[str, ...], review: Review, links: Links) -> list[Carrier]:
    """Return the BUFR messages and netCDF files among the files, tied to the levels.

    Parameters
    ----------
    files : tuple of str
    review : Review
    links : Links
        Of the same review.

    Returns
    -------
    list of Carrier
        A BUFR sounding of another station is left out.
    """
    from encoder.cli.archived import file_and_number, is_netcdf_file
    from encoder.cli.bufr import is_bufr_file, read_bufr_file
    from encoder.page.carriers import carrier_of_bufr, carrier_of_netcdf

    levels = review.report.levels
    station = _said(review.report).get("station")
    found: list[Carrier] = []
    for name in files:
        if is_netcdf_file(name):
            path, number = file_and_number(name)
            if number is None:
                carrier = carrier_of_netcdf(path, levels, links.levels, Path(path).name)
                found.extend([carrier] if carrier is not None and carrier.rows else [])
        elif is_bufr_file(name):
            found.extend(
                carrier_of_bufr(sounding, levels, Path(name).name)
                for sounding in read_bufr_file(name)[0]
                if sounding.wmo_index in (station, None)
            )
    return found


def _chosen(reports: tuple[Report, ...], number: int | None, station: str | None) -> Report:
    if number is not None:
        if number > len(reports):
            msg = f"--number {number}, but the reports hold {len(reports)} soundings."
            raise click.UsageError(msg)
        return reports[number - 1]
    own = [report for report in reports if _said(report).get("station") == station]
    if len(own) == 1:
        return own[0]
    if len(reports) > 1:
        named = "; ".join(
            f"{place} {_said(report).get('station') or 'unknown'} day {_said(report).get('day')} "
            f"hour {_said(report).get('hour')}"
            for place, report in enumerate(reports[:12], 1)
        )
        more = f"; and {len(reports) - 12} more" if len(reports) > 12 else ""
        msg = f"The reports hold {len(reports)} soundings, choose with --number: {named}{more}."
        raise click.UsageError(msg)
    return reports[0]


def _said(report: Report) -> dict[str, object]:
    return dict(report.parts[0].content.identification)


def _of_one(
    report: Report, reports: tuple[Report, ...], found: tuple[Diagnostic, ...]
) -> tuple[Diagnostic, ...]:
    """Return the findings that do not stand inside another sounding of the same text."""
    others = [part.span for other in reports if other is not report for part in other.parts]
    return tuple(
        item
        for item in found
        if item.span is None
        or not any(begin <= item.span[0] and item.span[1] <= end for begin, end in others)
    )


def exit_code_of(review: Review) -> int:
    """Return 1 if the report must not be sent or has errors, else 0."""
    from encoder.diagnostics import has_errors

    good = review.verdict is None or review.verdict.may_be_sent
    return EXIT_DONE if good and not has_errors(review.diagnostics) else EXIT_FAULTS
