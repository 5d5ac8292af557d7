"""Single figures that would make the values of a sounding agree.

A wrong figure of a height shows in the layers below and above it with opposite signs; one of a
temperature in both layers with the same sign, and off the line between its neighbours. Every group
that a contradiction may come from is tried with every other figure; a repair is proposed only when
one single group with one single figure makes the contradictions vanish and no new one appear.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from encoder.codes.account import Token
from encoder.codes.decode import decode_part
from encoder.codes.elements import (
    figures_to_height_candidates,
    figures_to_temperature,
    figures_to_wind,
)
from encoder.repair.profile import (
    Key,
    Misfit,
    SoundingProfile,
    misfits,
    profile_of,
    with_height,
    with_temperature,
    with_wind,
)
from encoder.repair.proposal import Confidence, Evidence, Repair, RepairKind, wanted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from encoder.codes.declare import Context
    from encoder.repair.proposal import RepairMode
    from encoder.report.meeting import Received
    from encoder.trace import TraceEntry

MOST_TRIALS = 400
"""Changed profiles looked at in one sounding."""
MOST_ROUNDS = 4
"""Wrong figures repaired in one sounding."""
_SYMBOLS = {"height": "PPhhh", "heat": "TTTaDD", "wind": "ddfff"}
_REACHES = {"height": (2, 5), "heat": (0, 3), "wind": (0, 5)}


class Change(NamedTuple):
    """Another figure in one group, and what the checks say then."""

    kind: RepairKind
    key: Key
    entry: TraceEntry
    text: str
    left: tuple[Misfit, ...]


def mend_figures(members: Sequence[Received], text: str, mode: RepairMode) -> list[Misfit]:
    """Look for single wrong figures in the parts of one sounding.

    Parameters
    ----------
    members : sequence of Received
        Parts A to D in order; those repaired are changed in place.
    text : str
        The received text.
    mode : {"none", "safe", "all"}

    Returns
    -------
    list of Misfit
        Contradictions in the values as they are in the end.
    """
    profile = profile_of([item.content for item in members])
    found = misfits(profile)
    given = found
    trials = MOST_TRIALS
    scratch, shown = profile, found
    for _round in range(MOST_ROUNDS):
        if not shown or trials <= 0:
            break
        changes = list(_changes(members, scratch, shown, trials))
        trials -= len(changes)
        best = _only_best(changes, shown)
        if best is None:
            break
        gone = [item for item in shown if item.name not in {left.name for left in best.left}]
        several = len({item.name for item in gone}) >= 2
        sure = several and best.kind is not RepairKind.SIGN
        confidence = Confidence.SAFE if sure else Confidence.WEAK
        applied = wanted(confidence, mode)
        _propose(members, best, gone, text, confidence, applied=applied)
        if not applied and confidence is Confidence.WEAK:
            break
        scratch = _changed(scratch, best.key, best.text, _context(members, best.key)) or scratch
        shown = list(best.left)
        if applied:
            given = shown
    return given


def _changes(
    members: Sequence[Received],
    profile: SoundingProfile,
    found: Sequence[Misfit],
    most: int,
) -> Iterator[Change]:
    """Yield the single figures after which fewer contradictions are left and no new ones."""
    names = {item.name for item in found}
    keys = dict.fromkeys(key for item in found for key in item.keys)
    tried = 0
    for key in keys:
        entry = _entry(members, key)
        if entry is None or len(entry.text) != 5:
            continue
        mine = {item.name for item in found if key in item.keys}
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


def _only_best(changes: Sequence[Change], found: Sequence[Misfit]) -> Change | None:
    """Return the one change that explains most, None where several do."""
    if not changes:
        return None
    least = min(len(change.left) for change in changes)
    best = [change for change in changes if len(change.left) == least]
    if len(best) == 1:
        return best[0]
    if len({change.key for change in best}) > 1 or least >= len(found):
        return None
    # the sign is told by the parity of the last figure alone: the neighbour of the same tenths
    turned = [change for change in best if change.kind is RepairKind.SIGN]
    return turned[0] if len(turned) == 1 and len(best) <= 5 else None


def _alternatives(text: str, what: str) -> Iterator[tuple[RepairKind, str]]:
    """Yield the group with every other figure at every place of the value."""
    first, last = _REACHES[what]
    if not text[first:last].isdigit():
        return
    kinds = {"height": RepairKind.HEIGHT, "heat": RepairKind.TEMPERATURE, "wind": RepairKind.WIND}
    for place in range(first, last):
        for figure in "0123456789":
            if figure == text[place]:
                continue
            kind = kinds[what]
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
        now = profile.heights[pressure][0]
        heights = figures_to_height_candidates(text[2:], pressure)
        return with_height(profile, key, min(heights, key=lambda height: abs(height - now)))
    if key[3] == "heat":
        temperature, _faults = figures_to_temperature(text[:3])
        return None if temperature is None else with_temperature(profile, key, temperature)
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
    gone: Sequence[Misfit],
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
            tuple(_evidence(misfit, change.left) for misfit in gone),
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
    item.decoded = replace(item.decoded, content=read.content, trace=read.trace)
    item.decoded = replace(item.decoded, diagnostics=read.diagnostics)


_NAMES = {
    "thickness-misfit": "thickness of the layer",
    "temperature-misfit": "temperature between significant levels",
    "wind-misfit": "wind between significant levels",
    "lapse-rate-impossible": "excess over the dry adiabat",
}


def _evidence(misfit: Misfit, left: Sequence[Misfit]) -> Evidence:
    after = next((item.amount for item in left if item.name == misfit.name), 0.0)
    levels = " to ".join(f"{pressure:g}" for pressure in misfit.pressures)
    return Evidence(
        f"{_NAMES[misfit.code]}, {levels} hPa", misfit.amount, after, misfit.unit, misfit.limit
    )
