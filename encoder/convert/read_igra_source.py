"""A source in the IGRA layout as soundings of its stations."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.convert.batch import Gathering
from encoder.convert.from_igra import batch_of_igra, station_key
from encoder.convert.work import Content, RefusedItem
from encoder.diagnostics import diagnostic
from encoder.formats.igra.layout import LEVEL_WIDTH
from encoder.formats.igra.lines import level_columns
from encoder.formats.igra.reader import read_igra_pieces
from encoder.formats.igra.soundings import IgraSoundings
from encoder.formats.igra.writer import write_igra

if TYPE_CHECKING:
    from collections.abc import Iterable

    from encoder.convert.sources import Source
    from encoder.formats.igra.reader import LineReader, PlainReader


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
    lines: LineReader = level_columns
    plain: PlainReader | None = None
    if compiled:
        from encoder.formats.igra import compiled as code

        lines, plain = code.level_columns, code.plain_levels
    gathered: dict[str, Gathering] = {}
    content = Content()
    own = source.station.encode("ascii", "replace") if source.station else None
    for piece in read_igra_pieces(chunks, lines=lines, plain=plain, file=source.name):
        own = _take(piece, content, gathered, own, source, compiled=compiled)
    content.batches = {key: made.joined() for key, made in sorted(gathered.items())}
    return content


def _take(
    piece: IgraSoundings,
    content: Content,
    gathered: dict[str, Gathering],
    own: bytes | None,
    source: Source,
    *,
    compiled: bool,
) -> bytes | None:
    """Add some soundings of a source, and return the station it is of as far as that is known."""
    content.found.extend(piece.found)
    account = content.account
    account.bytes.read += piece.size
    for part in piece.refused:
        account.bytes.refused += len(part.data)
        account.soundings.read += part.soundings
        account.soundings.refused += part.soundings
        account.levels.read += part.levels
        account.levels.refused += part.levels
        account.values.read += part.values
        account.values.refused += part.values
        content.refused.append(RefusedItem("igra", part.offset, part.data, part.diagnostics))
    account.soundings.read += len(piece)
    account.levels.read += len(piece.levels["kind"])
    if not len(piece):
        return own
    names = piece.headers["station"]
    own = own or names[0]
    if not (names == own).all() and source.kind == "igra":
        for place in np.flatnonzero(names != own).tolist():
            text = piece.verbatim.get(int(piece.headers["offset"][place]))
            _refuse(content, piece.picked([place]), text, own.decode("ascii"), source)
        piece = piece.picked(names == own)
        names = piece.headers["station"]
    # several identifiers may stand for one station of the archive
    by_key: dict[str, list[bytes]] = {}
    for name in np.unique(names).tolist():
        by_key.setdefault(station_key(name.decode("ascii")), []).append(name)
    for key, members in by_key.items():
        some = piece if len(by_key) == 1 else piece.picked(np.isin(names, members))
        batch = batch_of_igra(some, key, compiled=compiled)
        if key not in gathered:
            most = source.size // LEVEL_WIDTH if source.kind == "igra" else 0
            gathered[key] = Gathering(most)
        gathered[key].add(batch)
        account.values.read += int(batch.profiles["values"].sum())
    return own


def _refuse(
    content: Content, sounding: IgraSoundings, text: bytes | None, own: str, source: Source
) -> None:
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
    text = b"".join(write_igra(sounding)) if text is None else text
    content.refused.append(RefusedItem("igra", begin, text, (found,)))
    account = content.account
    account.bytes.refused += length
    account.soundings.refused += 1
    account.levels.refused += len(sounding.levels["kind"])
    values = sounding.number_of_values()
    account.values.read += values
    account.values.refused += values
