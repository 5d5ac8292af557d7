"""Splitting a stream of traffic into reports; every byte is accounted for.

A day of circuit traffic, tapes (ZCZC ... NNNN), batch files, text pasted from a letter: whatever
the bytes are, the pieces that come out lie end to end and are the stream again when joined. A piece
is a report, framing (headings, controls, padding, terminators) or text that was not read.

The stream is read in blocks and only a few of its pieces are ever held. What a piece is depends on
the bytes alone, never on the blocks they came in.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.bulletin import patterns
from encoder.bulletin.blocks import blocks_of
from encoder.bulletin.openings import PIBAL, form_of
from encoder.bulletin.patterns import LOOK_AHEAD
from encoder.bulletin.pieces import HeadingLine, Kind, Piece

if TYPE_CHECKING:
    import re
    from collections.abc import Iterable, Iterator

    from encoder.bulletin.blocks import Readable

BLOCK = 1 << 18
"""Bytes read at a time."""
LONGEST_PIECE = 1 << 16
"""Framing and unread text longer than this come in several pieces; binary messages in one."""
LONGEST_REPORT = 1 << 15
"""A report without end is cut here; the longest part of real traffic has about 4,000 bytes
(common practice, no source)."""
LONGEST_BINARY = 1 << 20
"""Binary messages longer than this are not looked through for their end; bulletins carry at most
500,000 bytes (WMO-No. 386)."""

_CONTEXT = 64
_COMMON_LENGTH = 4096
_UPPER_AIR_TYPES = frozenset(b"UCuc")


def split_stream(source: Readable | Iterable[bytes], *, block: int = BLOCK) -> Iterator[Piece]:
    """Split a stream into reports and what stands between them.

    Parameters
    ----------
    source : binary file or iterable of bytes
        The stream; never sought, read once.
    block : int
        Bytes read at a time from a file.

    Yields
    ------
    Piece
        In the order of the stream, end to end: joined they are the stream.

    Notes
    -----
    Headings and envelopes: WMO-No. 386, Part II; letters: WMO-No. 306 Volume I.1, code table 2582.
    Inside a report the letters open another one only when a plausible time group follows, because
    free text (62626) may hold any word; outside, something like groups is enough.
    """
    return _Splitter(blocks_of(source, block)).pieces()


def split_bytes(data: bytes) -> tuple[Piece, ...]:
    """Split bytes held in memory; see :func:`split_stream`."""
    return tuple(split_stream((data,)))


class _Splitter:
    """The walk along the stream; offsets inside are those of the buffer."""

    def __init__(self, blocks: Iterator[bytes]) -> None:
        self.blocks = blocks
        self.buffer = b""
        self.base = 0
        self.final = False
        self.framing = 0
        self.place = 0
        self.heading: HeadingLine | None = None
        self.shared = b""
        self.collective = ""

    # --- the buffer ------------------------------------------------------------------------------

    @property
    def limit(self) -> int:
        """Places before this one can be decided on."""
        return len(self.buffer) if self.final else len(self.buffer) - LOOK_AHEAD

    def more(self) -> bool:
        """Read on, dropping what is done with; False at the end of the stream."""
        if self.final:
            return False
        data = next(self.blocks, None)
        if data is None:
            self.final = True
            return False
        done = max(0, min(self.framing, self.place) - _CONTEXT)
        self.buffer = self.buffer[done:] + data
        self.base += done
        self.framing -= done
        self.place -= done
        return True

    # --- pieces ----------------------------------------------------------------------------------

    def cut(self, kind: Kind, begin: int, end: int, **more: str | bytes | bool) -> Piece:
        return Piece(
            kind,
            self.base + begin,
            self.buffer[begin:end],
            None if kind is Kind.FRAMING and not more else self.heading,
            **more,  # type: ignore[arg-type]  # the fields of Piece by name
        )

    def frame(self, end: int, *, rest: bool = True) -> Iterator[Piece]:
        """Yield the framing that has gathered up to a place, its last piece only if asked to."""
        while end - self.framing > LONGEST_PIECE:
            yield self.cut(Kind.FRAMING, self.framing, self.framing + LONGEST_PIECE)
            self.framing += LONGEST_PIECE
        if rest and end > self.framing:
            yield self.cut(Kind.FRAMING, self.framing, end)
            self.framing = end

    def pieces(self) -> Iterator[Piece]:
        """Yield every piece."""
        while True:
            yield from self.common_reports()
            match = patterns.SEPARATORS.match(self.buffer, self.place)
            self.place = match.end() if match else self.place
            if self.place < self.limit:
                yield from self.read_next()
                continue
            yield from self.frame(self.place, rest=False)
            if not self.more() and self.place >= len(self.buffer):
                break
        yield from self.frame(self.place)

    def common_reports(self) -> Iterator[Piece]:
        """Yield reports as long as framing and reports are of the plainest kind.

        A short cut for nearly all traffic: it takes nothing that the long way would take otherwise.
        Framing is passed even where something else than a plain report follows.
        """
        framing_of, opens = patterns.COMMON_FRAMING.match, patterns.SURE_OPENING.match
        first_stop = patterns.INSIDE.search  # finds the terminator, if nothing before it
        buffer, limit, groups = self.buffer, self.limit, patterns.COMMON_GROUPS
        piece = Piece._make
        while self.place < limit:
            framing = framing_of(buffer, self.place)
            begin = framing.end() if framing is not None else self.place
            if begin >= limit:
                return
            if framing is not None and framing.lastgroup is not None:
                at = framing.start("heading")
                if at < framing.start("control"):
                    self.heading = None
                elif at >= 0:
                    self.heading = HeadingLine(self.base + at, framing.group("heading"))
                self.collective = ""
            self.place = begin
            if opens(buffer, begin) is None:
                return
            reach = min(begin + _COMMON_LENGTH, begin + LONGEST_REPORT, limit)
            message_end = buffer.find(b"\x03", begin, reach)
            end = buffer.find(b"=", begin, message_end if message_end >= 0 else reach)
            ended = end >= 0
            end = end if ended else message_end
            if end < 0 or (
                buffer[begin + 4 : end].translate(None, groups)
                and first_stop(buffer, begin + 4).start() != end  # type: ignore[union-attr]
            ):
                return
            end = end if ended else self.stripped(begin, end) - 1
            self.collective, self.shared = "", b""
            if begin - self.framing > LONGEST_PIECE:
                yield from self.frame(begin)
            elif begin > self.framing:
                text = buffer[self.framing : begin]
                yield piece(
                    (Kind.FRAMING, self.base + self.framing, text, None, "", False, "", b"")
                )
            end += 1
            letters = buffer[begin : begin + 4].decode("ascii").upper()
            text = buffer[begin:end]
            yield piece(
                (Kind.REPORT, self.base + begin, text, self.heading, letters, ended, "", b"")
            )
            self.place = self.framing = end

    def read_next(self) -> Iterator[Piece]:
        """Deal with what begins at ``place``, which is no separator."""
        match = patterns.START.match(self.buffer, self.place)
        name = match.lastgroup if match is not None else None
        if match is None:
            if self.collective and self.buffer[self.place : self.place + 5].isdigit():
                yield from self.report(self.collective, self.place + 5)
            else:
                yield from self.unread(self.place + 1)
        elif name == "opening" and not self.opens(self.place):
            yield from self.unread(match.end("opening"))
        elif name == "opening":
            self.collective = ""
            self.shared = b""
            letters = match.group("opening").decode("ascii").upper()
            yield from self.report(letters, match.end("opening"))
        elif name == "monthly":
            yield from self.monthly(match)
        elif name == "pibal":
            self.collective, self.shared = "", b""
            yield from self.report(PIBAL, match.end())
        elif name == "binary":
            yield from self.binary(match)
        elif name == "nil":
            yield from self.frame(self.place)
            yield self.cut(Kind.FRAMING, self.place, match.end(), remark="nil")
            self.place = self.framing = match.end()
        else:
            self.note_framing(match)

    def note_framing(self, match: re.Match[bytes]) -> None:
        """Pass a heading, control or other framing, keeping what it says."""
        name = match.lastgroup
        if name == "heading":
            self.heading = HeadingLine(self.base + self.place, match.group("heading"))
            self.collective = ""
        elif name in ("control", "tape"):
            self.heading = None
            self.collective = ""
        self.place = match.end()
        if name == "control":
            line = patterns.STARTING_LINE.match(self.buffer, match.start())
            self.place = line.end() if line is not None else match.end()

    # --- reports ---------------------------------------------------------------------------------

    def opens(self, place: int, *, inside: int | None = None) -> bool:
        """Tell whether letters open a report; ``inside`` is where the open report begins."""
        if patterns.SURE_OPENING.match(self.buffer, place):
            return True
        begins = max(0, place - 20)
        if not patterns.LINE_BEGINS.search(self.buffer[begins:place]):
            in_line = patterns.OPENING_IN_LINE.match(self.buffer, place)
            return inside is None and in_line is not None
        likely = patterns.LIKELY_OPENING.match(self.buffer, place) is not None
        if inside is None:
            announced = self.heading is not None and self.heading.text[0] in _UPPER_AIR_TYPES
            return likely or announced
        return likely and not patterns.FREE_TEXT.search(self.buffer, inside, place)

    def report(self, letters: str, scan: int, *, shared: bytes | None = None) -> Iterator[Piece]:
        """Yield the report that begins at ``place``; search for its end from ``scan``."""
        yield from self.frame(self.place)
        found: re.Match[bytes] | None = None
        longest = False
        while True:
            stop = self.place + LONGEST_REPORT
            found = patterns.INSIDE.search(self.buffer, scan)
            at = found.start() if found is not None else len(self.buffer)
            if at >= stop and (self.final or stop <= self.limit):
                longest = stop < len(self.buffer)
                found = None
                break
            if found is not None and at < self.limit:
                if self.ends(found):
                    break
                scan = at + 1
                continue
            if self.final:
                found = None
                break
            scan = max(scan, min(at, self.limit))
            before = self.base
            self.more()
            scan -= self.base - before
        end, ended = self.end_of(found, longest=longest)
        kept = self.shared if shared is None else b""
        yield self.cut(
            Kind.REPORT,
            self.place,
            end,
            letters=letters,
            ended=ended,
            remark="cut" if longest else "",
            shared=kept if letters == self.collective else b"",
        )
        self.place = self.framing = end
        if longest:
            yield from self.unread(end + 1)

    def ends(self, found: re.Match[bytes]) -> bool:
        """Tell whether what was found inside a report ends it."""
        at = found.start()
        first = self.buffer[at]
        if first == 0x0A:
            line = self.buffer[at : at + 13].lstrip(patterns.TRAILING)
            return line.startswith(b"####") or not (
                patterns.FREE_TEXT.search(self.buffer, self.place, at) is not None
            )
        word = self.buffer[at : found.end()]
        if len(word) == 4 and word[2:].upper() in (b"AA", b"BB", b"CC", b"DD"):
            return self.opens(at, inside=self.place)
        return True

    def end_of(self, found: re.Match[bytes] | None, *, longest: bool) -> tuple[int, bool]:
        """Return where the report ends, and whether it does so with ``=``."""
        if found is None:
            at = self.place + LONGEST_REPORT if longest else len(self.buffer)
            return self.stripped(self.place, at), False
        at = found.start()
        if self.buffer[at] == 0x3D:
            return at + 1, True
        tail = max(self.place + 4, at - 40)
        number = patterns.LEADING_NUMBER.search(self.buffer, tail, at)
        if number is not None:
            station = patterns.STATION_AFTER_TIME.match(self.buffer, at)
            if station is not None and station.group(1) == number.group(1):
                return self.stripped(self.place, number.start()), False
        framing = patterns.LEADING_FRAMING.search(self.buffer, tail, at)
        start = patterns.START.match(self.buffer, at)
        before_opening = start is not None and start.lastgroup == "opening"
        if framing is not None and self.buffer[at] != 0x03 and not before_opening:
            return self.stripped(self.place, framing.start()), False
        return self.stripped(self.place, at), False

    def stripped(self, begin: int, end: int) -> int:
        """Return the end without trailing separators."""
        return begin + len(self.buffer[begin:end].rstrip(patterns.TRAILING))

    def monthly(self, match: re.Match[bytes]) -> Iterator[Piece]:
        """Yield a monthly report; its first words serve the others of the bulletin too."""
        words = match.group("monthly").upper().split()
        letters = b" ".join(words).decode("ascii")
        month = self.buffer[match.end() : match.end() + 24].split()
        self.shared = b" ".join((*words, *month[:1]))
        yield from self.report(letters, match.end(), shared=b"")
        self.collective = letters if form_of(letters) == "FM 75" else ""

    # --- the rest --------------------------------------------------------------------------------

    def binary(self, match: re.Match[bytes]) -> Iterator[Piece]:
        """Yield a binary message as one unread piece, if its length leads to its end."""
        at = match.start() - self.place
        while not self.final and len(self.buffer) < self.place + at + 16:
            self.more()
        head = self.buffer[self.place : self.place + 16]
        wide = head[:4] == b"GRIB" and head[7:8] == b"\x02"
        size = int.from_bytes(head[8:16] if wide else head[4:7], "big")
        if size <= LONGEST_BINARY:
            while not self.final and len(self.buffer) < self.place + size + LOOK_AHEAD:
                self.more()
            end = self.place + size
            if size >= 8 and self.buffer[end - 4 : end] == b"7777" and end <= len(self.buffer):
                yield from self.frame(self.place)
                yield self.cut(Kind.UNREAD, self.place, end, remark="binary")
                self.place = self.framing = end
                return
        yield from self.unread(self.place + 4)

    def unread(self, scan: int) -> Iterator[Piece]:
        """Yield unread text from ``place`` to the next thing that can be read."""
        yield from self.frame(self.place)
        while True:
            found = patterns.OUTSIDE.search(self.buffer, scan)
            at = found.start() if found is not None else len(self.buffer)
            if found is not None and at < self.limit:
                if self.buffer[at] in b"AaBbCcDd" and self.buffer[at : at + 4] != b"BUFR":
                    at -= 2
                    if at < self.place + 1 or not self.opens(at):
                        scan = found.start() + 1
                        continue
                yield from self.text(at, last=True)
                return
            if self.final:
                yield from self.text(len(self.buffer), last=True)
                return
            scan = max(scan, self.limit)
            # the letters of an opening begin two bytes before they are found
            yield from self.text(max(self.place, scan - 4), last=False)
            before = self.base
            self.more()
            scan -= self.base - before

    def text(self, end: int, *, last: bool) -> Iterator[Piece]:
        """Yield unread text in pieces of the greatest length, trailing blanks as framing."""
        while self.place < end:
            stop = self.place + LONGEST_PIECE
            if stop > end:
                if not last:
                    return
                stop = end
            kept = self.stripped(self.place, stop)
            if kept > self.place:
                yield from self.frame(self.place)
                yield self.cut(Kind.UNREAD, self.place, kept)
                self.framing = kept
            self.place = stop
