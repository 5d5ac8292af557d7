"""``aerogram split``: a stream of traffic as reports, each with its place and heading."""

from __future__ import annotations

import json
import sys
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

import click

from encoder.cli.options import json_option, show_option

if TYPE_CHECKING:
    from collections.abc import Iterator

    from encoder.bulletin.heading import Heading
    from encoder.bulletin.pieces import Piece

FORMAT = "aerogram-split-1"
_BETWEEN = 8_000_000
"""Bytes between two lines of progress."""
_SHOWN = 30


@click.command()
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
@json_option
@click.option("--unread", is_flag=True, help="Show what was not read as well.")
@show_option
@click.pass_context
def split(
    context: click.Context,
    /,
    files: tuple[str, ...],
    as_json: bool,
    unread: bool,
    least: str,
) -> None:
    """Split traffic into reports.

    Each with its offset and heading.

    FILE is a stream of bulletins of any kind ("-" for standard input): circuit traffic, tapes,
    batch files, pasted text. It is read once, whatever its size. The account of all bytes
    follows on standard error. --json writes one line of JSON a report (split.schema.json).
    Leaves with 1 when text stayed unread.

    \b
    Example:
      aerogram split traffic.txt
      aerogram split traffic.txt --json | head -n 1
    """
    from encoder.bulletin.examine import examine
    from encoder.bulletin.pieces import Kind
    from encoder.cli.output import EXIT_DONE, EXIT_FAULTS, SEVERITIES

    wanted = SEVERITIES[: SEVERITIES.index(least) + 1]
    columns = f"{'offset':>10} {'bytes':>7}  {'kind':<11} {'heading':<24} begins"
    begun = as_json
    left_unread = False
    for name in files:
        sizes = dict.fromkeys(Kind, 0)
        counts: dict[str, int] = {}
        first = b""
        for piece in _pieces(name):
            if piece.offset < _MARK:
                first += piece.text[:_MARK]
            if not begun:
                sys.stdout.write(columns + "\n")
                begun = True
            sizes[piece.kind] += len(piece.text)
            if piece.kind is Kind.FRAMING and piece.remark != "nil":
                continue
            heading, told = examine(piece)
            for item in told:
                counts[item.code] = counts.get(item.code, 0) + 1
            shown = piece.kind is Kind.REPORT or (unread and piece.kind is Kind.UNREAD)
            if shown:
                text = _as_received(piece) if heading is None else _as_sent(heading)
                if as_json:
                    kept = [item.as_json() for item in told if item.severity in wanted]
                    line = json.dumps(_as_json(name, piece, text, kept))
                else:
                    line = _as_line(piece, text)
                sys.stdout.write(line + "\n")
        sys.stdout.flush()
        _account(name, sizes, counts)
        if sizes[Kind.REPORT] == 0:
            _no_report(name, first)
        left_unread = left_unread or sizes[Kind.UNREAD] > 0
    context.exit(EXIT_FAULTS if left_unread else EXIT_DONE)


def _pieces(name: str) -> Iterator[Piece]:
    """Yield the pieces of a file, telling how far it is on a terminal.

    Raises
    ------
    Unreadable
        If the file cannot be read.
    """
    from encoder.bulletin.stream import split_stream
    from encoder.cli.output import Unreadable

    try:
        if name == "-":
            yield from split_stream(sys.stdin.buffer)
            return
        path = Path(name)
        with path.open("rb") as stream:
            yield from _with_progress(stream, path.stat().st_size)
    except OSError as fault:
        if isinstance(fault, BrokenPipeError):
            raise
        msg = f"Cannot read {name}: {fault.strerror or fault}."
        raise Unreadable(msg) from fault


def _with_progress(stream: BinaryIO, size: int) -> Iterator[Piece]:
    """Yield pieces; tell how far it is where a terminal shows nothing else meanwhile."""
    from encoder.bulletin.stream import split_stream

    if size <= _BETWEEN or not sys.stderr.isatty() or sys.stdout.isatty():
        yield from split_stream(stream)
        return
    due = _BETWEEN
    try:
        for piece in split_stream(stream):
            yield piece
            if piece.offset >= due:
                click.echo(f"\r{piece.offset / size:4.0%}", nl=False, err=True)
                due = piece.offset + _BETWEEN
    finally:
        click.echo("\r     \r", nl=False, err=True)


_OTHER_FILES = {
    b"\x1f\x8b": "is compressed (gzip); unpack it first",
    b"PK": "is an archive (zip); unpack it first",
    b"BZ": "is compressed (bzip2); unpack it first",
    b"\xff\xfe": "is text in UTF-16; save it as plain text first",
    b"\xfe\xff": "is text in UTF-16; save it as plain text first",
}
"""What a file is by its first two bytes."""
_MARK = 2


def _no_report(name: str, first: bytes) -> None:
    """Say that a file holds no report, and why if its first bytes tell."""
    said = _OTHER_FILES.get(first[:_MARK], "holds no upper-air report")
    click.echo(f"{name} {said}.", err=True)


def _as_json(name: str, piece: Piece, heading: str, found: list[dict[str, Any]]) -> dict[str, Any]:
    from encoder.bulletin.openings import form_of, part_of

    return {
        "format": FORMAT,
        "file": name,
        "kind": str(piece.kind),
        "offset": piece.offset,
        "bytes": len(piece.text),
        "heading": heading or None,
        "heading_offset": None if piece.heading is None else piece.heading.offset,
        "letters": piece.letters or None,
        "form": form_of(piece.letters),
        "part": part_of(piece.letters),
        "ended": piece.ended,
        "text": (piece.shared.decode("latin-1") + " " if piece.shared else "")
        + piece.text.decode("latin-1"),
        "diagnostics": found,
    }


@lru_cache(maxsize=64)
def _as_sent(heading: Heading) -> str:
    """Return a heading as it is sent; the pieces of a bulletin share the answer."""
    return heading.text


def _as_received(piece: Piece) -> str:
    """Return a heading that is malformed, in capitals; "" where there is none."""
    return "" if piece.heading is None else piece.heading.text.decode("latin-1").upper()


def _as_line(piece: Piece, heading: str) -> str:
    raw = piece.text[: 4 * _SHOWN].decode("latin-1")
    begin = " ".join(raw.split())[:_SHOWN]
    printable = begin
    if not begin.isprintable():
        printable = "".join(one if one.isprintable() else "?" for one in begin)
    kind = piece.letters or "unread"
    return f"{piece.offset:>10} {len(piece.text):>7}  {kind:<11} {heading:<24} {printable}".rstrip()


def _account(name: str, sizes: dict[Any, int], counts: dict[str, int]) -> None:
    from encoder.bulletin.pieces import Kind

    total = sum(sizes.values())
    click.echo(
        f"{name}: {total:,} bytes = {sizes[Kind.REPORT]:,} in reports + {sizes[Kind.FRAMING]:,} "
        f"in framing + {sizes[Kind.UNREAD]:,} unread",
        err=True,
    )
    for code, count in sorted(counts.items()):
        click.echo(f"  {count:,} x {code}", err=True)
