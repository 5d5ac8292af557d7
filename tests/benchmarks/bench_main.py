"""Times of the main way: ``python -m tests.benchmarks.bench_main``.

Absolute times depend on the machine; the ratios in one run are what to compare.
"""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from timing import best, show  # beside this file

from encoder.formats.flight_folder import read_flight
from encoder.levels import select_levels
from encoder.report import decode_reports, encode_report
from encoder.verify import verify

ROOT = Path(__file__).resolve().parents[2]
HARROW = ROOT / "samples" / "flights" / "harrow-tarn"


def thinned(flight, step):
    """The same flight with every step-th row."""
    rows = np.arange(0, len(flight.ascent), step)
    return replace(flight, ascent=flight.ascent.select(rows))


def main() -> None:
    """Print the figures."""
    flight = read_flight(HARROW).raise_for_errors()
    levels = select_levels(flight).value
    report = encode_report(flight, levels).value
    decoded = decode_reports(report.text).value[0]
    print(
        f"flight of {len(flight.ascent)} rows, {len(levels)} levels, "
        f"{len(report.text.split())} groups\n"
    )

    def whole() -> None:
        again = read_flight(HARROW).raise_for_errors()
        made = encode_report(again, select_levels(again).value).value
        verify(again, decode_reports(made.text).value[0])

    def plain_table() -> None:
        lines = (HARROW / "profile.csv").read_text(encoding="utf-8").splitlines()
        [line.split(",") for line in lines]

    split = best(plain_table)
    show(
        "read + prepare + check",
        best(lambda: read_flight(HARROW)),
        target=0.2,
        ratio=f"{best(lambda: read_flight(HARROW)) / split:.1f} x splitting the lines",
    )
    largest = best(lambda: select_levels(flight))
    show("levels, largest deviation", largest)
    fewest = best(lambda: select_levels(flight, method="fewest-levels"), 3)
    show("levels, fewest levels", fewest, target=1.5, ratio=f"{fewest / largest:.1f} x largest")
    show("encode A to D", best(lambda: encode_report(flight, levels)))
    decode = best(lambda: decode_reports(report.text))
    tokens = best(report.text.split, 50)
    show("decode A to D", decode, ratio=f"{decode / tokens:.0f} x str.split")
    show("verify", best(lambda: verify(flight, decoded)))
    show("the whole way", best(whole), target=0.35)

    print("\ngrowth of largest deviation with the rows (n log n gives about 2.1 a doubling)")
    before = None
    for step in (8, 4, 2, 1):
        thin = thinned(flight, step)
        seconds = best(lambda thin=thin: select_levels(thin), 5)
        growth = "" if before is None else f"{seconds / before:.2f} x half as many rows"
        show(f"  {len(thin.ascent)} rows", seconds, ratio=growth)
        before = seconds

    print("\ncommand line, start-up included")
    for words, target in ((["--help"], 0.25), (["encode", str(HARROW)], 1.0)):
        command = [sys.executable, "-m", "encoder", *words]
        seconds = best(
            lambda command=command: subprocess.run(
                command, check=True, capture_output=True, cwd=ROOT
            ),
            5,
        )
        show(f"  aerogram {words[0]}", seconds, target=target)


if __name__ == "__main__":
    main()
