"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

CommandT = TypeVar("CommandT", bound=Callable[..., Any])

METHODS = ("largest-deviation", "fewest-levels")


def output_option(function: CommandT) -> CommandT:
    """Add ``-o/--output``."""
    return click.option(
        "-o", "--output", metavar="FILE", help="Write to FILE instead of standard output."
    )(function)


def show_option(function: CommandT) -> CommandT:
    """Add ``--show``."""
    return click.option(
        "--show",
        "least",
        type=click.Choice(("error", "warning", "note")),
        default="note",
        show_default=True,
        help="Least severity of the findings shown on standard error.",
    )(function)


def repair_option(function: CommandT) -> CommandT:
    """Add ``--repair``."""
    return click.option(
        "--repair",
        type=click.Choice(("none", "safe", "all")),
        default="none",
        show_default=True,
        help="Repairs of damaged groups that are read: none, those with one possible reading, all.",
    )(function)


def json_option(function: CommandT) -> CommandT:
    """Add ``--json``."""
    return click.option("--json", "as_json", is_flag=True, help="Write JSON.")(function)


def csv_option(function: CommandT) -> CommandT:
    """Add ``--csv``."""
    return click.option(
        "--csv", "as_csv", is_flag=True, help="Write CSV, one row a level, headers name [unit]."
    )(function)


def selection_options(function: CommandT) -> CommandT:
    """Add the options that change how levels are chosen and coded."""
    for option in (
        click.option(
            "--wind-unit",
            type=click.Choice(("kt", "m/s")),
            help="Unit of wind speeds in the report; by default as flight.json says.",
        ),
        click.option(
            "--criteria",
            type=click.Choice(("wmo", "fmh-3")),
            help="Criteria of level selection; by default as flight.json says.",
        ),
        click.option(
            "--method",
            type=click.Choice(METHODS),
            default=METHODS[0],
            show_default=True,
            help="How significant levels are chosen.",
        ),
    ):
        function = option(function)
    return function
