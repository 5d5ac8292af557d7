"""The two methods of choosing levels, applied to a section that is ready for them."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, Literal

import numpy as np

from encoder.columns import COLUMNS
from encoder.diagnostics import Diagnostic, diagnostic
from encoder.levels.fewest_misfits import fewest_nodes
from encoder.levels.largest_deviation import Insertion, insert_levels
from encoder.levels.repair import mended
from encoder.levels.table import LevelKind, Reason
from encoder.rows import rows_counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.levels.placing import Plan
    from encoder.levels.segments import Section

Method = Literal["largest-deviation", "fewest-levels"]
METHODS: tuple[Method, ...] = ("largest-deviation", "fewest-levels")
"""Methods of choosing additional levels."""

_KINDS = {
    "air_temperature": LevelKind.SIGNIFICANT_TEMPERATURE,
    "relative_humidity": LevelKind.SIGNIFICANT_HUMIDITY,
    "wind_from_direction": LevelKind.SIGNIFICANT_WIND,
    "wind_speed": LevelKind.SIGNIFICANT_WIND,
}
_WORDS = {
    "air_temperature": "temperature",
    "relative_humidity": "humidity",
    "wind_from_direction": "direction",
    "wind_speed": "speed",
}
_SOURCES = {
    "air_temperature": "WMO-No. 306, 35.3.1.3",
    "relative_humidity": "WMO-No. 306, 35.3.1.3",
    "wind_from_direction": "WMO-No. 306, 35.3.2.1 and 32.3.1.1",
    "wind_speed": "WMO-No. 306, 35.3.2.1 and 32.3.1.1",
}

Chosen = dict[int, list[tuple[int, Reason]]]
"""What each chosen node is significant for, and why."""


def choose(
    plan: Plan, method: Method, order: Sequence[Sequence[int]], kinds: int
) -> tuple[Chosen, tuple[Diagnostic, ...]]:
    """Choose the levels of a section.

    Parameters
    ----------
    plan : Plan
    method : {"largest-deviation", "fewest-levels"}
    order : sequence of sequence of int
        Order in which the first method sees to the curves, see
        :func:`encoder.levels.largest_deviation.insert_levels`.
    kinds : int
        Bits of a level that is chosen for all curves together.

    Returns
    -------
    chosen : dict of int to list of tuple
        By node, rising.
    diagnostics : tuple of Diagnostic
    """
    chosen: Chosen = {
        node: [(item.kinds, item.reason) for item in wanted] for node, wanted in plan.forced.items()
    }
    findings: list[Diagnostic] = []
    for first, last in plan.blocks:
        forced = sorted({first, last, *(node for node in plan.forced if first <= node <= last)})
        for lower, upper in itertools.pairwise(forced):
            path = fewest_nodes(plan.section, lower, upper) if method == "fewest-levels" else None
            if path is not None:
                reason = _fewest(plan.section, lower, upper)
                chosen |= {node: [(kinds, reason)] for node in path[1:-1]}
                continue
            if method == "fewest-levels":
                findings.append(_unproved(plan.section, lower, upper))
            inserted = insert_levels(plan.section, (lower, upper), order)
            nodes, again = mended(plan.section, [lower, *(i.node for i in inserted), upper])
            for item in inserted:
                bits = kinds if item.curve is None else int(_KINDS[item.curve])
                if item.node in nodes and item.node not in again:
                    chosen[item.node] = [(bits, _farthest(plan.section, item))]
            chosen |= {
                node: [(kinds, _mended(plan.section, nodes, node))] for node in sorted(again)
            }
    return dict(sorted(chosen.items())), tuple(findings)


def _fewest(section: Section, lower: int, upper: int) -> Reason:
    words = " and ".join(_WORDS[curve.name] for curve in section.curves)
    return Reason(
        "fewest-levels",
        f"Belongs to the smallest set of levels that keeps {words} within the limits "
        f"{section.between(lower, upper)}.",
        _SOURCES[section.curves[0].name],
    )


def _mended(section: Section, nodes: Sequence[int], node: int) -> Reason:
    place = list(nodes).index(node)
    between = section.between(nodes[place - 1], nodes[place + 1])
    return Reason(
        "chosen-again",
        f"Chosen so that every row {between} is within its limits; "
        "inserting levels at the largest deviation left rows beyond them.",
        _SOURCES[section.curves[0].name],
    )


def _farthest(section: Section, item: Insertion) -> Reason:
    between = section.between(item.lower, item.upper)
    if item.curve is None:
        return Reason(
            "level-between",
            f"A level is needed {between}: the next one would lie too far away.",
            "WMO-No. 306, 35.3.1.2 and 35.3.1.3",
        )
    unit = {"degC": "K", "degree": "degrees"}.get(
        COLUMNS[item.curve].unit, COLUMNS[item.curve].unit
    )
    word = _WORDS[item.curve]
    return Reason(
        f"largest-deviation-{word}",
        f"{word.capitalize()} is {item.misfit:.1f} {unit} off the straight line {between}, "
        f"limit {item.limit:.1f} {unit}.",
        _SOURCES[item.curve],
    )


def _unproved(section: Section, lower: int, upper: int) -> Diagnostic:
    bottom, top = section.coded_pressure[lower], section.coded_pressure[upper]
    rows = int(np.count_nonzero((section.pressure <= bottom) & (section.pressure >= top)))
    return diagnostic(
        "fewest-levels-unproved",
        f"B{section.between(lower, upper)[1:]} ({rows_counted(rows)}) too many rows cannot be "
        "brought within the limits to find the smallest set of levels; they were chosen by largest "
        "deviation there.",
    )
