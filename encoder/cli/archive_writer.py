"""Writing the files of one run of ``aerogram archive``."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from encoder.archive import FlightArchive, Service
    from encoder.diagnostics import Diagnostic
    from encoder.sounding import Sounding

PRODUCTS = ("flight", "levels", "history")
"""Names of the products, in the order they are written."""


class ArchiveWriter:
    """Writes the files of one run and tells their names.

    Parameters
    ----------
    folder : str
    products : tuple of str
    service : Service
    created : datetime or None
    """

    def __init__(
        self, folder: str, products: Sequence[str], service: Service, created: datetime | None
    ) -> None:
        self.folder = Path(folder)
        self.products = products
        self.service = service
        self.created = created

    def flight(self, archive: FlightArchive) -> list[Diagnostic]:
        """Write the files of a flight."""
        from encoder.sounding import sounding_of

        self.rows(archive)
        flight = archive.flight
        found: list[Diagnostic] = []
        for report in archive.reports:
            sounding = sounding_of(
                report,
                station=flight.station,
                nominal_time=flight.nominal_time,
                time=flight.release_time,
                formula=flight.vapour_pressure_formula,
                diagnostics=archive.diagnostics,
            )
            found += self.sounding(sounding)
        return found

    def rows(self, archive: FlightArchive) -> None:
        """Write the flight file alone."""
        from encoder.sounding import station_id

        flight = archive.flight
        if "flight" in self.products:
            name = f"{station_id(flight.station)}_{flight.nominal_time:%Y%m%dT%H%MZ}_flight"
            self._write(archive, name)

    def sounding(self, sounding: Sounding) -> list[Diagnostic]:
        """Write the files of a report."""
        from encoder.diagnostics import diagnostic
        from encoder.sounding import UNNAMED

        if "levels" in self.products:
            name = f"{sounding.station_id}_{sounding.nominal_time:%Y%m%dT%H%MZ}_levels"
            self._write(sounding, name)
        if "history" not in self.products:
            return []
        if sounding.station_id == UNNAMED:
            return [
                diagnostic(
                    "archive-station-unnamed", "The sounding names no station: it has no history."
                )
            ]
        return self._history(sounding)

    def _path(self, name: str) -> Path:
        from encoder.cli.output import Unreadable

        try:
            self.folder.mkdir(parents=True, exist_ok=True)
        except OSError as fault:
            msg = f"Cannot make the folder {self.folder}: {fault.strerror or fault}."
            raise Unreadable(msg) from fault
        return self.folder / f"{re.sub(r'[^A-Za-z0-9_.-]', '_', name)}.nc"

    def _write(self, value: Any, name: str) -> None:
        from encoder.cli.output import NotUsable, Unreadable
        from encoder.errors import InputError, MissingDependencyError
        from encoder.formats.netcdf import write_netcdf

        path = self._path(name)
        try:
            write_netcdf(value, path, service=self.service, created=self.created)
        except MissingDependencyError as fault:
            raise Unreadable(str(fault)) from fault
        except InputError as fault:
            raise NotUsable(fault.message) from fault
        except OSError as fault:
            raise _not_written(path, fault) from fault
        click.echo(f"wrote {path} ({path.stat().st_size:,} bytes)")

    def _history(self, sounding: Sounding) -> list[Diagnostic]:
        from encoder.cli.output import Unreadable
        from encoder.errors import MissingDependencyError
        from encoder.formats.netcdf import append_to_history

        path = self._path(f"{sounding.station_id}_history")
        try:
            result = append_to_history(path, [sounding], service=self.service, created=self.created)
        except MissingDependencyError as fault:
            raise Unreadable(str(fault)) from fault
        except OSError as fault:
            raise _not_written(path, fault) from fault
        if result.value is not None:
            count = len(result.value)
            words = "sounding" if count == 1 else "soundings"
            same = any(item.code == "archive-already-there" for item in result.diagnostics)
            verb = "left as it is:" if same else "wrote"
            click.echo(f"{verb} {path} ({count} {words}, {path.stat().st_size:,} bytes)")
        return list(result.diagnostics)


def _not_written(path: Path, fault: OSError) -> Exception:
    from encoder.cli.output import Unreadable

    return Unreadable(
        f"Cannot write {path}: {fault.strerror or fault}. Nothing was left behind; a file that "
        "was there is untouched."
    )
