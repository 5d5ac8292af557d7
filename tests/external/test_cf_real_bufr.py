"""Real BUFR soundings in the archive: read, written as CF netCDF, read back.

The messages are those of ``tests.bufr_files``, each with its origin there.
"""

from __future__ import annotations

from dataclasses import replace

import netCDF4
import numpy as np
import pytest
from click.testing import CliRunner

from encoder.archive import FlightArchive
from encoder.cli import cli
from encoder.errors import InputError
from encoder.formats.bufr.read import read_soundings
from encoder.formats.bufr.to_flight import flight_of_sounding
from encoder.formats.bufr_archive import archived
from encoder.formats.netcdf import PRODUCTS, read_netcdf, write_netcdf
from encoder.formats.netcdf.template import deviations
from encoder.levels import select_levels
from encoder.report import encode_report
from tests.archives import service
from tests.bufr_files import SOUNDINGS, octets

FILES = ("IUSD40_OKLI.bufr", "IUSK73_AMMC_040000.bufr", "IUSK73_AMMC_182300.bufr")


@pytest.fixture(scope="module")
def flights():
    """The first flight of each file."""
    made = {}
    for name in FILES:
        for result in read_soundings(octets(name)):
            for sounding in result.value:
                flight = flight_of_sounding(sounding).value
                if flight is not None and name not in made:
                    made[name] = flight
    return made


def test_every_file_gives_a_flight(flights) -> None:
    """Each of the files holds a sounding that is a flight."""
    assert sorted(flights) == sorted(FILES)


@pytest.mark.parametrize("name", FILES)
def test_a_real_sounding_comes_back(flights, name, tmp_path) -> None:
    """Flight, levels and coded report of a real sounding are equal after the flight file."""
    flight = flights[name]
    levels = select_levels(flight)
    report = encode_report(flight, levels.value)
    found = (*levels.diagnostics, *report.diagnostics)
    archive = FlightArchive(flight, levels.value, (report.value,), found)
    path = tmp_path / "flight.nc"
    write_netcdf(archive, path, service=service())
    assert read_netcdf(path).value == archive
    with netCDF4.Dataset(path) as dataset:
        stored = np.ma.filled(dataset["air_temperature"][...], np.nan)
        use = dataset["row_use"][...]
        assert np.array_equal(stored[use <= 1], flight.ascent["air_temperature"], equal_nan=True)
        dataset.set_auto_maskandscale(False)
        assert deviations(dataset, PRODUCTS["flight"]) == []


@pytest.mark.parametrize("name", sorted(SOUNDINGS))
def test_every_level_of_a_real_message_comes_back(name, tmp_path) -> None:
    """The levels of every sounding of a real message are equal after a level file."""
    count = 0
    for result in read_soundings(octets(name)):
        for item in result.value:
            sounding = archived(item, diagnostics=result.diagnostics)
            assert sounding.diagnostics == ()
            path = tmp_path / "levels.nc"
            write_netcdf(sounding.value, path, service=service())
            again = read_netcdf(path).value
            assert again == sounding.value
            assert again.levels == item.levels
            with netCDF4.Dataset(path) as dataset:
                dataset.set_auto_maskandscale(False)
                assert deviations(dataset, PRODUCTS["levels"]) == []
            count += 1
    assert count == SOUNDINGS[name]


def test_a_flight_without_times_is_no_trajectory(tmp_path) -> None:
    """Levels without times are refused as a flight file, with the way out in the hint."""
    (result,) = read_soundings(octets("btem_109.bufr"))
    flight = flight_of_sounding(result.value[0]).value
    with pytest.raises(InputError, match="no time") as caught:
        write_netcdf(FlightArchive(flight), tmp_path / "flight.nc")
    assert "levels alone" in caught.value.diagnostics[0].hint


def test_a_message_without_date_or_position() -> None:
    """What cannot be dated or placed is not archived."""
    (result,) = read_soundings(octets("btem_109.bufr"))
    lost = replace(result.value[0], nominal_time=None, release_time=None, latitude=float("nan"))
    assert [item.code for item in archived(lost).diagnostics] == [
        "report-without-time",
        "report-without-position",
    ]


def test_the_command_takes_messages(tmp_path) -> None:
    """A file of BUFR messages gives level files, flight files where rows have times, a history."""
    path = tmp_path / "message.bufr"
    path.write_bytes(octets("IUSK73_AMMC_040000.bufr"))
    result = CliRunner().invoke(cli, ["archive", str(path), "-o", str(tmp_path / "out")])
    assert result.exit_code == 0
    kinds = sorted(item.stem.rsplit("_", 1)[1] for item in (tmp_path / "out").glob("*.nc"))
    assert kinds == ["flight", "history", "levels"]
