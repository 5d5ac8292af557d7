"""Fuzzing the decoder: ``python -m tests.fuzz.fuzz_decode [MESSAGES] [SEED]``.

Small reports of every form are mutated - stretches lost, bytes changed, lost, doubled, moved,
groups stuck and split, parts spliced into each other, noise put in - and decoded, most with
``repair`` none and one in thirty with safe or all. Nothing may be raised, and no message may take
long. The count goes to standard output as it grows; any failure is printed with the seed that
makes it again.
"""

from __future__ import annotations

import random
import sys
import time
from typing import TYPE_CHECKING

from encoder.report import decode_reports

if TYPE_CHECKING:
    from encoder.repair import RepairMode

SEEDS = (
    (
        "TTAA 72121 90417 99000 24416 18006 00089 ///// ///// 92772 21205 20540 85503 17218 22044 "
        "88125 71361 25061 77182 25075 41112 31313 05102 81103="
    ),
    (
        "TTBB 72120 90417 00000 24416 11985 23605 22889 20018 21212 00000 18006 11850 22044 31313 "
        "05102 81103 41414 66400 51515 10164 00012="
    ),
    "TTCC 72121 90417 70870 54571 25040 50080 55571 26030 88999 77999 31313 05102 81103=",
    "TTDD 7212/ 90417 11886 54977 22773 57777 21212 11901 28012 22791 29512=",
    "UUAA QCW07 72121 99561 70123 08057 99012 16250 20010 00110 15800 20512 88999 77999=",
    (
        "XXAA 72120 99561 70123 08057 99012 16250 20010 88999 77999 31313 09608 81103 61616 "
        "WORDS 62626 SPL 5610N="
    ),
    "IIBB KB12 72120 99561 30123 10057 00453 00998 24416 11950 22018=",
    "PPBB 72120 90417 90012 18006 19008 20010 9136/ 21515 22020=",
    "PPAA 72120 90417 55385 22044 23538 24532 7715/ 25075=",
    "CLIMAT TEMP 07031 90417 98805 22415 20005 81503=",
    "TTAA 72121 90417 NIL=",
)
"""Small reports; mutations are made of these."""
NOISE = "0123456789/0123456789/ ABCDEFGHIJKLMNOPQRSTUVWXYZ=\r\n\x00\x01\x03.,-?\xe9\u2003\U0001f388"
HEAD = 18
"""Characters of a report that stay when a stretch behind them is lost: letters, day, station."""
LONGEST = 2.0
"""Seconds one message may take; a loop takes longer."""
MODES: tuple[RepairMode, ...] = ("none",) * 58 + ("safe", "all")


def mutated(dice: random.Random) -> str:
    """Return a damaged text."""
    text = dice.choice(SEEDS)
    if dice.random() < 0.15:
        text += dice.choice((" ", "\r\r\n", "")) + dice.choice(SEEDS)
    elif dice.random() < 0.9:
        lost = dice.randrange(HEAD, len(text) + HEAD)
        text = text[:HEAD] + text[lost : lost + dice.randrange(6, 42)]
    for _turn in range(dice.choice((1, 1, 1, 2, 3, 6))):
        at = dice.randrange(len(text) + 1)
        end = min(len(text), at + dice.choice((1, 1, 2, 5, 6, 12, 40)))
        way = dice.randrange(8)
        if way == 0:
            text = text[:at] + dice.choice(NOISE) + text[at + 1 :]
        elif way == 1:
            text = text[:at] + text[end:]
        elif way == 2:
            text = text[:end] + text[at:]
        elif way == 3:
            text = text[:at] + dice.choice(NOISE) + text[at:]
        elif way == 4:
            to = dice.randrange(len(text) + 1)
            text = text[:to] + text[at:end] + text[to:]
        elif way == 5:
            other = dice.choice(SEEDS)
            cut = dice.randrange(len(other))
            text = text[:at] + other[cut : cut + dice.randrange(1, 30)] + text[at:]
        elif way == 6:
            blank = text.find(" ", at)
            text = text if blank < 0 else text[:blank] + text[blank + 1 :]
        else:
            text = text[:at] + "".join(dice.choices(NOISE, k=dice.randrange(1, 9))) + text[end:]
    return text


def run(count: int, seed: int, *, show: int = 0) -> float:
    """Decode mutated messages; return the longest time one of them took, in seconds.

    Raises
    ------
    AssertionError
        With the text, if a message takes too long; whatever the decoder raises, if it does.
    """
    longest = 0.0
    begin = time.monotonic()
    for number in range(count):
        dice = random.Random(seed * 1_000_003 + number)
        text = mutated(dice)
        mode = MODES[number % len(MODES)]
        start = time.process_time()
        try:
            decode_reports(text, repair=mode)
        except BaseException:
            print(f"seed {seed} number {number} mode {mode}: {text!r}", flush=True)
            raise
        spent = time.process_time() - start
        longest = max(longest, spent)
        if spent > LONGEST:
            msg = f"seed {seed} number {number} mode {mode} took {spent:.1f} s: {text!r}"
            raise AssertionError(msg)
        if show and (number + 1) % show == 0:
            rate = (number + 1) / (time.monotonic() - begin)
            print(
                f"{number + 1} messages, none raised, longest {longest:.3f} s, {rate:.0f} a second",
                flush=True,
            )
    return longest


def main() -> None:
    """Run as many as asked."""
    count = int(sys.argv[1] if len(sys.argv) > 1 else "10000000")
    seed = int(sys.argv[2] if len(sys.argv) > 2 else "1")
    longest = run(count, seed, show=10_000)
    print(f"done: {count} messages, none raised, longest {longest:.3f} s")


if __name__ == "__main__":
    main()
