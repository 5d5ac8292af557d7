"""Checks and repairs of one sounding as a whole."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, NamedTuple

from encoder.codes.account import Token
from encoder.codes.decode import decode_part
from encoder.diagnostics import diagnostic
from encoder.repair.candidates import one_figure_away
from encoder.repair.contradictions import ENDS_ALONE, other_misfits
from encoder.repair.figures import mend_figures
from encoder.repair.profile import profile_of
from encoder.repair.proposal import Confidence, Evidence, Repair, RepairKind, wanted
from encoder.repair.wind_unit import mend_wind_units

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from encoder.diagnostics import Diagnostic
    from encoder.repair.contradictions import Misfit
    from encoder.repair.profile import Key, SoundingProfile
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
        if any(item.code == "height-inconsistent" for item in members[0].decoded.diagnostics):
            # what is left is told at the heights
            mend_figures(members, text, mode, _profile(members, winds=True))
        return ()
    _mend_surfaces(members, text, mode)
    doubts = mend_wind_units(members, text, mode)
    units = {item.content.identification.get("wind_unit") for item in members}
    winds = not doubts or len(units) == 1
    profile = _profile(members, winds=winds)
    left, mended = mend_figures(members, text, mode, profile)
    if mended:
        profile = _profile(members, winds=winds)
    left = [*left, *other_misfits(profile)]
    return (
        *doubts,
        *(_told(item, members) for item in left if item.code != ENDS_ALONE),
        *_facts_that_differ(members),
        *_surfaces_that_differ(members),
    )


def _profile(members: Sequence[Received], *, winds: bool) -> SoundingProfile:
    """Return the profile of the parts; without winds where their units are doubtful."""
    profile = profile_of([item.content for item in members])
    if not winds:
        profile.standard_winds.clear()
        profile.other_winds.clear()
    return profile


def _told(misfit: Misfit, members: Sequence[Received]) -> Diagnostic:
    levels = " to ".join(f"{pressure:g}" for pressure in misfit.pressures)
    what = {
        "thickness-misfit": f"The layer {levels} hPa is thicker by {misfit.amount:.0f} gpm by its "
        f"heights than by its temperatures (limit {misfit.limit:.0f} gpm).",
        "temperature-misfit": f"The temperature at {levels} hPa is {misfit.amount:.1f} K off the "
        f"line between the significant levels (limit {misfit.limit:.1f} K).",
        "humidity-misfit": f"The humidity at {levels} hPa is {misfit.amount:.0f} % off the line "
        f"between the significant levels (limit {misfit.limit:.0f} %).",
        "wind-misfit": f"The wind at {levels} hPa is {misfit.amount:.1f} m/s off the line between "
        f"the significant levels (limit {misfit.limit:.1f} m/s).",
        "lapse-rate-impossible": f"The temperature falls from {levels} hPa by {-misfit.amount:.1f} "
        f"K more than that of dry air (limit {misfit.limit:.1f} K).",
    }[misfit.code]
    if misfit.unusual:
        what = f"{what.removesuffix(').')} by the rest of the report)."
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


class _Said(NamedTuple):
    """A value that several parts or sections give, and where one of them does."""

    value: object
    letters: str
    section: str
    span: tuple[int, int]
    text: str = ""


def _facts_that_differ(members: Sequence[Received]) -> Iterator[Diagnostic]:
    """Yield the values of section 7 that are not those of most parts."""
    found: dict[str, list[_Said]] = {}
    for item in members:
        for entry in item.decoded.trace:
            if entry.section != "7":
                continue
            for name, value in entry.values.items():
                if name in _FACTS and value is not None:
                    said = _Said(value, item.letters, "7", entry.span)
                    found.setdefault(name, []).append(said)
    for name, given in found.items():
        for odd, other in _odd(given):
            yield diagnostic(
                "parts-disagree",
                f"{name} is {odd.value} in {odd.letters} and {other.value} in {other.letters}.",
                span=odd.span,
                path=(odd.letters, "7", name),
                value=str(odd.value),
                expected=str(other.value),
            )


def _surfaces_that_differ(members: Sequence[Received]) -> Iterator[Diagnostic]:
    """Yield the surface pressures that are not those of most sections."""
    for odd, other in _odd(_surfaces(members)):
        yield diagnostic(
            "parts-disagree",
            f"The surface pressure is {odd.value:g} hPa in {odd.letters} section {odd.section} and "
            f"{other.value:g} hPa in {other.letters} section {other.section}.",
            span=odd.span,
            path=(odd.letters, odd.section, f"{odd.value:g} hPa"),
            value=f"{odd.value:g}",
            expected=f"{other.value:g}",
        )


def _surfaces(members: Sequence[Received]) -> list[_Said]:
    """Return the surface pressure of every section that gives one."""
    given: list[_Said] = []
    for item in members:
        for section in item.content.sections:
            for place, record in enumerate(section.records):
                pressure = record.get("air_pressure")
                if record.kind != "surface" or not isinstance(pressure, float):
                    continue
                entry = next(
                    entry
                    for entry in item.decoded.trace
                    if (entry.section, entry.record) == (section.number, place)
                )
                said = _Said(pressure, item.letters, section.number, entry.span, entry.text)
                given.append(said)
    return given


def _mend_surfaces(members: Sequence[Received], text: str, mode: RepairMode) -> None:
    """Propose the surface pressure of most sections where one differs by a figure."""
    given = _surfaces(members)
    for odd, other in _odd(given):
        others = sum(item.value == other.value for item in given)
        group = odd.text[:2] + other.text[2:]
        if others < 2 or group not in one_figure_away(odd.text, 2):
            continue
        item = next(item for item in members if item.letters == odd.letters)
        applied = wanted(Confidence.SAFE, mode)
        evidence = Evidence(
            f"surface pressure against {others} other sections",
            float(str(odd.value)) - float(str(other.value)),
            0.0,
            "hPa",
            0.0,
        )
        item.repairs.append(
            Repair(
                RepairKind.PRESSURE,
                odd.span,
                text[odd.span[0] : odd.span[1]],
                group,
                Confidence.SAFE,
                item.letters,
                (evidence,),
                applied,
            )
        )
        if applied:
            item.tokens = [
                Token(group, token.start, token.end) if token.start == odd.span[0] else token
                for token in item.tokens
            ]
            item.decoded = decode_part(item.tokens, item.declared, item.content.form)


def _odd(given: Sequence[_Said]) -> Iterator[tuple[_Said, _Said]]:
    """Yield what differs from what most say, with one of those; all of them where none leads."""
    counts = Counter(item.value for item in given)
    if len(counts) < 2:
        return
    (first, most), (_second, next_most) = counts.most_common(2)
    for item in given:
        if most > next_most and item.value == first:
            continue
        yield (
            item,
            next(
                other
                for other in given
                if other.value != item.value and (most == next_most or other.value == first)
            ),
        )
