"""Coded traffic as a source: what is told of a sounding and its levels."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.convert.run import plan_run, run_plan
from encoder.convert.station_file import read_converted
from encoder.convert.work import Settings
from encoder.formats.netcdf.converted_product import LevelQuality, SoundingQuality
from encoder.stations import NORRELAND
from samples.archive_generator import traffic
from samples.archive_generator.soundings import make, times


def coded(hour=20, seed=8):
    """Return the parts of a sounding of 11 January 1994, 00 UTC."""
    return traffic.parts(make("90417", times(1994, 1)[hour], np.random.default_rng(seed)))


def convert(folder, text, **more):
    """Convert one text; return summary and batch."""
    (folder / "19940111.txt").write_text(text)
    settings = Settings(str(folder / "out"), NORRELAND, **more)
    summary = run_plan(plan_run([str(folder / "19940111.txt")], settings), settings)
    assert summary["adds_up"], summary["faults"]
    return summary, read_converted(folder / "out" / "90417.nc")[0]


def bits(batch):
    """Return the names of the findings on each sounding."""
    quality = batch.profiles["sounding_quality"].tolist()
    return [{str(bit.name) for bit in SoundingQuality if value & bit} for value in quality]


@pytest.mark.parametrize(
    ("heading", "told"),
    [
        ("USNR01 XNOR 110000", False),
        ("USNR01 XNOR 111100", False),
        ("USNR01 XNOR 111200", True),
        ("USNR01 XNOR 102300", False),
        ("USNR01 XNOR 120000", True),
        ("USNR01 XNOR 010000", True),
    ],
)
def test_a_report_far_from_the_time_of_its_heading_is_told(tmp_path, heading, told):
    """The heading has the time of observation (WMO-No. 386): another day, or the
    hour of another sounding, is a wrong figure."""
    part = coded()["A"]
    _summary, batch = convert(tmp_path, f"{heading}\r\r\n{part}\r\r\n\x03")
    assert ("TIME_NOT_OF_HEADING" in bits(batch)[0]) == told


def test_the_last_day_of_a_month_is_near_the_first_of_the_next(tmp_path):
    """A report of the evening of the last day under a heading of the next month."""
    part = coded()["A"].replace("TTAA 6100", "TTAA 8118", 1)
    assert part.startswith("TTAA 8118")
    heading = "USNR01 XNOR 010000"
    _summary, batch = convert(tmp_path, f"{heading}\r\r\n{part}\r\r\n\x03")
    assert "TIME_NOT_OF_HEADING" not in bits(batch)[0]


def test_parts_under_another_hour_are_told_on_both_sides(tmp_path):
    """Part B under 05 instead of 00 UTC: what is lacking here stands alone there."""
    parts = coded()
    text = parts["A"] + "\n" + parts["B"].replace("TTBB 6100", "TTBB 6105", 1)
    _summary, batch = convert(tmp_path, text)
    assert len(batch) == 2
    assert all("PARTS_SCATTERED" in item for item in bits(batch))
    whole, one = convert(tmp_path, parts["A"] + "\n" + parts["B"])
    assert whole["total"]["soundings"]["written"] == 1
    assert "PARTS_SCATTERED" not in bits(one)[0]


def test_upper_parts_alone_beside_a_lower_part_alone_are_told(tmp_path):
    """Part A is lost, B stands under 05 instead of 00 UTC, C where it belongs."""
    parts = coded()
    text = parts["B"].replace("TTBB 6100", "TTBB 6105", 1) + "\n" + parts["C"]
    _summary, batch = convert(tmp_path, text)
    assert len(batch) == 2
    assert all("PARTS_SCATTERED" in item for item in bits(batch))


def test_two_soundings_with_the_same_parts_are_not_scattered(tmp_path):
    """Parts A and B every six hours, never more: nothing is missing from one that another has."""
    parts = coded()
    both = parts["A"] + "\n" + parts["B"]
    _summary, batch = convert(tmp_path, both + "\n" + both.replace(" 6100", " 6106"))
    assert len(batch) == 2
    assert not any("PARTS_SCATTERED" in item for item in bits(batch))


def test_levels_beside_a_group_that_cannot_be_read_are_told(tmp_path):
    """A lost group moves its neighbours: they are marked, levels far away are not."""
    parts = coded()
    groups = parts["A"].split(" ")
    place = next(i for i, group in enumerate(groups) if group.startswith("50") and i > 6)
    del groups[place + 1]
    _summary, batch = convert(tmp_path, " ".join(groups) + "\n" + parts["B"])
    marks = batch.levels["level_quality"] & int(LevelQuality.CODING_FAULT) != 0
    pressure = batch.levels["air_pressure"]
    assert "CODING_FAULTS" in bits(batch)[0]
    assert marks[np.abs(pressure - 500.0) < 0.1].all()
    assert not marks[pressure > 850.0].any()


def test_parts_that_are_not_of_one_sounding_are_refused_whole(tmp_path, monkeypatch):
    """Where the decoder finds two reports in the parts of one, neither is dropped silently."""
    import encoder.report as module

    real = module.decode_reports

    def twice(text, **options):
        result = real(text, **options)
        return type(result)(result.value * 2, result.diagnostics)

    monkeypatch.setattr(module, "decode_reports", twice)
    (tmp_path / "19940111.txt").write_text(coded()["A"].replace("31313", "3I313"))
    settings = Settings(str(tmp_path / "out"), NORRELAND)
    summary = run_plan(plan_run([str(tmp_path / "19940111.txt")], settings), settings)
    assert summary["refused"] == {"convert-sounding-empty": 1}
    assert summary["adds_up"]


def test_a_mended_part_joins_the_others_of_its_sounding(tmp_path):
    """The quarantine, mended, beside its source: the sounding is whole, as without the damage."""
    import json

    parts = coded()
    whole = "\n".join(parts.values()) + "\n"
    broken = whole.replace(" 90417 ", " 9O/17 ", 1)
    _summary, expected = convert(tmp_path, whole)
    source = tmp_path / "19940111.txt"
    source.write_text(broken)
    settings = Settings(str(tmp_path / "one"), NORRELAND)
    first = run_plan(plan_run([str(source)], settings), settings)
    assert first["adds_up"]
    assert first["total"]["reports"]["refused"] == 1
    lines = (tmp_path / "one" / "quarantine.jsonl").read_text(encoding="utf-8").splitlines()
    mended = [json.loads(line) for line in lines]
    for item in mended:
        item["data"] = item["data"].replace("9O/17", "90417")
    (tmp_path / "mended.jsonl").write_text("".join(json.dumps(item) + "\n" for item in mended))
    settings = Settings(str(tmp_path / "two"), NORRELAND)
    given = [str(source), str(tmp_path / "mended.jsonl")]
    second = run_plan(plan_run(given, settings), settings)
    assert second["adds_up"]
    batch = read_converted(tmp_path / "two" / "90417.nc")[0]
    assert len(batch) == 1
    assert second["total"]["reports"]["written"] == len(parts)
    for name, values in expected.levels.items():
        assert np.array_equal(values, batch.levels[name], equal_nan=True), name


def test_sources_and_results_in_object_storage(tmp_path):
    """Folder, container and destination by URL, in memory: the files of a run on the disk."""
    import io
    import zipfile

    import fsspec

    system = fsspec.filesystem("memory")
    text = "\n".join(coded().values()).encode()
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("19940111.txt", text)
    system.pipe("/in/deep/box.zip", packed.getvalue())
    (tmp_path / "in" / "deep").mkdir(parents=True)
    (tmp_path / "in" / "deep" / "box.zip").write_bytes(packed.getvalue())
    runs = {}
    for name, source, target in (
        ("far", "memory://in", "memory://out"),
        ("near", str(tmp_path / "in"), str(tmp_path / "out")),
    ):
        settings = Settings(target, NORRELAND)
        runs[name] = run_plan(plan_run([source], settings), settings)
    assert runs["far"] == runs["near"]
    for item in ("90417.nc", "summary.json", "quarantine.jsonl"):
        assert system.cat_file(f"/out/{item}") == (tmp_path / "out" / item).read_bytes()
    again = Settings("memory://out", NORRELAND)
    assert run_plan(plan_run(["memory://in"], again), again) == runs["far"]
    system.rm("/in", recursive=True)
    system.rm("/out", recursive=True)


def test_figures_of_one_part_in_another_unit_are_told(tmp_path):
    """Part B has figures of m/s and says knots: its winds are half those between them in part A."""
    import re

    parts = coded(hour=21, seed=4)
    head, winds = parts["B"].split("21212 ")
    winds, rest = winds.split(" 31313")
    groups = winds.split(" ")
    halved = [
        re.sub(r"(\d\d)(\d)(\d\d)$", lambda m: f"{m[1]}{m[2]}{round(int(m[3]) / 1.94):02d}", group)
        if place % 2
        else group
        for place, group in enumerate(groups)
    ]
    wrong = parts["A"] + "\n" + head + "21212 " + " ".join(halved[2:-2]) + " 31313" + rest
    _summary, batch = convert(tmp_path, wrong)
    assert "WIND_UNIT_SUSPECT" in bits(batch)[0]


@pytest.mark.parametrize("letter", ["A", "B"])
def test_parts_in_different_wind_units_are_told(tmp_path, letter):
    """One part says m/s (day without 50) for figures in knots; with both in knots none is told."""
    parts = coded(hour=21, seed=4)
    right = parts["A"] + "\n" + parts["B"]
    wrong = right.replace(f"TT{letter * 2} 61", f"TT{letter * 2} 11", 1)
    (tmp_path / "right").mkdir()
    (tmp_path / "wrong").mkdir()
    _summary, batch = convert(tmp_path / "right", right)
    assert "WIND_UNIT_SUSPECT" not in bits(batch)[0]
    _summary, batch = convert(tmp_path / "wrong", wrong)
    assert "WIND_UNIT_SUSPECT" in bits(batch)[0]


def test_generated_weather_is_not_suspected(tmp_path):
    """Two months of traffic, nothing damaged: no wrong unit, time or scattered part is seen."""
    random = np.random.default_rng(17)
    for hour in times(1994, 1)[:120:2]:
        day = str(hour)[:10].replace("-", "")
        own = [make(station, hour, random) for station in ("90417", "90122")]
        (tmp_path / f"{day}.txt").write_text(traffic.day_file(own))
    settings = Settings(str(tmp_path / "out"), NORRELAND)
    run_plan(plan_run([str(tmp_path)], settings), settings)
    suspicions = {"WIND_UNIT_SUSPECT", "TIME_NOT_OF_HEADING", "PARTS_SCATTERED", "REPAIRED"}
    for station in ("90417", "90122"):
        batch = read_converted(tmp_path / "out" / f"{station}.nc")[0]
        assert len(batch) == 60
        assert not any(item & suspicions for item in bits(batch))


@pytest.mark.parametrize("day", [1, 9, 10, 30, 31])
def test_days_of_reports_are_read_from_their_first_groups(monkeypatch, day):
    """YY with and without 50 for knots, to the last day, without decoding the report."""
    import encoder.report as module
    from encoder.bulletin.pieces import Kind, Piece
    from encoder.convert.read_traffic import _identify

    monkeypatch.setattr(module, "decode_reports", None)
    for figures in (day, day + 50):
        text = f"TTAA {figures:02d}121 90417 99969 00957 19014=".encode()
        said = _identify(Piece(Kind.REPORT, 0, text, None, "TTAA", True, ""))
        assert (said.station, said.day, said.hour) == ("90417", day, 12)


def test_blocks_do_not_matter(tmp_path, monkeypatch):
    """Soundings decoded three at a time are those decoded all at once, byte for byte."""
    import encoder.convert.decode_parts as module

    random = np.random.default_rng(3)
    text = "\n".join(
        part
        for hour in times(1994, 1)[20:28]
        for part in traffic.parts(make("90417", hour, random)).values()
    )
    files = []
    for size in (4096, 3):
        folder = tmp_path / str(size)
        folder.mkdir()
        monkeypatch.setattr(module, "BLOCK", size)
        summary, batch = convert(folder, text)
        assert len(batch) == 8
        assert summary["total"]["soundings"]["written"] == 8
        files.append((folder / "out" / "90417.nc").read_bytes())
    assert files[0] == files[1]


def test_winds_by_height_alone_make_a_file(tmp_path):
    """A station of pilot balloons has no pressures: heights are the vertical coordinate."""
    text = "PPBB 61120 90417 90012 19014 20016 21018 90346 22020 23022 24024="
    _summary, batch = convert(tmp_path, text)
    assert len(batch) == 1
    assert not np.isfinite(batch.levels["air_pressure"]).any()
    assert np.isfinite(batch.levels["geopotential_height"][1:]).all()  # the first is the ground
    settings = Settings(str(tmp_path / "again"), NORRELAND)
    again = run_plan(plan_run([str(tmp_path / "out" / "90417.nc")], settings), settings)
    assert again["adds_up"]
    assert again["total"]["values"]["read"] == _summary["total"]["values"]["written"]


def test_what_is_computed_anew_comes_back_from_the_file(tmp_path):
    """Humidities that a file does not store are read again where all else is in tenths."""
    from encoder import physics
    from encoder.convert.soundings import Gathered
    from encoder.convert.station_file import write_converted
    from encoder.profile import Station

    heat, depression = np.array([10.1, 0.3, -20.0]), np.array([2.0, 3.1, 10.0])
    columns = {
        "air_pressure": np.array([1000.0, 850.0, 500.0]),
        "geopotential_height": np.array([100.0, 1450.0, 5500.0]),
        "air_temperature": heat,
        "dew_point_depression": depression,
        "dew_point_temperature": heat - depression,
        "relative_humidity": np.asarray(
            physics.relative_humidity(heat, heat - depression, "wmo-49")
        ),
        "wind_from_direction": np.array([10.0, 20.0, 30.0]),
        "wind_speed": np.array([1.5, 2.5, 3.5]),
    }
    gathered = Gathered()
    place = {"latitude": 53.4, "longitude": -18.2, "elevation": 412.0}
    gathered.add("90417", columns, np.zeros(3, dtype=int), time=0.0, nominal_time=0.0, **place)
    batch = gathered.batches()["90417"]
    station = Station("Harrow Tarn", 53.4, -18.2, 412.0, "90417")
    write_converted(
        tmp_path / "a.nc",
        batch,
        station,
        selection=np.zeros(1, int),
        sources=[{"name": "a", "digest": "", "kind": "bufr"}],
        remarks=("made",),
    )
    again = read_converted(tmp_path / "a.nc")[0]
    for name, values in columns.items():
        assert np.array_equal(values, again.as_values().levels[name]), name
