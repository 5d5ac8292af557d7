"""Compressed chunks made outside the netCDF library and put into its file as they are.

The library compresses with zlib under one lock and that takes most of the time of writing. Here the
same two filters (shuffle, deflate) are applied by a faster deflate, which lets other threads run.
The file is an ordinary netCDF-4 file of the same content.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.errors import MissingDependencyError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

LEAST_BYTES = 1 << 14
"""Smaller variables are left to the library."""
SHIFTED_BYTES = 4
"""Values of up to so many bytes are taken apart by shifting, which is sooner than by strides."""


def available() -> bool:
    """Tell whether the libraries for it are installed."""
    from importlib.util import find_spec

    return find_spec("h5py") is not None and find_spec("isal") is not None


def is_worth_it(array: Any) -> bool:
    """Tell whether an array is large enough, and of one dimension or rows of characters."""
    return bool(array.nbytes >= LEAST_BYTES and array.ndim in (1, 2))


def write_chunks(path: str, arrays: Mapping[str, Any]) -> dict[str, list[int]]:
    """Fill variables of a file that is complete but for their values.

    Parameters
    ----------
    path : str
    arrays : mapping of str to ndarray
        By variable, of the shape and type of the variable.

    Returns
    -------
    dict of str to list of int
        CRC-32 of the bytes of every chunk, shuffled and not compressed.

    Raises
    ------
    MissingDependencyError
        If h5py or isal is not installed.
    OSError
        If the file cannot be written.
    """
    try:
        import h5py
        from isal import isal_zlib
    except ImportError as fault:
        msg = 'Fast writing needs isal and h5py: install them with pip install "aerogram[fast]".'
        raise MissingDependencyError(msg) from fault
    checksums: dict[str, list[int]] = {}
    with h5py.File(path, "r+") as file:
        for name, array in arrays.items():
            made = checksums.setdefault(name, [])
            dataset = file[name]
            values = np.ascontiguousarray(array, dtype=dataset.dtype)
            rows = dataset.chunks[0]
            for begin in range(0, len(values), rows):
                block = values[begin : begin + rows]
                if len(block) < rows:  # a chunk at the edge is whole in the file
                    whole = np.full((rows, *values.shape[1:]), dataset.fillvalue, values.dtype)
                    whole[: len(block)] = block
                    block = whole
                data = _shuffled(block) if dataset.shuffle else block.tobytes()
                place = (begin, *(0 for _ in values.shape[1:]))
                dataset.id.write_direct_chunk(place, isal_zlib.compress(data, 1))
                made.append(isal_zlib.crc32(data))
    return checksums


def same_chunks(path: str, checksums: Mapping[str, Sequence[int]]) -> dict[str, bool]:
    """Inflate the chunks of variables of a file and compare them with what was given to it.

    Parameters
    ----------
    path : str
    checksums : mapping of str to sequence of int
        Of :func:`write_chunks`.

    Returns
    -------
    dict of str to bool
        Whether every chunk of a variable inflates to bytes of its checksum, which was made of the
        values themselves.

    Raises
    ------
    OSError
        If the file cannot be read.
    """
    import h5py
    from isal import isal_zlib

    same: dict[str, bool] = {}
    damaged: Any = isal_zlib.IsalError
    with h5py.File(path, "r") as file:
        for name, expected in checksums.items():
            dataset = file.get(name)
            if dataset is None or dataset.chunks is None:
                same[name] = False
                continue
            rows = dataset.chunks[0]
            most = int(np.prod(dataset.chunks)) * dataset.dtype.itemsize
            found = []
            for begin in range(0, dataset.shape[0], rows):
                place = (begin, *(0 for _ in dataset.shape[1:]))
                _mask, data = dataset.id.read_direct_chunk(place)
                try:
                    found.append(isal_zlib.crc32(isal_zlib.decompress(data, bufsize=most)))
                except damaged:
                    found.append(-1)
            same[name] = found == list(expected)
    return same


def _shuffled(block: Any) -> bytes:
    """Return the first bytes of all values, then the second ones, and so on."""
    size = block.dtype.itemsize
    if size == 1:
        return bytes(block.tobytes())
    if size > SHIFTED_BYTES:
        return np.ascontiguousarray(block.view(np.uint8).reshape(-1, size).T).tobytes()
    figures = block.reshape(-1).view(f"<u{size}")
    made = np.empty((size, len(figures)), dtype=np.uint8)
    for place in range(size):
        np.copyto(made[place], figures >> np.array(8 * place, figures.dtype), casting="unsafe")
    return made.tobytes()
