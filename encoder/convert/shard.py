"""Shards: what a unit of work leaves for the station files, as plain arrays in one file each.

A shard is a line of JSON (names, types and shapes of the arrays, texts' lengths), then the arrays
one after another. Equal soundings make equal bytes.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.convert.batch import Batch

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

ALIGN = 8


def pack_arrays(facts: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> bytes:
    """Return facts and arrays as bytes."""
    listed = [(name, item.dtype.str, item.shape) for name, item in arrays.items()]
    head = json.dumps({"facts": facts, "arrays": listed}, separators=(",", ":")).encode()
    head += b" " * (-(len(head) + 1) % ALIGN) + b"\n"
    parts = [head]
    for item in arrays.values():
        data = np.ascontiguousarray(item).tobytes()
        parts += [data, b"\0" * (-len(data) % ALIGN)]
    return b"".join(parts)


def unpack_arrays(data: bytes) -> tuple[dict[str, Any], dict[str, NDArray[Any]]]:
    """Return the facts and arrays of bytes; inverse of :func:`pack_arrays`."""
    place = data.index(b"\n") + 1
    head = json.loads(data[: place - 1])
    arrays = {}
    for name, dtype, shape in head["arrays"]:
        kind = np.dtype(dtype)
        count = int(np.prod(shape))
        arrays[name] = np.frombuffer(data, kind, count, place).reshape(shape)
        size = kind.itemsize * count
        place += size + (-size % ALIGN)
    return head["facts"], arrays


def batch_bytes(batch: Batch) -> bytes:
    """Return a batch as the bytes of a shard."""
    arrays = {f"p/{name}": item for name, item in batch.profiles.items()}
    arrays |= {f"l/{name}": item for name, item in batch.levels.items()}
    return pack_arrays(
        {"station": batch.station, "tenths": batch.tenths, "texts": list(batch.texts)}, arrays
    )


def batch_of_bytes(data: bytes) -> Batch:
    """Return the batch of a shard; inverse of :func:`batch_bytes`."""
    facts, arrays = unpack_arrays(data)
    return Batch(
        facts["station"],
        facts["tenths"],
        {name[2:]: item for name, item in arrays.items() if name.startswith("p/")},
        {name[2:]: item for name, item in arrays.items() if name.startswith("l/")},
        tuple(facts["texts"]),
    )
