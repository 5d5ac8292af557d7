"""How fast the archive writes and reads, and how large its files are.

Run from the checkout: ``python -m tests.benchmarks.bench_netcdf``. Every figure is the best of
several runs in one process; "bare" writes the same arrays with netCDF4 and nothing else.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

import netCDF4
import numpy as np

from encoder.archive import FlightArchive, History
from encoder.columns import LEVEL_COLUMNS
from encoder.formats.flight_folder import read_flight
from encoder.formats.netcdf import read_netcdf, write_netcdf
from encoder.formats.samples_folder import sample_flight
from encoder.levels import select_levels
from encoder.profile import Station
from encoder.report import encode_report
from encoder.resolution import KNOT
from encoder.sounding import STATUS_COLUMNS

RUNS = 5
STATION = Station("Harrow Tarn", 53.4127, -18.2751, 412.0, "90417", "0-20000-0-90417", 6)


def best(action, runs=RUNS):
    """Return the shortest time of an action in seconds."""
    times = []
    for _ in range(runs):
        begin = time.perf_counter()
        action()
        times.append(time.perf_counter() - begin)
    return min(times)


def write_bare(path, arrays):
    """Write arrays with netCDF4: a dimension for each length, zlib 1 and shuffle, chunks alike."""
    with netCDF4.Dataset(path, "w") as dataset:
        for name, values in arrays.items():
            dims = []
            for size in values.shape:
                dim = f"n{size}"
                if dim not in dataset.dimensions:
                    dataset.createDimension(dim, size)
                dims.append(dim)
            options = {}
            if dims:
                options = {
                    "compression": "zlib",
                    "complevel": 1,
                    "shuffle": values.dtype.kind != "S",
                    "chunksizes": stored_chunks(values),
                }
            variable = dataset.createVariable(name, values.dtype, dims, **options)
            variable[...] = values


def stored_chunks(values):
    """Return the chunk shape of the archive for an array of this shape."""
    sizes = [min(size, 1 << 17) for size in values.shape]
    if len(sizes) > 1:
        sizes[0] = max(1, min(values.shape[0], (1 << 19) // max(sizes[1], 1)))
    return tuple(max(size, 1) for size in sizes)


def arrays_of(path, *, texts=True):
    """Return what a file holds, as stored."""
    with netCDF4.Dataset(path) as dataset:
        dataset.set_auto_maskandscale(False)
        dataset.set_auto_chartostring(False)
        return {
            name: np.asarray(variable[...])
            for name, variable in dataset.variables.items()
            if texts or variable.dtype.kind != "S"
        }


def long_history(soundings=10_000, levels=105):
    """Return a made-up history on the steps of an archive in tenths."""
    random = np.random.default_rng(90417)
    row_size = random.integers(levels - 60, levels + 61, soundings)
    count = int(row_size.sum())
    place = np.concatenate([np.arange(size) / size for size in row_size])
    columns = {name: np.full(count, np.nan) for name in LEVEL_COLUMNS}
    columns["air_pressure"] = np.rint(100000.0 * 0.01**place) / 100.0
    columns["geopotential_height"] = np.rint(31000.0 * place + random.normal(0.0, 30.0, count))
    columns["air_temperature"] = np.rint(150.0 - 700.0 * place + random.normal(0, 20, count)) / 10.0
    columns["dew_point_depression"] = random.integers(0, 400, count) / 10.0
    columns["wind_from_direction"] = random.integers(1, 73, count) * 5.0
    columns["wind_speed"] = random.integers(0, 120, count) * KNOT
    time_of = 1.9e9 + 43200.0 * np.arange(soundings)
    same = np.ones(soundings)
    return History(
        STATION,
        time_of,
        time_of,
        53.4127 * same,
        -18.2751 * same,
        412.0 * same,
        row_size.astype(np.int64),
        np.zeros(soundings, dtype=bool),
        columns,
        np.full(count, 1 << 16),
        {name: np.zeros(count, dtype=np.int8) for name in STATUS_COLUMNS},
    )


def main():
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder:
        made, bare = Path(folder, "made.nc"), Path(folder, "bare.nc")
        flight = read_flight(sample_flight("harrow-tarn")).raise_for_errors()
        levels = select_levels(flight).value
        archive = FlightArchive(flight, levels, (encode_report(flight, levels).value,))
        seconds = best(lambda: write_netcdf(archive, made))
        print(f"flight file, {len(flight.profile)} rows: written in {seconds:.3f} s (target 0.15)")
        seconds = best(lambda: read_netcdf(made))
        print(f"  read in {seconds:.3f} s (target 0.05)")
        for words, texts in (("all arrays", True), ("the arrays without the texts", False)):
            write_bare(bare, arrays_of(made, texts=texts))
            ratio = made.stat().st_size / bare.stat().st_size
            print(
                f"  {made.stat().st_size:,} bytes, {words} bare {bare.stat().st_size:,}: "
                f"ratio {ratio:.2f} (target 1.5)"
            )
        history = long_history()
        seconds = best(lambda: write_netcdf(history, made), 3)
        arrays = arrays_of(made)
        plain = best(lambda: write_bare(bare, arrays), 3)
        print(
            f"history, {len(history):,} soundings, {len(history.kinds):,} levels: written in "
            f"{seconds:.2f} s, bare {plain:.2f} s: {plain / seconds:.0%} of its speed (target 60 %)"
        )
        print(f"  {made.stat().st_size:,} bytes, bare {bare.stat().st_size:,}")
        seconds = best(lambda: read_netcdf(made), 3)
        print(f"  read in {seconds:.2f} s")


if __name__ == "__main__":
    main()
