"""Programs of Debian's package netcdf-bin on our templates and files; run by name."""

from __future__ import annotations

import subprocess

import netCDF4
import pytest

from encoder.archive import history_of
from encoder.formats.netcdf import PRODUCTS, write_netcdf
from tests.archives import ROOT, igra_sounding, sample_archive, service

FOLDER = ROOT / "schemas" / "cf"


@pytest.mark.parametrize("name", sorted(PRODUCTS))
def test_templates_are_cdl(name, tmp_path):
    """Ncgen makes a file of each template, with its variables in order."""
    path = tmp_path / "template.nc"
    command = ["ncgen", "-k", "nc4", "-o", str(path), str(FOLDER / f"{name}.cdl")]
    subprocess.run(command, check=True, timeout=60)

    with netCDF4.Dataset(path) as dataset:
        assert list(dataset.variables) == [item.name for item in PRODUCTS[name].variables]


def test_ncdump_opens_every_file(tmp_path):
    """Ncdump prints every header in the order of the template."""
    sounding, _rows = igra_sounding()
    products = {
        "flight": sample_archive(),
        "levels": sounding,
        "history": history_of([sounding]),
    }
    for name, value in products.items():
        path = tmp_path / f"{name}.nc"
        write_netcdf(value, path, service=service())
        command = ["ncdump", "-h", str(path)]

        done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)

        first = "row_size" if name == "history" else "time"
        variables = done.stdout.split("variables:")[1].split("\n\t")
        assert variables[1].split()[1].startswith(first)
