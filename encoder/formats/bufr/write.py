"""Writing BUFR through the coding library: one message, one subset, not compressed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.diagnostics import Diagnostic, Result, diagnostic, has_errors
from encoder.formats.bufr.content import MessageContent, check_content
from encoder.formats.bufr.templates import (
    DATA_CATEGORY,
    SEQUENCES,
    WIGOS_SEQUENCE,
    WIGOS_VERSION,
)
from encoder.formats.bufr.through_eccodes import MISSING, library
from encoder.rounding import round_half_away

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from encoder.formats.bufr.content import Origin, Value
    from encoder.formats.bufr.elements import Element
    from encoder.profile import FloatArray

LARGEST_BULLETIN = 500_000
"""Largest binary bulletin in octets (WMO-No. 386, by way of a CBS enquiry of 2007)."""


def write_message(content: MessageContent) -> Result[bytes | None]:
    """Code a message.

    Parameters
    ----------
    content : MessageContent

    Returns
    -------
    Result of bytes or None
        None where a value cannot be represented; nothing is coded then.

    Raises
    ------
    MissingDependencyError
        If the coding library is not installed.

    Notes
    -----
    WMO-No. 306 Volume I.2, FM 94 BUFR and regulation B/C25.1: nominal time in section 1, lowest
    version of the tables that holds the template.
    """
    found: list[Diagnostic] = check_content(content)
    if has_errors(found):
        return Result(None, tuple(found))
    template = content.template
    before = [*zip(template.before, content.before, strict=True)]
    descriptors = [template.number]
    version = template.table_version
    if content.wigos is not None:
        before = [*zip(SEQUENCES[WIGOS_SEQUENCE], content.wigos, strict=True), *before]
        descriptors = [WIGOS_SEQUENCE, template.number]
        version = max(version, WIGOS_VERSION)
    message = code_message(
        descriptors,
        before,
        ((template.level, content.levels), (template.shear, content.shear)),
        version=version,
        sub_category=template.sub_category[content.platform],
        nominal_time=content.nominal_time,
        origin=content.origin,
    )
    if len(message) > LARGEST_BULLETIN:
        found.append(
            diagnostic(
                "bufr-too-large",
                f"The message has {len(message):,} octets; a bulletin holds {LARGEST_BULLETIN:,}.",
            )
        )
    return Result(message, tuple(found))


def code_message(
    descriptors: Sequence[str],
    before: Sequence[tuple[Element, Value]],
    blocks: Sequence[tuple[Sequence[Element], Mapping[str, FloatArray]]],
    *,
    version: int,
    sub_category: int,
    nominal_time: datetime,
    origin: Origin,
) -> bytes:
    """Code values that were checked.

    Parameters
    ----------
    descriptors : sequence of str
        For section 3.
    before : sequence of (Element, value)
        Elements before the first replication.
    blocks : sequence of (elements, columns)
        The replicated groups in their order: the first counted with 16 bits when there are two,
        the next with 8 bits.
    version : int
        Version of the master tables.
    sub_category : int
        International sub-category of category 2.
    nominal_time : datetime
    origin : Origin

    Returns
    -------
    bytes
        From ``BUFR`` to ``7777``.
    """
    codes = library()
    handle = codes.codes_bufr_new_from_samples("BUFR4")
    try:
        for key, value in _header(version, sub_category, nominal_time, origin).items():
            codes.codes_set(handle, key, value)
        counts = [len(next(iter(columns.values()))) for _elements, columns in blocks]
        if len(counts) == 2:
            codes.codes_set_array(
                handle, "inputExtendedDelayedDescriptorReplicationFactor", counts[:1]
            )
            codes.codes_set_array(handle, "inputDelayedDescriptorReplicationFactor", counts[1:])
        else:
            codes.codes_set_array(handle, "inputDelayedDescriptorReplicationFactor", counts)
        if len(descriptors) == 1:
            codes.codes_set(handle, "unexpandedDescriptors", int(descriptors[0]))
        else:
            codes.codes_set_array(
                handle, "unexpandedDescriptors", [int(fxy) for fxy in descriptors]
            )
        ranks = _set_before(codes, handle, before)
        for key, values in _arrays(blocks).items():
            _set_column(codes, handle, key, values, ranks.get(key, 0))
        codes.codes_set(handle, "pack", 1)
        message: bytes = codes.codes_get_message(handle)
    finally:
        codes.codes_release(handle)
    return message


def _header(version: int, sub_category: int, time: datetime, origin: Origin) -> dict[str, int]:
    return {
        "edition": 4,
        "masterTableNumber": 0,
        "bufrHeaderCentre": origin.centre,
        "bufrHeaderSubCentre": origin.sub_centre,
        "updateSequenceNumber": origin.update,
        "dataCategory": DATA_CATEGORY,
        "internationalDataSubCategory": sub_category,
        "dataSubCategory": 0,
        "masterTablesVersionNumber": version,
        "localTablesVersionNumber": 0,
        "typicalYear": time.year,
        "typicalMonth": time.month,
        "typicalDay": time.day,
        "typicalHour": time.hour,
        "typicalMinute": time.minute,
        "typicalSecond": time.second,
        "numberOfSubsets": 1,
        "observedData": 1,
        "compressedData": 0,
    }


def _set_before(codes: Any, handle: Any, before: Sequence[tuple[Element, Value]]) -> dict[str, int]:
    """Set the elements before the levels; return how often each key was met."""
    ranks: dict[str, int] = {}
    for element, value in before:
        rank = ranks[element.key] = ranks.get(element.key, 0) + 1
        if value is None:
            continue
        key = f"#{rank}#{element.key}"
        if isinstance(value, str):
            codes.codes_set(handle, key, value)
        else:
            codes.codes_set(handle, key, float(round_half_away(float(value), element.step)))
    return ranks


def _arrays(
    blocks: Sequence[tuple[Sequence[Element], Mapping[str, FloatArray]]],
) -> dict[str, FloatArray]:
    """Return one array a key over all blocks, rounded to the step, missing as the library's."""
    arrays: dict[str, list[FloatArray]] = {}
    for elements, columns in blocks:
        turns: dict[str, list[FloatArray]] = {}
        for element in elements:
            own = turns.setdefault(element.key, [])
            given = np.asarray(columns[element.name], np.float64)
            values = given[:, len(own)] if given.ndim == 2 else given
            rounded = round_half_away(np.ascontiguousarray(values), element.step)
            own.append(np.where(np.isnan(rounded), MISSING, rounded))
        for key, parts in turns.items():
            arrays.setdefault(key, []).append(np.stack(parts, axis=1).reshape(-1))
    return {key: np.concatenate(parts) for key, parts in arrays.items()}


def _set_column(codes: Any, handle: Any, key: str, values: FloatArray, rank: int) -> None:
    """Set all values of a key in the levels; those before the levels keep theirs."""
    if len(values) == 0:
        return
    if rank:
        own = [
            codes.codes_get(handle, f"#{place}#{key}", ktype=float) for place in range(1, rank + 1)
        ]
        values = np.concatenate([own, values])
    codes.codes_set_array(handle, key, values)
