"""The damage of generated archives: circuits by their standards, and the truth kept beside it."""

from __future__ import annotations

import numpy as np
import pytest

from samples.archive_generator import circuits, damage, garbling, traffic
from samples.archive_generator.__main__ import make_traffic
from samples.archive_generator.soundings import STATIONS, make, times

LINE = "TTAA 51001 90417 99975 12345 27045 00///=\r\r\n"
RIGHT = {
    "five-unit": (circuits.FIVE_UNITS, circuits.to_five_units, circuits.from_five_units),
    "parity": (circuits.SEVEN_UNITS, circuits.to_seven_units, circuits.from_seven_units),
}


@pytest.fixture(scope="module")
def day():
    """A day of traffic of three stations."""
    random = np.random.default_rng(3)
    return traffic.day_file([make(s, t, random) for t in times(1994, 1)[20:22] for s in STATIONS])


@pytest.mark.parametrize("name", list(RIGHT))
def test_an_undisturbed_line_arrives(name):
    """What is sent is what is received."""
    circuit, encode, decode = RIGHT[name]
    codes = [code for code, _place in encode(LINE)]
    assert decode(circuits.receive(circuit, circuits.send(circuit, codes))) == LINE


def test_alphabet_2():
    """Published facts of the table: shifts of five and four units, 32 codes, each used once."""
    assert circuits.LETTERS_SHIFT == 31
    assert len(circuits.LETTER_OF) == len(circuits.FIGURE_OF) == 26
    row = "".join(
        circuits.LETTER_OF[code] for code, _place in circuits.to_five_units("1234567890")[1:]
    )
    assert row == "QWERTYUIOP"


def test_single_units_of_figures():
    """One disturbed unit makes another figure of a figure in 14 of 50 cases, always both ways."""
    made = circuits.single_unit_errors()
    others = [(one, other) for one in made for other in made[one] if other.isdigit()]
    assert sum(len(row) for row in made.values()) == 50
    assert len(others) == 14
    assert {(b, a) for a, b in others} == set(others)
    assert made["3"][0] == "nothing"
    assert "letters shift" in made["1"]
    assert "figures shift" in made["2"]


def test_parity_shows_every_single_unit():
    """With parity, one disturbed element never gives another figure."""
    circuit, encode, decode = RIGHT["parity"]
    sent = circuits.send(circuit, [code for code, _place in encode("1234567890 ")])
    for at in range(0, len(sent), 2):
        changed = list(sent)
        changed[at : at + 2] = [1 - state for state in changed[at : at + 2]]
        text = decode(circuits.receive(circuit, changed))
        assert text == "1234567890 " or circuits.SUBSTITUTE in text, at


def test_a_lost_start_element_is_overcome():
    """The receiver falls into step again, in the same line."""
    circuit, encode, decode = RIGHT["five-unit"]
    codes = [code for code, _place in encode(LINE)]
    sent = circuits.send(circuit, codes)
    at = 20 * circuit.length
    sent[at : at + 2] = [1, 1]
    text = decode(circuits.receive(circuit, sent))
    assert text != LINE
    assert text.endswith("00///=\r\r\n")


@pytest.mark.parametrize("source", list(damage.SOURCES))
def test_the_share_of_damaged_groups(day, source):
    """About the share that was asked for, the same for the same seed, the damage told in order."""
    found = [
        damage.damage_traffic(day, np.random.default_rng(seed), 0.02, source) for seed in range(6)
    ]
    groups = len(damage.damage_traffic(day, np.random.default_rng(0), 1.0, "figure")[1])
    assert 0.012 < sum(len(done) for _text, done in found) / (6 * groups) < 0.028
    assert found[1] == damage.damage_traffic(day, np.random.default_rng(1), 0.02, source)
    for text, done in found:
        assert text != day
        assert [item.offset for item in done] == sorted(item.offset for item in done)
        assert all(day.startswith(item.group, item.offset) for item in done)


@pytest.mark.parametrize("kind", list(garbling.KINDS))
def test_every_kind_happens(day, monkeypatch, kind):
    """Each changes the text where its group is, or at the part and line of it."""
    monkeypatch.setitem(damage.SOURCES, "one", ((kind, 1.0),))
    text, done = damage.damage_traffic(day, np.random.default_rng(8), 0.02, "one")
    assert done
    assert {item.kind for item in done} == {kind}
    assert text != day
    if kind in garbling.WELL_FORMED:
        assert [len(group) for group in text.split()] == [len(group) for group in day.split()]


def test_without_damage_nothing_changes(day):
    """A rate of nothing."""
    assert damage.damage_traffic(day, np.random.default_rng(1), 0.0) == (day, [])


def test_the_truth_is_kept(tmp_path):
    """Beside the damaged day stand the whole one and a table of what was done."""
    make_traffic(tmp_path / "days", 1994, 1, 7, rate=0.01, days=1)
    make_traffic(tmp_path / "again", 1994, 1, 7, rate=0.0, days=1)
    whole = (tmp_path / "truth" / "19940101.txt").read_bytes().decode()
    assert whole == (tmp_path / "again" / "19940101.txt").read_bytes().decode()
    assert whole != (tmp_path / "days" / "19940101.txt").read_bytes().decode()
    head, *lines = (tmp_path / "done" / "19940101.csv").read_text().splitlines()
    assert head == "offset,kind,group"
    for line in lines:
        offset, _kind, group = line.split(",")
        assert whole.startswith(group, int(offset))
