"""Frame, stream and bits of BUFR messages."""

from __future__ import annotations

import io
import tracemalloc

import numpy as np
import pytest

from encoder.diagnostics import Diagnostic
from encoder.formats.bufr.bits import number_at, pack_rows, unpack_rows
from encoder.formats.bufr.compose import nil_content
from encoder.formats.bufr.read import read_message, read_soundings
from encoder.formats.bufr.sections import descriptor_text, read_header
from encoder.formats.bufr.stream import FoundMessage, find_messages, find_messages_in
from encoder.formats.bufr.write import write_message


@pytest.fixture(scope="module")
def message(sample_flights):
    return write_message(nil_content(sample_flights["harrow-tarn"], template="309052").value).value


def codes(results):
    return [item.code for result in results for item in result.diagnostics]


def test_descriptor_of_two_octets():
    """F has 2 bits, X 6, Y 8 (FM 94, section 3)."""
    assert descriptor_text(0b11_001001_00110100) == "309052"
    assert descriptor_text(0) == "000000"
    assert descriptor_text(0b01_000001_00000000) == "101000"


def test_header_says_what_was_written(message):
    """Nominal time, category, versions, and where the data lie."""
    header = read_header(message).value

    assert header.edition == 4
    assert f"{header.time:%Y-%m-%d %H:%M:%S}" == "2031-07-09 00:00:00"
    assert (header.category, header.sub_category, header.local_sub_category) == (2, 4, 0)
    assert header.descriptors == ("301150", "309052")
    assert header.table_version == 28
    assert message[header.data[1] :] == b"7777"


def test_edition_3_gives_the_year_of_the_century():
    """Two figures of the year: 100 stands for 2000, 57 to 99 are of the twentieth century."""
    for octet, year in ((100, 2000), (99, 1999), (57, 1957), (7, 2007), (56, 2056)):
        header = read_header(edition_3(octet)).value
        assert header.time.year == year
        assert header.sub_category == 255


def edition_3(year):
    one = bytes([0, 0, 18, 0, 0, 89, 0, 0, 2, 0, 12, 0, year, 11, 20, 18, 0, 0])
    three = bytes([0, 0, 10, 0, 0, 1, 128, 0xC9, 0x34, 0])
    four = bytes([0, 0, 6, 0, 0, 0])
    total = 8 + len(one) + len(three) + len(four) + 4
    return b"BUFR" + total.to_bytes(3, "big") + b"\x03" + one + three + four + b"7777"


@pytest.mark.parametrize(
    ("place", "value", "words"),
    [
        (7, 5, "Edition 5"),
        (7, 1, "Edition 1"),
        (8, 200, "Section 1"),
        (10, 3, "Section 1"),
        (30, 255, "Section 3"),
        (6, 3, "octets from BUFR to 7777"),
    ],
)
def test_sections_that_do_not_fit_are_told(message, place, value, words):
    """A length or edition that cannot be right: bufr-damaged, naming the section."""
    bad = bytearray(message)
    bad[place] = value
    result = read_header(bytes(bad))

    assert result.value is None
    assert [item.code for item in result.diagnostics] == ["bufr-damaged"]
    assert words in result.diagnostics[0].message


def test_a_time_that_does_not_exist_is_missing(message):
    """Month 13 in section 1 is no time; the rest is read."""
    bad = bytearray(message)
    bad[8 + 17] = 13

    assert read_header(bytes(bad)).value.time is None


def test_messages_are_found_between_anything(message):
    """Noise, text that says BUFR, an envelope with heading and number; offsets count octets."""
    envelope = b"\x01\r\r\n411\r\r\nIUSA01 XNOR 090000 CCA\r\r\n"
    parts = [b"noise BUFR is a word ", message, b"\0\0", envelope, message, b"\r\r\n\x03 tail"]
    found = list(find_messages_in(b"".join(parts)))
    whole = [item for item in found if isinstance(item, FoundMessage)]

    assert [item.offset for item in whole] == [
        len(parts[0]),
        sum(map(len, parts[:4])),
    ]
    assert [item.heading for item in whole] == [None, "IUSA01 XNOR 090000 CCA"]
    assert [item.channel for item in whole] == [None, 411]
    assert all(item.data == message for item in whole)
    assert [item.code for item in found if isinstance(item, Diagnostic)] == ["bufr-damaged"]


def test_a_cut_message_is_told_and_the_next_one_read(message):
    """A message whose end is lost, then a whole one: one diagnostic with offset, one message."""
    found = list(find_messages_in(message[:-30] + message))

    assert [type(item).__name__ for item in found] == ["Diagnostic", "FoundMessage"]
    assert found[0].span == (0, 4)
    assert found[1].offset == len(message) - 30


def test_nothing_at_all_is_told():
    """An empty file and a file without a message: bufr-none."""
    for data in (b"", b"TTAA 59001 90417=", b"BUF", b"BUFR"):
        assert "bufr-none" in codes(read_soundings(data))


def test_start_that_straddles_two_reads(message):
    """The four letters may lie across the border of two reads."""
    for shift in range(-4, 5):
        data = b"x" * (65536 + shift) + message
        (item,) = list(find_messages_in(data))
        assert item.offset == 65536 + shift


def test_memory_stays_flat(message):
    """Ten thousand messages are read one by one: memory of a few, not of all."""

    class Endless(io.RawIOBase):
        left = 10_000

        def read(self, size=-1):
            if not self.left:
                return b""
            count = min(self.left, max(size // len(message), 1))
            self.left -= count
            return message * count

    tracemalloc.start()
    count = sum(1 for _ in find_messages(Endless()))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()

    assert count == 10_000
    assert peak < 2_000_000 < 10_000 * len(message) * 2


def test_rows_of_bits_go_both_ways():
    """Rows of whole octets and of odd lengths, at any first bit."""
    random = np.random.default_rng(3)
    for widths in ([15, 18, 14, 17, 25, 26, 16, 16, 9, 12], [15, 18, 14, 25, 26, 9, 12], [8], [1]):
        fields = [random.integers(0, 1 << width, 50, dtype=np.int64) for width in widths]
        for shift in range(9):
            bits = np.concatenate([np.ones(shift, np.uint8), pack_rows(fields, widths)])
            data = np.packbits(bits).tobytes()
            read = unpack_rows(data, shift, 50, widths)
            assert all(np.array_equal(a, b) for a, b in zip(fields, read, strict=True))
            assert number_at(data, shift, widths[0]) == fields[0][0]


def test_bits_that_are_not_there_are_refused():
    """Reading past the end, and packing what does not fit, is an error."""
    with pytest.raises(ValueError, match="bits"):
        unpack_rows(b"\0" * 10, 0, 11, [8])
    with pytest.raises(ValueError, match="bits"):
        number_at(b"\0", 1, 8)
    with pytest.raises(ValueError, match="fit"):
        pack_rows([np.array([256])], [8])


def test_other_data_are_refused_by_category(message):
    """A message of oceanographic data is no sounding, whatever is in it."""
    bad = bytearray(message)
    bad[8 + 10] = 31
    result = read_message(bytes(bad))

    assert [item.code for item in result.diagnostics] == ["bufr-no-sounding"]
    assert "oceanographic" in result.diagnostics[0].message


def test_data_that_cannot_be_decoded_are_told(message):
    """A level count beyond the data: neither reader finds the values."""
    header = read_header(message).value
    bad = bytearray(message)
    bad[header.data[0] + 60 : header.data[1]] = b"\xff" * (header.data[1] - header.data[0] - 60)

    assert codes([read_message(bytes(bad))])[0] in ("bufr-not-decodable", "bufr-nil")
    unknown = bytearray(message)
    place = bytes(unknown).index(bytes([0xC9, 0x34]))
    unknown[place : place + 2] = bytes([0xC9, 0xFE])
    assert codes([read_message(bytes(unknown))]) == ["bufr-not-decodable"]


def test_words_of_the_frame_within_a_message_mislead_nobody(message):
    """BUFR, 7777 and ETX may stand inside a message: its end is where its length says."""
    one = bytearray(message[: 8 + 22])
    one[8 + 9] |= 0x80  # an optional section follows
    inside = b"\x037777BUFR\x00\x00\x28\x04\x03"
    section = (4 + len(inside)).to_bytes(3, "big") + b"\x00" + inside
    whole = bytes(one) + section + message[30:]
    whole = whole[:4] + len(whole).to_bytes(3, "big") + whole[7:]
    found = list(find_messages_in(b"\x01\r\r\n" + whole + b"\r\r\n\x03" + message))

    assert [len(item.data) for item in found] == [len(whole), len(message)]
