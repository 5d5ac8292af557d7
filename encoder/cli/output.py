"""What every command shares: where output goes, how diagnostics are shown, the exit codes."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Iterable

    from encoder.diagnostics import Diagnostic

EXIT_DONE = 0
EXIT_FAULTS = 1
EXIT_UNREADABLE = 3
EXIT_INTERRUPTED = 130
EXIT_PIPE = 141

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
    if output in (None, "-"):
        sys.stdout.write(text)
        sys.stdout.flush()
        return
    from encoder.formats.text_file import write_text

    try:
        write_text(str(output), text)
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
    counts = [
        f"{count} {name}{'s' if count != 1 else ''}"
        for name in SEVERITIES
        if (count := sum(1 for item in items if item.severity == name))
    ]
    if counts:
        hidden = sum(1 for item in items if item.severity not in wanted)
        more = f" ({hidden} not shown; --show note shows all)" if hidden else ""
        click.echo(", ".join(counts) + more, err=True)


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
    most = 64 * 1024 * 1024
    try:
        if name == "-":
            data = sys.stdin.buffer.read(most + 1)
        else:
            with Path(name).open("rb") as stream:
                data = stream.read(most + 1)
    except OSError as fault:
        msg = f"Cannot read {name}: {fault.strerror or fault}."
        raise Unreadable(msg) from fault
    if len(data) > most:
        msg = f"{name} is larger than {most // 1024 // 1024} MiB; that is no report."
        raise Unreadable(msg)
    return data
