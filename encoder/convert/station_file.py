"""Writing a converted station history and reading it back, for the proof that all of it arrived."""

from __future__ import annotations

import json
import os
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from encoder.archive import Service
from encoder.columns import LEVEL_COLUMNS
from encoder.convert.batch import (
    LEVEL_TYPES,
    MARKS,
    NO_TYPE,
    TENTHS,
    Batch,
    fill_of,
    profile_columns,
)
from encoder.formats.netcdf.container import opened, text_of, write
from encoder.formats.netcdf.converted_product import CONVERTED
from encoder.formats.netcdf.declare import MISSING
from encoder.formats.netcdf.discovery import coverage, discovery, extents, iso, moment
from encoder.formats.netcdf.facts_text import compact, station_as_json
from encoder.formats.netcdf.history_file import characters
from encoder.formats.netcdf.level_product import BY_HEIGHT, COORDINATES
from encoder.formats.netcdf.level_values import (
    levels_of_dataset,
    stored_name,
    values_of_levels,
    vertical_of,
)
from encoder.formats.netcdf.packing import fill_as_flag, packing_attributes
from encoder.formats.netcdf.quantities import NO_STANDARD_NAME
from encoder.profile import Station
from encoder.sounding import NOT_REPORTED, REMOVED, STATUS_COLUMNS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

_MARK_NAMES = dict(
    zip(
        MARKS,
        (f"{name}_climatology_check" for name in ("pressure", "height", "temperature")),
        strict=True,
    )
)
_IGRA_TEXTS = ("header_station", "pressure_source", "other_source")
_WRITTEN_SOURCE = "source_offset"


def stored_values(
    batch: Batch, formula: str
) -> tuple[dict[str, Any], dict[str, dict[str, Any]], dict[str, Any]]:
    """Return what is stored of the levels of a batch: values, attributes and record.

    Quantities in tenths are stored as they are; floats as
    :func:`encoder.formats.netcdf.level_values.values_of_levels` stores them.
    """
    kinds = batch.levels["kinds"]
    if not batch.tenths:
        return values_of_levels(
            {name: batch.levels[name] for name in LEVEL_COLUMNS},
            kinds,
            {name: batch.levels[f"{name}_status"] for name in STATUS_COLUMNS},
            formula=formula,
            coded=bool(batch.texts) and all(batch.texts),
        )
    values: dict[str, Any] = {}
    attributes: dict[str, dict[str, Any]] = {}
    for name, packing in TENTHS.items():
        figures = batch.levels[name]
        if name in ("time", "relative_humidity") and not (figures != fill_of(name)).any():
            continue
        values[stored_name(name)] = figures
        attributes[stored_name(name)] = packing_attributes(packing)
        if name in NO_STANDARD_NAME:
            attributes[stored_name(name)]["flag_values"] = fill_as_flag(packing.dtype)
    for name in STATUS_COLUMNS:
        values[f"{name}_status"] = batch.levels[f"{name}_status"]
    values["level_type"] = kinds
    if not (batch.levels["air_pressure"] != fill_of("air_pressure")).any():
        attributes["air_pressure"]["axis"] = None
        attributes["geopotential_height"]["axis"] = "Z"
    return values, attributes, {"derived": [], "formula": formula}


class Written(NamedTuple):
    """What was given to a file.

    Attributes
    ----------
    values : mapping of str to array, number or str
        By variable.
    checksums : mapping of str to sequence of int
        Of the chunks of variables compressed outside the library.
    """

    values: Mapping[str, Any]
    checksums: Mapping[str, Sequence[int]] = MappingProxyType({})


def write_converted(
    path: str | os.PathLike[str],
    batch: Batch,
    station: Station,
    *,
    selection: NDArray[Any],
    sources: Sequence[Mapping[str, Any]],
    repairs: Sequence[Mapping[str, Any]] = (),
    remarks: Sequence[str],
    formula: str = "wmo-49",
    service: Service | None = None,
    fast: bool = False,
) -> Written:
    """Write a station file.

    Parameters
    ----------
    path : path-like
        An older file of that name is replaced once the new one is complete.
    batch : Batch
        In the order of nominal time, ``source_index`` pointing into ``sources``.
    station : Station
    selection : ndarray of int, shape (sounding,)
        Index of :data:`encoder.formats.netcdf.converted_product.SELECTION_WORDS`.
    sources : sequence of mapping
        Name, digest and kind of every source.
    repairs : sequence of mapping
        Groups of coded text that were read as something else.
    remarks : sequence of str
        One line for every change of the file.
    formula : str
        Vapour-pressure formula of computed humidities.
    service : Service, optional
    fast : bool
        Compress outside the library; the same content.

    Returns
    -------
    Written
        What was given to the file, to compare a second reading with.

    Raises
    ------
    OSError
        If the file cannot be written.
    """
    profiles = batch.profiles
    values, own, record = stored_values(batch, formula)
    numbers, axis, unit = _vertical(values, own)
    name = batch.station
    first, last = float(profiles["time"].min()), float(profiles["time"].max())
    gaps = np.diff(np.unique(profiles["nominal_time"]))
    facts = discovery(
        CONVERTED,
        title=f"Soundings of {station.name} ({name})",
        summary=(
            f"{len(batch):,} upper-air soundings of {station.name} ({name}) with "
            f"{len(batch.levels['kinds']):,} levels, from {iso(moment(first))} to "
            f"{iso(moment(last))}, values as the sources had them."
        ),
        identifier=f"{name}_history",
        station=station,
        service=service or Service(),
        created=moment(last),
        history=remarks,
        source="; ".join(sorted({str(item["kind"]) for item in sources})),
        level="levels as the sources had them, findings of quality checks as flags",
        keywords=("air_pressure", "air_temperature", "dew_point_depression", "wind_speed"),
        instrument="radiosonde, pilot balloon",
        comment=(
            "Levels of sounding i are row_size[i] values from the sum of the row_size before it. "
            "Of several soundings of one time the one with the most values is current; the others "
            "are marked as superseded, and selection says why."
        ),
        extent={
            **extents(profiles["latitude"], profiles["longitude"], numbers, axis, unit),
            **coverage(moment(first), moment(last), float(np.median(gaps)) if len(gaps) else 0.0),
        },
    )
    values |= {
        "row_size": profiles["row_size"].astype(np.int32),
        "time": profiles["time"],
        "nominal_time": profiles["nominal_time"],
        "latitude": profiles["latitude"],
        "longitude": profiles["longitude"],
        "superseded": (selection >= 2).astype(np.int8),
        "profile_id": identifiers(name, profiles["nominal_time"]),
        "station_name": station.name,
        "station_id": name,
        "history_facts": compact(
            {"station": station_as_json(station), **record, "remarks": list(remarks)}
        ),
        "source_index": profiles["source_index"],
        "source_offset": profiles["source_offset"].astype(np.float64),
        "source_length": profiles["source_length"].astype(np.int32),
        "source_kind": profiles["source_kind"],
        "selection": np.asarray(selection, dtype=np.int8),
        "time_source": profiles["time_source"],
        "sounding_quality": profiles["sounding_quality"],
        "level_quality": batch.levels["level_quality"],
        "conversion_facts": compact(
            {
                "sources": [dict(item) for item in sources],
                **({"repairs": [dict(item) for item in repairs]} if repairs else {}),
            }
        ),
    }
    if np.isfinite(profiles["elevation"]).any():
        values["surface_altitude"] = np.where(
            np.isnan(profiles["elevation"]), MISSING["f8"], profiles["elevation"]
        )
    if batch.texts:
        values["coded_report"] = characters([item.encode("utf-8") for item in batch.texts])
    for quantity, column in (("relative_humidity", "relative_humidity"), ("elapsed_time", "time")):
        status = batch.levels[f"{quantity}_status"]
        if stored_name(column) in values or bool((status == REMOVED).any()):
            values[f"{quantity}_status"] = status
    if (profiles["line_ending"] >= 0).any():
        for item in ("announced_levels", "header_hour", "header_release", "line_ending"):
            values[item] = profiles[item]
        for item in _IGRA_TEXTS:
            values[item] = _fixed_text(profiles[item])
        values["source_level_type"] = batch.levels["source_level_type"]
        for mark, stored in _MARK_NAMES.items():
            values[stored] = batch.levels[mark]
    if "air_pressure" not in values:
        for item in values:
            if CONVERTED.variable(item).attributes.get("coordinates") == COORDINATES:
                own.setdefault(item, {})["coordinates"] = BY_HEIGHT
    return Written(values, write(path, CONVERTED, facts, values, own, fast=fast))


def _fixed_text(column: NDArray[Any]) -> NDArray[Any]:
    width = max(1, column.dtype.itemsize)
    return np.ascontiguousarray(column.astype(f"S{width}")).view("S1").reshape(-1, width)


def _vertical(
    values: Mapping[str, Any], own: Mapping[str, Mapping[str, Any]]
) -> tuple[NDArray[np.float64], str, str]:
    """Return least and greatest of the vertical coordinate, its name and its unit."""
    by_height = "air_pressure" not in own or own["air_pressure"].get("axis", "Z") is None
    axis = "geopotential_height" if by_height else "air_pressure"
    figures = values[axis]
    known = figures[figures != MISSING[own[axis].get("dtype", "f8")]]
    if len(known) == 0:
        return vertical_of(values, own)
    ends = {axis: np.array([known.min(), known.max()], dtype=figures.dtype)}
    return vertical_of(ends, own)


def identifiers(name: str, nominal: NDArray[np.float64]) -> NDArray[Any]:
    """Return station, nominal time and number among the soundings of that time."""
    _times, first, inverse = np.unique(nominal, return_index=True, return_inverse=True)
    number = np.arange(len(nominal)) - first[inverse]
    stamps = np.datetime_as_string(nominal.astype("datetime64[s]"), unit="m")
    text = np.strings.add(
        np.strings.add(f"{name}_", stamps), np.strings.add("_", number.astype("U"))
    )
    if name.isascii():
        signs = np.ascontiguousarray(text).view(np.uint32).reshape(len(text), -1)
        return signs.astype(np.uint8).view("S1")
    return _fixed_text(np.strings.encode(text, "utf-8"))


# --- reading back -----------------------------------------------------------------------------


def differences(path: str | os.PathLike[str], given: Written) -> tuple[str, ...]:
    """Read a file again and return the variables that are not what was given to it.

    Variables compressed outside the library are inflated there and compared by the checksums of
    their chunks, all others value by value.
    """
    from encoder.formats.netcdf.container import library
    from encoder.formats.netcdf.direct_chunks import same_chunks

    direct = same_chunks(os.fspath(path), given.checksums) if given.checksums else {}
    with library().Dataset(path) as dataset:
        dataset.set_auto_maskandscale(False)
        dataset.set_auto_chartostring(False)
        wrong = [name for name, same in direct.items() if not same]
        for name, value in given.values.items():
            if name in direct:
                continue
            if name not in dataset.variables:
                wrong.append(name)
                continue
            stored = dataset.variables[name][...]
            expected = (
                np.frombuffer(value.encode("utf-8") or b"\0", "S1")
                if isinstance(value, str)
                else np.asarray(value)
            )
            same = stored.shape == expected.shape and bool(
                (stored == expected).all()
                if expected.dtype.kind != "f"
                else np.array_equal(stored, expected, equal_nan=True)
            )
            if not same:
                wrong.append(name)
        return tuple(wrong)


def is_converted(dataset: Any) -> bool:
    """Tell whether an open file is a converted history."""
    return "conversion_facts" in dataset.variables


def read_converted(path: str | os.PathLike[str]) -> tuple[Batch, Station, list[dict[str, Any]]]:
    """Return what a converted history holds: soundings, station and sources.

    Raises
    ------
    InputError
        If the file cannot be opened.
    KeyError, ValueError
        If it is no converted history.
    """
    from encoder.errors import InputError
    from encoder.formats.netcdf.facts_text import station_from_json

    result = opened(path)
    if result.value is None:
        raise InputError(result.diagnostics[0].message, result.diagnostics)
    with result.value as dataset:
        variables = dataset.variables
        facts = json.loads(text_of(dataset, "history_facts"))
        sources = json.loads(text_of(dataset, "conversion_facts"))["sources"]

        def each(name: str) -> Any:
            data = np.asarray(variables[name][...])
            if data.ndim == 2:
                data = np.ascontiguousarray(data).view(f"S{data.shape[1]}").reshape(-1)
            return data

        row_size = each("row_size").astype(np.int64)
        known = {
            name: each(name)
            for name in profile_columns(0)
            if name in variables and name not in ("row_size",)
        }
        if "surface_altitude" in variables:
            elevation = each("surface_altitude")
            known["elevation"] = np.where(elevation == MISSING["f8"], np.nan, elevation)
        profiles = profile_columns(len(row_size), row_size=row_size, **known)
        count = int(row_size.sum())
        # a column that is computed anew, or is in the facts, is not among those in tenths
        whole = not facts.get("derived") and not facts.get("wind_shear")
        tenths = whole and all(
            variables[stored_name(name)].dtype.str.lstrip("<>|=") == packing.dtype
            and packing_attributes(packing).get("steps_per_unit", 1)
            == getattr(variables[stored_name(name)], "steps_per_unit", 1)
            and getattr(variables[stored_name(name)], "units", "") == packing.unit
            for name, packing in TENTHS.items()
            if stored_name(name) in variables
        )
        levels: dict[str, NDArray[Any]] = {}
        if tenths:
            for name, packing in TENTHS.items():
                place = stored_name(name)
                levels[name] = (
                    np.asarray(variables[place][...])
                    if place in variables
                    else np.full(count, fill_of(name), dtype=packing.dtype)
                )
        else:
            columns, _kinds, _status = levels_of_dataset(dataset, facts)
            levels |= columns
        for name, dtype in LEVEL_TYPES.items():
            stored = {"kinds": "level_type", **_MARK_NAMES}.get(name, name)
            if stored in variables:
                levels[name] = np.asarray(variables[stored][...]).astype(dtype)
            else:
                usual = NO_TYPE if name == "source_level_type" else 0
                usual = NOT_REPORTED if name.endswith("_status") else usual
                levels[name] = np.full(count, usual, dtype=dtype)
        texts: tuple[str, ...] = ()
        if "coded_report" in variables:
            texts = tuple(line.decode("utf-8") for line in each("coded_report").tolist())
        batch = Batch(text_of(dataset, "station_id"), tenths, profiles, levels, texts)
        return batch, station_from_json(facts["station"]), sources
