"""Pages of the code forms, written from their declarations."""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.codes.editions import EDITIONS

if TYPE_CHECKING:
    from encoder.codes.declare import CodeForm, Group, Section


def form_as_markdown(form: CodeForm) -> str:
    """Return a code form as a page: parts, sections, groups, figures, steps, sources."""
    lines = [
        f"# {form.number} {form.name}",
        "",
        f"{form.title}.",
        "",
        f"Source: {form.source}.",
        "",
        *_edition_lines(form),
    ]
    for part in form.parts:
        lines += [f"## Part {part.letter} ({part.letters}): {part.title}", "", "```"]
        lines += [_section_line(section) for section in part.sections]
        lines += ["```", ""]
    lines += ["## Groups", ""]
    for group in _groups(form):
        lines += _group_lines(group)
    return "\n".join(lines)


def _edition_lines(form: CodeForm) -> list[str]:
    """Return the editions of a form: when each was used, and how it differs from the one shown."""
    editions = EDITIONS[form.number]
    if len(editions) == 1:
        return []
    lines = [
        "## Editions",
        "",
        "| from | to | other than on this page | source |",
        "|---|---|---|---|",
    ]
    for edition in editions:
        differs = "; ".join(_differences(edition, form)) or "this page"
        words = " ".join((f"{edition.source}.", edition.from_memory)).strip()
        lines.append(
            f"| {edition.valid_from or ''} | {edition.valid_to or 'today'} | {differs} | {words} |"
        )
    return [*lines, ""]


def _differences(edition: CodeForm, form: CodeForm) -> list[str]:
    """Return how the parts of an edition differ from those of another one, each once."""
    found: dict[str, None] = {}
    for part in edition.parts:
        other = form.part(part.letter)
        if part.title != other.title:
            found[part.title] = None
        for figures, pressure in other.standard.items():
            if figures not in part.standard:
                found[f"no {pressure:g} hPa among the standard levels"] = None
        for section in other.sections:
            own = part.section(section.number)
            if own is None:
                found[f"no section {section.number} ({section.title})"] = None
            elif own.title != section.title:
                found[f"section {section.number}: {own.title}"] = None
    return list(found)


def _section_line(section: Section) -> str:
    words = [section.marker] if section.marker else []
    for record in section.records:
        groups = [
            {
                "always": use.group.symbol,
                "to-last-wind": f"({use.group.symbol} up to Id)",
                "if-recognised": f"[{use.group.symbol}]",
            }[use.presence]
            for use in record.uses
        ]
        more = " ..." if record.repeated else ""
        none = f" | {record.none_group}" if record.none_group else ""
        words.append(" ".join(groups) + more + none)
    if section.verbatim:
        words.append(f"{section.markers[0]} ... {section.markers[-1]}, kept as received")
    return f"{section.number:>2}  {section.title}: {'; '.join(words)}"


def _groups(form: CodeForm) -> list[Group]:
    found: dict[str, Group] = {}
    for part in form.parts:
        for section in part.sections:
            for record in section.records:
                for use in record.uses:
                    found.setdefault(use.group.symbol, use.group)
    return list(found.values())


def _group_lines(group: Group) -> list[str]:
    lines = [f"### `{group.symbol}` {group.title}", "", "| figures | width | meaning | table |"]
    lines.append("|---|---|---|---|")
    lines.extend(
        f"| `{part.symbol}` | {part.width} | {part.meaning} | {part.table or ''} |"
        for part in group.figures
    )
    if group.steps:
        steps = "; ".join(f"{name}: {step}" for name, step in group.steps.items())
        lines += ["", f"Steps: {steps}."]
    if group.other:
        symbol = "".join(part.symbol for part in group.other)
        lines += [
            "",
            f"Also written `{symbol}`:",
            "",
            "| figures | width | meaning |",
            "|---|---|---|",
        ]
        lines.extend(f"| `{part.symbol}` | {part.width} | {part.meaning} |" for part in group.other)
    return [*lines, "", f"Source: {group.source}.", ""]
