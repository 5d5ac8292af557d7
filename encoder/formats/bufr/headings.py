"""Bulletins of BUFR messages: the heading a message belongs under, its envelope, its file name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.bulletin.areas import quarter_of_globe
from encoder.bulletin.envelope import LINE_END
from encoder.bulletin.heading import Heading, compose_heading
from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.formats.bufr.write import LARGEST_BULLETIN

if TYPE_CHECKING:
    from encoder.formats.bufr.content import MessageContent
    from encoder.formats.bufr.monthly import MonthlyMessage
    from encoder.formats.bufr.sections import MessageHeader
    from encoder.formats.bufr.templates import Platform

DATA_TYPE = "IU"
NUMBERS = {"land": range(1, 20), "mobile": range(20, 40), "ship": range(40, 60)}
"""ii by platform (WMO-No. 386 Attachment II-5, table C6)."""
FIRST_NUMBER: dict[str, int] = {"land": 1, "mobile": 20, "ship": 40, "drop": 1}
"""ii where none is asked for."""
DESCENT_SHIFT = 10
"""ii of a descent beyond that of its ascent: no designator exists, another number is usual (common
practice, no source)."""
SUB_CATEGORIES: dict[str, frozenset[int]] = {
    "K": frozenset({4, 5, 6, 104, 105, 106}),
    "S": frozenset({4, 5, 6, 14, 15, 16, 104, 105, 106, 114, 115, 116}),
    "W": frozenset({1, 2, 3}),
    "J": frozenset({1, 2, 3}),
    "D": frozenset({7}),
    "U": frozenset({25, 26}),
}
"""A1 of headings IU.. and the sub-categories of C-13 they hold (WMO-No. 386 Attachment II-5, table
C6)."""
MONTHLY_NUMBERS = {"land": range(1, 46), "ship": range(46, 60)}
"""ii of monthly means by platform (the same table)."""
_PLATFORM_OF: dict[int, str] = {
    **dict.fromkeys((1, 4, 14, 25, 104, 114), "land"),
    **dict.fromkeys((2, 5, 15, 26, 105, 115), "ship"),
    **dict.fromkeys((3, 6, 16, 106, 116), "mobile"),
    7: "drop",
}


def kind_letter(sub_category: int, *, first: bool = False) -> str:
    """Return A1 of the heading for a sub-category of soundings.

    Parameters
    ----------
    sub_category : int
        International sub-category, C-13.
    first : bool
        The message up to 100 hPa.

    Raises
    ------
    KeyError
        If no heading of soundings holds that sub-category.
    """
    if sub_category in SUB_CATEGORIES["W"]:
        return "W" if first else "J"
    for letter in "SDU":
        if sub_category in SUB_CATEGORIES[letter]:
            return "K" if first and letter == "S" else letter
    raise KeyError(sub_category)


def heading_of(
    content: MessageContent,
    *,
    position: tuple[float, float],
    centre: str,
    first: bool = False,
    number: int | None = None,
    indicator: str = "",
) -> Heading:
    """Return the heading a message belongs under.

    Parameters
    ----------
    content : MessageContent
    position : tuple of float
        Latitude and longitude of the station, degrees.
    centre : str
        CCCC of the compiling centre.
    first : bool
        The message up to 100 hPa.
    number : int, optional
        ii; by default the lowest of the platform.
    indicator : str
        BBB, for example ``"CCA"`` for a correction.

    Notes
    -----
    WMO-No. 386, Attachment II-5, tables C6 and C3; day and hour as in section 1 of the message.
    """
    descent = content.template.number == "309056"
    sub_category = content.template.sub_category[content.platform]
    own = FIRST_NUMBER[content.platform] + (DESCENT_SHIFT if descent else 0)
    time = content.nominal_time
    return Heading(
        DATA_TYPE,
        kind_letter(sub_category, first=first) + quarter_of_globe(*position),
        f"{own if number is None else number:02d}",
        centre,
        time.day,
        time.hour,
        0,
        indicator,
    )


def heading_of_month(
    month: MonthlyMessage, *, centre: str, number: int | None = None, indicator: str = ""
) -> Heading:
    """Return the heading the monthly means of a station belong under.

    Parameters
    ----------
    month : MonthlyMessage
    centre : str
        CCCC of the compiling centre.
    number : int, optional
        ii; by default the lowest of the platform.
    indicator : str
        BBB, for example ``"CCA"`` for a correction.

    Notes
    -----
    Day and hour are those of section 1: the first day of the month.
    """
    own = MONTHLY_NUMBERS["ship" if month.call_sign else "land"].start
    place = month.station
    return Heading(
        DATA_TYPE,
        "U" + quarter_of_globe(place.latitude, place.longitude),
        f"{own if number is None else number:02d}",
        centre,
        1,
        month.hour or 0,
        0,
        indicator,
    )


def bulletin_octets(message: bytes, heading: Heading) -> Result[bytes]:
    """Return a bulletin: heading line and message.

    Parameters
    ----------
    message : bytes
    heading : Heading

    Returns
    -------
    Result of bytes
        For :func:`encoder.bulletin.envelope.message` or a batch; an error where it is larger than
        the 500,000 octets of a binary bulletin.

    Raises
    ------
    ValueError
        If an element of the heading does not have the form that its place demands.
    """
    bulletin = compose_heading(heading).encode("ascii") + LINE_END + message + LINE_END
    found: tuple[Diagnostic, ...] = ()
    if len(bulletin) > LARGEST_BULLETIN:
        found = (
            diagnostic(
                "bufr-too-large",
                f"{heading.text} has {len(bulletin):,} octets; a bulletin holds "
                f"{LARGEST_BULLETIN:,}.",
            ),
        )
    return Result(bulletin, found)


def heading_fits_message(heading: Heading, header: MessageHeader) -> tuple[Diagnostic, ...]:
    """Tell where the heading of a bulletin does not fit the message in it.

    Parameters
    ----------
    heading : Heading
    header : MessageHeader

    Returns
    -------
    tuple of Diagnostic
        On the kind of data, the range of ii, and day and hour.
    """
    wrong: list[str] = []
    held = SUB_CATEGORIES.get(heading.area[:1]) if heading.data_type == DATA_TYPE else None
    if held is None:
        wrong.append(f"{heading.data_type}{heading.area[:1]} is no heading of soundings in BUFR")
    elif header.sub_category != 255 and header.sub_category not in held:
        wrong.append(f"the message is of sub-category {header.sub_category}")
    else:
        platform = _PLATFORM_OF.get(header.sub_category)
        monthly = header.sub_category in SUB_CATEGORIES["U"]
        numbers = (MONTHLY_NUMBERS if monthly else NUMBERS).get(platform or "")
        if numbers is not None and int(heading.number) not in numbers:
            wrong.append(f"ii {heading.number} is not of the range for {platform}")
    time = header.time
    if time is not None and (time.day, time.hour) != (heading.day, heading.hour):
        wrong.append(f"section 1 says day {time.day:02d}, {time.hour:02d} UTC")
    return tuple(
        diagnostic("bufr-heading-by-content", f"{heading.text}: {words}.", value=heading.text)
        for words in wrong
    )


def platform_named(sub_category: int) -> Platform | None:
    """Return the platform a sub-category belongs to, None where it has none."""
    named = _PLATFORM_OF.get(sub_category)
    platform: Platform | None = named  # type: ignore[assignment]
    return platform
