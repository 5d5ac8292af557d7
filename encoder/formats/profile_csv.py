"""``profile.csv``: the rows of a flight as text.

The first line that is neither empty nor a comment is the header: cells ``name [unit]``, names from
:data:`encoder.columns.COLUMNS` (CF standard names and a few aliases), units in UDUNITS spelling.
Lines beginning with ``#`` are comments. Cells are separated by commas, numbers have a decimal
point, and a missing value is an empty cell. ``time [s]`` counts from release; ``time [UTC]`` holds
ISO 8601 date-times.
"""

from __future__ import annotations

from math import isnan
from typing import TYPE_CHECKING

import numpy as np

from encoder.columns import COLUMNS
from encoder.diagnostics import Diagnostic, Result, Severity, diagnostic, has_errors, in_file
from encoder.formats.profile_cells import numbers_of, split_lines, times_of
from encoder.formats.profile_header import Header, read_header
from encoder.formats.text_file import read_text, write_text
from encoder.formats.units import TIME_OF_DAY, converted, seconds_since_release
from encoder.profile import Profile

if TYPE_CHECKING:
    import os
    from collections.abc import Sequence
    from datetime import datetime

    from encoder.profile import FloatArray

MOST_BYTES = 64_000_000
"""Largest profile file read: about ten hours of rows, ten a second, with every column."""
MOST_ROWS = 400_000
"""Most rows read."""
MOST_LINES = 2 * MOST_ROWS
"""Most lines read, with comments and empty ones."""

_HUMIDITY = ("relative_humidity", "dew_point_temperature", "dew_point_depression")


def read_profile(
    path: str | os.PathLike[str],
    *,
    release_time: datetime | None = None,
    winds_alone: bool = False,
) -> Result[Profile | None]:
    """Read a profile file.

    Parameters
    ----------
    path : path-like
        The file.
    release_time : datetime, optional
        UTC, aware; needed only where the file gives the time of day.
    winds_alone : bool
        Whether winds alone were observed, so that the file needs no temperature.

    Returns
    -------
    Result of Profile or None
        Every row in the order of the file, units converted; None when the file cannot be used.
        Every fault of the file is told at once.
    """
    text = read_text(path, most=MOST_BYTES)
    if text.value is None:
        return Result(None, text.diagnostics)
    result = read_profile_text(text.value, release_time=release_time, winds_alone=winds_alone)
    return Result(result.value, in_file((*text.diagnostics, *result.diagnostics), str(path)))


def read_profile_text(
    text: str, *, release_time: datetime | None = None, winds_alone: bool = False
) -> Result[Profile | None]:
    """Read a profile from the text of a profile file; see :func:`read_profile`."""
    count = text.count("\n")
    if count > MOST_LINES:
        return Result(
            None,
            (
                diagnostic(
                    "file-too-large",
                    f"The file has {count:,} lines; at most {MOST_LINES:,} are read.",
                ),
            ),
        )
    lines = text.split("\n")
    used = [
        number for number, line in enumerate(lines, 1) if line.strip() and not _is_comment(line)
    ]
    if not used:
        return Result(None, (diagnostic("file-empty", "Expected a header and rows, found none."),))
    header = read_header(lines[used[0] - 1], used[0])
    if header.value is None:
        return Result(None, header.diagnostics)
    found = [*header.diagnostics, *_missing_columns(header.value, winds_alone)]
    numbers = used[1:]
    if not numbers:
        found.append(
            diagnostic(
                "profile-without-rows", "Expected rows after the header, found none.", line=used[0]
            )
        )
        return Result(None, tuple(found))
    if len(numbers) > MOST_ROWS:
        found.append(
            diagnostic(
                "file-too-large",
                f"The file has {len(numbers):,} rows; at most {MOST_ROWS:,} are read.",
            )
        )
        return Result(None, tuple(found))
    columns = _read_columns(
        [lines[number - 1] for number in numbers], numbers, header.value, release_time
    )
    found += columns.diagnostics
    if columns.value is None or has_errors(found):
        return Result(None, tuple(found))
    found += _empty_columns(columns.value, header.value, winds_alone)
    if has_errors(found):
        return Result(None, tuple(found))
    values = columns.value
    if winds_alone:
        values.setdefault("air_temperature", np.full(len(numbers), np.nan))
    return Result(Profile(values, np.array(numbers)), tuple(found))


def write_profile(profile: Profile, path: str | os.PathLike[str]) -> None:
    """Write a profile file that reads back to the same columns, digit for digit.

    Parameters
    ----------
    profile : Profile
    path : path-like
        The file; an existing one is replaced only once the new one is complete.

    Raises
    ------
    OSError
        If the file cannot be written.
    """
    write_text(path, profile_text(profile))


def profile_text(profile: Profile) -> str:
    """Return a profile as the text of a profile file, each number with all its digits."""
    names = list(profile)
    lines = [",".join(f"{name} [{COLUMNS[name].unit}]" for name in names)]
    cells = [
        ["" if isnan(value) else repr(value) for value in profile[name].tolist()] for name in names
    ]
    lines += [",".join(row) for row in zip(*cells, strict=True)]
    return "\n".join(lines) + "\n"


def _is_comment(line: str) -> bool:
    return line.lstrip().startswith("#")


def _read_columns(
    lines: Sequence[str],
    numbers: Sequence[int],
    header: Header,
    release_time: datetime | None,
) -> Result[dict[str, FloatArray] | None]:
    """Return the columns in the units of the package, or all faults of the cells."""
    cells = split_lines(lines, numbers, header)
    if cells.value is None:
        return Result(None, cells.diagnostics)
    found: list[Diagnostic] = []
    columns: dict[str, FloatArray] = {}
    for cell in header.cells:
        name = cell.column.name
        words = cells.value[cell.place]
        of_day = cell.unit == TIME_OF_DAY
        moment = " since " in f" {cell.unit} "
        if (of_day or moment) and release_time is None:
            found.append(
                diagnostic(
                    "time-without-release",
                    f"The time is given as [{cell.unit}], so the release time is needed to count "
                    "from.",
                    line=header.line,
                    path=(name,),
                    value=cell.unit,
                )
            )
            continue
        if of_day and release_time is not None:
            result = times_of(words, numbers, cell, release_time)
            columns[name] = result.value
        else:
            result = numbers_of(words, numbers, cell)
            if moment and release_time is not None:
                columns[name] = seconds_since_release(cell.unit, result.value, release_time)
            else:
                columns[name] = converted(cell.column, cell.unit, result.value)
        found += result.diagnostics
    return Result(None if has_errors(found) else columns, tuple(found))


def _missing_columns(header: Header, winds_alone: bool) -> list[Diagnostic]:
    """Return an error for every quantity a flight cannot do without."""
    names = {cell.column.name for cell in header.cells}
    found = []
    for choice in (
        ("time",),
        ("air_pressure", "geopotential_height", "altitude"),
        ("air_temperature",),
    ):
        if not names.intersection(choice) and not (winds_alone and choice == ("air_temperature",)):
            wanted = " or ".join(f"{name} [{COLUMNS[name].unit}]" for name in choice)
            found.append(
                diagnostic(
                    "column-missing",
                    f"Expected a column {wanted}, found none.",
                    line=header.line,
                    path=(choice[0],),
                    expected=wanted,
                )
            )
    if not names.intersection(_HUMIDITY) and not winds_alone:
        found.append(
            diagnostic(
                "humidity-not-given", "The file has no column of humidity.", line=header.line
            )
        )
    speeds = {"wind_from_direction", "wind_speed"}
    components = {"eastward_wind", "northward_wind"}
    if not (speeds <= names or components <= names):
        some = sorted(names & (speeds | components))
        tail = f", only {' and '.join(some)}" if some else ""
        found.append(
            diagnostic(
                "wind-not-given",
                "The file has neither wind_from_direction with wind_speed nor eastward_wind with "
                f"northward_wind{tail}.",
                severity=Severity.ERROR if winds_alone else None,
                line=header.line,
            )
        )
    return found


def _empty_columns(
    columns: dict[str, FloatArray], header: Header, winds_alone: bool
) -> list[Diagnostic]:
    """Return a diagnostic for every column without any value."""
    empty = [name for name, values in columns.items() if bool(np.all(np.isnan(values)))]
    vertical = [
        name for name in ("air_pressure", "geopotential_height", "altitude") if name in columns
    ]
    found = []
    for name in empty:
        no_vertical = name in vertical and set(vertical) <= set(empty)
        wanted = ("time", "wind_speed") if winds_alone else ("time", "air_temperature")
        needed = name in wanted or no_vertical
        found.append(
            diagnostic(
                "column-empty-but-needed" if needed else "column-empty",
                f"Expected values in the column {name}, found only empty cells.",
                line=header.line,
                path=(name,),
            )
        )
    return found
