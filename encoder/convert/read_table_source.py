"""A table read through a column map as soundings."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from encoder.convert.soundings import Gathered
from encoder.convert.work import Content, RefusedItem
from encoder.diagnostics import diagnostic
from encoder.formats.column_map import read_mapped_table

if TYPE_CHECKING:
    from encoder.convert.sources import Source
    from encoder.convert.work import Settings

TABLE_KIND = 4


def read_table_source(source: Source, data: bytes, settings: Settings) -> Content:
    """Read a table.

    Parameters
    ----------
    source : Source
    data : bytes
        Its content.
    settings : Settings
        With a column map.
    """
    content = Content()
    gathered = Gathered()
    account = content.account
    account.bytes.read = len(data)
    if settings.column_map is None:
        found = diagnostic(
            "convert-member-refused", "A table needs a column map (--map).", file=source.name
        )
        account.bytes.refused = len(data)
        content.refused.append(RefusedItem("table", 0, data, (found,)))
        content.failed.append(found)
        return content
    soundings, aside = read_mapped_table(data, settings.column_map, file=source.name)
    account.bytes.aside = sum(len(item) for _offset, item in aside)
    for one in soundings:
        account.soundings.read += 1
        rows = one.data.count(b"\n") + (not one.data.endswith(b"\n"))
        account.levels.read += rows
        facts = dict(one.facts)
        wrong = one.diagnostics
        if not wrong and math.isnan(facts["latitude"] + facts["longitude"]):
            day = np.datetime64(int(facts["nominal_time"]), "s").astype("datetime64[D]").item()
            record = settings.catalogue.find(one.station, day).value
            if record is None:
                wrong = (
                    diagnostic(
                        "convert-position-unknown",
                        f"Neither the table nor the catalogue has a position of {one.station}.",
                        file=source.name,
                        value=one.station,
                    ),
                )
            else:
                facts["latitude"], facts["longitude"] = record.latitude, record.longitude
                facts["elevation"] = record.elevation
        if wrong:
            account.soundings.refused += 1
            account.levels.refused += rows
            account.bytes.refused += len(one.data)
            content.refused.append(RefusedItem("table", one.offset, one.header + one.data, wrong))
            continue
        gathered.add(
            one.station.replace("/", "_").replace(" ", "_"),
            one.columns,
            np.zeros(rows, dtype=np.int64),
            time=facts["nominal_time"] if math.isnan(facts["time"]) else facts["time"],
            nominal_time=facts["nominal_time"],
            latitude=facts["latitude"],
            longitude=facts["longitude"],
            elevation=facts["elevation"],
            time_source=1 if math.isnan(facts["time"]) else 0,
            source_offset=one.offset,
            source_length=len(one.data),
            source_kind=TABLE_KIND,
        )
    content.batches = gathered.batches()
    account.values.read = sum(
        int(batch.profiles["values"].sum()) for batch in content.batches.values()
    )
    return content
