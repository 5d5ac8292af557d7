"""Circuits by the published standards, and what a disturbed element of a signal makes of a line.

Two start-stop circuits are simulated element by element, so that what a disturbance leads to
follows from the alphabets and not from a guess:

* five units without protection: International Telegraph Alphabet No. 2 (ITU-T S.1), a start
  element, five units, a stop element of 1.5 units. The receiver prints whatever it samples. One
  disturbed unit of a figure gives another figure in 14 of 50 cases, else a mark, a shift, a blank,
  a line feed or nothing; a disturbed start or stop element makes the receiver sample at the wrong
  time until it falls into step again; a lost figure shift turns figures into letters.
* seven units with parity: International Alphabet No. 5 (ITU-T T.50) with even parity as ITU-T V.4
  has it for start-stop working. The receiver sees every single disturbed unit, by the parity or by
  the missing stop element, and puts SUB in the place of the character, which T.50 provides for
  that. Another figure needs two disturbed units in one character.

Elements are disturbed independently of each other, so that nearly all damaged groups have one
disturbed element: bursts, as on a fading radio circuit, disturb more and are easier to see. What
the marks of No. 2 for WRU, bell and national use become in a file is from memory.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np

LETTERS_SHIFT, FIGURES_SHIFT = 0b11111, 0b11011
_TABLE = (
    "A-11000 B?10011 C:01110 D\x0510010 E310000 F%10110 G@01011 H#00101 I801100 J\x0711010 K(11110 "
    "L)01001 M.00111 N,00110 O900011 P001101 Q111101 R401010 S'10100 T500001 U711100 V=01111 "
    "W211001 X/10111 Y610101 Z+10001"
)
"""Letter, figure and the five units in the order of sending, 1 for stop polarity: ITU-T S.1."""
LETTER_OF = {int(item[2:], 2): item[0] for item in _TABLE.split(" ")}
FIGURE_OF = {int(item[2:], 2): item[1] for item in _TABLE.split(" ")}
_EITHER = {0b00010: "\r", 0b01000: "\n", 0b00100: " ", 0b00000: ""}
_CODE_OF_LETTER = {sign: code for code, sign in LETTER_OF.items()}
_CODE_OF_FIGURE = {sign: code for code, sign in FIGURE_OF.items()}
_CODE_OF_EITHER = {sign: code for code, sign in _EITHER.items() if sign}
SUBSTITUTE = "\x1a"
_TRIES = 50


class Circuit(NamedTuple):
    """A start-stop circuit.

    Attributes
    ----------
    units : int
        Units of a character between start and stop.
    stop : int
        Length of the stop element in half units.
    """

    units: int
    stop: int

    @property
    def length(self) -> int:
        """Half units of a character."""
        return 2 + 2 * self.units + self.stop


FIVE_UNITS = Circuit(5, 3)
SEVEN_UNITS = Circuit(8, 2)


def send(circuit: Circuit, codes: Sequence[int]) -> list[int]:
    """Return the signal of some characters in half units, 1 for stop polarity."""
    signal: list[int] = []
    for code in codes:
        signal += [0, 0]
        for unit in range(circuit.units - 1, -1, -1):
            signal += [code >> unit & 1] * 2
        signal += [1] * circuit.stop
    return signal


def receive(circuit: Circuit, signal: Sequence[int]) -> list[tuple[int, bool]]:
    """Return the characters a receiver makes of a signal, and whether each had a stop element.

    It waits for start polarity, looks again in the middle of that element, samples each unit once,
    and is ready for the next start half a unit into the stop element.
    """
    line = [*signal, *[1] * circuit.length]
    found: list[tuple[int, bool]] = []
    at, last = 0, len(signal)
    while at < last:
        if line[at]:
            at += 1
            continue
        if line[at + 1]:
            at += 2
            continue
        code = 0
        for unit in range(circuit.units):
            code = code << 1 | line[at + 2 * unit + 3]
        end = at + 2 * circuit.units + 2
        found.append((code, bool(line[end])))
        at = end + 1
    return found


# --- five units ---------------------------------------------------------------------------------


def to_five_units(text: str) -> list[tuple[int, int]]:
    """Return the characters of a text, and which sign of it each is sent for.

    Raises
    ------
    KeyError
        For a sign that the alphabet does not have.
    """
    codes: list[tuple[int, int]] = []
    shift = None
    for place, sign in enumerate(text):
        if sign in _CODE_OF_EITHER:
            codes.append((_CODE_OF_EITHER[sign], place))
            continue
        wanted = LETTERS_SHIFT if sign in _CODE_OF_LETTER else FIGURES_SHIFT
        if shift != wanted:
            codes.append((wanted, place))
            shift = wanted
        table = _CODE_OF_LETTER if wanted == LETTERS_SHIFT else _CODE_OF_FIGURE
        codes.append((table[sign], place))
    return codes


def from_five_units(codes: Sequence[tuple[int, bool]]) -> str:
    """Return what a teleprinter writes; it does not look at stop elements."""
    text = ""
    table = LETTER_OF
    for code, _stopped in codes:
        if code in (LETTERS_SHIFT, FIGURES_SHIFT):
            table = LETTER_OF if code == LETTERS_SHIFT else FIGURE_OF
        else:
            text += _EITHER[code] if code in _EITHER else table[code]
    return text


def single_unit_errors() -> dict[str, list[str]]:
    """Return for each figure what it becomes where one of its units is disturbed."""
    shifts = {LETTERS_SHIFT: "letters shift", FIGURES_SHIFT: "figures shift", 0: "nothing"}
    names = {**FIGURE_OF, **_EITHER, **shifts}
    return {
        figure: [names[_CODE_OF_FIGURE[figure] ^ 1 << unit] for unit in range(4, -1, -1)]
        for figure in "0123456789"
    }


# --- seven units --------------------------------------------------------------------------------


def to_seven_units(text: str) -> list[tuple[int, int]]:
    """Return the characters of a text with parity, and which sign of it each is sent for."""
    codes = []
    for place, sign in enumerate(text):
        low_first = int(f"{ord(sign) & 127:07b}"[::-1], 2)
        codes.append((low_first << 1 | low_first.bit_count() & 1, place))
    return codes


def from_seven_units(codes: Sequence[tuple[int, bool]]) -> str:
    """Return what a receiver writes: SUB for a character with wrong parity or without stop."""
    return "".join(
        chr(int(f"{code >> 1:07b}"[::-1], 2))
        if stopped and code.bit_count() % 2 == 0
        else SUBSTITUTE
        for code, stopped in codes
    )


_WAYS = {
    "five-unit": (FIVE_UNITS, to_five_units, from_five_units),
    "parity": (SEVEN_UNITS, to_seven_units, from_seven_units),
}


def disturbed(
    line: str, group: tuple[int, int], name: str, random: np.random.Generator, rate: float
) -> str | None:
    """Return a line of which the signal of one group was disturbed.

    Parameters
    ----------
    line : str
        With its line end; the shift is sent anew at its begin.
    group : (int, int)
        Its begin and end. The shift before it and the sign behind it belong to it.
    name : {"five-unit", "parity"}
    random : Generator
    rate : float
        Share of the groups with a disturbance, from which follows how many groups have two.

    Returns
    -------
    str or None
        None where the alphabet lacks a sign of the line, or nothing came of it.
    """
    circuit, encode, decode = _WAYS[name]
    try:
        codes = encode(line)
    except KeyError:
        return None
    signal = send(circuit, [code for code, _place in codes])
    elements: list[tuple[int, int]] = []
    for number, (_code, place) in enumerate(codes):
        if group[0] <= place <= group[1]:
            at = number * circuit.length
            units = [(at + 2 * unit, 2) for unit in range(circuit.units + 1)]
            elements += [*units, (at + circuit.length - circuit.stop, circuit.stop)]
    several = 1.0 - (1.0 - rate) ** (1.0 / len(elements))
    only_one = len(elements) * several * (1.0 - several) ** (len(elements) - 1) / rate
    weights = [length for _at, length in elements]
    shares = [length / sum(weights) for length in weights]
    for _try in range(_TRIES):
        number = 1 if random.random() < only_one else 2
        changed = list(signal)
        for pick in random.choice(len(elements), number, replace=False, p=shares).tolist():
            at, length = elements[pick]
            changed[at : at + length] = [1 - state for state in changed[at : at + length]]
        text = decode(receive(circuit, changed))
        if text != line:
            return text
    return None
