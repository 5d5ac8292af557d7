"""Checks and repairs of one sounding as a whole."""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.diagnostics import diagnostic
from encoder.repair.figures import mend_figures
from encoder.repair.wind_unit import mend_wind_units

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from encoder.diagnostics import Diagnostic
    from encoder.repair.contradictions import Misfit
    from encoder.repair.profile import Key
    from encoder.repair.proposal import RepairMode
    from encoder.report.meeting import Received

_FACTS = ("correction", "radiosonde_type", "tracking", "release_hour", "release_minute")
"""Values of section 7 that every part repeats."""
_SYMBOLS = {"height": "PPhhh", "heat": "TTTaDD", "wind": "ddfff"}


def mend_sounding(
    members: Sequence[Received], text: str, mode: RepairMode
) -> tuple[Diagnostic, ...]:
    """Check the values of a sounding against each other, and look for repairs.

    Parameters
    ----------
    members : sequence of Received
        Parts in the order A, B, C, D; those repaired are changed in place.
    text : str
        The received text.
    mode : {"none", "safe", "all"}

    Returns
    -------
    tuple of Diagnostic
        What contradicts each other in the end.
    """
    if len(members) == 1:
        return ()
    doubts = mend_wind_units(members, text, mode)
    units = {item.content.identification.get("wind_unit") for item in members}
    left = mend_figures(members, text, mode, winds=not doubts or len(units) == 1)
    return (
        *doubts,
        *(_told(item, members) for item in left),
        *_facts_that_differ(members),
        *_surfaces_that_differ(members),
    )


def _told(misfit: Misfit, members: Sequence[Received]) -> Diagnostic:
    levels = " to ".join(f"{pressure:g}" for pressure in misfit.pressures)
    what = {
        "thickness-misfit": f"The layer {levels} hPa is thicker by {misfit.amount:.0f} gpm by its "
        f"heights than by its temperatures (limit {misfit.limit:.0f} gpm).",
        "temperature-misfit": f"The temperature at {levels} hPa is {misfit.amount:.1f} K off the "
        f"line between the significant levels (limit {misfit.limit:.1f} K).",
        "wind-misfit": f"The wind at {levels} hPa is {misfit.amount:.1f} m/s off the line between "
        f"the significant levels (limit {misfit.limit:.1f} m/s).",
        "lapse-rate-impossible": f"The temperature falls from {levels} hPa by {-misfit.amount:.1f} "
        f"K more than that of dry air (limit {misfit.limit:.1f} K).",
    }[misfit.code]
    letters, span = _place(misfit.keys[0], members)
    named = [f"{pressure:g} hPa" for pressure in misfit.pressures]
    return diagnostic(
        misfit.code,
        what,
        span=span,
        path=(letters, misfit.keys[0][1], *named, _SYMBOLS[misfit.keys[0][3]]),
        value=f"{misfit.amount:.1f} {misfit.unit}",
        expected=f"within {misfit.limit:.1f} {misfit.unit}",
    )


def _place(key: Key, members: Sequence[Received]) -> tuple[str, tuple[int, int] | None]:
    item = members[key[0]]
    span = next(
        (
            entry.span
            for entry in item.decoded.trace
            if (entry.section, entry.record) == key[1:3] and entry.symbol == _SYMBOLS[key[3]]
        ),
        None,
    )
    return item.letters, span


def _facts_that_differ(members: Sequence[Received]) -> Iterator[Diagnostic]:
    """Yield the values of section 7 in which a part differs from the ones before."""
    known: dict[str, tuple[object, str]] = {}
    for item in members:
        for entry in item.decoded.trace:
            if entry.section != "7":
                continue
            for name, value in entry.values.items():
                if name not in _FACTS or value is None:
                    continue
                before, letters = known.setdefault(name, (value, item.letters))
                if before != value:
                    yield diagnostic(
                        "parts-disagree",
                        f"{name} is {before} in {letters} and {value} in {item.letters}.",
                        span=entry.span,
                        path=(item.letters, "7", name),
                        value=str(value),
                        expected=str(before),
                    )


def _surfaces_that_differ(members: Sequence[Received]) -> Iterator[Diagnostic]:
    """Yield the surface pressures in which a section differs from the one before."""
    known: tuple[float, str] | None = None
    for item in members:
        for section in item.content.sections:
            for place, record in enumerate(section.records):
                pressure = record.get("air_pressure")
                if record.kind != "surface" or not isinstance(pressure, float):
                    continue
                if known is None:
                    known = (pressure, item.letters)
                elif known[0] != pressure:
                    yield diagnostic(
                        "parts-disagree",
                        f"The surface pressure is {known[0]:g} hPa in {known[1]} and "
                        f"{pressure:g} hPa in {item.letters} section {section.number}.",
                        span=next(
                            entry.span
                            for entry in item.decoded.trace
                            if (entry.section, entry.record) == (section.number, place)
                        ),
                        path=(item.letters, section.number, f"{pressure:g} hPa"),
                        value=f"{pressure:g}",
                        expected=f"{known[0]:g}",
                    )
