"""What damaged characters may have been: letters for figures, letter shift, marks.

The letters that look like a figure are common practice, no source. The letter shift is that of the
teleprinter: a lost figure shift turns the figures 1 to 0 into the letters of the same keys, Q W E R
T Y U I O P (International Telegraph Alphabet No. 2); X and V stand for the solidus and the equals
sign there.
"""

from __future__ import annotations

from typing import NamedTuple

from encoder.codes.declare import CODE_CHARACTERS
from encoder.repair.proposal import RepairKind

LOOK_ALIKE = {
    "O": "0", "I": "1", "L": "1", "|": "1", "!": "1", "Z": "2", "S": "5",
    "$": "5", "G": "6", "B": "8", "\\": "/",
}  # fmt: skip
"""Letters and marks that look like a figure or a solidus."""
LETTER_SHIFT = dict(zip("QWERTYUIOPX", "1234567890/", strict=True))
"""Letters on the keys of the figures."""
MARKS = frozenset(".,;:-_'`*+\"?()")
"""Characters between figures that mean nothing."""
LEAST_FIGURES = 3
"""A group with fewer figures left is no group of figures that look like letters."""


class Spelling(NamedTuple):
    """Another reading of some characters.

    Attributes
    ----------
    kind : RepairKind
    text : str
        Figures and solidi only.
    offsets : tuple of int
        Where each of them stands.
    sure : bool
        Whether the characters allow no other reading of this kind.
    """

    kind: RepairKind
    text: str
    offsets: tuple[int, ...]
    sure: bool = True


def spellings(text: str, start: int) -> list[Spelling]:
    """Return the readings of a word that is not made of figures and solidi.

    Parameters
    ----------
    text : str
        The word in capitals.
    start : int
        Its offset.

    Returns
    -------
    list of Spelling
        Empty where too little of it are figures, and it is no letter shift either.
    """
    pairs = [(char, start + at) for at, char in enumerate(text) if char not in MARKS]
    if not pairs:
        return []
    word = "".join(char for char, _at in pairs)
    offsets = tuple(at for _char, at in pairs)
    letters = [char for char in word if char not in CODE_CHARACTERS]
    if not letters:
        return [Spelling(RepairKind.MARKS, word, offsets)] if len(word) < len(text) else []
    found: list[Spelling] = []
    alike = all(char in LOOK_ALIKE for char in letters)
    shifted = all(char in LETTER_SHIFT for char in letters)
    run = word.lstrip("0123456789/")
    to_the_end = not CODE_CHARACTERS.intersection(run) and len(run) > 1
    enough = len(word) - len(letters) >= LEAST_FIGURES
    if alike and enough:
        plain = "".join(LOOK_ALIKE.get(char, char) for char in word)
        found.append(
            Spelling(RepairKind.LETTERS, plain, offsets, sure=not (shifted and to_the_end))
        )
    if shifted and (to_the_end or not alike):
        keyed = "".join(LETTER_SHIFT.get(char, char) for char in word)
        found.append(
            Spelling(RepairKind.LETTER_SHIFT, keyed, offsets, sure=to_the_end and not found)
        )
    return found
