"""Comparing the flags, times and wind shear of the levels of a message with the flight."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import diagnostic
from encoder.formats.bufr.rows import completed_kinds, wind_kinds
from encoder.formats.bufr.sounding import level_block, shear_block
from encoder.levels.table import KIND_WORDS, LevelKind
from encoder.verify.agreement import SLACK, Disagreement, Tally

if TYPE_CHECKING:
    from encoder.formats.bufr.sounding import BufrSounding
    from encoder.formats.bufr.subset import Block
    from encoder.levels.table import Levels
    from encoder.profile import FloatArray, IntArray, Profile

FIXED = int(LevelKind.SURFACE | LevelKind.STANDARD | LevelKind.TROPOPAUSE | LevelKind.MAXIMUM_WIND)
"""Kinds that do not depend on how significant levels are chosen."""
_SHOWN = 3
_PAIR = "flight and BUFR"


def compare_flags(
    sounding: BufrSounding, selected: Levels, tally: Tally, *, by_height: bool
) -> None:
    """Compare the kinds of every level with those selected from the flight.

    Parameters
    ----------
    sounding : BufrSounding
    selected : Levels
        From :func:`encoder.levels.select_levels` on the flight.
    tally : Tally
        A surface, standard level, tropopause or maximum wind too many is an error; significant
        levels that differ are a warning, because they depend on the way of selection.
    by_height : bool
        Whether height orders the levels.
    """
    levels = sounding.levels
    place = "geopotential_height" if by_height else "air_pressure"
    step = levels.attributes.get("precision", {}).get(place)
    if step is None:
        return
    expected = _expected_kinds(sounding, selected, place, step / 2.0 + SLACK)
    given = levels.kinds
    tally.compared[_PAIR] = tally.compared.get(_PAIR, 0) + len(levels)
    wrong = np.flatnonzero(given & ~expected & FIXED)
    for index in wrong:
        tally.value(
            Disagreement(
                _PAIR,
                float(levels["air_pressure"][index]),
                "kinds",
                _words(int(expected[index])),
                _words(int(given[index])),
                float("nan"),
                0.0,
            )
        )
    other = np.flatnonzero((given ^ expected) & ~FIXED)
    if len(other):
        shown = "; ".join(
            f"{levels[place][index]:g}: flight {_words(int(expected[index]))}, message "
            f"{_words(int(given[index]))}"
            for index in other[:_SHOWN]
        )
        tally.found.append(
            diagnostic(
                "bufr-flags-unlike-flight",
                f"{len(other)} levels are flagged otherwise than selected: {shown}.",
                value=str(len(other)),
            )
        )


def _expected_kinds(sounding: BufrSounding, selected: Levels, place: str, half: float) -> IntArray:
    """Return the kinds each level of the message has in the flight."""
    levels = sounding.levels
    kinds = completed_kinds(selected.kinds)
    if "air_temperature" not in levels.attributes.get("precision", {}):
        kinds = wind_kinds(kinds, selected["air_pressure"])
    expected = np.zeros(len(levels), np.int64)
    for index in np.flatnonzero(kinds):
        near = np.abs(levels[place] - selected[place][index]) <= half
        candidates = np.flatnonzero(near)
        if len(candidates) > 1 and np.isfinite(selected["time"][index]):
            apart = np.abs(levels["time"][candidates] - selected["time"][index])
            closest = candidates[apart <= np.nanmin(apart) + 0.5]
            flagged = closest[levels.kinds[closest] != 0]
            candidates = flagged[:1] if len(flagged) else closest[:1]
        expected[candidates] |= kinds[index]
    return expected


def _words(kinds: int) -> str:
    return ", ".join(word for kind, word in KIND_WORDS.items() if kinds & kind) or "none"


def compare_shear(sounding: BufrSounding, selected: Levels | None, tally: Tally) -> None:
    """Compare the levels with wind shear with the flight, and with the levels they repeat.

    Parameters
    ----------
    sounding : BufrSounding
    selected : Levels or None
    tally : Tally
    """
    block, shear = level_block(sounding.plain), shear_block(sounding.plain)
    if shear is None or block is None:
        return
    lost = [row for row in range(len(shear)) if not _repeats(shear.values[row], shear, block)]
    for row in lost:
        tally.found.append(
            diagnostic(
                "bufr-unlike-flight",
                f"Wind shear level {row + 1} repeats no level of the message: time, pressure, "
                "position or kind differ.",
                path=("wind shear", row + 1),
            )
        )
    if selected is None:
        return
    levels = sounding.levels
    by_height = bool(np.all(np.isnan(levels["air_pressure"])))
    place, reach = ("geopotential_height", 0.5) if by_height else ("air_pressure", 0.05)
    upward = levels[place] if by_height else -levels[place]
    top = float(np.nanmax(upward, initial=-np.inf))
    for name in ("wind_shear_below", "wind_shear_above"):
        for index in np.flatnonzero(np.isfinite(selected[name])):
            at = float(selected[place][index])
            if not (at if by_height else -at) <= top + reach:
                continue
            near = np.abs(levels[place] - at) <= reach + SLACK
            near &= np.isfinite(levels[name])
            said = float(levels[name][near][0]) if np.any(near) else None
            wanted = float(selected[name][index])
            off = float("nan") if said is None else abs(said - wanted)
            pressure = float(selected["air_pressure"][index])
            tally.value(Disagreement(_PAIR, pressure, name, wanted, said, off, 0.05))


def _repeats(row: FloatArray, shear: Block, levels: Block) -> bool:
    """Tell whether a level with shear is one of the levels, as far as both say."""
    same = np.ones(len(levels), np.bool_)
    for fxy, slack in (("004086", 0.0), ("005015", 0.0), ("006015", 0.0), ("007004", 5.0)):
        values = levels.column(fxy)
        if values is None or fxy not in shear.fxys:
            continue
        value = row[shear.fxys.index(fxy)]
        both = np.isnan(values) & np.isnan(value)
        same &= both | (np.abs(values - value) <= slack + SLACK)
    flags, own = levels.column("008042"), row[shear.fxys.index("008042")]
    if flags is not None and np.isfinite(own):
        bits = np.where(np.isnan(flags), 0.0, flags).astype(np.int64)
        same &= ((int(own) & ~bits) == 0) & ((int(own) != 0) | (bits == 0))
    return bool(np.any(same))


def compare_times(
    sounding: BufrSounding, rows: Profile, selected: Levels | None, tally: Tally, *, start: float
) -> None:
    """Compare the time of every level with that of the flight at its pressure.

    Parameters
    ----------
    sounding : BufrSounding
    rows : Profile
        Ascent, or descent.
    selected : Levels or None
    tally : Tally
    start : float
        Time of the rows, in s, from which the message counts.
    """
    levels = sounding.levels
    half = levels.attributes.get("precision", {}).get("air_pressure")
    if half is None or "time" not in levels.attributes.get("precision", {}):
        return
    order = np.argsort(-rows["air_pressure"], kind="stable")
    pressure, time = rows["air_pressure"][order], rows["time"][order] - start
    falling = -pressure
    for index in np.flatnonzero(np.isfinite(levels["air_pressure"])):
        at, said = float(levels["air_pressure"][index]), float(levels["time"][index])
        if at > pressure[0] + half:
            if np.isfinite(said):  # below the ground: time 0, or none
                tally.value(Disagreement(_PAIR, at, "time", 0.0, said, abs(said), 0.5))
            continue
        if at < pressure[-1] - half:
            continue
        reach = half / 2.0 + SLACK
        first, last = np.searchsorted(falling, [-(at + reach), -(at - reach)])
        times = [*time[first:last].tolist()]
        if selected is not None:
            near = np.abs(selected["air_pressure"] - at) <= reach
            times += selected["time"][near & np.isfinite(selected["time"])].tolist()
        if not times:
            logs = -np.log(np.array([at + reach, at - reach]))
            times = np.interp(logs, -np.log(pressure), time).tolist()
        if np.isnan(said):
            tally.value(Disagreement(_PAIR, at, "time", times[0], None, float("nan"), 0.5))
            continue
        off = max(min(times) - said, said - max(times), 0.0)
        nearest = min(times, key=lambda one: abs(one - said))
        tally.value(Disagreement(_PAIR, at, "time", nearest, said, off, 0.5))
