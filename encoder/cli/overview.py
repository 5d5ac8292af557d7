"""Pages over many soundings: a month of a station history, the index of a conversion."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from encoder.cli.output import NotUsable, emit, emit_json, read_input

if TYPE_CHECKING:
    from encoder.page.month import Month

_MONTH = re.compile(r"^(\d{4})-(0[1-9]|1[0-2])$")


def holds_history(name: str) -> bool:
    """Tell whether a name is a station history, as a whole."""
    from encoder.cli.archived import file_and_number, is_netcdf_file, product_of

    return (
        is_netcdf_file(name) and file_and_number(name)[1] is None and product_of(name) == "history"
    )


def holds_run(name: str) -> bool:
    """Tell whether a name is the summary of a conversion."""
    from encoder.page.run_page import FORMAT

    path = Path(name)
    if name == "-" or path.suffix != ".json" or not path.is_file():
        return False
    with path.open("rb") as stream:
        return f'"{FORMAT}"'.encode() in stream.read(4096)


def month_from(
    name: str,
    *,
    month: str | None,
    hours: str | None,
    sent: str | None,
    deadlines: tuple[int, int],
    least: str,
) -> Month:
    """Return the month of a station history that was asked for.

    Raises
    ------
    NotUsable
        If the history has no sounding in that month (exit code 1).
    UsageError
        If month or hours are none.
    """
    from encoder.archive import History
    from encoder.cli.archived import load_product
    from encoder.cli.sent_times import read_sent_times
    from encoder.errors import InputError
    from encoder.page.month import month_of

    year, number = _month(month)
    history = load_product(name, least)
    if not isinstance(history, History):
        msg = f"{name} is no station history."
        raise NotUsable(msg)
    try:
        return month_of(
            history.soundings(),
            year=year,
            month=number,
            hours=_hours(hours),
            sent=None if sent is None else read_sent_times(sent),
            deadlines=deadlines,
        )
    except InputError as fault:
        msg = f"{name}: {fault.message}"
        raise NotUsable(msg) from fault


def _month(text: str | None) -> tuple[int | None, int | None]:
    if text is None:
        return None, None
    match = _MONTH.match(text)
    if match is None:
        msg = f"--month takes YYYY-MM, got {text!r}."
        raise click.UsageError(msg)
    return int(match[1]), int(match[2])


def _hours(text: str | None) -> tuple[int, ...] | None:
    if text is None:
        return None
    words = [word.strip() for word in text.split(",")]
    if not all(word.isdigit() and int(word) < 24 for word in words):
        msg = f"--hours takes nominal hours such as 00,12, got {text!r}."
        raise click.UsageError(msg)
    return tuple(int(word) for word in words)


def write_month(month: Month, output: str | None, *, as_json: bool) -> None:
    """Write the page of a month, or its data."""
    from encoder.page.month_page import month_page

    if as_json:
        emit_json(month.as_json(), output)
    else:
        emit(month_page(month), output)


def write_run(name: str, output: str | None, *, as_json: bool) -> int:
    """Write the index page of a conversion, or its summary; return the exit code.

    Raises
    ------
    Unreadable
        If the summary cannot be read (exit code 3).
    NotUsable
        If the file is no summary (exit code 1).
    """
    from encoder.page.run_page import adds_up, is_summary, run_page

    try:
        document = json.loads(read_input(name).decode("utf-8"))
    except (UnicodeDecodeError, json.JSONDecodeError) as fault:
        msg = f"{name} is no JSON: {fault}."
        raise NotUsable(msg) from fault
    if not is_summary(document):
        msg = f"{name} is no whole summary of a conversion."
        raise NotUsable(msg)
    if as_json:
        emit_json(document, output)
        return 0 if adds_up(document) else 1
    home = Path(name).parent
    records, more = _quarantine(home / "quarantine.jsonl")
    folder = str(home)
    if output not in (None, "-"):
        folder = os.path.relpath(home, Path(str(output)).parent)
    emit(run_page(document, records, folder=folder, more=more), output)
    return 0 if adds_up(document) else 1


def _quarantine(path: Path) -> tuple[list[dict[str, Any]], int]:
    """Return the first records of a quarantine file, and how many more there are.

    Raises
    ------
    NotUsable
        If a line is no record; names it.
    """
    from encoder.page.run_page import MOST_RECORDS

    records: list[dict[str, Any]] = []
    more = 0
    if not path.is_file():
        return records, more
    with path.open("rb") as stream:
        for number, line in enumerate(stream, 1):
            if number > MOST_RECORDS:
                more += 1
                continue
            try:
                record = json.loads(line)
            except (UnicodeDecodeError, json.JSONDecodeError) as fault:
                msg = f"{path}, line {number} is no record: {fault}."
                raise NotUsable(msg) from fault
            if not isinstance(record, dict):
                msg = f"{path}, line {number} is no record."
                raise NotUsable(msg)
            records.append(record)
    return records, more
