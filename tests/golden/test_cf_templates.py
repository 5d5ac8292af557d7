"""The templates in schemas/cf: made from the declarations, valid CDL, and kept by every file."""

from __future__ import annotations

import netCDF4
import numpy as np
import pytest

from encoder.formats.netcdf import PRODUCTS, write_netcdf
from encoder.formats.netcdf.declare import VERSION
from encoder.formats.netcdf.template import deviations, template
from tests.archives import ROOT, sample_archive, service

FOLDER = ROOT / "schemas" / "cf"


@pytest.mark.parametrize("name", sorted(PRODUCTS))
def test_templates_are_up_to_date(name) -> None:
    """Each template in the folder is the one its declaration gives."""
    written = (FOLDER / f"{name}.cdl").read_text(encoding="utf-8")
    assert written == template(PRODUCTS[name])


def test_the_version_is_that_of_the_package() -> None:
    """Files name the version of the package."""
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["version"] == VERSION


CHANGES = {
    "another unit": lambda d: d["air_temperature"].setncattr("units", "K"),
    "another convention": lambda d: d.setncattr("Conventions", "CF-1.0"),
    "a global attribute more": lambda d: d.setncattr("mood", "good"),
    "a global attribute less": lambda d: d.delncattr("title"),
    "an attribute more": lambda d: d["wind_speed"].setncattr("mood", "good"),
    "an attribute less": lambda d: d["wind_speed"].delncattr("standard_name"),
    "a flag of another type": lambda d: d["row_use"].setncattr(
        "flag_values", np.array([0, 1, 2, 3], dtype="i4")
    ),
    "a variable more": lambda d: d.createVariable("mood", "i1", ()),
    "a variable less": lambda d: d.renameVariable("row_use", "row_used"),
    "a dimension more": lambda d: d.createDimension("mood", 2),
}


@pytest.mark.parametrize("change", sorted(CHANGES))
def test_a_deviation_is_found(change, tmp_path) -> None:
    """Whatever is changed in a file, the comparison with the template tells it."""
    path = tmp_path / "flight.nc"
    write_netcdf(sample_archive("halden-dome"), path, service=service())
    with netCDF4.Dataset(path, "a") as dataset:
        dataset.set_auto_maskandscale(False)
        assert deviations(dataset, PRODUCTS["flight"]) == []
        CHANGES[change](dataset)
        assert deviations(dataset, PRODUCTS["flight"]) != []
