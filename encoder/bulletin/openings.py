"""How a report begins: the letters MiMiMjMj and the words of the monthly forms.

The table serves both directions: composing picks the data type of a heading by it, splitting looks
for nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass

SOURCE = "WMO-No. 306 Volume I.1, code table 2582"

PARTS: dict[str, str] = {"AA": "A", "BB": "B", "CC": "C", "DD": "D"}
"""MjMj and the letter of the part."""


@dataclass(frozen=True, slots=True)
class Family:
    """One pair MiMi.

    Attributes
    ----------
    letters : str
        MiMi.
    form : str
        Number of the code form.
    name : str
        Name of the code form.
    call_sign : bool
        Whether a call sign may stand before the time group.
    """

    letters: str
    form: str
    name: str
    call_sign: bool


FAMILIES: dict[str, Family] = {
    item.letters: item
    for item in (
        Family("TT", "FM 35", "TEMP", call_sign=False),
        Family("UU", "FM 36", "TEMP SHIP", call_sign=True),
        Family("XX", "FM 37", "TEMP DROP", call_sign=False),
        Family("II", "FM 38", "TEMP MOBIL", call_sign=True),
        Family("PP", "FM 32", "PILOT", call_sign=False),
        Family("QQ", "FM 33", "PILOT SHIP", call_sign=True),
        Family("EE", "FM 34", "PILOT MOBIL", call_sign=True),
    )
}
"""Every pair MiMi of the upper-air family."""

MONTHLY: dict[str, str] = {"CLIMAT TEMP": "FM 75", "CLIMAT TEMP SHIP": "FM 76"}
"""Monthly forms: they open with words, not with letters."""


PIBAL = "PIBAL"
"""Word before pilot-balloon reports of former times, and the number of their form."""


def form_of(letters: str) -> str | None:
    """Return the number of the code form that the opening belongs to, None where none has it.

    Parameters
    ----------
    letters : str
        For example ``"TTAA"`` or ``"CLIMAT TEMP"``.
    """
    if letters in MONTHLY:
        return MONTHLY[letters]
    if letters == PIBAL:
        return PIBAL
    family = FAMILIES.get(letters[:2])
    return family.form if family is not None and letters[2:] in PARTS else None


def part_of(letters: str) -> str | None:
    """Return the letter of the part the opening names, None for the monthly forms and others."""
    return PARTS.get(letters[2:]) if letters[:2] in FAMILIES else None
