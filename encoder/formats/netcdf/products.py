"""The products of the archive together: whichever a value or a file is, written and read."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from encoder.archive import FlightArchive, History
from encoder.diagnostics import Result, diagnostic
from encoder.errors import FormatError
from encoder.formats.netcdf.container import FAULTS, opened
from encoder.formats.netcdf.flight_file import flight_of_dataset, write_flight_file
from encoder.formats.netcdf.flight_product import FLIGHT
from encoder.formats.netcdf.history_file import history_of_dataset, write_history_file
from encoder.formats.netcdf.level_file import sounding_of_dataset, write_level_file
from encoder.formats.netcdf.level_product import HISTORY, LEVELS
from encoder.sounding import Sounding

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime
    from typing import Any

    from encoder.archive import Service

PRODUCTS = {item.name: item for item in (FLIGHT, LEVELS, HISTORY)}
"""The products by name."""

_READERS: dict[str, Callable[[Any], FlightArchive | Sounding | History]] = {
    FLIGHT.format: flight_of_dataset,
    LEVELS.format: sounding_of_dataset,
    HISTORY.format: history_of_dataset,
}


def write_netcdf(
    value: FlightArchive | Sounding | History,
    path: str | os.PathLike[str],
    *,
    service: Service | None = None,
    created: datetime | None = None,
) -> None:
    """Write a product: a flight, one sounding, or a station's history.

    Parameters
    ----------
    value : FlightArchive, Sounding or History
    path : path-like
        An older file of that name is replaced once the new one is complete.
    service : Service, optional
        Who makes and publishes the file.
    created : datetime, optional
        When the values were last changed; the end of the data by default.

    Raises
    ------
    OSError
        If the file cannot be written; nothing is left behind then.
    InputError
        If the ascent of a flight is not made of rows of its profile.
    MissingDependencyError
        If netCDF4 is not installed.
    """
    if isinstance(value, FlightArchive):
        write_flight_file(path, value, service=service, created=created)
    elif isinstance(value, Sounding):
        write_level_file(path, value, service=service, created=created)
    else:
        write_history_file(path, value, service=service, created=created)


def read_netcdf(
    path: str | os.PathLike[str],
) -> Result[FlightArchive | Sounding | History | None]:
    """Read a product back: the same values, diagnostics and reports that were written.

    Parameters
    ----------
    path : path-like

    Returns
    -------
    Result of FlightArchive, Sounding, History or None
        None where the file is missing, damaged, changed, or none of ours; see
        :func:`encoder.formats.foreign_cf.read_foreign` for files of others.

    Raises
    ------
    MissingDependencyError
        If netCDF4 is not installed.
    """
    result = opened(path)
    dataset = result.value
    if dataset is None:
        return Result(None, result.diagnostics)
    name = str(os.fspath(path))
    kind: str | None = None
    with dataset:
        try:
            kind = product_format(dataset)
            if kind in _READERS:
                return Result(_READERS[kind](dataset))
        except KeyError as fault:
            return _incomplete(name, f'"{name}" ({kind}) lacks {fault}.')
        except (*FAULTS, TypeError, FormatError) as fault:
            return _incomplete(name, f'"{name}" ({kind}) was changed or damaged: {fault}.')
    found = "none" if kind is None else repr(kind)
    return Result(
        None,
        (
            diagnostic(
                "archive-other-product",
                f'Expected a file of this archive, "{name}" has product_format {found}.',
                file=name,
                value=kind,
                expected=", ".join(_READERS),
            ),
        ),
    )


def product_format(dataset: Any) -> str | None:
    """Return the product an open file says it is, None where it does not say.

    Raises
    ------
    AttributeError, RuntimeError, OSError
        If the file is damaged.
    """
    known = "product_format" in dataset.ncattrs()
    return str(dataset.getncattr("product_format")) if known else None


def _incomplete(name: str, message: str) -> Result[FlightArchive | Sounding | History | None]:
    return Result(None, (diagnostic("archive-incomplete", message, file=name),))
