"""What the benchmarks share: best time of several runs, and how a figure is printed."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable


def best(function: Callable[[], object], runs: int = 7) -> float:
    """Return the shortest wall time of several runs, in seconds."""
    times = []
    for _ in range(runs):
        begin = time.perf_counter()
        function()
        times.append(time.perf_counter() - begin)
    return min(times)


def show(what: str, seconds: float, *, target: float | None = None, ratio: str = "") -> None:
    """Print one figure, its target and a ratio."""
    aim = "" if target is None else f"  target {target * 1000:8.1f} ms"
    mark = "" if target is None else ("  ok" if seconds <= target else "  OVER")
    print(f"{what:<44}{seconds * 1000:9.2f} ms{aim}{mark}  {ratio}".rstrip())
