"""CF soundings of others: found by standard name and attributes, whatever the layout."""

from __future__ import annotations

from datetime import UTC, datetime

import netCDF4
import numpy as np
import pytest

from encoder.formats.foreign_flight import read_foreign
from encoder.report import encode_report
from tests.archives import archive_of, archive_of_flight
from tests.flights import FACTS, facts_of, rows_of, write_flight

RELEASE = datetime(2031, 7, 15, 17, 16, 30, tzinfo=UTC).timestamp()
STANDARD = {
    "prs": ("air_pressure", "Pa", 100.0, 0.0),
    "ta": ("air_temperature", "K", 1.0, 273.15),
    "hur": ("relative_humidity", "1", 0.01, 0.0),
    "zg": ("geopotential_height", "km", 0.001, 0.0),
    "dd": ("wind_from_direction", "degree", 1.0, 0.0),
    "ff": ("wind_speed", "knot", 3600.0 / 1852.0, 0.0),
}


def rows():
    """Return rows of a flight with a surface row at release."""
    columns = rows_of()
    surface = FACTS["surface"]
    first = {
        "time": 0.0,
        "air_pressure": surface["air_pressure_hpa"],
        "geopotential_height": 412.0,
        "air_temperature": surface["air_temperature_degc"],
        "relative_humidity": surface["relative_humidity_percent"],
        "wind_from_direction": surface["wind_from_direction_degree"],
        "wind_speed": surface["wind_speed_m_s"],
    }
    return {name: np.concatenate(([first[name]], values)) for name, values in columns.items()}


def write(path, layout="single", *, change=None, packing="f8", leave=(), more=()):
    """Write a foreign file of two equal soundings (one if single), the second 10 hPa higher up."""
    columns = rows()
    size = len(columns["time"])
    count = 1 if layout == "single" else 2
    with netCDF4.Dataset(path, "w") as dataset:
        dataset.Conventions = "CF-1.8"
        dataset.featureType = "profile"
        levels = {"single": size, "ragged": 2 * size - 5, "indexed": 2 * size - 5}.get(
            layout, size + 3
        )
        dataset.createDimension("k", levels)
        dims = ("k",)
        if layout != "single":
            dataset.createDimension("cast", count)
        if layout == "padded":
            dims = ("cast", "k")
        if layout == "transposed":
            dims = ("k", "cast")
        one = () if layout == "single" else ("cast",)
        if layout == "ragged":
            variable = dataset.createVariable("nk", "i4", one)
            variable.sample_dimension = "k"
            variable[:] = [size, size - 5]
        if layout == "indexed":
            variable = dataset.createVariable("which", "i4", ("k",))
            variable.instance_dimension = "cast"
            variable[:] = np.concatenate((np.zeros(size), np.ones(size - 5)))

        def lay(values):
            if layout == "single":
                return values
            if layout in ("ragged", "indexed"):
                return np.concatenate((values, values[: size - 5]))
            padded = np.full((2, size + 3), 1e20)
            padded[0, :size] = values
            padded[1, : size - 5] = values[: size - 5]
            return padded.T if layout == "transposed" else padded

        for name, (standard, units, factor, offset) in STANDARD.items():
            if standard in leave:
                continue
            values = lay(columns[standard]) * 1.0
            hollow = values > 9e19
            values = np.where(hollow, 1e20, values * factor + offset)
            if packing == "f4":
                variable = dataset.createVariable(name, "f4", dims, fill_value=np.float32(1e20))
                variable[...] = values
            elif packing == "i4":
                variable = dataset.createVariable(name, "i4", dims, fill_value=-9)
                variable.set_auto_maskandscale(False)
                steps = 10.0 if units == "Pa" else 1e5
                variable.scale_factor = 1.0 / steps
                variable.add_offset = 1.0
                variable[...] = np.where(hollow, -9, np.rint((values - 1.0) * steps))
            else:
                variable = dataset.createVariable(name, "f8", dims, fill_value=1e20)
                variable[...] = values
            variable.standard_name = standard
            variable.units = units
        if "time" not in leave:
            variable = dataset.createVariable("when", "f8", dims, fill_value=1e20)
            values = lay(columns["time"])
            variable[...] = np.where(values > 9e19, 1e20, (values + RELEASE) / 60.0)
            variable.units = "minutes since 1970-01-01"
            variable.standard_name = "time"
        for name, units, value in (("la", "degrees_north", 54.31), ("lo", "degrees_east", 12.84)):
            if name not in leave:
                variable = dataset.createVariable(name, "f8", one)
                variable[...] = value
                variable.units = units
        for name, standard, value in (
            ("stn", "platform_id", "90417"),
            ("stname", "platform_name", "Harrow Tarn"),
        ):
            variable = dataset.createVariable(name, str, one)
            for place in range(count):
                variable[place if one else ...] = value
            variable.standard_name = standard
        if "surface_altitude" not in leave:
            variable = dataset.createVariable("elev", "f4", one)
            variable[...] = 412.0
            variable.units = "m"
            variable.standard_name = "surface_altitude"
        for name in more:
            dataset.createVariable(name, "f8", dims)[...] = 1.0
        if change is not None:
            change(dataset)
    return path


def codes(result):
    return [item.code for item in result.diagnostics]


@pytest.mark.parametrize("packing", ["f8", "f4", "i4"])
@pytest.mark.parametrize("layout", ["single", "ragged", "indexed", "padded", "transposed"])
def test_every_layout_gives_the_same_report(tmp_path, layout, packing) -> None:
    """Other names, units, packing and layouts: the flight gives the report of its twin."""
    (tmp_path / "twin").mkdir()
    twin = archive_of(write_flight(tmp_path / "twin", facts_of(nominal_time="2031-07-15T18:00Z")))
    path = write(tmp_path / "foreign.nc", layout, packing=packing)
    result = read_foreign(path, sounding=None if layout == "single" else 0)
    flight = result.value
    assert flight.station.wmo_index == "90417"
    assert flight.release_time.timestamp() == RELEASE
    for name in ("air_temperature", "air_pressure", "wind_speed"):
        assert np.allclose(flight.ascent[name], twin.flight.ascent[name], rtol=1e-6, atol=5.1e-4)
    if packing == "f8":
        flight = flight.with_reporting()
        text = encode_report(flight, archive_of_flight(flight).levels).value.text
        assert text == twin.reports[0].text


def test_the_second_sounding(tmp_path) -> None:
    """A file with several soundings asks for one; each can be had."""
    path = write(tmp_path / "foreign.nc", "padded")
    assert codes(read_foreign(path))[-1] == "netcdf-choose-sounding"
    assert codes(read_foreign(path, sounding=2))[-1] == "netcdf-choose-sounding"
    assert len(read_foreign(path, sounding=1).value.profile) == len(rows()["time"]) - 5


def test_what_is_not_understood_is_listed(tmp_path) -> None:
    """Every variable that is not used is named, one by one."""
    path = write(tmp_path / "foreign.nc", more=("ozone", "battery"))
    unused = [
        item.value
        for item in read_foreign(path).diagnostics
        if item.code == "netcdf-variable-not-used"
    ]
    assert unused == ["ozone", "battery"]


def test_assumed_facts_are_told_and_given_facts_are_used(tmp_path) -> None:
    """Without facts the surface and the nominal hour are assumed aloud; with facts nothing is."""
    path = write(tmp_path / "foreign.nc", leave=("surface_altitude",))
    alone = read_foreign(path)
    assert codes(alone).count("netcdf-fact-assumed") == 3
    assert alone.value.station.elevation == pytest.approx(412.0)
    given = read_foreign(path, facts=facts_of(station__elevation_m=415.0))
    assert "netcdf-fact-assumed" not in codes(given)
    assert given.value.station.elevation == 415.0
    assert given.value.station.wigos_id == "0-20000-0-90417"


@pytest.mark.parametrize(
    ("leave", "path"),
    [
        (("air_pressure", "geopotential_height"), "air_pressure"),
        (("time",), "time"),
        (("la",), "latitude"),
    ],
)
def test_missing_coordinates(tmp_path, leave, path) -> None:
    """A coordinate a flight needs that is not there is named, and no flight is made."""
    result = read_foreign(write(tmp_path / "foreign.nc", leave=leave))
    assert result.value is None
    (fault,) = [i for i in result.diagnostics if i.code == "netcdf-coordinate-missing"]
    assert fault.path == (path,)


def test_no_temperature_is_no_sounding(tmp_path) -> None:
    """A file without air temperature along levels is no sounding."""
    result = read_foreign(write(tmp_path / "foreign.nc", leave=("air_temperature",)))
    assert result.value is None
    assert "netcdf-not-a-sounding" in codes(result)


@pytest.mark.parametrize(
    ("name", "units"),
    [("ta", "hPa"), ("prs", "furlong per"), ("when", "minutes"), ("ff", "C"), ("elev", "K")],
)
def test_wrong_units(tmp_path, name, units) -> None:
    """Units that do not measure the quantity are an error with the variable named."""

    def change(dataset):
        dataset[name].units = units if name != "when" else "metres since 1970-01-01"

    result = read_foreign(write(tmp_path / "foreign.nc", change=change))
    assert result.value is None
    (fault,) = [item for item in result.diagnostics if item.code == "netcdf-unit-wrong"]
    assert fault.path == (name, "units")


def test_another_calendar(tmp_path) -> None:
    """A calendar without leap years cannot date an observation."""

    def change(dataset):
        dataset["when"].calendar = "noleap"

    result = read_foreign(write(tmp_path / "foreign.nc", change=change))
    assert result.value is None
    assert "netcdf-unit-wrong" in codes(result)


def test_unsorted_times(tmp_path) -> None:
    """Rows out of order are sorted with a warning."""

    def change(dataset):
        for name in (*STANDARD, "when"):
            values = dataset[name][...]
            values[[50, 60]] = values[[60, 50]]
            dataset[name][...] = values

    result = read_foreign(write(tmp_path / "foreign.nc", change=change))
    assert result.value is not None
    assert "rows-out-of-order" in codes(result)


def test_rows_from_the_top_down(tmp_path) -> None:
    """Levels stored from the top down are read in the order of time, and keep their numbers."""
    plain, turned = tmp_path / "plain.nc", tmp_path / "turned.nc"
    write(plain)
    write(turned)
    with netCDF4.Dataset(turned, "a") as dataset:
        for variable in dataset.variables.values():
            if variable.dimensions == ("k",):
                variable[:] = variable[::-1]
    expected, found = read_foreign(plain), read_foreign(turned)
    assert "netcdf-rows-reversed" in [item.code for item in found.diagnostics]
    assert "netcdf-rows-reversed" not in [item.code for item in expected.diagnostics]
    one, other = expected.value.ascent, found.value.ascent
    assert all(np.array_equal(one[name], other[name], equal_nan=True) for name in one)
    numbers = found.value.ascent.source_row
    assert np.all(np.diff(numbers[1:]) == -1)


def test_groups_are_named(tmp_path) -> None:
    """A sounding inside a group is not read; the group is named."""
    path = tmp_path / "groups.nc"
    with netCDF4.Dataset(path, "w") as dataset:
        dataset.createGroup("ascent")
    (found,) = read_foreign(path).diagnostics
    assert found.code == "netcdf-not-a-sounding"
    assert "groups are not read: ascent" in found.message


@pytest.mark.parametrize(
    ("identifier", "index", "wigos", "name"),
    [
        ("90417", "90417", None, "Harrow Tarn"),
        ("0-20000-0-90417", None, "0-20000-0-90417", "Harrow Tarn"),
        ("QCW07", None, None, "Harrow Tarn (QCW07)"),
    ],
)
def test_identifiers_of_the_station(tmp_path, identifier, index, wigos, name) -> None:
    """A WMO index, a WIGOS identifier, or another one, which stays in the name."""
    path = tmp_path / "named.nc"
    write(path)
    with netCDF4.Dataset(path, "a") as dataset:
        for word, text in (("platform_id", identifier), ("platform_name", "Harrow Tarn")):
            for other in dataset.variables.values():
                if getattr(other, "standard_name", "") == word:
                    other.delncattr("standard_name")
            made = dataset.createVariable(f"my_{word}", str, ())
            made.standard_name = word
            made[...] = text
    station = read_foreign(path).value.station
    assert (station.wmo_index, station.wigos_id, station.name) == (index, wigos, name)


def test_a_quantity_given_twice(tmp_path) -> None:
    """Of two variables of one standard name the first is used, and both are named."""

    def change(dataset):
        variable = dataset.createVariable("ta2", "f8", ("k",))
        variable.standard_name, variable.units = "air_temperature", "K"
        variable[...] = 300.0

    result = read_foreign(write(tmp_path / "foreign.nc", change=change))
    assert result.value is not None
    (fault,) = [item for item in result.diagnostics if item.code == "netcdf-quantity-twice"]
    assert fault.value == "ta2"


def test_counts_that_do_not_fit(tmp_path) -> None:
    """Counts beyond the levels there are, or no dimension of soundings, are told."""

    def too_many(dataset):
        dataset["nk"][:] = [5000, 5000]

    def nowhere(dataset):
        dataset["which"].instance_dimension = "elsewhere"

    for layout, change in (("ragged", too_many), ("indexed", nowhere)):
        result = read_foreign(write(tmp_path / "foreign.nc", layout, change=change), sounding=0)
        assert result.value is None
        assert codes(result)[-1] == "netcdf-ragged-wrong"


def test_wind_the_other_way_round(tmp_path) -> None:
    """A direction the wind blows to is turned; longitudes of 0 to 360 become -180 to 180."""

    def change(dataset):
        dataset["dd"].standard_name = "wind_to_direction"
        dataset["dd"][...] = np.mod(dataset["dd"][...] + 180.0, 360.0)
        dataset["lo"][...] = 350.0
        dataset["elev"].units, dataset["elev"][...] = "km", 0.412

    flight = read_foreign(write(tmp_path / "foreign.nc", change=change)).value
    assert np.allclose(flight.ascent["wind_from_direction"][1:], rows()["wind_from_direction"][1:])
    assert flight.station.longitude == -10.0
    assert flight.station.elevation == 412.0


def test_elapsed_time_with_a_release_time(tmp_path) -> None:
    """Seconds since release along the levels and one time of the sounding are enough."""

    def change(dataset):
        dataset["when"].units = "s"
        dataset["when"][...] = rows()["time"]
        variable = dataset.createVariable("t0", "f8", ())
        variable.standard_name, variable.units = "time", "days since 2031-07-01T00:00:00Z"
        variable[...] = 14.0 + (17 * 3600 + 16 * 60 + 30) / 86400.0

    flight = read_foreign(write(tmp_path / "foreign.nc", change=change)).value
    assert abs(flight.release_time.timestamp() - RELEASE) < 1e-3
    assert np.array_equal(flight.profile["time"], rows()["time"])


def test_a_damaged_or_missing_file(tmp_path) -> None:
    """Faults of the file itself are told as for our own files."""
    path = write(tmp_path / "foreign.nc")
    path.write_bytes(path.read_bytes()[:3000])
    assert codes(read_foreign(path)) == ["archive-damaged"]
    assert codes(read_foreign(tmp_path / "none.nc")) == ["file-not-found"]


def test_classic_netcdf(tmp_path) -> None:
    """A classic netCDF file with 32-bit floats is read; 24.4 is 24.4, not its nearest float."""
    path = tmp_path / "classic.nc"
    with netCDF4.Dataset(path, "w", format="NETCDF3_CLASSIC") as dataset:
        dataset.createDimension("n", 20)
        dataset.station_name = "Harrow Tarn"
        for name, standard, units, values in (
            ("a", "air_temperature", "degC", 24.4 - np.arange(20)),
            ("b", "air_pressure", "hPa", 1000.0 - 20.0 * np.arange(20)),
            ("c", "altitude", "m", 100.0 + 170.0 * np.arange(20)),
            ("d", "latitude", "degrees_north", np.full(20, 50.0)),
            ("e", "longitude", "degrees_east", np.full(20, 10.0)),
        ):
            variable = dataset.createVariable(name, "f4", ("n",))
            variable.standard_name, variable.units = standard, units
            variable[:] = values
        variable = dataset.createVariable("t", "f8", ("n",))
        variable.units = "seconds since 2031-07-15T11:00:00Z"
        variable[:] = 30.0 * np.arange(20)
    flight = read_foreign(path).value
    assert flight.ascent["air_temperature"][0] == 24.4
    assert flight.station.name == "Harrow Tarn"
    assert flight.station.elevation == 100.0
