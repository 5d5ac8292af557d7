"""Damage as real archives have it, by where it comes from.

A source is a circuit of a published standard (:mod:`samples.archive_generator.circuits`), where the
kinds of damage and their shares follow from the alphabet, or one of the kinds of
:mod:`samples.archive_generator.garbling`, taken equally often because no source says more.
The usual mixture is half and half: one damaged group in two was damaged by a circuit with parity,
the other by archives and hands. Nothing is published about that ratio either; each half is
measured by itself as well, and any other ratio follows from the two.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from samples.archive_generator import circuits, garbling

if TYPE_CHECKING:
    import numpy as np

Shares = tuple[tuple[str, float], ...]


def _equally(kinds: tuple[str, ...], share: float = 1.0) -> Shares:
    return tuple((kind, share / len(kinds)) for kind in kinds)


SOURCES: dict[str, Shares] = {
    "mixture": (("parity", 0.5), *_equally(garbling.ARCHIVE, 0.5)),
    "parity": (("parity", 1.0),),
    "five-unit": (("five-unit", 1.0),),
    "archive": _equally(garbling.ARCHIVE),
    "form": _equally(garbling.BREAKING),
    "figure": (("other-figure", 1.0),),
}
"""Kinds of damage with their shares, by source: a circuit with parity and archives, a circuit with
parity, a circuit of five units, archives, what breaks the form of a group, single figures. A kind
that does not suit a group goes to one that it suits, so that the shares are of the damage."""
_GROUP = re.compile(r"(?<!\S)[0-9/]{5,6}(?=[\s=])")
_TRIES = 100


class Damage(NamedTuple):
    """What was done to a text.

    Attributes
    ----------
    offset : int
        Of the group in the undamaged text.
    kind : str
    group : str
        As it was.
    """

    offset: int
    kind: str
    group: str


def damage_traffic(
    text: str, random: np.random.Generator, rate: float, source: str = "mixture"
) -> tuple[str, list[Damage]]:
    """Damage a share of the groups of a text.

    Parameters
    ----------
    text : str
        Whole traffic, or a single part.
    random : Generator
    rate : float
        Share of the groups.
    source : str
        One of :data:`SOURCES`.

    Returns
    -------
    text : str
    done : list of Damage
        In the order of the text.
    """
    names = [name for name, _share in SOURCES[source]]
    shares = [share for _name, share in SOURCES[source]]
    groups = list(_GROUP.finditer(text))
    chosen = [place for place in range(len(groups)) if random.random() < rate]
    kinds: dict[int, str] = {}
    for first in chosen:
        place, kind = first, str(random.choice(names, p=shares))
        for _try in range(_TRIES):
            begin, end = groups[place].span()
            suits = kind not in garbling.KINDS or garbling.KINDS[kind](text, begin, end, random)
            if suits and place not in kinds:
                kinds[place] = kind
                break
            place = int(random.integers(0, len(groups)))
    done: list[Damage] = []
    # from the end, so that what stands before a group is still whole
    for place in sorted(kinds, reverse=True):
        made = _damaged(text, groups[place].span(), kinds[place], random, rate)
        if made is not None and made != text:
            text = made
            done.append(Damage(groups[place].start(), kinds[place], groups[place].group()))
    return text, done[::-1]


def _damaged(
    text: str, span: tuple[int, int], kind: str, random: np.random.Generator, rate: float
) -> str | None:
    begin, end = span
    if kind in garbling.KINDS:
        edit = garbling.KINDS[kind](text, begin, end, random)
        return None if edit is None else text[: edit.begin] + edit.text + text[edit.end :]
    first = text.rfind("\n", 0, begin) + 1
    last = text.find("\n", end) + 1 or len(text)
    line = circuits.disturbed(
        text[first:last], (begin - first, end - first), kind, random, max(rate, 1e-6)
    )
    return None if line is None else text[:first] + line + text[last:]


def damage_igra(text: bytes, random: np.random.Generator, rate: float) -> tuple[bytes, int]:
    """Return an IGRA text with that share of its soundings damaged, and how many were."""
    soundings = text.split(b"\n#")
    count = 0
    for place in range(1, len(soundings)):
        if random.random() >= rate:
            continue
        count += 1
        lines = soundings[place].split(b"\n")
        kind = int(random.integers(0, 6))
        line = int(random.integers(1, len(lines))) if len(lines) > 1 else 0
        if kind == 0:
            lines = lines[: max(1, line)]  # fewer levels than announced
        elif kind == 1:
            lines[line] = lines[line][: len(lines[line]) // 2]
        elif kind == 2:
            lines[line] = b"\0" * len(lines[line])
        elif kind == 3:
            lines[line] = lines[line].replace(b" ", b"O", 1)
        elif kind == 4:
            lines[0] = b"NRM00099999" + lines[0][11:]
        else:
            lines = [item + b"\r" for item in lines]
        soundings[place] = b"\n".join(lines)
    return b"\n#".join(soundings), count
