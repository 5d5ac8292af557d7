"""What a damaged archive comes to: every value of the station files against the undamaged archive.

Run from the checkout: ``python -m tests.benchmarks.bench_archive --days 365 --damage 0.01``. The
generator of ``samples/archive_generator`` writes the traffic of three stations twice, whole and
with that share of its groups damaged, once for each source of damage; both are converted, and the
two sets of station files are compared level by level. A level is told by its pressure, and by
whether it is the surface; the values of a level whose pressure is wrong are compared with the
undamaged curve at that pressure.

A wrong value that nothing tells of is within one step of the code, or within the uncertainty of
the measurement, or within what the rules allow a level to be off the line between significant
levels, or beyond all of that.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np

from encoder.convert.run import plan_run, run_plan
from encoder.convert.soundings import COUNTED
from encoder.convert.station_file import read_converted
from encoder.convert.work import Settings
from encoder.formats.netcdf.converted_product import SoundingQuality
from encoder.levels.table import LevelKind
from encoder.repair import REPAIR_MODES
from encoder.stations import NORRELAND
from samples.archive_generator import damage
from samples.archive_generator.__main__ import make_traffic
from samples.archive_generator.soundings import STATIONS

NAMES = ("all", "right", "right, repaired", "missing", "wrong, level told", "wrong, sounding told",
         "wrong, beside a fault", "wrong, untold", "invented, told", "invented, beside",
         "invented, untold")  # fmt: skip
SIZES = ("within one step", "within the uncertainty", "within what the rules allow", "beyond")
TITLES = {
    "mixture": "half a circuit with parity, half archives and hands",
    "parity": "a circuit with parity (ITU-T T.50 and V.4) alone",
    "five-unit": "a circuit of five units without protection (ITU-T S.1)",
    "archive": "archives and hands alone",
    "form": "damage that breaks the form of a group",
    "figure": "single figures alone",
}
KNOT = 1852.0 / 3600.0
UNCERTAINTY = {
    "air_temperature": 0.5,
    "dew_point_depression": 1.0,
    "wind_from_direction": 5.0,
    "wind_speed": 1.0,
    "geopotential_height": 20.0,
    "relative_humidity": 5.0,
}
"""What a measurement may be off, of the order of the requirements of WMO-No. 8 (from memory); for
those that ease with height, the value of the troposphere."""
ALLOWED = {"air_temperature": 1.0, "wind_from_direction": 10.0, "wind_speed": 5.0,
           "relative_humidity": 15.0}  # fmt: skip
"""How far the lines between significant levels may be off, WMO-No. 306 Volume I.1, 35.3.1 and
32.3.1; twice that for temperatures from 300 hPa upward."""
TELLING = int(
    SoundingQuality.PARTS_DISAGREE
    | SoundingQuality.TIME_NOT_OF_HEADING
    | SoundingQuality.PARTS_SCATTERED
    | SoundingQuality.WIND_UNIT_SUSPECT
    | SoundingQuality.DIRECTIONS_IN_TENS
)
BESIDE = int(SoundingQuality.CODING_FAULTS | SoundingQuality.REPAIRED)
"""Marks of a sounding that speak of all its values, and those that say that something in it is not
in order: the mark of another level, as a rule, with one group in a hundred damaged."""


def convert(source, destination, repair):
    """Convert a folder; return the summary."""
    settings = Settings(str(destination), NORRELAND, repair=repair)
    summary = run_plan(plan_run([str(source)], settings), settings)
    assert summary["adds_up"], summary["faults"]
    return summary


def soundings_of(folder):
    """Return the levels of every sounding: values, findings and repairs by level."""
    made = {}
    for station in STATIONS:
        path = folder / f"{station}.nc"
        if not path.exists():
            continue
        batch, _station, _sources = read_converted(path)
        batch = batch.as_values()
        offsets = batch.offsets
        surface = (batch.levels["kinds"] & int(LevelKind.SURFACE)) != 0
        pressure = np.round(batch.levels["air_pressure"], 1)
        for place, nominal in enumerate(batch.profiles["nominal_time"].tolist()):
            rows = range(int(offsets[place]), int(offsets[place + 1]))
            levels = {}
            for row in rows:
                levels.setdefault((float(pressure[row]), bool(surface[row])), row)
            made[station, nominal] = (
                {
                    key: (
                        [float(batch.levels[name][row]) for name in COUNTED],
                        int(batch.levels["level_quality"][row]),
                    )
                    for key, row in levels.items()
                },
                int(batch.profiles["sounding_quality"][place]),
            )
    return made


def step_of(name, pressure, value):
    """Return the step of the code."""
    if name == "dew_point_depression":
        return 0.1 if value < 5.0 else 1.0
    if name == "geopotential_height":
        return 1.0 if pressure > 500.0 else 10.0
    return {"air_temperature": 0.2, "wind_from_direction": 5.0, "wind_speed": KNOT}[name]


def size_of(name, pressure, value, other):
    """Return how large an error is, as a place in SIZES."""
    off = abs(other - value)
    if name == "wind_from_direction":
        off = min(off, 360.0 - off)
    if name != "relative_humidity" and off <= 1.01 * step_of(name, pressure, value):
        return 0
    if off <= UNCERTAINTY[name]:
        return 1
    allowed = ALLOWED.get(name, 0.0)
    if name == "air_temperature" and pressure <= 300.0:
        allowed *= 2.0
    return 2 if off <= allowed else 3


def sizes_at(names, pressure, values, others):
    """Return the size of the error of each quantity at a level; None where it is right."""
    found = {
        name: size_of(name, pressure, value, other)
        for name, value, other in zip(names, values, others, strict=True)
        if not np.isnan(value) and not np.isnan(other) and value != other
    }
    if "relative_humidity" in found:  # it follows from the two that are in the code
        own = [found[name] for name in ("air_temperature", "dew_point_depression") if name in found]
        if own and max(own) == 0:
            found["relative_humidity"] = 0
        if "dew_point_depression" in found and found["dew_point_depression"] > 1:
            found["dew_point_depression"] = max(found["relative_humidity"], 1)
    return found


def curve_at(names, places, levels, pressure):
    """Return what the undamaged levels say at a pressure, on the lines between them."""
    depth = -np.log([level[0] for level in levels])
    order = np.argsort(depth)
    rows = np.array([[values[place] for place in places] for values, _marks in levels.values()])
    columns = dict(zip(names, rows[order].T, strict=True))
    angle = np.radians(columns["wind_from_direction"])
    turned = columns["wind_speed"] * np.exp(1j * angle)

    def between(values):
        known = ~np.isnan(values)
        if not known.any():
            return np.nan
        return np.interp(-np.log(pressure), depth[order][known], values[known])

    wind = between(turned)
    found = {name: between(values) for name, values in columns.items()}
    found["wind_speed"] = np.abs(wind)
    found["wind_from_direction"] = np.degrees(np.angle(wind)) % 360.0
    return [found[name] for name in names]


def how_told(marks, quality):
    """Return how a wrong value at a level is told."""
    if marks:
        return "level told"
    if quality & TELLING:
        return "sounding told"
    return "beside a fault" if quality & BESIDE else "untold"


def compare(truth, found):
    """Count how the values of an archive came out, and how large the errors are that pass."""
    count, sizes_of = Counter(), Counter()
    names = [name for name in COUNTED if name not in ("time", "air_pressure")]
    places = [COUNTED.index(name) for name in names]
    wrong_by = Counter()

    def invent(told, size, name):
        shown = {"level told": "told", "sounding told": "told", "beside a fault": "beside"}
        count[f"invented, {shown.get(told, told)}"] += 1
        sizes_of[told, SIZES[size]] += 1
        wrong_by[name] += told == "untold"

    for key, (levels, _quality) in truth.items():
        got, quality = found.get(key, ({}, 0))
        repaired = quality & int(SoundingQuality.REPAIRED)
        for level, (values, _own) in levels.items():
            other, marks = got.get(level, (None, 0))
            others = [np.nan] * len(values) if other is None else other
            pairs = [[row[place] for place in places] for row in (values, others)]
            sizes = sizes_at(names, level[0], *pairs)
            told = how_told(marks, quality)
            for name, value, own in zip(names, *pairs, strict=True):
                if np.isnan(value):
                    if not np.isnan(own):
                        invent(told, -1, name)
                    continue
                count["all"] += 1
                if np.isnan(own):
                    count["missing"] += 1
                elif own == value:
                    count["right, repaired" if repaired else "right"] += 1
                else:
                    count[f"wrong, {told}"] += 1
                    sizes_of[told, SIZES[sizes[name]]] += 1
                    wrong_by[name] += told == "untold"
        for level, (values, marks) in got.items():
            if level not in levels:
                own = [values[place] for place in places]
                sizes = sizes_at(names, level[0], curve_at(names, places, levels, level[0]), own)
                for name, value in zip(names, own, strict=True):
                    if not np.isnan(value):
                        invent(how_told(marks, quality), sizes.get(name, 0), "air_pressure")
    for key, (levels, quality) in found.items():
        if key not in truth:
            for values, marks in levels.values():
                for place in places:
                    if not np.isnan(values[place]):
                        invent(how_told(marks, quality), -1, "time")
    return count, sizes_of, wrong_by


def print_table(source, folder, given):
    """Print what each way of repairing makes of one source of damage."""
    make_traffic(
        folder / "days", 1994, 30, given.seed, rate=given.damage, days=given.days, source=source
    )
    convert(folder / "truth", folder / "whole", "none")
    truth = soundings_of(folder / "whole")
    done = sum(len(path.read_text().splitlines()) - 1 for path in (folder / "done").iterdir())
    width = 22
    print(f"\n{TITLES[source]}: {done:,} groups damaged")
    print(f"{'repair':8}{''.join(f'{name:>{width}}' for name in NAMES)}")
    for repair in given.repair or REPAIR_MODES:
        summary = convert(folder / "days", folder / repair, repair)
        count, sizes_of, wrong_by = compare(truth, soundings_of(folder / repair))
        print(f"{repair:8}{''.join(f'{count[name]:>{width},}' for name in NAMES)}")
        refused = summary["total"]["reports"]["refused"]
        print(
            f"{'':8}reports refused {refused:,} of {summary['total']['reports']['read']:,}; "
            f"told by nothing, by quantity {dict(+wrong_by)}"
        )
        number = np.zeros(len(SIZES), dtype=int)
        for told in ("untold", "beside a fault"):
            number += [sizes_of[told, size] for size in SIZES]
            shares = 1e5 * np.cumsum(number[::-1])[::-1] / count["all"]
            parts = ", ".join(f"{n} {size}" for n, size in zip(number, SIZES, strict=True))
            print(
                f"{'':8}{'told by nothing' if told == 'untold' else 'or by other levels alone'}: "
                f"{shares[0]:.2f} in 100,000 ({parts}), by more than one step {shares[1]:.2f}, "
                f"beyond the uncertainty {shares[2]:.2f}, beyond the rules {shares[3]:.2f}"
            )


def main():
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=365)
    parser.add_argument("--damage", type=float, default=0.01)
    parser.add_argument("--seed", type=int, default=90417)
    parser.add_argument("--source", choices=tuple(damage.SOURCES), action="append")
    parser.add_argument("--repair", choices=REPAIR_MODES, action="append")
    given = parser.parse_args()
    print(f"{given.days} days of {len(STATIONS)} stations, {given.damage:.1%} of groups damaged")
    for source in given.source or damage.SOURCES:
        with tempfile.TemporaryDirectory() as name:
            print_table(source, Path(name), given)


if __name__ == "__main__":
    main()
