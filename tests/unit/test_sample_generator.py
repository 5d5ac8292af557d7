"""Generated flights keep what they promise: order, balance, stability, saturation, gaps."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.formats.flight_folder import read_flight
from encoder.levels import LevelKind, select_levels
from encoder.levels.rules import WMO
from encoder.levels.tropopause import tropopauses
from encoder.physics import (
    dew_point,
    geopotential_height,
    hypsometric_height,
    potential_temperature,
    saturation_vapour_pressure,
    vapour_pressure,
    virtual_temperature,
)
from encoder.profile import Profile
from samples.generator import (
    CLIMATES,
    SAMPLES,
    document_text,
    make_flight,
    profile_text,
    random_flight,
    random_specification,
    write_flight,
)
from samples.generator.atmosphere import build_atmosphere, flowing, saturation_over_ice


def check_of_the_air(document, columns, burst):
    """Assert what holds for every flight: order, hydrostatic balance, stability, saturation."""
    ground = document["station"]["elevation_m"]
    surface = document["surface"]["air_pressure_hpa"]
    top = int(np.argmin(columns["air_pressure"])) + 1
    up = {key: values[:top] for key, values in columns.items()}
    pressure, temperature = up["air_pressure"], up["air_temperature"]
    assert pressure[0] < surface
    assert np.all(np.diff(pressure) < 0.0)
    assert np.all(np.diff(columns["time"]) > 0.0)
    assert burst <= pressure[-1] < 1.05 * burst

    humidity = np.where(np.isnan(up["relative_humidity"]), 50.0, up["relative_humidity"])
    assert 0.0 < humidity.min() < humidity.max() <= 100.0
    water = vapour_pressure(temperature, humidity)
    virtual = virtual_temperature(temperature, water, pressure)
    start = float(geopotential_height(ground, document["station"]["latitude"]))
    base = start + 29.2713 * (virtual[0] + 273.15) * np.log(surface / pressure[0])
    computed = hypsometric_height(pressure, virtual, base)
    # 0.05 hPa of the rounded surface pressure, lag and noise of the sensors and gaps of humidity.
    assert np.max(np.abs(computed - up["geopotential_height"])) < 8.0

    theta = potential_temperature(temperature, pressure)
    free = pressure < pressure[0] - 10.0
    drop = (np.maximum.accumulate(np.where(free, theta, 0.0)) - theta)[free]
    assert drop.max() < 0.6
    return drop.max()


@pytest.mark.parametrize("name", SAMPLES)
def test_samples_are_physically_consistent(name):
    """Pressure falls, heights are hydrostatic, nothing above the ground is superadiabatic."""
    spec = SAMPLES[name]
    flight = make_flight(spec)
    drop = check_of_the_air(flight.document, flight.columns, spec.burst_pressure)
    assert 0.0 < drop < 0.5


@pytest.mark.parametrize("climate", CLIMATES)
def test_random_flights_are_physically_consistent(climate):
    """The same holds for flights drawn at random, whatever the climate, height and spacing."""
    for seed in range(6):
        spec = random_specification(seed, climate=climate)
        flight = random_flight(seed, climate=climate)
        check_of_the_air(flight.document, flight.columns, spec.burst_pressure)


def test_same_seed_same_flight_other_seed_other_flight():
    """A flight depends on its seed and choices alone."""
    first, again, other = random_flight(3), random_flight(3), random_flight(4)
    assert document_text(first) == document_text(again)
    assert profile_text(first) == profile_text(again)
    assert profile_text(first) != profile_text(other)


def test_choices_are_kept():
    """What the caller gives is taken over."""
    flight = random_flight(
        11,
        climate="polar winter",
        elevation=1234.0,
        burst_pressure=20.0,
        spacing=5.0,
        wind_unit="m s-1",
        descent_seconds=60.0,
    )
    columns = flight.columns
    assert flight.document["station"]["elevation_m"] == 1234.0
    assert flight.document["reporting"] == {"wind_unit": "m s-1"}
    assert set(np.diff(columns["time"])) == {5.0}
    lowest = int(np.argmin(columns["air_pressure"]))
    assert 20.0 <= columns["air_pressure"][lowest] < 21.0
    assert 11 <= len(columns["time"]) - 1 - lowest <= 12


@pytest.mark.parametrize(
    ("element", "emptied"),
    [
        ("temperature", {"air_temperature", "relative_humidity"}),
        ("humidity", {"relative_humidity"}),
        ("wind", {"wind_from_direction", "wind_speed", "latitude", "longitude"}),
    ],
)
def test_a_gap_empties_the_columns_of_its_element(element, emptied):
    """A gap leaves one layer empty, in the columns that are lost together and no other."""
    columns = random_flight(11, gaps=(element,)).columns
    empty = {name for name, values in columns.items() if np.isnan(values).any()}
    assert empty == emptied
    rows = np.flatnonzero(np.isnan(columns[min(emptied)]))
    assert np.array_equal(rows, np.arange(rows[0], rows[-1] + 1))


def test_half_seconds_are_written_as_such():
    """Times keep one decimal when the spacing is no whole number of seconds, none otherwise."""
    half = profile_text(random_flight(5, spacing=0.5, burst_pressure=100.0)).splitlines()
    whole = profile_text(random_flight(5, spacing=5.0, burst_pressure=100.0)).splitlines()
    assert [row.split(",")[0] for row in half[1:4]] == ["0.5", "1.0", "1.5"]
    assert [row.split(",")[0] for row in whole[1:4]] == ["5", "10", "15"]


def test_unknown_climate_and_element_are_refused():
    """Names outside the tables raise KeyError."""
    with pytest.raises(KeyError):
        random_flight(1, climate="lunar")
    with pytest.raises(KeyError):
        random_flight(1, gaps=("ozone",))


def test_saltmere_has_rows_after_the_burst_and_a_humidity_gap():
    """The coastal flight goes on falling, and lacks humidity over more than 20 hPa."""
    columns = make_flight(SAMPLES["saltmere-point"]).columns
    pressure = columns["air_pressure"]
    lowest = int(np.argmin(pressure))
    assert 30 <= len(pressure) - 1 - lowest <= 45
    gap = pressure[np.isnan(columns["relative_humidity"])]
    assert gap.max() - gap.min() > 20.0
    assert columns["wind_speed"].max() > 80.0


def test_harrow_has_a_short_wind_gap_and_one_second_rows():
    """The inland flight loses positions over less than 50 hPa, and bursts near 9.5 hPa."""
    columns = make_flight(SAMPLES["harrow-tarn"]).columns
    assert set(np.diff(columns["time"])) == {1.0}
    assert len(columns["time"]) > 5800
    gap = columns["air_pressure"][np.isnan(columns["wind_speed"])]
    assert 5.0 < gap.max() - gap.min() < 50.0
    assert columns["air_pressure"].min() == pytest.approx(9.5, abs=0.02)


def test_ice_clouds_are_above_ice_and_below_water_saturation():
    """Cirrus may be supersaturated over ice but never over water."""
    air = build_atmosphere(SAMPLES["harrow-tarn"])
    cold = air.temperature < -38.0
    over_water = saturation_vapour_pressure(air.temperature)
    over_ice = air.humidity * over_water / saturation_over_ice(air.temperature)
    assert 100.0 < over_ice[cold].max() <= 150.0
    assert air.humidity.max() <= 100.0


def test_saturation_over_ice_against_listed_values():
    """WMO-No. 49 ice formula: 6.10636 hPa at 0 degC, 0.379715 at -30, 0.0107999 at -60 (computed
    independently from the published coefficients)."""
    values = saturation_over_ice(np.array([0.0, -30.0, -60.0]))
    assert values == pytest.approx([6.10636, 0.379715, 0.0107999], rel=5e-6)


def test_flowing_curve_meets_its_nodes_and_does_not_overshoot():
    """The wind curve goes through every node and stays between neighbours."""
    nodes = ((0.0, 1.0), (100.0, 5.0), (150.0, 5.0), (400.0, 40.0), (900.0, -3.0))
    height = np.linspace(0.0, 900.0, 901)
    curve = flowing(nodes, height)
    assert curve[[0, 100, 150, 400, 900]] == pytest.approx([1.0, 5.0, 5.0, 40.0, -3.0])
    assert np.all(np.diff(curve[:401]) >= -1e-12)
    assert np.all(np.diff(curve[400:]) <= 1e-12)


def test_tropopauses_of_the_samples():
    """Two at the coast, one inland between 250 and 200 hPa, one over the plateau."""
    found = {}
    for name, spec in SAMPLES.items():
        flight = make_flight(spec)
        rows = int(np.argmin(flight.columns["air_pressure"])) + 1
        columns = {key: values[:rows] for key, values in flight.columns.items()}
        columns["dew_point_temperature"] = dew_point(
            columns["air_temperature"], columns["relative_humidity"]
        )
        profile = Profile(columns, np.arange(1, rows + 1))
        found[name] = tropopauses(profile, rules=WMO).value["air_pressure"].tolist()
    assert found["harrow-tarn"] == pytest.approx([225.0], abs=3.0)
    assert found["halden-dome"] == pytest.approx([289.0], abs=3.0)
    assert found["saltmere-point"] == pytest.approx([317.0, 152.0], abs=3.0)


def test_levels_of_the_samples(tmp_path):
    """Selection finds what the story of each flight promises."""
    tables = {}
    for name, spec in SAMPLES.items():
        write_flight(make_flight(spec), tmp_path / name)
        flight = read_flight(tmp_path / name).raise_for_errors()
        levels, diagnostics = select_levels(flight)
        assert diagnostics == ()
        standard = levels.select(levels.having(LevelKind.STANDARD))
        empty = np.isnan(standard["air_temperature"])
        tables[name] = (levels, standard["air_pressure"][empty].tolist(), standard)
    assert tables["harrow-tarn"][1] == [1000.0]
    assert tables["halden-dome"][1] == [1000.0, 925.0, 850.0, 700.0]
    assert tables["halden-dome"][2]["air_pressure"].min() == 150.0
    coast, empty, standard = tables["saltmere-point"]
    assert empty == [1000.0, 10.0]
    assert standard["geopotential_height"][0] < 0.0
    assert len(coast.having(LevelKind.BEGIN_MISSING_HUMIDITY)) == 1
    strongest = coast.having(LevelKind.MAXIMUM_WIND)
    assert coast["wind_speed"][strongest].max() > 80.0
