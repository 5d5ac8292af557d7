"""Parts of one sounding whose day figures give different units of the winds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.codes.account import Token
from encoder.codes.decode import decode_part
from encoder.codes.elements import number
from encoder.codes.groups_facts import KNOT_DAY
from encoder.diagnostics import diagnostic
from encoder.repair.proposal import Confidence, Evidence, Repair, RepairKind, wanted
from encoder.resolution import KNOT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.diagnostics import Diagnostic
    from encoder.repair.proposal import RepairMode
    from encoder.report.meeting import Received

RATIO = 1.0 / KNOT
"""Knots in one metre a second, 1.94."""
TOLERANCE = 0.1
"""How far a ratio of speeds may be from it (common practice, no source)."""
LEAST_SPEED = 2.0
"""Slower winds tell nothing about the unit, in m s-1 (common practice, no source)."""
LEAST_PAIRS = 2


def mend_wind_units(
    members: Sequence[Received], text: str, mode: RepairMode
) -> tuple[Diagnostic, ...]:
    """Compare the winds that two parts with different units both give.

    Parameters
    ----------
    members : sequence of Received
        Parts of one sounding in order; one that is repaired is changed in place.
    text : str
        The received text.
    mode : {"none", "safe", "all"}

    Returns
    -------
    tuple of Diagnostic
        "wind-unit-doubtful" where the figures are the same and the units are not.
    """
    units = [item.content.identification.get("wind_unit") for item in members]
    if len({unit for unit in units if unit is not None}) < 2:
        return ()
    for place, item in enumerate(members):
        others = [
            other
            for other, unit in zip(members, units, strict=True)
            if unit not in (None, units[place])
        ]
        alike = [unit for at, unit in enumerate(units) if at != place and unit == units[place]]
        ratios = [ratio for other in others for ratio in _ratios(item, other)]
        if len(ratios) < LEAST_PAIRS or alike:
            continue
        expected = RATIO if units[place] == "m s-1" else 1.0 / RATIO
        if all(abs(ratio / expected - 1.0) <= TOLERANCE for ratio in ratios):
            mean = sum(ratios) / len(ratios)
            if len(others) > 1:
                _propose(item, mean, text, mode)
            return (
                diagnostic(
                    "wind-unit-doubtful",
                    f"{item.letters} and {', '.join(other.letters for other in others)} give the "
                    f"same figures for {len(ratios)} winds in different units.",
                    span=item.span,
                    path=(item.letters, "1", "YYGG"),
                    value=f"ratio {mean:.2f}",
                    expected="ratio 1",
                ),
            )
    return ()


def _speeds(item: Received) -> dict[float, float]:
    found: dict[float, float] = {}
    for section in item.content.sections:
        for record in section.records:
            pressure, speed = number(record.get("air_pressure")), number(record.get("wind_speed"))
            if pressure is not None and speed is not None:
                found[pressure] = speed
    return found


def _ratios(item: Received, other: Received) -> list[float]:
    """Return the ratios of the speeds at the levels that both parts give."""
    mine, its = _speeds(item), _speeds(other)
    return [
        mine[pressure] / its[pressure]
        for pressure in mine.keys() & its.keys()
        if max(mine[pressure], its[pressure]) >= LEAST_SPEED and its[pressure] > 0.0
    ]


def _propose(item: Received, ratio: float, text: str, mode: RepairMode) -> None:
    """Propose the day figures of the other unit."""
    entry = next(
        (entry for entry in item.decoded.trace if entry.symbol.startswith("YYGG")),
        None,
    )
    if entry is None or not entry.text[:2].isdigit():
        return
    day = (int(entry.text[:2]) + KNOT_DAY) % 100
    if not (1 <= day <= 31 or KNOT_DAY < day <= KNOT_DAY + 31):
        return
    group = f"{day:02d}{entry.text[2:]}"
    applied = wanted(Confidence.SAFE, mode)
    changed = [
        Token(group, token.start, token.end) if token.start == entry.span[0] else token
        for token in item.tokens
    ]
    item.repairs.append(
        Repair(
            RepairKind.UNIT,
            entry.span,
            text[entry.span[0] : entry.span[1]],
            group,
            Confidence.SAFE,
            item.letters,
            (
                Evidence(
                    "speeds against those of the other parts",
                    ratio,
                    ratio * (KNOT if ratio > 1.0 else RATIO),
                    "",
                    1.0 + TOLERANCE,
                ),
            ),
            applied,
        )
    )
    if applied:
        item.tokens = changed
        item.decoded = decode_part(changed, item.declared, item.content.form)
