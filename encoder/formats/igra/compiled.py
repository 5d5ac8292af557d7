"""The level lines of the IGRA layout read by compiled code, a line at a time.

The definition is :func:`encoder.formats.igra.lines.level_columns`; this gives the same columns and
the same faults, sooner. Loading the compiler takes a good half second, which only a large file
gives back; the compiled code is kept in a cache.
"""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.errors import MissingDependencyError
from encoder.formats.igra.layout import FLAG_COLUMNS, LEVEL_FIELDS

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from encoder.formats.igra.lines import Bytes, Mask

WORTH_IT = 400 << 20
"""Bytes of text for each process from which loading the compiler pays (measured with
tests/benchmarks/bench_convert.py)."""


def available() -> bool:
    """Tell whether the compiler is installed."""
    return find_spec("numba") is not None


@cache
def _compiled() -> Callable[..., None]:
    """Return the compiled reader.

    Raises
    ------
    MissingDependencyError
        If numba is not installed.
    """
    try:
        from encoder.formats.igra import compiled_lines
    except ImportError as fault:
        msg = 'Compiled reading needs numba: install it with pip install "aerogram[compiled]".'
        raise MissingDependencyError(msg) from fault
    read: Callable[..., None] = compiled_lines.read_lines
    return read


def level_columns(lines: Bytes) -> tuple[dict[str, NDArray[Any]], Mask]:
    """Return the columns of level lines, as :func:`encoder.formats.igra.lines.level_columns`.

    Parameters
    ----------
    lines : ndarray of uint8, shape (line, 52 or more)

    Returns
    -------
    columns : dict of str to ndarray, each of shape (line,)
    wrong : ndarray of bool, shape (line,)

    Raises
    ------
    MissingDependencyError
        If numba is not installed.
    """
    count = len(lines)
    columns: dict[str, NDArray[Any]] = {"kind": np.empty(count, dtype=np.int8)}
    columns |= {field.name: np.empty(count, dtype=field.dtype) for field in LEVEL_FIELDS}
    wrong = np.empty(count, dtype=bool)
    _compiled()(np.ascontiguousarray(lines), *columns.values(), wrong)
    for name, place in FLAG_COLUMNS.items():
        columns[name] = lines[:, place]
    return columns, wrong
