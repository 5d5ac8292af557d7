"""Old records on the command line: the date given, or a file name, picks the edition."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import netCDF4
import numpy as np
import pytest
from click.testing import CliRunner

from encoder.cli import cli

ROOT = Path(__file__).resolve().parents[2]
HARROW = ROOT / "samples" / "flights" / "harrow-tarn"
PILOT = "PPAA 59121 90417 44300 09535 08058 06601 77999=\n"
"""Three standard levels from 1000 hPa on: 1000, 850 and 700 hPa before 925 hPa was one."""
TEMP = (
    "TTAA 59121 72235 99000 24416 18006 00089 ///// ///// 85503 17280 22044 70136 09080 23538 "
    "88999 77999=\n"
)
BALLOON = "PIBAL DN 1000 02614 71812 82694 92810 02816 478/14 57604 08120 57199=\n"
SINGLE = "TEMP 90417 05122 85123 12345 2745=\n"


def run(*arguments, text=None):
    return CliRunner().invoke(cli, [str(one) for one in arguments], input=text)


def flight_of(folder, year):
    """Return the sample flight as if it had been made in another year."""
    shutil.copytree(HARROW, folder / f"flight-{year}")
    facts = folder / f"flight-{year}" / "flight.json"
    facts.write_text(facts.read_text(encoding="utf-8").replace("2031-", f"{year}-"), "utf-8")
    return facts.parent


@pytest.fixture(scope="module")
def of_1985(tmp_path_factory):
    """A flight of 1985."""
    return flight_of(tmp_path_factory.mktemp("old"), 1985)


@pytest.fixture(scope="module")
def of_1960(tmp_path_factory):
    """A flight of 1960."""
    return flight_of(tmp_path_factory.mktemp("older"), 1960)


def written(folder, name, text):
    path = folder / name
    path.write_text(text, encoding="ascii")
    return path


# --- a flight of 1985 -------------------------------------------------------------------------


def test_levels_of_1985(of_1985):
    """925 hPa is no standard surface of a flight of 1985; it is one of 2031."""
    assert "925.0" not in run("levels", of_1985).stdout
    assert "925.0" in run("levels", HARROW).stdout


def test_report_of_1985(of_1985, tmp_path):
    """No 925 hPa, no section 7, Id never 9; it is read, verified and sent as such."""
    coded = run("encode", of_1985)
    assert (coded.exit_code, coded.stderr) == (0, "")
    part_a, part_b, *_rest = coded.stdout.split("=\n")
    groups = part_a.split()
    assert not any(group.startswith("92") for group in groups[3:])
    assert "31313" not in coded.stdout
    assert groups[1][4] == "1"
    assert part_b.startswith("TTBB")
    path = written(tmp_path, "report.txt", coded.stdout)
    assert "May be sent" in run("verify", of_1985, path).stdout
    decoded = run("decode", path, "--date", "1985-07")
    assert decoded.exit_code == 0
    assert "925.0" not in decoded.stdout
    assert run("bulletin", of_1985, "--centre", "XNOR", "--area", "ZZ").exit_code == 0
    assert run("report", of_1985, "-o", tmp_path / "page.html").exit_code == 0


def test_id_is_never_nine(of_1985, tmp_path):
    """A wind that ends between 925 and 850 hPa gives Id 0 or /, as 925 hPa is no such level."""
    folder = tmp_path / "low"
    shutil.copytree(of_1985, folder)
    lines = (folder / "profile.csv").read_text(encoding="utf-8").splitlines()
    out = [line for line in lines if line.startswith(("#", "time"))]
    (names,) = (line.split(",") for line in out if line.startswith("time"))
    pressure = next(at for at, name in enumerate(names) if name.startswith("air_pressure"))
    winds = [at for at, name in enumerate(names) if name.startswith("wind_")]
    for line in lines[len(out) :]:
        cells = line.split(",")
        for at in winds if float(cells[pressure]) < 900.0 else ():
            cells[at] = ""
        out.append(",".join(cells))
    (folder / "profile.csv").write_text("\n".join(out) + "\n", encoding="utf-8")
    coded = run("encode", folder)
    assert coded.stdout.split()[1] == "5900/"


def test_pilot_of_1985(of_1985, tmp_path):
    """Its blocks count without 925 hPa, forward, backward and in the verdict."""
    coded = run("encode", of_1985, "--form", "PILOT")
    path = written(tmp_path, "pilot.txt", coded.stdout)
    assert "May be sent" in run("verify", of_1985, path).stdout
    document = run("decode", path, "--date", "1985-07-09", "--json").stdout
    again = run("encode", "-", text=document)
    assert again.stdout.split() == coded.stdout.split()


def test_archive_of_1985(of_1985, tmp_path):
    """The archive reads the report back in the edition of its day."""
    made = run("archive", of_1985, "-o", tmp_path)
    assert made.exit_code == 0, made.stderr
    (levels,) = tmp_path.glob("*_levels.nc")
    decoded = run("decode", levels)
    assert "925.0" not in decoded.stdout
    assert "1000.0" in decoded.stdout


# --- the date -----------------------------------------------------------------------------------


BY_DATE = pytest.mark.parametrize(
    ("name", "options", "year"),
    [
        ("report.txt", (), ""),
        ("report.txt", ("--date", "1985-07"), "1985"),
        ("day_19850709.txt", (), "1985"),
        ("day_20310709.txt", (), "2031"),
        ("day_20310709.txt", ("--date", "1985-07-09"), "1985"),
    ],
)


@BY_DATE
def test_date_picks_the_edition(tmp_path, name, options, year):
    """The option comes before the file name; without both the edition is that of today."""
    path = written(tmp_path, name, PILOT)
    document = json.loads(run("decode", path, *options, "--json").stdout)
    (report,) = document["reports"]
    records = report["parts"][0]["content"]["sections"][1]["records"]
    second = 850.0 if year == "1985" else 925.0
    assert [one["values"]["air_pressure"] for one in records][:2] == [1000.0, second]
    assert report.get("on", "")[:4] == year


@BY_DATE
def test_date_picks_the_explanation(tmp_path, name, options, year):
    """A group 92hhh is explained as a level of today, and as no group of 1985."""
    path = written(tmp_path, name, TEMP.replace("85503", "92772 21205 20540 85503"))
    text = run("explain", path, *options).stdout
    assert ("standard level 925 hPa" in text) == (year != "1985")
    assert ("fits no section here" in text) == (year == "1985")


def test_files_of_two_times(tmp_path):
    """Files of both times in one call are each read in their own edition."""
    old = written(tmp_path, "day_19850709.txt", PILOT)
    new = written(tmp_path, "day_20310709.txt", PILOT)
    document = json.loads(run("decode", old, new, "--json").stdout)
    seconds = [
        report["parts"][0]["content"]["sections"][1]["records"][1]["values"]["air_pressure"]
        for report in document["reports"]
    ]
    assert seconds == [850.0, 925.0]


def test_925_in_an_old_report(tmp_path):
    """A group 92hhh is told in 1985; that it is not there is no finding."""
    path = written(tmp_path, "report.txt", TEMP.replace("85503", "92772 21205 20540 85503"))
    told = run("decode", path, "--date", "1985-07")
    assert "group-unexpected" in told.stderr
    assert told.exit_code == 1
    path = written(tmp_path, "sound.txt", TEMP)
    assert "standard-level-missing" not in run("decode", path, "--date", "1985-07").stderr


def test_id_nine_in_an_old_report(tmp_path):
    """Id 9 names 925 hPa: no figure of a report of 1985."""
    path = written(tmp_path, "report.txt", TEMP.replace("59121", "59129"))
    assert "names 925 hPa" in run("decode", path, "--date", "1985-07").stderr
    assert "names 925 hPa" not in run("decode", path).stderr


def test_section_7_in_an_old_report(tmp_path):
    """At land there was none; at sea it held the temperature of the sea alone."""
    land = TEMP.replace("77999=", "77999 31313 59008 82321=")
    assert (
        "group-unexpected"
        in run("decode", written(tmp_path, "land.txt", land), "--date", "1985-07").stderr
    )
    sea = "UUBB QCW07 6512/ 99256 70775 08057 00007 28448 31313 90271=\n"
    result = run("explain", written(tmp_path, "sea.txt", sea), "--date", "1985-07")
    assert "27.1" in result.stdout
    assert "group-missing" not in result.stderr


def test_humidity_convention(tmp_path):
    """30 K of a United States station is told in the years of the convention only."""
    path = written(tmp_path, "report.txt", TEMP)
    assert "humidity-by-convention" in run("decode", path, "--date", "1985-07").stderr
    for other in ("1971-07", "2001-07"):
        assert "humidity-by-convention" not in run("decode", path, "--date", other).stderr
    named = written(tmp_path, "day_19850709.txt", TEMP)
    assert "humidity-by-convention" in run("decode", named).stderr


def test_archive_takes_the_month(tmp_path):
    """--month and a file name pick the edition of reports that are archived."""
    for name, options in (("day_19850709.txt", ()), ("report.txt", ("--month", "1985-07"))):
        folder = tmp_path / name[:3]
        made = run("archive", written(tmp_path, name, PILOT), *options, "-o", folder)
        assert made.exit_code == 0, made.stderr
        (levels,) = folder.glob("*_levels.nc")
        document = json.loads(run("decode", levels, "--json").stdout)
        records = document["reports"][0]["parts"][0]["content"]["sections"][1]["records"]
        assert [one["values"]["air_pressure"] for one in records] == [1000.0, 850.0, 700.0]


def test_text_to_bufr_takes_the_date(tmp_path):
    """--date of encode --to bufr is the day of the edition too."""
    path = written(tmp_path, "report.txt", PILOT)
    out = tmp_path / "report.bufr"
    options = ("--to", "bufr", "--date", "1985-07-09", "--force", "-o", out)
    assert run("encode", path, *options).exit_code == 0
    decoded = run("decode", out).stdout
    assert "850.0" in decoded
    assert "925.0" not in decoded


# --- pilot balloons -----------------------------------------------------------------------------


def test_pilot_balloon_of_1944(tmp_path):
    """Miles per hour in 1944, knots in 1955, no speed without a date; the text comes back."""
    path = written(tmp_path, "balloon.txt", BALLOON)
    result = run("decode", path, "--date", "1944-06")
    assert result.exit_code == 0
    assert "words DN 1000  winds in mph" in result.stdout
    assert "edition-from-memory" in result.stderr
    assert "winds in kt" in run("decode", path, "--date", "1955-06").stdout
    undated = run("decode", path)
    assert undated.exit_code == 1
    assert "wind-unit-unknown" in undated.stderr
    assert "which is not known" in undated.stderr
    outside = run("decode", path, "--date", "1938-06").stderr
    assert "on 1938-06-01 there is no edition; they are missing" in outside
    named = written(tmp_path, "day_19440605.txt", BALLOON)
    assert "winds in mph" in run("decode", named).stdout
    for when in ("1944-06", "1955-06"):
        document = run("decode", path, "--date", when, "--json").stdout
        assert run("encode", "-", text=document).stdout.split() == BALLOON.split()


def test_pilot_balloon_elsewhere(tmp_path):
    """Page and splitter take it; verify, archive and BUFR refuse it in a sentence."""
    path = written(tmp_path, "day_19550605.txt", BALLOON)
    assert run("report", path, "-o", tmp_path / "page.html").exit_code == 0
    assert "PIBAL" in run("split", path).stdout
    flight = flight_of(tmp_path, 1955)
    for words in (
        ("verify", flight, path),
        ("archive", path, "-o", tmp_path / "out"),
        ("encode", path, "--to", "bufr", "--date", "1955-06-05"),
    ):
        result = run(*words)
        assert result.exit_code == 1, words
        assert "Traceback" not in result.stderr
    assert not list(tmp_path.glob("out/*.nc"))


def test_pilot_balloon_converted(tmp_path):
    """Nothing tells the station: the report is kept whole, why is said, and nothing is written."""
    path = written(tmp_path, "19550605.txt", BALLOON)
    result = run("convert", path, "--to", tmp_path / "out", "--jobs", 1)
    assert (result.exit_code, "Everything adds up" in result.stdout) == (1, True)
    record = json.loads((tmp_path / "out" / "quarantine.jsonl").read_text(encoding="utf-8"))
    assert record["data"] == BALLOON.rstrip("\n")
    assert "decode reads its winds" in record["diagnostics"][0]["message"]


def test_pilot_balloon_explained(tmp_path):
    """Figure by figure, with the declaration of its day."""
    path = written(tmp_path, "balloon.txt", BALLOON)
    text = run("explain", path, "--date", "1944-06").stdout
    assert "214 miles per hour" in text
    assert "14,000 ft above mean sea level" in text
    assert "in miles per hour" in run("explain", "--form", "PIBAL", "--date", "1944-06").stdout
    assert "in knots" in run("explain", "--form", "pibal").stdout
    refused = run("explain", "--form", "PIBAL", "--date", "1985-06")
    assert refused.exit_code == 2
    assert "from 1940-01-01 to 1967-12-31" in refused.stderr


# --- before the four parts ------------------------------------------------------------------------


def test_single_message_is_refused(tmp_path):
    """What is known, which days, and what can be done; nothing is read."""
    path = written(tmp_path, "report.txt", SINGLE)
    result = run("decode", path, "--date", "1960-07")
    assert result.exit_code == 1
    assert result.stdout == ""
    for words in ("no-edition", "1968-01-01", "single message", "quarantine.jsonl"):
        assert words in result.stderr


@pytest.mark.parametrize(
    "words",
    [
        ("encode",),
        ("explain",),
        ("bulletin", "--centre", "XNOR", "--area", "ZZ"),
        ("report", "-o", "page.html"),
    ],
)
def test_flight_of_1960(of_1960, words, tmp_path, monkeypatch):
    """No report is made of it, and that is said in a sentence."""
    monkeypatch.chdir(tmp_path)
    result = run(words[0], of_1960, *words[1:])
    assert result.exit_code == 1
    assert "there is no edition for 1960-07-09" in result.stderr
    assert "Traceback" not in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_flight_of_1960_is_kept(of_1960, tmp_path):
    """Its levels are shown, its rows archived and coded in BUFR; a report of it is not sent."""
    assert run("levels", of_1960).exit_code == 0
    made = run("archive", of_1960, "-o", tmp_path / "archive")
    assert made.exit_code == 0
    assert "flight-without-edition" in made.stderr
    assert list((tmp_path / "archive").glob("*_flight.nc"))
    bufr = run("encode", of_1960, "--to", "bufr", "-o", tmp_path / "flight.bufr")
    assert bufr.exit_code == 0
    report = written(tmp_path, "report.txt", TEMP)
    verdict = run("verify", of_1960, report)
    assert verdict.exit_code == 1
    assert "no-edition" in verdict.stdout + verdict.stderr


def test_archive_writes_nothing_of_it(tmp_path):
    """A report of a day without an edition is told and left where it is."""
    path = written(tmp_path, "day_19600709.txt", TEMP.replace("72235", "90417"))
    result = run("archive", path, "-o", tmp_path / "archive")
    assert result.exit_code == 1
    assert "no-edition" in result.stderr
    assert not list((tmp_path / "archive").glob("*.nc"))
    assert path.read_text(encoding="ascii").startswith("TTAA")


def test_convert_keeps_it_whole(tmp_path):
    """Single messages, parts before their time and pilot balloons go whole into quarantine."""
    source = tmp_path / "source"
    source.mkdir()
    parts = TEMP.replace("72235", "90417")
    written(source, "day_19600709.txt", parts + SINGLE + BALLOON)
    written(source, "day_19850709.txt", PILOT)
    result = run("convert", source, "--to", tmp_path / "out", "-q", "--jobs", 1)
    assert result.exit_code == 0, result.stderr
    lines = (tmp_path / "out" / "quarantine.jsonl").read_text(encoding="utf-8").splitlines()
    kept = {
        item["data"].strip(): [one["code"] for one in item["diagnostics"]]
        for item in map(json.loads, lines)
    }
    assert kept == {
        parts.strip(): ["no-edition"],
        SINGLE.strip(): ["convert-text-unread", "no-edition"],
        BALLOON.strip(): ["convert-report-unidentified"],
    }
    summary = json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))
    assert summary["adds_up"] is True
    with netCDF4.Dataset(tmp_path / "out" / "90417.nc") as file:
        pressure = np.ma.compressed(file["air_pressure"][:])
        assert sorted(pressure.tolist()) == [70000, 85000, 100000]
