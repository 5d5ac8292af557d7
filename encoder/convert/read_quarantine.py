"""A quarantine file fed back: every record read as what it was refused as."""

from __future__ import annotations

import base64
import binascii
import json
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.convert.batch import Batch, joined_batches
from encoder.convert.kinds import KINDS
from encoder.convert.parts import Parts, joined_parts
from encoder.convert.work import QUARANTINE, Content, RefusedItem
from encoder.diagnostics import Diagnostic, diagnostic

if TYPE_CHECKING:
    from collections.abc import Callable

    from encoder.convert.kinds import Kind
    from encoder.convert.sources import Source
    from encoder.convert.work import Settings

    Reader = Callable[[Source, bytes, Settings], Content]


def read_quarantine_source(
    source: Source, data: bytes, settings: Settings, read: Reader
) -> Content:
    """Read the records of a quarantine file.

    Parameters
    ----------
    source : Source
    data : bytes
        Its content: one JSON object a line.
    settings : Settings
    read : callable
        Reads the content of one source.
    """
    whole = Content()
    batches: dict[str, list[Batch]] = {}
    parts: dict[str, list[Parts]] = {}
    place = 0
    for number, line in enumerate(data.splitlines(keepends=True), start=1):
        begin, place = place, place + len(line)
        account = whole.account
        if not line.strip():
            account.bytes.read += len(line)
            account.bytes.aside += len(line)
            continue
        record = _record(line, number, source)
        if isinstance(record, Diagnostic):
            account.bytes.read += len(line)
            account.bytes.refused += len(line)
            whole.refused.append(RefusedItem("quarantine", begin, line, (record,)))
            continue
        kind, content_bytes, inner = record
        made = read(_inner(source, kind, inner), content_bytes, settings)
        rest = len(line) - len(content_bytes)
        account.add(made.account)
        account.bytes.read += max(rest, 0)
        account.bytes.aside += max(rest, 0)
        for item in made.refused:
            item.offset += begin
        whole.refused.extend(made.refused)
        whole.found.extend(made.found)
        for name, batch in made.batches.items():
            profiles = dict(batch.profiles)
            profiles["source_offset"] = profiles["source_offset"] + begin
            batches.setdefault(name, []).append(replace(batch, profiles=profiles))
        for name, one in made.parts.items():
            columns = dict(one.columns)
            columns["offset"] = columns["offset"] + np.int64(begin)
            parts.setdefault(name, []).append(replace(one, columns=columns))
    whole.batches = {name: joined_batches(several) for name, several in sorted(batches.items())}
    whole.parts = {name: joined_parts(several) for name, several in sorted(parts.items())}
    return whole


def record_at(data: bytes, offset: int) -> tuple[int, Kind, bytes, str]:
    """Return the record that a sounding came from.

    Parameters
    ----------
    data : bytes
        Of a quarantine file.
    offset : int
        Of the sounding: that of its line, and its own inside the data of the record.

    Returns
    -------
    begin : int
        Of the line.
    kind : str
        What it is read as.
    data : bytes
    name : str
        File name to go by.
    """
    begin = data.rfind(b"\n", 0, offset) + 1
    line = data[begin:].partition(b"\n")[0]
    record = json.loads(line)
    return begin, record["kind"], _data_of(record), str(record.get("name", ""))


def _data_of(record: dict[str, Any]) -> bytes:
    text = record["data"]
    if record["encoding"] == "base64":
        return base64.b64decode(text, validate=True)
    return bytes(text.encode("utf-8"))


def _inner(source: Source, kind: Any, record: dict[str, Any]) -> Source:
    """Return what a record is read as; its name gives the dates of coded text."""
    own: Kind = "igra-many" if kind == "igra" else kind
    return replace(source, kind=own, members=(str(record.get("name", "")),), station="")


def _record(
    line: bytes, number: int, source: Source
) -> tuple[str, bytes, dict[str, Any]] | Diagnostic:
    try:
        record = json.loads(line)
        if record["aerogram-quarantine"] != QUARANTINE or record["kind"] not in KINDS:
            msg = f"version {record['aerogram-quarantine']}, kind {record['kind']!r}"
            raise ValueError(msg)
        data = _data_of(record)
    except (ValueError, KeyError, TypeError, AttributeError, binascii.Error) as fault:
        return diagnostic(
            "convert-quarantine-malformed",
            f"Line {number} is no record of a quarantine file: {fault}.",
            file=source.name,
            line=number,
        )
    return record["kind"], data, record
