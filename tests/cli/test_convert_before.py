"""``aerogram convert``: what would end it later is said before anything is read."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from types import SimpleNamespace

import pytest

from encoder.cli import main
from encoder.convert import digests, sources
from tests.cli.test_archive_commands import without_privilege
from tests.conversions import coded_days

ROOT = Path(__file__).parents[2]


EXTRA = {
    "netCDF4": "netcdf",
    "pyarrow.parquet": "parquet",
    "isal": "fast",
    "h5py": "fast",
    "distributed": "cluster",
    "fsspec": "cluster",
}


def refuse_to_read(*_given, **_more):
    raise AssertionError("something was read")


@pytest.fixture
def nothing_is_read(monkeypatch):
    """Fails where a source is opened."""
    monkeypatch.setattr(sources, "chunks_of", refuse_to_read)
    monkeypatch.setattr(digests, "open_source", refuse_to_read)


def leave(monkeypatch, *words):
    """Run the command in this process; return its exit code."""
    monkeypatch.setattr(sys, "argv", ["aerogram", "convert", *map(str, words)])
    with pytest.raises(SystemExit) as left:
        main()
    return left.value.code


@pytest.mark.usefixtures("nothing_is_read")
@pytest.mark.parametrize(
    ("module", "words"),
    [
        ("netCDF4", ()),
        ("pyarrow.parquet", ("--as", "parquet")),
        ("isal", ("--fast",)),
        ("h5py", ("--fast",)),
        ("distributed", ("--scheduler", "127.0.0.1:1")),
        ("fsspec", ("memory://far/source",)),
    ],
)
def test_a_library_that_cannot_be_loaded(tmp_path, monkeypatch, capsys, module, words):
    """The extra is named, nothing is read, nothing is left; exit code 3."""
    coded_days(tmp_path / "in", 1)
    monkeypatch.setitem(sys.modules, module, None)
    code = leave(monkeypatch, tmp_path / "in", "--to", tmp_path / "out", "--jobs", 1, *words)
    told = capsys.readouterr()
    assert code == 3
    assert f'pip install "aerogram[{EXTRA[module]}]"' in told.err
    assert told.err.count("\n") == 1
    assert not (tmp_path / "out").exists()


def test_a_source_that_needs_a_library_for_reading(tmp_path, monkeypatch, capsys):
    """A netCDF source where IGRA text alone is to be written."""
    (tmp_path / "a.nc").write_bytes(b"CDF\x01" + bytes(60))
    monkeypatch.setitem(sys.modules, "netCDF4", None)
    monkeypatch.setattr(digests, "digest_of", refuse_to_read)
    code = leave(monkeypatch, tmp_path / "a.nc", "--to", tmp_path / "out", "--as", "igra")
    assert code == 3
    assert 'pip install "aerogram[netcdf]"' in capsys.readouterr().err


@pytest.mark.usefixtures("nothing_is_read")
@pytest.mark.parametrize(
    ("destination", "said"),
    [
        ("/dev/null/x", "Not a directory"),
        ("/proc/x", "No such file|Permission denied|Operation not permitted"),
        ("nosuch://bucket/x", "nosuch"),
    ],
)
def test_a_destination_that_cannot_be_written_to(tmp_path, monkeypatch, capsys, destination, said):
    """One line, before anything is read."""
    coded_days(tmp_path / "in", 1)
    assert leave(monkeypatch, tmp_path / "in", "--to", destination) in (1, 3)
    told = capsys.readouterr().err
    assert re.search(said, told), told
    assert told.count("\n") == 1


def convert(*words):
    return subprocess.run(
        [sys.executable, "-m", "encoder", "convert", *map(str, words), "--jobs", "1"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        preexec_fn=without_privilege,
    )


def test_files_and_folders_that_may_not_be_read(tmp_path):
    """Each is named with the reason, the others are converted; exit code 1."""
    folder = coded_days(tmp_path / "in", 2)
    for name in ("closed", "listed"):
        coded_days(folder / name, 1, seed=9)
    coded_days(folder / "secret", 1, seed=9)
    modes = {"closed": 0o000, "listed": 0o444, "secret/19940101.txt": 0o000}
    for name, mode in modes.items():
        (folder / name).chmod(mode)
    try:
        done = convert(folder, "--to", tmp_path / "out")
    finally:
        for name in modes:
            (folder / name).chmod(0o755)
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    summary = json.loads((tmp_path / "out" / "summary.json").read_text())
    assert [item["name"] for item in summary["sources"]] == ["19940101.txt", "19940102.txt"]
    assert {item["file"].removeprefix(f"{folder}/") for item in summary["not_read"]} == {
        "closed",
        "listed/19940101.txt",
        "secret/19940101.txt",
    }
    assert all("Permission denied" in item["message"] for item in summary["not_read"])
    assert "Files and members not converted: 3" in done.stdout
    assert convert(folder, "--to", tmp_path / "out").returncode == 0


@pytest.mark.parametrize("closed", ["", ".work", ".work/units"])
def test_a_destination_that_may_not_be_written_to(tmp_path, closed):
    """The folder, or one inside it: one line, exit code 3; with permission it goes on."""
    folder = coded_days(tmp_path / "in", 1)
    (tmp_path / "out" / ".work" / "units").mkdir(parents=True)
    place = tmp_path / "out" / closed
    place.chmod(0o555)
    try:
        done = convert(folder, "--to", tmp_path / "out")
        inside = convert(folder, "--to", place / "new")
    finally:
        place.chmod(0o755)
    for one in (done, inside):
        assert one.returncode == 3
        assert one.stderr.startswith("Error: Cannot write to ")
        assert one.stderr.endswith(": Permission denied.\n")
    assert convert(folder, "--to", tmp_path / "out").returncode == 0


def test_progress_of_a_run_that_goes_on(monkeypatch, capsys):
    """What was read before counts as done and refused, but not for the rate."""
    module = import_module("encoder.cli.convert")
    now = [100.0]
    monkeypatch.setattr(module.time, "monotonic", lambda: now[0])
    log = module._Log()
    units = [SimpleNamespace(source=SimpleNamespace(size=size)) for size in (60e6, 20e6, 20e6)]
    log.planned(units, [(units[0], {"refused": 5})])
    now[0] += 10
    log.unit_done(units[1], {"account": {"soundings": {"read": 400}}, "refused": 2})
    log.stations_planned(3, [{"refused": 1}])
    log.worker_lost(2)
    assert capsys.readouterr().err.splitlines() == [
        "3 sources, 1 read before",
        "80 of 100 MB, 2 MB/s, 40 soundings/s, 10 s left, 7 refused",
        "3 stations to put together, 1 done before",
        "A worker process was lost; what it may have died of is tried again alone: 2",
    ]
    assert log.refused == 8
