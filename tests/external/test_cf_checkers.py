"""Files of the archive before judges of others: checkers of the conventions, and other readers.

Tables: compliance-checker 6.1.0 carries CF standard name table v93. The files use no area type
and no region, so the tables of these that cfchecks insists on hold one entry each.
"""

from __future__ import annotations

import ctypes.util
import json
import re
import shutil
from pathlib import Path

import netCDF4
import numpy as np
import pytest
import xarray

from encoder.archive import FlightArchive, history_of
from encoder.formats.netcdf import append_to_history, write_netcdf
from encoder.levels import LevelKind, Levels
from encoder.sounding import Sounding
from tests.archives import (
    DATA,
    archive_of,
    igra_sounding,
    real_sounding,
    real_texts,
    sample_archive,
    service,
    sounding_of_archive,
)

CALENDAR = re.compile(
    r"Variable (time|nominal_time|release_time) has standard or Gregorian calendar and does not "
    r"cross 1582-10-15T00:00Z"
)
REAL = ("S1-TT", "S1-PP", "S5-XX")
"""Real reports: a land sounding, winds by height, a dropsonde."""
TABLES = DATA / "cf_tables"
TRAFFIC = Path(__file__).resolve().parents[2] / "samples" / "traffic"


@pytest.fixture(scope="module")
def files(tmp_path_factory) -> dict[str, Path]:
    """Every product: samples, real reports, a real archived sounding."""
    folder = tmp_path_factory.mktemp("products")
    made: dict[str, Path] = {}

    def write(name, value):
        made[name] = folder / f"{name}.nc"
        write_netcdf(value, made[name], service=service())

    archive = sample_archive()
    write("flight-harrow-tarn", archive)
    write("levels-harrow-tarn", sounding_of_archive(archive))
    for name in ("harrow-tarn-winds", "survey-drop", "calder-wren", "kestrel-basin"):
        other = archive_of(TRAFFIC / name)
        write(f"flight-{name}", other)
        write(f"levels-{name}", sounding_of_archive(other))
        write(f"history-{name}", history_of([sounding_of_archive(other)]))
    drifting = Sounding(
        archive.flight.station,
        archive.flight.release_time,
        archive.flight.nominal_time,
        Levels(
            {
                "time": [0.0, 312.0, 5400.0],
                "air_pressure": [968.4, 850.07, 100.0],
                "air_temperature": [13.9, 9.13, -55.5],
                "wind_speed": [2.0, 12.25, 40.0],
                "wind_shear_below": [np.nan, 7.0, 9.5],
                "latitude": [53.4127, 53.41301, 53.6],
                "longitude": [-18.2751, -18.27, -17.1],
            },
            [int(LevelKind.SURFACE), int(LevelKind.STANDARD), int(LevelKind.MAXIMUM_WIND)],
        ),
    )
    write("levels-drifting", drifting)
    write("history-drifting", history_of([drifting]))
    for name in REAL:
        write(f"levels-{name}", real_sounding(real_texts()[name]))
    igra, _rows = igra_sounding()
    write("levels-igra", igra)
    write("history-igra", history_of([igra]))
    sounding = sounding_of_archive(sample_archive())
    made["history-sample"] = folder / "history-sample.nc"
    for text in (sounding.text, sounding.text.replace("31313", "31313 ")):
        from dataclasses import replace

        append_to_history(made["history-sample"], [replace(sounding, text=text)], service=service())
    return made


def test_compliance_checker_has_no_message(files, tmp_path) -> None:
    """compliance-checker 6.1.0, strict, finds nothing by CF 1.11 and ACDD 1.3 in any product.

    One sentence of a check that is passed in full only says what was found, about the calendar;
    it is matched to the letter.
    """
    from compliance_checker.runner import CheckSuite, ComplianceChecker

    CheckSuite.load_all_available_checkers()
    said = {}
    for name, path in files.items():
        output = tmp_path / f"{name}.json"
        ComplianceChecker.run_checker(
            str(path),
            ["cf:1.11", "acdd:1.3"],
            verbose=0,
            criteria="strict",
            output_filename=str(output),
            output_format="json",
        )
        document = json.loads(output.read_text(encoding="utf-8"))
        for suite in ("cf:1.11", "acdd:1.3"):
            messages = [
                (item["name"], item["msgs"])
                for rank in ("high_priorities", "medium_priorities", "low_priorities")
                for item in document[suite][rank]
                if item["value"][0] != item["value"][1]
                or any(CALENDAR.fullmatch(words) is None for words in item["msgs"])
            ]
            if messages:
                said[name, suite] = messages
    assert said == {}
    assert len(files) == 22


def test_cfchecks_has_no_error_and_no_warning(files, tmp_path, monkeypatch, capsys) -> None:
    """cfchecks 4.1.0 finds no error and no warning; it knows CF up to 1.8, so a copy says 1.8."""
    checker = udunits_reader("cfchecker.cfchecks", monkeypatch)
    import compliance_checker

    names = Path(compliance_checker.__file__).parent / "data" / "cf-standard-name-table.xml"
    counts = {}
    for name, path in files.items():
        copy = tmp_path / path.name
        shutil.copyfile(path, copy)
        with netCDF4.Dataset(copy, "a") as dataset:
            dataset.Conventions = "CF-1.8, ACDD-1.3"
        judge = checker.CFChecker(
            cfStandardNamesXML=str(names),
            cfAreaTypesXML=str(TABLES / "area_types.xml"),
            cfRegionNamesXML=str(TABLES / "regions.xml"),
            version="1.8",
            silent=True,
        )
        judge.checker(str(copy))
        totals = judge.get_total_counts()
        counts[name] = {kind: totals[kind] for kind in ("FATAL", "ERROR", "WARN")}
    capsys.readouterr()
    assert counts == {name: {"FATAL": 0, "ERROR": 0, "WARN": 0} for name in files}


def udunits_reader(module, monkeypatch):
    """Import a library that looks for UDUNITS-2; cf-units carries it where the system has none."""
    import importlib

    import cf_units

    usual = ctypes.util.find_library

    def find(name):
        found = usual(name)
        if found is None and name == "udunits2":
            package = Path(cf_units.__file__).parent
            monkeypatch.setenv("UDUNITS2_XML_PATH", str(package / "etc" / "share" / "udunits2.xml"))
            return str(next((package.parent / "cf_units.libs").glob("libudunits2*")))
        return found

    monkeypatch.setattr(ctypes.util, "find_library", find)
    return importlib.import_module(module)


def test_cfdm_understands_the_ragged_history(files, monkeypatch) -> None:
    """cfdm reads the history as contiguous ragged and unpacks it to soundings by levels."""
    cfdm = udunits_reader("cfdm", monkeypatch)
    fields = cfdm.read(str(files["history-sample"]))
    (field,) = [f for f in fields if f.get_property("standard_name", "") == "air_temperature"]
    assert field.data.get_compression_type() == "ragged contiguous"
    with netCDF4.Dataset(files["history-sample"]) as dataset:
        sizes = dataset["row_size"][:]
        values = dataset["air_temperature"][:]
    assert field.data.shape == (len(sizes), int(sizes.max()))
    first = np.ma.masked_invalid(np.ma.asarray(field.data.array[0, : int(sizes[0])]))
    assert np.ma.allclose(first, values[: int(sizes[0])])


def test_cfdm_understands_the_flight(tmp_path, monkeypatch) -> None:
    """cfdm finds time, position, pressure and height as coordinates of the temperature.

    The flight is archived without levels and report: cfdm takes seconds for long texts.
    """
    cfdm = udunits_reader("cfdm", monkeypatch)
    path = tmp_path / "flight.nc"
    write_netcdf(FlightArchive(sample_archive("halden-dome").flight), path, service=service())
    fields = cfdm.read(str(path))
    (field,) = [f for f in fields if f.get_property("standard_name", "") == "air_temperature"]
    names = {item.get_property("standard_name", "") for item in field.coordinates().values()}
    assert {"time", "latitude", "longitude", "air_pressure", "geopotential_height"} <= names


@pytest.mark.parametrize("name", ["flight-harrow-tarn", "levels-igra", "history-sample"])
def test_libraries_read_the_same_values(files, name) -> None:
    """netCDF4, h5netcdf and xarray (both engines) give the same values for every variable."""
    import h5netcdf

    with (
        netCDF4.Dataset(files[name]) as one,
        h5netcdf.File(files[name], "r") as two,
        xarray.open_dataset(files[name], engine="netcdf4", decode_cf=False) as three,
        xarray.open_dataset(files[name], engine="h5netcdf", decode_cf=False) as four,
    ):
        one.set_auto_maskandscale(False)
        one.set_auto_chartostring(False)
        assert set(one.variables) == set(two.variables) == set(three.variables)
        for variable in one.variables:
            values = np.asarray(one[variable][...])
            for other in (two[variable][...], three[variable].values, four[variable].values):
                assert np.array_equal(values, np.asarray(other))


def test_values_equal_the_source(files) -> None:
    """A reader that unpacks by the conventions gets the figures of the archived lines."""
    _sounding, rows = igra_sounding()
    with netCDF4.Dataset(files["levels-igra"]) as dataset:
        dataset.set_auto_maskandscale(False)
        for name, begin, end in (
            ("air_pressure", 9, 15),
            ("geopotential_height", 16, 21),
            ("air_temperature", 22, 27),
            ("dew_point_depression", 34, 39),
            ("wind_from_direction", 40, 45),
            ("wind_speed", 46, 51),
        ):
            figures = np.array([int(row[begin:end]) for row in rows])
            stored = dataset[name][:].astype(np.int64)
            known = figures > -8888
            assert np.array_equal(stored[known], figures[known])
            assert np.all(stored[~known] == dataset[name].getncattr("_FillValue"))
