"""When parts were sent, read from a table: one row a part."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from encoder.cli.output import NotUsable, read_input

if TYPE_CHECKING:
    from encoder.page.month import Sent

HEADER = ("nominal_time", "part", "sent_time")


def read_sent_times(name: str) -> Sent:
    """Read when parts were sent.

    Parameters
    ----------
    name : str
        CSV file with the columns nominal_time and sent_time (ISO 8601, UTC) and part (A to D).

    Returns
    -------
    dict
        Time of sending by nominal time and letter; the first one where a part was sent again.

    Raises
    ------
    Unreadable
        If the file cannot be read (exit code 3).
    NotUsable
        If it is no such table; names the line (exit code 1).
    """
    try:
        text = read_input(name).decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        msg = f"{name} is not UTF-8 text: {fault.reason} at octet {fault.start}."
        raise NotUsable(msg) from fault
    lines = csv.DictReader(io.StringIO(text))
    if tuple(lines.fieldnames or ()) != HEADER:
        msg = (
            f"{name}: expected the columns {', '.join(HEADER)}, "
            f"got {', '.join(lines.fieldnames or ()) or 'nothing'}."
        )
        raise NotUsable(msg)
    found: Sent = {}
    for row in lines:
        part = (row["part"] or "").strip().upper()
        try:
            nominal = _time(row["nominal_time"])
            sent = _time(row["sent_time"])
        except ValueError as fault:
            msg = f"{name}, line {lines.line_num}: {fault}."
            raise NotUsable(msg) from fault
        if part not in ("A", "B", "C", "D"):
            msg = f"{name}, line {lines.line_num}: expected a part A to D, got {part!r}."
            raise NotUsable(msg)
        found.setdefault((nominal, part), sent)
    return found


def _time(text: str | None) -> datetime:
    """Return a time in UTC; one without an offset is taken as UTC."""
    if text is None:
        msg = f"expected the columns {', '.join(HEADER)}"
        raise ValueError(msg)
    time = datetime.fromisoformat(text.strip())
    return time.replace(tzinfo=UTC) if time.tzinfo is None else time.astimezone(UTC)
