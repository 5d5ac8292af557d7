"""Pages over many soundings: a month of a station history, the index of a bulk run."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from encoder.cli.output import NotUsable, emit, emit_json, read_input

if TYPE_CHECKING:
    from encoder.page.month import Month

_MONTH = re.compile(r"^(\d{4})-(0[1-9]|1[0-2])$")
_MOST_FAULTS = 5


def holds_history(name: str) -> bool:
    """Tell whether a name is a station history, as a whole."""
    from encoder.cli.archived import file_and_number, is_netcdf_file, product_of

    return (
        is_netcdf_file(name) and file_and_number(name)[1] is None and product_of(name) == "history"
    )


def holds_run(name: str) -> bool:
    """Tell whether a name is the summary of a bulk run."""
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
    """Write the index page of a bulk run, or its data; return the exit code.

    Raises
    ------
    NotUsable
        If the file is no summary (exit code 1).
    """
    from encoder.page.run_page import run_page, unbalanced

    document = _summary(name)
    if as_json:
        emit_json(document, output)
    else:
        emit(run_page(document, Path(name).name), output)
    return 1 if unbalanced(document) else 0


def _summary(name: str) -> Any:
    from encoder.schemas_folder import schema

    try:
        document = json.loads(read_input(name).decode("utf-8"))
    except (UnicodeDecodeError, json.JSONDecodeError) as fault:
        msg = f"{name} is no JSON: {fault}."
        raise NotUsable(msg) from fault
    from jsonschema import Draft202012Validator

    faults = sorted(
        Draft202012Validator(schema("run")).iter_errors(document), key=lambda item: item.json_path
    )
    if faults:
        words = "; ".join(f"{item.json_path}: {item.message}" for item in faults[:_MOST_FAULTS])
        more = f"; and {len(faults) - _MOST_FAULTS} more" if len(faults) > _MOST_FAULTS else ""
        msg = f"{name} is no summary of a run: {words}{more}."
        raise NotUsable(msg)
    return document
