"""Pages of the code forms, written from their declarations."""

from __future__ import annotations

from typing import TYPE_CHECKING

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
    ]
    for part in form.parts:
        lines += [f"## Part {part.letter} ({part.letters}): {part.title}", "", "```"]
        lines += [_section_line(section) for section in part.sections]
        lines += ["```", ""]
    lines += ["## Groups", ""]
    for group in _groups(form):
        lines += _group_lines(group)
    return "\n".join(lines)


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
    return [*lines, "", f"Source: {group.source}.", ""]
