"""How the parts of one sounding meet, and what becomes of copies and corrections."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from encoder.codes.account import CORRECTION
from encoder.codes.elements import number
from encoder.diagnostics import Diagnostic, Severity, diagnostic, excerpt

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from encoder.codes.account import Token
    from encoder.codes.content import PartContent
    from encoder.codes.declare import Part
    from encoder.codes.decode import DecodedPart
    from encoder.repair.proposal import Repair
    from encoder.repair.rhythm import Mended
    from encoder.trace import TraceEntry

_MONTH = ("month", "year_figures")
_PLACE = ("station", "call_sign", "latitude", "longitude")
_SAME_SOUNDING = (*_PLACE, "day", "hour", *_MONTH)
"""What the parts of one sounding have in common."""
_CORRECTION = re.compile(r"\bCC[A-Z]\b")
"""BBB of a corrected bulletin (WMO-No. 386, Part II, 2.3.2)."""
_CORRECTED_GROUPS = ("10181", "10182", "10183", "10184")
"""Groups of section 9 that announce a correction (Region IV, from memory)."""


@dataclass(slots=True)
class Received:
    """One part as received and as read.

    Attributes
    ----------
    letters, text, span
        As in a part of a report.
    heading : str or None
        Abbreviated heading it stands under.
    tokens : list of Token
        Groups as read.
    declared : Part
    decoded : DecodedPart
    found : list of Diagnostic
        What was found before the groups were read.
    repairs : list of Repair
        Made and proposed.
    """

    letters: str
    text: str
    span: tuple[int, int]
    heading: str | None
    tokens: list[Token]
    declared: Part
    decoded: DecodedPart
    found: list[Diagnostic] = field(default_factory=list)
    repairs: list[Repair] = field(default_factory=list)

    @property
    def content(self) -> PartContent:
        """What the part says."""
        return self.decoded.content

    @property
    def doubtful(self) -> bool:
        """Whether anything but a note was found in the groups."""
        return any(item.severity is not Severity.NOTE for item in self.decoded.diagnostics)

    def take(self, mended: Mended) -> None:
        """Take over the reading with repairs."""
        self.tokens, self.decoded = mended.tokens, mended.decoded
        self.repairs.extend(mended.repairs)

    def findings(self) -> Iterator[Diagnostic]:
        """Yield what was found in the part."""
        yield from self.found
        yield from self.decoded.diagnostics

    def trace(self, text: str) -> Iterator[TraceEntry]:
        """Yield the groups as read; repaired ones carry what was received."""
        made = [item for item in self.repairs if item.applied]
        begin = self.span[0]
        shared = any(token.start == token.end for token in self.tokens[:1])
        if not (made or shared):
            yield from self.decoded.trace
            return
        for entry in self.decoded.trace:
            first, last = entry.span
            if first == last == begin:
                continue
            if made and any(item.span[0] <= first and last <= item.span[1] for item in made):
                whole = [item.original for item in made if item.proposed == entry.text]
                received = whole[0] if whole else text[first:last]
                yield entry if received == entry.text else replace(entry, original=received)
            else:
                yield entry

    @property
    def corrected(self) -> bool:
        """Whether it is sent as a correction of an earlier one."""
        if self.heading is not None and _CORRECTION.search(self.heading[18:]):
            return True
        groups = {token.text for token in self.tokens}
        # a repair may have taken the word away
        announced = CORRECTION in groups or CORRECTION in self.text.upper().split()
        return announced or not groups.isdisjoint(_CORRECTED_GROUPS)

    @property
    def release(self) -> tuple[float, float] | None:
        """Hour and minute of release in section 7, None where not said."""
        for record in self.content.records("7"):
            hour, minute = number(record.get("release_hour")), number(record.get("release_minute"))
            if hour is not None and minute is not None:
                return hour, minute
        return None

    def better_than(self, copy: Received) -> bool:
        """Tell whether this is the better of two copies, neither of them a correction.

        Any report is better than NIL, and of two reports the one with fewer faults.
        """
        if copy.corrected or self.content.nil != copy.content.nil:
            return not copy.corrected and copy.content.nil
        return self._faults < copy._faults

    @property
    def _faults(self) -> int:
        return sum(item.severity is not Severity.NOTE for item in self.decoded.diagnostics)

    @property
    def words(self) -> list[str]:
        """Groups as read, for comparison."""
        return [token.text for token in self.tokens if token.text != CORRECTION]


def meet(
    received: Sequence[Received],
) -> tuple[list[list[Received]], tuple[Diagnostic, ...]]:
    """Put the parts of each sounding together.

    Parameters
    ----------
    received : sequence of Received
        In the order of the text.

    Returns
    -------
    soundings : list of list of Received
        One list a sounding, each letter once.
    diagnostics : tuple of Diagnostic
        Copies that were dropped, corrections that were used, times that differ.

    Notes
    -----
    Parts belong together when form, place and nominal time agree (where a form names none of them,
    when they are word for word the same); a second release at one nominal
    time, told by 8GGgg, is a sounding of its own. Of copies a corrected one is used before the
    first, and the last correction before earlier ones (WMO-No. 386, Part II, 2.3.2); of others the
    one that is not NIL, and then the one with fewer faults. A part whose
    nominal time differs by an hour joins the parts with the same release.
    """
    soundings: dict[tuple[object, ...], list[Received]] = {}
    told: list[Diagnostic] = []
    for item in received:
        said = item.content.identification
        named = any(name in said for name in _SAME_SOUNDING)
        who = [said.get(name) for name in _SAME_SOUNDING] if named else item.words
        key = (item.content.form, *who)
        members = soundings.setdefault(key, [])
        copy = _copy_of(item, members)
        if copy is not None and _other_release(item, copy):
            members = soundings.setdefault((*key, item.release), [])
            copy = _copy_of(item, members)
        if copy is None:
            members.append(item)
            continue
        used = item.words != copy.words and (item.corrected or item.better_than(copy))
        told.append(_told_of_copy(copy, item, used=used))
        if used:
            members[members.index(copy)] = item
    joined = _joined(list(soundings.values()), told)
    if len(joined) > 1:
        told.extend(_apart(joined))
    return joined, tuple(told)


def _copy_of(item: Received, members: Sequence[Received]) -> Received | None:
    letter = item.content.letter
    return next((other for other in members if other.content.letter == letter), None)


def _other_release(item: Received, copy: Received) -> bool:
    mine, its = item.release, copy.release
    return mine is not None and its is not None and mine != its and not item.corrected


def _told_of_copy(copy: Received, item: Received, *, used: bool) -> Diagnostic:
    """Tell of the one of two copies that is not used, at its place: no group of it is read."""
    letters = item.letters
    at = f"the one at character {item.span[0]}"
    if item.words == copy.words:
        code, message = "copy-dropped", f"{letters} of this sounding was received again."
    elif item.corrected:
        code, message = "copy-replaced", f"Replaced by the corrected {letters}, {at}."
    else:
        code, message = "part-twice", f"{letters} of this sounding occurs again; "
        why = "is not NIL" if copy.content.nil else "has fewer faults"
        message += f"{at} is used, which {why}." if used else "the first one is used."
    span, text = (copy.span, copy.text) if used else (item.span, item.text)
    return diagnostic(code, message, span=span, path=(letters,), value=excerpt(text))


def _joined(soundings: list[list[Received]], told: list[Diagnostic]) -> list[list[Received]]:
    """Join parts of one release whose nominal times are an hour apart."""
    kept: list[list[Received]] = []
    for members in soundings:
        host = next((other for other in kept if _same_release(other, members)), None)
        if host is None:
            kept.append(members)
            continue
        said = members[0].content.identification
        told.append(
            diagnostic(
                "parts-times-differ",
                f"{', '.join(item.letters for item in members)} of day {said.get('day')} "
                f"{said.get('hour')} UTC has the release time of the parts of day "
                f"{host[0].content.identification.get('day')} "
                f"{host[0].content.identification.get('hour')} UTC.",
                span=members[0].span,
                path=tuple(item.letters for item in members),
            )
        )
        host.extend(members)
    return kept


def _same_release(first: Sequence[Received], second: Sequence[Received]) -> bool:
    """Tell whether two groups of parts are of one release, with nominal times an hour apart."""
    one, other = first[0], second[0]
    said, its = one.content.identification, other.content.identification
    if one.content.form != other.content.form:
        return False
    if any(said.get(name) != its.get(name) for name in (*_PLACE, *_MONTH)):
        return False
    if {item.content.letter for item in first} & {item.content.letter for item in second}:
        return False
    release = {item.release for item in (*first, *second)}
    hours = [
        number(value) for found in (said, its) for value in (found.get("day"), found.get("hour"))
    ]
    if len(release) != 1 or None in release or None in hours:
        return False
    days, clock = (hours[2] or 0) - (hours[0] or 0), (hours[3] or 0) - (hours[1] or 0)
    # the day after the last of a month is the first: 27 to 30 days back
    return any(abs(24 * step + clock) == 1 for step in {days, *_turn_of_month(days)})


def _turn_of_month(days: float) -> tuple[float, ...]:
    if days <= -27:
        return (1,)
    return (-1,) if days >= 27 else ()


def _apart(soundings: Sequence[Sequence[Received]]) -> Iterator[Diagnostic]:
    """Yield parts that may belong to others: one figure of their time or station is different.

    Only where both lack what the other has, and none of the others is of the same name.
    """
    for place, members in enumerate(soundings):
        mine = {item.content.letter for item in members}
        if "A" in mine:
            continue
        near = [
            other
            for other in (*soundings[max(place - 1, 0) : place], *soundings[place + 1 : place + 2])
            if mine.isdisjoint(item.content.letter for item in other)
            and other[0].content.form == members[0].content.form
        ]
        for other in near:
            differ = _one_figure_apart(members[0], other[0])
            if differ is None:
                continue
            letters = ", ".join(item.letters for item in members)
            own, its = differ
            yield from (
                diagnostic(
                    "part-apart",
                    f"{letters} with {own} may belong to {other[0].letters} with {its}.",
                    span=item.span,
                    path=(item.letters, "1"),
                    value=own,
                    expected=its,
                )
                for item in members
            )
            break


def _one_figure_apart(item: Received, other: Received) -> tuple[str, str] | None:
    """Return the groups of time or station that differ, if only one does and by one figure."""
    mine, its = (
        [
            entry.text if "IIiii" in entry.symbol else entry.text[:4]
            for entry in received.decoded.trace
            if entry.section == "1" and entry.symbol.startswith(("YYGG", "IIiii"))
        ]
        for received in (item, other)
    )
    known = (*item.content.identification.values(), *other.content.identification.values())
    if None in known:
        return None  # told before
    pairs = [(own, whole) for own, whole in zip(mine, its, strict=False) if own != whole]
    if len(mine) != 2 or len(its) != 2 or len(pairs) != 1:
        return None
    own, whole = pairs[0]
    places = [at for at, (a, b) in enumerate(zip(own, whole, strict=False)) if a != b]
    turned = (
        len(places) == 2
        and places[1] == places[0] + 1
        and own[places[0]] == whole[places[1]]
        and own[places[1]] == whole[places[0]]
    )
    return (own, whole) if len(own) == len(whole) and (len(places) == 1 or turned) else None
