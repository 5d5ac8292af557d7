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
from encoder.codes.elements import figures_to_wind, number, wind_to_figures
from encoder.rounding import whole

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

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


def write_drop_text(records: Sequence[Record], *, wind_unit: WindUnit = "kt") -> str:
    """Return the plain words of a dropped sounding; inverse of :func:`read_drop_text`.

    Parameters
    ----------
    records : sequence of Record
        Of the kinds that are read, in the order wanted; a record of another kind gives its
        ``"groups"``. A record without its values gives no words.
    wind_unit : {"kt", "m s-1"}
    """
    context = Context(wind_unit=wind_unit)
    words = (
        _WRITE[record.kind](record, context) if record.kind in _WRITE else str(record.get("groups"))
        for record in records
    )
    return " ".join(one for one in words if one)


def _say_mission(record: Record, _context: Context) -> str:
    values = [record.get(name) for name in ("aircraft", "mission", "storm", "observation")]
    if None in values:
        return ""
    aircraft, mission, storm, observation = (str(value) for value in values)
    return f"61616 {aircraft} {mission} {storm} OB {observation:0>2}"


def _hundredths(value: float, width: int, sides: str) -> str:
    figures = whole(abs(value) * 100.0)
    return f"{figures:0{width}d}{sides[1] if value < 0.0 and figures else sides[0]}"


def _say_place(record: Record, _context: Context) -> str:
    latitude, longitude = number(record.get("latitude")), number(record.get("longitude"))
    if latitude is None or longitude is None:
        return ""
    time = record.get("time")
    word = "REL" if record.kind == "release" else "SPL" if time is None else "SPG"
    place = f"{word} {_hundredths(latitude, 4, 'NS')}{_hundredths(longitude, 5, 'EW')}"
    return place if time is None else f"{place} {time}"


def _say_wind(record: Record, context: Context) -> str:
    direction, speed = record.get("wind_from_direction"), record.get("wind_speed")
    if speed is None:
        return ""
    figures, _faults = wind_to_figures(direction, speed, context)
    lead = {"boundary-layer-wind": "MBL WND", "lowest-layer-wind": "WL150"}
    return f"{lead.get(record.kind, 'DLM WND')} {figures}"


def _say_layer(record: Record, context: Context) -> str:
    bottom, top = number(record.get("layer_bottom")), number(record.get("layer_top"))
    words = _say_wind(record, context)
    if bottom is None or top is None or not words:
        return ""
    return f"{words} {whole(bottom) % 1000:03d}{whole(top) % 1000:03d}"


_WRITE: dict[str, Callable[[Record, Context], str]] = {
    "mission": _say_mission,
    "release": _say_place,
    "splash": _say_place,
    "boundary-layer-wind": _say_wind,
    "lowest-layer-wind": _say_wind,
    "deep-layer-wind": _say_layer,
}


def _phrase_at(text: str, place: int) -> tuple[_Phrase, re.Match[str]] | None:
    for phrase in _PHRASES:
        match = phrase.look.match(text, place)
        if match is not None and text[match.end() : match.end() + 1] in ("", " "):
            return phrase, match
    return None
