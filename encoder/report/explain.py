"""The report in plain language, group by group, each figure with its meaning."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Any

from encoder.codes.account import CORRECTION
from encoder.codes.declare import Context
from encoder.codes.editions import edition
from encoder.report.explain_kept import explain_kept

if TYPE_CHECKING:
    from encoder.codes.declare import Group, Part, Section
    from encoder.report import PartReport, Report
    from encoder.report.explain_kept import KeptGroup
    from encoder.trace import TraceEntry

_DROP = "FM 37"


@dataclass(frozen=True, slots=True)
class FiguresExplained:
    """Some figures of a group and what they say.

    Attributes
    ----------
    text : str
        The figures.
    symbol : str
        Symbolic letters, for example ``"TTTa"``.
    table : str or None
        Code table.
    sentence : str
        What these very figures say.
    """

    text: str
    symbol: str
    table: str | None
    sentence: str


@dataclass(frozen=True, slots=True)
class GroupExplained:
    """One group and what it says.

    Attributes
    ----------
    part, section, section_title : str
    symbol, title : str
        Symbolic form and what such a group holds.
    text : str
        The group.
    span : tuple of int
        Its place in the text.
    level : int or None
        Index of its level.
    figures : tuple of FiguresExplained
    rows : tuple of int
        Lines of the profile file the level came from, where known.
    rules : tuple of str
        Rules that chose the level, where known.
    original : str or None
        The characters as received, where a repair read something else.
    """

    part: str
    section: str
    section_title: str
    symbol: str
    title: str
    text: str
    span: tuple[int, int]
    level: int | None
    figures: tuple[FiguresExplained, ...]
    rows: tuple[int, ...] = ()
    rules: tuple[str, ...] = ()
    original: str | None = None

    def as_json(self) -> dict[str, Any]:
        """Return a dictionary for JSON."""
        document = asdict(self)
        document["span"] = list(self.span)
        if self.original is None:
            del document["original"]
        return document

    @property
    def remark(self) -> str | None:
        """What was received where a repair was read, in words."""
        if self.original is None:
            return None
        received = " ".join(self.original.split())
        if not received:
            return "repaired: not received"
        return f"repaired: received as {received}"


def explain(report: Report) -> tuple[GroupExplained, ...]:
    """Explain every group of a report.

    Parameters
    ----------
    report : Report
        Encoded or decoded.

    Returns
    -------
    tuple of GroupExplained
        In the order of the trace.
    """
    form = edition(report.form, report.on)
    parts = {part.letters: part for part in form.parts}
    contexts = {part.letters: _context(part, parts[part.letters]) for part in report.parts}
    kept = _kept(report, contexts)
    return tuple(
        _explain(entry, parts[entry.part], contexts[entry.part], kept.get(place))
        for place, entry in enumerate(report.trace)
    )


def _kept(report: Report, contexts: dict[str, Context]) -> dict[int, KeptGroup]:
    """Return what is known of the groups kept as received, by their place in the trace."""
    found: dict[int, KeptGroup] = {}
    kept = [(place, one) for place, one in enumerate(report.trace) if one.symbol == "verbatim"]
    for (part, _section), own in groupby(kept, key=lambda item: (item[1].part, item[1].section)):
        entries = list(own)
        said = explain_kept(
            [entry.text for _place, entry in entries],
            wind_unit=contexts[part].wind_unit,
            drop=report.form == _DROP,
        )
        found.update(zip((place for place, _entry in entries), said, strict=True))
    return found


def _context(part: PartReport, declared: Part) -> Context:
    context = declared.context()
    said = part.content.identification
    context.wind_unit = "kt" if said.get("wind_unit") == "kt" else "m s-1"
    context.last_wind = str(said.get("last_wind") or "")
    return context


def find_group(part: Part, section: str, symbol: str) -> Group | None:
    """Return the declaration of a group, None where the section declares no such group."""
    declared = part.section(section)
    if declared is None:
        return None
    for record in declared.records:
        for use in record.uses:
            if use.group.symbol == symbol:
                return use.group
    return None


def _explain(
    entry: TraceEntry, part: Part, context: Context, kept: KeptGroup | None
) -> GroupExplained:
    section = part.section(entry.section)
    title = section.title if section else ""
    group = find_group(part, entry.section, entry.symbol)
    symbol = entry.symbol
    said: tuple[FiguresExplained, ...]
    if kept is not None:
        symbol, what = kept.symbol, kept.title
        said = tuple(FiguresExplained(*figures) for figures in kept.figures)
    elif (
        group is not None and group.look is not None and not group.other and group.fits(entry.text)
    ):
        sentence = group.figures[0].say(entry.text, entry.values, context)
        said, what = (_whole(entry, sentence),), group.title
    elif group is not None and (len(entry.text) == group.width or group.fits(entry.text)):
        figures, place = [], 0
        for piece in group.figures_of(entry.text):
            text = entry.text[place : place + piece.width]
            place += piece.width
            figures.append(
                FiguresExplained(text, piece.symbol, piece.table, _say(piece, text, entry, context))
            )
        said, what = tuple(figures), group.title
    elif group is not None:
        said, what = (_whole(entry, f"damaged: expected {group.symbol}"),), group.title
    else:
        sentence = _special(entry, section)
        said, what = (_whole(entry, sentence),), sentence
    return GroupExplained(
        entry.part,
        entry.section,
        title,
        symbol,
        what,
        entry.text,
        entry.span,
        entry.level,
        said,
        entry.rows,
        entry.rules,
        entry.original,
    )


def _say(piece: Any, text: str, entry: TraceEntry, context: Context) -> str:
    readable = text.isdigit() or not set(text) <= set("0123456789/")
    if not readable and set(text) != {"/"}:
        return "partly missing; read as missing"
    return str(piece.say(text, entry.values, context))


def _whole(entry: TraceEntry, sentence: str) -> FiguresExplained:
    return FiguresExplained(entry.text, entry.symbol, None, sentence)


def _special(entry: TraceEntry, section: Section | None) -> str:
    if entry.symbol == "NIL":
        return "no observation was made or none is available"
    if entry.symbol == CORRECTION:
        return "this part corrects one that was sent before"
    if entry.symbol == "unread":
        return "fits no section here; kept as received, not read"
    if section is not None:
        if entry.text == section.marker:
            return f"section {section.number} begins: {section.title}"
        if any(entry.text == record.none_group for record in section.records):
            return f"none: no {section.records[0].kind.replace('-', ' ')} in this part"
    return "group of the code"


# --- text -------------------------------------------------------------------------------------


def explanation_text(groups: tuple[GroupExplained, ...], titles: dict[str, str]) -> str:
    """Return the explanation as text of at most 80 columns.

    Parameters
    ----------
    groups : tuple of GroupExplained
    titles : dict of str to str
        Title of each part by its letters.
    """
    lines: list[str] = []
    part = section = ""
    for group in groups:
        if group.part != part:
            part, section = group.part, ""
            if lines:
                lines.append("")
            lines.append(f"{part}  {titles.get(part, '')}".rstrip())
        if group.section != section:
            section = group.section
            lines.append(f"  section {section}: {group.section_title}")
        for place, figures in enumerate(group.figures):
            first = f"{group.text:<6} {group.symbol:<10}" if place == 0 else " " * 17
            own = "" if len(group.figures) == 1 else figures.text
            lines.extend(_folded(f"    {first} {own:<5} ", figures.sentence))
        if group.remark is not None:
            lines.extend(_folded(" " * 28, group.remark))
    return "\n".join(lines) + "\n"


def _folded(head: str, sentence: str, width: int = 79) -> list[str]:
    lines = [head]
    for word in sentence.split():
        if len(lines[-1]) + len(word) > width and lines[-1].strip():
            lines.append(" " * len(head))
        lines[-1] += word + " "
    return [line.rstrip() for line in lines]
