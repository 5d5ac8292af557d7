"""A station history as one Parquet table, a row a level; facts of the sounding beside each."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.columns import LEVEL_COLUMNS, column
from encoder.convert.batch import LEVEL_TYPES, Batch
from encoder.errors import MissingDependencyError
from encoder.formats.netcdf.converted_product import SELECTION_WORDS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from encoder.profile import Station

_NAMES = {"time": "elapsed_time", "latitude": "level_latitude", "longitude": "level_longitude"}
OF_SOUNDING = (
    "latitude",
    "longitude",
    "elevation",
    "source_index",
    "source_offset",
    "sounding_quality",
)


def write_parquet(path: str, batch: Batch, station: Station, selection: NDArray[Any]) -> None:
    """Write a table.

    Parameters
    ----------
    path : str
    batch : Batch
    station : Station
    selection : ndarray of int, shape (sounding,)

    Raises
    ------
    MissingDependencyError
        If pyarrow is not installed.
    OSError
        If the file cannot be written.
    """
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError as fault:
        msg = 'Parquet needs pyarrow: install it with pip install "aerogram[parquet]".'
        raise MissingDependencyError(msg) from fault
    values = batch.as_values()
    sizes = batch.profiles["row_size"]
    fields: list[Any] = []
    arrays: list[Any] = []

    def add(name: str, data: NDArray[Any], unit: str = "", kind: Any = None) -> None:
        made = pa.array(data, type=kind, from_pandas=data.dtype.kind == "f")
        arrays.append(made)
        fields.append(pa.field(name, made.type, metadata={"unit": unit} if unit else None))

    add("sounding", np.repeat(np.arange(len(batch), dtype=np.int32), sizes))
    for name in ("time", "nominal_time"):
        milliseconds = np.rint(batch.profiles[name] * 1000.0).astype("datetime64[ms]")
        add(name, np.repeat(milliseconds, sizes), kind=pa.timestamp("ms", tz="UTC"))
    for name in OF_SOUNDING:
        add(name, np.repeat(batch.profiles[name], sizes))
    add("selection", np.repeat(selection.astype(np.int8), sizes))
    for name in LEVEL_COLUMNS:
        data = values.levels[name]
        if not np.isnan(data).all():
            add(_NAMES.get(name, name), data, column(name).unit)
    for name in LEVEL_TYPES:
        add("level_type" if name == "kinds" else name, batch.levels[name])
    facts = {
        "station": batch.station,
        "name": station.name,
        "selection": list(SELECTION_WORDS),
        "soundings": len(batch),
    }
    schema = pa.schema(fields, metadata={"aerogram": json.dumps(facts, sort_keys=True)})
    pq.write_table(pa.Table.from_arrays(arrays, schema=schema), path, compression="zstd")
