"""Soundings as an IGRA station file, for archives of any size."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from samples.archive_generator.soundings import STATIONS, make, times

if TYPE_CHECKING:
    from collections.abc import Iterator

    from samples.archive_generator.soundings import Sounding

MISSING = -9999


def number(values: Any, scale: float = 1.0) -> Any:
    """Return whole numbers of the layout, -9999 for missing."""
    figures = np.rint(np.nan_to_num(values * scale)).astype(np.int64)
    return np.where(np.isnan(values), MISSING, figures)


def text_of(sounding: Sounding, repeat: int = 1) -> bytes:
    """Return a sounding as text; ``repeat`` > 1 puts that many levels in place of each.

    The levels in between lie on the line to the next one, give or take a little weather.
    """
    identifier, latitude, longitude, _elevation = STATIONS[sounding.station]
    when = sounding.time.astype(object)
    hour, minute = (when.hour - 1) % 24, 60 - sounding.release_minutes
    rows = []
    pressure, height = number(sounding.pressure, 100.0), number(sounding.height)
    temperature, depression = number(sounding.temperature, 10.0), number(sounding.depression, 10.0)
    direction = number(np.rint(sounding.direction / 5.0) * 5.0 % 361)
    speed = number(sounding.speed, 10.0)
    random = np.random.default_rng(pressure)
    between = [temperature, depression, direction, speed]
    for place in range(len(pressure)):
        major = 1 if sounding.standard[place] else 2
        minor = 1 if place == sounding.surface else 2 if place == sounding.tropopause else 0
        own = height[place] if major == 1 or minor == 1 else MISSING
        for step in range(repeat):
            gap = pressure[place] - (pressure[place + 1] if place + 1 < len(pressure) else 0)
            p = pressure[place] - step * gap // (repeat + 1)
            code = f"{major}{minor}" if step == 0 else "20"
            z = own if step == 0 else MISSING
            t, d, dd, ff = (int(column[place]) for column in between)
            if step:
                t, d, dd, ff = (
                    _between(column, place, step / repeat, random) for column in between
                )
                d, dd, ff = (max(d, 0) if d > MISSING else d), dd % 361, max(ff, 0)
            rows.append(
                f"{code} {MISSING:5d} {p:6d}B{z:5d}{'B' if z > MISSING else ' '}"
                f"{t:5d}B{MISSING:5d} {d:5d} {dd:5d} {ff:5d} "
            )
    head = (
        f"#{identifier} {when.year:04d} {when.month:02d} {when.day:02d} {when.hour:02d} "
        f"{hour:02d}{minute:02d} {len(rows):4d} ncdc-gts ncdc-gts "
        f"{round(latitude * 1e4):7d} {round(longitude * 1e4):8d}"
    )
    return ("\n".join([head, *rows]) + "\n").encode("ascii")


def _between(column: Any, place: int, share: float, random: np.random.Generator) -> int:
    """Return a value between a level and the next one."""
    here, there = int(column[place]), int(column[min(place + 1, len(column) - 1)])
    if MISSING in {here, there}:
        return here
    return round(here + share * (there - here) + random.normal(0.0, 2.0))


def station_text(
    station: str, first: int, years: int, seed: int, *, repeat: int = 1, distinct: int = 400
) -> Iterator[bytes]:
    """Yield the text of a station file, sounding by sounding.

    After ``distinct`` soundings the levels come again under new dates, so that archives of any size
    are made quickly.
    """
    random = np.random.default_rng([seed, int(station)])
    pool = []
    for time in times(first, years):
        if len(pool) < distinct:
            text = text_of(make(station, time, random), repeat)
            pool.append(text)
        else:
            text = pool[int(random.integers(0, distinct))]
        when = time.astype(object)
        stamp = f"{when.year:04d} {when.month:02d} {when.day:02d} {when.hour:02d}".encode()
        release = b"%02d%s" % ((when.hour - 1) % 24, text[29:31])
        yield text[:13] + stamp + b" " + release + text[31:]
