"""The files as xarray datasets: opened with decoded times, split into soundings, joined again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

import numpy as np

from encoder.errors import InputError, MissingDependencyError

if TYPE_CHECKING:
    import os
    from collections.abc import Sequence

    import xarray


def _xarray() -> Any:
    try:
        import xarray
    except ImportError as fault:
        msg = 'Datasets need xarray: install it with pip install "aerogram[netcdf]".'
        raise MissingDependencyError(msg) from fault
    return xarray


def open_dataset(path: str | os.PathLike[str]) -> xarray.Dataset:
    """Open any product as a dataset in memory: times decoded, texts as strings, values exact.

    Parameters
    ----------
    path : path-like
        A flight file, a level file or a station history.

    Returns
    -------
    xarray.Dataset
        Packed values are whole steps divided by their number, so that 24.4 is 24.4 and not the
        nearest 32-bit float. The encodings are kept: ``to_netcdf`` packs the values again.

    Raises
    ------
    MissingDependencyError
        If xarray is not installed.
    OSError, ValueError
        If the file cannot be opened.
    """
    with _xarray().open_dataset(path, engine="netcdf4", decode_timedelta=False) as opened:
        dataset = opened.load()
    exact = {}
    for name, variable in dataset.variables.items():
        steps = variable.attrs.get("steps_per_unit")
        if steps is not None:
            whole = np.rint(variable.values.astype(np.float64) * int(steps))
            exact[name] = (variable.dims, whole / int(steps), variable.attrs, variable.encoding)
        elif variable.dtype.kind == "S":
            exact[name] = (
                variable.dims,
                np.char.decode(variable.values, "utf-8"),
                variable.attrs,
                variable.encoding,
            )
    return cast(
        "xarray.Dataset",
        dataset.assign({name: _xarray().Variable(*item) for name, item in exact.items()}),
    )


def _ragged(dataset: xarray.Dataset) -> tuple[str, str, str]:
    """Return the names of the count variable, its dimension and the sample dimension.

    Raises
    ------
    InputError
        If the dataset is no contiguous ragged array.
    """
    for name, variable in dataset.variables.items():
        sample = variable.attrs.get("sample_dimension")
        if sample is not None and len(variable.dims) == 1 and sample in dataset.sizes:
            return str(name), str(variable.dims[0]), str(sample)
    msg = (
        "Expected a contiguous ragged dataset, a variable with the attribute sample_dimension "
        f"(CF 9.3.3); found {', '.join(str(name) for name in dataset.variables)}."
    )
    raise InputError(msg)


def split_soundings(dataset: xarray.Dataset) -> list[xarray.Dataset]:
    """Return the soundings of a contiguous ragged dataset, one dataset each.

    Parameters
    ----------
    dataset : xarray.Dataset
        A station history from :func:`open_dataset`, or any contiguous ragged CF dataset.

    Returns
    -------
    list of xarray.Dataset
        Each with one entry along the dimension of the soundings and its own levels;
        :func:`join_soundings` gives back an identical dataset.

    Raises
    ------
    InputError
        If the dataset is not ragged, or its counts do not fit its levels.
    """
    count, profile, sample = _ragged(dataset)
    sizes = dataset[count].values.astype(np.int64)
    ends = np.cumsum(sizes)
    total = dataset.sizes[sample]
    if len(sizes) and (int(ends[-1]) != total or sizes.min() < 0):
        msg = f"The counts of {count} add up to {int(ends[-1])} levels, the dataset has {total}."
        raise InputError(msg)
    return [
        dataset.isel({profile: slice(place, place + 1), sample: slice(int(end - size), int(end))})
        for place, (size, end) in enumerate(zip(sizes, ends, strict=True))
    ]


def join_soundings(soundings: Sequence[xarray.Dataset]) -> xarray.Dataset:
    """Return soundings as one contiguous ragged dataset; inverse of :func:`split_soundings`.

    Parameters
    ----------
    soundings : sequence of xarray.Dataset
        With the same variables.

    Raises
    ------
    InputError
        If there is none, or their variables differ.
    """
    if not soundings:
        msg = "Expected at least one sounding."
        raise InputError(msg)
    first = soundings[0]
    _count, profile, sample = _ragged(first)
    if any(set(item.variables) != set(first.variables) for item in soundings):
        msg = "Expected soundings with the same variables."
        raise InputError(msg)
    variables = {}
    for name, variable in first.variables.items():
        along = next((dim for dim in (profile, sample) if dim in variable.dims), None)
        if along is None:
            variables[name] = variable
            continue
        axis = variable.dims.index(along)
        values = np.concatenate([item.variables[name].values for item in soundings], axis=axis)
        variables[name] = _xarray().Variable(
            variable.dims, values, variable.attrs, variable.encoding
        )
    joined = _xarray().Dataset(
        {name: item for name, item in variables.items() if name not in first.coords},
        {name: item for name, item in variables.items() if name in first.coords},
        first.attrs,
    )
    joined.encoding = dict(first.encoding)
    return cast("xarray.Dataset", joined)
