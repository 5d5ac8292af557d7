"""The envelope of a bulletin: starting line, heading line, lines of text, end of message.

Also the framing of several messages one after another, in files and on sockets.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from encoder.bulletin.heading import Heading, compose_heading
from encoder.bulletin.indicator import segment_indicator
from encoder.diagnostics import Diagnostic, Result, diagnostic

if TYPE_CHECKING:
    from collections.abc import Iterable

SOH, ETX = b"\x01", b"\x03"
LINE_END = b"\r\r\n"
"""CR CR LF."""
LINE_WIDTH = 69
"""Longest line in characters (WMO-No. 386, Part II, 2.3.3; from memory)."""
LONGEST_BULLETIN = 3800
"""Octets of an alphanumeric bulletin that every centre takes (WMO-No. 386; 15,000 since 2007, from
memory)."""
_NOT_ALLOWED = re.compile(r"[^A-Z0-9+\-/=().,:'? ]")

BatchFormat = Literal["00", "01", "AN", "BI", "FX"]
BATCH_FORMATS: dict[str, str] = {
    "00": "files: messages with starting line and end of message",
    "01": "files: messages without starting line and end of message",
    "AN": "sockets: alphanumeric messages (from memory)",
    "BI": "sockets: binary messages (from memory)",
    "FX": "sockets: facsimile messages (from memory)",
}
"""The two characters after the length (WMO-No. 386, Attachment II-15)."""
_WITHOUT_ENVELOPE = "01"
_PREFIX = re.compile(rb"([0-9]{8})(.{2})", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Bulletin:
    """Reports under one heading.

    Attributes
    ----------
    heading : Heading
    reports : tuple of str
        Each in lines, ended by ``=``; empty for a bulletin that says NIL.
    letters : tuple of str
        What each report opens with.
    """

    heading: Heading
    reports: tuple[str, ...]
    letters: tuple[str, ...] = ()


def wrap(text: str, *, width: int = LINE_WIDTH) -> str:
    """Lay the groups of a report out in lines; no group is broken.

    Parameters
    ----------
    text : str
        Groups between any blanks.
    width : int
        Longest line in characters; a longer word stands in a line of its own.

    Returns
    -------
    str
        Lines with a line feed between them, none at the end.
    """
    lines: list[str] = []
    for word in text.split():
        if lines and len(lines[-1]) + 1 + len(word) <= width:
            lines[-1] += " " + word
        else:
            lines.append(word)
    return "\n".join(lines)


def bulletin_text(bulletin: Bulletin, *, width: int = LINE_WIDTH) -> Result[bytes]:
    """Return heading and text of a bulletin, each line ended by CR CR LF.

    Parameters
    ----------
    bulletin : Bulletin
    width : int
        Longest line in characters.

    Returns
    -------
    Result of bytes
        A bulletin without reports says NIL. Characters that cannot be sent are told as
        "character-not-allowed" and replaced by ``?``, and the bulletin must not be sent then;
        "bulletin-too-long" beyond 3,800 octets.

    Raises
    ------
    ValueError
        If an element of the heading does not have the form that its place demands.
    """
    found: list[Diagnostic] = []
    lines = [compose_heading(bulletin.heading)]
    for number, report in enumerate(bulletin.reports or ("NIL=",)):
        body = wrap(report, width=width).upper()
        bad = sorted(set(_NOT_ALLOWED.findall(body.replace("\n", " "))))
        if bad:
            found.append(
                diagnostic(
                    "character-not-allowed",
                    f"Report {number + 1} of {bulletin.heading.text} holds "
                    f"{', '.join(repr(one) for one in bad)}.",
                    path=(bulletin.heading.text, number),
                    value="".join(bad),
                )
            )
            body = "\n".join(_NOT_ALLOWED.sub("?", line) for line in body.split("\n"))
        if not body.endswith("="):
            body += "="
        lines.extend(body.split("\n"))
    data = b"".join(line.encode("ascii") + LINE_END for line in lines)
    if len(data) > LONGEST_BULLETIN:
        found.append(
            diagnostic(
                "bulletin-too-long",
                f"{bulletin.heading.text} has {len(data):,} octets, more than "
                f"{LONGEST_BULLETIN:,}.",
                path=(bulletin.heading.text,),
            )
        )
    return Result(data, tuple(found))


def message(text: bytes, *, channel: int | None = None, figures: Literal[3, 5] = 3) -> bytes:
    """Return a message: starting line, bulletin, end of message.

    Parameters
    ----------
    text : bytes
        From :func:`bulletin_text`.
    channel : int, optional
        Transmission sequence number; without it the starting line has none.
    figures : {3, 5}
        Figures of that number; it starts again at 0 after 999 or 99999.

    Notes
    -----
    WMO-No. 386, Part II, 2.3: ``SOH CR CR LF nnn CR CR LF`` heading and text ``CR CR LF ETX``.
    """
    number = b"" if channel is None else f"{channel % 10**figures:0{figures}d}".encode() + LINE_END
    body = text.removesuffix(LINE_END)
    return SOH + LINE_END + number + body + LINE_END + ETX


def tape(text: bytes, *, number: int) -> bytes:
    """Return a message in the older form with ZCZC and NNNN (from memory).

    Parameters
    ----------
    text : bytes
        From :func:`bulletin_text`.
    number : int
        Transmission sequence number, three figures.
    """
    return f"ZCZC {number % 1000:03d}".encode() + LINE_END + text + b"\n" * 7 + b"NNNN" + LINE_END


def segments(bulletin: Bulletin, *, longest: int = LONGEST_BULLETIN) -> tuple[Bulletin, ...]:
    """Cut a large bulletin into segments with the indicators PAA, PAB, ... PZx.

    Parameters
    ----------
    bulletin : Bulletin
    longest : int
        Octets of a segment; a single report is never cut.

    Returns
    -------
    tuple of Bulletin
        The bulletin itself where it is short enough.
    """
    groups: list[list[int]] = [[]]
    size = head = len(compose_heading(bulletin.heading)) + 4 + len(LINE_END)
    for place, report in enumerate(bulletin.reports):
        lines = wrap(report).split("\n")
        octets = sum(len(line) + len(LINE_END) for line in lines)
        if groups[-1] and size + octets > longest:
            groups.append([])
            size = head
        groups[-1].append(place)
        size += octets
    if len(groups) == 1:
        return (bulletin,)
    return tuple(
        Bulletin(
            _with_indicator(bulletin.heading, segment_indicator(number, len(groups))),
            tuple(bulletin.reports[place] for place in places),
            tuple(bulletin.letters[place] for place in places) if bulletin.letters else (),
        )
        for number, places in enumerate(groups)
    )


def _with_indicator(heading: Heading, indicator: str) -> Heading:
    return replace(heading, indicator=indicator)


def nil_report(letters: str, time_group: str, station: str) -> str:
    """Return the report that stands for a missing one in a collective.

    Parameters
    ----------
    letters : str
        MiMiMjMj.
    time_group : str
        YYGGId, with ``/`` for Id.
    station : str
        IIiii.
    """
    return f"{letters} {time_group} {station} NIL="


# --- several messages one after another -----------------------------------------------------------


def batch(messages: Iterable[bytes], form: BatchFormat = "00") -> bytes:
    """Return messages framed for a file or a socket: eight figures of length, two characters.

    Parameters
    ----------
    messages : iterable of bytes
        From :func:`message`; for format 01 starting line and end of message are left out.
    form : {"00", "01", "AN", "BI", "FX"}
        A key of :data:`BATCH_FORMATS`.

    Raises
    ------
    KeyError
        If there is no such format.

    Notes
    -----
    The length counts all that follows the ten characters. WMO-No. 386, Attachment II-15.
    """
    if form not in BATCH_FORMATS:
        raise KeyError(form)
    frames = []
    for one in messages:
        body = _without_envelope(one) if form == _WITHOUT_ENVELOPE else one
        frames.append(f"{len(body):08d}{form}".encode() + body)
    return b"".join(frames)


def _without_envelope(one: bytes) -> bytes:
    """Return CR CR LF, heading and text of a message."""
    body = re.sub(rb"\A\x01[\r\n]*(?:[0-9]{3,5}[\r\n]+)?", b"", one)
    return LINE_END + re.sub(rb"[\r\n]*\x03\Z", b"", body) + LINE_END


@dataclass(frozen=True, slots=True)
class Frame:
    """One message of a batch.

    Attributes
    ----------
    offset : int
        Of its length in the batch.
    form : str
        The two characters.
    body : bytes
        What the length spans.
    """

    offset: int
    form: str
    body: bytes


def read_batch(data: bytes) -> Result[tuple[Frame, ...]]:
    """Read messages framed with their length.

    Parameters
    ----------
    data : bytes
        A whole file, or all that came over a socket.

    Returns
    -------
    Result of tuple of Frame
        Messages of length zero (dummies) are left out. Reading stops with "batch-length-wrong" at
        the first length that leads past the end or not to the next length; the stream splitter
        (:func:`encoder.bulletin.stream.split_stream`) reads on where this does not.
    """
    frames: list[Frame] = []
    found: list[Diagnostic] = []
    place = 0
    while place < len(data):
        prefix = _PREFIX.match(data, place)
        end = place + 10 + int(prefix.group(1)) if prefix is not None else 0
        if prefix is None or end > len(data):
            found.append(
                diagnostic(
                    "batch-length-wrong",
                    f"At byte {place} there is no length of eight figures that leads to a place "
                    f"within {len(data)} bytes.",
                    span=(place, min(place + 10, len(data))),
                    value=data[place : place + 10].decode("latin-1"),
                )
            )
            break
        form = prefix.group(2).decode("latin-1")
        if form not in BATCH_FORMATS and form != "\x00\x00":
            found.append(
                diagnostic(
                    "batch-format-unknown",
                    f"At byte {place + 8} stands {form!r}.",
                    span=(place + 8, place + 10),
                    value=form,
                    expected=", ".join(BATCH_FORMATS),
                )
            )
        if end > place + 10:
            frames.append(Frame(place, form, data[place + 10 : end]))
        place = end
    return Result(tuple(frames), tuple(found))
