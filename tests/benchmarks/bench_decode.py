"""Speed of the decoder: ``python -m tests.benchmarks.bench_decode``.

The parts of the sample flights are decoded one by one with full diagnostics. Printed are
milliseconds of processor time a part, groups a part, and the ratio to a plain ``str.split``.
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING

from encoder.formats.flight_folder import read_flight
from encoder.levels.selection import select_levels
from encoder.report import decode_reports, encode_report

if TYPE_CHECKING:
    from collections.abc import Callable

    from encoder.repair import RepairMode

SAMPLES = Path(__file__).parents[2] / "samples" / "flights"
TARGET = 0.6
"""Milliseconds a part."""
TURNS = 60


def milliseconds(function: Callable[[], object]) -> float:
    """Return the least processor time of some calls, in ms."""
    times = []
    for _turn in range(TURNS):
        start = time.process_time()
        function()
        times.append(time.process_time() - start)
    return 1000.0 * min(times)


def main() -> None:
    """Print the figures."""
    print(f"{'part':<22}{'groups':>7}{'ms':>8}{'times split':>13}")
    spent: list[float] = []
    for folder in sorted(SAMPLES.iterdir()):
        flight = read_flight(folder).value
        if flight is None:
            continue
        report = encode_report(flight, select_levels(flight).value).value
        for part in report.parts:
            text = f"{part.text}="
            took = milliseconds(lambda text=text: decode_reports(text))  # type: ignore[misc]
            plain = milliseconds(lambda text=text: [text.split() for _n in range(100)]) / 100.0  # type: ignore[misc]
            spent.append(took)
            name = f"{folder.name} {part.letters}"
            print(f"{name:<22}{len(text.split()):>7}{took:>8.3f}{took / plain:>13.0f}")
        garbled = report.text.replace("31313", "3I313", 1)
        modes: tuple[RepairMode, ...] = ("none", "safe", "all")
        for mode in modes:
            took = milliseconds(lambda m=mode, t=garbled: decode_reports(t, repair=m))  # type: ignore[misc]
            print(f"  whole, one group garbled, repair {mode:<5}{took:>8.2f}")
    mean = sum(spent) / len(spent)
    mark = "ok" if mean <= TARGET else "OVER"
    print(f"mean {mean:.3f} ms a part, target {TARGET} ms: {mark}")


if __name__ == "__main__":
    main()
