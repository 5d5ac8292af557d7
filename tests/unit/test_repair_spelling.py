"""What damaged characters may have been."""

from __future__ import annotations

import pytest

from encoder.repair.spelling import spellings


@pytest.mark.parametrize(
    ("word", "readings"),
    [
        ("7O108", [("letters for figures", "70108", True)]),
        ("B5S13", [("letters for figures", "85513", True)]),
        ("2Z6I7", [("letters for figures", "22617", True)]),
        ("\\////", [("letters for figures", "/////", True)]),
        ("IETPE", [("letter shift", "83503", True)]),
        ("123UQ", [("letter shift", "12371", True)]),
        ("1W345", [("letter shift", "12345", False)]),
        ("250OI", [("letters for figures", "25001", False), ("letter shift", "25098", False)]),
        ("05-838", [("marks between figures", "05838", True)]),
        ("05838.", [("marks between figures", "05838", True)]),
        ("05838", []),
        ("QRMNK", []),
        ("...", []),
        ("SOSOB", []),
    ],
)
def test_spellings(word: str, readings: list[tuple[str, str, bool]]) -> None:
    """Letters that look like figures, letters of the same keys, and marks are read as figures."""
    assert readings == [(str(one.kind), one.text, one.sure) for one in spellings(word, 0)]


def test_offsets_are_those_of_the_text() -> None:
    """Every figure keeps the place of the character it stands for."""
    (one,) = spellings("0.5-8O8", 100)
    assert (one.text, one.offsets) == ("05808", (100, 102, 104, 105, 106))
