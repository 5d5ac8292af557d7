"""Single figures that would make the values of a sounding agree.

A wrong figure of a height shows in the layers below and above it with opposite signs; one of a
temperature in both layers with the same sign, and off the line between its neighbours. Every group
that a contradiction may come from is tried with every other figure; a repair is proposed only when
one single group with one single figure makes the contradictions vanish and no new one appear.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from encoder.codes.account import Token
from encoder.codes.decode import decode_part
from encoder.codes.elements import (
    figures_to_pressure,
    figures_to_temperature,
    figures_to_wind,
    nearest_candidate,
)
from encoder.repair.contradictions import ENDS_ALONE, Misfit, expected_height, misfits
from encoder.repair.profile import (
    Key,
    SoundingProfile,
    with_height,
    with_pressure,
    with_temperature,
    with_wind,
)
from encoder.repair.proposal import Confidence, Evidence, Repair, RepairKind, wanted

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from encoder.codes.declare import Context
    from encoder.repair.proposal import RepairMode
    from encoder.report.meeting import Received
    from encoder.trace import TraceEntry

MOST_TRIALS = 400
"""Changed profiles looked at in one sounding."""
LEAST_CHECKS = 2
WELL_WITHIN = 0.7
"""Checks that must agree on a safe repair, and how much of a limit they may leave (common
practice, no source)."""
MOST_TIES = 6
"""Readings of one group that are weighed against each other."""
MUCH_BETTER = 0.6
"""Share of what the next best reading leaves of the limits (common practice, no source)."""
MOST_ROUNDS = 4
"""Wrong figures repaired in one sounding."""
_SYMBOLS = {"height": "PPhhh", "heat": "TTTaDD", "wind": "ddfff", "pressure": "nnPPP"}
_REACHES = {"height": (2, 5), "heat": (0, 3), "wind": (0, 5), "pressure": (2, 5)}
_KINDS = {
    "height": RepairKind.HEIGHT,
    "heat": RepairKind.TEMPERATURE,
    "wind": RepairKind.WIND,
    "pressure": RepairKind.PRESSURE,
}


class Change(NamedTuple):
    """Another figure in one group, and what the checks say then."""

    kind: RepairKind
    key: Key
    entry: TraceEntry
    text: str
    left: tuple[Misfit, ...]


def mend_figures(
    members: Sequence[Received], text: str, mode: RepairMode, profile: SoundingProfile
) -> tuple[list[Misfit], bool]:
    """Look for single wrong figures in the parts of one sounding.

    Parameters
    ----------
    members : sequence of Received
        Parts A to D in order; those repaired are changed in place.
    text : str
        The received text.
    mode : {"none", "safe", "all"}
    profile : SoundingProfile
        Of these parts; without the winds where their units are doubtful.

    Returns
    -------
    left : list of Misfit
        Contradictions in the values as they are in the end.
    mended : bool
        Whether a group was read in another way.
    """
    found = misfits(profile)
    given, mended = found, False
    trials = MOST_TRIALS
    scratch, shown = profile, found
    for _round in range(MOST_ROUNDS):
        if not shown or trials <= 0:
            break
        changes = list(_changes(members, scratch, shown, trials))
        trials -= len(changes)
        ties = _best(changes, shown)
        best = _closest(ties, members, scratch, shown)
        if best is None:
            break
        gone = [item for item in shown if item.name not in {left.name for left in best.left}]
        context = _context(members, best.key)
        repaired = _changed(scratch, best.key, best.text, context) or scratch
        numbers = {item.name: item.amount for item in misfits(repaired, every=True)}
        evidence = tuple(_evidence(item, numbers) for item in gone)
        confidence = _confidence(best, evidence) if len(ties) == 1 else Confidence.WEAK
        applied = wanted(confidence, mode)
        _propose(members, best, evidence, text, confidence, applied=applied)
        if not applied and confidence is Confidence.WEAK:
            break
        scratch = repaired
        shown = list(best.left)
        if applied:
            given, mended = shown, True
    return given, mended


def _confidence(change: Change, evidence: Sequence[Evidence]) -> Confidence:
    """Call a repair safe when several checks agree on it, all well within their limits."""
    well = all(abs(item.after) <= WELL_WITHIN * item.limit for item in evidence)
    sure = len(evidence) >= LEAST_CHECKS and well and change.kind is not RepairKind.SIGN
    return Confidence.SAFE if sure else Confidence.WEAK


def _changes(
    members: Sequence[Received],
    profile: SoundingProfile,
    found: Sequence[Misfit],
    most: int,
) -> Iterator[Change]:
    """Yield the single figures after which fewer contradictions are left and no new ones."""
    names = {item.name for item in found}
    keys: dict[Key, Key] = {}
    for key in (key for item in found for key in item.keys):
        keys[key] = key
        if key[1] == "5":
            keys[*key[:3], "pressure"] = key
    tried = 0
    for key, told in keys.items():
        entry = _entry(members, key)
        if entry is None or len(entry.text) != 5:
            continue
        mine = {item.name for item in found if told in item.keys}
        context = _context(members, key)
        for kind, other in _alternatives(entry.text, key[3]):
            if tried >= most:
                return
            changed = _changed(profile, key, other, context)
            if changed is None:
                continue
            tried += 1
            left = misfits(changed)
            if {item.name for item in left} <= names - mine:
                yield Change(kind, key, entry, other, tuple(left))


def _best(changes: Sequence[Change], found: Sequence[Misfit]) -> list[Change]:
    """Return the changes of one group that explain most; none where several groups do."""
    least = min((len(change.left) for change in changes), default=len(found))
    best = [change for change in changes if len(change.left) == least]
    return best if len({change.key for change in best}) == 1 and least < len(found) else []


def _closest(
    ties: Sequence[Change],
    members: Sequence[Received],
    profile: SoundingProfile,
    found: Sequence[Misfit],
) -> Change | None:
    """Return the change that fits much better than the others, None where none does."""
    if len(ties) < 2:
        return ties[0] if ties else None
    # the sign is told by the parity of the last figure alone: the neighbour of the same tenths
    turned = [change for change in ties if change.kind is RepairKind.SIGN]
    if turned:
        return turned[0] if len(turned) == 1 and len(ties) <= MOST_TIES else None
    merits: list[tuple[float, int]] = []
    for place, change in enumerate(ties[:MOST_TIES]):
        context = _context(members, change.key)
        changed = _changed(profile, change.key, change.text, context) or profile
        numbers = {item.name: item.amount for item in misfits(changed, every=True)}
        rest = max(abs(numbers.get(item.name, 0.0)) / item.limit for item in found)
        merits.append((rest, place))
    merits.sort()
    return ties[merits[0][1]] if merits[0][0] <= MUCH_BETTER * merits[1][0] else None


def _alternatives(text: str, what: str) -> Iterator[tuple[RepairKind, str]]:
    """Yield the group with every other figure at every place of the value."""
    first, last = _REACHES[what]
    if not text[first:last].isdigit():
        return
    kind = _KINDS[what]
    for place in range(first, last - 1):
        if text[place] != text[place + 1]:
            yield kind, text[:place] + text[place + 1] + text[place] + text[place + 2 :]
    for place in range(first, last):
        for figure in "0123456789":
            if figure == text[place]:
                continue
            kind = _KINDS[what]
            if what == "heat" and place == 2:
                if int(figure) == int(text[2]) ^ 1:
                    kind = RepairKind.SIGN
                elif (int(figure) - int(text[2])) % 2 == 0:
                    continue  # less than a kelvin; no check sees it
            yield kind, text[:place] + figure + text[place + 1 :]


def _context(members: Sequence[Received], key: Key) -> Context:
    item = members[key[0]]
    context = item.declared.context()
    unit = item.content.identification.get("wind_unit")
    context.wind_unit = "kt" if unit == "kt" else "m s-1"
    return context


def _changed(
    profile: SoundingProfile, key: Key, text: str, context: Context
) -> SoundingProfile | None:
    """Return the profile with the values of another group, None where it has none."""
    if key[3] == "height":
        pressure = next((p for p, (_value, own) in profile.heights.items() if own == key), None)
        if pressure is None:
            return None
        # a wrong figure may have led to the wrong thousands as well
        expected = expected_height(profile, pressure)
        return with_height(profile, key, nearest_candidate(text[2:], pressure, expected))
    if key[3] == "heat":
        temperature, _faults = figures_to_temperature(text[:3])
        return None if temperature is None else with_temperature(profile, key, temperature)
    if key[3] == "pressure":
        value, _faults = figures_to_pressure(text[2:], context)
        return None if not value else with_pressure(profile, (*key[:3], "heat"), value)
    direction, speed, faults = figures_to_wind(text, context)
    if direction is None or speed is None or faults:
        return None
    return with_wind(profile, key, direction, speed)


def _entry(members: Sequence[Received], key: Key) -> TraceEntry | None:
    place, section, record, what = key
    return next(
        (
            entry
            for entry in members[place].decoded.trace
            if entry.section == section
            and entry.record == record
            and entry.symbol == _SYMBOLS[what]
        ),
        None,
    )


def _propose(
    members: Sequence[Received],
    change: Change,
    evidence: tuple[Evidence, ...],
    text: str,
    confidence: Confidence,
    *,
    applied: bool,
) -> None:
    item = members[change.key[0]]
    span = change.entry.span
    item.repairs.append(
        Repair(
            change.kind,
            span,
            text[span[0] : span[1]],
            change.text,
            confidence,
            item.letters,
            evidence,
            applied,
        )
    )
    if not applied:
        return
    item.tokens = [
        Token(change.text, token.start, token.end) if token.start == span[0] else token
        for token in item.tokens
    ]
    read = decode_part(item.tokens, item.declared, item.content.form)
    item.decoded = read


_NAMES = {
    ENDS_ALONE: "thickness of the layer",
    "thickness-misfit": "thickness of the layer",
    "temperature-misfit": "temperature between significant levels",
    "wind-misfit": "wind between significant levels",
    "lapse-rate-impossible": "excess over the dry adiabat",
}


def _evidence(misfit: Misfit, numbers: Mapping[tuple[str, tuple[float, ...]], float]) -> Evidence:
    after = numbers.get(misfit.name, 0.0)
    levels = " to ".join(f"{pressure:g}" for pressure in misfit.pressures)
    return Evidence(
        f"{_NAMES[misfit.code]}, {levels} hPa", misfit.amount, after, misfit.unit, misfit.limit
    )
