"""An invented month of a station and an invented bulk run, for tests of their pages."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from encoder.report import decode_reports
from encoder.sounding import Sounding


def month_soundings(review, days=31):
    """Soundings of a month made from one report: cut short, damaged, left out, corrected.

    Day 5 at 12 is missing, day 7 at 00 ends below 100 hPa, day 9 at 12 lacks part B, day 11 at 00
    is damaged, day 13 at 12 lacks part D, day 15 at 00 was corrected.
    """
    text = review.made.text
    parts = {part.letters: part.text + "\n" for part in review.made.parts}
    found = []
    for day in range(1, days + 1):
        for hour in (0, 12):
            said = text
            if (day, hour) == (5, 12):
                continue
            if (day, hour) == (7, 0):
                said = parts["TTAA"] + parts["TTBB"]
            if (day, hour) == (9, 12):
                said = parts["TTAA"] + parts["TTCC"] + parts["TTDD"]
            if (day, hour) == (11, 0):
                said = text.replace("0", "O", 3)
            if (day, hour) == (13, 12):
                said = parts["TTAA"] + parts["TTBB"] + parts["TTCC"]
            report = decode_reports(said).value[0]
            nominal = datetime(2031, 1, day, hour, tzinfo=UTC)
            sounding = Sounding(
                review.flight.station,
                nominal - timedelta(minutes=36),
                nominal,
                report.levels,
                text=said,
                report=report,
            )
            if (day, hour) == (15, 0):
                found.append(replace(sounding, superseded=True))
            found.append(sounding)
    return found


def sent_times(soundings):
    """Every part sent in good time, but A of day 3 at 00, which is 35 minutes late."""
    sent = {}
    for item in soundings:
        for letter, minutes in (("A", 25), ("B", 30), ("C", 70), ("D", 75)):
            late = (
                130 if (item.nominal_time.day, item.nominal_time.hour, letter) == (3, 0, "A") else 0
            )
            sent[item.nominal_time, letter] = item.nominal_time + timedelta(minutes=minutes + late)
    return sent


def run_summary(**changes):
    """The summary of an invented run over two years of coded traffic."""
    document = {
        "format": "aerogram-run-1",
        "state": "finished",
        "sources": ["traffic/2029", "traffic/2030"],
        "destination": "history",
        "accounts": [
            {"unit": "soundings", "in": 4380, "out": 4361, "refused": 19},
            {"unit": "reports", "in": 15200, "out": 15165, "refused": 35},
            {"unit": "levels", "in": 402113, "out": 401020, "refused": 1093},
            {"unit": "octets", "in": 9120334, "out": 9098123, "refused": 22211},
        ],
        "causes": [
            {"code": "group-not-figures", "count": 21, "example": "8OO45"},
            {"code": "no-report", "count": 9, "example": None},
            {"code": "part-twice", "count": 5, "example": "TTBB 01128"},
        ],
        "files": [
            {
                "source": f"traffic/2029/day-{day:03d}.txt",
                "in": 6,
                "out": 6 - (day % 7 == 0),
                "refused": int(day % 7 == 0),
                "errors": day % 5,
                "warnings": day % 3,
            }
            for day in range(1, 70)
        ],
        "quarantine": [
            {
                "source": f"traffic/2029/day-{7 * k:03d}.txt",
                "offset": 1200 * k,
                "code": "group-not-figures",
                "message": "Expected figures, got '8OO45'.",
                "file": f"quarantine/{k:04d}.txt",
            }
            for k in range(1, 20)
        ],
    }
    return {**document, **changes}
