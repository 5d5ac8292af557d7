"""Templates of the products in CDL, made from the declarations, and files compared with them.

What belongs to each file is written ``<each file>`` in a template: lengths of dimensions are 1
there, so that the template itself is a valid file for ``ncgen``.
"""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.archive import Service
from encoder.formats.netcdf.declare import (
    CONVENTIONS,
    MISSING,
    STANDARD_NAMES,
    Packing,
    Product,
    Variable,
)
from encoder.formats.netcdf.flight_product import BY_HEIGHT_COORDINATES
from encoder.formats.netcdf.level_product import BY_HEIGHT
from encoder.formats.netcdf.packing import fill_as_flag, packing_attributes
from encoder.profile import Station

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

EACH = "<each file>"
TYPES = {"f8": "double", "f4": "float", "i4": "int", "i2": "short", "i1": "byte", "S1": "char"}
_SUFFIX = {"i4": "", "i2": "s", "i1": "b", "f4": "f", "f8": ""}

OWN_ATTRIBUTES: dict[str, tuple[str, ...]] = {
    "station": tuple(item.name for item in fields(Station)),
    "instrument": (
        "radiosonde_type",
        "radiosonde_type_table",
        "tracking",
        "tracking_table",
        "radiation_correction",
        "radiation_correction_table",
        "wind_equipment",
        "wind_equipment_table",
        "serial_number",
        "corrections_applied",
    ),
    "surface_observation": (
        "air_pressure",
        "air_temperature",
        "relative_humidity",
        "dew_point_temperature",
        "wind_from_direction",
        "wind_speed",
        "quantity_units",
        "cloud_group",
        "cloud_group_form",
    ),
}
"""Attributes of the containers; which of them a file has depends on what is known."""
_MAY_HAVE = frozenset({"formula", "code_resolution", "steps_per_unit", "scale_factor"})
"""Attributes of single files that any quantity may have."""
_MAY_DIFFER = frozenset({"axis"})
"""Moves from pressure to height where no level has a pressure."""

GLOBAL_FIXED = ("Conventions", "featureType", "product_format", "standard_name_vocabulary")
GLOBAL_NEEDED = (
    *GLOBAL_FIXED,
    "title",
    "summary",
    "keywords",
    "keywords_vocabulary",
    "id",
    "source",
    "processing_level",
    "history",
    "comment",
    "date_created",
    "date_modified",
    "date_issued",
    "date_metadata_modified",
    "geospatial_lat_min",
    "geospatial_lat_max",
    "geospatial_lat_units",
    "geospatial_lat_resolution",
    "geospatial_lon_min",
    "geospatial_lon_max",
    "geospatial_lon_units",
    "geospatial_lon_resolution",
    "geospatial_vertical_units",
    "geospatial_vertical_resolution",
    "geospatial_vertical_positive",
    "geospatial_bounds",
    "geospatial_bounds_crs",
    "geospatial_bounds_vertical_crs",
    "time_coverage_start",
    "time_coverage_end",
    "time_coverage_duration",
    "time_coverage_resolution",
    "platform",
    "platform_vocabulary",
    "instrument",
    "instrument_vocabulary",
    "software",
    "software_version",
    "product_version",
)
"""Global attributes every file has."""


def global_optional() -> tuple[str, ...]:
    """Return the global attributes a file has where they are known."""
    return (
        *(item.name for item in fields(Service)),
        "wmo_index",
        "wigos_station_identifier",
        "geospatial_vertical_min",
        "geospatial_vertical_max",
    )


# --- the template -----------------------------------------------------------------------------


def template(product: Product) -> str:
    """Return the template of a product as CDL."""
    lines = [f"netcdf {product.name} {{", f"// {product.description}", "dimensions:"]
    for name in _dimensions(product):
        words = product.dimensions.get(name, "length of the text")
        lines.append(f"\t{name} = 1 ; // {words}")
    lines.append("variables:")
    for item in product.variables:
        lines += _variable_lines(item)
    lines += ["", "// global attributes:"]
    fixed = _fixed_globals(product)
    for name in GLOBAL_NEEDED:
        lines.append(f"\t\t:{name} = {_text(fixed.get(name, EACH))} ;")
    lines.append("// where known:")
    for name in global_optional():
        lines.append(f"\t\t:{name} = {_text(EACH)} ;")
    return "\n".join([*lines, "}"]) + "\n"


def _fixed_globals(product: Product) -> dict[str, str]:
    return {
        "Conventions": CONVENTIONS,
        "featureType": product.feature_type,
        "product_format": product.format,
        "standard_name_vocabulary": STANDARD_NAMES,
    }


def _dimensions(product: Product) -> list[str]:
    names = list(product.dimensions)
    for item in product.variables:
        names += [name for name in item.dims if name not in names]
    return names


def _variable_lines(item: Variable) -> list[str]:
    dims = f"({', '.join(item.dims)})" if item.dims else ""
    lines = ["" if item.always else "// only where there is a value:"]
    lines.append(f"\t{TYPES[item.dtype]} {item.name}{dims} ;")
    if item.filled:
        lines.append(f"\t\t{item.name}:_FillValue = {_number(MISSING[item.dtype], item.dtype)} ;")
    for name, value in item.attributes.items():
        lines.append(f"\t\t{item.name}:{name} = {_value(value)} ;")
    lines += [
        f"\t\t{item.name}:{name} = {_text(EACH)} ;" for name in OWN_ATTRIBUTES.get(item.name, ())
    ]
    lines += [f"\t\t// or, where exact: {_packing_words(packing)}" for packing in item.packings]
    return [line for line in lines if line]


def _packing_words(packing: Packing) -> str:
    words = f"{TYPES[packing.dtype]}, units {_text(packing.unit)}"
    return words if packing.steps == 1 else f"{words}, steps_per_unit {packing.steps}"


def _value(value: Any) -> str:
    if value is None:
        return _text(EACH)
    if isinstance(value, str):
        return _text(value)
    array = np.atleast_1d(np.asarray(value))
    dtype = array.dtype.str.lstrip("<>|=")
    return ", ".join(_number(number, dtype) for number in array.tolist())


def _number(value: float, dtype: str) -> str:
    return f"{value!r}{_SUFFIX[dtype]}"


def _text(value: str) -> str:
    escaped = value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'


# --- comparing --------------------------------------------------------------------------------


def deviations(dataset: Any, product: Product) -> list[str]:
    """Return everything in which an open file is not as its template says.

    Parameters
    ----------
    dataset : netCDF4.Dataset
    product : Product

    Returns
    -------
    list of str
        One sentence each; empty for a file that follows the template.
    """
    found = list(_global_deviations(dataset, product))
    declared = {item.name: item for item in product.variables}
    found += [
        f"variable {name} is not in the template"
        for name in dataset.variables
        if name not in declared
    ]
    for name, item in declared.items():
        if name in dataset.variables:
            found += _variable_deviations(dataset.variables[name], item)
        elif item.always:
            found.append(f"variable {name} is missing")
    known = _dimensions(product)
    found += [
        f"dimension {name} is not in the template"
        for name in dataset.dimensions
        if name not in known
    ]
    return found


def _global_deviations(dataset: Any, product: Product) -> Iterable[str]:
    fixed = _fixed_globals(product)
    have = set(dataset.ncattrs())
    for name in GLOBAL_NEEDED:
        if name not in have:
            yield f"global attribute {name} is missing"
        elif name in fixed and dataset.getncattr(name) != fixed[name]:
            yield f"global attribute {name} is {dataset.getncattr(name)!r}, not {fixed[name]!r}"
    for name in sorted(have.difference(GLOBAL_NEEDED, global_optional())):
        yield f"global attribute {name} is not in the template"


def _variable_deviations(variable: Any, item: Variable) -> Iterable[str]:
    dtype = variable.dtype.str.lstrip("<>|=")
    have = {name: variable.getncattr(name) for name in variable.ncattrs()}
    expected: dict[str, Any] = dict(item.attributes)
    if tuple(variable.dimensions) != item.dims:
        yield f"{item.name} has the dimensions {variable.dimensions}, not {item.dims}"
    if item.filled:
        expected["_FillValue"] = np.dtype(dtype).type(MISSING.get(dtype, 0))
    if dtype != item.dtype:
        packing = _packing_like(have, dtype, item.packings)
        if packing is None:
            yield f"{item.name} has the type {dtype}, not {item.dtype} or one of its packings"
            return
        expected |= packing_attributes(packing)
        if "flag_values" in expected:
            expected["flag_values"] = fill_as_flag(dtype)
        expected.pop("dtype")
    for name, value in expected.items():
        if name not in have:
            if name not in _MAY_DIFFER:
                yield f"{item.name} lacks the attribute {name}"
        elif name == "coordinates" and have[name] in (BY_HEIGHT, BY_HEIGHT_COORDINATES):
            continue
        elif value is not None and not _same(have[name], value):
            yield f"{item.name}:{name} is {have[name]!r}, not {value!r}"
    allowed = _MAY_HAVE | _MAY_DIFFER | set(OWN_ATTRIBUTES.get(item.name, ()))
    for name in sorted(set(have) - set(expected) - allowed):
        yield f"{item.name}:{name} is not in the template"


def _packing_like(
    have: Mapping[str, Any], dtype: str, packings: tuple[Packing, ...]
) -> Packing | None:
    steps, unit = int(have.get("steps_per_unit", 1)), have.get("units")
    return next(
        (item for item in packings if (item.dtype, item.steps, item.unit) == (dtype, steps, unit)),
        None,
    )


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, str) or isinstance(other, str):
        return bool(one == other)
    a, b = np.asarray(one), np.asarray(other)
    return a.dtype == b.dtype and np.array_equal(np.atleast_1d(a), np.atleast_1d(b))
