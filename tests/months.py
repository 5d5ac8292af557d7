"""An invented month of a station and an invented conversion, for tests of their pages."""

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


def counts(read=0, refused=0, aside=0):
    """One count that adds up."""
    return {
        "read": read,
        "written": read - refused - aside,
        "refused": refused,
        "aside": aside,
    }


def account(refused=0):
    """An account of a source in which some soundings were refused."""
    return {
        "bytes": counts(9000, 50 * refused, 300),
        "reports": counts(24, 4 * refused),
        "soundings": counts(6, refused),
        "levels": counts(540, 90 * refused),
        "values": counts(2700, 450 * refused),
    }


def run_summary(**changes):
    """The summary of an invented conversion of coded traffic."""
    sources = [
        {
            "name": f"traffic/2029/day-{day:03d}.txt",
            "digest": f"{day:064x}",
            "account": account(int(day % 7 == 0)),
            "refused": int(day % 7 == 0),
        }
        for day in range(1, 70)
    ]
    total = {
        unit: {
            flow: sum(item["account"][unit][flow] for item in sources)
            for flow in ("read", "written", "refused", "aside")
        }
        for unit in ("bytes", "reports", "soundings", "levels", "values")
    }
    document = {
        "format": "aerogram-conversion-1",
        "settings": {},
        "adds_up": True,
        "total": total,
        "sources": sources,
        "stations": [
            {
                "station": "90417",
                "soundings": 405,
                "current": 400,
                "flagged": 3,
                "files": [{"name": "90417.nc", "bytes": 90000}],
                "account": account(),
            }
        ],
        "not_read": [],
        "found": {"part-twice": 5, "thickness-misfit": 12},
        "refused": {"group-not-readable": 7, "no-report": 2},
        "faults": [],
    }
    return {**document, **changes}


def quarantine_records(count=9):
    """Records of the quarantine of that conversion."""
    return [
        {
            "aerogram-quarantine": 1,
            "kind": "traffic",
            "source": f"traffic/2029/day-{7 * place:03d}.txt",
            "offset": 1200 * place,
            "diagnostics": [{"code": "no-report", "message": f"Found no TTAA in {place}."}],
            "data": "XXAA 8OO45",
        }
        for place in range(1, count + 1)
    ]
