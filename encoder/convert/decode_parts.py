"""Parts of coded soundings of a station, put together and decoded, as a batch."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from encoder.convert.account import Account
from encoder.convert.batch import Batch
from encoder.convert.decode_many import decode_soundings
from encoder.convert.parts import group_parts
from encoder.convert.soundings import COUNTED
from encoder.convert.work import RefusedItem
from encoder.diagnostics import Diagnostic, diagnostic
from encoder.formats.netcdf.converted_product import LevelQuality, SoundingQuality

if TYPE_CHECKING:
    from encoder.convert.parts import Parts
    from encoder.convert.work import Settings

TEXT_KIND = 3
BLOCK = 4096
"""Soundings decoded at a time, so that memory does not grow with the history."""
QUIET = frozenset(
    {"parts-missing", "report-not-ended", "lower-case", "text-outside-report", "parts-disagree"}
)
"""Findings that say nothing against the figures of a report."""


class Decoded(NamedTuple):
    """What the parts of a station came to.

    Attributes
    ----------
    batch : Batch or None
        None where no sounding could be decoded.
    refused : list of (int, RefusedItem)
        With the index of the source.
    found : list of Diagnostic
    account : Account
        Reports refused and put aside, levels and values read.
    places : list of list of (int, int, int)
        Source, offset and length of every part of each sounding.
    """

    batch: Batch | None
    refused: list[tuple[int, RefusedItem]]
    found: list[Diagnostic]
    account: Account
    places: list[list[tuple[int, int, int]]]


def decode_parts(parts: Parts, settings: Settings, names: list[str]) -> Decoded:
    """Put the parts of one station together and decode them.

    Parameters
    ----------
    parts : Parts
        In the order of sources.
    settings : Settings
    names : list of str
        File names of the sources, from which dates were taken.
    """
    from encoder.convert.soundings import Gathered

    grouped = group_parts(parts)
    account = Account.empty()
    found: list[Diagnostic] = []
    refused: list[tuple[int, RefusedItem]] = []
    lengths = parts.columns["length"].tolist()
    for place in (*grouped.repeated, *grouped.replaced):
        account.reports.aside += 1
        account.bytes.aside += lengths[place]
    gathered = Gathered()
    places: list[list[tuple[int, int, int]]] = []
    sources, offsets = parts.columns["source_index"].tolist(), parts.columns["offset"].tolist()
    facts = {
        name: parts.columns[name].tolist()
        for name in ("nominal_time", "time", "latitude", "longitude", "elevation")
    }
    for begin in range(0, len(grouped.soundings), BLOCK):
        block = grouped.soundings[begin : begin + BLOCK]
        results = decode_soundings(
            [[parts.texts[place] for place in members] for members in block],
            formula=settings.formula,
            repair=settings.repair,
        )
        for members, result in zip(block, results, strict=True):
            first = members[0]
            position = _position(parts.station, {n: v[first] for n, v in facts.items()}, settings)
            if position is None or result is None:
                account.soundings.read += 1
                account.soundings.refused += 1
                fault = _fault(parts.station, has_position=position is not None)
                for place in members:
                    account.reports.refused += 1
                    account.bytes.refused += lengths[place]
                    item = RefusedItem(
                        "coded-text",
                        offsets[place],
                        bytes(parts.texts[place]),
                        (fault,),
                        names[sources[place]],
                    )
                    refused.append((sources[place], item))
                continue
            quality, marks = _quality(result)
            found.extend(result.diagnostics)
            length = sum(lengths[place] for place in members)
            release = result.release
            gathered.add(
                parts.station,
                result.columns,
                result.kinds,
                status=result.status,
                quality=marks,
                text=b"\n".join(parts.texts[place] for place in members).decode("latin-1"),
                time=facts["nominal_time"][first] + (release or 0.0),
                nominal_time=facts["nominal_time"][first],
                latitude=position[0],
                longitude=position[1],
                elevation=position[2],
                source_index=sources[first],
                source_offset=offsets[first],
                source_length=length,
                source_kind=TEXT_KIND,
                time_source=1 if release is None else 0,
                sounding_quality=quality,
            )
            places.append([(sources[p], offsets[p], lengths[p]) for p in members])
    batches = gathered.batches()
    batch = batches.get(parts.station)
    if batch is not None:
        account.soundings.read += len(batch)
        account.levels.read += len(batch.levels["kinds"])
        account.values.read += sum(
            int(np.count_nonzero(~np.isnan(batch.levels[name]))) for name in COUNTED
        )
    return Decoded(batch, refused, found, account, places)


def _fault(station: str, *, has_position: bool) -> Diagnostic:
    if has_position:
        return diagnostic("convert-sounding-empty", "No level of the sounding could be read.")
    return diagnostic(
        "convert-position-unknown",
        f"Neither the report nor the catalogue has a position of {station}.",
        value=station,
    )


def _position(
    station: str, facts: dict[str, float], settings: Settings
) -> tuple[float, float, float] | None:
    latitude, longitude = facts["latitude"], facts["longitude"]
    if not math.isnan(latitude + longitude):
        return latitude, longitude, facts["elevation"]
    day = np.datetime64(int(facts["nominal_time"]), "s").astype("datetime64[D]").item()
    record = settings.catalogue.find(station, day).value
    return None if record is None else (record.latitude, record.longitude, record.elevation)


def _quality(result: Any) -> tuple[int, Any]:
    """Return the findings of decoding on a sounding and on its levels."""
    quality = 0
    marks = np.zeros(len(result.kinds), dtype=np.int16)
    for item in result.diagnostics:
        if item.code == "parts-missing":
            quality |= int(SoundingQuality.PARTS_MISSING)
        elif item.code == "parts-disagree":
            quality |= int(SoundingQuality.PARTS_DISAGREE)
        elif item.code not in QUIET and item.severity != "note":
            quality |= int(SoundingQuality.CODING_FAULTS)
        else:
            continue
        if item.code == "parts-missing":
            continue
        for step in item.path:
            if isinstance(step, str) and step.endswith(" hPa"):
                pressure = float(step.removesuffix(" hPa"))
                near = np.abs(result.columns["air_pressure"] - pressure) < 1e-3
                marks[near] |= int(LevelQuality.CODING_FAULT)
    return quality, marks
