"""Compiled code for the IGRA layout gives what the definition gives, of any text."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from encoder.convert import from_igra
from encoder.convert.batch import Gathering, joined_batches, sums_of_soundings
from encoder.formats.igra import compiled, reader
from encoder.formats.igra.soundings import HEADER_COLUMNS, LEVEL_COLUMNS

HEAD = b"#NRM00090417 2021 %02d 26 12 1011 %4d ncdc-gts ncdc-gts  534127  -182751\n"
ENDINGS = (b" \n", b"\n", b" \r\n", b"\r\n")
several = settings(max_examples=60, deadline=None)


def figures(width: int, *more: bytes):
    """Numbers as the layout writes them; a column holds no more than its width."""
    least, most = 1 - 10 ** (width - 1), 10**width - 1
    numbers = st.integers(max(least, -99), most).map(lambda value: b"%*d" % (width, value))
    return st.one_of(
        numbers, st.sampled_from((b"-9999", b"-8888", *more)).map(lambda t: t.rjust(width))
    )


@st.composite
def level_lines(draw) -> bytes:
    """A line of the layout, its values likely or not."""
    kind = draw(st.sampled_from((b"10", b"21", b"20", b"12", b"30", b"31")))
    flags = [draw(st.sampled_from((b" ", b"A", b"B"))) for _ in range(3)]
    return b"".join(
        (
            kind, b" ", draw(figures(5)), b" ", draw(figures(6)), flags[0], draw(figures(5)),
            flags[1], draw(figures(5)), flags[2], draw(figures(5)), b" ", draw(figures(5)), b" ",
            draw(figures(5, b"360")), b" ", draw(figures(5)),
        )
    )  # fmt: skip


@st.composite
def texts(draw) -> bytes:
    """Some soundings, a few bytes of them changed."""
    made = b""
    ending = draw(st.sampled_from(ENDINGS + (ENDINGS[0],) * 8))
    for month in range(1, draw(st.integers(1, 5)) + 1):
        lines = draw(st.lists(level_lines(), max_size=6))
        made += HEAD % (month, len(lines)) + b"".join(line + ending for line in lines)
    data = bytearray(made)
    for _ in range(draw(st.sampled_from((0, 0, 1, 2)))):
        data[draw(st.integers(0, len(data) - 1))] = draw(st.integers(0, 255))
    return bytes(data)


def same(one, other, declared) -> None:
    for name in declared:
        assert one[name].dtype == other[name].dtype, name
        assert np.array_equal(one[name], other[name], equal_nan=one[name].dtype.kind == "f"), name


@several
@given(texts())
def test_soundings_are_read_the_same(text):
    """Soundings, what is refused and what is said of them, with and without compiled code."""
    usual = reader.read_igra(text)
    sooner = reader.read_igra(text, lines=compiled.level_columns, plain=compiled.plain_levels)
    assert (usual.refused, usual.found, usual.size) == (sooner.refused, sooner.found, sooner.size)
    same(usual.headers, sooner.headers, HEADER_COLUMNS)
    same(usual.levels, sooner.levels, LEVEL_COLUMNS)


@several
@given(texts())
def test_columns_of_the_archive_are_the_same(text):
    """Figures, statuses, marks and counts of values."""
    soundings = reader.read_igra(text)
    columns, present = from_igra.archive_columns(soundings.levels)
    own, own_present = from_igra.compiled_columns(soundings.levels)
    assert set(columns) == set(own)
    same(columns, own, columns)
    assert np.array_equal(present, own_present)


@several
@given(texts(), st.integers(0, 12))
def test_batches_gathered_are_batches_joined(text, expected):
    """However many levels were expected."""
    soundings = reader.read_igra(text)
    batches = [
        from_igra.batch_of_igra(soundings.picked([place]), "90417")
        for place in range(len(soundings))
    ]
    if not batches:
        return
    gathered = Gathering(expected)
    for batch in batches:
        gathered.add(batch)
    made, joined = gathered.joined(), joined_batches(batches)
    same(made.profiles, joined.profiles, joined.profiles)
    same(made.levels, joined.levels, joined.levels)


@given(st.lists(st.lists(st.integers(-5, 5), max_size=4), max_size=8))
def test_sums_of_soundings(values):
    """Soundings without levels have the sum zero, wherever they stand."""
    column = np.array([one for row in values for one in row], dtype=np.int16)
    sizes = np.array([len(row) for row in values], dtype=np.int64)
    assert sums_of_soundings(column, sizes, np.int64).tolist() == [sum(row) for row in values]


@settings(max_examples=30, deadline=None)
@given(texts(), st.integers(1, 200), st.integers(60, 400), st.data())
def test_pieces_are_cut_between_soundings(text, size, piece, data):
    """Pieces come together to the text, and where they begin a sounding begins."""
    least = data.draw(st.integers(1, piece))
    whole = text * 3
    chunks = [whole[at : at + size] for at in range(0, len(whole), size)]
    before = reader.PIECE, reader.LEAST_PIECE
    try:
        reader.PIECE, reader.LEAST_PIECE = piece, least
        pieces = [bytes(one) for one in reader._pieces(chunks)]
    finally:
        reader.PIECE, reader.LEAST_PIECE = before
    assert b"".join(pieces) == whole
    at = 0
    for one in pieces:
        assert at == 0 or whole[at - 1 : at + 1] == b"\n#"
        at += len(one)
