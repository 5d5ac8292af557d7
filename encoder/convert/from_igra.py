"""From soundings of the IGRA layout to the columns of the archive and back: whole numbers only."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.convert.batch import (
    MARKS,
    STATUSES,
    TENTHS,
    Batch,
    fill_of,
    profile_columns,
    sums_of_soundings,
)
from encoder.formats.igra.layout import FLAGS, MISSING, NO_HOUR, NO_TIME, REMOVED
from encoder.formats.igra.soundings import HEADER_COLUMNS, IgraSoundings
from encoder.formats.netcdf.converted_product import SoundingQuality
from encoder.levels.table import LevelKind
from encoder.sounding import NOT_REPORTED, REPORTED
from encoder.sounding import REMOVED as REMOVED_STATUS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

BLOCK = 1 << 16
"""Levels worked on at a time, so that they stay in the cache."""
_DAY = 86400.0
_HALF = 43200.0

NAMES = {
    "time": "elapsed",
    "air_pressure": "pressure",
    "geopotential_height": "height",
    "air_temperature": "temperature",
    "dew_point_depression": "depression",
    "relative_humidity": "humidity",
    "wind_from_direction": "direction",
    "wind_speed": "speed",
}
"""Level columns of the archive by those of the layout."""
_STATUS_OF = {"time": "elapsed_time"}

_KINDS = np.zeros(40, dtype=np.int32)
for _code in range(10, 40):
    _KINDS[_code] = (LevelKind.STANDARD if _code // 10 == 1 else 0) | {
        1: LevelKind.SURFACE,
        2: LevelKind.TROPOPAUSE,
    }.get(_code % 10, 0)
_MARK = np.zeros(256, dtype=np.int8)
_MARK[FLAGS[1]], _MARK[FLAGS[2]] = 1, 2


def station_key(identifier: str) -> str:
    """Return the name of a station in the archive: its WMO index where the identifier has one.

    The third letter of an identifier names the network; M is the numbers of the WMO (format
    description of the IGRA station list).
    """
    if len(identifier) == 11 and identifier[2] == "M" and identifier[-5:].isdigit():
        return identifier[-5:]
    return identifier.strip()


def archive_columns(
    source: Mapping[str, NDArray[Any]],
) -> tuple[dict[str, NDArray[Any]], NDArray[np.int16]]:
    """Return level columns of the layout as those of the archive.

    Parameters
    ----------
    source : mapping of str to ndarray, shape (level,)
        Of :class:`encoder.formats.igra.soundings.IgraSoundings`.

    Returns
    -------
    levels : dict of str to ndarray, shape (level,)
        As of :class:`encoder.convert.batch.Batch`.
    present : ndarray of int16, shape (level,)
        How many values each level has.
    """
    levels, present = _empty_columns(len(source["kind"]))
    for begin in range(0, len(present), BLOCK):
        block = slice(begin, begin + BLOCK)
        for name, own in NAMES.items():
            values = source[own][block]
            missing, removed = values == MISSING, values == REMOVED
            gone = missing | removed
            figures = levels[name][block]
            figures[...] = _seconds(values) if name == "time" else values
            np.putmask(figures, gone, fill_of(name))
            present[block] += ~gone
            status = _STATUS_OF.get(name, name)
            if status in STATUSES:
                said = levels[f"{status}_status"][block]
                said[...] = REPORTED
                said += missing.view(np.int8) * np.int8(NOT_REPORTED)
                said += removed.view(np.int8) * np.int8(REMOVED_STATUS)
        levels["kinds"][block] = _KINDS[source["kind"][block]]
        for name in MARKS:
            levels[name][block] = _MARK[source[name][block]]
    return levels, present


def compiled_columns(
    source: Mapping[str, NDArray[Any]],
) -> tuple[dict[str, NDArray[Any]], NDArray[np.int16]]:
    """Return what :func:`archive_columns` does, by compiled code."""
    from encoder.convert.compiled_figures import fill_figures, fill_from

    levels, present = _empty_columns(len(source["kind"]))
    nobody = np.empty(len(present), dtype=np.int8)
    for name, own in NAMES.items():
        status = levels.get(f"{_STATUS_OF.get(name, name)}_status", nobody)
        fill_figures(source[own], levels[name], status, present, fill_of(name), name == "time")
    fill_from(_KINDS, source["kind"], levels["kinds"])
    for name in MARKS:
        fill_from(_MARK, source[name], levels[name])
    return levels, present


def _empty_columns(count: int) -> tuple[dict[str, NDArray[Any]], NDArray[np.int16]]:
    columns: dict[str, NDArray[Any]] = {
        name: np.empty(count, dtype=packing.dtype) for name, packing in TENTHS.items()
    }
    columns |= {f"{name}_status": np.empty(count, dtype=np.int8) for name in STATUSES}
    columns |= {name: np.empty(count, dtype=np.int8) for name in MARKS}
    columns["kinds"] = np.empty(count, dtype=np.int32)
    return columns, np.zeros(count, dtype=np.int16)


def batch_of_igra(soundings: IgraSoundings, station: str, *, compiled: bool = False) -> Batch:
    """Return soundings as a batch.

    Parameters
    ----------
    soundings : IgraSoundings
    station : str
        Identifier in the archive.
    compiled : bool
        Use compiled code, which gives the same.
    """
    source = soundings.levels
    levels, present = compiled_columns(source) if compiled else archive_columns(source)
    levels["source_level_type"] = source["kind"]
    levels["level_quality"] = np.zeros(len(present), dtype=np.int16)
    headers = soundings.headers
    release, nominal, known = times(headers)
    quality = np.where(headers["announced"] != headers["row_size"], _bit("LEVEL_COUNT_DIFFERS"), 0)
    quality |= np.where(headers["hour"] == NO_HOUR, _bit("HOUR_UNKNOWN"), 0)
    return Batch(
        station,
        True,
        profile_columns(
            len(soundings),
            time=release,
            nominal_time=nominal,
            latitude=_degrees(headers["latitude"]),
            longitude=_degrees(headers["longitude"]),
            row_size=headers["row_size"],
            source_offset=headers["offset"],
            source_length=headers["length"],
            source_kind=0,
            time_source=known,
            sounding_quality=quality,
            values=sums_of_soundings(present, headers["row_size"], np.int64),
            announced_levels=headers["announced"],
            header_hour=headers["hour"],
            header_release=headers["release"],
            line_ending=headers["ending"],
            header_station=headers["station"],
            pressure_source=headers["pressure_source"],
            other_source=headers["other_source"],
        ),
        levels,
    )


def _bit(name: str) -> int:
    return int(SoundingQuality[name])


def _seconds(values: NDArray[Any]) -> NDArray[Any]:
    """Return MMMSS as seconds; figures for missing come out as something else."""
    minutes = values // 100
    return np.asarray(values - 40 * minutes)


def _degrees(values: NDArray[Any]) -> NDArray[np.float64]:
    """Return degrees, NaN where the layout says that the position is missing (-98, -998)."""
    degrees = values / 10000.0
    return np.where(values < -9900000, np.nan, np.where(values == -988888, np.nan, degrees))


def times(
    headers: Mapping[str, NDArray[Any]],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int8]]:
    """Return when soundings were made.

    Parameters
    ----------
    headers : mapping of str to ndarray, shape (sounding,)
        Of :class:`encoder.formats.igra.soundings.IgraSoundings`.

    Returns
    -------
    time : ndarray
        Release in seconds since 1970 where hour and minute are known, else the nominal hour, else
        the beginning of the day.
    nominal : ndarray
        The nominal hour, or the beginning of the day where there is none.
    source : ndarray of int8
        0 release, 1 nominal hour, 2 date only.

    Notes
    -----
    The date belongs to the hour of the header: a release more than twelve hours away from it was
    on the day before or after, so 2303 with the hour 00 is the evening before.
    """
    days = _days_since_1970(headers["year"], headers["month"], headers["day"])
    midnight = days * _DAY
    hour = headers["hour"].astype(np.float64)
    no_hour = headers["hour"] == NO_HOUR
    nominal = midnight + np.where(no_hour, 0.0, hour * 3600.0)
    release = headers["release"].astype(np.int64)
    known = (release != NO_TIME) & (release % 100 != 99)
    launched = midnight + (release // 100) * 3600.0 + (release % 100) * 60.0
    away = launched - nominal
    shift = np.where(
        no_hour, 0.0, np.where(away > _HALF, -_DAY, np.where(away < -_HALF, _DAY, 0.0))
    )
    time = np.where(known, launched + shift, nominal)
    source = np.where(known, 0, np.where(no_hour, 2, 1)).astype(np.int8)
    return time, nominal, source


def _days_since_1970(
    year: NDArray[Any], month: NDArray[Any], day: NDArray[Any]
) -> NDArray[np.float64]:
    months = (year.astype(np.int64) - 1970) * 12 + month - 1
    first = months.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    return np.asarray(first + day - 1, dtype=np.float64)


def igra_of_batch(batch: Batch) -> IgraSoundings:
    """Return the soundings of a batch that came from the IGRA layout, in the layout again.

    Raises
    ------
    ValueError
        If a sounding came from another kind of source.
    """
    profiles, columns = batch.profiles, batch.levels
    if not batch.tenths or bool((profiles["line_ending"] < 0).any()):
        msg = "not all soundings came from the IGRA layout"
        raise ValueError(msg)
    levels: dict[str, NDArray[Any]] = {"kind": columns["source_level_type"]}
    for name, own in NAMES.items():
        figures = columns[name]
        gone = figures == fill_of(name)
        values = figures.astype(np.int32)
        if name == "time":
            values = values + 40 * (values // 60)
        status = _STATUS_OF.get(name, name)
        removed = gone & False
        if status in STATUSES:
            removed = columns[f"{status}_status"] == REMOVED_STATUS
        levels[own] = np.where(gone, np.where(removed, REMOVED, MISSING), values)
    flags = np.frombuffer(FLAGS, np.uint8)
    for name in ("pressure_flag", "height_flag", "temperature_flag"):
        levels[name] = flags[columns[name]]
    nominal = profiles["nominal_time"].astype("datetime64[s]")
    day = nominal.astype("datetime64[D]")
    month = nominal.astype("datetime64[M]")
    headers = {
        "station": profiles["header_station"],
        "pressure_source": profiles["pressure_source"],
        "other_source": profiles["other_source"],
        "year": nominal.astype("datetime64[Y]").astype(np.int64) + 1970,
        "month": month.astype(np.int64) % 12 + 1,
        "day": (day - month.astype("datetime64[D]")).astype(np.int64) + 1,
        "hour": profiles["header_hour"],
        "release": profiles["header_release"],
        "announced": profiles["announced_levels"],
        "latitude": _tenthousandths(profiles["latitude"], -988888),
        "longitude": _tenthousandths(profiles["longitude"], -9988888),
        "row_size": profiles["row_size"],
        "offset": profiles["source_offset"],
        "length": profiles["source_length"],
        "ending": profiles["line_ending"],
    }
    return IgraSoundings(
        {name: np.asarray(headers[name]).astype(kind) for name, kind in HEADER_COLUMNS.items()},
        levels,
    )


def _tenthousandths(degrees: NDArray[np.float64], missing: int) -> NDArray[np.int64]:
    whole = np.rint(np.nan_to_num(degrees) * 10000.0).astype(np.int64)
    return np.where(np.isnan(degrees), missing, whole)
