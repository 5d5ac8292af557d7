"""Damage as real archives have it, and how often: shares are a guess, no source."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

KINDS = (
    ("letter", 0.30),
    ("lost-figure", 0.20),
    ("lost-group", 0.15),
    ("run-together", 0.15),
    ("solidi", 0.08),
    ("doubled", 0.07),
    ("other-figure", 0.05),
)
"""What happens to a damaged group, with shares. Only other-figure leaves
a group that looks right."""
_WORD = re.compile(r"[0-9/]{5}")
_LETTERS = "OIBSZGQ"


def damage_traffic(text: str, random: np.random.Generator, rate: float) -> tuple[str, int]:
    """Return the text with that share of its groups damaged, and how many were."""
    names = [name for name, _share in KINDS]
    shares = [share for _name, share in KINDS]
    pieces, place, count = [], 0, 0
    for match in _WORD.finditer(text):
        if random.random() >= rate:
            continue
        count += 1
        group = match.group()
        at = int(random.integers(0, 5))
        kind = str(random.choice(names, p=shares))
        end = match.end()
        made = group
        if kind == "letter":
            made = group[:at] + _LETTERS[int(random.integers(0, 7))] + group[at + 1 :]
        elif kind == "lost-figure":
            made = group[:at] + group[at + 1 :]
        elif kind == "lost-group":
            made = ""
        elif kind == "run-together":
            end = (
                min(match.end() + 1, len(text))
                if text[match.end() : match.end() + 1] == " "
                else end
            )
        elif kind == "solidi":
            made = "/////"
        elif kind == "doubled":
            made = f"{group} {group}"
        else:
            made = group[:at] + str(random.integers(0, 10)) + group[at + 1 :]
        pieces += [text[place : match.start()], made]
        place = end
    pieces.append(text[place:])
    return "".join(pieces), count


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
