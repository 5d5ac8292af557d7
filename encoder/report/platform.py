"""Which form a flight is reported in, going by what it was made from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.codes import FORMS
from encoder.errors import InputError
from encoder.report.arrange_pilot import WindPractice

if TYPE_CHECKING:
    from encoder.profile import Flight
    from encoder.report.model import Report

FORM_OF_PLATFORM = {"land": "FM 35", "ship": "FM 36", "drop": "FM 37", "mobile": "FM 38"}
"""Form of a sounding of temperature and wind by platform (WMO-No. 306 Volume I.1)."""
WIND_FORM_OF_PLATFORM = {"land": "FM 32", "ship": "FM 33", "mobile": "FM 34"}
"""Form of a sounding of wind alone by platform."""


def form_of_flight(flight: Flight, form: str | None = None) -> str:
    """Return the number of the form a flight is reported in.

    Parameters
    ----------
    flight : Flight
        ``platform`` of its station decides; "land" where it names none. A flight of winds alone
        (``winds_alone``, or rows without any temperature) is reported in the form for these.
    form : str, optional
        Number or name of another form, for example ``"FM 32"``, ``"fm32"`` or ``"PILOT"``.

    Raises
    ------
    InputError
        If there is no such form, none for winds from that platform, or winds by height alone are
        to fill a form of temperatures.
    """
    if form is not None:
        named = _named(form)
        if flight.ascent.by_height and named not in WIND_FORM_OF_PLATFORM.values():
            msg = f"The flight has winds by height alone, which do not fill {named}."
            raise InputError(msg)
        return named
    platform = flight.document.get("station", {}).get("platform") or "land"
    warm = np.any(np.isfinite(flight.ascent["air_temperature"][1:]))
    if warm and flight.document.get("winds_alone") is not True:
        return FORM_OF_PLATFORM[platform]
    if platform not in WIND_FORM_OF_PLATFORM:
        msg = f"No form holds winds alone from the platform {platform!r}."
        raise InputError(msg)
    return WIND_FORM_OF_PLATFORM[platform]


def _named(form: str) -> str:
    wanted = "".join(form.upper().split())
    for number, declared in FORMS.items():
        if wanted in ("".join(number.split()), "".join(declared.name.upper().split())):
            return number
    msg = f"There is no code form {form!r}; known: {', '.join(FORMS)}."
    raise InputError(msg)


def practice_of(report: Report) -> WindPractice:
    """Return how a PILOT gives its winds, as far as its parts tell; the usual way for others."""
    records = [
        record
        for part in report.parts
        for section in part.content.sections
        for record in section.records
    ]
    kinds = {record.kind for record in records}
    by_pressure = "significant-wind" in kinds and "fixed-altitude" not in kinds
    by_altitude = bool(kinds & {"standard-by-altitude", "maximum-wind-by-altitude"})
    steps = {record.get("altitude_step") for record in records}
    return WindPractice(
        step=500 if 500 in steps else None,
        significant_by="pressure" if by_pressure else "altitude",
        standard_by="altitude" if by_altitude else "pressure",
    )
