"""A source in the IGRA layout as soundings of its stations."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.convert.from_igra import batch_of_igra, station_key
from encoder.convert.work import Content, RefusedItem
from encoder.diagnostics import diagnostic
from encoder.formats.igra.layout import MISSING, REMOVED
from encoder.formats.igra.lines import level_columns
from encoder.formats.igra.reader import read_igra
from encoder.formats.igra.soundings import VALUES, IgraSoundings
from encoder.formats.igra.writer import write_igra

if TYPE_CHECKING:
    from collections.abc import Iterable

    from encoder.convert.sources import Source


def read_igra_source(source: Source, chunks: Iterable[bytes], *, compiled: bool = False) -> Content:
    """Read a source in the IGRA layout.

    Parameters
    ----------
    source : Source
        With ``kind`` "igra" it is the file of one station, that of its first header: soundings
        that name another are refused.
    chunks : iterable of bytes
        Its content.
    compiled : bool
        Read the lines with compiled code, which gives the same.
    """
    lines = level_columns
    if compiled:
        from encoder.formats.igra.compiled import level_columns as lines
    soundings = read_igra(chunks, lines=lines, file=source.name)
    content = Content(found=list(soundings.found))
    account = content.account
    account.bytes.read = soundings.size
    for part in soundings.refused:
        account.bytes.refused += len(part.data)
        account.soundings.read += part.soundings
        account.soundings.refused += part.soundings
        account.levels.read += part.levels
        account.levels.refused += part.levels
        account.values.read += part.values
        account.values.refused += part.values
        content.refused.append(RefusedItem("igra", part.offset, part.data, part.diagnostics))
    account.soundings.read += len(soundings)
    account.levels.read += len(soundings.levels["kind"])
    account.values.read += soundings.number_of_values()
    if not len(soundings):
        return content
    names = soundings.headers["station"]
    own = source.station.encode("ascii", "replace") if source.station else names[0]
    if (names == own).all():
        key = station_key(own.decode("ascii"))
        content.batches[key] = batch_of_igra(soundings, key)
        return content
    if source.kind == "igra":
        for place in np.flatnonzero(names != own).tolist():
            _refuse(content, soundings.picked([place]), own.decode("ascii"), source)
        soundings = soundings.picked(names == own)
        if len(soundings):
            key = station_key(own.decode("ascii"))
            content.batches[key] = batch_of_igra(soundings, key)
        return content
    # several identifiers may stand for one station of the archive
    by_key: dict[str, list[bytes]] = {}
    for name in np.unique(names).tolist():
        by_key.setdefault(station_key(name.decode("ascii")), []).append(name)
    for key, members in sorted(by_key.items()):
        content.batches[key] = batch_of_igra(soundings.picked(np.isin(names, members)), key)
    return content


def _refuse(content: Content, sounding: IgraSoundings, own: str, source: Source) -> None:
    headers = sounding.headers
    begin, length = int(headers["offset"][0]), int(headers["length"][0])
    other = headers["station"][0].decode("ascii")
    found = diagnostic(
        "convert-other-station",
        f"The sounding at byte {begin} names {other}, the file is of {own}.",
        file=source.name,
        span=(begin, begin + length),
        value=other,
        expected=own,
    )
    text = b"".join(write_igra(sounding))
    content.refused.append(RefusedItem("igra", begin, text, (found,)))
    account = content.account
    account.bytes.refused += length
    account.soundings.refused += 1
    account.levels.refused += len(sounding.levels["kind"])
    for name in VALUES:
        column = sounding.levels[name]
        account.values.refused += int(((column != MISSING) & (column != REMOVED)).sum())
