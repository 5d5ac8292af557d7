"""A file of BUFR messages as a stream: found by length, damaged ones reported and skipped.

Messages may stand alone, one after another, or each in the envelope of a bulletin. Memory stays
bounded by the longest message whatever the size of the file.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, BinaryIO

from encoder.bulletin.mixed import opening_of_report
from encoder.diagnostics import Diagnostic, diagnostic
from encoder.formats.bufr.sections import EDITIONS, END, SMALLEST, START

if TYPE_CHECKING:
    from collections.abc import Iterator

CHUNK = 1 << 16
"""Octets read at once."""
LONGEST = (1 << 24) - 1
"""Longest message that three octets can tell."""
_BETWEEN = 256
"""Octets before a message in which a heading is sought."""
_OPENING = 64
"""Octets before a place that may begin a report there."""
_HEADING = re.compile(rb"([A-Z]{4}\d{2}) ([A-Z]{4}) (\d{6})(?: ([A-Z]{3}))?(?=[\r\n ]*\Z)")

_CHANNEL = re.compile(rb"\x01[\r\n]+(\d{3,5}) ?[\r\n]+")


@dataclass(frozen=True, slots=True)
class FoundMessage:
    """One message of a stream.

    Attributes
    ----------
    offset : int
        Octets before it.
    data : bytes
        From ``BUFR`` to ``7777``.
    heading : str or None
        Abbreviated heading of the bulletin it stands in, for example ``"IUSX01 XNOR 170000"``.
    channel : int or None
        Transmission number of its envelope.
    """

    offset: int
    data: bytes
    heading: str | None = None
    channel: int | None = None


def find_messages(stream: BinaryIO) -> Iterator[FoundMessage | Diagnostic]:
    """Find the messages of a stream.

    Parameters
    ----------
    stream : binary file
        Read from where it stands.

    Yields
    ------
    FoundMessage or Diagnostic
        In the order of the stream; a diagnostic, with the offset, for every place that begins like
        a message and is none. Never raises for what the stream holds.
    """
    window = _Window(stream)
    found = 0
    while window.seek_start():
        window.need(SMALLEST)
        head = window.peek(8)
        length = int.from_bytes(head[4:7], "big")
        fault = _head_fault(head, length)
        if fault is None and not window.need(length):
            fault = f"the file ends after {window.left()} of its {length} octets"
        if fault is None and window.peek(length)[-4:] != END:
            fault = f"there is no 7777 after its {length} octets"
        if fault is not None:
            yield diagnostic(
                "bufr-damaged",
                f"The message at octet {window.position} is skipped: {fault}.",
                span=(window.position, window.position + 4),
            )
            window.skip(len(START))
            continue
        found += 1
        position, heading, channel = window.position, window.heading(), window.channel()
        yield FoundMessage(position, window.take(length), heading, channel)
    if window.report_at is not None:
        yield diagnostic(
            "bufr-text-beside",
            f"A coded report at octet {window.report_at} stands beside the messages.",
            span=(window.report_at, window.report_at + 4),
        )
    if not found:
        yield diagnostic("bufr-none", "There is no complete BUFR message in the file.")


def find_messages_in(data: bytes) -> Iterator[FoundMessage | Diagnostic]:
    """Find the messages of bytes; see :func:`find_messages`."""
    return find_messages(io.BytesIO(data))


def _head_fault(head: bytes, length: int) -> str | None:
    if len(head) < 8:
        return "the file ends within its first section"
    if head[7] not in EDITIONS:
        return f"its edition is {head[7]}, known are 2, 3 and 4"
    if length < SMALLEST:
        return f"it says it has {length} octets, too few for any message"
    return None


class _Window:
    """The part of a stream that is held: what lies ahead, and a little of what went before."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream
        self._held = bytearray()
        self._at = 0
        self._ended = False
        self._before = b""
        self.position = 0
        self.report_at: int | None = None

    def left(self) -> int:
        return len(self._held) - self._at

    def need(self, count: int) -> bool:
        """Hold that many octets ahead; tell whether there are as many."""
        while self.left() < count and not self._ended:
            more = self._stream.read(max(CHUNK, count - self.left()))
            if not more:
                self._ended = True
            self._held += more
        return self.left() >= count

    def peek(self, count: int) -> bytes:
        return bytes(self._held[self._at : self._at + count])

    def take(self, count: int) -> bytes:
        data = self.peek(count)
        self._advance(count)
        self._before = b""
        return data

    def skip(self, count: int) -> None:
        self._before = (self._before + self.peek(count))[-_BETWEEN:]
        self._advance(count)

    def _pass(self, count: int) -> None:
        """Skip what is no message; note where a coded report stands in it."""
        if count and self.report_at is None:
            before = self._before[-_OPENING:]
            found = opening_of_report(before + self.peek(count))
            self.report_at = None if found is None else self.position - len(before) + found
        self.skip(count)

    def _advance(self, count: int) -> None:
        self._at += count
        self.position += count
        if self._at > CHUNK:
            del self._held[: self._at]
            self._at = 0

    def heading(self) -> str | None:
        match = _HEADING.search(self._before)
        return None if match is None else match.group().decode("ascii")

    def channel(self) -> int | None:
        numbers = _CHANNEL.findall(self._before)
        return int(numbers[-1]) if numbers else None

    def seek_start(self) -> bool:
        """Go to the next ``BUFR``; tell whether there is one."""
        while True:
            self.need(CHUNK)
            place = self._held.find(START, self._at)
            if place >= 0:
                self._pass(place - self._at)
                return True
            self._pass(max(self.left() - len(START) + 1, 0))
            if self._ended:
                return False
