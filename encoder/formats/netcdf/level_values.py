"""Level columns as stored values with their attributes, and back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from encoder import physics
from encoder.columns import LEVEL_COLUMNS
from encoder.formats.netcdf.declare import MISSING
from encoder.formats.netcdf.level_product import (
    ALWAYS,
    BY_HEIGHT,
    CODE_RESOLUTION,
    COORDINATES,
    LEVELS,
    OF_LEVEL,
)
from encoder.formats.netcdf.packing import (
    exact,
    fill_as_flag,
    packing_attributes,
    packing_of,
    unpacked,
)
from encoder.formats.netcdf.quantities import NO_STANDARD_NAME
from encoder.sounding import STATUS_COLUMNS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from encoder.profile import FloatArray
    from encoder.sounding import StatusArray

DERIVED = ("dew_point_temperature", "relative_humidity")
"""Columns that need not be stored where they follow exactly from temperature and depression."""


def stored_name(name: str) -> str:
    """Return the name of the variable that holds a level column."""
    return OF_LEVEL.get(name, name)


def derived(columns: Mapping[str, FloatArray], formula: str) -> dict[str, FloatArray]:
    """Return dew point and relative humidity as decoding computes them."""
    dew_point = columns["air_temperature"] - columns["dew_point_depression"]
    with np.errstate(all="ignore"):  # of impossible temperatures nothing follows
        humidity = physics.relative_humidity(columns["air_temperature"], dew_point, formula)
    return {"dew_point_temperature": dew_point, "relative_humidity": np.atleast_1d(humidity)}


def values_of_levels(
    columns: Mapping[str, FloatArray],
    kinds: Any,
    status: Mapping[str, StatusArray],
    *,
    formula: str,
    coded: bool,
) -> tuple[dict[str, Any], dict[str, dict[str, Any]], dict[str, Any]]:
    """Return what is stored of levels.

    Parameters
    ----------
    columns : mapping of str to ndarray, shape (level,)
        By :data:`encoder.columns.LEVEL_COLUMNS`.
    kinds : ndarray of int
    status : mapping of str to ndarray of int8
    formula : str
        Vapour-pressure formula.
    coded : bool
        Whether the values are on the steps of the alphanumeric code.

    Returns
    -------
    values : dict of str to ndarray
    attributes : dict of str to dict
        Those of each file: packing, resolution.
    record : dict
        JSON object: ``derived``, the columns that :func:`derived` gives back exactly and that are
        not stored, and ``formula``.
    """
    values: dict[str, Any] = {}
    attributes: dict[str, dict[str, Any]] = {}
    given = {name for name in LEVEL_COLUMNS if np.isfinite(columns[name]).any()}
    left_out: tuple[str, ...] = ()
    if given.intersection(DERIVED):
        again = derived(columns, formula)
        left_out = tuple(
            name
            for name in DERIVED
            if name in given and np.array_equal(again[name], columns[name], equal_nan=True)
        )
    by_height = "air_pressure" not in given and "geopotential_height" in given
    for name in LEVEL_COLUMNS:
        if name == "air_pressure" and by_height:
            continue
        if name in left_out or (name not in given and name not in ALWAYS):
            continue
        figures, packing = exact(name, columns[name])
        place = stored_name(name)
        values[place] = figures
        attributes[place] = packing_attributes(packing)
        if name in NO_STANDARD_NAME:
            attributes[place]["flag_values"] = fill_as_flag(figures.dtype.str[1:])
        if coded and name in CODE_RESOLUTION:
            attributes[place]["code_resolution"] = CODE_RESOLUTION[name]
    for name in STATUS_COLUMNS:
        values[f"{name}_status"] = status[name]
    values["level_type"] = np.asarray(kinds).astype(np.int32)
    if by_height:
        attributes["geopotential_height"]["axis"] = "Z"
        for name in values:
            if LEVELS.variable(name).attributes.get("coordinates") == COORDINATES:
                attributes.setdefault(name, {})["coordinates"] = BY_HEIGHT
    return values, attributes, {"derived": list(left_out), "formula": formula}


def vertical_of(
    values: Mapping[str, Any], attributes: Mapping[str, Mapping[str, Any]]
) -> tuple[FloatArray, str, str]:
    """Return the vertical coordinate as a reader of the file has it, its name and its unit."""
    axis = "air_pressure" if "air_pressure" in values else "geopotential_height"
    own = attributes[axis]
    figures = values[axis]
    missing = MISSING[own.get("dtype", "f8")]
    numbers = np.where(figures == missing, np.nan, figures.astype(np.float64))
    if "steps_per_unit" in own:
        numbers = numbers * float(own["scale_factor"])
    return numbers, axis, str(own.get("units", "hPa" if axis == "air_pressure" else "m"))


def levels_of_dataset(
    dataset: Any, record: Mapping[str, Any]
) -> tuple[dict[str, FloatArray], Any, dict[str, StatusArray]]:
    """Return level columns, kinds and status of an open file.

    Parameters
    ----------
    dataset : netCDF4.Dataset
    record : mapping
        As :func:`values_of_levels` gives it.

    Raises
    ------
    KeyError, ValueError, IndexError
        If a variable is missing or of another packing.
    """
    variables = dataset.variables
    kinds = np.asarray(variables["level_type"][...]).astype(np.int64)
    columns: dict[str, FloatArray] = {}
    for name in LEVEL_COLUMNS:
        place = stored_name(name)
        if place not in variables:
            if name in ALWAYS and name != "air_pressure":
                raise KeyError(place)
            columns[name] = np.full(len(kinds), np.nan)
            continue
        variable = variables[place]
        figures = np.asarray(variable[...])
        packing = packing_of(variable, name)
        columns[name] = (
            np.where(figures == MISSING["f8"], np.nan, figures)
            if packing is None
            else unpacked(figures, packing)
        )
    if record["derived"]:
        again = derived(columns, record["formula"])
        columns |= {name: again[name] for name in record["derived"]}
    status = {
        name: np.asarray(variables[f"{name}_status"][...]).astype(np.int8)
        for name in STATUS_COLUMNS
    }
    return columns, kinds, status
