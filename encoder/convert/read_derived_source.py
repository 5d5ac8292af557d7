"""A derived file of IGRA as soundings: a second copy of what the sounding data have."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from encoder.convert.from_igra import station_key, times
from encoder.convert.soundings import Gathered
from encoder.convert.work import Content, RefusedItem
from encoder.diagnostics import diagnostic
from encoder.formats.igra.derived import read_derived
from encoder.formats.igra.layout import NO_HOUR
from encoder.formats.netcdf.converted_product import SoundingQuality

if TYPE_CHECKING:
    from encoder.convert.sources import Source
    from encoder.convert.work import Settings
    from encoder.formats.igra.derived import DerivedSounding
    from encoder.stations import StationRecord

DERIVED_KIND = 5


def read_derived_source(source: Source, data: bytes, settings: Settings) -> Content:
    """Read a derived file.

    Its header has no position: that of the catalogue at the date is taken.

    Parameters
    ----------
    source : Source
    data : bytes
        Its content.
    settings : Settings
    """
    content = Content()
    gathered = Gathered()
    account = content.account
    account.bytes.read = len(data)
    for one in read_derived(data, file=source.name):
        rows = len(one.levels["pressure"]) if one.levels else one.data.count(b"\n")
        account.soundings.read += 1
        account.levels.read += rows
        wrong = one.diagnostics
        record = None if wrong else _record(one, settings)
        if not wrong and record is None:
            wrong = (
                diagnostic(
                    "convert-position-unknown",
                    f"A derived file has no positions, and the catalogue none of {one.station}.",
                    file=source.name,
                    value=one.station,
                ),
            )
        if record is None:
            account.soundings.refused += 1
            account.levels.refused += rows
            account.bytes.refused += len(one.data)
            content.refused.append(RefusedItem("igra-derived", one.offset, one.data, wrong))
            continue
        _add(gathered, one, record)
    content.batches = gathered.batches()
    account.values.read = sum(
        int(batch.profiles["values"].sum()) for batch in content.batches.values()
    )
    return content


def _record(one: DerivedSounding, settings: Settings) -> StationRecord | None:
    return settings.catalogue.find(station_key(one.station), date(*one.date[:3])).value


def _add(gathered: Gathered, one: DerivedSounding, record: StationRecord) -> None:
    levels = one.levels
    east, north = levels["east"], levels["north"]
    speed = np.hypot(east, north)
    direction = np.degrees(np.arctan2(-east, -north)) % 360.0
    direction[speed == 0.0] = 0.0
    direction[(direction == 0.0) & (speed > 0.0)] = 360.0
    quality = 0
    count = len(levels["pressure"])
    if count != one.announced:
        quality |= int(SoundingQuality.LEVEL_COUNT_DIFFERS)
    year, month, day, hour, release = one.date
    if hour == NO_HOUR:
        quality |= int(SoundingQuality.HOUR_UNKNOWN)
    headers = {
        name: np.array([value])
        for name, value in zip(
            ("year", "month", "day", "hour", "release"),
            (year, month, day, hour, release),
            strict=True,
        )
    }
    launched, nominal, known = times(headers)
    gathered.add(
        station_key(one.station),
        {
            "air_pressure": levels["pressure"],
            "geopotential_height": levels["height"],
            "air_temperature": levels["temperature"],
            "relative_humidity": levels["humidity"],
            "wind_from_direction": direction,
            "wind_speed": speed,
        },
        np.zeros(count, dtype=np.int64),
        time=float(launched[0]),
        nominal_time=float(nominal[0]),
        latitude=record.latitude,
        longitude=record.longitude,
        elevation=record.elevation,
        time_source=int(known[0]),
        source_offset=one.offset,
        source_length=len(one.data),
        source_kind=DERIVED_KIND,
        sounding_quality=quality,
    )
