"""Reading netCDF files for the commands: products of the archive, and CF soundings of others."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from encoder.cli.output import NotUsable, Unreadable, show

if TYPE_CHECKING:
    from collections.abc import Mapping

    from encoder.archive import FlightArchive, History
    from encoder.diagnostics import Diagnostic, Result
    from encoder.profile import Flight
    from encoder.report import Report
    from encoder.sounding import Sounding

_NUMBERED = re.compile(r"^(?P<file>.+)#(?P<number>[1-9][0-9]{0,8})$")
_FILE_CODES = ("file-not-found", "file-not-readable")


def file_and_number(name: str) -> tuple[str, int | None]:
    """Return the file and, of ``FILE#2``, the place of the sounding counted from 0."""
    match = _NUMBERED.match(name)
    if match is None or Path(name).exists():
        return name, None
    return match["file"], int(match["number"]) - 1


def is_netcdf_file(name: str) -> bool:
    """Tell whether a name is a netCDF file, by its first bytes."""
    from encoder.formats.netcdf.container import is_netcdf

    if name == "-":
        return False
    try:
        with Path(file_and_number(name)[0]).open("rb") as stream:
            return is_netcdf(stream.read(8))
    except OSError:
        return False


def product_of(name: str) -> str | None:
    """Return the product a netCDF file says it is, None for files of others.

    Raises
    ------
    Unreadable
        If the file cannot be opened, or netCDF4 is not installed (exit code 3).
    """
    from encoder.errors import MissingDependencyError
    from encoder.formats.netcdf import PRODUCTS, product_format
    from encoder.formats.netcdf.container import FAULTS, opened

    try:
        result = opened(file_and_number(name)[0])
    except MissingDependencyError as fault:
        raise Unreadable(str(fault)) from fault
    if result.value is None:
        raise _unreadable(name, result.diagnostics)
    with result.value as dataset:
        try:
            kind = product_format(dataset)
        except FAULTS as fault:
            msg = f"{name}: the file is damaged: {fault}."
            raise Unreadable(msg) from fault
    return next((item.name for item in PRODUCTS.values() if item.format == kind), kind)


def holds_flight(name: str) -> bool:
    """Tell whether a netCDF file holds a flight rather than reports."""
    return product_of(name) not in ("levels", "history")


def _unreadable(name: str, diagnostics: tuple[Diagnostic, ...]) -> Unreadable:
    words = "; ".join(item.message for item in diagnostics)
    return Unreadable(f"{name}: {words}")


def load_product(name: str, least: str) -> FlightArchive | Sounding | History:
    """Read a product of the archive, or leave.

    Raises
    ------
    Unreadable
        If the file cannot be read (exit code 3).
    NotUsable
        If it is no product (exit code 1).
    """
    from encoder.errors import MissingDependencyError
    from encoder.formats.netcdf import read_netcdf

    file, number = file_and_number(name)
    try:
        result = read_netcdf(file)
    except MissingDependencyError as fault:
        raise Unreadable(str(fault)) from fault
    if result.value is None:
        _refuse(name, result, least)
    value: Any = result.value
    from encoder.archive import History

    if number is None or not isinstance(value, History):
        return value  # type: ignore[no-any-return]  # one of the three products
    if number >= len(value):
        msg = f"{file} holds {len(value)} soundings; there is no number {number + 1}."
        raise NotUsable(msg)
    return value[number]


def _refuse(name: str, result: Result[Any], least: str) -> None:
    show(result.diagnostics, least)
    message = f"{name} cannot be used; see the errors above."
    if any(item.code in _FILE_CODES for item in result.diagnostics):
        raise Unreadable(message)
    raise NotUsable(message)


def read_flight_file(name: str, *, facts: Mapping[str, Any] | None = None) -> Result[Flight | None]:
    """Read the flight of a flight file, or of a CF file of others.

    Raises
    ------
    Unreadable
        If netCDF4 is not installed (exit code 3).
    """
    from encoder.archive import FlightArchive
    from encoder.diagnostics import Result, diagnostic
    from encoder.errors import MissingDependencyError
    from encoder.formats.foreign_flight import read_foreign
    from encoder.formats.netcdf import PRODUCTS, read_netcdf

    file, number = file_and_number(name)
    try:
        if product_of(file) not in PRODUCTS:
            return read_foreign(file, facts=facts, sounding=number)
        archive = read_netcdf(file)
    except MissingDependencyError as fault:
        raise Unreadable(str(fault)) from fault
    if archive.value is None:
        return Result(None, archive.diagnostics)
    if isinstance(archive.value, FlightArchive):
        return Result(archive.value.flight, archive.value.flight.diagnostics)
    fault_of_kind = diagnostic(
        "archive-other-product",
        f'Expected a flight, "{file}" holds coded reports.',
        file=file,
        expected=PRODUCTS["flight"].format,
    )
    return Result(None, (fault_of_kind,))


def reports_of_file(
    name: str, least: str, dates: dict[int, str | date] | None = None
) -> tuple[tuple[Report, ...], tuple[Diagnostic, ...]]:
    """Return the reports of a product: those sent of a flight, of a level file, of a history.

    Of a history the soundings that no correction has replaced. ``dates`` takes the nominal date of
    each report, by its identity.

    Raises
    ------
    Unreadable
        If the file cannot be read (exit code 3).
    NotUsable
        If it holds no reports (exit code 1).
    """
    from encoder.archive import FlightArchive
    from encoder.report import decode_reports
    from encoder.sounding import Sounding

    value = load_product(name, least)
    known: dict[int, str | date] = {} if dates is None else dates
    if isinstance(value, FlightArchive):
        known.update({id(one): value.flight.nominal_time.date() for one in value.reports})
        return value.reports, value.diagnostics
    if isinstance(value, Sounding) and value.report is not None:
        known[id(value.report)] = value.nominal_time.date()
        return (value.report,), value.diagnostics
    texts = (
        [(value.text, value.nominal_time.date())]
        if isinstance(value, Sounding)
        else [
            (value.texts[place], datetime.fromtimestamp(value.nominal_time[place], UTC).date())
            for place in value.current()
            if value.texts
        ]
    )
    reports: list[Report] = []
    found: list[Diagnostic] = []
    for text, day in texts:
        if text:
            decoded = decode_reports(text, formula=value.formula, on=day)
            reports += decoded.value
            found += decoded.diagnostics
            known.update({id(one): day for one in decoded.value})
    if not reports:
        msg = f"{name} holds no coded report."
        raise NotUsable(msg)
    return tuple(reports), tuple(found)
