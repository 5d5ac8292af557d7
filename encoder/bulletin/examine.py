"""What there is to say about a piece of a stream: its heading, and whether it keeps its promise."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from encoder.bulletin.heading import heading_fits, parse_heading
from encoder.bulletin.pieces import Kind
from encoder.diagnostics import Diagnostic, Result, diagnostic

if TYPE_CHECKING:
    from encoder.bulletin.heading import Heading
    from encoder.bulletin.pieces import Piece

_SHOWN = 60


def examine(piece: Piece) -> Result[Heading | None]:
    """Read the heading of a piece and check the piece against it.

    Parameters
    ----------
    piece : Piece
        From :func:`encoder.bulletin.stream.split_stream`.

    Returns
    -------
    Result of Heading or None
        None where the piece stands under no heading, or under a malformed one. Spans count bytes
        of the stream. Framing other than NIL has nothing to say.
    """
    if piece.kind is Kind.FRAMING and piece.remark != "nil":
        return Result(None)
    heading: Heading | None = None
    found: list[Diagnostic] = []
    span = (piece.offset, piece.offset + len(piece.text))
    if piece.heading is not None:
        heading, found[:] = _heading(piece.heading.text)
    if piece.remark == "nil":
        found.append(
            diagnostic(
                "bulletin-nil",
                f"The bulletin {_title(heading)} holds no report.",
                span=span,
            )
        )
    elif piece.kind is Kind.UNREAD:
        shown = piece.text[:_SHOWN].decode("latin-1")
        found.append(
            diagnostic(
                "text-outside-report",
                f"{len(piece.text)} bytes are part of no upper-air report"
                f"{' (binary message)' if piece.remark == 'binary' else ''}: {shown!r}.",
                span=span,
                value=shown,
            )
        )
    else:
        if heading is not None:
            found.extend(_fits(heading, piece.letters))
        found.extend(_end(piece, span))
    return Result(heading, tuple(found))


@lru_cache(maxsize=256)
def _heading(text: bytes) -> tuple[Heading | None, tuple[Diagnostic, ...]]:
    return parse_heading(text.decode("latin-1"))


@lru_cache(maxsize=256)
def _fits(heading: Heading, letters: str) -> tuple[Diagnostic, ...]:
    """Return what a heading has against a report; reports of one bulletin share the answer."""
    return heading_fits(heading, letters)


def _title(heading: Heading | None) -> str:
    return "without heading" if heading is None else heading.text


def _end(piece: Piece, span: tuple[int, int]) -> list[Diagnostic]:
    if piece.remark == "cut":
        return [
            diagnostic(
                "report-cut",
                f"{piece.letters} has no end within {len(piece.text)} bytes.",
                span=span,
                path=(piece.letters,),
            )
        ]
    if not piece.ended:
        return [
            diagnostic(
                "report-not-ended",
                f"{piece.letters} ends without an equals sign.",
                span=(span[1], span[1]),
                path=(piece.letters,),
            )
        ]
    return []
