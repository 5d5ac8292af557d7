"""Speed and memory of the stream splitter: ``python tests/benchmarks/bench_splitter.py [MB]``.

A stream of enveloped messages made from the sample flights, mixed with reports without terminator,
bulletins of other kinds and plain language, is split block by block. Printed are megabytes a second
of processor time (the best of three runs), the ratio to a plain ``bytes.split``, and the peak
memory, which must not depend on the size. The last lines are the speed of the command, with all
that it writes: its whole process, on the mixed stream in a file.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from collections import deque
from pathlib import Path
from typing import TYPE_CHECKING

from encoder.bulletin.compose import compose_bulletins, messages
from encoder.bulletin.pieces import tally
from encoder.bulletin.stream import split_stream
from encoder.formats.flight_folder import read_flight
from encoder.levels.selection import select_levels
from encoder.report import encode_report

if TYPE_CHECKING:
    from collections.abc import Iterator

SAMPLES = Path(__file__).parents[2] / "samples" / "flights"
OTHER = (
    b"\x01\r\r\n777\r\r\nSMXX01 XNOR 090000\r\r\nAAXX 09004\r\r\n"
    + b"90417 11570 62104 11033 21072 39981 40002 54000 82500 333 8//99=\r\r\n" * 12
    + b"\x03"
)
WORDS = (
    b"\x01\r\r\n778\r\r\nFPXX01 XNOR 090000\r\r\n"
    + b"FAIR IN THE NORTH WITH LIGHT WINDS FROM THE WEST, SHOWERS BY NIGHT.\r\r\n" * 12
    + b"\x03"
)


def sounding_messages() -> tuple[bytes, ...]:
    """Return the messages of the sample flights."""
    made: list[bytes] = []
    for folder in sorted(SAMPLES.iterdir()):
        flight = read_flight(folder).value
        if flight is None:
            continue
        report = encode_report(flight, select_levels(flight).value).value
        bulletins = compose_bulletins(flight, report, centre="XNOR", area="XX").value
        made.extend(messages(bulletins, first_channel=1).value)
    return tuple(made)


def blocks(one: bytes, size: int) -> Iterator[bytes]:
    """Yield a block again and again, up to a size."""
    for _number in range(max(1, size // len(one))):
        yield one


def main() -> None:
    """Print the figures."""
    size = int(sys.argv[1] if len(sys.argv) > 1 else "200") * 1_000_000
    soundings = sounding_messages()
    cut = tuple(one.replace(b"=", b"") for one in soundings)
    streams = {
        "soundings": b"".join(soundings) * 20,
        "without terminator": b"".join(cut) * 20,
        "other bulletins": OTHER * 200,
        "plain language": WORDS * 200,
        "mixed": (b"".join(soundings) + b"".join(cut) + OTHER * 6 + WORDS * 2) * 10,
    }
    print("stream               MB/s   unread  times plain split  peak MiB")
    for name, one in streams.items():
        count = tally(split_stream(blocks(one, size)))
        spent = float("inf")
        for _run in range(3):
            start = time.process_time()
            deque(split_stream(blocks(one, size)), maxlen=0)
            spent = min(spent, time.process_time() - start)
        start = time.process_time()
        for block in blocks(one, size):
            block.split()
        plain = time.process_time() - start
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
        print(
            f"{name:<20} {count.total / spent / 1e6:5.0f} {count.unread / count.total:8.1%}"
            f" {spent / plain:12.2f} {peak:14.0f}"
        )
    for more in ((), ("--json",)):
        measure_command(streams["mixed"], size, more)


def measure_command(one: bytes, size: int, more: tuple[str, ...]) -> None:
    """Print the speed of ``aerogram split`` on a file."""
    command = [sys.executable, "-m", "encoder", "split", *more]
    with tempfile.NamedTemporaryFile() as file:
        for block in blocks(one, size):
            file.write(block)
        file.flush()
        written = file.tell()
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(
            [*command, file.name],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            check=False,
        )
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    name = " ".join(("command", *more))
    print(f"{name:<20} {written / spent / 1e6:5.0f}")


if __name__ == "__main__":
    main()
