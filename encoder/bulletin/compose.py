"""The bulletins of a flight: every part under the heading of its kind, in the order of sending."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.bulletin.due_times import passed_100_hpa
from encoder.bulletin.envelope import Bulletin, bulletin_text, message, nil_report
from encoder.bulletin.heading import data_type_of, heading_for
from encoder.bulletin.indicator import next_indicator
from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.levels.altitudes import UPPER_PART_ALTITUDE

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import datetime
    from typing import Literal

    from encoder.bulletin.correct import Correction
    from encoder.bulletin.heading import Heading
    from encoder.profile import Flight
    from encoder.report import Report

_ORDER = "ABCD"
"""A as soon as 100 hPa is passed, then B; C and D after the end of the ascent."""
_LOWER_PARTS = ("A", "B")


def compose_bulletins(
    flight: Flight,
    report: Report,
    *,
    centre: str,
    headings: Mapping[str, tuple[str, str]] | None = None,
    area: str | None = None,
    number: str = "01",
    indicator: str = "",
) -> Result[tuple[Bulletin, ...]]:
    """Return the bulletins of a flight in the order of sending.

    Parameters
    ----------
    flight : Flight
        Gives the nominal time of the headings.
    report : Report
        From :func:`encoder.report.encode_report`.
    centre : str
        CCCC of the compiling centre.
    headings : mapping of str to (str, str), optional
        A1A2 and ii by T1T2 where the region or the centre has its own.
    area : str, optional
        A1A2 for every other T1T2.
    number : str
        ii for every other T1T2.
    indicator : str
        BBB, where the headings were used before.

    Returns
    -------
    Result of tuple of Bulletin
        One bulletin a part: A, B, C, D; all parts of a drop in one, since they share a heading.
        "report-under-no-heading" for a part without A1A2.
    """
    parts = sorted(report.parts, key=lambda part: _ORDER.find(part.content.letter))
    return _under_headings(
        [(part.letters, part.text) for part in parts],
        flight.nominal_time,
        centre=centre,
        headings=headings or {},
        area=area,
        number=number,
        indicators=dict.fromkeys((part.letters for part in parts), indicator),
    )


def compose_early(
    flight: Flight,
    report: Report,
    *,
    centre: str,
    headings: Mapping[str, tuple[str, str]] | None = None,
    area: str | None = None,
    number: str = "01",
    indicator: str = "",
) -> Result[tuple[Bulletin, ...]]:
    """Return the bulletins of parts A and B of a flight that has passed 100 hPa and still rises.

    Parameters
    ----------
    flight : Flight
        With the rows received so far.
    report : Report
        Made from those rows.
    centre, headings, area, number, indicator
        See :func:`compose_bulletins`.

    Returns
    -------
    Result of tuple of Bulletin
        Parts A and B only. None and "early-not-yet" where the rows end below 100 hPa: such parts
        would not be whole unless the ascent is over, and then the full set is due.
    """
    if passed_100_hpa(flight) is None:
        ascent, due = flight.ascent, "100 hPa or less"
        pressures = ascent["air_pressure"][np.isfinite(ascent["air_pressure"])]
        reached = f"{pressures.min():g} hPa" if len(pressures) else None
        if ascent.by_height:
            reached = f"{ascent['geopotential_height'][-1]:.0f} m"
            due = f"{UPPER_PART_ALTITUDE:.0f} m or more"
        message = f"The highest row is at {reached or 'an unknown pressure'}."
        fault = diagnostic("early-not-yet", message, value=reached, expected=due)
        return Result((), (fault,))
    parts = [part for part in report.parts if part.content.letter in _LOWER_PARTS]
    parts.sort(key=lambda part: part.content.letter)
    return _under_headings(
        [(part.letters, part.text) for part in parts],
        flight.nominal_time,
        centre=centre,
        headings=headings or {},
        area=area,
        number=number,
        indicators=dict.fromkeys((part.letters for part in parts), indicator),
    )


def compose_correction(
    flight: Flight,
    correction: Correction,
    *,
    centre: str,
    headings: Mapping[str, tuple[str, str]] | None = None,
    area: str | None = None,
    number: str = "01",
    used: Mapping[str, Sequence[str]] | None = None,
) -> Result[tuple[Bulletin, ...]]:
    """Return the bulletins of a corrected report, with the indicators CCA, CCB and so on.

    Parameters
    ----------
    flight : Flight
    correction : Correction
        From :func:`encoder.bulletin.correct.correct`.
    centre, headings, area, number
        See :func:`compose_bulletins`.
    used : mapping of str to sequence of str, optional
        Indicators sent before, by the letters of the part.
    """
    sent = used or {}
    return _under_headings(
        list(zip(correction.letters, correction.texts, strict=True)),
        flight.nominal_time,
        centre=centre,
        headings=headings or {},
        area=area,
        number=number,
        indicators={
            letters: next_indicator("CC", sent.get(letters, ()))
            for letters in correction.letters
            if letters not in correction.first_sent
        },
    )


def _under_headings(
    texts: Sequence[tuple[str, str]],
    nominal_time: datetime,
    *,
    centre: str,
    headings: Mapping[str, tuple[str, str]],
    area: str | None,
    number: str,
    indicators: Mapping[str, str],
) -> Result[tuple[Bulletin, ...]]:
    bulletins: list[Bulletin] = []
    found: list[Diagnostic] = []
    for letters, text in texts:
        data_type = data_type_of(letters)
        own_area, own_number = headings.get(data_type, (area, number))
        if own_area is None:
            found.append(
                diagnostic(
                    "report-under-no-heading",
                    f"{letters} belongs under {data_type}, for which no A1A2 is given.",
                    path=(letters,),
                    expected=f"{data_type}: A1A2, ii",
                )
            )
            continue
        heading = heading_for(
            letters,
            area=own_area,
            number=own_number,
            centre=centre,
            day=nominal_time.day,
            hour=nominal_time.hour,
            indicator=indicators.get(letters, ""),
        )
        if bulletins and bulletins[-1].heading == heading:
            last = bulletins.pop()
            bulletins.append(Bulletin(heading, (*last.reports, text), (*last.letters, letters)))
        else:
            bulletins.append(Bulletin(heading, (text,), (letters,)))
    return Result(tuple(bulletins), tuple(found))


def collect(
    heading: Heading,
    reports: Mapping[str, str],
    *,
    letters: str,
    time_group: str,
    expected: Iterable[str] = (),
) -> Bulletin:
    """Return a collective: reports of several stations under one heading, NIL for missing ones.

    Parameters
    ----------
    heading : Heading
    reports : mapping of str to str
        Text by station number.
    letters : str
        What the reports open with, for example ``"TTAA"``.
    time_group : str
        YYGGId of the NIL reports, with ``/`` for Id.
    expected : iterable of str
        Stations of the content list; those without report are entered with NIL.

    Returns
    -------
    Bulletin
        In the order of station numbers (from memory).
    """
    lacking = {one: nil_report(letters, time_group, one) for one in expected if one not in reports}
    texts = {**reports, **lacking}
    return Bulletin(
        heading, tuple(texts[one] for one in sorted(texts)), tuple(letters for _one in texts)
    )


def messages(
    bulletins: Iterable[Bulletin],
    *,
    first_channel: int | None = None,
    figures: Literal[3, 5] = 3,
) -> Result[tuple[bytes, ...]]:
    """Return bulletins as messages ready for a circuit.

    Parameters
    ----------
    bulletins : iterable of Bulletin
    first_channel : int, optional
        Transmission sequence number of the first message; the others count on.
    figures : {3, 5}
        Figures of that number.
    """
    found: list[Diagnostic] = []
    made: list[bytes] = []
    for place, bulletin in enumerate(bulletins):
        text, faults = bulletin_text(bulletin)
        found.extend(faults)
        channel = None if first_channel is None else first_channel + place
        made.append(message(text, channel=channel, figures=figures))
    return Result(tuple(made), tuple(found))
