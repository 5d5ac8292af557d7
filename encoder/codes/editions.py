"""Editions of the forms: what was reported when, as differences from the forms of today.

The library never reads the clock: whoever has an old record says its date. Before 1968 a sounding
was a single message; no public declaration of its groups was found, so no form is declared for it.
Pilot-balloon reports in two-figure winds are: :mod:`encoder.codes.pibal`.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from encoder.codes import FORMS
from encoder.codes.conventions import HUMIDITY_CONVENTIONS
from encoder.codes.declare import Use
from encoder.codes.fm35 import begins
from encoder.codes.groups_facts import SEA_TEMPERATURE
from encoder.codes.pibal import IN_KNOTS, IN_MILES
from encoder.errors import InputError
from encoder.levels.rules import NEW_SURFACE_FROM

if TYPE_CHECKING:
    from encoder.codes.declare import CodeForm, Part, Section

FOUR_PARTS_FROM = date(1968, 1, 1)
"""Four parts, 50 added to the day for knots, wind and humidity as today (from memory)."""
TODAY_FROM = NEW_SURFACE_FROM
"""925 hPa a standard surface, section 7 with system and release (from memory, uncertain)."""
LAST_OF_OLD = TODAY_FROM - timedelta(days=1)
BEFORE = (
    f"Before {FOUR_PARTS_FROM} a sounding was a single message with winds of two figures; no "
    "public declaration of its groups was found, so none is given here and the message is not read."
)
"""What is known of the time before, for a diagnostic."""
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
EDITIONS[IN_KNOTS.number] = (IN_MILES, IN_KNOTS)
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
    first, last = EDITIONS[number][0].valid_from, EDITIONS[number][-1].valid_to
    if last is not None:
        msg = f"{number} is known from {first} to {last}; there is no edition for {day}."
        raise InputError(msg)
    msg = f"{number} in this form begins on {first}; there is no edition for {day}. {BEFORE}"
    raise InputError(msg)


def edition(number: str, on: date | None) -> CodeForm:
    """Return a form as it was on a day, and where it had no edition then, the newest there is.

    Parameters
    ----------
    number : str
        Of a form that there is.
    on : date or None
    """
    try:
        return form(number, on)
    except InputError:
        return FORMS[number]


def declared_on(number: str, on: date | None) -> bool:
    """Tell whether a form has an edition for a day; it has for no day at all."""
    try:
        form(number, on)
    except InputError:
        return False
    return True


def period(day: date) -> int:
    """Return the number of the stretch of time in which a day lies.

    On the days of one stretch the same editions hold, and the same conventions.
    """
    return bisect_right(_CHANGES, day)


def _first_days() -> tuple[date, ...]:
    days = {convention.begins for convention in HUMIDITY_CONVENTIONS}
    days |= {convention.ends + timedelta(days=1) for convention in HUMIDITY_CONVENTIONS}
    for editions in EDITIONS.values():
        for item in editions:
            if item.valid_from is not None:
                days.add(date.fromisoformat(item.valid_from))
            if item.valid_to is not None:
                days.add(date.fromisoformat(item.valid_to) + timedelta(days=1))
    return tuple(sorted(days))


_CHANGES = _first_days()
