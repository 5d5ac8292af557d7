"""The two-way trace of a page: every group with its level, rows and rules, every level with all.

The trace of a decoded report knows which level a group belongs to; the trace of the report made
from the flight knows rows and rules. Joined here by what the groups say and where they stand.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from encoder.levels.altitudes import step_of_altitudes
from encoder.levels.table import LevelKind, Reason
from encoder.report import practice_of
from encoder.report.arrange_pilot import UNITS_ELSEWHERE, UNITS_REGION_IV
from encoder.report.explain import explain
from encoder.resolution import coded_pressure
from encoder.rounding import whole

if TYPE_CHECKING:
    from encoder.diagnostics import Diagnostic
    from encoder.page.review import Review
    from encoder.profile import IntArray, Profile
    from encoder.report.explain import GroupExplained
    from encoder.trace import Trace


SAME_HEIGHT = 5.01
"""m: a maximum wind is coded to tens of metres."""


@dataclass(frozen=True, slots=True)
class GroupLinks:
    """One group of the report and everything it is linked to.

    Attributes
    ----------
    explained : GroupExplained
        Figures with their meaning; its span counts in the text of the report.
    level : int or None
        Index in the decoded level table.
    rows : tuple of int
        Lines of the profile file (0 is the surface observation).
    rules : tuple of str
        Rules that chose the level.
    diagnostics : tuple of int
        Positions in the diagnostics of the sounding.
    """

    explained: GroupExplained
    level: int | None
    rows: tuple[int, ...]
    rules: tuple[str, ...]
    diagnostics: tuple[int, ...]


@dataclass(slots=True)
class LevelLinks:
    """One decoded level and everything it is linked to.

    Attributes
    ----------
    groups : list of int
        Positions of the groups that carry it, in all parts.
    rows : list of int
        Lines of the profile file.
    reasons : list of Reason
        Why it was chosen; empty where the report alone is known.
    selected : int or None
        Index of the level before coding, the first one where two fall together.
    diagnostics : list of int
        Positions in the diagnostics of the sounding.
    """

    groups: list[int] = field(default_factory=list)
    rows: list[int] = field(default_factory=list)
    reasons: list[Reason] = field(default_factory=list)
    selected: int | None = None
    diagnostics: list[int] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Links:
    """The joined trace.

    Attributes
    ----------
    groups : tuple of GroupLinks
        In the order of the report.
    levels : tuple of LevelLinks
        In the order of the decoded level table.
    loose : tuple of int
        Positions of diagnostics that stand in no group of the report.
    """

    groups: tuple[GroupLinks, ...]
    levels: tuple[LevelLinks, ...]
    loose: tuple[int, ...]


REGION_IV = 4
"""WMO Region whose altitudes of winds are thousands of feet."""


def join_links(review: Review) -> Links:
    """Return the joined trace of a sounding.

    Parameters
    ----------
    review : Review

    Returns
    -------
    Links
        A level that encoding the flight does not give has the rows of the flight with the same
        coded pressure and no reasons.
    """
    levels = [LevelLinks() for _ in range(len(review.report.levels))]
    _join_selected(review, levels)
    explained = explain(review.report)
    placed: set[int] = set()
    groups = []
    for position, group in enumerate(explained):
        level = group.level
        found = _standing_in(group, review.diagnostics)
        placed.update(found)
        rows: tuple[int, ...] = ()
        rules: tuple[str, ...] = ()
        if level is not None:
            levels[level].groups.append(position)
            levels[level].diagnostics.extend(
                item for item in found if item not in levels[level].diagnostics
            )
            rows = tuple(levels[level].rows)
            rules = tuple(dict.fromkeys(reason.rule for reason in levels[level].reasons))
        groups.append(GroupLinks(group, level, rows, rules, tuple(found)))
    for position, item in enumerate(review.diagnostics):
        at = level_of_path(review, item)
        if at is not None and position not in levels[at].diagnostics:
            levels[at].diagnostics.append(position)
    loose = tuple(i for i in range(len(review.diagnostics)) if i not in placed)
    return Links(tuple(groups), tuple(levels), loose)


def _join_selected(review: Review, levels: list[LevelLinks]) -> None:
    """Fill rows and reasons from the levels of the flight that have the same coded pressure."""
    flight, selected = review.flight, review.selected
    if flight is None or selected is None:
        return
    coded = coded_pressure(selected["air_pressure"])
    by_height = flight.ascent.by_height
    surface = (selected.kinds & int(LevelKind.SURFACE)) != 0
    decoded = review.report.levels
    ascent = coded_pressure(flight.ascent["air_pressure"])
    shared = {} if review.made is None else _by_trace(review.made.trace, review)
    for index, links in enumerate(levels):
        ground = bool(decoded.kinds[index] & int(LevelKind.SURFACE))
        apart = np.abs(coded - decoded["air_pressure"][index]) < 1e-6
        if by_height:
            off = np.abs(selected["geopotential_height"] - decoded["geopotential_height"][index])
            apart = (off < SAME_HEIGHT) | (surface & ground)
        same = np.flatnonzero(apart & (surface == ground))
        mine = list(dict.fromkeys([*shared.get(index, []), *(int(i) for i in same)]))
        for one in mine:
            rows = [int(flight.ascent.source_row[row]) for row in selected.rows[one]]
            links.rows.extend(row for row in rows if row not in links.rows)
            links.reasons.extend(
                reason for reason in selected.reasons[one] if reason not in links.reasons
            )
        links.selected = mine[0] if mine else None
        if not mine:
            at = np.flatnonzero(np.abs(ascent - decoded["air_pressure"][index]) < 1e-6)
            if by_height:
                height = float(decoded["geopotential_height"][index])
                at = _rows_around(flight.ascent, height)
                links.reasons.extend(_fixed_altitude(review, height))
            links.rows.extend(int(flight.ascent.source_row[row]) for row in at)


def _fixed_altitude(review: Review, height: float) -> tuple[Reason, ...]:
    """Return why a wind stands at a height that is no level of the flight."""
    region = None if review.flight is None else review.flight.station.wmo_region
    fixed = UNITS_REGION_IV if region == REGION_IV else UNITS_ELSEWHERE
    step = step_of_altitudes(region, practice_of(review.report).step)
    if np.isnan(height) or whole(height / step) not in fixed:
        return ()
    source = "common practice, no source"
    if region == REGION_IV:
        source = "reports of stations of Region IV; above 50,000 feet from memory"
    words = f"The wind is reported at {height:g} m, one of the fixed altitudes."
    return (Reason("fixed-altitude", words, source),)


def _rows_around(ascent: Profile, height: float) -> IntArray:
    """Return the rows just below and above a height, the one where it is that of a row."""
    heights = ascent["geopotential_height"]
    if not heights[0] <= height <= heights[-1]:
        return np.empty(0, dtype=np.int64)
    above = int(np.searchsorted(heights, height))
    exact = heights[above] == height or above == 0
    return np.array([above] if exact else [above - 1, above], dtype=np.int64)


def _by_trace(made: Trace, review: Review) -> dict[int, list[int]]:
    """Return, for each decoded level, the selected ones whose groups stand in the same record."""
    places = {
        (entry.part, entry.section, entry.record): entry.level
        for entry in made
        if entry.level is not None
    }
    texts = {(entry.part, entry.section, entry.record, entry.text) for entry in made}
    found: dict[int, list[int]] = {}
    for entry in review.report.trace:
        key = (entry.part, entry.section, entry.record)
        level = places.get(key)
        if entry.level is None or level is None or (*key, entry.text) not in texts:
            continue
        if not _near(review, entry.level, level):
            continue
        mine = found.setdefault(entry.level, [])
        if level not in mine:
            mine.append(level)
    return found


def _near(review: Review, decoded: int, selected: int) -> bool:
    """Tell whether two levels have the same coded pressure."""
    if review.selected is None:
        return False
    if review.flight is not None and review.flight.ascent.by_height:
        return True  # the same groups of the same report
    coded = coded_pressure(review.selected["air_pressure"][[selected]])
    return bool(abs(float(coded[0]) - float(review.report.levels["air_pressure"][decoded])) < 1.1)


def _standing_in(group: GroupExplained, diagnostics: tuple[Diagnostic, ...]) -> list[int]:
    begin, end = group.span
    return [
        position
        for position, item in enumerate(diagnostics)
        if item.span is not None
        and item.path[:1] in ((), (group.part,))
        and item.span[0] < end
        and item.span[1] > begin
    ]


def level_of_path(review: Review, item: Diagnostic) -> int | None:
    """Return the decoded level a diagnostic names by pressure or height, None where by neither."""
    for step in item.path:
        words = str(step).split(" ")
        known_unit = len(words) == 2 and words[1] in ("hPa", "m")
        if not known_unit or not words[0].replace(".", "", 1).isdigit():
            continue
        if words[1] == "m":
            off = np.abs(review.report.levels["geopotential_height"] - float(words[0]))
        else:
            off = np.abs(np.log(review.report.levels["air_pressure"] / max(float(words[0]), 0.01)))
        known = np.flatnonzero(np.isfinite(off))
        return int(known[np.argmin(off[known])]) if len(known) else None
    return None
