"""What damage to groups does to decoded values: ``python -m tests.benchmarks.bench_damage``.

Reports of generated flights are damaged in one group of a hundred, in the ways of archives and of
teleprinter circuits, decoded with ``repair`` none, safe and all, and compared with what the
undamaged report says. Printed is how many values came back right, repaired right, missing, wrong
with a finding on their record, and wrong without any.

Damage that breaks the form of a report (the look or the number of its groups) can always be seen.
One figure that became another can be seen only where the report says the same thing twice, or where
the air cannot be so, so it is counted apart. How often the checks are wrong about undamaged reports
is printed first.
"""

from __future__ import annotations

import random
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

from encoder.diagnostics import Severity
from encoder.formats.flight_folder import read_flight
from encoder.levels.selection import select_levels
from encoder.report import Report, decode_reports, encode_report
from samples.generator import random_flight, write_flight

LETTERS = {"0": "O", "1": "IL", "5": "S", "8": "B", "2": "Z", "6": "G"}
SHIFT = str.maketrans("1234567890/", "QWERTYUIOPX")
Value = tuple[tuple[str, str, str, object, int], str]


class Damage(NamedTuple):
    """What was done to one group: how, where in the sequence of groups, and the new text."""

    kind: str
    place: int
    text: str


def letter(text: str, dice: random.Random) -> str:
    """Put the letter that looks like it for one figure."""
    places = [place for place, figure in enumerate(text) if figure in LETTERS]
    if not places:
        return text
    place = dice.choice(places)
    return text[:place] + dice.choice(LETTERS[text[place]]) + text[place + 1 :]


def shift(text: str, dice: random.Random) -> str:
    """Lose the figure shift before the group or inside it."""
    place = dice.choice((0, 0, 2, 3))
    return text[:place] + text[place:].translate(SHIFT)


def split(text: str, dice: random.Random) -> str:
    """Put a blank or a line end inside."""
    place = dice.randrange(1, len(text))
    return text[:place] + dice.choice((" ", "\r\n")) + text[place:]


def stuck(text: str, _dice: random.Random) -> str:
    """Lose the blank after the group."""
    return text + "+"


def lost_figure(text: str, dice: random.Random) -> str:
    """Lose one figure."""
    place = dice.randrange(len(text))
    return text[:place] + text[place + 1 :]


def extra_figure(text: str, dice: random.Random) -> str:
    """Gain one figure."""
    place = dice.randrange(len(text) + 1)
    return (
        text[:place]
        + dice.choice((text[max(place - 1, 0)], dice.choice("0123456789")))
        + text[place:]
    )


def lost_group(_text: str, _dice: random.Random) -> str:
    """Lose the group."""
    return ""


def doubled_group(text: str, _dice: random.Random) -> str:
    """Send the group twice."""
    return f"{text} {text}"


def solidus(text: str, dice: random.Random) -> str:
    """Put a solidus for one figure."""
    place = dice.randrange(len(text))
    return text[:place] + "/" + text[place + 1 :]


def mark(text: str, dice: random.Random) -> str:
    """Put a mark of punctuation behind the group or inside it."""
    place = dice.choice((len(text), 2))
    return text[:place] + dice.choice(".,-") + text[place:]


def figure(text: str, dice: random.Random) -> str:
    """Put another figure for one."""
    place = dice.randrange(len(text))
    return text[:place] + dice.choice("0123456789") + text[place + 1 :]


def swapped(text: str, dice: random.Random) -> str:
    """Change places of two neighbouring figures."""
    place = dice.randrange(len(text) - 1)
    return text[:place] + text[place + 1] + text[place] + text[place + 2 :]


def sign(text: str, _dice: random.Random) -> str:
    """Give the last figure of a temperature the other parity."""
    return text[:2] + str(int(text[2]) ^ 1) + text[3:] if text[2].isdigit() else text


BREAKING: dict[str, Callable[[str, random.Random], str]] = {
    "letters": letter,
    "letter shift": shift,
    "split": split,
    "stuck": stuck,
    "lost figure": lost_figure,
    "extra figure": extra_figure,
    "lost group": lost_group,
    "doubled group": doubled_group,
    "solidus": solidus,
    "mark": mark,
}
"""Damage that breaks the form of the report."""
SILENT: dict[str, Callable[[str, random.Random], str]] = {
    "figure": figure,
    "swapped figures": swapped,
    "sign": sign,
}
"""Damage that leaves the form whole."""


def generated_report(seed: int) -> Report:
    """Return the report of a generated flight."""
    flight = random_flight(seed, spacing=4.0)
    with tempfile.TemporaryDirectory() as folder:
        write_flight(flight, Path(folder) / "flight")
        read = read_flight(Path(folder) / "flight").value
    if read is None:
        msg = f"Flight {seed} cannot be read."
        raise ValueError(msg)
    return encode_report(read, select_levels(read).value).value


def damaged(
    report: Report,
    dice: random.Random,
    *,
    share: float = 0.01,
    kinds: dict[str, Callable[[str, random.Random], str]],
) -> tuple[str, list[Damage]]:
    """Return the text with about one group in a hundred damaged, and what was done.

    Regional and national groups are left alone (they are kept verbatim), as are the letters that
    open a part (without them the groups belong to no report).
    """
    done: list[Damage] = []
    text = ""
    last = 0
    for place, entry in enumerate(report.trace):
        begin, end = entry.span
        blank = report.text[last:begin]
        if text.endswith("+"):
            text, blank = text[:-1], blank if "=" in blank else ""
        text += blank
        group = entry.text
        if dice.random() < share and entry.symbol not in ("MiMiMjMj", "verbatim"):
            wanted = [name for name in kinds if name != "sign" or entry.symbol == "TTTaDD"]
            kind = dice.choice(wanted)
            changed = kinds[kind](group, dice)
            if changed != group:
                done.append(Damage(kind, place, changed))
                group = changed
        text += group
        last = end
    return text.removesuffix("+") + report.text[last:], done


def values_of(reports: tuple[Report, ...]) -> dict[Value, Any]:
    """Return every value said, by part, section, kind, pressure and turn."""
    found: dict[Value, Any] = {}
    for report in reports:
        for part in report.parts:
            for section in part.content.sections:
                turns: Counter[object] = Counter()
                for record in section.records:
                    where = record.get("air_pressure")
                    turn = turns[record.kind, where]
                    turns[record.kind, where] += 1
                    key = (part.content.letter, section.number, record.kind, where, turn)
                    for name, value in record.values.items():
                        if (key, name) not in found:
                            found[key, name] = value
    return found


def flagged_places(
    reports: tuple[Report, ...], diagnostics: tuple[Any, ...]
) -> tuple[
    dict[tuple[str, str, str, object, int], bool], dict[tuple[str, str, str, object, int], bool]
]:
    """Return which records have a finding on them or beside them, and which were repaired."""
    spans = [
        item.span
        for item in diagnostics
        if item.span is not None and item.severity is not Severity.NOTE
    ]
    mends = [item.span for item in diagnostics if item.span is not None and item.code == "repaired"]
    layers = [
        (item.path[0], tuple(float(str(step)[:-4]) for step in item.path if "hPa" in str(step)))
        for item in diagnostics
        if item.code in ("thickness-misfit", "lapse-rate-impossible", "temperature-jump")
    ]
    levels = [
        float(str(item.path[2])[:-4])
        for item in diagnostics
        if item.code in ("temperature-misfit", "wind-misfit", "humidity-misfit", "wind-jump")
    ]
    named = {
        (item.path[0], step)
        for item in diagnostics
        if item.severity is not Severity.NOTE
        for step in item.path
        if str(step).endswith("hPa")
    }
    flagged: dict[tuple[str, str, str, object, int], bool] = {}
    repaired: dict[tuple[str, str, str, object, int], bool] = {}
    for report in reports:
        for part in report.parts:
            reach: dict[tuple[str, int], tuple[int, int]] = {}
            for entry in report.trace:
                if entry.part == part.letters and entry.record is not None:
                    first, last = reach.get((entry.section, entry.record), entry.span)
                    reach[entry.section, entry.record] = (
                        min(first, entry.span[0]),
                        max(last, entry.span[1]),
                    )
            for section in part.content.sections:
                turns: Counter[object] = Counter()
                for place, record in enumerate(section.records):
                    where = record.get("air_pressure")
                    key = (
                        part.content.letter,
                        section.number,
                        record.kind,
                        where,
                        turns[record.kind, where],
                    )
                    turns[record.kind, where] += 1
                    begin, end = reach.get((section.number, place), (0, 0))
                    if section.number == "1":
                        begin, end = part.span[0], max(end, part.span[0] + 16)
                    flagged[key] = any(
                        first < end + 8 and begin - 8 < last for first, last in spans
                    ) or any(
                        (name, f"{where:g} hPa") in named
                        for name in (part.letters, part.content.letter)
                        if isinstance(where, float)
                    )
                    flagged[key] = flagged[key] or (
                        isinstance(where, float)
                        and (
                            any(span[0] >= where >= span[-1] for _name, span in layers)
                            or _beside(where, levels, section.records)
                        )
                    )
                    repaired[key] = any(
                        first < end + 1 and begin - 1 < last for first, last in mends
                    )
    return flagged, repaired


def _beside(pressure: float, levels: list[float], records: tuple[Any, ...]) -> bool:
    """Tell whether a level is the next one of its section above or below a contradiction."""
    own = [record.get("air_pressure") for record in records]
    known = [float(one) for one in own if isinstance(one, float)]
    for level in levels:
        below = min((one for one in known if one >= level), default=None)
        above = max((one for one in known if one <= level), default=None)
        if pressure in (below, above):
            return True
    return False


def compare(truth: dict[Value, Any], text: str, repair: str) -> tuple[Counter[str], list[Value]]:
    """Return how many values came out how, and the wrong ones that nothing tells of."""
    reports, diagnostics = decode_reports(text, repair=repair)  # type: ignore[arg-type]
    found = values_of(reports)
    flagged, repaired = flagged_places(reports, diagnostics)
    count: Counter[str] = Counter()
    silent: list[Value] = []
    for key, value in found.items():
        if not said(value) or key[1] == "place_in_block":
            continue
        mended = repaired.get(key[0], False)
        if key in truth and truth[key] == value:
            count["repaired right" if mended else "right"] += 1
        elif mended:
            count["repaired wrong"] += 1
        elif flagged.get(key[0], False):
            count["wrong, told"] += 1
        else:
            count["wrong, untold"] += 1
            silent.append(key)
    count["missing"] = sum(
        1 for key, value in truth.items() if said(value) and not said(found.get(key))
    )
    count["all"] = sum(1 for value in truth.values() if said(value))
    return count, silent


def alarms_of(text: str) -> list[str]:
    """Return the codes told of an undamaged text, but that it has no end or not every part."""
    return [
        item.code
        for item in decode_reports(text).diagnostics
        if item.code not in ("parts-missing", "report-not-ended")
    ]


def said(value: object) -> bool:
    """Tell whether a value is there; a solidus for a figure says that it is not."""
    return value is not None and value != "/"


COLUMNS = (
    "all", "right", "repaired right", "repaired wrong", "missing", "wrong, told", "wrong, untold",
)  # fmt: skip


def main() -> None:
    """Print the table."""
    number = int(sys.argv[1] if len(sys.argv) > 1 else "200")
    times = int(sys.argv[2] if len(sys.argv) > 2 else "5")
    base = [generated_report(seed) for seed in range(number)]
    print(f"{number} soundings, each damaged {times} times in 1 % of its groups")
    texts = [text for report in base for text in (report.text, *(p.text for p in report.parts))]
    alarms = Counter(code for text in texts for code in alarms_of(text))
    groups = sum(len(report.trace) for report in base)
    said_of = ", ".join(f"{code} {count}" for code, count in alarms.items()) or "none"
    print(f"undamaged, whole and part by part ({groups} groups): false alarms {said_of}")
    for title, kinds in (("form broken", BREAKING), ("form whole", SILENT)):
        print(f"\n{title:<14}{''.join(f'{name:>16}' for name in COLUMNS)}   untold in 100,000")
        for repair in ("none", "safe", "all"):
            total: Counter[str] = Counter()
            for place, report in enumerate(base):
                truth = values_of(decode_reports(report.text).value)
                for turn in range(times):
                    dice = random.Random(1000 * place + turn)
                    text, _done = damaged(report, dice, kinds=kinds)
                    total += compare(truth, text, repair)[0]
            share = 1e5 * total["wrong, untold"] / total["all"]
            figures = "".join(f"{total[name]:>16}" for name in COLUMNS)
            print(f"{repair:<14}{figures}   {share:.2f}")


if __name__ == "__main__":
    main()
