"""Plain words of a dropped sounding (61616 and 62626): read where understood, kept where not.

The words and what they stand for are from memory; they agree with the reports of bulletins UZNT13
KWBC 131820 and 211330.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from encoder.codes.content import Record
from encoder.codes.declare import Context
from encoder.codes.elements import figures_to_wind

if TYPE_CHECKING:
    from collections.abc import Callable

    from encoder.codes.declare import Value
    from encoder.resolution import WindUnit

_PLACE = r"(\d{4})([NS])(\d{5})([EW])"


@dataclass(frozen=True, slots=True)
class _Phrase:
    """Words with a meaning."""

    kind: str
    look: re.Pattern[str]
    read: Callable[[re.Match[str], Context], dict[str, Value]]


def _mission(found: re.Match[str], _context: Context) -> dict[str, Value]:
    names = ("aircraft", "mission", "storm", "observation")
    return dict(zip(names, found.groups(), strict=True))


def _place(found: re.Match[str], _context: Context) -> dict[str, Value]:
    north, side, east, other, time = found.groups()
    latitude, longitude = int(north) / 100.0, int(east) / 100.0
    values: dict[str, Value] = {
        "latitude": 0.0 - latitude if side == "S" else latitude,
        "longitude": 0.0 - longitude if other == "W" else longitude,
    }
    return values | {"time": time}


def _wind(found: re.Match[str], context: Context) -> dict[str, Value]:
    direction, speed, _faults = figures_to_wind(found.group(1), context)
    return {"wind_from_direction": direction, "wind_speed": speed}


def _layer_wind(found: re.Match[str], context: Context) -> dict[str, Value]:
    values = _wind(found, context)
    bottom, top = int(found.group(2)), int(found.group(3))
    values["layer_bottom"] = float(bottom + 1000 if bottom < 100 else bottom)
    return values | {"layer_top": float(top)}


_PHRASES = (
    _Phrase("mission", re.compile(r"61616 (\S+) (\S+) (\S+) OB (\d+)"), _mission),
    _Phrase("release", re.compile(rf"REL {_PLACE}(?: (\d{{6}}))?"), _place),
    _Phrase("splash", re.compile(rf"SP[LG] {_PLACE}(?: (\d{{6}}))?"), _place),
    _Phrase("boundary-layer-wind", re.compile(r"MBL WND (\d{5})"), _wind),
    _Phrase("deep-layer-wind", re.compile(r"DLM WND (\d{5}) (\d{3})(\d{3})"), _layer_wind),
    _Phrase("lowest-layer-wind", re.compile(r"WL150 (\d{5})"), _wind),
)


def read_drop_text(groups: str, *, wind_unit: WindUnit = "kt") -> tuple[Record, ...]:
    """Read the plain words of a dropped sounding.

    Parameters
    ----------
    groups : str
        A national section as received, from its marker on.
    wind_unit : {"kt", "m s-1"}

    Returns
    -------
    tuple of Record
        In the order of the words, each with its own ``"groups"``; joined by blanks they are the
        section again. Words that are not understood are records ``"verbatim"``.
    """
    context = Context(wind_unit=wind_unit)
    records: list[Record] = []
    place = 0
    text = " ".join(groups.split())
    while place < len(text):
        found = _phrase_at(text, place)
        if found is None:
            end = text.find(" ", place)
            end = len(text) if end < 0 else end
            records.append(Record("verbatim", {"groups": text[place:end]}))
        else:
            phrase, match = found
            end = match.end()
            records.append(
                Record(phrase.kind, {**phrase.read(match, context), "groups": match.group()})
            )
        place = end + 1
    return tuple(records)


def _phrase_at(text: str, place: int) -> tuple[_Phrase, re.Match[str]] | None:
    for phrase in _PHRASES:
        match = phrase.look.match(text, place)
        if match is not None and text[match.end() : match.end() + 1] in ("", " "):
            return phrase, match
    return None
