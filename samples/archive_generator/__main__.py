"""Make an archive: ``python -m samples.archive_generator --to FOLDER --years 30 --form igra``."""

from __future__ import annotations

import argparse
import zipfile
from pathlib import Path

import numpy as np

from samples.archive_generator import damage, igra, traffic
from samples.archive_generator.soundings import STATIONS, make, times


def make_igra(folder: Path, first: int, years: int, seed: int, *, rate: float, repeat: int) -> None:
    """Write a zip a station, and the undamaged text beside it where there is damage."""
    folder.mkdir(parents=True, exist_ok=True)
    for station, (identifier, *_rest) in STATIONS.items():
        text = b"".join(igra.station_text(station, first, years, seed, repeat=repeat))
        if rate:
            (folder.parent / "truth").mkdir(exist_ok=True)
            (folder.parent / "truth" / f"{identifier}-data.txt").write_bytes(text)
            text, _count = damage.damage_igra(text, np.random.default_rng([seed, 7]), rate)
        with zipfile.ZipFile(folder / f"{identifier}-data.txt.zip", "w", zipfile.ZIP_DEFLATED) as z:
            z.writestr(zipfile.ZipInfo(f"{identifier}-data.txt"), text, zipfile.ZIP_DEFLATED)


def make_traffic(
    folder: Path,
    first: int,
    years: int,
    seed: int,
    *,
    rate: float,
    days: int | None = None,
    source: str = "mixture",
) -> None:
    """Write a text file a day; where there is damage, beside it the undamaged one and the damage.

    The folders ``truth`` and ``done`` stand beside ``folder``; in the second a line of a table says
    at which place of the truth which group was damaged in which way.
    """
    folder.mkdir(parents=True, exist_ok=True)
    random = np.random.default_rng([seed, 11])
    garbling = np.random.default_rng([seed, 13])
    hours = times(first, years)
    for day in np.unique(hours.astype("datetime64[D]"))[:days]:
        own = hours[hours.astype("datetime64[D]") == day]
        soundings = [make(station, time, random) for time in own for station in STATIONS]
        text = traffic.day_file(soundings)
        name = f"{str(day).replace('-', '')}.txt"
        if rate:
            (folder.parent / "truth").mkdir(exist_ok=True)
            (folder.parent / "truth" / name).write_bytes(text.encode("ascii"))
            text, done = damage.damage_traffic(text, garbling, rate, source)
            (folder.parent / "done").mkdir(exist_ok=True)
            lines = ["offset,kind,group", *(f"{d.offset},{d.kind},{d.group}" for d in done)]
            table = folder.parent / "done" / name.replace(".txt", ".csv")
            table.write_text("\n".join(lines) + "\n", encoding="ascii")
        (folder / name).write_bytes(text.encode("ascii"))


def main() -> None:
    """Make what the command line asks for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--to", required=True, type=Path)
    parser.add_argument("--form", choices=("igra", "traffic"), default="igra")
    parser.add_argument("--first", type=int, default=1994)
    parser.add_argument("--years", type=int, default=30)
    parser.add_argument("--days", type=int)
    parser.add_argument("--seed", type=int, default=90417)
    parser.add_argument("--damage", type=float, default=0.0)
    parser.add_argument("--source", choices=tuple(damage.SOURCES), default="mixture")
    parser.add_argument("--repeat", type=int, default=1, help="levels in place of each (IGRA)")
    given = parser.parse_args()
    if given.form == "igra":
        make_igra(
            given.to, given.first, given.years, given.seed, rate=given.damage, repeat=given.repeat
        )
    else:
        make_traffic(
            given.to,
            given.first,
            given.years,
            given.seed,
            rate=given.damage,
            days=given.days,
            source=given.source,
        )


if __name__ == "__main__":
    main()
