"""Soundings as coded traffic, written without the package so that it is a second opinion.

FM 35 TEMP, WMO-No. 306 Volume I.1; winds in knots.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from samples.archive_generator.soundings import Sounding

KNOT = 1852.0 / 3600.0
_LAST = {100.0: "1", 150.0: "1", 200.0: "2", 250.0: "2", 300.0: "3", 400.0: "4", 500.0: "5"}
_LAST_UPPER = {70.0: "7", 50.0: "5", 30.0: "3", 20.0: "2", 10.0: "1"}


def ppp(pressure: float, upper: bool) -> str:
    """Return PPP."""
    return f"{round(pressure * 10):03d}" if upper else f"{round(pressure) % 1000:03d}"


def hhh(height: float, pressure: float) -> str:
    """Return hhh."""
    if pressure <= 500.0:
        return f"{round(height / 10.0) % 1000:03d}"
    whole = round(height)
    return f"{(500 - whole if whole < 0 else whole % 1000):03d}"


def heat(temperature: float, depression: float) -> str:
    """Return TTTaDD."""
    tenths = round(abs(temperature) * 10.0)
    odd = temperature < 0
    if tenths % 2 != odd:
        tenths += 1 if not odd or tenths == 0 else -1
    if np.isnan(depression):
        return f"{tenths:03d}//"
    if depression < 5.5:
        return f"{tenths:03d}{min(round(depression * 10), 50):02d}"
    return f"{tenths:03d}{max(round(depression), 6) + 50:02d}"


def wind(direction: float, speed: float) -> str:
    """Return ddfff."""
    knots = round(speed / KNOT)
    if knots == 0:
        return "00000"
    five = round(direction / 5.0) % 72
    five = 72 if five == 0 else five
    return f"{five // 2:02d}{knots + (500 if five % 2 else 0):03d}"


def parts(sounding: Sounding) -> dict[str, str]:
    """Return the texts of parts A to D that the sounding reaches, without line ends."""
    when = sounding.time.astype(object)
    day, index = f"{when.day + 50:02d}{when.hour:02d}", sounding.station
    low = sounding.pressure >= 100.0
    release = f"8{(when.hour - 1) % 24:02d}{60 - sounding.release_minutes:02d}"
    levels = list(
        zip(
            sounding.pressure.tolist(),
            sounding.height.tolist(),
            sounding.temperature.tolist(),
            sounding.depression.tolist(),
            sounding.direction.tolist(),
            sounding.speed.tolist(),
            sounding.standard.tolist(),
            sounding.significant.tolist(),
            sounding.windy.tolist(),
            strict=True,
        )
    )
    made = {}
    for letter, upper, inside in (("A", False, low), ("C", True, ~low)):
        own = [item for item, use in zip(levels, inside.tolist(), strict=True) if use]
        standard = [item for item in own if item[6]]
        if not standard and upper:
            continue
        last = standard[-1][0] if standard else 1000.0
        figure = _LAST_UPPER[last] if upper else _LAST.get(last, f"{round(last) // 100 % 10}")
        figure = {1000.0: "0", 925.0: "9", 850.0: "8", 700.0: "7"}.get(last, figure)
        groups = [f"TT{letter * 2}", f"{day}{figure}", index]
        if not upper:
            p, _h, t, d, dd, ff = levels[sounding.surface][:6]
            groups += [f"99{ppp(p, False)}", heat(t, d), wind(dd, ff)]
            for mark in (1000.0, 925.0, 850.0, 700.0):
                if mark >= p:
                    groups += [f"{round(mark) % 1000 // 10:02d}///", "/////", "/////"]
        for p, h, t, d, dd, ff, *_flags in standard:
            figures = round(p) if upper else round(p) // 10 % 100
            groups += [f"{figures:02d}{hhh(h, p)}", heat(t, d), wind(dd, ff)]
        p, _h, t, d, dd, ff = levels[sounding.tropopause][:6]
        if (p >= 100.0) != upper:
            groups += [f"88{ppp(p, upper)}", heat(t, d), wind(dd, ff), "77999"]
        else:
            groups += ["88999", "77999"]
        groups += ["31313", "59008", release]
        made[letter] = " ".join(groups) + "="
    for letter, upper, inside in (("B", False, low), ("D", True, ~low)):
        own = [item for item, use in zip(levels, inside.tolist(), strict=True) if use]
        if not own or (upper and "C" not in made):
            continue
        first = f"{day}{'8' if not upper else '/'}"
        groups = [f"TT{letter * 2}", first, index]
        significant = [item for item in own if item[7]]
        number = 0 if not upper else 11
        for p, _h, t, d, *_winds in significant:
            groups += [f"{number:02d}{ppp(p, upper)}", heat(t, d)]
            number = 11 if number in (0, 99) else number + 11
        groups.append("21212")
        number = 0 if not upper else 11
        for p, _h, _t, _d, dd, ff, *_flags in [item for item in own if item[8]]:
            groups += [f"{number:02d}{ppp(p, upper)}", wind(dd, ff)]
            number = 11 if number in (0, 99) else number + 11
        groups += ["31313", "59008", release] if not upper else []
        made[letter] = " ".join(groups) + "="
    return made


def bulletin(letter: str, texts: Sequence[str], day: int, hour: int, number: int) -> str:
    """Return a bulletin of some parts with heading, as on a circuit."""
    types = {"A": "USNR01", "B": "UKNR01", "C": "ULNR01", "D": "UENR01"}
    heading = f"{types[letter]} XNOR {day:02d}{hour:02d}00"
    lines = [f"\x01\r\r\n{number % 1000:03d}\r\r\n{heading}\r\r\n"]
    for text in texts:
        groups = text.split(" ")
        rows = [" ".join(groups[at : at + 10]) for at in range(0, len(groups), 10)]
        lines.append("\r\r\n".join(rows) + "\r\r\n")
    return "".join(lines) + "\x03"


def day_file(soundings: Sequence[Sounding]) -> str:
    """Return the traffic of a day."""
    text = []
    number = 0
    for hour in (0, 12):
        own = [item for item in soundings if item.time.astype(object).hour == hour]
        coded = [parts(item) for item in own]
        for letter in "ABCD":
            texts = [item[letter] for item in coded if letter in item]
            if texts:
                day = own[0].time.astype(object).day
                text.append(bulletin(letter, texts, day, hour, number))
                number += 1
    return "".join(text)
