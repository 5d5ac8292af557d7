"""Groups of regional and national sections in plain language, as far as they are known.

The sections are kept as received; what :mod:`encoder.codes.regional` and
:mod:`encoder.codes.drop_text` read in them is said here group by group, and what they do not know
is said to be so.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from encoder.codes.declare import Context
from encoder.codes.drop_text import read_drop_text
from encoder.codes.fm35 import LOWER_STANDARD
from encoder.codes.groups import WIND
from encoder.codes.regional import EXTRA_WINDS, REGION_IV, read_regional

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from encoder.codes.content import Record
    from encoder.codes.declare import Group
    from encoder.resolution import WindUnit

_REGIONAL_MARKERS = frozenset(f"5{n}5{n}5" for n in range(1, 10))
_NATIONAL_MARKERS = frozenset(f"6{n}6{n}6" for n in range(1, 10))
_EARLY = frozenset({"10195", "10196", "10197"})


class KeptFigures(NamedTuple):
    """Some figures of a kept group: text, symbolic letters, code table, and what they say."""

    text: str
    symbol: str
    table: str | None
    sentence: str


class KeptGroup(NamedTuple):
    """A group of a regional or national section, with what is known of it."""

    symbol: str
    title: str
    figures: tuple[KeptFigures, ...]


def explain_kept(words: Sequence[str], *, wind_unit: WindUnit, drop: bool) -> tuple[KeptGroup, ...]:
    """Say what the groups of a regional or national section mean.

    Parameters
    ----------
    words : sequence of str
        Groups of one section in order, from its marker on.
    wind_unit : {"kt", "m s-1"}
        From the time group of the report.
    drop : bool
        Whether the report is of a dropped sounding, whose national section holds plain words.

    Returns
    -------
    tuple of KeptGroup
        One a word. What is not known says that it was kept as received.
    """
    first = words[0] if words else ""
    if first in _NATIONAL_MARKERS or first == "":
        made = _drop_words(words, wind_unit) if drop else (_national(word) for word in words)
        return tuple(made)
    return tuple(_regional(words, wind_unit))


# --- regional groups --------------------------------------------------------------------------


def _regional(words: Sequence[str], wind_unit: WindUnit) -> Iterator[KeptGroup]:
    forms = {form.kind: form for form in (*REGION_IV, *EXTRA_WINDS)}
    context = Context(wind_unit=wind_unit, standard=LOWER_STANDARD)
    place = 0
    before = ""
    for record in read_regional(" ".join(words), wind_unit=wind_unit):
        if record.kind == "verbatim":
            yield _unknown_regional(words[place], before)
            place += 1
            continue
        for use in forms[record.kind].uses:
            yield _known(use.group, words[place], context)
            before = words[place]
            place += 1


def _known(group: Group, word: str, context: Context) -> KeptGroup:
    values = group.decode(word, context).values
    figures, at = [], 0
    for piece in group.figures:
        text = word[at : at + piece.width]
        at += piece.width
        sentence = piece.say(text, values, context)
        figures.append(KeptFigures(text, piece.symbol, piece.table, sentence))
    return KeptGroup(group.symbol, group.title, tuple(figures))


def _unknown_regional(word: str, before: str) -> KeptGroup:
    if word in _REGIONAL_MARKERS:
        return _plain(word, "groups of regional agreement follow")
    if before in _EARLY:
        return _plain(word, "data sent early; kept as received, not read")
    return _plain(word, "no regional group known here; kept as received, not read")


# --- national groups --------------------------------------------------------------------------


def _plain(word: str, sentence: str) -> KeptGroup:
    return KeptGroup("verbatim", sentence, (KeptFigures(word, "verbatim", None, sentence),))


def _national(word: str) -> KeptGroup:
    if word in _NATIONAL_MARKERS:
        return _plain(word, "national groups follow")
    return _plain(word, "national group; kept as received, not read")


def _drop_words(words: Sequence[str], wind_unit: WindUnit) -> Iterator[KeptGroup]:
    context = Context(wind_unit=wind_unit)
    for record in read_drop_text(" ".join(words), wind_unit=wind_unit):
        own = str(record.get("groups")).split()
        say = _DROP_SENTENCES.get(record.kind)
        if say is not None:
            sentences = say(own, record, context)
        elif own[0] in _NATIONAL_MARKERS:
            sentences = ("national groups follow, here plain words",)
        else:
            sentences = ("plain word; kept as received, not read",)
        for word, sentence in zip(own, sentences, strict=True):
            yield _plain(word, sentence)


def _mission(own: Sequence[str], record: Record, _context: Context) -> tuple[str, ...]:
    return (
        "national groups follow, here aircraft, mission, storm and observation",
        f"aircraft {record.get('aircraft')}",
        f"mission {record.get('mission')}",
        f"storm or purpose {record.get('storm')}",
        "number of the observation follows",
        f"observation {record.get('observation')} of the mission",
    )


def _place(what: str) -> Callable[[Sequence[str], Record, Context], tuple[str, ...]]:
    def say(own: Sequence[str], record: Record, _context: Context) -> tuple[str, ...]:
        latitude, longitude = (float(str(record.get(name))) for name in ("latitude", "longitude"))
        north = f"{abs(latitude):.2f} {'S' if own[1][4] == 'S' else 'N'}"
        east = f"{abs(longitude):.2f} {'W' if own[1][-1] == 'W' else 'E'}"
        time = str(record.get("time") or "")
        when = f"at {time[:2]}:{time[2:4]}:{time[4:]} UTC"
        sentences = (f"place{' and time' if time else ''} of {what}", f"{north} {east}", when)
        return sentences[: len(own)]

    return say


def _layer_wind(layer: str) -> Callable[[Sequence[str], Record, Context], tuple[str, ...]]:
    def say(own: Sequence[str], record: Record, context: Context) -> tuple[str, ...]:
        figures = next(word for word in own if len(word) == 5 and word.isdigit())
        values = WIND.decode(figures, context).values
        direction, speed = (piece.say for piece in WIND.figures)
        wind = ", ".join(
            (direction(figures[:2], values, context), speed(figures[2:], values, context))
        )
        sentences = {"MBL": layer, "DLM": layer, "WL150": layer, "WND": "mean wind follows"}
        bottom, top = record.get("layer_bottom"), record.get("layer_top")
        between = f"from {bottom:g} to {top:g} hPa" if isinstance(bottom, float) else ""
        return tuple(sentences.get(word, wind if word == figures else between) for word in own)

    return say


_DROP_SENTENCES: dict[str, Callable[[Sequence[str], Record, Context], tuple[str, ...]]] = {
    "mission": _mission,
    "release": _place("release"),
    "splash": _place("splash"),
    "boundary-layer-wind": _layer_wind("mean wind of the boundary layer"),
    "deep-layer-wind": _layer_wind("mean wind of a deep layer"),
    "lowest-layer-wind": _layer_wind("mean wind of the lowest 150 m"),
}
"""The meaning of the words is that of :mod:`encoder.codes.drop_text`."""
