"""The files as xarray datasets: opened, split, joined, packed again without loss."""

from __future__ import annotations

import sys

import netCDF4
import numpy as np
import pytest
import xarray

from encoder.errors import InputError, MissingDependencyError
from encoder.formats.netcdf import read_netcdf, write_netcdf
from encoder.formats.netcdf.views import join_soundings, open_dataset, split_soundings
from tests.archives import sample_archive, service, sounding_of_archive
from tests.unit.test_netcdf_history import soundings


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """One file of each product."""
    from encoder.archive import history_of

    folder = tmp_path_factory.mktemp("views")
    archive = sample_archive()
    values = {
        "flight": archive,
        "levels": sounding_of_archive(archive),
        "history": history_of(soundings(5)),
    }
    for name, value in values.items():
        write_netcdf(value, folder / f"{name}.nc", service=service())
    return {name: folder / f"{name}.nc" for name in values}


def test_any_product_opens_with_decoded_times(files) -> None:
    """Times are moments, texts are strings, values those of our own reader."""
    flight = open_dataset(files["flight"])
    assert flight.time.values[0] == np.datetime64("2031-07-08T23:21:00")
    assert str(flight.coded_report.values) == sample_archive().reports[0].text
    own = read_netcdf(files["flight"]).value.flight.ascent
    assert np.array_equal(flight.air_temperature, own["air_temperature"], equal_nan=True)
    levels = open_dataset(files["levels"])
    table = read_netcdf(files["levels"]).value.levels
    assert np.array_equal(levels.air_temperature, table["air_temperature"], equal_nan=True)
    assert levels.nominal_time.values == np.datetime64("2031-07-09T00:00:00")
    assert str(levels.station_name.values) == "Harrow Tarn"


def test_split_and_join_are_lossless(files, tmp_path) -> None:
    """A history split into soundings and joined again is identical, also in a file."""
    dataset = open_dataset(files["history"])
    parts = split_soundings(dataset)
    history = read_netcdf(files["history"]).value
    assert [part.sizes["obs"] for part in parts] == history.row_size.tolist()
    for part, sounding in zip(parts, history.soundings(), strict=True):
        assert np.array_equal(
            part.air_temperature, sounding.levels["air_temperature"], equal_nan=True
        )
    joined = join_soundings(parts)
    assert joined.identical(dataset)
    joined.to_netcdf(tmp_path / "again.nc")
    with netCDF4.Dataset(files["history"]) as one, netCDF4.Dataset(tmp_path / "again.nc") as two:
        for each in (one, two):
            each.set_auto_maskandscale(False)
        for name, variable in one.variables.items():
            if variable.dtype.kind != "S":
                assert variable.dtype == two[name].dtype
                assert np.array_equal(variable[...], two[name][...])


def test_soundings_can_be_chosen(files) -> None:
    """Some of the soundings, in another order, are a ragged dataset too."""
    parts = split_soundings(open_dataset(files["history"]))
    chosen = join_soundings([parts[3], parts[0]])
    assert [part.sizes["obs"] for part in split_soundings(chosen)] == [
        parts[3].sizes["obs"],
        parts[0].sizes["obs"],
    ]


def test_what_is_not_ragged_is_refused(files) -> None:
    """A flight cannot be split; nothing and different things cannot be joined."""
    with pytest.raises(InputError, match="sample_dimension"):
        split_soundings(open_dataset(files["flight"]))
    with pytest.raises(InputError, match="at least one"):
        join_soundings([])
    parts = split_soundings(open_dataset(files["history"]))
    with pytest.raises(InputError, match="same variables"):
        join_soundings([parts[0], parts[1].drop_vars("superseded")])
    wrong = open_dataset(files["history"])
    wrong["row_size"] = wrong.row_size + 1
    wrong.row_size.attrs["sample_dimension"] = "obs"
    with pytest.raises(InputError, match="add up to"):
        split_soundings(wrong)


def test_foreign_ragged_datasets(tmp_path) -> None:
    """Split and join go by sample_dimension, whatever the names."""
    dataset = xarray.Dataset(
        {
            "n": ("cast", np.array([2, 0, 3], "i4"), {"sample_dimension": "z"}),
            "t": ("z", np.arange(5.0)),
            "day": ("cast", np.arange(3.0)),
            "note": ((), 7),
        }
    )
    parts = split_soundings(dataset)
    assert [part.t.values.tolist() for part in parts] == [[0.0, 1.0], [], [2.0, 3.0, 4.0]]
    assert join_soundings(parts).identical(dataset)


def test_the_library_is_not_installed(files, monkeypatch) -> None:
    """Without xarray one line says what to install."""
    monkeypatch.setitem(sys.modules, "xarray", None)
    with pytest.raises(MissingDependencyError, match=r"aerogram\[netcdf\]"):
        open_dataset(files["flight"])
