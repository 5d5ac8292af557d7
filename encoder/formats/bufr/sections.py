"""The frame of a BUFR message: sections 0 to 5 without their data.

Layout: WMO-No. 306 Volume I.2, Part B, FM 94 BUFR, sections 0, 1, 3, 4 and 5, editions 2, 3 and 4.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from encoder.diagnostics import Diagnostic, Result, diagnostic

if TYPE_CHECKING:
    from collections.abc import Iterable

START = b"BUFR"
END = b"7777"
EDITIONS = (2, 3, 4)
"""Editions that give the length of the message in octets 5 to 7 of section 0."""
SMALLEST = 8 + 17 + 7 + 4 + 4
"""Octets of the shortest message that can be complete."""
MISSING_CENTRE = 65535
"""Centre and sub-centre not given, edition 4."""


@dataclass(frozen=True, slots=True)
class MessageHeader:
    """What sections 0, 1 and 3 say.

    Attributes
    ----------
    edition : int
    centre, sub_centre : int
        Common code tables C-11 and C-12.
    update : int
        Update sequence number: 0 for the original, one more for each correction.
    category, sub_category, local_sub_category : int
        Data category (BUFR Table A), international sub-category (C-13; 255 before edition 4) and
        local sub-category.
    table_version, local_version : int
        Versions of the master and local tables.
    time : datetime or None
        Date and time of section 1, UTC; None where they do not exist.
    subsets : int
    observed, compressed : bool
    descriptors : tuple of str
        Descriptors of section 3, six figures each.
    data : tuple of int
        First octet and end of the data in the message (section 4 without its four octets).
    """

    edition: int
    centre: int
    sub_centre: int
    update: int
    category: int
    sub_category: int
    local_sub_category: int
    table_version: int
    local_version: int
    time: datetime | None
    subsets: int
    observed: bool
    compressed: bool
    descriptors: tuple[str, ...]
    data: tuple[int, int]


def descriptor_text(value: int) -> str:
    """Return a descriptor of two octets (F 2 bits, X 6 bits, Y 8 bits) as six figures."""
    return f"{value >> 14}{(value >> 8) & 63:02d}{value & 255:03d}"


def _number(octets: bytes) -> int:
    return int.from_bytes(octets, "big")


def read_header(message: bytes) -> Result[MessageHeader | None]:
    """Read the frame of one message.

    Parameters
    ----------
    message : bytes
        From ``BUFR`` to ``7777``.

    Returns
    -------
    Result of MessageHeader or None
        None where the sections do not fit into the message; the diagnostic says which.
    """
    total = _number(message[4:7])
    edition = message[7] if len(message) > 7 else 0
    if len(message) < SMALLEST or message[:4] != START or total != len(message):
        return _damaged(f"Expected {total} octets from BUFR to 7777, found {len(message)}.")
    if edition not in EDITIONS:
        return _damaged(f"Edition {edition} is not read; known are 2, 3 and 4.")
    if message[-4:] != END:
        return _damaged(f"Expected 7777 at the end, found {message[-4:]!r}.")
    length = _number(message[8:11])
    least = 22 if edition == 4 else 17
    section_3 = 8 + length
    one = message[8:section_3]
    if length < least or section_3 >= total:
        return _damaged(f"Section 1 says it has {length} octets.", "section 1")
    if _has_optional(one, edition):
        section_3 += _number(message[section_3 : section_3 + 3])
    three_length = _number(message[section_3 : section_3 + 3])
    section_4 = section_3 + three_length
    if three_length < 7 or section_4 + 8 > total:
        return _damaged(f"Section 3 says it has {three_length} octets.", "section 3")
    four_length = _number(message[section_4 : section_4 + 3])
    if four_length < 4 or section_4 + four_length + 4 != total:
        return _damaged(
            f"Section 4 says it has {four_length} octets, {total - 4 - section_4} are there.",
            "section 4",
        )
    three = message[section_3:section_4]
    descriptors = tuple(
        descriptor_text(_number(three[at : at + 2])) for at in range(7, len(three) - 1, 2)
    )
    if edition < 4 and descriptors and descriptors[-1] == "000000":
        descriptors = descriptors[:-1]  # octets that make the section even
    if not descriptors or descriptors == ("000000",):
        return _damaged("Section 3 has no descriptor.", "section 3")
    data = (section_4 + 4, section_4 + four_length)
    return Result(_header(one, edition, three, descriptors, data))


def _has_optional(one: bytes, edition: int) -> bool:
    return bool(one[9 if edition == 4 else 7] & 0x80)


def _header(
    one: bytes, edition: int, three: bytes, descriptors: tuple[str, ...], data: tuple[int, int]
) -> MessageHeader:
    common = (_number(three[4:6]), bool(three[6] & 0x80), bool(three[6] & 0x40), descriptors, data)
    if edition == 4:
        time = _time(_number(one[15:17]), one[17:22])
        return MessageHeader(
            edition,
            _number(one[4:6]),
            _number(one[6:8]),
            one[8],
            one[10],
            one[11],
            one[12],
            one[13],
            one[14],
            time,
            *common,
        )
    time = _time(_full_year(one[12]), one[13:17])
    return MessageHeader(
        edition, one[5], one[4], one[6], one[8], 255, one[9], one[10], one[11], time, *common
    )


def _full_year(of_century: int) -> int:
    """Return the year of an edition that gives only its last two figures (100 for 2000).

    Years 57 to 99 are of the twentieth century: BUFR came into use in 1988, upper-air records
    converted to it begin with 1957. Common practice, no source.
    """
    if of_century > 100:
        return of_century + 1900
    year = of_century % 100
    return year + (1900 if year >= 57 else 2000)


def _time(year: int, rest: Iterable[int]) -> datetime | None:
    month, day, hour, minute, second = [*rest, 0][:5]
    try:
        return datetime(year, month, day, hour, minute, second, tzinfo=UTC)
    except ValueError:
        return None


def _damaged(message: str, section: str = "message") -> Result[MessageHeader | None]:
    found: Diagnostic = diagnostic("bufr-damaged", message, path=(section,))
    return Result(None, (found,))
