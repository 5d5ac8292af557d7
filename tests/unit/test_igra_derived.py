"""Derived files of IGRA: read where they match the sounding data, compared, never preferred."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.convert.run import plan_run, run_plan
from encoder.convert.sources import guess
from encoder.convert.station_file import read_converted
from encoder.convert.work import Settings
from encoder.formats.igra.derived import HEADER_WIDTH, LEVEL_WIDTH, is_derived, read_derived
from encoder.formats.netcdf.converted_product import SoundingQuality
from encoder.stations import NORRELAND
from samples.archive_generator import igra

GONE = -99999


def level(**known):
    """Return a level line; figures by place, all others missing."""
    fields = [GONE] * 19
    for place, value in known.items():
        fields[int(place[1:])] = value
    return " ".join(f"{value:7d}" for value in fields).encode()


def header(stamp=b"2001 01 01 00 2315", number=1, station=b"NRM00090417"):
    """Return a header line with empty indices."""
    line = b"#%s %s%5d " % (station, stamp, number) + b" ".join([b"-9999"] * 20)
    return line[:HEADER_WIDTH].ljust(HEADER_WIDTH)


def derived_of(text):
    """Return the derived text of sounding data as the archive makes it: kelvins and components."""
    made = []
    for sounding in text.replace(b"\n#", b"\n\0#").split(b"\0"):
        head, *rows = sounding.rstrip(b"\n").split(b"\n")
        made.append(header(head[13:31], len(rows)))
        for row in rows:
            pressure, height, heat = int(row[9:15]), int(row[16:21]), int(row[22:27])
            direction, speed = int(row[40:45]), int(row[46:51])
            known = {"f0": pressure}
            if height > -8888:
                known["f1"] = height
            if heat > -8888:
                known["f3"] = round(heat + 2731.5)
            if direction >= 0 and speed >= 0:
                angle = np.radians(direction)
                known["f14"] = round(-speed * np.sin(angle))
                known["f16"] = round(-speed * np.cos(angle))
            made.append(level(**known))
    return b"\n".join(made) + b"\n"


def data_text(count=3):
    return b"".join(
        text for _n, text in zip(range(count), igra.station_text("90417", 2001, 1, 3), strict=False)
    )


def convert(folder, *names):
    settings = Settings(str(folder / "out"), NORRELAND)
    summary = run_plan(plan_run([str(folder / name) for name in names], settings), settings)
    assert summary["adds_up"], summary["faults"]
    return summary


def test_lines_have_the_columns_of_the_layout():
    """157 of a header, 151 of a level: 19 fields of seven, a blank between."""
    assert len(header()) == HEADER_WIDTH
    assert len(level(f0=100000)) == LEVEL_WIDTH


def test_a_derived_file_is_told_from_the_data():
    """By its first line, in both directions."""
    assert is_derived(header() + b"\n")
    assert not is_derived(data_text(1))
    assert guess(derived_of(data_text(1))).kind == "igra-derived"
    assert guess(data_text(1)).kind == "igra"


def test_fields_are_read_by_their_places():
    """Pa, gpm, 0.1 K, 0.1 % and 0.1 m/s; -99999 is missing."""
    text = header() + b"\n" + level(f0=85000, f1=1500, f2=1501, f3=2731, f11=455, f14=-50, f16=0)
    (one,) = read_derived(text + b"\n" + level(f0=80000) + b"\n")
    values = {name: column.tolist() for name, column in one.levels.items()}
    assert (one.station, one.date, one.announced) == ("NRM00090417", (2001, 1, 1, 0, 2315), 1)
    assert values["pressure"] == [850.0, 800.0]
    assert values["height"][0] == 1500.0
    assert values["calculated_height"][0] == 1501.0
    assert values["temperature"][0] == pytest.approx(-0.05)
    assert values["humidity"][0] == 45.5
    assert values["east"][0] == -5.0
    assert np.isnan([values[name][1] for name in values if name != "pressure"]).all()


def test_alone_it_gives_soundings(tmp_path):
    """Pressure, temperature, height and wind; the position is that of the catalogue."""
    text = data_text()
    (tmp_path / "NRM00090417-drvd.txt").write_bytes(derived_of(text))
    summary = convert(tmp_path, "NRM00090417-drvd.txt")
    batch = read_converted(tmp_path / "out" / "90417.nc")[0]
    first = text.split(b"\n")[1]
    assert summary["total"]["soundings"]["written"] == 3
    assert batch.levels["air_pressure"][0] == int(first[9:15]) / 100
    assert batch.levels["air_temperature"][0] == pytest.approx(int(first[22:27]) / 10, abs=0.051)
    assert batch.levels["wind_speed"][0] == pytest.approx(int(first[46:51]) / 10, abs=0.08)
    assert batch.profiles["latitude"][0] == pytest.approx(53.4127)


def test_beside_the_data_it_is_a_copy_that_is_compared(tmp_path):
    """Never current where the data are; told where a temperature differs."""
    text = data_text()
    derived = derived_of(text).split(b"\n")
    place = next(i for i, line in enumerate(derived) if i > 4 and line[24:31].strip() != b"-99999")
    derived[place] = derived[place][:24] + b"   2999" + derived[place][31:]
    (tmp_path / "data.txt").write_bytes(text)
    (tmp_path / "a-drvd.txt").write_bytes(b"\n".join(derived))
    convert(tmp_path, "data.txt", "a-drvd.txt")
    batch = read_converted(tmp_path / "out" / "90417.nc")[0]
    import netCDF4

    with netCDF4.Dataset(tmp_path / "out" / "90417.nc") as dataset:
        superseded = dataset["superseded"][:].astype(bool)
    kind = batch.profiles["source_kind"]
    differs = batch.profiles["sounding_quality"] & int(SoundingQuality.DERIVED_DIFFERS) != 0
    assert len(batch) == 6
    assert (superseded == (kind == 5)).all()
    assert differs[kind == 5].tolist() == [True, False, False]
    assert not differs[kind == 0].any()


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b" 100000 ", b" 1O0000 "),
        (b"-99999 ", b"-9 999 "),
        (b"2001 01 01", b"2001 13 01"),
        (b"2001 01 01", b"2001 02 31"),
        (b"-99999\n", b"-99999 12\n"),
    ],
)
def test_what_is_off_the_layout_is_refused_whole(tmp_path, old, new):
    """The quarantine has the bytes; fed back after mending they come in."""
    text = header() + b"\n" + level(f0=100000) + b"\n"
    bad = text.replace(old, new, 1)
    assert bad != text
    (tmp_path / "a.txt").write_bytes(text + bad)
    summary = convert(tmp_path, "a.txt")
    assert summary["total"]["soundings"] == {"read": 2, "written": 1, "refused": 1, "aside": 0}
    assert summary["refused"] == {"igra-line-malformed": 1}
    path = tmp_path / "out" / "quarantine.jsonl"
    record = path.read_text()
    path.write_text(
        record.replace(new.decode().replace("\n", "\\n"), old.decode().replace("\n", "\\n"))
    )
    settings = Settings(str(tmp_path / "again"), NORRELAND)
    again = run_plan(plan_run([str(path)], settings), settings)
    assert again["total"]["soundings"]["written"] == 1


def test_a_station_without_position_is_refused(tmp_path):
    """The header has none, and none is made up."""
    text = header(station=b"XXM00012999") + b"\n" + level(f0=100000) + b"\n"
    (tmp_path / "a.txt").write_bytes(b"before\n" + text)
    settings = Settings(str(tmp_path / "out"), NORRELAND)
    plan = plan_run([str(tmp_path / "a.txt")], settings, kind="igra-derived")
    summary = run_plan(plan, settings)
    assert summary["refused"] == {"convert-position-unknown": 1, "igra-line-malformed": 1}
    assert summary["adds_up"]
