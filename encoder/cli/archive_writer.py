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
    replace : bool
        Whether a flight file that says something else may be replaced.
    """

    def __init__(
        self,
        folder: str,
        products: Sequence[str],
        service: Service,
        created: datetime | None,
        *,
        replace: bool,
    ) -> None:
        self.folder = Path(folder)
        self.products = products
        self.service = service
        self.created = created
        self.replace = replace

    def flight(self, archive: FlightArchive) -> list[Diagnostic]:
        """Write the files of a flight."""
        from encoder.sounding import sounding_of

        found = self.rows(archive)
        flight = archive.flight
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

    def rows(self, archive: FlightArchive) -> list[Diagnostic]:
        """Write the flight file alone; one that says something else is kept."""
        from encoder.diagnostics import diagnostic
        from encoder.sounding import station_id

        flight = archive.flight
        if "flight" not in self.products:
            return []
        name = f"{station_id(flight.station)}_{flight.nominal_time:%Y%m%dT%H%MZ}_flight"
        if not self.replace and self._differs(self._path(name), archive):
            path = self._path(name)
            message = f"{path} holds other rows, facts or reports of this flight; it is kept."
            return [diagnostic("archive-flight-differs", message, file=str(path))]
        self._write(archive, name)
        return []

    def _differs(self, path: Path, archive: FlightArchive) -> bool:
        """Tell whether a file is there that holds another flight, other levels or reports."""
        from encoder.archive import FlightArchive
        from encoder.errors import MissingDependencyError
        from encoder.formats.netcdf import read_netcdf

        if not path.exists():
            return False
        try:
            held = read_netcdf(path).value
        except MissingDependencyError:
            return False  # told when writing
        if not isinstance(held, FlightArchive):
            return True
        texts = [[report.text for report in one.reports] for one in (held, archive)]
        return held.flight != archive.flight or texts[0] != texts[1]

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
