"""The digest of what a netCDF file says."""

from __future__ import annotations

import netCDF4
import numpy as np
import pytest

from encoder.formats.netcdf.container import opened
from encoder.formats.netcdf.content_digest import content_digest
from tests.conversions import convert, station_text


def digest(path):
    with opened(path).raise_for_errors() as dataset:
        return content_digest(dataset)


def test_ways_of_compressing_do_not_matter(tmp_path):
    """The extra fast and the core libraries: other bytes, the same content."""
    (tmp_path / "a.txt").write_bytes(station_text(count=200))
    made = []
    for fast in (False, True):
        folder = tmp_path / str(fast)
        convert([tmp_path / "a.txt"], folder, fast=fast)
        made.append(folder / "90417.nc")
    assert made[0].read_bytes() != made[1].read_bytes()
    assert digest(made[0]) == digest(made[1])


def write(path, *, change="", order=("a", "text"), endian="little", zlib=False):
    with netCDF4.Dataset(path, "w") as dataset:
        dataset.title = "other" if change == "attribute" else "one"
        dataset.number = np.float32(1.5) if change == "type" else np.float64(1.5)
        dataset.createDimension("renamed" if change == "dimension" else "row", 3)
        dim = next(iter(dataset.dimensions))
        for name in order:
            if name == "a":
                dtype = np.dtype("f8").newbyteorder("<" if endian == "little" else ">")
                variable = dataset.createVariable("a", dtype, (dim,), zlib=zlib, endian=endian)
                variable[:] = [1.0, 2.0, np.nan if change == "value" else 3.0]
                variable.units = "Pa" if change == "unit" else "hPa"
            else:
                variable = dataset.createVariable("text", str, (dim,))
                variable[:] = np.array(["x", "", "y" if change == "text" else "z"], dtype=object)
        if change == "group":
            dataset.createGroup("more")
    return digest(path)


@pytest.mark.parametrize(
    "change", ["attribute", "type", "dimension", "value", "unit", "text", "group"]
)
def test_everything_said_matters(tmp_path, change):
    """One difference of any kind is another digest."""
    assert write(tmp_path / "a.nc") != write(tmp_path / "b.nc", change=change)


@pytest.mark.parametrize("more", [{"order": ("text", "a")}, {"endian": "big"}, {"zlib": True}])
def test_how_it_is_stored_does_not_matter(tmp_path, more):
    """The order of variables, of bytes, and compression."""
    assert write(tmp_path / "a.nc") == write(tmp_path / "b.nc", **more)


def test_the_command_lists_digests(tmp_path):
    """A line a file; what cannot be read is told, the others go on; exit code 3."""
    from click.testing import CliRunner

    from encoder.cli import cli

    made = write(tmp_path / "a.nc")
    (tmp_path / "b.nc").write_bytes(b"nothing")
    names = [str(tmp_path / name) for name in ("a.nc", "b.nc", "gone.nc", "a.nc")]
    done = CliRunner().invoke(cli, ["show", "--digest", *names])
    assert done.exit_code == 3
    assert done.stdout == f"{made}  {names[0]}\n" * 2
    assert done.stderr.count("Error: ") == 2
    assert CliRunner().invoke(cli, ["show", "--digest", names[0]]).exit_code == 0
    several = CliRunner().invoke(cli, ["show", *names])
    assert several.exit_code == 2
    assert "--digest takes several" in several.stderr
