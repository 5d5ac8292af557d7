"""What archives and hands do to coded reports, one function a kind.

Each takes a text, the span of a group and a generator, and returns where to put what: begin, end
and the new text, or None where the kind does not suit the group. The kinds are those that
collections of old traffic are known for (common practice); no source says how often each is, so
they are taken equally often.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from samples.archive_generator.circuits import LETTER_OF, to_five_units

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np

LOOK_ALIKE = {"0": "OQ", "1": "IL", "2": "Z", "5": "S", "6": "G", "8": "B"}
_PART = re.compile(r"TT(AA|BB|CC|DD)(?=\s)")
_HEADING = re.compile(r"[A-Z]{4}[0-9]{2} [A-Z]{4} [0-9]{6}(?=\s)")
_FIGURES = re.compile(r"(?<!\S)[0-9]{5}(?=[\s=])")
_LINE_END = "\r\r\n"
_FIRST_LEVEL = 3
"""Groups of a part before its first level: letters, time, station."""


class Edit(NamedTuple):
    """New text for a span."""

    begin: int
    end: int
    text: str


def role(text: str, begin: int) -> str:
    """Return what the group that begins there is: PPhhh, TTTaDD, ddfff, nnPPP, YYGGI or nothing."""
    found = list(_PART.finditer(text, max(0, begin - 2000), begin))
    if not found or "=" in text[found[-1].start() : begin]:
        return ""
    before = text[found[-1].start() : begin].split()
    if len(before) < _FIRST_LEVEL:
        return "YYGGI" if len(before) == 1 else ""
    levels = before[_FIRST_LEVEL:]
    if "31313" in before:
        return ""
    if found[-1].group(1) in ("AA", "CC"):
        if "77999" in before or "88999" in before:
            return ""
        surface = found[-1].group(1) == "AA" and len(levels) < 3
        first = "99PPP" if surface else "PPhhh"
        if len(levels) % 3 == 0 and text[begin : begin + 2] in ("88", "77"):
            return ""
        return (first, "TTTaDD", "ddfff")[len(levels) % 3]
    if "21212" in levels:
        winds = levels[levels.index("21212") + 1 :]
        return ("nnPPP", "ddfff")[len(winds) % 2]
    return ("nnPPP", "TTTaDD")[len(levels) % 2]


def _part_begin(text: str, at: int) -> int | None:
    found = list(_PART.finditer(text, max(0, at - 2000), at))
    if not found or "=" in text[found[-1].start() : at]:
        return None
    return found[-1].start()


def _part_end(text: str, at: int) -> int | None:
    """Return the place of the equals sign that ends the part."""
    end = text.find("=", at)
    if end < 0 or _PART.search(text, at, end) or "\x03" in text[at:end]:
        return None
    return end


# --- signs --------------------------------------------------------------------------------------


def letter(text: str, begin: int, end: int, random: np.random.Generator) -> Edit | None:
    """Put the letter that looks like it for one figure."""
    places = [at for at in range(begin, end) if text[at] in LOOK_ALIKE]
    if not places:
        return None
    at = int(random.choice(places))
    alike = LOOK_ALIKE[text[at]]
    return Edit(at, at + 1, alike[int(random.integers(0, len(alike)))])


def letters_case(text: str, begin: int, end: int, _random: np.random.Generator) -> Edit | None:
    """Lose the figure shift: the letters of the same keys."""
    try:
        codes = [code for code, _place in to_five_units(text[begin:end])]
    except KeyError:
        return None
    return Edit(begin, end, "".join(LETTER_OF.get(code, "") for code in codes))


def lost_figure(text: str, begin: int, end: int, random: np.random.Generator) -> Edit | None:
    """Lose one figure."""
    at = int(random.integers(begin, end))
    return Edit(at, at + 1, "")


def doubled_figure(text: str, begin: int, end: int, random: np.random.Generator) -> Edit | None:
    """Key one figure twice."""
    at = int(random.integers(begin, end))
    return Edit(at, at, text[at])


def other_figure(text: str, begin: int, end: int, random: np.random.Generator) -> Edit | None:
    """Put another figure for one."""
    at = int(random.integers(begin, end))
    others = [figure for figure in "0123456789" if figure != text[at]]
    return Edit(at, at + 1, others[int(random.integers(0, len(others)))])


# --- groups -------------------------------------------------------------------------------------


def split(text: str, begin: int, end: int, random: np.random.Generator) -> Edit | None:
    """Break a line inside the group, or put a blank there."""
    at = int(random.integers(begin + 1, end))
    return Edit(at, at, str(random.choice((" ", _LINE_END))))


def stuck(text: str, _begin: int, end: int, _random: np.random.Generator) -> Edit | None:
    """Lose the blank behind the group."""
    return Edit(end, end + 1, "") if text[end : end + 1] == " " else None


def lost_group(_text: str, begin: int, end: int, _random: np.random.Generator) -> Edit | None:
    """Lose the group."""
    return Edit(begin, end, "")


def doubled_group(text: str, begin: int, end: int, _random: np.random.Generator) -> Edit | None:
    """Give the group twice."""
    return Edit(end, end, f" {text[begin:end]}")


def solidi(text: str, begin: int, end: int, _random: np.random.Generator) -> Edit | None:
    """Put solidi for a group that somebody could not read."""
    return Edit(begin, end, "/" * (end - begin)) if "/" not in text[begin:end] else None


# --- reports and lines --------------------------------------------------------------------------


def no_end(text: str, _begin: int, end: int, _random: np.random.Generator) -> Edit | None:
    """Lose the equals sign of the report."""
    at = _part_end(text, end)
    return None if at is None else Edit(at, at + 1, "")


def other_end(text: str, _begin: int, end: int, _random: np.random.Generator) -> Edit | None:
    """End the report with a semicolon."""
    at = _part_end(text, end)
    return None if at is None else Edit(at, at + 1, ";")


def joined(text: str, _begin: int, end: int, _random: np.random.Generator) -> Edit | None:
    """Put the next report behind this one without sign or line end."""
    at = _part_end(text, end)
    if at is None:
        return None
    after = at + 1 + len(text[at + 1 :]) - len(text[at + 1 :].lstrip("\r\n"))
    return Edit(at, after, " ") if _PART.match(text, after) else None


def wrapped(text: str, _begin: int, end: int, _random: np.random.Generator) -> Edit | None:
    """Break the line behind the group."""
    return Edit(end, end + 1, _LINE_END) if text[end : end + 1] == " " else None


def _line(text: str, at: int) -> tuple[int, int]:
    begin = text.rfind("\n", 0, at) + 1
    found = re.compile(r"[\r\n]").search(text, at)
    return begin, found.start() if found else len(text)


def comment(text: str, begin: int, _end: int, random: np.random.Generator) -> Edit | None:
    """Put the sign of a comment before the line."""
    at, _stop = _line(text, begin)
    return Edit(at, at, str(random.choice(("! ", " * "))))


def padded(text: str, begin: int, _end: int, random: np.random.Generator) -> Edit | None:
    """Put blanks, SUB or NUL behind the line."""
    _start, at = _line(text, begin)
    return Edit(at, at, str(random.choice(("   ", "\x1a", "\x00\x00\x00"))))


def card(text: str, begin: int, _end: int, random: np.random.Generator) -> Edit | None:
    """Make a card of 80 columns of the line, with its number in columns 73 to 80."""
    start, stop = _line(text, begin)
    if stop - start > 72:
        return None
    line = text[start:stop].ljust(72)
    return Edit(start, stop, f"{line}{int(random.integers(1, 9999)):07d}0")


def heading_again(text: str, begin: int, _end: int, _random: np.random.Generator) -> Edit | None:
    """Give the heading of the bulletin again before the line."""
    found = list(_HEADING.finditer(text, max(0, begin - 6000), begin))
    at, _stop = _line(text, begin)
    if not found or found[-1].end() >= at:
        return None
    return Edit(at, at, found[-1].group() + _LINE_END)


def sent_again(text: str, begin: int, end: int, _random: np.random.Generator) -> Edit | None:
    """Give the report twice."""
    start, stop = _part_begin(text, begin), _part_end(text, end)
    if start is None or stop is None:
        return None
    return Edit(stop + 1, stop + 1, _LINE_END + text[start : stop + 1])


def station_first(text: str, begin: int, _end: int, _random: np.random.Generator) -> Edit | None:
    """Put the station number before the letters of the part."""
    start = _part_begin(text, begin)
    groups = text[start:].split(maxsplit=3) if start is not None else []
    return Edit(start, start, f"{groups[2]} ") if start is not None and len(groups) > 2 else None


def nil(text: str, begin: int, end: int, _random: np.random.Generator) -> Edit | None:
    """Put NIL for all that follows in the report."""
    stop = _part_end(text, end)
    if stop is None or _part_begin(text, begin) is None or role(text, begin) in ("", "YYGGI"):
        return None
    return Edit(begin, stop, "NIL")


# --- values -------------------------------------------------------------------------------------


def height_of_other_level(
    text: str, begin: int, end: int, _random: np.random.Generator
) -> Edit | None:
    """Give the height figures of the next standard level."""
    if role(text, begin) != "PPhhh":
        return None
    groups = text[begin : end + 40].split()
    if len(groups) < 4 or not groups[3].isdigit() or groups[3][:2] in ("88", "31"):
        return None
    return Edit(begin + 2, end, groups[3][2:]) if len(groups[3]) == 5 else None


def sign(text: str, begin: int, end: int, _random: np.random.Generator) -> Edit | None:
    """Give the tenths of a temperature the parity of the other sign."""
    at = begin + 2
    if role(text, begin) != "TTTaDD" or not text[begin : at + 1].isdigit() or end - begin != 5:
        return None
    return Edit(at, at + 1, str(int(text[at]) ^ 1))


def five_degrees(text: str, begin: int, end: int, _random: np.random.Generator) -> Edit | None:
    """Lose the five degrees of all directions of a sounding, which stand in those of the speed.

    That is done by a program that codes reports anew, and so to all parts of a sounding.
    """
    first = _part_begin(text, begin)
    if role(text, begin) != "ddfff" or end - begin != 5 or text[begin + 2] not in "567":
        return None
    words = text[first:begin].split()
    made = list(text)
    parts = [part.start() for part in _PART.finditer(text)]
    for part, stop in zip(parts, [*parts[1:], len(text)], strict=True):
        own = [*text[part : part + 20].split(), "", ""]
        if (own[1][:4], own[2]) != (words[1][:4], words[2]):
            continue
        for group in _FIGURES.finditer(text, part, stop):
            at = group.start() + 2
            if text[at] in "567" and role(text, group.start()) == "ddfff":
                made[at] = str(int(text[at]) - 5)
    return Edit(0, len(text), "".join(made))


def recoded(text: str, begin: int, end: int, _random: np.random.Generator) -> Edit | None:
    """Give a depression below five degrees in whole degrees, with figures the code leaves out."""
    figures = text[begin + 3 : end]
    if role(text, begin) != "TTTaDD" or not figures.isdigit() or not 10 <= int(figures) <= 50:
        return None
    return Edit(begin + 3, end, f"{50 + (int(figures) + 5) // 10:02d}")


def hour(text: str, begin: int, end: int, random: np.random.Generator) -> Edit | None:
    """Give another hour or day than the heading has."""
    figures = text[begin : begin + 4]
    if role(text, begin) != "YYGGI" or not figures.isdigit():
        return None
    if random.random() < 0.5:
        return Edit(begin + 2, begin + 4, f"{(int(figures[2:]) + 12) % 24:02d}")
    knots, day = divmod(int(figures[:2]), 50)
    return Edit(begin, begin + 2, f"{50 * knots + (day - 1 if day > 1 else day + 1):02d}")


def other_unit(text: str, begin: int, end: int, _random: np.random.Generator) -> Edit | None:
    """Give the day figures of the other unit of the winds."""
    figures = text[begin : begin + 2]
    if role(text, begin) != "YYGGI" or not figures.isdigit():
        return None
    return Edit(begin, begin + 2, f"{(int(figures) + 50) % 100:02d}")


KINDS: dict[str, Callable[[str, int, int, np.random.Generator], Edit | None]] = {
    "letter": letter,
    "letters-case": letters_case,
    "lost-figure": lost_figure,
    "doubled-figure": doubled_figure,
    "split": split,
    "stuck": stuck,
    "lost-group": lost_group,
    "doubled-group": doubled_group,
    "solidi": solidi,
    "no-end": no_end,
    "other-end": other_end,
    "joined": joined,
    "wrapped": wrapped,
    "comment": comment,
    "padded": padded,
    "card": card,
    "heading-again": heading_again,
    "sent-again": sent_again,
    "station-first": station_first,
    "nil": nil,
    "height-of-other-level": height_of_other_level,
    "sign": sign,
    "five-degrees": five_degrees,
    "recoded": recoded,
    "hour": hour,
    "other-unit": other_unit,
    "other-figure": other_figure,
}
"""All kinds, by name."""
BREAKING = ("letter", "letters-case", "lost-figure", "doubled-figure", "split", "stuck",
            "lost-group", "doubled-group", "solidi")  # fmt: skip
"""Kinds that break the form of a group."""
WELL_FORMED = ("height-of-other-level", "sign", "five-degrees", "hour", "other-unit")
"""Kinds after which every group looks right."""
ARCHIVE = tuple(name for name in KINDS if name != "other-figure")
"""What archives and hands do. A figure keyed for another is a kind by itself."""
