"""How much memory the units of a conversion take, and how many processes that lets work."""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from encoder.convert.run import Plan
    from encoder.convert.storage import Store

BASE_BYTES = 150 << 20
"""Memory a process takes before it reads anything."""
BYTES_OF_A_BYTE = 4.0
"""Memory for a byte of a source (measured with tests/benchmarks/bench_convert.py: 1.4 to 1.9 for
the IGRA layout, 3.6 for coded text)."""
BYTES_OF_A_PART = 32.0
BYTES_OF_A_LEVEL = 6.0
"""Memory for a byte of the shards of a station, of parts of coded text (measured with
tests/benchmarks/bench_convert.py: 22 to 29) and of levels."""


def source_needs(plan: Plan) -> list[tuple[str, int]]:
    """Return the names of the sources of a plan and the bytes that reading each takes."""
    return [
        (unit.source.name, int(BASE_BYTES + BYTES_OF_A_BYTE * unit.source.size))
        for unit in plan.units
    ]


def station_need(shards: Iterable[str], store: Store) -> int:
    """Return the bytes that making the files of a station of these shards takes."""
    need = float(BASE_BYTES)
    for name in shards:
        each = BYTES_OF_A_PART if name.endswith(".parts") else BYTES_OF_A_LEVEL
        need += each * max(store.size(name), 0)
    return int(need)


def jobs_that_fit(jobs: int, memory: int, needs: Sequence[tuple[str, int]]) -> int:
    """Return how many processes may work.

    Parameters
    ----------
    jobs : int
        Most processes.
    memory : int
        Bytes they may take together.
    needs : sequence of (str, int)
        Names of units and the bytes each takes.

    Raises
    ------
    InputError
        If the largest unit does not fit by itself.
    """
    name, most = max(needs, key=lambda item: item[1], default=("", BASE_BYTES))
    if most > memory:
        msg = (
            f"{name} needs about {most / (1 << 20):,.0f} MiB, --memory allows "
            f"{memory / (1 << 20):,.0f} MiB. Split it or allow more."
        )
        raise InputError(msg)
    return min(jobs, memory // most)
