"""A netCDF source as soundings: histories, level and flight files of ours, CF soundings of others.

A file is taken whole: where a part of it cannot be, all of it is refused.
"""

from __future__ import annotations

import tempfile
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from encoder.convert.soundings import Gathered, values_of
from encoder.convert.work import Content, RefusedItem
from encoder.diagnostics import Diagnostic, diagnostic

if TYPE_CHECKING:
    from encoder.archive import History
    from encoder.convert.batch import Batch
    from encoder.convert.sources import Source
    from encoder.convert.work import Settings
    from encoder.profile import Flight
    from encoder.sounding import Sounding

NETCDF_KIND = 1


def read_netcdf_source(source: Source, data: bytes, settings: Settings) -> Content:
    """Read a netCDF file.

    Parameters
    ----------
    source : Source
    data : bytes
        Its content.
    settings : Settings
    """
    content = Content()
    content.account.bytes.read = len(data)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "source.nc")
        path.write_bytes(data)
        batches, found = _batches(str(path))
    found = [_of_source(item, str(path), source.name) for item in found]
    if not batches:
        content.account.bytes.refused = len(data)
        refused = tuple(found) or (
            diagnostic("convert-member-refused", "The file holds no sounding.", file=source.name),
        )
        content.refused.append(RefusedItem("netcdf", 0, data, refused))
        content.failed.append(refused[0])
        return content
    content.found = found
    first = True
    for name, batch in batches.items():
        profiles = dict(batch.profiles)
        profiles["source_kind"] = np.full(len(batch), NETCDF_KIND, dtype=np.int8)
        profiles["source_offset"] = np.zeros(len(batch), dtype=np.int64)
        profiles["source_length"] = np.zeros(len(batch), dtype=np.int64)
        if first:
            profiles["source_length"][0] = len(data)
            first = False
        content.batches[name] = replace(batch, profiles=profiles)
        account = content.account
        account.soundings.read += len(batch)
        account.levels.read += len(batch.levels["kinds"])
        account.values.read += int(batch.profiles["values"].sum())
    return content


def _of_source(item: Diagnostic, path: str, name: str) -> Diagnostic:
    """Return what was said of the file the library read, as said of the source."""
    file = name if item.file == path else item.file
    return replace(item, message=item.message.replace(path, name), file=file)


def _batches(path: str) -> tuple[dict[str, Batch], list[Diagnostic]]:
    from encoder.archive import FlightArchive, History
    from encoder.convert.station_file import is_converted, read_converted
    from encoder.formats.foreign_flight import read_foreign
    from encoder.formats.netcdf import product_format, read_netcdf
    from encoder.formats.netcdf.container import FAULTS, opened

    result = opened(path)
    if result.value is None:
        return {}, list(result.diagnostics)
    with result.value as dataset:
        ours, converted = product_format(dataset), is_converted(dataset)
    if converted:
        try:
            batch, _station, _sources = read_converted(path)
        except (*FAULTS, KeyError, TypeError) as fault:
            words = " ".join(str(fault).split())
            return {}, [
                diagnostic("archive-damaged", f'"{path}" cannot be read: {words}.', file=path)
            ]
        profiles = dict(batch.profiles)
        profiles["values"] = values_by_sounding(batch)
        return {batch.station: replace(batch, profiles=profiles)}, []
    gathered = Gathered()
    if ours is None:
        foreign = read_foreign(path)
        if foreign.value is None:
            return {}, list(foreign.diagnostics)
        _add_flight(gathered, foreign.value)
        return gathered.batches(), list(foreign.diagnostics)
    read = read_netcdf(path)
    if read.value is None:
        return {}, list(read.diagnostics)
    if isinstance(read.value, History):
        _add_history(gathered, read.value)
    elif isinstance(read.value, FlightArchive):
        _add_flight(gathered, read.value.flight)
    else:
        _add_sounding(gathered, read.value)
    return gathered.batches(), list(read.diagnostics)


def values_by_sounding(batch: Batch) -> np.ndarray:
    """Return how many values each sounding of a batch has."""
    from encoder.convert.batch import fill_of
    from encoder.convert.soundings import COUNTED

    there = np.zeros(len(batch.levels["kinds"]), dtype=np.int64)
    for name in COUNTED:
        column = batch.levels[name]
        there += (column != fill_of(name)) if batch.tenths else ~np.isnan(column)
    summed = np.concatenate(([0], np.cumsum(there)))
    return np.asarray(summed[batch.offsets[1:]] - summed[batch.offsets[:-1]])


def _add_history(gathered: Gathered, history: History) -> None:
    for sounding in history.soundings():
        _add_sounding(gathered, sounding)


def _add_sounding(gathered: Gathered, sounding: Sounding) -> None:
    gathered.add(
        sounding.station_id,
        sounding.levels.columns,
        sounding.levels.kinds,
        status=sounding.status,
        text=sounding.text,
        time=sounding.time.timestamp(),
        nominal_time=sounding.nominal_time.timestamp(),
        latitude=sounding.station.latitude,
        longitude=sounding.station.longitude,
        elevation=sounding.station.elevation,
        time_source=0 if sounding.time != sounding.nominal_time else 1,
        values=values_of(sounding.levels.columns),
    )


def _add_flight(gathered: Gathered, flight: Flight) -> None:
    """Add the rows of a flight as levels of no kind."""
    from encoder.sounding import station_id

    profile = flight.profile
    release: datetime = flight.release_time
    nominal: datetime = flight.nominal_time
    gathered.add(
        station_id(flight.station),
        profile.columns,
        np.zeros(len(profile), dtype=np.int64),
        time=release.timestamp(),
        nominal_time=nominal.timestamp(),
        latitude=flight.station.latitude,
        longitude=flight.station.longitude,
        elevation=flight.station.elevation,
        time_source=0,
    )
