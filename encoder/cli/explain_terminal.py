"""The explanation of a report on a terminal: aligned, each part of the trade in its own style.

Needs the extra ``terminal`` (rich). Colours follow what the terminal can show and the wish of the
reader (``NO_COLOR``); everything they tell stands there in words too.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from typing import TextIO

    from rich.console import Console

    from encoder.report.explain import GroupExplained

_GROUP = "bold cyan"
_SYMBOL = "italic"
_PART = "bold reverse"
_SECTION = "bold"
_FAULT = "bold red"


def is_terminal(stream: TextIO) -> bool:
    """Tell whether somebody reads along on a terminal and rich is installed."""
    if not stream.isatty():
        return False
    try:
        import rich.console
    except ImportError:
        return False
    return bool(rich.console.Console)


def printable(text: str) -> str:
    """Return text with a mark for every character that would steer the terminal."""
    return "".join(letter if letter.isprintable() else "\ufffd" for letter in text)


def show_explanation(
    groups: tuple[GroupExplained, ...], titles: dict[str, str], console: Console | None = None
) -> None:
    """Show an explanation on the terminal.

    Parameters
    ----------
    groups : tuple of GroupExplained
    titles : dict of str to str
        Title of each part by its letters.
    console : Console, optional
        Standard output by default.
    """
    from rich.console import Console as NewConsole
    from rich.table import Table
    from rich.text import Text

    screen = console or NewConsole(file=sys.stdout, highlight=False, emoji=False)
    part = section = ""
    table: Table | None = None
    for group in groups:
        if (group.part, group.section) != (part, section):
            if table is not None:
                screen.print(table)
            if group.part != part:
                head = f" {group.part} {titles.get(group.part, '')} ".replace("  ", " ")
                screen.print(Text(head, style=_PART))
            part, section = group.part, group.section
            screen.print(Text(f"section {section}: {group.section_title}", style=_SECTION))
            table = Table(box=None, show_header=False, padding=(0, 1), pad_edge=False)
            table.add_column(style=_GROUP, no_wrap=True, min_width=6)
            table.add_column(style=_SYMBOL, no_wrap=True, min_width=9)
            table.add_column(style=_GROUP, no_wrap=True, min_width=5)
            table.add_column(ratio=1)
        if table is None:
            continue
        for place, figures in enumerate(group.figures):
            faulty = figures.sentence.startswith("damaged")
            table.add_row(
                Text(printable(group.text) if place == 0 else ""),
                Text(group.symbol if place == 0 else ""),
                Text("" if len(group.figures) == 1 else printable(figures.text)),
                Text(printable(figures.sentence), style=_FAULT if faulty else ""),
            )
        if group.remark is not None:
            table.add_row(Text(), Text(), Text(), Text(printable(group.remark), style=_FAULT))
    if table is not None:
        screen.print(table)
