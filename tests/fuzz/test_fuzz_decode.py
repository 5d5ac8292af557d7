"""A short, repeatable run of the fuzzing of the decoder."""

from __future__ import annotations

import pytest

from encoder.report import decode_reports
from tests.fuzz.fuzz_decode import run


def test_mutated_messages_never_raise() -> None:
    """2,000 mutated messages are decoded in every mode; none raises and none takes long."""
    assert run(2000, seed=31) < 2.0


@pytest.mark.parametrize(
    "text",
    [
        "CLIMAT TEMP 0703190417 98805 2241= 2000581503=",
        "TTAA" * 400,
        "TTBB 72120 90417 " + "1" * 5000,
        "TTAA 72121 90417 " + "12345 " * 800 + "=",
        "TTBB 72120 90417 00000 24416 " + "OOOOO " * 300 + "=",
        "\x00\x01\x03=TTAA\x00\udcff",
    ],
)
@pytest.mark.parametrize("mode", ["none", "safe", "all"])
def test_texts_that_are_hard(text: str, mode: str) -> None:
    """Long runs of one thing and groups given once for several reports are read to their end."""
    _reports, found = decode_reports(text, repair=mode)  # type: ignore[arg-type]
    assert found
