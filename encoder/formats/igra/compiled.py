"""The level lines of the IGRA layout read by compiled code, a line at a time.

The definition is :func:`encoder.formats.igra.lines.level_columns`; this gives the same columns and
the same faults, sooner. Loading the compiler takes about half a second, which only a large file
gives back; the compiled code is kept in a cache.
"""

from __future__ import annotations

from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.errors import MissingDependencyError
from encoder.formats.igra.layout import FLAG_COLUMNS, HEADER_WIDTH, LEVEL_FIELDS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from encoder.formats.igra.lines import Bytes, Mask

WORTH_IT = 200 << 20
"""Bytes of text for each process from which loading the compiler pays (measured with
tests/benchmarks/bench_convert.py)."""


def available() -> bool:
    """Tell whether the compiler is installed."""
    return find_spec("numba") is not None


def _compiled() -> Any:
    """Return the module of the compiled code.

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
    return compiled_lines


def plain_levels(
    text: bytes | memoryview,
) -> tuple[dict[str, NDArray[Any]], NDArray[np.uint8], NDArray[np.int64], NDArray[np.int64]] | None:
    """Return the levels of a text of soundings whose lines are as most files have them.

    Parameters
    ----------
    text : bytes or memoryview

    Returns
    -------
    levels : dict of str to ndarray, each of shape (level,)
        As of :func:`encoder.formats.igra.lines.level_columns`.
    heads : ndarray of uint8, shape (sounding, 71)
        Headers, not looked into.
    begins, counts : ndarray of int, shape (sounding,)
        First byte of each header, and its number of levels. None instead of all four where a level
        line is wrong or a line has another length.

    Raises
    ------
    MissingDependencyError
        If numba is not installed.
    """
    module = _compiled()
    data = np.frombuffer(text, np.uint8)
    begins = np.empty(len(data) // module.HEADER + 1, dtype=np.int64)
    counts = np.empty_like(begins)
    heads = np.empty((len(begins), HEADER_WIDTH), dtype=np.uint8)
    columns = _empty(len(data) // module.LEVEL + 1)
    columns |= {name: np.empty(len(columns["kind"]), dtype=np.uint8) for name in FLAG_COLUMNS}
    soundings, levels = module.read_plain(data, heads, begins, counts, *columns.values())
    if soundings < 0:
        return None
    taken = {name: column[:levels] for name, column in columns.items()}
    return taken, heads[:soundings], begins[:soundings], counts[:soundings]


def _empty(count: int) -> dict[str, NDArray[Any]]:
    """Return columns to be filled, in the order of the compiled code."""
    columns: dict[str, NDArray[Any]] = {"kind": np.empty(count, dtype=np.int8)}
    return columns | {field.name: np.empty(count, dtype=field.dtype) for field in LEVEL_FIELDS}


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
    columns = _empty(count)
    wrong = np.empty(count, dtype=bool)
    data = np.ascontiguousarray(lines).reshape(-1)
    _compiled().read_lines(data, lines.shape[1], *columns.values(), wrong)
    for name, place in FLAG_COLUMNS.items():
        columns[name] = lines[:, place]
    return columns, wrong
