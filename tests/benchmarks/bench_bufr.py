"""Speed of BUFR: writing and reading 3,000 levels, and the bulk reader against the library.

Run from the checkout: ``python -m tests.benchmarks.bench_bufr``.
"""

from __future__ import annotations

import numpy as np

from encoder.formats.bufr.bulk import read_plain
from encoder.formats.bufr.compose import message_content
from encoder.formats.bufr.read import read_message
from encoder.formats.bufr.sections import read_header
from encoder.formats.bufr.through_eccodes import read_with_library
from encoder.formats.bufr.write import write_message
from encoder.formats.flight_folder import read_flight
from encoder.levels import select_levels
from tests.benchmarks.timing import best, show
from tests.conftest import SAMPLES

LEVELS = 3000
WRITE_TARGET, READ_TARGET, RATIO_TARGET = 0.2, 0.12, 20.0


def content_of_3000(template: str):
    """Return a message of 3,000 levels, from the rows of a sample flight."""
    from dataclasses import replace

    flight = read_flight(SAMPLES / "harrow-tarn").value
    content = message_content(flight, select_levels(flight).value, template=template).value
    rows = np.linspace(0, content.count - 1, LEVELS).astype(int)
    levels = {name: values[rows] for name, values in content.levels.items()}
    return replace(content, levels=levels)


def main() -> None:
    """Print times, targets and ratios."""
    for template in ("309052", "309057", "309050"):
        content = content_of_3000(template)
        message = write_message(content).value
        header = read_header(message).value
        print(f"{template}: {content.count} levels, {len(message):,} octets")
        show("  write", best(lambda c=content: write_message(c)), target=WRITE_TARGET)
        library = best(lambda m=message, h=header: read_with_library(m, h))
        show("  read through the library", library, target=READ_TARGET)
        bulk = best(lambda m=message, h=header: read_plain(m, h))
        ratio = library / bulk
        verdict = "ok" if ratio >= RATIO_TARGET else "UNDER"
        show("  read in bulk", bulk, ratio=f"{ratio:.0f} x the library, target 20 x  {verdict}")
        same = read_plain(message, header) == read_with_library(message, header).value
        print(f"  same values: {same}")
        show("  read to the level table", best(lambda m=message: read_message(m)))


if __name__ == "__main__":
    main()
