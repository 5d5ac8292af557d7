"""A conversion whose program fails, or loses a process, over one source or station: it goes on."""

from __future__ import annotations

import gzip
import json
import os

import numpy as np
import pytest

import encoder
from encoder.convert import run as run_module
from encoder.convert import stations, units
from encoder.convert.results import file_name
from encoder.convert.run import Silent, plan_run, run_plan
from encoder.convert.station_file import read_converted
from encoder.convert.workers import LOST, workers
from encoder.errors import EncoderError, MissingDependencyError
from encoder.formats.bufr.compose import message_content
from encoder.formats.bufr.write import write_message
from encoder.formats.samples_folder import sample_flight
from tests.conversions import (
    coded_days,
    convert,
    files_of,
    quarantine,
    settings,
    station_text,
)
from tests.dying import dies_always, dies_once, given_up

STATION = "90417"


def sources_of_every_kind(folder):
    """Soundings of one station as IGRA text, coded text, BUFR, netCDF and a mended quarantine."""
    folder.mkdir(parents=True)
    coded_days(folder / "days", 2)
    (folder / "igra.txt").write_bytes(station_text(STATION, count=6))
    (folder / "packed.txt.gz").write_bytes(gzip.compress(station_text(STATION, count=3), mtime=0))
    flight = encoder.read_flight(sample_flight("harrow-tarn")).raise_for_errors()
    levels = encoder.select_levels(flight).value
    message = write_message(message_content(flight, levels).value).value
    (folder / "flight.bufr").write_bytes(message)
    convert([folder / "igra.txt"], folder.parent / "other")
    (folder.parent / "other" / f"{STATION}.nc").replace(folder / "other.nc")
    record = {
        "aerogram-quarantine": 1,
        "kind": "igra",
        "name": "x.txt",
        "encoding": "ascii",
        "data": station_text(STATION, seed=9, count=2).decode("ascii"),
    }
    (folder / "mended.jsonl").write_text(json.dumps(record, separators=(",", ":")) + "\n")
    return folder


def fails_for(name):
    def finish_station(station, *given, **more):
        if station == name:
            raise KeyError("no such column")
        return real(station, *given, **more)

    real = units.finish_station
    return finish_station


def test_a_station_that_the_program_fails_over_is_refused_whole(tmp_path, monkeypatch):
    """The others are made, it adds up, what was refused can be fed back, the next run makes it."""
    sources = [sources_of_every_kind(tmp_path / "in")]
    convert(sources, tmp_path / "whole")
    with monkeypatch.context() as patch:
        patch.setattr(units, "finish_station", fails_for(STATION))
        summary = convert(sources, tmp_path / "out")
    (failed,) = summary["failed"]
    assert failed["code"] == "convert-unit-failed"
    assert (
        f"Station {STATION} cannot be put together: KeyError: 'no such column'"
        in (failed["message"])
    )
    assert "(units.py, line" in failed["message"]
    assert summary["adds_up"], summary["faults"]
    assert sorted(item.name for item in (tmp_path / "out").glob("*.nc")) == ["90122.nc"]
    records = quarantine(tmp_path / "out")
    assert {item["kind"] for item in records} == {"igra", "coded-text", "bufr", "netcdf"}
    assert all(item["length"] for item in records)

    (tmp_path / "again.jsonl").write_bytes((tmp_path / "out" / "quarantine.jsonl").read_bytes())
    fed = convert([tmp_path / "again.jsonl"], tmp_path / "fed")
    assert not fed["refused"]
    assert same_values(tmp_path / "fed", tmp_path / "whole")

    assert convert(sources, tmp_path / "out")["failed"] == []
    assert files_of(tmp_path / "out") == files_of(tmp_path / "whole")


def same_values(one, other):
    """Tell whether two files of the station have the same soundings, whatever their sources."""
    batches = [read_converted(folder / f"{STATION}.nc")[0].as_values() for folder in (one, other)]
    made = []
    for batch in batches:
        offsets = batch.offsets
        made.append(
            sorted(
                (
                    float(batch.profiles["nominal_time"][place]),
                    batch.levels["air_pressure"][offsets[place] : offsets[place + 1]].tobytes(),
                    batch.levels["air_temperature"][offsets[place] : offsets[place + 1]].tobytes(),
                )
                for place in range(len(batch))
            )
        )
    return made[0] == made[1]


def test_a_source_that_went_leaves_the_places_of_its_soundings(tmp_path, monkeypatch):
    """A station fails and its source is gone meanwhile: records without data, still counted."""
    (tmp_path / "a.txt").write_bytes(station_text(STATION, count=4))
    (tmp_path / "b.txt").write_bytes(station_text(STATION, seed=9, count=4))

    class Removes(Silent):
        """Removes a source when all are read."""

        def stations_planned(self, count, done):
            (tmp_path / "a.txt").unlink()

    monkeypatch.setattr(units, "finish_station", fails_for(STATION))
    chosen = settings(tmp_path / "out")
    plan = plan_run([str(tmp_path / "a.txt"), str(tmp_path / "b.txt")], chosen)
    summary = run_plan(plan, chosen, progress=Removes())
    assert summary["adds_up"]
    records = quarantine(tmp_path / "out")
    assert [item["length"] > 0 for item in records] == [False] * 4 + [True] * 4
    assert [item["source"] for item in records] == ["a.txt"] * 4 + ["b.txt"] * 4


@pytest.mark.parametrize("fault", [KeyError("x"), MemoryError(), RecursionError("too deep")])
def test_a_source_that_the_program_fails_over_is_refused_by_name(tmp_path, monkeypatch, fault):
    """Its bytes are counted, the others are read, the next run reads it."""
    coded_days(tmp_path / "in", 3)
    convert([tmp_path / "in"], tmp_path / "whole")
    real = units._read

    def fails(source, *given):
        if source.name == "19940102.txt":
            raise fault
        return real(source, *given)

    with monkeypatch.context() as patch:
        patch.setattr(units, "_read", fails)
        summary = convert([tmp_path / "in"], tmp_path / "out")
    (failed,) = summary["failed"]
    short = isinstance(fault, MemoryError)
    assert failed["code"] == ("convert-memory-short" if short else "convert-unit-failed")
    assert failed["message"].startswith(
        f'"19940102.txt" cannot be converted: {type(fault).__name__}'
    )
    (own,) = [item for item in summary["sources"] if item["name"] == "19940102.txt"]
    assert own["account"]["bytes"]["refused"] == (tmp_path / "in" / "19940102.txt").stat().st_size
    assert summary["adds_up"]
    assert convert([tmp_path / "in"], tmp_path / "out")["failed"] == []
    assert files_of(tmp_path / "out") == files_of(tmp_path / "whole")


@pytest.mark.parametrize("fault", [ValueError("odd\nvalue"), OSError(22, "Invalid argument")])
def test_a_station_of_its_own_source_fails(tmp_path, monkeypatch, fault):
    """The file of one format is not left behind where another one fails."""
    for station in ("90417", "90731"):
        (tmp_path / f"{station}.txt").write_bytes(station_text(station, count=3))
    sources = [tmp_path / "90417.txt", tmp_path / "90731.txt"]
    convert(sources, tmp_path / "whole", formats=("igra", "netcdf"))
    real = stations.write_converted

    def fails(path, batch, *given, **more):
        if batch.station == "90731":
            raise fault
        return real(path, batch, *given, **more)

    with monkeypatch.context() as patch:
        patch.setattr(stations, "write_converted", fails)
        summary = convert(sources, tmp_path / "out", formats=("igra", "netcdf"))
    assert [item["code"] for item in summary["failed"]] == ["convert-unit-failed"]
    assert "\n" not in summary["failed"][0]["message"]
    assert summary["adds_up"]
    assert not list((tmp_path / "out").glob("90731*"))
    assert len(list((tmp_path / "out").glob("90417*"))) == 2
    convert(sources, tmp_path / "out", formats=("igra", "netcdf"))
    assert files_of(tmp_path / "out") == files_of(tmp_path / "whole")


@pytest.mark.parametrize("number", [28, 13, 30])
def test_a_destination_that_takes_nothing_more_ends_the_run(tmp_path, monkeypatch, number):
    """No room, no permission, read-only: that is no fault of one station."""
    (tmp_path / "a.txt").write_bytes(station_text(count=3))

    def fails(*_given, **_more):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(stations, "write_converted", fails)
    with pytest.raises(OSError, match=os.strerror(number)):
        convert([tmp_path / "a.txt"], tmp_path / "out")


def test_a_library_that_a_source_needs_is_named(tmp_path, monkeypatch):
    """One source needs what is not installed: it is refused, the others are read."""
    coded_days(tmp_path / "in", 2)
    real = units._read

    def fails(source, *given):
        if source.name == "19940102.txt":
            raise MissingDependencyError('BUFR needs eccodes: pip install "aerogram[bufr]".')
        return real(source, *given)

    monkeypatch.setattr(units, "_read", fails)
    summary = convert([tmp_path / "in"], tmp_path / "out")
    (failed,) = summary["failed"]
    assert failed["code"] == "convert-source-unreadable"
    assert 'pip install "aerogram[bufr]".' in failed["message"]
    assert summary["total"]["soundings"]["written"]


# --- processes that are lost ------------------------------------------------------------------


def test_what_a_lost_process_worked_on_is_done_again(tmp_path):
    """Every call has its result, each once."""
    told = []
    with workers(2) as pool:
        calls = [(str(tmp_path), number) for number in range(8)]
        made = list(pool.map(dies_once, calls, lost=told.append))
    assert sorted(made) == [(number, number * number) for number in range(8)]
    assert len(told) == 1
    assert 1 <= told[0] <= 4


def test_what_ends_its_process_again_is_given_up(tmp_path):
    """All other calls have their result."""
    with workers(2) as pool:
        made = dict(pool.map(dies_always, [(str(tmp_path), number) for number in range(8)]))
    assert made.pop(3) is LOST
    assert made == {number: number * number for number in (0, 1, 2, 4, 5, 6, 7)}


def test_what_a_scheduler_gives_up_is_lost(monkeypatch):
    """All other calls have their result; a scheduler that goes ends the run with a sentence."""
    import distributed

    with distributed.LocalCluster(
        1, processes=False, threads_per_worker=1, dashboard_address=None
    ) as cluster:
        with workers(scheduler=cluster.scheduler_address) as pool:
            made = dict(pool.map(given_up, [(number,) for number in range(5)]))
        assert made.pop(3) is LOST
        assert made == {number: number * number for number in (0, 1, 2, 4)}

        def gone(*_given):
            raise distributed.comm.core.CommClosedError("closed")

        monkeypatch.setattr(distributed, "as_completed", gone)
        with (
            pytest.raises(EncoderError, match="The scheduler was lost"),
            workers(scheduler=cluster.scheduler_address) as pool,
        ):
            list(pool.map(given_up, [(1,)]))


class Losing:
    """A pool of processes that loses what it is told to."""

    def __init__(self, *names):
        self.names = names

    def __call__(self, *_given, **_more):
        return self

    def __enter__(self):
        return self

    def __exit__(self, *_given):
        return False

    def map(self, function, calls, *, lost=None):
        """Yield the results, those of the lost calls without work."""
        for place, call in enumerate(calls):
            name = call[0] if isinstance(call[0], str) else call[0].source.name
            yield place, LOST if name in self.names else function(*call)


@pytest.mark.parametrize("name", ["19940102.txt", "90417"])
def test_a_lost_source_or_station_is_refused_and_tried_again(tmp_path, monkeypatch, name):
    """It is told, it adds up, and the next run makes all as if nothing had been."""
    coded_days(tmp_path / "in", 3)
    convert([tmp_path / "in"], tmp_path / "whole")
    with monkeypatch.context() as patch:
        patch.setattr(run_module, "workers", Losing(name))
        summary = convert([tmp_path / "in"], tmp_path / "out")
    (failed,) = summary["failed"]
    assert failed["code"] == "convert-worker-lost"
    assert name in failed["message"]
    assert summary["adds_up"]
    assert convert([tmp_path / "in"], tmp_path / "out")["failed"] == []
    assert files_of(tmp_path / "out") == files_of(tmp_path / "whole")


def test_names_of_stations_never_meet_in_one_file():
    """Odd characters, dots, long names: another identifier has another file."""
    names = ["A/B", "A_B", "A B", ".hidden", "_hidden", "", "_", "x" * 300, "x" * 301, "Ä" * 300]
    made = [file_name(name) for name in names]
    assert len(set(made)) == len(made)
    assert file_name("90417") == "90417"
    assert all(not item.startswith(".") and len(item.encode()) < 220 for item in made)
    assert np.all([set(item).isdisjoint("/ \0") for item in made])
