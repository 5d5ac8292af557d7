"""The user's station catalogue: a station list in the data folder, merged and saved whole."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from encoder.diagnostics import Diagnostic, Result, has_errors
from encoder.formats.station_list import read_station_list, station_table
from encoder.formats.text_file import write_text
from encoder.stations import NORRELAND, StationCatalogue, merge_stations

if TYPE_CHECKING:
    import os

CATALOGUE_FILE = "stations.csv"
"""Name of the user's catalogue inside the data folder."""


class AddedStations(NamedTuple):
    """What adding a list to the user's catalogue came to."""

    catalogue: StationCatalogue
    read: int
    before: int
    path: Path


def load_catalogue(
    folder: str | os.PathLike[str] | None = None,
    override: str | os.PathLike[str] | None = None,
) -> Result[StationCatalogue]:
    """Return the catalogue in force: built in, the user's own, and a list for this run.

    Parameters
    ----------
    folder : path-like, optional
        The user's data folder; the caller decides where it is. It need not exist.
    override : path-like, optional
        A list whose entries come before all others, for one run.

    Returns
    -------
    Result of StationCatalogue
    """
    catalogue, found = NORRELAND, list[Diagnostic]()
    own = None if folder is None else Path(folder) / CATALOGUE_FILE
    lists = [own] if own is not None and own.exists() else []
    lists += [Path(override)] if override is not None else []
    for path in lists:
        records, faults = read_station_list(path)
        found.extend(faults)
        # that a list for one run comes first, or the user's before the built-in, is as intended
        catalogue = merge_stations(catalogue, records).value
    return Result(catalogue, tuple(found))


def add_stations(
    path: str | os.PathLike[str], folder: str | os.PathLike[str]
) -> Result[AddedStations | None]:
    """Merge a station list into the user's catalogue and save it.

    Parameters
    ----------
    path : path-like
        The list to add.
    folder : path-like
        The user's data folder; made if need be.

    Returns
    -------
    Result of AddedStations or None
        None where the list gave no station, or where the catalogue of before cannot be read in
        full; nothing is saved then. The file is written under a temporary name and then given its
        own, so that a crash leaves the old one whole.

    Raises
    ------
    OSError
        If the folder cannot be made or written to.
    """
    records, found = read_station_list(path)
    if not records:
        return Result(None, found)
    target = Path(folder) / CATALOGUE_FILE
    old, faults = read_station_list(target) if target.exists() else Result(())
    if has_errors(faults):
        return Result(None, (*found, *faults))
    before = StationCatalogue(old)
    merged, overlaps = merge_stations(before, records)
    target.parent.mkdir(parents=True, exist_ok=True)
    write_text(target, station_table(merged.records))
    return Result(
        AddedStations(merged, len(records), len(before), target), (*found, *faults, *overlaps)
    )
