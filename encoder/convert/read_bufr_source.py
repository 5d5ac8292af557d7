"""A source of BUFR messages as soundings."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from encoder.convert.soundings import Gathered
from encoder.convert.work import Content, RefusedItem
from encoder.diagnostics import Diagnostic, diagnostic, has_errors

if TYPE_CHECKING:
    from encoder.convert.sources import Source
    from encoder.convert.work import Settings
    from encoder.formats.bufr.sounding import BufrSounding
    from encoder.formats.bufr.stream import FoundMessage

BUFR_KIND = 2


def read_bufr_source(source: Source, data: bytes, settings: Settings) -> Content:
    """Read BUFR messages.

    Parameters
    ----------
    source : Source
    data : bytes
        Its content.
    settings : Settings
    """
    content = Content()
    gathered = Gathered()
    content.account.bytes.read = len(data)
    _take(content, gathered, data, 0, given=(source, settings))
    content.batches = gathered.batches()
    return content


def take_message(
    content: Content, data: bytes, offset: int, source: Source, settings: Settings
) -> None:
    """Take the messages inside a piece of traffic; its bytes are counted as read already."""
    gathered = Gathered()
    _take(content, gathered, data, offset, given=(source, settings))
    from encoder.convert.batch import joined_batches

    for name, batch in gathered.batches().items():
        before = content.batches.get(name)
        content.batches[name] = batch if before is None else joined_batches([before, batch])


def _take(
    content: Content,
    gathered: Gathered,
    data: bytes,
    base: int,
    *,
    given: tuple[Source, Settings],
) -> None:
    from encoder.formats.bufr.stream import find_messages

    account = content.account
    place = 0
    for item in find_messages(io.BytesIO(data)):
        if isinstance(item, Diagnostic):
            begin = item.span[0] if item.span is not None else 0
            refused = data[begin : begin + 8]
            content.refused.append(RefusedItem("bufr", base + begin, refused, (item,)))
            continue
        _between(content, data, place, item.offset, base)
        place = item.offset + len(item.data)
        _take_one(content, gathered, item, base, given=given)
    _between(content, data, place, len(data), base)
    account.bytes.aside += 0


def _between(content: Content, data: bytes, begin: int, end: int, base: int) -> None:
    """Account for what stands between messages: envelopes aside, all else refused."""
    piece = data[begin:end]
    if not piece:
        return
    if len(piece) <= 128 and b"BUFR" not in piece:
        content.account.bytes.aside += len(piece)
        return
    content.account.bytes.refused += len(piece)
    found = diagnostic(
        "convert-text-unread",
        f"{len(piece):,} bytes at byte {base + begin} are no message.",
        span=(base + begin, base + end),
    )
    content.refused.append(RefusedItem("bufr", base + begin, piece, (found,)))


def _take_one(
    content: Content,
    gathered: Gathered,
    item: FoundMessage,
    base: int,
    *,
    given: tuple[Source, Settings],
) -> None:
    source, settings = given
    from encoder.formats.bufr.read import read_message

    result = read_message(item, formula=settings.formula)
    account = content.account
    soundings = [one for one in result.value if not one.nil]
    usable = [one for one in soundings if _place_of(one, settings) is not None]
    account.soundings.read += len(soundings)
    nil_only = bool(result.value) and not soundings
    if (not soundings and not nil_only) or len(usable) < len(soundings):
        found = result.diagnostics or (
            diagnostic(
                "convert-member-refused",
                f"The message at byte {base + item.offset} has no time, station or position.",
                file=source.name,
                span=(base + item.offset, base + item.offset + len(item.data)),
            ),
        )
        account.bytes.refused += len(item.data)
        account.soundings.refused += len(soundings)
        for one in soundings:
            _count_levels(content, one, refused=True)
        content.refused.append(RefusedItem("bufr", base + item.offset, item.data, found))
        return
    if nil_only:
        account.bytes.aside += len(item.data)
        return
    content.found.extend(result.diagnostics)
    for number, one in enumerate(usable):
        place = _place_of(one, settings)
        if place is None:
            continue
        _count_levels(content, one, refused=False)
        nominal = one.nominal_time or one.release_time
        released = one.release_time or nominal
        if nominal is None or released is None:
            continue
        gathered.add(
            one.station.replace("/", "_").replace(" ", "_"),
            one.levels.columns,
            one.levels.kinds,
            time=released.timestamp(),
            nominal_time=nominal.timestamp(),
            latitude=place[0],
            longitude=place[1],
            elevation=one.ground_height if one.ground_height == one.ground_height else place[2],
            source_offset=base + item.offset,
            source_length=len(item.data) if number == 0 else 0,
            source_kind=BUFR_KIND,
            time_source=0 if one.release_time is not None else 1,
            sounding_quality=_CODING if has_errors(result.diagnostics) else 0,
        )


_CODING = 1 << 7
"""SoundingQuality.CODING_FAULTS."""


def _count_levels(content: Content, one: BufrSounding, *, refused: bool) -> None:
    from encoder.convert.soundings import values_of

    account = content.account
    levels, values = len(one.levels), values_of(one.levels.columns)
    account.levels.read += levels
    account.values.read += values
    if refused:
        account.levels.refused += levels
        account.values.refused += values


def _place_of(one: BufrSounding, settings: Settings) -> tuple[float, float, float] | None:
    """Return latitude, longitude and elevation; None without a time, station or position."""
    moment = one.nominal_time or one.release_time
    if moment is None or one.station.startswith("unknown"):
        return None
    elevation = float("nan")
    if one.latitude == one.latitude and one.longitude == one.longitude:
        return one.latitude, one.longitude, elevation
    if one.wmo_index is None:
        return None
    record = settings.catalogue.find(one.wmo_index, moment.date()).value
    return None if record is None else (record.latitude, record.longitude, record.elevation)
