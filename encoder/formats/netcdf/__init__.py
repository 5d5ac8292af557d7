"""The archive in CF netCDF: flight file, level file, station history; written, read, continued.

Names are loaded when first used: who wants one module of the package does not wait for the others.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from encoder.formats.netcdf.container import is_netcdf
    from encoder.formats.netcdf.flight_file import write_flight_file
    from encoder.formats.netcdf.history_file import append_to_history, write_history_file
    from encoder.formats.netcdf.level_file import write_level_file
    from encoder.formats.netcdf.products import (
        PRODUCTS,
        product_format,
        read_netcdf,
        write_netcdf,
    )

_HOMES = {
    "PRODUCTS": "products",
    "append_to_history": "history_file",
    "is_netcdf": "container",
    "product_format": "products",
    "read_netcdf": "products",
    "write_flight_file": "flight_file",
    "write_history_file": "history_file",
    "write_level_file": "level_file",
    "write_netcdf": "products",
}

__all__ = [
    "PRODUCTS",
    "append_to_history",
    "is_netcdf",
    "product_format",
    "read_netcdf",
    "write_flight_file",
    "write_history_file",
    "write_level_file",
    "write_netcdf",
]


def __getattr__(name: str) -> Any:
    """Load a public name from its module when it is first asked for."""
    if name in _HOMES:
        return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    msg = f"module {__name__!r} has no attribute {name!r}"
    raise AttributeError(msg)
