"""Reading BUFR: from a file of messages to soundings."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import TYPE_CHECKING, BinaryIO, Literal

from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.formats.bufr.bulk import read_plain
from encoder.formats.bufr.guard import refusal
from encoder.formats.bufr.isolation import read_isolated
from encoder.formats.bufr.months import BufrMonth, holds_month, month_of
from encoder.formats.bufr.sections import read_header
from encoder.formats.bufr.sounding import BufrSounding, sounding_of
from encoder.formats.bufr.stream import FoundMessage, find_messages
from encoder.formats.bufr.templates import DATA_CATEGORY
from encoder.formats.bufr.through_eccodes import read_with_library

if TYPE_CHECKING:
    from collections.abc import Iterator

    from encoder.formats.bufr.sections import MessageHeader
    from encoder.formats.bufr.subset import Subset

Reader = Literal["auto", "library"]
BufrContent = BufrSounding | BufrMonth
_OTHER_TYPES = {
    0: "surface data, land",
    1: "surface data, sea",
    3: "vertical soundings by satellite",
    4: "single-level upper-air data other than by satellite",
    5: "single-level upper-air data by satellite",
    6: "radar data",
    7: "synoptic features",
    8: "physical or chemical constituents",
    12: "surface data by satellite",
    21: "radiances by satellite",
    31: "oceanographic data",
}
"""Data categories (BUFR Table A, from memory) that are met and are no soundings."""


def read_soundings(
    source: bytes | BinaryIO, *, reader: Reader = "auto", formula: str = "wmo-49"
) -> Iterator[Result[tuple[BufrSounding, ...]]]:
    """Read the soundings of a file of BUFR messages, message by message.

    Parameters
    ----------
    source : bytes or binary file
        Messages alone, one after another, or each in the envelope of a bulletin.
    reader : {"auto", "library"}
        "auto" reads plain messages with numpy and others through the coding library in a process
        of its own, which a corrupted message cannot take this one down with; "library" reads all
        through the library in this process. Both give the same values.
    formula : str
        Vapour-pressure formula for the relative humidity.

    Yields
    ------
    Result of tuple of BufrSounding
        One a message, or a damaged place; memory does not grow with the file. Never raises for what
        the source holds. Monthly means are told as "bufr-no-sounding".
    """
    for result in read_contents(source, reader=reader, formula=formula):
        yield _soundings_alone(result)


def read_contents(
    source: bytes | BinaryIO, *, reader: Reader = "auto", formula: str = "wmo-49"
) -> Iterator[Result[tuple[BufrContent, ...]]]:
    """Read soundings and monthly means of a file; see :func:`read_soundings`.

    Yields
    ------
    Result of tuple of BufrSounding or BufrMonth
    """
    stream = io.BytesIO(source) if isinstance(source, bytes) else source
    for item in find_messages(stream):
        if isinstance(item, Diagnostic):
            yield Result((), (item,))
        else:
            yield read_content(item, reader=reader, formula=formula)


def read_message(
    message: FoundMessage | bytes, *, reader: Reader = "auto", formula: str = "wmo-49"
) -> Result[tuple[BufrSounding, ...]]:
    """Read the soundings of one message, one a subset.

    Parameters
    ----------
    message : FoundMessage or bytes
    reader, formula
        See :func:`read_soundings`.
    """
    return _soundings_alone(read_content(message, reader=reader, formula=formula))


def _soundings_alone(
    result: Result[tuple[BufrContent, ...]],
) -> Result[tuple[BufrSounding, ...]]:
    soundings = tuple(item for item in result.value if isinstance(item, BufrSounding))
    others = tuple(
        diagnostic(
            "bufr-no-sounding",
            f"The message at octet {item.offset}, subset {item.subset}, has monthly means of "
            f"{item.station} ({item.form}).",
            span=(item.offset, item.offset + 4),
        )
        for item in result.value
        if isinstance(item, BufrMonth)
    )
    return Result(soundings, (*result.diagnostics, *others))


def read_content(
    message: FoundMessage | bytes, *, reader: Reader = "auto", formula: str = "wmo-49"
) -> Result[tuple[BufrContent, ...]]:
    """Read the soundings or monthly means of one message, one a subset.

    Parameters
    ----------
    message : FoundMessage or bytes
    reader, formula
        See :func:`read_soundings`.
    """
    if isinstance(message, bytes):
        message = FoundMessage(0, message)
    span = (message.offset, message.offset + len(message.data))
    framed = read_header(message.data)
    header = framed.value
    if header is None:
        return Result((), _placed(framed.diagnostics, span))
    refused = _refusal(header, message.offset)
    if refused is not None:
        return Result((), _placed((refused,), span))
    subsets = read_subsets(message.data, header, reader=reader)
    found: list[Diagnostic] = list(subsets.diagnostics)
    contents: list[BufrContent] = []
    place, heading = message.offset, message.heading
    for number, subset in enumerate(subsets.value, 1):
        made: Result[BufrMonth | None] | Result[BufrSounding | None]
        if holds_month(subset):
            made = month_of(subset, header, offset=place, number=number, heading=heading)
        else:
            made = sounding_of(
                subset, header, offset=place, number=number, heading=heading, formula=formula
            )
        found.extend(made.diagnostics)
        if made.value is not None:
            contents.append(made.value)
    return Result(tuple(contents), _placed(found, span))


def read_subsets(
    message: bytes, header: MessageHeader, *, reader: Reader = "auto"
) -> Result[tuple[Subset, ...]]:
    """Read the plain values of a message.

    Parameters
    ----------
    message : bytes
    header : MessageHeader
    reader : {"auto", "library"}
    """
    if reader == "auto":
        subsets = read_plain(message, header)
        if subsets is not None:
            return Result(subsets)
    refused = refusal(header)
    if refused is not None:
        return Result((), (refused,))
    return read_isolated(message) if reader == "auto" else read_with_library(message, header)


def _refusal(header: MessageHeader, offset: int) -> Diagnostic | None:
    if header.category == DATA_CATEGORY:
        return None
    name = _OTHER_TYPES.get(header.category, "another type of data")
    return diagnostic(
        "bufr-no-sounding",
        f"The message at octet {offset} is of data category {header.category} ({name}).",
        value=str(header.category),
        expected="2 (vertical soundings other than by satellite)",
    )


def _placed(
    diagnostics: tuple[Diagnostic, ...] | list[Diagnostic], span: tuple[int, int]
) -> tuple[Diagnostic, ...]:
    return tuple(replace(item, span=span) if item.span is None else item for item in diagnostics)
