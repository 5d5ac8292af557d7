"""WMO alphanumeric code forms: one declaration each, one engine for all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.codes.derive import MOBILE, SHIP, derived_form
from encoder.codes.fm35 import FM35
from encoder.codes.monthly import FM75, FM76
from encoder.codes.pibal import IN_KNOTS as PIBAL
from encoder.codes.pilot import FM32

if TYPE_CHECKING:
    from encoder.codes.declare import CodeForm, Part

__all__ = ["FORMS", "form_of_letters", "part_of_letters"]

FM33 = derived_form(
    FM32,
    number="FM 33",
    name="PILOT SHIP",
    title="upper-wind report from a sea station",
    letters="QQ",
    place=SHIP,
    call_sign=True,
)
FM34 = derived_form(
    FM32,
    number="FM 34",
    name="PILOT MOBIL",
    title="upper-wind report from a mobile land station",
    letters="EE",
    place=MOBILE,
    call_sign=True,
)
FM36 = derived_form(
    FM35,
    number="FM 36",
    name="TEMP SHIP",
    title="upper-level pressure, temperature, humidity and wind report from a sea station",
    letters="UU",
    place=SHIP,
    call_sign=True,
)
FM37 = derived_form(
    FM35,
    number="FM 37",
    name="TEMP DROP",
    title="upper-level pressure, temperature, humidity and wind report from a dropped sonde",
    letters="XX",
    place=SHIP,
    call_sign=False,
)
FM38 = derived_form(
    FM35,
    number="FM 38",
    name="TEMP MOBIL",
    title="upper-level pressure, temperature, humidity and wind report from a mobile land station",
    letters="II",
    place=MOBILE,
    call_sign=True,
)

FORMS: dict[str, CodeForm] = {
    form.number: form for form in (FM35, FM32, FM33, FM34, FM36, FM37, FM38, FM75, FM76, PIBAL)
}
"""Every code form by its number; of one no longer in use, its last edition."""

_PARTS = {part.letters: (form, part) for form in FORMS.values() for part in form.parts}


def part_of_letters(letters: str) -> Part | None:
    """Return the part that the four letters open, None where no form has it."""
    found = _PARTS.get(letters)
    return None if found is None else found[1]


def form_of_letters(letters: str) -> CodeForm | None:
    """Return the code form whose part the four letters open."""
    found = _PARTS.get(letters)
    return None if found is None else found[0]
