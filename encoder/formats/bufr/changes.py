"""What a corrected BUFR message says otherwise than the one sent earlier."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.bulletin.correct import Change
from encoder.diagnostics import Result, diagnostic
from encoder.formats.bufr.elements import ELEMENTS
from encoder.formats.bufr.sounding import level_block, shear_block

if TYPE_CHECKING:
    from collections.abc import Iterator

    from encoder.codes.declare import Value
    from encoder.formats.bufr.sounding import BufrSounding
    from encoder.formats.bufr.subset import Block, Subset

PART = "BUFR"
_PLACES = ("007004", "007009", "004086")
_Key = tuple[float | None, ...]


def message_changes(earlier: BufrSounding, later: BufrSounding) -> Result[tuple[Change, ...]]:
    """Return every value that a later message of a sounding gives differently.

    Parameters
    ----------
    earlier, later : BufrSounding

    Returns
    -------
    Result of tuple of Change
        In the order of the later message; levels are those of the same pressure (or height) and
        time. "correction-of-another" where station or nominal time differ,
        "correction-changes-nothing" where all values are the same.
    """
    found = [
        diagnostic(
            "correction-of-another",
            f"The {name} was {before} and is {after} now.",
            value=str(after),
            expected=str(before),
        )
        for name, before, after in (
            ("station", earlier.station, later.station),
            ("nominal time", earlier.nominal_time, later.nominal_time),
        )
        if before != after
    ]
    changes = [*_facts(earlier.plain, later.plain)]
    for name, own in (("level", level_block), ("wind shear", shear_block)):
        changes += _levels(name, own(earlier.plain), own(later.plain))
    if not changes:
        found.append(
            diagnostic(
                "correction-changes-nothing", "The BUFR messages were compared; all is the same."
            )
        )
    return Result(tuple(changes), tuple(found))


def _facts(earlier: Subset, later: Subset) -> Iterator[Change]:
    before, after = _values(earlier), _values(later)
    for fxy in dict.fromkeys((*after, *before)):
        old, new = before.get(fxy, ()), after.get(fxy, ())
        for turn in range(max(len(old), len(new))):
            was = old[turn] if turn < len(old) else "absent"
            now = new[turn] if turn < len(new) else "absent"
            if was != now:
                yield Change(PART, "", "fact", "", _name(fxy), was, now)


def _values(subset: Subset) -> dict[str, list[Value]]:
    values: dict[str, list[Value]] = {}
    for item in subset.items():
        values.setdefault(item.fxy, []).append(item.value)
    return values


def _name(fxy: str) -> str:
    element = ELEMENTS.get(fxy)
    return fxy if element is None else element.name


def _levels(name: str, earlier: Block | None, later: Block | None) -> Iterator[Change]:
    old = {} if earlier is None else _keyed(earlier)
    new = {} if later is None else _keyed(later)
    for key, row in new.items():
        place = _place(key)
        if earlier is None or later is None or key not in old:
            yield Change(PART, "", name, place, "", "absent", "reported")
            continue
        before, after = earlier.values[old[key]], later.values[row]
        for fxy in dict.fromkeys((*later.fxys, *earlier.fxys)):
            was = before[earlier.fxys.index(fxy)] if fxy in earlier.fxys else np.nan
            now = after[later.fxys.index(fxy)] if fxy in later.fxys else np.nan
            if not (was == now or (np.isnan(was) and np.isnan(now))):
                yield Change(PART, "", name, place, _name(fxy), _known(was), _known(now))
    for key in old:
        if key not in new:
            yield Change(PART, "", name, _place(key), "", "reported", "absent")


def _keyed(block: Block) -> dict[_Key, int]:
    columns = [block.fxys.index(fxy) for fxy in _PLACES if fxy in block.fxys]
    table: dict[_Key, int] = {}
    for row in range(len(block)):
        key: _Key = tuple(_known(value) for value in block.values[row, columns].tolist())
        table[key if key not in table else (*key, float(row))] = row
    return table


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def _place(key: _Key) -> str:
    return " ".join("-" if value is None else f"{value:g}" for value in key)
