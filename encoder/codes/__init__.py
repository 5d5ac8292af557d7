"""WMO alphanumeric code forms: one declaration each, one engine for all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.codes.fm35 import FM35

if TYPE_CHECKING:
    from encoder.codes.declare import CodeForm, Part

__all__ = ["FORMS", "form_of_letters", "part_of_letters"]

FORMS: dict[str, CodeForm] = {FM35.number: FM35}
"""Every code form by its number."""


def part_of_letters(letters: str) -> Part | None:
    """Return the part that the four letters open, None where no form has it."""
    for form in FORMS.values():
        for part in form.parts:
            if part.letters == letters:
                return part
    return None


def form_of_letters(letters: str) -> CodeForm | None:
    """Return the code form whose part the four letters open."""
    for form in FORMS.values():
        if any(part.letters == letters for part in form.parts):
            return form
    return None
