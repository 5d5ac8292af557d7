"""BUFR messages through an independent decoder (pybufrkit), for comparison."""

from __future__ import annotations

import math
from functools import cache

from pybufrkit.decoder import Decoder

from encoder.formats.bufr.subset import Block, plain_text


@cache
def decoder():
    """Return the independent decoder; making one reads its tables."""
    return Decoder()


def independent(message: bytes):
    """Return the message as the independent decoder reads it."""
    return decoder().process(message)


def header_of(read):
    """Return the values of section 1 and 3 by name."""
    names = {}
    for section in read.sections:
        for parameter in section:
            names[parameter.name] = parameter.value
    return names


def values_of(read, subset: int = 0):
    """Return descriptors and values of one subset, texts without padding, None for missing."""
    data = read.template_data.value
    descriptors = [str(item) for item in data.decoded_descriptors_all_subsets[subset]]
    values = [
        plain_text(value) if isinstance(value, bytes) else value
        for value in data.decoded_values_all_subsets[subset]
    ]
    return descriptors, values


def flattened(subset):
    """Return descriptors and values of our own subset in the same form, counts included."""
    counts = iter(("031002", "031001"))
    descriptors, values = [], []
    for entry in subset.entries:
        if isinstance(entry, Block):
            descriptors.append(next(counts))
            values.append(len(entry))
            for row in entry.values.tolist():
                descriptors.extend(entry.fxys)
                values.extend(None if math.isnan(value) else value for value in row)
        else:
            descriptors.append(entry.fxy)
            values.append(entry.value)
    return descriptors, values


def differences(subset, read, number: int = 0):
    """Return where our values and the independent ones differ, beyond the noise of doubles."""
    own, theirs = flattened(subset), values_of(read, number)
    assert len(own[1]) == len(theirs[1])
    assert [fxy[-6:] for fxy in own[0]] == [fxy[-6:] for fxy in theirs[0]]
    found = []
    for fxy, one, other in zip(own[0], own[1], theirs[1], strict=True):
        same = one == other
        if isinstance(one, float | int) and isinstance(other, float | int):
            same = abs(one - other) <= 1e-9 * max(1.0, abs(one))
        if not same:
            found.append((fxy, one, other))
    return found
