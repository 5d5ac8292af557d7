"""Make the sample flights again: ``python -m samples.generator [FOLDER]``.

Without a folder they are written to ``samples/flights``.
"""

from __future__ import annotations

import sys
from pathlib import Path

from samples.generator import SAMPLES, make_flight, write_flight

FLIGHTS = Path(__file__).resolve().parent.parent / "flights"


def write_samples(folder: Path) -> None:
    """Write every sample flight into a folder of its own below the given one."""
    for name, spec in SAMPLES.items():
        remark = (
            f"{spec.place.name} {spec.place.wmo_index}, Norreland Weather Service (invented); "
            f"generated, seed {spec.seed}"
        )
        write_flight(make_flight(spec), folder / name, remark)


if __name__ == "__main__":
    write_samples(Path(sys.argv[1]) if len(sys.argv) > 1 else FLIGHTS)
