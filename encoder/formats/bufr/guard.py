"""Is a message worth handing to the coding library: descriptors that hold together, and a sounding.

The library is written in C and trusts the descriptors of section 3; corrupted ones can end the
process. What is found here costs microseconds and keeps most of such messages away from it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.diagnostics import Diagnostic, diagnostic

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.formats.bufr.sections import MessageHeader

MOST_REPETITIONS = 100_000
"""Most elements that fixed replications of section 3 may stand for."""
MOST_SUBSETS_PER_OCTET = 16
"""A compressed subset takes at least a part of a bit of some element; a plain one takes whole
octets. More subsets than this in an octet of data is a corrupted count (common practice)."""
_COUNTS = frozenset({"031000", "031001", "031002", "031011", "031012"})
_OPERATORS = frozenset({1, 2, 3, 4, 5, 6, 7, 8, 21, 22, 23, 24, 25, 32, 35, 36, 37})
"""Y may be any in operators 2 01 to 2 08 and those of quality information (BUFR Table C)."""
_VERTICAL = frozenset({"007004", "007009"})
_SOUNDING_SEQUENCES = ("303", "309")


def refusal(header: MessageHeader) -> Diagnostic | None:
    """Return why a message is not handed to the coding library, None where it is.

    Parameters
    ----------
    header : MessageHeader
    """
    descriptors = header.descriptors
    if not may_be_sounding(descriptors):
        return diagnostic(
            "bufr-no-sounding",
            "No levels: the descriptors name no sounding and no pressure or height coordinate.",
            value=" ".join(descriptors[:8]),
        )
    fault = structure_fault(descriptors)
    if fault is None and header.subsets == 0:
        fault = "there is no subset"
    octets = header.data[1] - header.data[0]
    if fault is None and header.subsets > MOST_SUBSETS_PER_OCTET * max(octets, 1):
        fault = f"{header.subsets} subsets cannot be in {octets} octets"
    if fault is None:
        return None
    return diagnostic("bufr-not-decodable", f"The message cannot be decoded: {fault}.")


def may_be_sounding(descriptors: Sequence[str]) -> bool:
    """Tell whether descriptors name a sounding, or a vertical coordinate of one."""
    return any(fxy in _VERTICAL or fxy[:3] in _SOUNDING_SEQUENCES for fxy in descriptors)


def structure_fault(descriptors: Sequence[str]) -> str | None:
    """Return what does not hold together in the descriptors of section 3, None where all does.

    Parameters
    ----------
    descriptors : sequence of str

    Notes
    -----
    WMO-No. 306 Volume I.2, FM 94 BUFR, regulations on replication (F = 1) and operators (F = 2).
    """
    try:
        _check(descriptors, 1)
    except ValueError as fault:
        return str(fault)
    return None


def _check(descriptors: Sequence[str], repeated: int) -> None:
    at = 0
    while at < len(descriptors):
        fxy = descriptors[at]
        if fxy[0] == "1":
            at = _check_replication(descriptors, at, repeated)
            continue
        if fxy[0] == "2" and int(fxy[1:3]) not in _OPERATORS:
            msg = f"operator {fxy} is not known"
            raise ValueError(msg)
        at += 1


def _check_replication(descriptors: Sequence[str], at: int, repeated: int) -> int:
    """Check one replication; return where it ends."""
    fxy = descriptors[at]
    count, times = int(fxy[1:3]), int(fxy[3:])
    begin = at + 1
    if times == 0:
        if begin >= len(descriptors) or descriptors[begin] not in _COUNTS:
            msg = f"replication {fxy} is not followed by its count"
            raise ValueError(msg)
        begin += 1
    inside = descriptors[begin : begin + count]
    if count == 0 or len(inside) != count:
        msg = f"replication {fxy} goes beyond the last descriptor"
        raise ValueError(msg)
    total = repeated * max(times, 1)
    if total * count > MOST_REPETITIONS:
        msg = f"replication {fxy} stands for more than {MOST_REPETITIONS} elements"
        raise ValueError(msg)
    _check(inside, total)
    return begin + count
