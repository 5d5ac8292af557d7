"""Traffic that holds coded text and BUFR messages side by side: telling it, and taking it apart."""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.bulletin.patterns import SURE_OPENING
from encoder.bulletin.pieces import Kind
from encoder.bulletin.stream import split_bytes

if TYPE_CHECKING:
    from mmap import mmap

_START, _END = b"BUFR", b"7777"
_EDITIONS = (2, 3, 4)
_SHORTEST = 20
"""Octets between two messages that can hold a report; letters, time group and station."""
_BLOCK = 1 << 18
_OVERLAP = 128
_RELEASE = 1 << 23
"""Octets of a mapped file after which its pages are given back, where the system can."""
MADV_DONTNEED = 4
"""Value of Linux and BSD; the module ``mmap`` has the name only where the system knows it."""


def opening_of_report(text: bytes) -> int | None:
    """Return where letters with a plausible time group stand in some bytes, None where nowhere."""
    found = SURE_OPENING.search(text)
    return None if found is None else found.start()


def report_beside_messages(data: bytes | mmap) -> bool:
    """Tell whether a coded report stands before, between or after BUFR messages.

    Parameters
    ----------
    data : bytes or mmap
        A whole file; messages are passed over by their length.
    """
    place = left = 0
    while place < len(data):
        if place - left > _RELEASE and not isinstance(data, bytes) and hasattr(data, "madvise"):
            data.madvise(MADV_DONTNEED)  # what was passed over need not stay in memory
            left = place
        at = data.find(_START, place)
        end = at if at >= 0 else len(data)
        if end - place >= _SHORTEST and _opens_between(data, place, end):
            return True
        if at < 0:
            return False
        head = data[at : at + 8]
        stop = at + int.from_bytes(head[4:7], "big")
        sound = len(head) == 8 and head[7] in _EDITIONS and stop > at + 8
        place = stop if sound and data[stop - 4 : stop] == _END else at + len(_START)
    return False


def _opens_between(data: bytes | mmap, begin: int, end: int) -> bool:
    """Look block by block, so that a long stretch is never held whole."""
    return any(
        opening_of_report(data[max(begin, place - _OVERLAP) : min(end, place + _BLOCK)]) is not None
        for place in range(begin, end, _BLOCK)
    )


def apart(data: bytes) -> tuple[bytes, bytes]:
    """Return traffic without its BUFR messages, and its BUFR messages without the rest.

    Parameters
    ----------
    data : bytes

    Returns
    -------
    text, binary : bytes
        Each as long as the data, with blanks in place of what was taken out, so that offsets stay;
        headings stand in both. ``binary`` is empty where there is no message.
    """
    if _START not in data:
        return data, b""
    text, binary, messages = bytearray(data), bytearray(data), 0
    for piece in split_bytes(data):
        blanks = b" " * len(piece.text)
        place = slice(piece.offset, piece.offset + len(piece.text))
        if piece.remark == "binary" and piece.text.startswith(_START):
            text[place] = blanks
            messages += 1
        elif piece.kind is not Kind.FRAMING:
            binary[place] = blanks
    return (bytes(text), bytes(binary)) if messages else (data, b"")
