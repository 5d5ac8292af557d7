"""Conversions for the tests of bulk conversion: sources, runs, what they leave."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from encoder.convert.run import plan_run, run_plan
from encoder.convert.work import Settings
from encoder.stations import NORRELAND
from samples.archive_generator import igra, traffic
from samples.archive_generator.soundings import make, times

EXCERPT = (Path(__file__).parent / "external" / "data" / "igra_sounding_excerpt.txt").read_bytes()


def settings(folder, **more):
    return Settings(str(folder), NORRELAND, **more)


def convert(sources, folder, *, kind=None, jobs=1, **more):
    chosen = settings(folder, **more)
    plan = plan_run([str(item) for item in sources], chosen, kind=kind)
    return run_plan(plan, chosen, jobs=jobs)


def station_text(station="90417", *, years=1, seed=3, count=30):
    texts = []
    for text in igra.station_text(station, 2001, years, seed):
        texts.append(text)
        if len(texts) == count:
            break
    return b"".join(texts)


def coded_days(folder, days=3, seed=5):
    folder.mkdir(parents=True, exist_ok=True)
    random = np.random.default_rng(seed)
    hours = times(1994, 1)[: 2 * days]
    for day in np.unique(hours.astype("datetime64[D]")):
        own = [
            make(station, hour, random)
            for hour in hours[hours.astype("datetime64[D]") == day]
            for station in ("90417", "90122")
        ]
        name = f"{str(day).replace('-', '')}.txt"
        (folder / name).write_bytes(traffic.day_file(own).encode("ascii"))
    return folder


def files_of(folder):
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name != "lock"
    }


def quarantine(folder):
    lines = (Path(folder) / "quarantine.jsonl").read_text(encoding="utf-8").splitlines()
    return [json.loads(line) for line in lines]
