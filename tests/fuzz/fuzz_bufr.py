"""Mutated BUFR messages into the reader, in a child process.

The coding library is written in C: a fault in it ends the process that calls it, which the reader
keeps apart from its own. The child reads mutated messages one after another and tells how far it
is; when it ends before its time, the parent names the message, writes it down and starts another
child behind it.

Run from the checkout, for example a million messages::

    python -m tests.fuzz.fuzz_bufr --count 1000000

A run is fixed by its seed. ``tests/fuzz/test_fuzz_bufr.py`` makes a short one.
"""

from __future__ import annotations

import argparse
import random
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

BATCH = 2000
LIMIT = 60.0
"""Seconds one batch of messages may take before the child counts as hanging."""


def corpus() -> list[bytes]:
    """Return small messages of every form: written, real where they are there, compressed."""
    from encoder.formats.bufr.compose import message_content, nil_content
    from encoder.formats.bufr.stream import FoundMessage, find_messages_in
    from encoder.formats.bufr.write import write_message
    from encoder.formats.flight_folder import read_flight
    from encoder.levels import select_levels
    from tests.bufr_files import FILES, FOLDER

    root = Path(__file__).resolve().parents[2] / "samples" / "flights"
    flight = read_flight(root / "halden-dome").value
    levels = select_levels(flight).value
    messages = [write_message(nil_content(flight, template="309052").value).value]
    for template in ("309057", "309052", "309050", "309051"):
        content = message_content(flight, levels, template=template, rows="selected").value
        messages.append(write_message(content).value)
    for name in FILES:
        path = FOLDER / name
        if path.is_file():
            found = find_messages_in(path.read_bytes())
            small = [item.data for item in found if isinstance(item, FoundMessage)]
            messages += [data for data in small if len(data) < 1200][:3]
    return messages


def mutated(messages: list[bytes], seed: int, index: int) -> bytes:
    """Return the message of a place in the run: the same for the same seed."""
    dice = random.Random(f"{seed} {index}")
    data = bytearray(dice.choice(messages))
    for _ in range(dice.choice((1, 1, 2, 3, 8, 30))):
        place = dice.randrange(len(data))
        kind = dice.randrange(8)
        if kind < 3:
            data[place] ^= 1 << dice.randrange(8)
        elif kind < 5:
            data[place] = dice.choice((0, 1, 127, 128, 254, 255, dice.randrange(256)))
        elif kind == 5:
            del data[place : place + dice.randrange(1, 9)]
        elif kind == 6:
            data[place:place] = bytes(dice.randrange(256) for _ in range(dice.randrange(1, 9)))
        else:
            end = place + dice.randrange(1, 40)
            data[place:end] = dice.choice(messages)[place:end]
        if len(data) < 8:
            data += b"BUFR" + bytes(8)
    if dice.random() < 0.8:  # keep the frame whole, so that what is inside is reached
        data[:4] = b"BUFR"
        data[4:7] = len(data).to_bytes(3, "big")
        data[-4:] = b"7777"
        if dice.random() < 0.7:
            _repair(data)
    return bytes(data)


def _repair(data: bytearray) -> None:
    """Make the length of section 4 fit the message again."""
    if data[7] not in (3, 4):
        return
    at = 8 + int.from_bytes(data[8:11], "big")
    if at + 3 > len(data):
        return
    if data[8 + (9 if data[7] == 4 else 7)] & 0x80:
        at += int.from_bytes(data[at : at + 3], "big")
    at += int.from_bytes(data[at : at + 3], "big")
    if at + 8 <= len(data):
        data[at : at + 3] = (len(data) - 4 - at).to_bytes(3, "big")


def child(seed: int, first: int, count: int) -> None:
    """Read messages, telling the number of each batch before it, and of each message."""
    from encoder.formats.bufr.read import read_soundings

    messages = corpus()
    progress = sys.stdout.buffer
    soundings = lost = 0
    for index in range(first, first + count):
        progress.write(b"%d\n" % index)
        progress.flush()
        data = mutated(messages, seed, index)
        for result in read_soundings(data):
            lost += sum("failed over it" in item.message for item in result.diagnostics)
            soundings += len(result.value)
    progress.write(b"%d soundings %d lost done\n" % (soundings, lost))
    progress.flush()


@dataclass
class Outcome:
    """What a run found."""

    read: int = 0
    soundings: int = 0
    lost: int = 0
    faults: list[tuple[int, str]] = field(default_factory=list)


def run(count: int, *, seed: int = 1, folder: Path | None = None) -> Outcome:
    """Read that many mutated messages in child processes."""
    outcome = Outcome()
    index = 0
    while index < count:
        batch = min(BATCH * 25, count - index)
        command = [sys.executable, "-m", "tests.fuzz.fuzz_bufr", "--child"]
        command += [str(seed), str(index), str(batch)]
        process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=Path(__file__).parents[2]
        )
        try:
            output, errors = process.communicate(timeout=LIMIT * 25)
            words = f"exit code {process.returncode}: {errors.decode(errors='replace')[-400:]}"
        except subprocess.TimeoutExpired:
            process.kill()
            output, errors = process.communicate()
            words = f"no answer within {LIMIT * 25:.0f} s"
        lines = output.split()
        if lines and lines[-1] == b"done":
            index += batch
            outcome.read = index
            outcome.soundings += int(lines[-5])
            outcome.lost += int(lines[-3])
            continue
        at = int(lines[-1]) if lines else index
        outcome.faults.append((at, words))
        if folder is not None:
            folder.mkdir(parents=True, exist_ok=True)
            (folder / f"fault-{seed}-{at}.bufr").write_bytes(mutated(corpus(), seed, at))
        index = at + 1
        outcome.read = index
    return outcome


def main() -> None:
    """Run as asked on the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, default=None, help="where faults are written")
    parser.add_argument("--child", nargs=3, type=int)
    asked = parser.parse_args()
    if asked.child:
        child(*asked.child)
        return
    begin = time.perf_counter()
    outcome = run(asked.count, seed=asked.seed, folder=asked.folder)
    seconds = time.perf_counter() - begin
    for at, words in outcome.faults:
        print(f"message {at}: {words}")
    rate = outcome.read / seconds
    print(
        f"{outcome.read:,} messages, {outcome.soundings:,} soundings, "
        f"{len(outcome.faults)} faults of the reader, {rate:,.0f} a second; the process with the "
        f"coding library was lost and started again {outcome.lost:,} times"
    )
    sys.exit(1 if outcome.faults else 0)


if __name__ == "__main__":
    main()
