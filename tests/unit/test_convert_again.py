"""A conversion that goes on: nothing twice, nothing lost, changed sources, what was read back."""

from __future__ import annotations

import base64
import io
import os
import zipfile

import netCDF4
import numpy as np
import pytest

from encoder.convert.run import Silent, plan_run, run_plan
from encoder.convert.station_file import read_converted
from tests.conversions import (
    coded_days,
    convert,
    files_of,
    quarantine,
    settings,
    station_text,
)


def mixed_sources(folder):
    coded_days(folder / "days", 2)
    (folder / "igra").mkdir()
    for station in ("90417", "90731"):
        (folder / "igra" / f"{station}.txt").write_bytes(station_text(station, count=20))
    return [folder / "days", folder / "igra"]


def test_order_and_number_of_workers_do_not_matter(tmp_path):
    """Every file of the destination is the same, byte for byte."""
    sources = mixed_sources(tmp_path / "in")
    convert(sources, tmp_path / "one")
    convert(sources[::-1], tmp_path / "two", jobs=2)
    assert files_of(tmp_path / "one") == files_of(tmp_path / "two")


def test_what_is_done_is_not_done_again(tmp_path, monkeypatch):
    """A second run reads no source; a changed one is read again."""
    sources = mixed_sources(tmp_path / "in")
    convert(sources, tmp_path / "out")
    before = files_of(tmp_path / "out")

    calls = []
    import encoder.convert.run as module

    real = module.run_unit
    monkeypatch.setattr(module, "run_unit", lambda *given: calls.append(given) or real(*given))
    convert(sources, tmp_path / "out")
    assert calls == []
    assert files_of(tmp_path / "out") == before
    path = tmp_path / "in" / "igra" / "90731.txt"
    stamp = path.stat()
    path.write_bytes(path.read_bytes().replace(b"ncdc-gts", b"ncdc-nws"))
    os.utime(path, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
    convert(sources, tmp_path / "out")
    assert [call[0].source.name for call in calls] == ["90731.txt"]


@pytest.mark.parametrize("victim", ["90731.nc", "account", "shard"])
def test_what_was_lost_is_made_again(tmp_path, victim):
    """A station file, an account or a shard that went is made anew, the same as before."""
    sources = mixed_sources(tmp_path / "in")
    convert(sources, tmp_path / "out")
    before = files_of(tmp_path / "out")
    if victim == "account":
        paths = list((tmp_path / "out" / ".work" / "units").glob("*/account.json"))[:2]
    elif victim == "shard":
        paths = list((tmp_path / "out" / ".work" / "units").glob("*/*.batch"))[:1]
    else:
        paths = [tmp_path / "out" / victim]
    for path in paths:
        path.unlink()
    convert(sources, tmp_path / "out")
    assert files_of(tmp_path / "out") == before


@pytest.mark.parametrize("change", ["grows", "other content"])
def test_a_source_that_changes_while_it_is_read_is_refused(tmp_path, change):
    """It is not what its digest was made of when the plan was made; the next run takes it."""
    path = tmp_path / "a.txt"
    text = station_text(count=3)
    path.write_bytes(text)
    chosen = settings(tmp_path / "out")
    plan = plan_run([str(path)], chosen)
    before = path.stat().st_mtime_ns
    path.write_bytes(text + b"more\n" if change == "grows" else text.replace(b"gts", b"nws"))
    os.utime(path, ns=(before + 1_000_000, before + 1_000_000))
    summary = run_plan(plan, chosen)
    assert summary["refused"] == {"convert-source-changed": 1}
    assert summary["adds_up"]
    path.write_bytes(text)
    assert convert([path], tmp_path / "out")["total"]["soundings"]["written"] == 3


def test_a_source_that_vanishes_is_refused_and_the_others_go_on(tmp_path):
    """Between plan and reading one file goes; the run ends, and says so."""
    for name in ("a.txt", "b.txt"):
        (tmp_path / name).write_bytes(station_text(count=3))
    chosen = settings(tmp_path / "out")
    plan = plan_run([str(tmp_path / "a.txt"), str(tmp_path / "b.txt")], chosen)
    (tmp_path / "a.txt").unlink()
    summary = run_plan(plan, chosen)
    assert summary["refused"] == {"convert-source-unreadable": 1}
    assert summary["total"]["soundings"]["written"] == 3
    assert summary["adds_up"]


def test_a_source_that_breaks_off_is_refused_whole(tmp_path):
    """A zip whose member is not what its checksum says gives no half of a history."""
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("one.txt", station_text(count=200))
    data = bytearray(whole.getvalue())
    data[data.rindex(b"PK\x01\x02") + 16] ^= 1
    (tmp_path / "a.zip").write_bytes(bytes(data))
    summary = convert([tmp_path / "a.zip"], tmp_path / "out")
    assert summary["refused"] == {"convert-source-damaged": 1}
    assert summary["adds_up"]
    assert summary["stations"] == []


def test_a_file_that_is_not_what_was_written_is_told(tmp_path, monkeypatch):
    """Reading back finds a difference; the run says that it does not add up."""
    import encoder.convert.stations as module

    (tmp_path / "a.txt").write_bytes(station_text(count=3))
    monkeypatch.setattr(module, "differences", lambda *_given: ("air_pressure",))
    summary = convert([tmp_path / "a.txt"], tmp_path / "out")
    assert not summary["adds_up"]
    assert [item["code"] for item in summary["faults"]] == ["convert-file-differs"]


def test_reading_back_sees_a_changed_value(tmp_path):
    """One figure changed in the file is found."""
    from encoder.convert.station_file import Written, differences

    (tmp_path / "a.txt").write_bytes(station_text(count=3))
    convert([tmp_path / "a.txt"], tmp_path / "out")
    with netCDF4.Dataset(tmp_path / "out" / "90417.nc", "a") as dataset:
        dataset.set_auto_maskandscale(False)
        given = Written({"air_pressure": np.asarray(dataset["air_pressure"][:]).copy()})
        assert differences(tmp_path / "out" / "90417.nc", given) == ()
        dataset["air_pressure"][3] += 1
    assert differences(tmp_path / "out" / "90417.nc", given) == ("air_pressure",)
    gone = Written({"gone": given.values["air_pressure"]})
    assert differences(tmp_path / "out" / "90417.nc", gone) == ("gone",)


@pytest.mark.parametrize("damage", ["value", "bytes"])
def test_reading_back_sees_a_changed_chunk(tmp_path, damage):
    """A chunk of another value, or that cannot be inflated, is found by its checksum."""
    import h5py
    from isal import isal_zlib

    from encoder.formats.netcdf.direct_chunks import same_chunks, write_chunks

    path = str(tmp_path / "a.nc")
    values = np.arange(40_000, dtype=np.int32)
    with h5py.File(path, "w") as file:
        file.create_dataset("a", (40_000,), "i4", chunks=(30_000,), compression=1, shuffle=True)
    checksums = write_chunks(path, {"a": values})
    assert same_chunks(path, checksums) == {"a": True}
    with h5py.File(path, "r+") as file:
        assert np.array_equal(file["a"][:], values)
        _mask, data = file["a"].id.read_direct_chunk((0,))
        text = bytearray(isal_zlib.decompress(data))
        text[7] ^= 1
        changed = isal_zlib.compress(bytes(text), 1) if damage == "value" else b"no deflate"
        file["a"].id.write_direct_chunk((0,), changed)
    assert same_chunks(path, checksums) == {"a": False}
    assert same_chunks(path, {"b": [1]}) == {"b": False}


def test_counts_that_do_not_add_up_are_a_fault(tmp_path, monkeypatch):
    """The summary says so when a level went astray."""
    import encoder.convert.stations as module

    (tmp_path / "a.txt").write_bytes(station_text(count=3))
    monkeypatch.setattr(
        module, "values_of_soundings", lambda batch: np.ones(len(batch), dtype=np.int64)
    )
    summary = convert([tmp_path / "a.txt"], tmp_path / "out")
    assert not summary["adds_up"]
    assert [item["code"] for item in summary["faults"]] == ["convert-does-not-add-up"] * 2
    assert '"a.txt" does not add up in values' in summary["faults"][0]["message"]


def test_a_table_without_a_map_is_refused(tmp_path):
    """Taken for a table by word alone, it cannot be read."""
    (tmp_path / "a.csv").write_text("a,b\n1,2\n")
    summary = convert([tmp_path / "a.csv"], tmp_path / "out", kind="table")
    assert summary["refused"] == {"convert-member-refused": 1}
    assert [item["file"] for item in summary["failed"]] == ["a.csv"]
    assert summary["adds_up"]


@pytest.mark.parametrize("cut", [100, 20_000])
def test_a_damaged_netcdf_file_is_refused_whole_and_named(tmp_path, cut):
    """Said of the file as it was given, in the same words in every run; nothing of it is lost."""
    (tmp_path / "a.txt").write_bytes(station_text(count=4))
    convert([tmp_path / "a.txt"], tmp_path / "first")
    data = (tmp_path / "first" / "90417.nc").read_bytes()[:cut]
    (tmp_path / "b.nc").write_bytes(data)
    summary = convert([tmp_path / "b.nc"], tmp_path / "out")
    (failed,) = summary["failed"]
    assert (failed["code"], failed["file"]) == ("archive-damaged", "b.nc")
    assert failed["message"].startswith('"b.nc" begins like a netCDF file')
    assert summary["adds_up"]
    (record,) = quarantine(tmp_path / "out")
    assert base64.b64decode(record["data"]) == data
    convert([tmp_path / "b.nc"], tmp_path / "again")
    assert files_of(tmp_path / "again") == files_of(tmp_path / "out")


def test_damage_inside_a_file_of_ours_is_no_fault_of_the_program(tmp_path):
    """It opens, and its facts are spoiled: it is told as damaged, and kept whole."""
    (tmp_path / "a.txt").write_bytes(station_text(count=4))
    convert([tmp_path / "a.txt"], tmp_path / "first")
    path = tmp_path / "first" / "90417.nc"
    data = path.read_bytes()
    with netCDF4.Dataset(path, "a") as dataset:
        facts = dataset["conversion_facts"]
        facts[...] = b"?" if facts.ndim == 0 else np.full(facts.shape, b"?")
    spoiled = path.read_bytes()
    assert spoiled != data
    (tmp_path / "b.nc").write_bytes(spoiled)
    summary = convert([tmp_path / "b.nc"], tmp_path / "out")
    (failed,) = summary["failed"]
    assert (failed["code"], failed["file"]) == ("archive-damaged", "b.nc")
    assert summary["adds_up"]
    assert base64.b64decode(quarantine(tmp_path / "out")[0]["data"]) == spoiled


def test_parquet_has_every_level(tmp_path):
    """A row a level, units in the metadata, the same values."""
    import pyarrow.parquet as pq

    (tmp_path / "a.txt").write_bytes(station_text(count=4))
    convert([tmp_path / "a.txt"], tmp_path / "out", formats=("netcdf", "parquet"))
    table = pq.read_table(tmp_path / "out" / "90417.parquet")
    batch, _station, _sources = read_converted(tmp_path / "out" / "90417.nc")
    values = batch.as_values()
    assert table.num_rows == len(values.levels["kinds"])
    assert table.schema.field("air_pressure").metadata == {b"unit": b"hPa"}
    for name in ("air_pressure", "air_temperature", "wind_speed"):
        assert np.array_equal(
            table[name].to_numpy(zero_copy_only=False), values.levels[name], equal_nan=True
        )


def test_unfinished_files_of_a_lost_worker_are_gone_at_the_end_of_its_run(tmp_path):
    """A run sweeps up what a writer that was killed on the way left, in every folder."""

    class Loses(Silent):
        """Leaves what a killed worker leaves, once a source was read."""

        def unit_done(self, unit, document):
            for place in (tmp_path / "out", tmp_path / "out" / unit.folder):
                (place / ".90417.batch.x1y2z3.part").write_bytes(b"half")

    source = tmp_path / "90417.txt"
    source.write_bytes(station_text())
    chosen = settings(tmp_path / "out")
    plan = plan_run([str(source)], chosen)
    run_plan(plan, chosen, progress=Loses())
    left = [item.name for item in (tmp_path / "out").rglob("*") if item.name.endswith(".part")]
    assert left == []
    assert len(list((tmp_path / "out").glob("*.nc"))) == 1
