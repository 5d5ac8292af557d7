"""A digest of what a netCDF file says, whichever library wrote and compressed it.

Names, dimensions, attributes and values count; chunks, compression, the order of variables and the
byte order do not. Two files of one digest are equal to every reader.
"""

from __future__ import annotations

import hashlib
import json
from typing import Any

import numpy as np


def content_digest(dataset: Any) -> str:
    """Return the BLAKE2b digest (256 bits) of the content of an open dataset.

    Parameters
    ----------
    dataset : netCDF4.Dataset
        Without masking, scaling or joining of characters.
    """
    count = hashlib.blake2b(digest_size=32)
    _add_group(count, "", dataset)
    return count.hexdigest()


def _add_group(count: Any, name: str, group: Any) -> None:
    sizes = {key: len(item) for key, item in sorted(group.dimensions.items())}
    _add(count, ["group", name, sizes, _attributes(group)])
    for key in sorted(group.variables):
        variable = group.variables[key]
        values = np.asarray(variable[...])
        _add(count, [key, list(variable.dimensions), list(values.shape), _attributes(variable)])
        _add_values(count, values)
    for key in sorted(group.groups):
        _add_group(count, key, group.groups[key])


def _attributes(item: Any) -> dict[str, Any]:
    return {key: _plain(item.getncattr(key)) for key in sorted(item.ncattrs())}


def _plain(value: Any) -> Any:
    """Return an attribute as type and bytes, so that no figure of a float is lost."""
    if isinstance(value, str):
        return value
    if isinstance(value, list):
        return [_plain(item) for item in value]
    array = _little_endian(np.asarray(value))
    return [array.dtype.str, array.tobytes().hex()]


def _add(count: Any, what: Any) -> None:
    count.update(json.dumps(what, sort_keys=True, separators=(",", ":")).encode("utf-8") + b"\n")


def _add_values(count: Any, values: Any) -> None:
    if values.dtype.kind in "OU":
        _add(count, [str(item) for item in values.reshape(-1).tolist()])
        return
    values = _little_endian(values)
    _add(count, values.dtype.str)
    count.update(np.ascontiguousarray(values).tobytes())


def _little_endian(values: Any) -> Any:
    return values.astype(values.dtype.newbyteorder("<"), copy=False)
