"""What a damaged archive comes to: every value of the station files against the undamaged archive.

Run from the checkout: ``python -m tests.benchmarks.bench_archive --days 365 --damage 0.01``. The
generator of ``samples/archive_generator`` writes the traffic of three stations twice, whole and
with that share of its groups damaged; both are converted, and the two sets of station files are
compared level by level. A level is told by its pressure, and by whether it is the surface.
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
from encoder.stations import NORRELAND
from samples.archive_generator import damage
from samples.archive_generator.__main__ import make_traffic
from samples.archive_generator.soundings import STATIONS

NAMES = ("all", "right", "right, repaired", "missing", "wrong, level told", "wrong, sounding told",
         "wrong, untold", "invented, told", "invented, untold")  # fmt: skip
TELLING = int(
    SoundingQuality.CODING_FAULTS
    | SoundingQuality.PARTS_DISAGREE
    | SoundingQuality.REPAIRED
    | SoundingQuality.TIME_NOT_OF_HEADING
    | SoundingQuality.PARTS_SCATTERED
)


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


def compare(truth, found):
    """Count how the values of an archive came out."""
    count = Counter()
    names = [name for name in COUNTED if name not in ("time", "air_pressure")]
    places = [COUNTED.index(name) for name in names]
    wrong_by = Counter()
    for key, (levels, _quality) in truth.items():
        got, quality = found.get(key, ({}, 0))
        told = quality & TELLING
        repaired = quality & int(SoundingQuality.REPAIRED)
        for level, (values, _own) in levels.items():
            other, marks = got.get(level, (None, 0))
            for name, place in zip(names, places, strict=True):
                value = values[place]
                if np.isnan(value):
                    if other is not None and not np.isnan(other[place]):
                        count["invented, told" if marks or told else "invented, untold"] += 1
                    continue
                count["all"] += 1
                if other is None or np.isnan(other[place]):
                    count["missing"] += 1
                elif other[place] == value:
                    count["right, repaired" if repaired else "right"] += 1
                elif marks:
                    count["wrong, level told"] += 1
                elif told:
                    count["wrong, sounding told"] += 1
                else:
                    count["wrong, untold"] += 1
                    wrong_by[name] += 1
        for level, (values, marks) in got.items():
            if level not in levels:
                number = sum(not np.isnan(values[place]) for place in places)
                count["invented, told" if marks or told else "invented, untold"] += number
    for key, (levels, quality) in found.items():
        if key not in truth:
            number = sum(
                not np.isnan(values[place]) for values, _m in levels.values() for place in places
            )
            told = quality & TELLING
            count["invented, told" if told else "invented, untold"] += number
    return count, wrong_by


def print_table(title, folder, days, rate, seed):
    """Print what each way of repairing makes of one kind of damage."""
    make_traffic(folder / "days", 1994, 30, seed, rate=rate, days=days)
    convert(folder / "truth", folder / "whole", "none")
    truth = soundings_of(folder / "whole")
    width = 22
    print(f"\n{title}")
    print(f"{'repair':8}{''.join(f'{name:>{width}}' for name in NAMES)}")
    for repair in ("none", "safe", "all"):
        summary = convert(folder / "days", folder / repair, repair)
        count, wrong_by = compare(truth, soundings_of(folder / repair))
        print(f"{repair:8}{''.join(f'{count[name]:>{width},}' for name in NAMES)}")
        untold = count["wrong, untold"] + count["invented, untold"]
        level = untold + count["wrong, sounding told"]
        refused = summary["total"]["reports"]["refused"]
        print(
            f"{'':8}wrong and told by nothing {1e5 * untold / count['all']:.2f} in 100,000; not "
            f"told at their level {1e5 * level / count['all']:.2f}; reports refused {refused:,} of "
            f"{summary['total']['reports']['read']:,}; untold by quantity {dict(wrong_by)}"
        )


def main():
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=365)
    parser.add_argument("--damage", type=float, default=0.01)
    parser.add_argument("--seed", type=int, default=90417)
    given = parser.parse_args()
    print(f"{given.days} days of {len(STATIONS)} stations, {given.damage:.1%} of groups damaged")
    usual = damage.KINDS
    breaking = tuple((name, share) for name, share in usual if name != "other-figure")
    whole = sum(share for _name, share in breaking)
    for title, kinds in (
        ("damage that breaks the form of a group", tuple((n, s / whole) for n, s in breaking)),
        ("the mixture of the generator, one in twenty another figure", usual),
        ("another figure in a group that stays well formed", (("other-figure", 1.0),)),
    ):
        damage.KINDS = kinds
        with tempfile.TemporaryDirectory() as name:
            print_table(title, Path(name), given.days, given.damage, given.seed)
    damage.KINDS = usual


if __name__ == "__main__":
    main()
