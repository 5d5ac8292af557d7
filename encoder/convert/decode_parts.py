"""Parts of coded soundings of a station, put together and decoded, as a batch."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from encoder.convert.account import Account
from encoder.convert.batch import Batch, joined_batches
from encoder.convert.decode_many import decode_soundings
from encoder.convert.parts import group_parts
from encoder.convert.soundings import values_of
from encoder.convert.work import RefusedItem
from encoder.diagnostics import Diagnostic, diagnostic
from encoder.formats.netcdf.converted_product import LevelQuality, SoundingQuality

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from encoder.convert.decode_many import DecodedSounding
    from encoder.convert.parts import Grouped, Parts
    from encoder.convert.work import Settings

TEXT_KIND = 3
BLOCK = 4096
"""Soundings decoded at a time, so that memory does not grow with the history."""
NEARBY, NEARBY_HOURS = 8, 11.0
"""Soundings, and hours, between which parts of one sounding are looked for; stations launch twice
a day as a rule."""
BESIDE = 8
"""Characters from a finding within which a group may be touched by it: one more group."""
_UPPER = frozenset((b"C", b"D"))
"""Parts that no sounding has alone."""
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
    accounts : list of Account
        By source: reports written, refused and put aside, bytes refused and put aside, soundings,
        levels and values read. A sounding counts where its first part is.
    places : list of list of (int, int, int)
        Source, offset and length of every part of each sounding.
    repairs : list of dict
        Groups that were read as something else: source, offset, what was received, what was read,
        and why.
    """

    batch: Batch | None
    refused: list[tuple[int, RefusedItem]]
    found: list[Diagnostic]
    accounts: list[Account]
    places: list[list[tuple[int, int, int]]]
    repairs: list[dict[str, Any]]


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
    accounts = [Account.empty() for _ in names]
    found: list[Diagnostic] = []
    refused: list[tuple[int, RefusedItem]] = []
    repairs: list[dict[str, Any]] = []
    lengths = parts.columns["length"].tolist()
    sources, offsets = parts.columns["source_index"].tolist(), parts.columns["offset"].tolist()
    for place in (*grouped.repeated, *grouped.replaced):
        accounts[sources[place]].reports.aside += 1
        accounts[sources[place]].bytes.aside += lengths[place]
    blocks: list[Batch] = []
    places: list[list[tuple[int, int, int]]] = []
    facts = {
        name: parts.columns[name].tolist()
        for name in ("nominal_time", "time", "latitude", "longitude", "elevation")
    }
    far = parts.columns["far_from_heading"].tolist()
    scattered = _scattered(parts, grouped)
    for begin in range(0, len(grouped.soundings), BLOCK):
        gathered = Gathered()
        block = grouped.soundings[begin : begin + BLOCK]
        results = decode_soundings(
            [[parts.texts[place] for place in members] for members in block],
            formula=settings.formula,
            repair=settings.repair,
            days=[_day(facts["nominal_time"][members[0]]) for members in block],
        )
        for members, result in zip(block, results, strict=True):
            first = members[0]
            position = _position(parts.station, {n: v[first] for n, v in facts.items()}, settings)
            account = accounts[sources[first]]
            account.soundings.read += 1
            edition = _no_edition(result)
            if position is None or result is None or edition is not None:
                account.soundings.refused += 1
                fault = edition or _fault(parts.station, has_position=position is not None)
                for place in members:
                    accounts[sources[place]].reports.refused += 1
                    accounts[sources[place]].bytes.refused += lengths[place]
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
            if any(far[place] for place in members):
                quality |= int(SoundingQuality.TIME_NOT_OF_HEADING)
            if first in scattered:
                quality |= int(SoundingQuality.PARTS_SCATTERED)
            found.extend(result.diagnostics)
            if quality & int(SoundingQuality.REPAIRED):
                repairs += _repairs(
                    result.diagnostics, [(sources[p], offsets[p], lengths[p]) for p in members]
                )
            account.levels.read += len(result.kinds)
            account.values.read += values_of(result.columns)
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
            for place in members:
                accounts[sources[place]].reports.written += 1
        blocks += gathered.batches().values()
    batch = joined_batches(blocks) if blocks else None
    return Decoded(batch, refused, found, accounts, places, repairs)


def _scattered(parts: Parts, grouped: Grouped) -> set[int]:
    """Return the first parts of soundings that have just the parts another one nearby lacks.

    Parts of one sounding whose day or hour was damaged stand by themselves under a time that
    nothing else was made at.
    """
    nominal, letters = parts.columns["nominal_time"].tolist(), parts.columns["letters"].tolist()
    usual = frozenset(b"ABCD"[place : place + 1] for place in range(4))
    known = []
    for members in grouped.soundings:
        own = frozenset(letters[place][3:4] for place in members)
        known.append((nominal[members[0]], letters[members[0]][:2], own, members[0]))
    known.sort(key=lambda item: item[:2])
    found: set[int] = set()
    for place, (time, form, own, first) in enumerate(known):
        if usual <= own:
            continue
        for later, other_form, others, other_first in known[place + 1 : place + 1 + NEARBY]:
            if later - time > NEARBY_HOURS * 3600.0:
                break
            apart = form == other_form and not own & others
            whole = own | others >= {b"A", b"B"}
            if apart and (whole or own <= _UPPER or others <= _UPPER):
                found |= {first, other_first}
    return found


def _repairs(
    found: Sequence[Diagnostic], places: Sequence[tuple[int, int, int]]
) -> list[dict[str, Any]]:
    """Return the repairs of a sounding with the place of each in its source.

    Parameters
    ----------
    found : sequence of Diagnostic
    places : sequence of (int, int, int)
        Source, offset and length of the parts, which stand in lines of their own in the text.
    """
    made = []
    for item in found:
        if item.code != "repaired" or item.span is None:
            continue
        begin = 0
        for source, offset, length in places:
            if item.span[0] <= begin + length:
                made.append(
                    {
                        "source": source,
                        "offset": offset + item.span[0] - begin,
                        "received": item.value or "",
                        "read": item.expected or "",
                        "why": item.message,
                    }
                )
                break
            begin += length + 1
    return made


def _day(nominal: float) -> date:
    return datetime.fromtimestamp(nominal, UTC).date()


def _no_edition(result: DecodedSounding | None) -> Diagnostic | None:
    """Return the finding that no edition of the form is known for the day of a sounding."""
    found = () if result is None else result.diagnostics
    return next((item for item in found if item.code == "no-edition"), None)


def _fault(station: str, *, has_position: bool) -> Diagnostic:
    if has_position:
        return diagnostic(
            "convert-sounding-empty",
            "No level could be read, or the parts are not of one sounding.",
        )
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


def _quality(result: DecodedSounding) -> tuple[int, NDArray[np.int16]]:
    """Return the findings of decoding on a sounding and on its levels.

    A level is marked where a finding names its pressure, and where the finding is on one of its
    groups or next to one: beside a group that cannot be read, others may be not what they seem.
    """
    quality = 0
    marks = np.zeros(len(result.kinds), dtype=np.int16)
    pressures = result.columns["air_pressure"]
    for item in result.diagnostics:
        if item.code == "parts-missing":
            quality |= int(SoundingQuality.PARTS_MISSING)
            continue
        bit = int(LevelQuality.CODING_FAULT)
        if item.code == "wind-unit-doubtful":
            quality |= int(SoundingQuality.WIND_UNIT_SUSPECT)
        if item.code == "parts-disagree":
            quality |= int(SoundingQuality.PARTS_DISAGREE)
        elif item.code == "repaired":
            quality |= int(SoundingQuality.REPAIRED)
            bit = int(LevelQuality.VALUE_REPAIRED)
        elif item.code not in QUIET and item.severity != "note":
            quality |= int(SoundingQuality.CODING_FAULTS)
        else:
            continue
        for step in item.path:
            if isinstance(step, str) and step.endswith(" hPa"):
                marks[np.abs(pressures - float(step.removesuffix(" hPa"))) < 1e-3] |= bit
        if item.span is not None:
            first, last = item.span
            for begin, end, level in result.reach:
                if begin - BESIDE < last and first < end + BESIDE:
                    marks[level] |= bit
    return quality, marks
