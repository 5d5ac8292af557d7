"""Repairs of section 1 by the other parts of the sounding: time, station, unit of the winds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.codes.account import Token
from encoder.codes.decode import decode_part
from encoder.repair.proposal import Confidence, Evidence, Repair, RepairKind, wanted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.repair.proposal import RepairMode
    from encoder.report.meeting import Received
    from encoder.trace import TraceEntry

_MOST_WRONG = 2
"""Figures of a group that may differ from that of the other parts."""


def mend_identification(received: Sequence[Received], text: str, mode: RepairMode) -> None:
    """Give a part the time or station of its neighbours where its own is unreadable.

    Parameters
    ----------
    received : sequence of Received
        All parts of the text, in its order; those repaired are changed in place.
    text : str
        The received text.
    mode : {"none", "safe", "all"}
    """
    for place, item in enumerate(received):
        said = item.content.identification
        time_lost = "day" in said and (said.get("day") is None or said.get("hour") is None)
        station_lost = "station" in said and said.get("station") is None
        if not (time_lost or station_lost):
            continue
        near = [*received[place + 1 : place + 4], *reversed(received[max(0, place - 3) : place])]
        kin = [
            other
            for other in near
            if other.letters[:-2] == item.letters[:-2] and other.letters != item.letters
        ]
        for lost, symbol, kind, length in (
            (time_lost, "YYGG", RepairKind.TIME, 4),
            (station_lost, "IIiii", RepairKind.STATION, 5),
        ):
            if lost:
                _mend(item, kin, text, mode, (symbol, kind, length))


def _mend(
    item: Received,
    kin: Sequence[Received],
    text: str,
    mode: RepairMode,
    what: tuple[str, RepairKind, int],
) -> None:
    symbol, kind, length = what
    entry = _entry(item, symbol)
    if entry is None:
        return
    others = {
        found.text[:length]
        for other in kin
        if _readable(other) and _agrees(item, other) and (found := _entry(other, symbol))
    }
    if len(others) != 1:
        return
    wanted_figures = others.pop()
    received = entry.text
    differ = _differences(received[:length], wanted_figures)
    if len(received) == length and length == 4:  # the last figure is lost, or one of the first
        return
    rest = received[length:] if len(received) == 5 else ""
    if length + len(rest) != 5:
        return
    place = next((at for at, token in enumerate(item.tokens) if token.start == entry.span[0]), None)
    if place is None:
        return
    group = Token(wanted_figures + rest, *entry.span)
    changed = [*item.tokens[:place], group, *item.tokens[place + 1 :]]
    read = decode_part(changed, item.declared, item.content.form)
    confidence = Confidence.SAFE if differ <= _MOST_WRONG else Confidence.WEAK
    applied = wanted(confidence, mode)
    item.repairs.append(
        Repair(
            kind,
            entry.span,
            text[entry.span[0] : entry.span[1]],
            group.text,
            confidence,
            item.letters,
            (
                Evidence(
                    "figures that differ from the other parts", float(differ), 0.0, "figures", 0.0
                ),
            ),
            applied,
        )
    )
    if applied:
        item.tokens, item.decoded = changed, read


def _entry(item: Received, symbol: str) -> TraceEntry | None:
    return next(
        (
            entry
            for entry in item.decoded.trace
            if entry.section == "1" and entry.symbol.startswith(symbol)
        ),
        None,
    )


def _readable(item: Received) -> bool:
    said = item.content.identification
    return all(said.get(name) is not None for name in ("day", "hour", "station"))


def _agrees(item: Received, other: Received) -> bool:
    """Tell whether nothing that both parts say of time and station is different."""
    mine, its = item.content.identification, other.content.identification
    return all(
        mine.get(name) is None or mine.get(name) == its.get(name)
        for name in ("day", "hour", "station")
    )


def _differences(one: str, other: str) -> int:
    return sum(a != b for a, b in zip(one, other, strict=False)) + abs(len(one) - len(other))
