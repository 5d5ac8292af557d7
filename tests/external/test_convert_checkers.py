"""Converted station files before the judges of the conventions, and values against the source.

compliance-checker 6.1.0 and cfchecks 4.1.0, as for the other products of the archive.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import netCDF4
import numpy as np
import pytest

from encoder.convert.run import plan_run, run_plan
from encoder.convert.work import Settings
from encoder.stations import NORRELAND
from samples.archive_generator.__main__ import make_traffic
from tests.archives import service
from tests.external.test_cf_checkers import CALENDAR, TABLES, udunits_reader

EXCERPT = Path(__file__).parent / "data" / "igra_sounding_excerpt.txt"
"""One sounding of the IGRA archive of the National Centers for Environmental Information (public
domain), verbatim."""


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """A station from the real excerpt, plain and fast, and stations from coded traffic."""
    folder = tmp_path_factory.mktemp("converted")
    make_traffic(folder / "days", 1994, 1, 5, rate=0.0, days=3)
    for name, source, fast in (
        ("igra", EXCERPT, False),
        ("igra-fast", EXCERPT, True),
        ("traffic", folder / "days", False),
    ):
        settings = Settings(str(folder / name), NORRELAND, service=service(), fast=fast)
        assert run_plan(plan_run([str(source)], settings), settings)["adds_up"]
    return {
        "igra": folder / "igra" / "71701.nc",
        "igra-fast": folder / "igra-fast" / "71701.nc",
        "traffic": folder / "traffic" / "90417.nc",
    }


def test_compliance_checker_has_no_message(files, tmp_path):
    """compliance-checker, strict, finds nothing by CF 1.11 and ACDD 1.3 in converted files."""
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


def test_cfchecks_has_no_error_and_no_warning(files, tmp_path, monkeypatch, capsys):
    """cfchecks finds no error and no warning; it knows CF up to 1.8, so a copy says 1.8."""
    checker = udunits_reader("cfchecker.cfchecks", monkeypatch)
    import compliance_checker

    names = Path(compliance_checker.__file__).parent / "data" / "cf-standard-name-table.xml"
    counts = {}
    for name, path in files.items():
        copy = tmp_path / f"{name}.nc"
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


def test_values_equal_the_source(files):
    """A reader that unpacks by the conventions gets the figures of the lines of the archive."""
    rows = EXCERPT.read_text(encoding="ascii").splitlines()[1:]
    with netCDF4.Dataset(files["igra"]) as dataset:
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


def test_fast_files_have_the_same_content(files):
    """Compressed outside the library or inside it, a file holds the same variables and values."""
    with netCDF4.Dataset(files["igra"]) as one, netCDF4.Dataset(files["igra-fast"]) as two:
        assert one.ncattrs() == two.ncattrs()
        assert list(one.variables) == list(two.variables)
        for name, variable in one.variables.items():
            other = two[name]
            for item in (variable, other):
                item.set_auto_maskandscale(False)
                item.set_auto_chartostring(False)
            assert variable.ncattrs() == other.ncattrs()
            assert np.array_equal(np.asarray(variable[...]), np.asarray(other[...]))
