"""Envelopes of bulletins, segments, and messages one after another."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from encoder.bulletin.envelope import (
    BATCH_FORMATS,
    Bulletin,
    batch,
    bulletin_text,
    message,
    nil_report,
    read_batch,
    segments,
    tape,
    wrap,
)
from encoder.bulletin.heading import Heading
from encoder.bulletin.pieces import Kind, reports
from encoder.bulletin.stream import split_bytes

HEADING = Heading("US", "XX", "01", "XNOR", 9, 0, 0)
REPORT = "TTAA 59001 90417 " + " ".join(f"{number:05d}" for number in range(99, 140)) + "="
BULLETIN = Bulletin(HEADING, (REPORT,), ("TTAA",))


def texts(data: bytes) -> list[str]:
    """Return the reports of a stream, in one line each."""
    return [" ".join(one.text.decode("ascii").split()) for one in reports(split_bytes(data))]


def test_lines_keep_their_width() -> None:
    """No line is longer than 69 characters, no group is broken, every line ends with CR CR LF."""
    data, found = bulletin_text(BULLETIN)
    lines = data.split(b"\r\r\n")
    assert found == ()
    assert lines[0] == b"USXX01 XNOR 090000"
    assert lines[-1] == b""
    assert max(map(len, lines)) <= 69
    assert b" ".join(lines[1:-1]).decode("ascii") == REPORT
    assert wrap("A" * 34 + " " + "B" * 34) == "A" * 34 + " " + "B" * 34
    assert wrap("A" * 35 + " " + "B" * 34) == "A" * 35 + "\n" + "B" * 34


def test_message() -> None:
    """SOH CR CR LF, number of three or five figures, CR CR LF, bulletin, CR CR LF ETX."""
    text = bulletin_text(Bulletin(HEADING, ("TTAA 59001 90417 NIL=",))).value
    body = b"USXX01 XNOR 090000\r\r\nTTAA 59001 90417 NIL=\r\r\n"
    assert message(text, channel=42) == b"\x01\r\r\n042\r\r\n" + body + b"\x03"
    assert message(text, channel=1000) == b"\x01\r\r\n000\r\r\n" + body + b"\x03"
    assert message(text, channel=42, figures=5) == b"\x01\r\r\n00042\r\r\n" + body + b"\x03"
    assert message(text) == b"\x01\r\r\n" + body + b"\x03"


def test_empty_bulletin() -> None:
    """A bulletin without reports says NIL."""
    assert bulletin_text(Bulletin(HEADING, ())).value == b"USXX01 XNOR 090000\r\r\nNIL=\r\r\n"


def test_missing_terminator_is_set() -> None:
    """Every report ends with an equals sign."""
    data = bulletin_text(Bulletin(HEADING, ("TTAA 59001 90417 NIL", "ttaa 59001 90731 nil="))).value
    assert texts(data) == ["TTAA 59001 90417 NIL=", "TTAA 59001 90731 NIL="]


def test_characters_that_cannot_be_sent() -> None:
    """Characters outside the alphabet are told and never sent."""
    data, found = bulletin_text(Bulletin(HEADING, ("TTAA 59001 90417 62626 K\u00c4LTE_\u2603=",)))
    assert [(one.code, one.value) for one in found] == [("character-not-allowed", "_\u00c4\u2603")]
    assert b"K?LTE??=" in data


def test_long_bulletins() -> None:
    """A bulletin beyond 3,800 octets is told, and can be cut at reports into segments."""
    long = Bulletin(HEADING, (REPORT,) * 20, ("TTAA",) * 20)
    assert [one.code for one in bulletin_text(long).diagnostics] == ["bulletin-too-long"]

    parts = segments(long)

    assert [one.heading.indicator for one in parts] == ["PAA", "PZB"]
    assert sum(len(one.reports) for one in parts) == 20
    assert sum(len(one.letters) for one in parts) == 20
    assert all(bulletin_text(one).diagnostics == () for one in parts)
    assert segments(BULLETIN) == (BULLETIN,)


def test_tape() -> None:
    """The older form begins with ZCZC and ends with NNNN."""
    data = tape(bulletin_text(BULLETIN).value, number=1042)
    assert data.startswith(b"ZCZC 042\r\r\nUSXX01 XNOR 090000\r\r\n")
    assert data.endswith(b"NNNN\r\r\n")
    assert texts(data) == [REPORT]


def test_nil_report() -> None:
    """A missing report is entered with NIL."""
    assert nil_report("TTAA", "5900/", "90731") == "TTAA 5900/ 90731 NIL="


@pytest.mark.parametrize("form", sorted(BATCH_FORMATS))
def test_batches_go_both_ways(form: str) -> None:
    """The length counts all that follows the ten characters, and leads to the next message."""
    one = message(bulletin_text(BULLETIN).value, channel=7)
    data = batch([one, one], form)  # type: ignore[arg-type]
    frames, found = read_batch(data)
    assert found == ()
    assert [(frame.form, frame.offset) for frame in frames] == [
        (form, 0),
        (form, 10 + len(frames[0].body)),
    ]
    assert texts(data) == [REPORT, REPORT]
    unread = [piece for piece in split_bytes(data) if piece.kind is Kind.UNREAD]
    assert unread == []


def test_format_without_envelope() -> None:
    """Format 01 leaves out starting line and end of message."""
    one = message(bulletin_text(BULLETIN).value, channel=7)
    body = read_batch(batch([one], "01")).value[0].body
    assert body.startswith(b"\r\r\nUSXX01 XNOR 090000\r\r\n")
    assert body.endswith(b"=\r\r\n")
    with pytest.raises(KeyError):
        batch([one], "02")  # type: ignore[arg-type]


def test_dummies_are_left_out() -> None:
    """Messages of length zero are no messages."""
    assert read_batch(b"0000000000" + batch([b"x"]) + b"00000000\x00\x00").value[0].body == b"x"


@pytest.mark.parametrize("data", [b"00000009" + b"00" + b"short", b"no batch at all", b"0000"])
def test_wrong_lengths(data: bytes) -> None:
    """A length that leads nowhere ends the reading, with its place."""
    frames, found = read_batch(batch([b"x"]) + data)
    assert [frame.body for frame in frames] == [b"x"]
    assert [(one.code, one.span and one.span[0]) for one in found] == [("batch-length-wrong", 11)]


def test_unknown_format() -> None:
    """Other characters after the length are told; the message is read."""
    frames, found = read_batch(b"00000001ZZx")
    assert [frame.body for frame in frames] == [b"x"]
    assert [one.code for one in found] == ["batch-format-unknown"]


@given(bodies=st.lists(st.binary(min_size=1, max_size=40), max_size=5))
def test_any_messages_survive_a_batch(bodies: list[bytes]) -> None:
    """Whatever the messages hold, they come out of the batch as they went in."""
    frames, found = read_batch(batch(bodies))
    assert [frame.body for frame in frames] == bodies
    assert found == ()


@given(data=st.binary(max_size=60))
def test_any_bytes_as_a_batch(data: bytes) -> None:
    """No bytes make the reader raise."""
    read_batch(data)


@given(words=st.lists(st.text("0123456789/", min_size=1, max_size=12), max_size=60))
def test_wrapping_loses_nothing(words: list[str]) -> None:
    """Lines hold the same words in the same order, none longer than 69 characters."""
    wrapped = wrap(" ".join(words))
    assert wrapped.split() == words
    assert all(len(line) <= 69 for line in wrapped.split("\n"))
