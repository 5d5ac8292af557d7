"""The splitter on a bad day of traffic whose every byte is known."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable

import pytest
from click.testing import CliRunner

from encoder.bulletin.pieces import Kind, Piece, tally
from encoder.bulletin.stream import split_bytes, split_stream
from encoder.cli import cli
from tests.traffic_day import BINARY, DAY, Scene

WHOLE = b"".join(scene.data for scene in DAY)


def stretches(pieces: tuple[Piece, ...]) -> list[tuple[str, bytes]]:
    """Return kind and bytes; framing and unread pieces side by side become one."""
    found: list[tuple[str, bytes]] = []
    for piece in pieces:
        kind = str(piece.kind)
        if found and kind == found[-1][0] and piece.kind is not Kind.REPORT:
            found[-1] = (kind, found[-1][1] + piece.text)
        else:
            found.append((kind, piece.text))
    return found


def headings(pieces: tuple[Piece, ...]) -> tuple[str | None, ...]:
    """Return the heading of each report."""
    return tuple(
        None if one.heading is None else one.heading.text.decode("latin-1")
        for one in pieces
        if one.kind is Kind.REPORT
    )


@pytest.mark.parametrize("scene", DAY, ids=lambda scene: scene.title)
def test_every_byte_is_what_it_is(scene: Scene) -> None:
    """Reports, framing and unread text lie where the truth says, under the right headings."""
    pieces = split_bytes(scene.data)

    assert scene.truth == stretches(pieces)
    assert scene.headings == headings(pieces)


LINES = "\r\r\n"
CHANGES: dict[str, Callable[[str], str]] = {
    "line feeds": lambda text: text.replace(LINES, "\n"),
    "returns and line feeds": lambda text: text.replace(LINES, "\r\n"),
    "line feeds and returns": lambda text: text.replace(LINES, "\n\r"),
    "an empty line more": lambda text: text.replace(LINES, LINES + "\n"),
    "small letters": lambda text: text.lower(),
    "capital letters": lambda text: re.sub("[a-z]+", lambda word: word[0].upper(), text),
    "no beginning of messages": lambda text: text.replace("\x01", ""),
    "no numbers of messages": lambda text: re.sub("\x01\r\r\n[0-9]{3,5}", "\x01", text),
    "blanks at the end of lines": lambda text: text.replace(LINES, "  " + LINES),
    "padding after lines": lambda text: text.replace(LINES, LINES + "\x00\x00"),
    "two blanks for one": lambda text: text.replace(" ", "  "),
    "tabs": lambda text: text.replace(" ", "\t"),
    "quoted": lambda text: text.replace(LINES, "\r\n> "),
}


@pytest.mark.parametrize("change", CHANGES)
def test_reports_are_the_same_in_other_spellings(change: str) -> None:
    """Line ends, case, padding, blanks, quote marks: the same reports under the same headings."""
    for scene in DAY:
        if BINARY in scene.marked:  # its length would be another
            continue
        changed = scene._replace(marked=CHANGES[change](scene.marked))
        pieces = split_bytes(changed.data)
        expected = [text for kind, text in changed.truth if kind == "report"]

        assert [one.text for one in pieces if one.kind is Kind.REPORT] == expected, scene.title
        assert changed.data == b"".join(one.text for one in pieces)
        assert [one and re.sub(r"\s+", " ", one).upper() for one in headings(pieces)] == [
            one and one.upper() for one in scene.headings
        ]


@pytest.mark.parametrize("block", [1, 7, 500, 1 << 18])
def test_the_whole_day_in_blocks(block: int) -> None:
    """Scene after scene, the stream gives the same reports at their offsets, whatever the blocks.

    Framing at the joints belongs together, so reports and unread text alone are compared.
    """
    pieces = tuple(split_stream(io.BytesIO(WHOLE), block=block))
    expected = []
    begin = 0
    for scene in DAY:
        for kind, text in scene.truth:
            if kind != "framing":
                expected.append((begin, kind, text))
            begin += len(text)
    found = []
    place = 0
    for kind, text in stretches(pieces):
        if kind != "framing":
            found.append((place, kind, text))
        place += len(text)

    assert expected == found
    assert tuple(one for scene in DAY for one in scene.headings) == headings(pieces)
    assert all(WHOLE[one.offset :].startswith(one.text) for one in pieces)
    assert all(
        one.heading is None or WHOLE[one.heading.offset :].startswith(one.heading.text)
        for one in pieces
    )


def test_account_of_the_day() -> None:
    """Bytes in are bytes in reports, framing and unread text; each as many as the truth has."""
    sizes = {"report": 0, "framing": 0, "unread": 0}
    for scene in DAY:
        for kind, text in scene.truth:
            sizes[kind] += len(text)
    count = tally(split_bytes(WHOLE))

    assert (sizes["report"], sizes["framing"], sizes["unread"]) == (
        count.reports,
        count.framing,
        count.unread,
    )
    assert len(WHOLE) == count.total


def test_the_day_on_the_command_line() -> None:
    """``split`` shows as many reports as there are, and leaves with 1 for what stayed unread."""
    result = CliRunner().invoke(cli, ["split", "-", "--json"], input=WHOLE)
    lines = [json.loads(line) for line in result.stdout.splitlines()]

    assert len(lines) == sum(len(scene.headings) for scene in DAY)
    assert result.exit_code == 1
