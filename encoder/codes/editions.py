"""Editions of the forms: what was reported when, as differences from the forms of today.

The library never reads the clock: whoever has an old record says its date. Before 1968 the code was
another one (a single message, two-figure winds); see :mod:`encoder.codes.conventions`.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from encoder.codes import FORMS
from encoder.codes.declare import Use
from encoder.codes.fm35 import begins
from encoder.codes.groups_facts import SEA_TEMPERATURE
from encoder.errors import InputError

if TYPE_CHECKING:
    from encoder.codes.declare import CodeForm, Part, Section

FOUR_PARTS_FROM = date(1968, 1, 1)
"""Four parts, 50 added to the day for knots, wind and humidity as today (from memory)."""
TODAY_FROM = date(1991, 11, 1)
"""925 hPa a standard surface, section 7 with system and release (from memory, uncertain)."""
LAST_OF_OLD = date(1991, 10, 31)
_OLD = "from memory; dates uncertain"
_NEW_SURFACE = "92"


def _old_section_7(section: Section, *, at_sea: bool) -> Section | None:
    """Return section 7 as it was: only the sea-surface temperature, only at sea."""
    if not at_sea:
        return None
    record = replace(section.records[0], uses=(Use(SEA_TEMPERATURE, "always"),), opens=begins("9"))
    return replace(section, title="sea-surface temperature", records=(record,))


def _old_part(part: Part, *, at_sea: bool) -> Part:
    sections: list[Section] = []
    for section in part.sections:
        facts = section.marker == "31313"
        kept = _old_section_7(section, at_sea=at_sea) if facts else section
        if kept is not None:
            sections.append(kept)
    standard = {pp: p for pp, p in part.standard.items() if pp != _NEW_SURFACE}
    return replace(part, sections=tuple(sections), standard=standard)


def _old_edition(form: CodeForm) -> CodeForm:
    at_sea = form.number in _AT_SEA
    return replace(
        form,
        parts=tuple(_old_part(part, at_sea=at_sea) for part in form.parts),
        valid_from=FOUR_PARTS_FROM.isoformat(),
        valid_to=LAST_OF_OLD.isoformat(),
        source=f"{form.source}, {_OLD}",
    )


_AT_SEA = ("FM 33", "FM 36")
_IN_PARTS = tuple(number for number, form in FORMS.items() if len(form.parts) > 1)

EDITIONS: dict[str, tuple[CodeForm, ...]] = {
    number: (
        (_old_edition(form), replace(form, valid_from=TODAY_FROM.isoformat()))
        if number in _IN_PARTS
        else (form,)
    )
    for number, form in FORMS.items()
}
"""Every edition of every form, the oldest first."""


def form(number: str, on: date | None = None) -> CodeForm:
    """Return a form as it was on a day.

    Parameters
    ----------
    number : str
        For example ``"FM 35"``.
    on : date, optional
        Day of the record; the form of today where it is not given.

    Returns
    -------
    CodeForm

    Raises
    ------
    InputError
        If there is no such form, or it did not exist on that day.
    """
    if number not in FORMS:
        msg = f"Expected one of {', '.join(FORMS)}, got {number!r}."
        raise InputError(msg)
    if on is None:
        return FORMS[number]
    day = on.isoformat()
    for edition in EDITIONS[number]:
        begun = edition.valid_from is None or edition.valid_from <= day
        if begun and (edition.valid_to is None or day <= edition.valid_to):
            return edition
    first = EDITIONS[number][0].valid_from
    msg = f"{number} in this form begins on {first}; there is no edition for {day}."
    raise InputError(msg)
