"""Finding a sounding in a CF file of others: by standard name, units and attributes, not by name.

What the file holds is found from its metadata alone: quantities by ``standard_name``, coordinates
also by their units (CF 4.1, 4.2, 4.4), ragged arrays by ``sample_dimension`` and
``instance_dimension`` (CF 9.3). Variables that are not understood are listed.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.diagnostics import Diagnostic, diagnostic

if TYPE_CHECKING:
    from encoder.profile import FloatArray

QUANTITIES: dict[str, str] = {
    "air_pressure": "air_pressure",
    "geopotential_height": "geopotential_height",
    "altitude": "altitude",
    "height_above_mean_sea_level": "altitude",
    "height_above_geoid": "altitude",
    "air_temperature": "air_temperature",
    "relative_humidity": "relative_humidity",
    "dew_point_temperature": "dew_point_temperature",
    "dew_point_depression": "dew_point_depression",
    "wind_from_direction": "wind_from_direction",
    "wind_to_direction": "wind_to_direction",
    "wind_speed": "wind_speed",
    "eastward_wind": "eastward_wind",
    "northward_wind": "northward_wind",
    "latitude": "latitude",
    "longitude": "longitude",
    "time": "time",
}
"""Standard names that are understood, with the column each becomes."""

FACTS: dict[str, str] = {
    "platform_name": "name",
    "platform_id": "identifier",
    "station_wmo_id": "identifier",
    "surface_altitude": "elevation",
}
"""Standard names of facts about the station."""

_NORTH = {f"degree{s}{tail}" for s in ("", "s") for tail in ("_north", "_N", "N")}
_EAST = {f"degree{s}{tail}" for s in ("", "s") for tail in ("_east", "_E", "E")}


@dataclass(slots=True)
class Found:
    """What a file holds.

    Attributes
    ----------
    sample : str
        Dimension of the levels.
    instance : str or None
        Dimension of the soundings, None for a single one.
    count : str or None
        Variable with the number of levels of each sounding (contiguous ragged).
    index : str or None
        Variable with the sounding of each level (indexed ragged).
    rows : dict of str to str
        Variable with one value a level, by column.
    single : dict of str to str
        Variable with one value a sounding, by column or fact.
    unused : list of str
        Variables not understood.
    diagnostics : list of Diagnostic
    """

    sample: str = ""
    instance: str | None = None
    count: str | None = None
    index: str | None = None
    rows: dict[str, str] = field(default_factory=dict)
    single: dict[str, str] = field(default_factory=dict)
    unused: list[str] = field(default_factory=list)
    diagnostics: list[Diagnostic] = field(default_factory=list)


def attribute(variable: Any, name: str) -> Any:
    """Return an attribute of a variable, None where it has none."""
    return variable.getncattr(name) if name in variable.ncattrs() else None


def is_text(variable: Any) -> bool:
    """Tell whether a variable holds characters or strings."""
    return variable.dtype is str or variable.dtype.kind in "SU"


def meaning(variable: Any) -> str | None:
    """Return what a variable holds: a column, a fact, or None where it is not understood."""
    name = attribute(variable, "standard_name")
    if isinstance(name, str) and name.strip():
        return QUANTITIES.get(name.strip()) or FACTS.get(name.strip())
    units = attribute(variable, "units")
    if not isinstance(units, str):
        return None
    if units in _NORTH:
        return "latitude"
    if units in _EAST:
        return "longitude"
    if " since " in units or attribute(variable, "axis") == "T":
        return "time"
    return None


def find(dataset: Any) -> Found:
    """Return what an open dataset holds.

    Parameters
    ----------
    dataset : netCDF4.Dataset

    Returns
    -------
    Found
        ``sample`` is empty where there is no air temperature along a dimension.
    """
    found = Found()
    meanings = {name: meaning(variable) for name, variable in dataset.variables.items()}
    for name, variable in dataset.variables.items():
        if attribute(variable, "sample_dimension") is not None:
            found.count = name
        elif attribute(variable, "instance_dimension") is not None:
            found.index = name
    temperature = next(
        (
            dataset.variables[name]
            for name, word in meanings.items()
            if word == "air_temperature" and dataset.variables[name].ndim in (1, 2)
        ),
        None,
    )
    if temperature is None:
        found.unused = list(dataset.variables)
        return found
    _dimensions(dataset, temperature, found)
    for name, word in meanings.items():
        if name in (found.count, found.index):
            continue
        place = None if word is None else _place(dataset.variables[name], found)
        if word is None or place is None:
            found.unused.append(name)
        elif word in place:
            first, other = place[word], name
            if _has_axis(dataset, other) and not _has_axis(dataset, first):
                first, other = other, first  # the coordinate, not one beside it
            place[word] = first
            found.unused.append(other)
            found.diagnostics.append(
                diagnostic(
                    "netcdf-quantity-twice",
                    f"{first} and {other} both give {word}; {first} is used.",
                    path=(other,),
                    value=other,
                )
            )
        else:
            place[word] = name
    return found


def _has_axis(dataset: Any, name: str) -> bool:
    return attribute(dataset.variables[name], "axis") is not None


def _dimensions(dataset: Any, temperature: Any, found: Found) -> None:
    dims = temperature.dimensions
    if len(dims) == 1:
        found.sample = dims[0]
        if found.count is not None:
            (found.instance,) = dataset.variables[found.count].dimensions or (None,)
        elif found.index is not None:
            found.instance = attribute(dataset.variables[found.index], "instance_dimension")
        return
    ids = [item for item in dataset.variables.values() if attribute(item, "cf_role") is not None]
    named = {dim for item in ids for dim in item.dimensions[:1]}
    one_each = {
        item.dimensions[0]
        for item in dataset.variables.values()
        if item.ndim == 1 and meaning(item) in ("time", "latitude", "longitude")
    }
    candidates = [dim for dim in dims if dim in named] or [dim for dim in dims if dim in one_each]
    found.instance = candidates[0] if candidates else dims[0]
    found.sample = dims[1] if found.instance == dims[0] else dims[0]


def _place(variable: Any, found: Found) -> dict[str, str] | None:
    """Return where a variable belongs: among the rows, the single values, or nowhere."""
    dims = tuple(variable.dimensions)
    if is_text(variable):
        characters = variable.dtype is not str and variable.dtype.kind == "S"
        texts = dims[:-1] if characters and dims else dims
        return found.single if texts in ((), (found.instance,)) else None
    if found.sample in dims:
        return found.rows if set(dims) <= {found.sample, found.instance} else None
    return found.single if dims in ((), (found.instance,)) else None


# --- values -----------------------------------------------------------------------------------


def numbers(variable: Any, part: Any) -> FloatArray:
    """Return stored values as they are meant: unpacked, NaN where missing.

    Values of 32 bits become the shortest decimal number they stand for: 24.4 as a 32-bit float
    is read as 24.4.

    Parameters
    ----------
    variable : netCDF4.Variable
        Without automatic masking and scaling.
    part : index
    """
    raw = np.asarray(variable[part])
    missing = np.zeros(raw.shape, dtype=np.bool_)
    for name in ("_FillValue", "missing_value"):
        marks = attribute(variable, name)
        for value in np.atleast_1d([] if marks is None else marks):
            missing |= raw == value
    if attribute(variable, "_FillValue") is None and raw.dtype.kind == "f":
        missing |= np.abs(raw) > 9e36  # the default fill value of the library
    low, high = _valid(variable)
    if low is not None:
        missing |= raw < low
    if high is not None:
        missing |= raw > high
    scale, offset = attribute(variable, "scale_factor"), attribute(variable, "add_offset")
    narrow = raw.dtype == np.float32
    values = raw.astype(np.float64)
    if scale is not None or offset is not None:
        kinds = [np.asarray(item).dtype for item in (scale, offset) if item is not None]
        narrow = all(kind == np.float32 for kind in kinds)
        values = values * float(1.0 if scale is None else scale)
        values = values + float(0.0 if offset is None else offset)
    if narrow:
        values = values.astype(np.float32).astype("U").astype(np.float64)
    return np.where(missing, np.nan, values)


def _valid(variable: Any) -> tuple[Any, Any]:
    limits = attribute(variable, "valid_range")
    if limits is not None and np.size(limits) == 2:
        return limits[0], limits[1]
    return attribute(variable, "valid_min"), attribute(variable, "valid_max")


def text(variable: Any, place: int | None) -> str:
    """Return a text of a character or string variable, of one sounding where it has many."""
    if variable.dtype is str or variable.dtype.kind == "U":
        values = np.asarray(variable[...], dtype=object).reshape(-1)
        return str(values[place or 0]) if len(values) else ""
    if variable.dtype.kind != "S":
        value = np.asarray(variable[...]).reshape(-1)
        return f"{value[place or 0]:g}" if len(value) else ""
    data = np.asarray(variable[...])
    if data.ndim > 1 and place is not None:
        data = data[place]
    return data.tobytes().rstrip(b"\0 ").decode("utf-8", errors="replace")
