"""The stream splitter on any bytes: nothing is lost, and blocks do not matter."""

from __future__ import annotations

import io
import itertools
from typing import TYPE_CHECKING

from hypothesis import given, settings
from hypothesis import strategies as st

from encoder.bulletin import stream
from encoder.bulletin.pieces import Kind, tally
from encoder.bulletin.stream import split_bytes, split_stream

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pytest

FRAGMENTS = (
    b"\x01",
    b"\x03",
    b"\r\r\n",
    b"\n\n",
    b"\n",
    b"=",
    b" ",
    b"NNNN",
    b"ZCZC 123",
    b"USXX01 XNOR 091200",
    b"ukxx01 xnor 091200 rra",
    b"CUXX01 XNOR 091200 CCA",
    b"SMXX01 XNOR 091200",
    b"\r\r\n123\r\r\n",
    b"00000123",
    b"0000012300\x01",
    b"0000012301\r\r\n",
    b"0000000000",
    b"\x00" * 600,
    b"TTAA",
    b"TTAA 59121 90417 99968 13850 18004",
    b"TTBB 5912/ 90417 00968 13850=",
    b"ttaa 59121 90417 NIL=",
    b"UUAA QCW07 59121 99534",
    b"62626 TTAA IS HERE",
    b"REL 2939N",
    b"CLIMAT TEMP 07031 90417",
    b"90417 ",
    b"90731 12345",
    b"NIL=",
    b"BUFR\x00\x00\x14\x04xxxxxxxx7777",
    b"BUFR\x00\x10\x00\x04",
    b"GRIB",
    b"\n> ",
    b"####018000123####\n",
    b"Regards",
    b"A" * 70,
    b"9" * 40,
    b"COR",
)

TRAFFIC = st.lists(st.sampled_from(FRAGMENTS) | st.binary(max_size=8), max_size=25).map(b"".join)


@settings(deadline=None, max_examples=150)
@given(data=TRAFFIC | st.binary(max_size=2000))
def test_pieces_are_the_stream(data: bytes) -> None:
    """The pieces lie end to end: joined they are the stream, byte by byte."""
    pieces = split_bytes(data)
    place = 0
    for piece in pieces:
        assert (place, True) == (piece.offset, len(piece.text) > 0)
        place += len(piece.text)

    assert data == b"".join(piece.text for piece in pieces)
    assert len(data) == tally(pieces).total


@settings(deadline=None, max_examples=150)
@given(data=TRAFFIC, block=st.integers(1, 700))
def test_blocks_do_not_matter(data: bytes, block: int) -> None:
    """A stream gives the same pieces whatever the size of the blocks it arrives in."""
    assert split_bytes(data) == tuple(split_stream(io.BytesIO(data), block=block))


@settings(deadline=None, max_examples=80)
@given(data=TRAFFIC, cuts=st.lists(st.integers(0, 3000), max_size=8))
def test_uneven_blocks_do_not_matter(data: bytes, cuts: list[int]) -> None:
    """Blocks of different sizes, empty ones included, give the same pieces."""
    places = sorted({0, len(data), *(min(cut, len(data)) for cut in cuts)})
    blocks = [data[begin:end] for begin, end in itertools.pairwise(places)]

    assert split_bytes(data) == tuple(split_stream([*blocks, b""]))


@settings(deadline=None, max_examples=100)
@given(data=TRAFFIC, longest=st.sampled_from([100, 500, 3000]))
def test_limits_do_not_lose_bytes(data: bytes, longest: int) -> None:
    """With short greatest lengths, too, nothing is lost, and blocks do not matter."""
    before = stream.LONGEST_PIECE, stream.LONGEST_REPORT
    stream.LONGEST_PIECE = stream.LONGEST_REPORT = longest
    try:
        pieces = split_bytes(data)
        again = tuple(split_stream(io.BytesIO(data), block=97))
    finally:
        stream.LONGEST_PIECE, stream.LONGEST_REPORT = before

    assert data == b"".join(piece.text for piece in pieces)
    assert pieces == again
    assert all(
        len(piece.text) <= longest for piece in pieces if piece.remark not in ("binary", "nil")
    )


def test_short_cut_takes_nothing_else(monkeypatch: pytest.MonkeyPatch) -> None:
    """The short cut for plain traffic gives the pieces that the long way gives."""

    def none(_self: object) -> Iterator[object]:
        return iter(())

    @settings(deadline=None, max_examples=200)
    @given(data=TRAFFIC)
    def check(data: bytes) -> None:
        short = split_bytes(data)
        with monkeypatch.context() as patch:
            patch.setattr(stream._Splitter, "common_reports", none)
            long = split_bytes(data)
        assert long == short

    check()


@settings(deadline=None, max_examples=80)
@given(
    groups=st.lists(st.from_regex(r"[0-9/]{5}", fullmatch=True), min_size=1, max_size=40),
    noise=st.lists(st.sampled_from([b"\r\r\n", b"\x00" * 9, b" ", b"\r\r\n\x03\x01\r\r\n"])),
)
def test_reports_come_out_verbatim(groups: list[str], noise: list[bytes]) -> None:
    """Every report put into a stream comes out of it, byte for byte, in its place."""
    body = " ".join(groups).encode("ascii")
    texts = [letters + b" 59121 90417 " + body + b"=" for letters in (b"TTAA", b"TTBB", b"PPDD")]
    padding = b"".join(noise)
    data = padding.join([b"USXX01 XNOR 091200\r\r\n", *texts, b"\r\r\nNNNN"])

    found = [piece for piece in split_bytes(data) if piece.kind is Kind.REPORT]

    assert texts == [piece.text for piece in found]
    assert texts == [data[piece.offset :][: len(piece.text)] for piece in found]
