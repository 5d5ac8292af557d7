"""How fast historical records are converted, against the parts it is made of.

Run from the checkout: ``python -m tests.benchmarks.bench_convert --megabytes 250 --parts 40000``.
Everything is measured in one run on this machine; nothing is asserted.
"""

from __future__ import annotations

import argparse
import io
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
import zipfile
from pathlib import Path

import netCDF4
import numpy as np

from encoder.convert.decode_many import decode_one, decode_plain
from encoder.convert.run import plan_run, run_plan
from encoder.convert.work import Settings
from encoder.formats.igra import compiled
from encoder.formats.igra.reader import read_igra
from encoder.formats.netcdf import direct_chunks
from encoder.stations import NORRELAND
from samples.archive_generator import igra, traffic
from samples.archive_generator.__main__ import make_traffic
from samples.archive_generator.soundings import STATIONS, make, times

FILES = 8
REPEATS = 3


def make_archive(folder, megabytes):
    """Write station zips of about 105 levels a sounding; return soundings, levels and bytes."""
    soundings = levels = size = 0
    share = megabytes * 1e6 / FILES
    for number in range(FILES):
        parts, length = [], 0
        for text in igra.station_text("90417", 1950, 70, 90417 + number, repeat=3, distinct=300):
            own = b"#NRM000904%02d" % number + text[12:]
            parts.append(own)
            length += len(own)
            soundings += 1
            levels += own.count(b"\n") - 1
            if length >= share:
                break
        size += length
        name = f"NRM000904{number:02d}-data.txt"
        with zipfile.ZipFile(folder / f"{name}.zip", "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(name, b"".join(parts))
    return soundings, levels, size


def spent():
    """Return the processor seconds of this process and of those it has waited for."""
    own = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(item.ru_utime + item.ru_stime for item in own)


def convert(source, destination, *, jobs, fast, compiled=False):
    """Convert in this process or in several; return seconds by the clock and of processors."""
    shutil.rmtree(destination, ignore_errors=True)
    settings = Settings(str(destination), NORRELAND, fast=fast, compiled=compiled)
    begin, used = time.perf_counter(), spent()
    plan = plan_run([str(source)], settings)
    summary = run_plan(plan, settings, jobs=jobs)
    seconds = time.perf_counter() - begin
    assert summary["adds_up"], summary["faults"]
    return seconds, spent() - used


def raw_unzip(source):
    """Return seconds to read every member with the standard library."""
    begin = time.perf_counter()
    for path in sorted(source.glob("*.zip")):
        with zipfile.ZipFile(path) as archive:
            archive.read(archive.namelist()[0])
    return time.perf_counter() - begin


def raw_write(source, path):
    """Return seconds to write the same numbers with netCDF4 and nothing else."""
    total = 0.0
    for item in sorted(source.glob("*.zip")):
        with zipfile.ZipFile(item) as archive:
            made = read_igra(archive.read(archive.namelist()[0]))
        begin = time.perf_counter()
        with netCDF4.Dataset(path, "w") as dataset:
            dataset.createDimension("obs", len(made.levels["kind"]))
            for name, values in made.levels.items():
                kind = values.dtype if values.dtype != np.uint8 else np.dtype("i1")
                variable = dataset.createVariable(
                    name, kind, ("obs",), compression="zlib", complevel=1, shuffle=True,
                    chunksizes=(min(1 << 17, len(values)),),
                )  # fmt: skip
                variable[...] = values.view(kind) if values.dtype == np.uint8 else values
        total += time.perf_counter() - begin
    return total


def read_fwf(source, megabytes=5.0):
    """Return bytes and seconds of pandas.read_fwf on level lines alone."""
    import pandas as pd

    path = sorted(source.glob("*.zip"))[0]
    with zipfile.ZipFile(path) as archive, archive.open(archive.namelist()[0]) as member:
        text = member.read(int(megabytes * 1e6))
    lines = b"\n".join(line for line in text.split(b"\n") if len(line) == 52)
    edges = [(0, 1), (1, 2), (3, 8), (9, 15), (15, 16), (16, 21), (21, 22), (22, 27), (27, 28),
             (28, 33), (34, 39), (40, 45), (46, 51)]  # fmt: skip
    begin = time.perf_counter()
    pd.read_fwf(io.BytesIO(lines), colspecs=edges, header=None)
    return len(lines), time.perf_counter() - begin


def igra_part(folder, megabytes):
    """Print the figures of the IGRA path."""
    source = folder / "igra"
    source.mkdir()
    soundings, levels, size = make_archive(source, megabytes)
    print(
        f"IGRA: {FILES} zips, {soundings:,} soundings, {levels / soundings:.0f} levels each, "
        f"{size / 1e6:,.0f} MB of text; zip to finished CF netCDF, read back, all checks"
    )
    rates = {}
    modes = [("core", {"fast": False})]
    if direct_chunks.available():
        modes.append(("fast", {"fast": True}))
        if compiled.available():
            modes.append(("compiled", {"fast": True, "compiled": True}))
    for name, how in modes:
        for jobs in (1, 2):
            runs = [convert(source, folder / "out", jobs=jobs, **how) for _ in range(REPEATS)]
            seconds, used = min(run[0] for run in runs), min(run[1] for run in runs)
            rates[name, jobs] = soundings / seconds
            print(
                f"  {name:8} {jobs} process{'es' if jobs > 1 else '  '}: {seconds:6.2f} s "
                f"{size / 1e6 / seconds:5.0f} MB/s {soundings / seconds:8,.0f} soundings/s, "
                f"{levels / 105 / seconds:8,.0f} of 105 levels; {used:6.2f} s of processors: "
                f"{soundings / used:8,.0f} soundings a second of one"
            )
        print(f"           two processes against one: {rates[name, 2] / rates[name, 1]:.2f}")
    unzip = raw_unzip(source)
    print(f"  raw unzip (zipfile), 1 process: {size / 1e6 / unzip:.0f} MB/s")
    write = raw_write(source, folder / "raw.nc")
    print(f"  raw netCDF write (zlib 1), 1 process: {size / 1e6 / write:.0f} MB/s of text")
    bytes_read, seconds = read_fwf(source)
    fwf = bytes_read / seconds / 1e6
    print(f"  pandas.read_fwf of the level lines alone: {fwf:.1f} MB/s")
    for (name, jobs), rate in rates.items():
        speed, whole = rate * size / soundings / 1e6, size / 1e6
        print(
            f"  {name} {jobs}: {speed / fwf:.0f} times read_fwf, {speed * unzip / whole:.2f} "
            f"of raw unzip, {speed * write / whole:.2f} of raw write"
        )


def text_part(parts):
    """Print the figures of the coded text path."""
    random = np.random.default_rng(90417)
    soundings = []
    for time_of in times(1990, 20):
        for station in STATIONS:
            coded = traffic.parts(make(station, time_of, random)).values()
            soundings.append([text.encode("ascii") for text in coded])
        if sum(map(len, soundings)) >= parts:
            break
    count = sum(map(len, soundings))
    best = float("inf")
    for _ in range(REPEATS):
        begin = time.process_time()
        made = []
        for at in range(0, len(soundings), 4096):
            made.extend(decode_plain(soundings[at : at + 4096]))
        best = min(best, time.process_time() - begin)
    many = count / best
    some = [item for item, plain in zip(soundings, made, strict=True) if plain is not None][:200]
    best = float("inf")
    for _ in range(REPEATS):
        begin = time.process_time()
        for item in some:
            decode_one(item)
        best = min(best, time.process_time() - begin)
    one = sum(map(len, some)) / best
    taken = sum(item is not None for item in made)
    print(
        f"coded text: {count:,} parts of {len(soundings):,} soundings, {taken:,} of them plain: "
        f"{many:,.0f} parts/s of one processor across reports, {one:,.0f} one by one (the same "
        f"ones): {many / one:.0f} times"
    )


def traffic_part(folder, days):
    """Print what traffic takes from day files to station files, and the memory of a station."""
    source = folder / "days"
    make_traffic(source, 1994, 30, 90417, rate=0.0, days=days)
    code = (
        "import sys, time\n"
        "def most(): return int(open('/proc/self/status').read().split('VmHWM:')[1].split()[0])\n"
        "from encoder.convert.run import Silent, plan_run, run_plan\n"
        "from encoder.convert.work import Settings\n"
        "from encoder.stations import NORRELAND\n"
        "import encoder.convert.units, netCDF4, encoder.report, encoder.convert.read_traffic\n"
        "s = Settings(sys.argv[2], NORRELAND, fast=False)\n"
        "class P(Silent):\n"
        "    def stations_planned(self, count, done): self.read = most()\n"
        "p = P()\n"
        "begin = time.process_time()\n"
        "r = run_plan(plan_run([sys.argv[1]], s), s, progress=p)\n"
        "print(p.read, most(), time.process_time() - begin, r['total']['reports']['read'])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(source), str(folder / "out2")],
        capture_output=True, text=True, check=True, env={**os.environ, "PYTHONPATH": "."},
    )  # fmt: skip
    read, peak, seconds, parts = (float(word) for word in done.stdout.split())
    shards = sum(item.stat().st_size for item in (folder / "out2").rglob("*.parts")) / len(STATIONS)
    print(
        f"traffic: {parts:,.0f} parts of {days} day files to station files {seconds:.1f} s of one "
        f"processor, {parts / seconds:,.0f} parts/s; {read / 1024:,.0f} MiB while reading, "
        f"{(peak - read) * 1024 / shards:.0f} bytes for a byte of the shards of a station"
    )


def memory_part(folder):
    """Print the memory of a conversion of one large file, in a process of its own."""
    source = folder / "one"
    source.mkdir()
    make_archive(source, 8 * 60)
    for path in sorted(source.glob("*.zip"))[1:]:
        path.unlink()
    code = (
        "import sys\n"
        "def most(): return int(open('/proc/self/status').read().split('VmHWM:')[1].split()[0])\n"
        "from encoder.convert.run import plan_run, run_plan\n"
        "from encoder.convert.work import Settings\n"
        "from encoder.stations import NORRELAND\n"
        "s = Settings(sys.argv[2], NORRELAND, fast=False)\n"
        "import encoder.convert.units, netCDF4, encoder.convert.read_igra_source\n"
        "base = most()\n"
        "run_plan(plan_run([sys.argv[1]], s), s)\n"
        "print(base, most())\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(source), str(folder / "out1")],
        capture_output=True, text=True, check=True, env={**os.environ, "PYTHONPATH": "."},
    )  # fmt: skip
    base, peak = (int(word) / 1024 for word in done.stdout.split())
    print(
        f"memory: a station file of 60 MB of text takes {peak:,.0f} MiB, {base:,.0f} of them "
        f"before anything is read: {(peak - base) * 1.048576 / 60:.1f} bytes a byte"
    )


def main():
    """Print all figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--megabytes", type=float, default=250.0)
    parser.add_argument("--parts", type=int, default=40_000)
    parser.add_argument("--days", type=int, default=400)
    given = parser.parse_args()
    print(f"{os.cpu_count()} cores, load before: {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory() as name:
        igra_part(Path(name), given.megabytes)
        memory_part(Path(name))
        traffic_part(Path(name), given.days)
    text_part(given.parts)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak of this process: {peak:,.0f} MiB")


if __name__ == "__main__":
    main()
