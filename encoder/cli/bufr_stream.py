"""BUFR files as a stream: one message after another, in bounded memory, shown at once."""

from __future__ import annotations

import json
import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import click

from encoder.cli.bufr import holds_bufr, is_bufr_file
from encoder.cli.output import (
    EXIT_FAULTS,
    SEVERITIES,
    NotUsable,
    Unreadable,
    emit_pieces,
    read_rest,
    show_counts,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from encoder.diagnostics import Diagnostic
    from encoder.formats.bufr.read import BufrContent
    from encoder.formats.bufr.sounding import BufrSounding

_HEAD = 65536
_ROWS = "levels"
MOST_TOLD = 10
"""Findings with the same code that are told one by one; the others are counted."""


class _Reads(Protocol):
    def read(self, count: int = -1, /) -> bytes: ...


class _Begun:
    """A stream of which the beginning was read already."""

    def __init__(self, head: bytes, rest: _Reads) -> None:
        self._head = head
        self._rest = rest

    def read(self, count: int = -1, /) -> bytes:
        if self._head:
            data, self._head = self._head[:count], self._head[count:]
            return data
        return self._rest.read(count)


class BufrInputs:
    """The inputs of a command, told apart: BUFR to be streamed, and others.

    Parameters
    ----------
    names : tuple of str
        Files; "-" is standard input.

    Attributes
    ----------
    bufr : list of str
        Inputs that hold BUFR.
    others : tuple of str
        Inputs that hold none.
    text : bytes or None
        What standard input held, where that is no BUFR; then "-" is not among the others.
    """

    def __init__(self, names: tuple[str, ...]) -> None:
        self.bufr: list[str] = []
        self.text: bytes | None = None
        self._begun: _Reads | None = None
        others: list[str] = []
        for name in names:
            if name == "-":
                head = sys.stdin.buffer.read(_HEAD)
                if holds_bufr(head):
                    self._begun = _Begun(head, sys.stdin.buffer)
                    self.bufr.append(name)
                else:
                    self.text = read_rest(head)
            elif is_bufr_file(name):
                self.bufr.append(name)
            else:
                others.append(name)
        self.others = tuple(others)

    @classmethod
    def of_stream(cls, name: str, stream: _Reads) -> BufrInputs:
        """Return the inputs of one BUFR stream that is open already.

        Parameters
        ----------
        name : str
            For diagnostics.
        stream : binary stream
        """
        inputs = cls(())
        inputs._begun = stream
        inputs.bufr.append(name)
        return inputs

    def contents(self, take: Callable[[Iterable[Diagnostic]], None]) -> Iterator[BufrContent]:
        """Give the soundings and monthly means of every BUFR input, as they are read.

        Parameters
        ----------
        take : callable
            Is given what reading each message found.

        Raises
        ------
        Unreadable
            If a file cannot be read (exit code 3).
        NotUsable
            If a message needs the coding library and it is not installed.
        """
        from encoder.diagnostics import in_file
        from encoder.errors import MissingDependencyError
        from encoder.formats.bufr.read import read_contents

        for name in self.bufr:
            try:
                with self._opened(name) as stream:
                    for result in read_contents(stream):
                        take(in_file(result.diagnostics, name))
                        yield from result.value
            except MissingDependencyError as fault:
                raise NotUsable(str(fault)) from fault
            except OSError as fault:
                if isinstance(fault, BrokenPipeError):
                    raise
                msg = f"Cannot read {name}: {fault.strerror or fault}."
                raise Unreadable(msg) from fault

    def _opened(self, name: str) -> Any:
        from contextlib import nullcontext

        if self._begun is not None and (name == "-" or len(self.bufr) == 1):
            return nullcontext(self._begun)
        return Path(name).open("rb")


class Findings:
    """What was found along a stream: told as it comes, counted, and kept on disk for JSON.

    Parameters
    ----------
    least : str
        Least severity that is told.
    kept : bool
        Whether every finding is kept for a JSON document.
    """

    def __init__(self, least: str, *, kept: bool = False) -> None:
        self._told = SEVERITIES[: SEVERITIES.index(least) + 1]
        self._counts: Counter[str] = Counter()
        self._of_code: Counter[str] = Counter()
        self._spool = _Spool() if kept else None

    def take(self, diagnostics: Iterable[Diagnostic]) -> None:
        """Tell, count and keep findings."""
        for item in diagnostics:
            self._counts[str(item.severity)] += 1
            if self._spool is not None:
                self._spool.add(item.as_json())
            if item.severity not in self._told:
                continue
            self._of_code[item.code] += 1
            if self._of_code[item.code] <= MOST_TOLD:
                click.echo(item.as_text(), err=True)

    def finish(self) -> int:
        """Tell what was not told one by one, and the counts; return the exit code."""
        for code, count in self._of_code.items():
            if count > MOST_TOLD:
                click.echo(f"{code}: {count - MOST_TOLD} more of the same.", err=True)
        show_counts(self._counts, self._told)
        return EXIT_FAULTS if self._counts["error"] else 0

    def pieces(self) -> Iterator[str]:
        """Give the kept findings as the items of a JSON array."""
        return iter(()) if self._spool is None else self._spool.pieces()


class _Spool:
    """JSON values kept on disk until they are written."""

    def __init__(self) -> None:
        self._file = tempfile.SpooledTemporaryFile(_HEAD, "w+", encoding="utf-8")  # noqa: SIM115

    def add(self, value: Any) -> None:
        self._file.write(json.dumps(value, ensure_ascii=False, allow_nan=False) + "\n")

    def pieces(self) -> Iterator[str]:
        self._file.seek(0)  # only once the first is asked for: everything is there by then
        for line in self._file:
            yield json.dumps(json.loads(line), indent=2, ensure_ascii=False)


def json_pieces(members: Iterable[tuple[str, Any]]) -> Iterator[str]:
    """Give a JSON object piece by piece, laid out as with an indent of two spaces.

    Parameters
    ----------
    members : iterable of (str, value)
        Name and value; an iterator stands for an array of which each item is JSON text.
    """
    yield "{"
    comma = ""
    for name, value in members:
        yield f'{comma}\n  "{name}": '
        comma = ","
        if isinstance(value, str):
            yield json.dumps(value)
            continue
        between = "["
        for item in value:
            yield between + "\n    " + item.replace("\n", "\n    ")
            between = ","
        yield "[]" if between == "[" else "\n  ]"
    yield "\n}\n"


def json_item(document: dict[str, Any]) -> str:
    """Return a sounding or its explanation as JSON with a line for every level or element.

    Parameters
    ----------
    document : dict
        With "elements", or with "levels" that hold "levels".
    """
    holder, name = (document, "elements") if "elements" in document else (document["levels"], _ROWS)
    rows = [json.dumps(row, ensure_ascii=False, allow_nan=False) for row in holder[name]]
    holder[name] = [None]
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)
    begin = text.rindex("null", 0, text.rindex("]"))  # the rows come last
    margin = "\n" + " " * (begin - text.rindex("\n", 0, begin) - 1)
    if not rows:
        return text[: text.rindex("[")] + "[]" + text[text.rindex("]") + 1 :]
    return text[:begin] + f",{margin}".join(rows) + text[begin + len("null") :]


def show_bufr(
    inputs: BufrInputs,
    how: tuple[bool, bool, str | None, str],
    as_text: Callable[[BufrContent], str],
    as_document: tuple[str, Callable[[BufrContent], Any]],
) -> int:
    """Show every sounding and month of BUFR inputs as it is read; return the exit code.

    Parameters
    ----------
    inputs : BufrInputs
    how : tuple of (bool, bool, str or None, str)
        JSON, CSV, output and least severity.
    as_text : callable
    as_document : tuple of (str, callable)
        Name of the JSON format, and what makes an item of it.

    Raises
    ------
    UsageError
        If CSV is asked for several soundings.
    """
    as_json, as_csv, output, least = how
    findings = Findings(least, kept=as_json)
    contents = inputs.contents(findings.take)
    if as_json:
        emit_pieces(_documents(contents, findings, as_document), output)
    elif as_csv:
        emit_pieces(_csv(contents), output)
    else:
        emit_pieces(_texts(contents, as_text), output)
    return findings.finish()


def _texts(contents: Iterator[BufrContent], as_text: Callable[[BufrContent], str]) -> Iterator[str]:
    between = ""
    for content in contents:
        yield between + as_text(content)
        between = "\n"


def _csv(contents: Iterator[BufrContent]) -> Iterator[str]:
    from encoder.formats.bufr.months import BufrMonth
    from encoder.formats.level_table import levels_as_csv

    first = next(contents, None)
    if first is None:
        return
    if next(contents, None) is not None:
        msg = "A CSV table holds one sounding, found more; use --json."
        raise click.UsageError(msg)
    if isinstance(first, BufrMonth):
        msg = "A CSV table holds the levels of a sounding, found monthly means; use --json."
        raise click.UsageError(msg)
    yield levels_as_csv(first.levels)


def _documents(
    contents: Iterator[BufrContent],
    findings: Findings,
    as_document: tuple[str, Callable[[BufrContent], Any]],
) -> Iterator[str]:
    from encoder.formats.bufr.months import BufrMonth, month_as_json

    name, made = as_document
    months = _Spool()

    def soundings() -> Iterator[str]:
        for content in contents:
            if isinstance(content, BufrMonth) and name == "aerogram-soundings-1":
                months.add(month_as_json(content))
                continue
            yield json_item(made(content))

    members: list[tuple[str, Any]] = [("format", name), ("soundings", soundings())]
    if name == "aerogram-soundings-1":
        members.append(("months", months.pieces()))
    return json_pieces([*members, ("diagnostics", findings.pieces())])


def content_text(content: BufrContent) -> str:
    """Return a sounding or monthly means as text."""
    from encoder.formats.bufr.months import BufrMonth, month_text

    return month_text(content) if isinstance(content, BufrMonth) else sounding_text(content)


def sounding_text(sounding: BufrSounding, *, knots: bool = False) -> str:
    """Return a sounding as text: a head line and the level table."""
    from encoder.formats.level_table import levels_as_text, marks_legend

    release = sounding.release_time
    nominal = sounding.nominal_time
    head = (
        f"BUFR {sounding.template}  station {sounding.station}  "
        f"{'no date' if nominal is None else f'{nominal:%Y-%m-%d %H:%M}'} UTC  "
        f"release {'unknown' if release is None else f'{release:%H:%M:%S}'}"
    )
    if sounding.heading:
        head += f"\nheading {sounding.heading}"
    if sounding.nil:
        return f"{head}\n\nNIL: there is no report.\n"
    table = levels_as_text(sounding.levels, knots=knots)
    more = "".join(f"\n{extra.as_text()}" for extra in sounding.extra)
    return f"{head}\n\n{table}{marks_legend(sounding.levels)}{more}"
