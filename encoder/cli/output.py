"""What every command shares: where output goes, how diagnostics are shown, the exit codes."""

from __future__ import annotations

import json
import sys
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from encoder.diagnostics import Diagnostic

EXIT_DONE = 0
EXIT_FAULTS = 1
EXIT_UNREADABLE = 3
EXIT_INTERRUPTED = 130
EXIT_PIPE = 141

MOST_READ = 64 * 1024 * 1024
"""Largest input in bytes that is read whole."""
SEVERITIES = ("error", "warning", "note")


class Unreadable(click.ClickException):
    """A file cannot be read or used; leaves with exit code 3."""

    exit_code = EXIT_UNREADABLE


class NotUsable(click.ClickException):
    """The content of a file has errors and cannot be used; leaves with exit code 1."""

    exit_code = EXIT_FAULTS


def emit(text: str, output: str | None) -> None:
    """Write text to a file, moved into place when complete, or to standard output.

    Parameters
    ----------
    text : str
    output : str or None
        File name; None or "-" for standard output.
    """
    emit_pieces((text,), output)


def emit_pieces(pieces: Iterable[str], output: str | None) -> None:
    """Write a text that comes piece by piece, each as soon as it is there.

    Parameters
    ----------
    pieces : iterable of str
    output : str or None
        File name, moved into place when complete; None or "-" for standard output.
    """
    if output in (None, "-"):
        for piece in pieces:
            sys.stdout.write(piece)
            sys.stdout.flush()
        return
    from encoder.formats.text_file import write_pieces

    try:
        write_pieces(str(output), pieces)
    except OSError as fault:
        msg = f"Cannot write {output}: {fault.strerror or fault}. Nothing was left behind."
        raise Unreadable(msg) from fault


def emit_json(document: Any, output: str | None) -> None:
    """Write a JSON document, two spaces deep, keys in their own order."""
    emit(json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n", output)


def show(diagnostics: Iterable[Diagnostic], least: str = "note") -> None:
    """Show diagnostics on standard error, gravest first, and count them.

    Parameters
    ----------
    diagnostics : iterable of Diagnostic
    least : str
        Least severity shown: "error", "warning" or "note".
    """
    items = list(diagnostics)
    wanted = SEVERITIES[: SEVERITIES.index(least) + 1]
    for severity in wanted:
        for item in items:
            if item.severity == severity:
                click.echo(item.as_text(), err=True)
    show_counts(Counter(str(item.severity) for item in items), wanted)


def show_counts(counts: Mapping[str, int], shown: Iterable[str]) -> None:
    """Show how many diagnostics there are of each severity, on standard error.

    Parameters
    ----------
    counts : mapping of str to int
        By severity.
    shown : iterable of str
        Severities that were shown.
    """
    words = [
        f"{counts[name]} {name}{'s' if counts[name] != 1 else ''}"
        for name in SEVERITIES
        if counts.get(name)
    ]
    if words:
        hidden = sum(counts.values()) - sum(counts.get(name, 0) for name in shown)
        more = f" ({hidden} not shown; --show note shows all)" if hidden else ""
        click.echo(", ".join(words) + more, err=True)


def exit_code(diagnostics: Iterable[Diagnostic]) -> int:
    """Return 1 if any diagnostic is an error, else 0."""
    from encoder.diagnostics import has_errors

    return EXIT_FAULTS if has_errors(diagnostics) else EXIT_DONE


def read_input(name: str) -> bytes:
    """Return the bytes of a file, or of standard input for "-".

    Raises
    ------
    Unreadable
        If the file is missing, a folder, not readable, or larger than any report.
    """
    try:
        if name == "-":
            return read_rest(b"")
        with Path(name).open("rb") as stream:
            data = stream.read(MOST_READ + 1)
    except OSError as fault:
        msg = f"Cannot read {name}: {fault.strerror or fault}."
        raise Unreadable(msg) from fault
    return _within(data, name)


def read_rest(head: bytes) -> bytes:
    """Return the bytes of standard input, of which the head was read already.

    Raises
    ------
    Unreadable
        If it cannot be read, or is larger than any report.
    """
    try:
        data = head + sys.stdin.buffer.read(MOST_READ + 1 - len(head))
    except OSError as fault:
        msg = f"Cannot read -: {fault.strerror or fault}."
        raise Unreadable(msg) from fault
    return _within(data, "-")


def _within(data: bytes, name: str) -> bytes:
    if len(data) > MOST_READ:
        msg = f"{name} is larger than {MOST_READ // 1024 // 1024} MiB; that is no report."
        raise Unreadable(msg)
    return data
