"""Reading IGRA sounding data: many lines at once, every byte accounted for.

The text is read in pieces that end where a sounding ends. Soundings are told apart by their header
lines and never by the number of levels a header announces, which is wrong in real files.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.diagnostics import Diagnostic, diagnostic
from encoder.formats.igra.layout import HEADER_WIDTH, LEVEL_FIELDS, LEVEL_WIDTH, MISSING, REMOVED
from encoder.formats.igra.lines import header_columns, level_columns
from encoder.formats.igra.soundings import (
    ENDINGS,
    HEADER_COLUMNS,
    LEVEL_COLUMNS,
    MIXED,
    NO_LAST_LINE_END,
    IgraSoundings,
    Refused,
    empty_columns,
    joined_soundings,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from numpy.typing import NDArray

    LineReader = Callable[[NDArray[np.uint8]], tuple[dict[str, NDArray[Any]], NDArray[np.bool_]]]
    Levels = tuple[dict[str, NDArray[Any]], NDArray[np.uint8], NDArray[np.int64], NDArray[np.int64]]
    Text = bytes | memoryview
    PlainReader = Callable[[Text], Levels | None]

PIECE = 4 << 20
"""Bytes of text worked on at a time, or up to twice as many."""
LEAST_PIECE = 1 << 20
"""Bytes of text that are not worked on before more follow."""
LINES = 16384
"""Lines in a block: their columns stay in the cache."""
LONGEST_SOUNDING = 2 << 20
"""Bytes without a header line after which a sounding is cut; the most levels a header can announce
make a quarter of it."""
_LINE_END = 10
_HEAD = 35


def is_igra(head: bytes) -> bool:
    """Tell whether the first bytes of a file are a header line of the sounding data."""
    line = head.lstrip(b"\r\n")[: HEADER_WIDTH + 2].split(b"\n")[0]
    if len(line.rstrip()) != HEADER_WIDTH:
        return False
    return not header_columns(np.frombuffer(line[:HEADER_WIDTH], np.uint8).reshape(1, -1))[1][0]


def read_igra(
    source: bytes | Iterable[bytes],
    *,
    lines: LineReader = level_columns,
    plain: PlainReader | None = None,
    file: str | None = None,
) -> IgraSoundings:
    """Read the text of a sounding data file.

    Parameters
    ----------
    source : bytes or iterable of bytes
        The text, whole or in pieces of any size.
    lines : callable
        What reads level lines: :func:`encoder.formats.igra.lines.level_columns` or the compiled
        :func:`encoder.formats.igra.compiled.level_columns`; both give the same.
    plain : callable, optional
        :func:`encoder.formats.igra.compiled.plain_levels`, which reads some soundings at once where
        all their lines are as most files have them; it gives the same, sooner.
    file : str, optional
        Name for the diagnostics.

    Returns
    -------
    IgraSoundings
        Accepted and refused soundings; their bytes are those of the text.
    """
    pieces = list(read_igra_pieces(source, lines=lines, plain=plain, file=file))
    return joined_soundings(pieces, size=sum(piece.size for piece in pieces))


def read_igra_pieces(
    source: bytes | Iterable[bytes],
    *,
    lines: LineReader = level_columns,
    plain: PlainReader | None = None,
    file: str | None = None,
) -> Iterator[IgraSoundings]:
    """Yield what :func:`read_igra` returns, some soundings at a time, in the order of the text."""
    base = 0
    for piece in _pieces((source,) if isinstance(source, bytes) else source):
        taken = None if plain is None else _read_plain(piece, base, plain, file)
        yield _read_piece(piece, base, lines, file) if taken is None else taken
        base += len(piece)


def _pieces(source: Iterable[bytes]) -> Iterator[Text]:
    """Cut a text where soundings end, without a copy of most of it."""
    rest = b""
    for data in source:
        if len(rest) + len(data) < LEAST_PIECE:
            rest += data
            continue
        begin = 0
        if rest:
            begin = data.find(b"\n#") + 1
            if begin == 0 or len(rest) > LEAST_PIECE:
                data, begin = rest + data, 0  # noqa: PLW2901
            else:
                yield rest + data[:begin]
        view = memoryview(data)
        while True:
            # all of it but the last sounding, if no more than two pieces are left
            left = len(data) - begin
            stop = len(data) if left < 2 * PIECE else begin + PIECE
            cut = data.rfind(b"\n#", begin, stop) + 1
            if cut <= begin:
                cut = data.find(b"\n#", stop - 1) + 1
            if cut == 0:
                if left < LONGEST_SOUNDING + PIECE:
                    break
                cut = begin + LONGEST_SOUNDING
            yield view[begin:cut]
            begin = cut
        rest = data[begin:]
    if rest:
        yield rest


def _read_plain(
    text: Text, base: int, plain: PlainReader, file: str | None
) -> IgraSoundings | None:
    """Read a piece of text at once, None where a line is not as most files have it."""
    read = plain(text)
    if read is None:
        return None
    levels, heads, begins, counts = read
    headers = _headers(heads, begins, counts, 0)
    if headers.pop("wrong").any():
        return None
    headers["offset"] += base
    found = tuple(_counts_differ(headers, file))
    return IgraSoundings(headers, levels, (), found, len(text))


def _read_piece(text: Text, base: int, lines: LineReader, file: str | None) -> IgraSoundings:
    data = np.frombuffer(text, np.uint8)
    ends = np.flatnonzero(data == _LINE_END)
    if not len(ends) or ends[-1] != len(data) - 1:
        ends = np.append(ends, len(data))
    starts = np.concatenate(([0], ends[:-1] + 1))
    lengths = ends - starts
    heads = np.flatnonzero((data[starts] == _HEAD) & (lengths > 0))
    refused: list[Refused] = []
    outside = int(starts[heads[0]]) if len(heads) else len(text)
    if outside:
        refused.append(_outside(bytes(text[:outside]), base, file))
    if not len(heads):
        return IgraSoundings(
            empty_columns(HEADER_COLUMNS),
            empty_columns(LEVEL_COLUMNS),
            tuple(refused),
            (),
            len(text),
        )
    begins = starts[heads]
    stops = np.append(begins[1:], len(text))
    counts = np.diff(np.append(heads, len(starts))) - 1
    ending = _usual_ending(text, heads, starts, ends)
    width = LEVEL_WIDTH + len(ENDINGS[ending])
    head_width = HEADER_WIDTH + (2 if ENDINGS[ending].endswith(b"\r\n") else 1)
    irregular = lengths != width - 1
    irregular[heads] = lengths[heads] != head_width - 1
    plain = np.add.reduceat(irregular.astype(np.int32), heads) == 0
    plain &= stops - begins == head_width + counts * width
    batch = _batch(text, begins[plain], counts[plain], ending, lines)
    accepted = [batch.picked(~batch.headers["wrong"])] if batch.headers["wrong"].any() else [batch]
    again = ~plain
    again[np.flatnonzero(plain)[batch.headers["wrong"]]] = True
    found: list[Diagnostic] = []
    verbatim: dict[int, bytes] = {}
    for place in np.flatnonzero(again).tolist():
        begin, stop = int(begins[place]), int(stops[place])
        sounding = bytes(text[begin:stop])
        one = _read_unusual(sounding, begin, lines)
        if isinstance(one, int):
            refused.append(_refused(sounding, base + begin, one, file))
            continue
        accepted.append(one)
        if one.headers["ending"][0] & MIXED:
            found.append(_mixed(base + begin, base + stop, file))
            verbatim[base + begin] = sounding
    taken = joined_soundings(accepted)
    if len(accepted) > 1:
        taken = taken.picked(np.argsort(taken.headers["offset"], kind="stable"))
    taken.headers["offset"][:] += base
    found.extend(_counts_differ(taken.headers, file))
    return IgraSoundings(
        {name: taken.headers[name] for name in HEADER_COLUMNS},
        {name: taken.levels[name] for name in LEVEL_COLUMNS},
        tuple(sorted(refused, key=lambda item: item.offset)),
        tuple(found),
        len(text),
        verbatim,
    )


def _usual_ending(text: Text, heads: Any, starts: Any, ends: Any) -> int:
    """Return how the first level line of a piece ends, as a place in :data:`ENDINGS`."""
    for head in heads[:8].tolist():
        if head + 1 < len(starts):
            tail = bytes(text[int(starts[head + 1]) + LEVEL_WIDTH : int(ends[head + 1]) + 1])
            if tail in ENDINGS:
                return ENDINGS.index(tail)
    return 0


def _batch(
    text: Text, begins: NDArray[Any], counts: NDArray[Any], ending: int, lines: LineReader
) -> IgraSoundings:
    """Read soundings all of whose lines have the length that one ending gives."""
    tail = ENDINGS[ending]
    width = LEVEL_WIDTH + len(tail)
    skip = HEADER_WIDTH + (2 if tail.endswith(b"\r\n") else 1)
    view = memoryview(text)
    body = b"".join(
        [
            view[begin + skip : begin + skip + count * width]
            for begin, count in zip(begins.tolist(), counts.tolist(), strict=True)
        ]
    )
    table = np.frombuffer(body, np.uint8).reshape(-1, width)
    other = np.zeros(len(table), dtype=bool)
    if ending:
        other = (table[:, LEVEL_WIDTH:] != np.frombuffer(tail, np.uint8)).any(axis=1)
        widened = np.full((len(table), LEVEL_WIDTH + 1), 32, dtype=np.uint8)
        widened[:, :LEVEL_WIDTH] = table[:, :LEVEL_WIDTH]
        table = widened
    levels, wrong_lines = _levels(table, lines)
    wrong_lines |= other
    data = np.frombuffer(text, np.uint8)
    headers = _headers(data[begins[:, None] + np.arange(HEADER_WIDTH)], begins, counts, ending)
    if ENDINGS[ending].endswith(b"\r\n"):
        headers["wrong"] |= data[begins + HEADER_WIDTH] != ord("\r")
    if wrong_lines.any():
        owner = np.repeat(np.arange(len(counts)), counts)
        headers["wrong"][np.unique(owner[wrong_lines])] = True
    return IgraSoundings(headers, levels)


def _headers(
    heads: NDArray[np.uint8], begins: NDArray[Any], counts: NDArray[Any], ending: int
) -> dict[str, NDArray[Any]]:
    """Return the columns of header lines, and ``wrong``, of soundings all of whose lines end so."""
    width = LEVEL_WIDTH + len(ENDINGS[ending])
    skip = HEADER_WIDTH + (2 if ENDINGS[ending].endswith(b"\r\n") else 1)
    headers, wrong = header_columns(heads)
    return headers | {
        "row_size": counts.astype(np.int64),
        "offset": begins.astype(np.int64),
        "length": (skip + counts * width).astype(np.int64),
        "ending": np.full(len(begins), ending, dtype=np.uint8),
        "wrong": wrong,
    }


def _levels(
    table: NDArray[np.uint8], lines: LineReader
) -> tuple[dict[str, NDArray[Any]], NDArray[np.bool_]]:
    """Read level lines in blocks."""
    count = len(table)
    columns = {name: np.empty(count, dtype=dtype) for name, dtype in LEVEL_COLUMNS.items()}
    wrong = np.empty(count, dtype=bool)
    for begin in range(0, count, LINES):
        block = slice(begin, begin + LINES)
        own, wrong[block] = lines(table[block])
        for name, values in own.items():
            columns[name][block] = values
    return columns, wrong


def _read_unusual(sounding: bytes, begin: int, lines: LineReader) -> IgraSoundings | int:
    """Read one sounding with lines of any ending, or tell the line that is not of the layout."""
    whole = sounding.endswith(b"\n")
    parts = sounding.split(b"\n")
    if whole:
        parts.pop()
    head = parts[0].rstrip(b" \r")
    if len(head) != HEADER_WIDTH:
        return 1
    same_head = {b"": False, b"\r": True}.get(parts[0][HEADER_WIDTH:])
    body: list[bytes] = []
    tails: set[bytes] = set()
    for number, line in enumerate(parts[1:], start=2):
        tail = line[LEVEL_WIDTH:]
        if not line.strip(b" \r\x1a"):  # an empty line, or the mark of the end of a file
            tails.add(b"?")
        elif len(line) < LEVEL_WIDTH or tail.strip(b" \r"):
            return number
        else:
            tails.add(tail)
            body.append(line[:LEVEL_WIDTH] + b" ")
    usual = [tail.rstrip(b"\n") for tail in ENDINGS]
    ending = MIXED
    if same_head is not None and not tails:
        ending = 2 if same_head else 0
    elif len(tails) == 1 and (tail := tails.pop()) in usual and tail.endswith(b"\r") == same_head:
        ending = usual.index(tail)
    table = np.frombuffer(b"".join(body), np.uint8).reshape(-1, LEVEL_WIDTH + 1)
    levels, wrong_lines = _levels(table, lines)
    if wrong_lines.any():
        return int(np.flatnonzero(wrong_lines)[0]) + 2
    headers, wrong = header_columns(np.frombuffer(head, np.uint8).reshape(1, -1))
    if wrong[0]:
        return 1
    headers |= {
        "row_size": np.array([len(body)], dtype=np.int64),
        "offset": np.array([begin], dtype=np.int64),
        "length": np.array([len(sounding)], dtype=np.int64),
        "ending": np.array([ending + (0 if whole else NO_LAST_LINE_END)], dtype=np.uint8),
    }
    return IgraSoundings(headers, levels)


# --- what is said of it -----------------------------------------------------------------------


def _counts_differ(headers: Mapping[str, NDArray[Any]], file: str | None) -> list[Diagnostic]:
    return [
        diagnostic(
            "igra-level-count",
            f"The header at byte {headers['offset'][place]} announces "
            f"{headers['announced'][place]} levels, {headers['row_size'][place]} follow.",
            file=file,
            span=(
                int(headers["offset"][place]),
                int(headers["offset"][place] + headers["length"][place]),
            ),
            value=str(headers["announced"][place]),
            expected=str(headers["row_size"][place]),
        )
        for place in np.flatnonzero(headers["announced"] != headers["row_size"]).tolist()
    ]


def _mixed(begin: int, stop: int, file: str | None) -> Diagnostic:
    return diagnostic(
        "igra-lines-mixed",
        f"The lines of the sounding at byte {begin} end in several ways.",
        file=file,
        span=(begin, stop),
    )


def _outside(data: bytes, base: int, file: str | None) -> Refused:
    found = diagnostic(
        "igra-outside-sounding",
        f"{len(data):,} bytes stand outside any sounding.",
        file=file,
        span=(base, base + len(data)),
        value=_shown(data),
    )
    return Refused(base, data, (found,), soundings=0)


def _refused(data: bytes, offset: int, line: int, file: str | None) -> Refused:
    """Return a sounding as refused because of one of its lines (1 is the header)."""
    rows = data.split(b"\n")
    row = rows[line - 1] if line <= len(rows) else b""
    body = [item for item in rows[1:] if item.strip()]
    what = "header" if line == 1 else f"level line {line - 1}"
    if line == 1:
        expected = "# and 70 more columns as in the format description"
    else:
        expected = "51 columns of right-justified whole numbers as in the format description"
    found = diagnostic(
        "igra-line-malformed",
        f"The {what} of the sounding at byte {offset} is not of the layout.",
        file=file,
        span=(offset, offset + len(data)),
        value=_shown(row),
        expected=expected,
    )
    return Refused(offset, data, (found,), 1, len(body), sum(_values_in(item) for item in body))


def _values_in(line: bytes) -> int:
    """Count the fields of a line that hold something, whether or not it can be read."""
    count = 0
    for field in LEVEL_FIELDS:
        text = line[field.begin : field.end].strip()
        count += bool(text) and text not in (b"%d" % MISSING, b"%d" % REMOVED)
    return count


def _shown(data: bytes) -> str:
    return data[:80].decode("ascii", "backslashreplace").rstrip("\n")
