"""A source of coded traffic as parts of soundings with their station and time."""

from __future__ import annotations

import re
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, NamedTuple

from encoder.bulletin.dates import DateHint, DateSource, resolve_time
from encoder.bulletin.openings import FAMILIES, PIBAL, part_of
from encoder.bulletin.pieces import Kind
from encoder.bulletin.stream import split_stream
from encoder.codes.editions import BEFORE, FOUR_PARTS_FROM
from encoder.convert.parts import parts_of_rows
from encoder.convert.read_bufr_source import take_message
from encoder.convert.work import Content, RefusedItem
from encoder.diagnostics import Diagnostic, diagnostic

if TYPE_CHECKING:
    from collections.abc import Iterable
    from typing import Any

    from encoder.bulletin.pieces import Piece
    from encoder.convert.sources import Source
    from encoder.convert.work import Settings

_NAN = float("nan")
_LAND = re.compile(rb"(?:TT|PP)(?:AA|BB|CC|DD)\s+([0-8]\d)([0-2]\d)[\d/]\s+(\d{5})(?=[\s=])", re.I)
"""What nearly all parts from land stations begin with: letters, YYGG and a figure, IIiii."""
_NIL = re.compile(rb"\sNIL\s*=?\s*\Z", re.I)
_STAMP = re.compile(rb"\A\S+\s+\S+\s+(\d\d)(\d\d)\d\d\b")
"""Day and hour of a heading: TTAAii CCCC YYGGgg."""
FAR_HEADING = 11
"""Hours that a report may be away from the time of its heading: fewer than the 12 to the next
sounding, which a wrong hour leads to (common practice, no source)."""
_CORRECTION = re.compile(rb"\sCC([A-X])\s*\Z")


class _Identified(NamedTuple):
    """What the first groups of a part say."""

    station: str
    day: int
    hour: int
    latitude: float
    longitude: float
    elevation: float


class _Dates:
    """Dates of day and hour, found once each for a source."""

    def __init__(self, source: Source, settings: Settings) -> None:
        self._hints: list[DateHint] = []
        if settings.month is not None:
            year, month = settings.month.split("-")
            self._hints.append(DateHint(DateSource.GIVEN, int(year), int(month)))
        for name in (*reversed(source.members), source.name):
            hint = DateHint.of_name(PurePosixPath(name).name) if name else None
            if hint is not None:
                self._hints.append(hint)
                break
        self._known: dict[tuple[int, int], tuple[float | None, tuple[Diagnostic, ...]]] = {}

    @property
    def of_single_messages(self) -> bool:
        """Whether the source is of the time before the parts A to D."""
        return bool(self._hints) and self._hints[0].year < FOUR_PARTS_FROM.year

    def find(self, day: int, hour: int) -> tuple[float | None, tuple[Diagnostic, ...]]:
        """Return the nominal time in seconds since 1970, None where nothing tells it."""
        if (day, hour) not in self._known:
            result = resolve_time(day=day, hour=hour, hints=self._hints)
            time = None if result.value is None else result.value.nominal_time.timestamp()
            self._known[day, hour] = time, result.diagnostics
        return self._known[day, hour]


def read_traffic(source: Source, chunks: Iterable[bytes], settings: Settings) -> Content:
    """Read coded traffic.

    Parameters
    ----------
    source : Source
    chunks : iterable of bytes
        Its content; memory does not grow with it but for the parts themselves.
    settings : Settings
    """
    content = Content()
    account = content.account
    dates = _Dates(source, settings)
    rows: dict[str, list[tuple[Any, ...]]] = {}
    texts: dict[str, list[bytes]] = {}
    for piece in split_stream(iter(chunks)):
        size = len(piece.text)
        account.bytes.read += size
        if piece.kind is Kind.FRAMING or (piece.kind is Kind.UNREAD and not piece.text.strip()):
            account.bytes.aside += size
            continue
        if piece.kind is Kind.UNREAD:
            account.bytes.refused += size
            _refuse_unread(content, piece, source, settings, old=dates.of_single_messages)
            continue
        account.reports.read += 1
        if _NIL.search(piece.text, max(0, size - 12)):
            account.reports.aside += 1
            account.bytes.aside += size
            continue
        said = _identify(piece)
        if isinstance(said, Diagnostic):
            _refuse(content, piece, (said,), source)
            continue
        nominal, found = dates.find(said.day, said.hour)
        if nominal is None:
            _refuse(content, piece, found, source)
            continue
        correction = far = 0
        if piece.heading is not None:
            match = _CORRECTION.search(piece.heading.text)
            correction = 0 if match is None else 1 + match.group(1)[0] - ord("A")
            far = int(_far_from_heading(said, piece.heading.text))
        rows.setdefault(said.station, []).append(
            (
                nominal,
                nominal,
                said.latitude,
                said.longitude,
                said.elevation,
                piece.letters.encode("ascii"),
                correction,
                far,
                0,
                piece.offset,
                size,
            )
        )
        texts.setdefault(said.station, []).append(piece.text)
    for station in sorted(rows):
        content.parts[station] = parts_of_rows(station, rows[station], texts[station])
    return content


def _identify(piece: Piece) -> _Identified | Diagnostic:
    """Return what a part says of its station and time."""
    match = _LAND.match(piece.text)
    if match is not None:
        day, hour = int(match.group(1)), int(match.group(2))
        day = day - 50 if day > 50 else day
        if 1 <= day <= 31 and hour <= 23:
            return _Identified(match.group(3).decode("ascii"), day, hour, _NAN, _NAN, _NAN)
    if piece.letters == PIBAL:
        return _unidentified(piece)
    if part_of(piece.letters) is None or piece.letters[:2] not in FAMILIES:
        return diagnostic(
            "convert-report-other",
            f"The report at byte {piece.offset} opens with {piece.letters}.",
            span=(piece.offset, piece.offset + len(piece.text)),
        )
    from encoder.report import decode_reports

    decoded = decode_reports(piece.text.decode("latin-1")).value
    said = decoded[0].parts[0].content.identification if decoded and decoded[0].parts else {}
    day_said, hour_said = said.get("day"), said.get("hour")
    latitude, longitude = said.get("latitude"), said.get("longitude")
    name = said.get("station") or said.get("call_sign")
    placed = isinstance(latitude, float) and isinstance(longitude, float)
    if not name and placed:
        name = f"{piece.letters[:2]}_{latitude:+.1f}_{longitude:+.1f}"
    if not isinstance(day_said, int) or not isinstance(hour_said, int) or not name:
        return _unidentified(piece)
    elevation = said.get("elevation")
    return _Identified(
        str(name),
        day_said,
        hour_said,
        float(latitude) if isinstance(latitude, float) else _NAN,
        float(longitude) if isinstance(longitude, float) else _NAN,
        float(elevation) if isinstance(elevation, int | float) else _NAN,
    )


def _unidentified(piece: Piece) -> Diagnostic:
    why = "names no station, day or hour"
    if piece.letters == PIBAL:
        why = "has station and time in words that no declaration explains; decode reads its winds"
    return diagnostic(
        "convert-report-unidentified",
        f"{piece.letters} at byte {piece.offset} {why}.",
        span=(piece.offset, piece.offset + len(piece.text)),
        value=piece.text[:40].decode("ascii", "backslashreplace"),
    )


def _far_from_heading(said: _Identified, heading: bytes) -> bool:
    """Tell whether day and hour of a report are far from those of its heading, in any month."""
    match = _STAMP.match(heading)
    if match is None:
        return False
    days = said.day - int(match.group(1))
    hours = said.hour - int(match.group(2))
    # the heading may be of the month before or after
    months = (0, *range(28, 32), *range(-31, -27))
    return all(abs(24 * (days + month) + hours) > FAR_HEADING for month in months)


def _refuse(content: Content, piece: Piece, found: tuple[Diagnostic, ...], source: Source) -> None:
    heading = "" if piece.heading is None else piece.heading.text.decode("latin-1")
    content.account.reports.refused += 1
    content.account.bytes.refused += len(piece.text)
    content.refused.append(
        RefusedItem("coded-text", piece.offset, piece.text, found, _leaf(source), heading)
    )


def _refuse_unread(
    content: Content, piece: Piece, source: Source, settings: Settings, *, old: bool
) -> None:
    if piece.remark == "binary" and b"BUFR" in piece.text:
        content.account.bytes.refused -= len(piece.text)
        take_message(content, piece.text, piece.offset, source, settings)
        return
    found = diagnostic(
        "convert-text-unread",
        f"{len(piece.text):,} bytes at byte {piece.offset} are no report.",
        file=source.name,
        span=(piece.offset, piece.offset + len(piece.text)),
        value=piece.text[:60].decode("ascii", "backslashreplace"),
    )
    more = (diagnostic("no-edition", BEFORE),) if old else ()
    content.refused.append(
        RefusedItem("coded-text", piece.offset, piece.text, (found, *more), _leaf(source))
    )


def _leaf(source: Source) -> str:
    """Return the file name that dates are taken from."""
    inner = [item for item in source.members if item]
    return PurePosixPath(inner[-1] if inner else source.name).name
