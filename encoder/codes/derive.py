"""Forms as differences from a base form: other letters, another place, a call sign."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from encoder.codes import groups_facts as fact
from encoder.codes.declare import Use
from encoder.codes.groups_position import CALL_SIGN, ELEVATION, POSITION

if TYPE_CHECKING:
    from encoder.codes.declare import CodeForm, Group, Part

SHIP = POSITION
"""Place of a sounding at sea or from an aircraft."""
MOBILE = (*POSITION, ELEVATION)
"""Place of a sounding from a mobile land station."""


def derived_form(
    base: CodeForm,
    *,
    number: str,
    name: str,
    title: str,
    letters: str,
    place: tuple[Group, ...],
    call_sign: bool,
) -> CodeForm:
    """Return a form that differs from a base form in its identification alone.

    Parameters
    ----------
    base : CodeForm
        Form for a fixed land station.
    number, name, title : str
        Of the new form.
    letters : str
        MiMi, for example ``"UU"``.
    place : tuple of Group
        Groups that take the place of IIiii.
    call_sign : bool
        Whether D....D stands before the time group.
    """
    parts = tuple(_derived_part(part, letters, place, call_sign=call_sign) for part in base.parts)
    return replace(base, number=number, name=name, title=title, parts=parts)


def _derived_part(part: Part, letters: str, place: tuple[Group, ...], *, call_sign: bool) -> Part:
    first, *body = part.sections
    record = first.records[0]
    opening = fact.opening(letters + part.letters[2:], part.title)
    time = record.uses[1]
    sign = (Use(CALL_SIGN),) if call_sign else ()
    uses = (Use(opening), *sign, time, *(Use(group) for group in place))
    section = replace(first, records=(replace(record, uses=uses),))
    return replace(part, letters=letters + part.letters[2:], sections=(section, *body))
