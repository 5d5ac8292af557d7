"""Bad files and bad disks: a clear word, the old file untouched, nothing left half-written."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
import tempfile

import netCDF4
import numpy as np
import pytest

from encoder.errors import MissingDependencyError
from encoder.formats.netcdf import (
    append_to_history,
    container,
    is_netcdf,
    read_netcdf,
    write_netcdf,
)
from tests.archives import ROOT, sample_archive, sounding_of_archive


@pytest.fixture(scope="module")
def sounding():
    """A sounding to write."""
    return sounding_of_archive(sample_archive("halden-dome"))


@pytest.fixture
def file(tmp_path, sounding):
    """A level file."""
    path = tmp_path / "levels.nc"
    write_netcdf(sounding, path)
    return path


def names(folder):
    return sorted(item.name for item in folder.iterdir())


def code(path):
    result = read_netcdf(path)
    assert result.value is None
    (found,) = result.diagnostics
    assert found.file == str(path)
    return found.code


# --- reading ----------------------------------------------------------------------------------


def test_files_that_are_no_netcdf(tmp_path) -> None:
    """A missing file, a folder, an empty file and a text each have their own word."""
    text = tmp_path / "text.nc"
    text.write_text("TTAA 59001\n")
    empty = tmp_path / "empty.nc"
    empty.write_bytes(b"")
    assert code(tmp_path / "none.nc") == "file-not-found"
    assert code(tmp_path) == "file-not-readable"
    assert code(text) == "archive-not-netcdf"
    assert code(empty) == "archive-not-netcdf"
    assert code(text / "below.nc") == "file-not-readable"


@pytest.mark.parametrize("share", [0.001, 0.1, 0.3, 0.5, 0.8, 0.99, 0.9999])
def test_truncated_files(file, share) -> None:
    """A file cut off anywhere is called damaged or incomplete, never read in part."""
    data = file.read_bytes()
    file.write_bytes(data[: max(8, int(len(data) * share))])
    assert code(file) in ("archive-damaged", "archive-incomplete")


def test_damaged_bytes(file) -> None:
    """Bytes overwritten in the middle are noticed, or change nothing that is read."""
    data = bytearray(file.read_bytes())
    whole = read_netcdf(file).value
    for begin in range(2000, len(data) - 200, len(data) // 25):
        damaged = bytearray(data)
        damaged[begin : begin + 60] = bytes(60)
        file.write_bytes(bytes(damaged))
        result = read_netcdf(file)
        codes = [item.code for item in result.diagnostics]
        assert codes in (
            [],
            ["archive-damaged"],
            ["archive-incomplete"],
            ["archive-other-product"],
        )
        if not codes:
            assert result.value == whole


def test_netcdf_of_others(tmp_path) -> None:
    """A netCDF-4 file, a classic one and an HDF5 file that are none of ours are told apart."""
    import h5py

    for form in ("NETCDF4", "NETCDF3_CLASSIC", "NETCDF3_64BIT_DATA"):
        path = tmp_path / f"{form}.nc"
        with netCDF4.Dataset(path, "w", format=form) as dataset:
            dataset.createDimension("x", 3)
            dataset.createVariable("x", "f8", ("x",))[:] = [1.0, 2.0, 3.0]
        assert is_netcdf(path.read_bytes()[:8])
        assert code(path) == "archive-other-product"
    path = tmp_path / "plain.h5"
    with h5py.File(path, "w") as file:
        file["x"] = np.arange(3)
    assert code(path) in ("archive-other-product", "archive-damaged")


def test_a_product_of_a_later_layout(file) -> None:
    """A product_format that is not known is named."""
    with netCDF4.Dataset(file, "a") as dataset:
        dataset.product_format = "aerogram-archive-levels-9"
    result = read_netcdf(file)
    assert result.diagnostics[0].code == "archive-other-product"
    assert result.diagnostics[0].value == "aerogram-archive-levels-9"


@pytest.mark.parametrize(
    "name", ["air_temperature", "level_type", "sounding_facts", "wind_speed_status"]
)
def test_a_missing_variable(file, name) -> None:
    """A product without a variable it must have is incomplete; the variable is named."""
    with netCDF4.Dataset(file, "a") as dataset:
        dataset.renameVariable(name, "other")
    result = read_netcdf(file)
    assert [item.code for item in result.diagnostics] == ["archive-incomplete"]
    assert name in result.diagnostics[0].message


def test_a_changed_text_or_unit(file) -> None:
    """Facts that are no JSON, and a unit that is none of the packings, are told."""
    with netCDF4.Dataset(file, "a") as dataset:
        dataset.set_auto_chartostring(False)
        dataset["air_temperature"].units = "K"
    assert code(file) == "archive-incomplete"
    with netCDF4.Dataset(file, "a") as dataset:
        dataset["air_temperature"].units = "degC"
        dataset["sounding_facts"][0] = b"x"
    assert code(file) == "archive-incomplete"


def test_counts_that_do_not_fit(tmp_path, sounding) -> None:
    """A history whose counts do not add up to its levels is not read."""
    path = tmp_path / "history.nc"
    append_to_history(path, [sounding])
    with netCDF4.Dataset(path, "a") as dataset:
        dataset["row_size"][0] = 5
    assert code(path) == "archive-incomplete"


def test_a_file_larger_than_any(file, monkeypatch) -> None:
    """A file beyond the limit is refused before it is read."""
    monkeypatch.setattr(container, "MOST_BYTES", 1000)
    assert code(file) == "archive-too-large"


def test_the_library_is_not_installed(file, monkeypatch) -> None:
    """Without netCDF4 one line says what to install."""
    monkeypatch.setitem(sys.modules, "netCDF4", None)
    with pytest.raises(MissingDependencyError, match=r"aerogram\[netcdf\]"):
        read_netcdf(file)


# --- writing ----------------------------------------------------------------------------------


def test_paths_with_blanks_and_other_letters(tmp_path, sounding) -> None:
    """Any name the system takes will do."""
    folder = tmp_path / "höhe über grund [1]"
    folder.mkdir()
    path = folder / "Aufstieg № 1 *.nc"
    write_netcdf(sounding, path)
    assert read_netcdf(path).value == sounding
    append_to_history(folder / "geschichte *[a].nc", [sounding])
    assert names(folder) == sorted(["Aufstieg № 1 *.nc", "geschichte *[a].nc"])


def test_a_folder_that_is_not_there(tmp_path, sounding) -> None:
    """A folder that does not exist, or is a file, is an error of the system, plainly."""
    for path in (tmp_path / "none" / "x.nc", tmp_path / "file" / "x.nc"):
        (tmp_path / "file").touch()
        with pytest.raises(OSError, match=r"No such file|Not a directory"):
            write_netcdf(sounding, path)
        with pytest.raises(OSError, match=r"No such file|Not a directory"):
            append_to_history(path, [sounding])


def test_a_read_only_folder(file, sounding, monkeypatch) -> None:
    """A folder nobody may write to: an error, and the old file untouched."""
    before = file.read_bytes()

    def refuse(*_arguments, **_options):
        raise OSError(errno.EROFS, os.strerror(errno.EROFS))

    monkeypatch.setattr(tempfile, "mkstemp", refuse)
    with pytest.raises(OSError, match="Read-only"):
        write_netcdf(sounding, file)
    assert file.read_bytes() == before


LIMITED = """
import resource, signal, sys
from encoder.formats.netcdf import read_netcdf, write_netcdf
path = sys.argv[1]
value = read_netcdf(path).value
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]), int(sys.argv[2])))
try:
    write_netcdf(value, path)
except OSError as fault:
    print("refused:", fault)
"""


@pytest.mark.parametrize("size", [0, 1000, 40_000, 100_000])
def test_a_disk_that_takes_no_more(file, size) -> None:
    """Where the system stops a file from growing: an error, the old file whole, nothing left."""
    before = file.read_bytes()
    assert len(before) > size
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(file), str(size)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.stdout.startswith("refused:"), done.stderr
    assert file.read_bytes() == before
    assert names(file.parent) == [file.name]


def test_a_full_disk_is_called_full(file, sounding, monkeypatch) -> None:
    """A fault of the library with no space left is told as a full disk."""
    from collections import namedtuple

    usage = namedtuple("usage", "total used free")

    def fail(*_arguments, **_options):
        raise RuntimeError("NetCDF: HDF error")

    monkeypatch.setattr(container, "_build", fail)
    monkeypatch.setattr(container.shutil, "disk_usage", lambda _path: usage(100, 100, 0))
    with pytest.raises(OSError, match="No space left"):
        write_netcdf(sounding, file)
    assert names(file.parent) == [file.name]


def test_rights_of_the_file_are_kept(file, sounding) -> None:
    """A replaced file keeps its rights; a new one has those the user's mask gives."""
    file.chmod(0o640)
    write_netcdf(sounding, file)
    assert file.stat().st_mode & 0o777 == 0o640
    new = file.with_name("new.nc")
    write_netcdf(sounding, new)
    (file.parent / "like").touch()
    assert new.stat().st_mode == (file.parent / "like").stat().st_mode


def test_files_can_be_changed_by_others(file) -> None:
    """A file can be opened for writing: attributes may be added by a service."""
    with netCDF4.Dataset(file, "a") as dataset:
        dataset.contact = "archive"
    with netCDF4.Dataset(file) as dataset:
        assert dataset.contact == "archive"


def test_the_same_value_gives_the_same_bytes(tmp_path, sounding) -> None:
    """No clock is in a file: written twice it is the same, byte for byte."""
    one, two = tmp_path / "one.nc", tmp_path / "two.nc"
    write_netcdf(sounding, one)
    write_netcdf(sounding, two)
    assert one.read_bytes() == two.read_bytes()
