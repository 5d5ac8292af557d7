"""Fields of bits in rows of equal length, with numpy."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Sequence

CodeArray = NDArray[np.int64]


def unpack_rows(
    data: bytes, first_bit: int, count: int, widths: Sequence[int]
) -> tuple[CodeArray, ...]:
    """Return the fields of equal rows as whole numbers.

    Parameters
    ----------
    data : bytes
    first_bit : int
        Bits before the first row.
    count : int
        Number of rows.
    widths : sequence of int
        Bits of each field of a row, at most 56.

    Returns
    -------
    tuple of ndarray of int64, each of shape (count,)
        One array a field.

    Raises
    ------
    ValueError
        If the data end before the last row.
    """
    row_bits = sum(widths)
    end_bit = first_bit + count * row_bits
    if end_bit > 8 * len(data):
        msg = f"Expected {end_bit} bits, got {8 * len(data)}."
        raise ValueError(msg)
    if count == 0:
        return tuple(np.zeros(0, np.int64) for _ in widths)
    if row_bits % 8 == 0:
        return _unpack_whole_octets(data, first_bit, count, widths)
    first_octet = first_bit // 8
    octets = np.frombuffer(data[first_octet : (end_bit + 7) // 8], np.uint8)
    bits = np.unpackbits(octets)[first_bit % 8 :][: count * row_bits].reshape(count, row_bits)
    fields = []
    at = 0
    for width in widths:
        weights = (1 << np.arange(width - 1, -1, -1)).astype(np.int64)
        fields.append(bits[:, at : at + width].astype(np.int64) @ weights)
        at += width
    return tuple(fields)


def _unpack_whole_octets(
    data: bytes, first_bit: int, count: int, widths: Sequence[int]
) -> tuple[CodeArray, ...]:
    """Unpack rows of whole octets: the bits of a field lie in the same octets of every row."""
    stride = sum(widths) // 8
    first_octet, shift = divmod(first_bit, 8)
    needed = count * stride + 1
    octets = np.frombuffer(data[first_octet : first_octet + needed].ljust(needed, b"\0"), np.uint8)
    rows = np.lib.stride_tricks.as_strided(
        octets, shape=(count, stride + 1), strides=(stride, 1), writeable=False
    )
    columns = np.ascontiguousarray(rows.T).astype(np.int64)
    fields = []
    at = shift
    for width in widths:
        low, high = at // 8, (at + width + 7) // 8
        code = columns[low].copy()
        for place in range(low + 1, high):
            code <<= 8
            code |= columns[place]
        code >>= 8 * high - at - width
        code &= (1 << width) - 1
        fields.append(code)
        at += width
    return tuple(fields)


def pack_rows(fields: Sequence[CodeArray], widths: Sequence[int]) -> NDArray[np.uint8]:
    """Return rows of fields as an array of bits; inverse of :func:`unpack_rows`.

    Parameters
    ----------
    fields : sequence of ndarray of int64, each of shape (row,)
    widths : sequence of int
        Bits of each field.

    Returns
    -------
    ndarray of uint8, shape (row * sum(widths),)
        Zeros and ones, most significant first.

    Raises
    ------
    ValueError
        If a field does not fit into its bits.
    """
    bits = []
    for field, width in zip(fields, widths, strict=True):
        if np.any((field < 0) | (field >> width != 0)):
            msg = f"A value does not fit into {width} bits."
            raise ValueError(msg)
        places = np.arange(width - 1, -1, -1, dtype=np.int64)
        bits.append(((field[:, None] >> places) & 1).astype(np.uint8))
    return np.concatenate(bits, axis=1).reshape(-1)


def number_at(data: bytes, first_bit: int, width: int) -> int:
    """Return one field of bits as a whole number.

    Raises
    ------
    ValueError
        If the data end before it does.
    """
    end = first_bit + width
    if end > 8 * len(data):
        msg = f"Expected {end} bits, got {8 * len(data)}."
        raise ValueError(msg)
    low, high = first_bit // 8, (end + 7) // 8
    number = int.from_bytes(data[low:high], "big") >> (8 * high - end)
    return number & ((1 << width) - 1)
