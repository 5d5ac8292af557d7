"""The coded report as HTML: wrapped as sent, every group a place to point at, faults in place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.codes.editions import edition
from encoder.diagnostics import Severity
from encoder.page.markup import escape, tag

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.diagnostics import Diagnostic
    from encoder.page.links import GroupLinks, Links
    from encoder.page.review import Review
    from encoder.report import PartReport

_PROPOSALS = {"repair-proposed": "Proposed", "repaired": "Read as"}


def coded_report(review: Review, links: Links) -> str:
    """Return the parts of the report, each in its lines, with what is wrong under it.

    Parameters
    ----------
    review : Review
    links : Links

    Returns
    -------
    str
        HTML. Text content of each ``.coded`` element is the part as received.
    """
    titles = {
        part.letters: part.title for part in edition(review.report.form, review.report.on).parts
    }
    pieces = []
    for part in review.report.parts:
        title = titles.get(part.letters, "")
        pieces.append(
            tag("h3", tag("code", escape(part.letters)) + " " + escape(title), class_="part-title")
            + tag(
                "pre",
                _marked(review, links, part),
                class_="coded",
                role="group",
                aria_label=f"{part.letters} as sent",
            )
            + _notes(review, part)
        )
    return "".join(pieces)


def _marked(review: Review, links: Links, part: PartReport) -> str:
    """Return one part with its groups and its faults marked."""
    begin, end = part.span
    text = review.report.text
    groups = [
        (position, item)
        for position, item in enumerate(links.groups)
        if item.explained.part == part.letters and begin <= item.explained.span[0] < end
    ]
    pieces, place = [], begin
    for position, item in sorted(groups, key=lambda pair: pair[1].explained.span):
        start, stop = item.explained.span
        if start < place:
            continue
        pieces.append(_between(text, place, start, review.diagnostics))
        pieces.append(_group(position, item, text[start:stop], review.diagnostics))
        place = stop
    pieces.append(_between(text, place, end, review.diagnostics))
    return "".join(pieces)


def _group(position: int, item: GroupLinks, text: str, diagnostics: Sequence[Diagnostic]) -> str:
    found = [diagnostics[index] for index in item.diagnostics]
    worst = _worst(found)
    said = f"{text}: {item.explained.title}"
    if item.explained.original is not None:
        said += f"; read as {item.explained.text}"
    if worst is not None:
        said += f"; {worst}: {found[0].message}"
    return tag(
        "span",
        escape(text),
        class_="g" if worst is None else f"g bad {worst}",
        role="button",
        tabindex="-1",
        data_g=position,
        aria_label=said,
    )


def _worst(found: Sequence[Diagnostic]) -> str | None:
    for severity in (Severity.ERROR, Severity.WARNING, Severity.NOTE):
        if any(item.severity is severity for item in found):
            return str(severity)
    return None


def _between(text: str, start: int, end: int, diagnostics: Sequence[Diagnostic]) -> str:
    """Return the characters between groups, marked where a finding stands in them."""
    piece = text[start:end]
    if not piece:
        return ""
    found = [
        item
        for item in diagnostics
        if item.span is not None
        and item.span[0] < item.span[1]
        and item.span[0] < end
        and item.span[1] > start
    ]
    if not found or not piece.strip():
        return escape(piece)
    lead = len(piece) - len(piece.lstrip())
    tail = len(piece.rstrip())
    return (
        escape(piece[:lead])
        + tag("mark", escape(piece[lead:tail]), class_=f"bad {_worst(found)}")
        + escape(piece[tail:])
    )


def _notes(review: Review, part: PartReport) -> str:
    """Return what is wrong in a part, each with the characters, the proposal and its grounds."""
    begin, end = part.span
    items = []
    for item in review.diagnostics:
        if item.span is None or not begin <= item.span[0] <= end or item.span[1] > end + 1:
            continue
        where = review.report.text[item.span[0] : item.span[1]].strip()
        words = tag("b", escape(str(item.severity)), class_=f"severity {item.severity}") + " "
        if where:
            words += tag("code", escape(where)) + " "
        words += escape(item.message)
        if item.expected:
            word = _PROPOSALS.get(item.code, "Expected")
            words += f" {word}: " + tag("code", escape(item.expected)) + "."
        grounds = " ".join(text for text in (item.hint, item.source) if text)
        if grounds:
            words += " " + tag("span", escape(grounds), class_="quiet")
        items.append(tag("li", words))
    return tag("ul", "".join(items), class_="notes") if items else ""


def figures_list(links: Links) -> str:
    """Return every group with the meaning of its figures, for reading from top to bottom."""
    pieces: list[str] = []
    part = section = ""
    rows: list[str] = []

    def close() -> None:
        if rows:
            head = tag("tr", tag("th", "Group", scope="col") + tag("th", "Says", scope="col"))
            pieces.append(tag("table", head + "".join(rows), class_="figure-table"))
            rows.clear()

    for item in links.groups:
        group = item.explained
        if group.part != part:
            close()
            part, section = group.part, ""
            pieces.append(tag("h3", escape(part)))
        if group.section != section:
            close()
            section = group.section
            pieces.append(tag("h4", f"Section {escape(section)}: {escape(group.section_title)}"))
        said = "; ".join(
            f"{tag('code', escape(figures.text))} {escape(figures.sentence)}"
            for figures in group.figures
        )
        if group.remark is not None:
            said += " " + tag("span", escape(group.remark), class_="quiet")
        name = (
            tag("code", escape(group.text))
            + " "
            + tag("span", escape(group.symbol), class_="quiet")
        )
        rows.append(tag("tr", tag("th", name, scope="row") + tag("td", said)))
    close()
    return "".join(pieces)
