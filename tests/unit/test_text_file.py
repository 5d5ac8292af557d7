"""Text files: encoding, size and content are refused with a plain word and little memory."""

from __future__ import annotations

import os
import tracemalloc

import pytest

from encoder.formats.text_file import decoded, read_text, write_text
from tests.flights import codes_of, the


def test_line_ends_of_every_system_are_one(tmp_path):
    """CR LF, CR and LF all end a line."""
    file = tmp_path / "a.txt"
    file.write_bytes(b"1\r\n2\r3\n")
    assert read_text(file, most=100) == ("1\n2\n3\n", ())


def test_missing_file_is_named(tmp_path):
    """A file that is not there is an error with its name."""
    result = read_text(tmp_path / "none.csv", most=100)
    assert result.value is None
    assert codes_of(result) == ["file-not-found"]
    assert "none.csv" in result.diagnostics[0].message


def test_folder_in_place_of_a_file_is_refused(tmp_path):
    """A folder is no file; a name with a zero byte is none either."""
    assert codes_of(read_text(tmp_path, most=100)) == ["file-not-readable"]
    assert codes_of(read_text(f"{tmp_path}/a\0b", most=100)) == ["file-not-readable"]


def test_byte_order_mark_is_skipped_with_a_note():
    """A UTF-8 byte order mark is accepted and told."""
    result = decoded(b"\xef\xbb\xbftime", "a.csv")
    assert result.value == "time"
    assert codes_of(result) == ["byte-order-mark"]


def test_wrong_encoding_is_placed():
    """The first byte that is not UTF-8 is named with line and column."""
    result = decoded("time\nStra\u00dfe".encode("latin-1"), "a.csv")
    found = the(result, "encoding-not-utf-8")
    assert result.value is None
    assert (found.line, found.value) == (2, "0xDF")
    assert "line 2, column 5" in found.message


def test_wide_encodings_are_named():
    """UTF-16 is recognised by its mark, not called binary."""
    found = the(decoded("time".encode("utf-16"), "a.csv"), "encoding-not-utf-8")
    assert "UTF-16" in found.message


def test_binary_file_is_refused():
    """A zero byte makes a file binary; its place is told."""
    found = the(decoded(b"abc\0def", "a.csv"), "file-not-text")
    assert "byte 4" in found.message


def test_huge_files_are_refused_without_reading_them(tmp_path):
    """A file of 500 MB costs less than a megabyte, whether text or binary."""
    for first in (b"a,b,c\n", b"\0"):
        file = tmp_path / "huge.csv"
        with file.open("wb") as stream:
            stream.write(first + b"x" * 70000)
            stream.truncate(500_000_000)
        tracemalloc.start()
        result = read_text(file, most=64_000_000)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert codes_of(result) == ["file-too-large" if first != b"\0" else "file-not-text"]
        assert peak < 1_000_000


def test_endless_file_is_refused_in_bounded_memory(tmp_path):
    """The bound holds for content too, where the size says nothing."""
    file = tmp_path / "long.txt"
    file.write_bytes(b"x" * 200_000)
    assert codes_of(read_text(file, most=100_000)) == ["file-too-large"]
    assert read_text(file, most=200_000).value == "x" * 200_000


def test_writing_replaces_only_when_complete(tmp_path):
    """The old file stays until the new one is whole, and nothing is left beside it."""
    file = tmp_path / "a.txt"
    write_text(file, "one\n")
    write_text(file, "two\n")
    assert file.read_bytes() == b"two\n"
    assert [path.name for path in tmp_path.iterdir()] == ["a.txt"]
    with pytest.raises(OSError, match="none"):
        write_text(tmp_path / "none" / "a.txt", "three")


def test_a_device_is_written_to_and_not_replaced(tmp_path):
    """A pipe stays a pipe: its reader gets the text, and no file takes its place."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)

    write_text(pipe, "page\n")

    assert os.read(reader, 100) == b"page\n"
    assert pipe.is_fifo()
    os.close(reader)
