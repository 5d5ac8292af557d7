"""Quality checks: each names the row, the number found and its limit, and keeps quiet otherwise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from encoder.ascent import prepare_ascent
from encoder.checks import check_ascent, gross_limits, pressure_contradiction, unit_doubts
from encoder.checks.surface import station_pressure, surface_against_sonde
from encoder.checks.vertical import ascent_rate, hydrostatic, superadiabatic, time_gaps
from encoder.columns import COLUMNS
from encoder.diagnostics import Result, Severity
from encoder.formats.flight_facts import flight_facts
from encoder.profile import Profile, Station
from tests.ascents import ascent_of
from tests.flights import FACTS, codes_of, rows_of, the

FLIGHT = flight_facts(FACTS).value


def profile_of(columns):
    """Return columns as read from a file, the first row on line 2."""
    return Profile(columns, np.arange(2, 2 + len(columns["time"])))


def ascent_from(columns):
    """Return the prepared ascent of columns."""
    result = prepare_ascent(profile_of(columns), station=FLIGHT.station, surface=FLIGHT.surface)
    return result.value[0]


def codes(found):
    """Return the codes of a tuple of diagnostics."""
    return codes_of(Result(None, found))


def test_good_ascent_passes_every_check():
    """A smooth hydrostatic ascent gives no finding."""
    found = check_ascent(ascent_from(rows_of()), station=FLIGHT.station, surface=FLIGHT.surface)
    assert found == ()


@pytest.mark.parametrize("name", sorted(COLUMNS))
def test_value_outside_the_gross_limits_counts_as_missing(name):
    """Each limit itself is possible; beyond it the value is missing and told; the file keeps it."""
    limits = COLUMNS[name]
    values = np.linspace(limits.lowest, limits.highest, 20)
    columns = {"time": np.arange(1.0, 21.0), name: values}
    profile = profile_of(columns)
    assert gross_limits(profile) == Result(profile)
    values = values.copy()
    values[[4, 5]] = limits.lowest - 1.0, limits.highest + 1.0
    spoilt = profile_of({**columns, name: values})
    result = gross_limits(spoilt)
    found = the(result, "values-impossible")
    assert (found.severity, found.rows, found.path) == (Severity.WARNING, (6, 7), (name,))
    assert list(np.flatnonzero(np.isnan(result.value[name]))) == [4, 5]
    assert np.isfinite(spoilt[name]).all()


def test_missing_value_marker_is_outside_the_limits():
    """-9999 in place of an empty cell is told, not used."""
    columns = rows_of(50)
    columns["relative_humidity"][10:20] = -9999.0
    found = the(gross_limits(profile_of(columns)), "values-impossible")
    assert found.value == "-9999"
    assert "empty cells" in found.hint


@pytest.mark.parametrize(
    ("name", "change", "unit"),
    [
        ("air_temperature", lambda v: v + 273.15, "K"),
        ("air_pressure", lambda v: v * 100.0, "Pa"),
        ("air_temperature", lambda v: v * 9.0 / 5.0 + 400.0, None),
        ("relative_humidity", lambda v: v + 150.0, None),
    ],
)
def test_column_in_another_unit_is_an_error(name, change, unit):
    """Kelvin given as degC and Pa given as hPa are recognised; the unit is named, not assumed."""
    columns = rows_of(50)
    columns[name] = change(columns[name])
    found = the(gross_limits(profile_of(columns)), "column-impossible")
    assert (found.severity, found.path, found.expected) == (Severity.ERROR, (name,), unit)
    assert (f"in {unit}?" in found.message) == (unit is not None)


@pytest.mark.parametrize(
    ("hot", "of", "spread", "told"),
    [
        (slice(0, 31), 2000, 5.0, "column-impossible"),
        (slice(0, 30), 2000, 5.0, "values-impossible"),
        (slice(0, 5), 200, 5.0, "column-impossible"),
        (slice(0, 4), 200, 5.0, "values-impossible"),
        (slice(0, 200, 20), 200, 5.0, "values-impossible"),
        (slice(0, 2), 20, 5.0, "values-impossible"),
        (slice(0, 60), 200, 0.0, "values-impossible"),
    ],
)
def test_many_impossible_temperatures_are_no_spikes(hot, of, spread, told):
    """More than 30 rows on end or 2 % of all are an error; spikes and fill values a warning."""
    values = np.linspace(15.0, -60.0, of)
    values[hot] = 70.0 + np.linspace(0.0, spread, len(values[hot]))
    columns = {"time": np.arange(1.0, of + 1.0), "air_temperature": values}
    found = the(gross_limits(profile_of(columns)), told)
    assert ("degF" in found.message) == (told == "column-impossible")


@pytest.mark.parametrize("surface", [24.0, 5.0, -12.0])
def test_fahrenheit_is_recognised_in_any_climate(surface):
    """The hottest rows are impossible, or the first ones fit the surface only as degF."""
    columns = rows_of(1200, 5.0)
    columns["air_temperature"] = surface - 0.0065 * 5.0 * columns["time"]
    columns["air_temperature"] = np.maximum(columns["air_temperature"], -60.0) * 1.8 + 32.0
    observed = replace(FLIGHT.surface, air_temperature=surface)
    limited = gross_limits(profile_of(columns))
    found = (*limited.diagnostics, *unit_doubts(limited.value, observed))
    errors = [item for item in found if item.severity is Severity.ERROR]
    assert "degF" in {item.expected for item in errors}


def test_temperatures_are_not_doubted_without_need():
    """A strong inversion, rows long after release or without temperature raise no doubt."""
    columns = rows_of(50)
    observed = replace(FLIGHT.surface, air_temperature=-40.0)
    columns["air_temperature"] = np.full(50, -21.0)
    assert unit_doubts(profile_of(columns), observed) == ()
    columns["air_temperature"] = np.full(50, 75.0)
    columns["time"] += 100.0
    assert unit_doubts(profile_of(columns), FLIGHT.surface) == ()


@pytest.mark.parametrize("difference", [-9.0, 9.0])
def test_pressures_that_fit_right_after_release(difference):
    """Up to 10 hPa apart the warnings of the ascent are enough."""
    columns = rows_of(50, 2.0)
    columns["air_pressure"] += difference
    assert pressure_contradiction(profile_of(columns), FLIGHT.station, FLIGHT.surface) == ()


@pytest.mark.parametrize("difference", [-15.0, 15.0])
def test_contradicting_pressures_are_an_error(difference):
    """Surface and sonde apart right after release, either way: one of them is wrong."""
    columns = rows_of(50, 2.0)
    columns["air_pressure"] += difference
    (found,) = pressure_contradiction(profile_of(columns), FLIGHT.station, FLIGHT.surface)
    assert (found.code, found.severity) == ("surface-pressure-contradicted", Severity.ERROR)
    assert (found.rows, found.path) == ((0, 2), ("air_pressure",))
    assert f"{FLIGHT.surface.air_pressure:.1f} hPa" in found.message


def test_one_wrong_pressure_is_no_contradiction():
    """A spike in the first row, a first row long after release, or no pressure: nothing is told."""
    columns = rows_of(50, 2.0)
    columns["air_pressure"][0] -= 50.0
    assert pressure_contradiction(profile_of(columns), FLIGHT.station, FLIGHT.surface) == ()
    late = rows_of(50, 2.0)
    late["time"] += 15.0
    late["air_pressure"] -= 50.0
    assert pressure_contradiction(profile_of(late), FLIGHT.station, FLIGHT.surface) == ()
    del late["air_pressure"]
    assert pressure_contradiction(profile_of(late), FLIGHT.station, FLIGHT.surface) == ()


def test_a_wrong_surface_pressure_is_told_with_the_usual_one():
    """Where it does not suit the elevation either, that is told beside the contradiction."""
    wrong = replace(FLIGHT.surface, air_pressure=1080.0)
    found = pressure_contradiction(profile_of(rows_of(50)), FLIGHT.station, wrong)
    assert codes(found) == ["surface-pressure-contradicted", "surface-pressure-unusual"]


def test_height_in_feet_is_recognised():
    """A height that only fits in feet names feet."""
    columns = rows_of(700)
    columns["geopotential_height"] = columns["geopotential_height"] / 0.3048
    found = the(gross_limits(profile_of(columns)), "column-impossible")
    assert found.expected == "ft"


def test_humidity_over_100_counts_as_missing():
    """Up to 102 % a sensor may say; 150 % it may not."""
    columns = rows_of(50)
    columns["relative_humidity"][[3, 4]] = 101.5, 150.0
    result = gross_limits(profile_of(columns))
    assert the(result, "values-impossible").rows == (6,)
    assert result.value["relative_humidity"][3] == 101.5


def test_humidity_as_a_fraction_is_an_error():
    """A relative humidity that never exceeds 1 % is a fraction with the wrong unit."""
    columns = rows_of(50)
    columns["relative_humidity"] /= 100.0
    found = the(Result(None, unit_doubts(profile_of(columns), FLIGHT.surface)), "unit-doubtful")
    assert (found.value, found.expected) == ("%", "1")


def test_all_missing_and_zero_humidity_is_not_doubted():
    """No value, or only zeros, says nothing about the unit."""
    columns = rows_of(50)
    for value in (np.nan, 0.0):
        columns["relative_humidity"][:] = value
        assert unit_doubts(profile_of(columns), FLIGHT.surface) == ()


@pytest.mark.parametrize(
    ("factor", "unit"), [(10.0, "kPa"), (1013.25 / 29.92, "inHg"), (5.0, None)]
)
def test_pressure_far_below_the_surface_pressure_is_an_error(factor, unit):
    """Possible values in the wrong unit are recognised by the surface pressure."""
    columns = rows_of(50)
    columns["air_pressure"] /= factor
    found = the(Result(None, unit_doubts(profile_of(columns), FLIGHT.surface)), "unit-doubtful")
    assert found.expected == unit
    assert unit_doubts(profile_of(rows_of(50)), FLIGHT.surface) == ()


@pytest.mark.parametrize(("temperature", "told"), [(-6.3, True), (-6.2, False)])
def test_superadiabatic_limit(temperature, told):
    """From 850 hPa, 10.0 degC, a dry adiabat reaches 700 hPa at -5.28 degC; 1 K below is told."""
    ascent = ascent_of(
        [100.0, 1500.0, 3000.0],
        [15.0, 10.0, temperature],
        pressure=[1000.0, 850.0, 700.0],
    )
    found = superadiabatic(ascent)
    assert (codes(found) == ["superadiabatic"]) == told
    if told:
        assert found[0].rows == (2,)
        assert "1.0 K colder" in found[0].message
        assert "850.0 hPa" in found[0].message


def test_superadiabatic_layer_at_the_ground_is_usual():
    """Less than 50 hPa above the surface nothing is told."""
    ascent = ascent_of([0.0, 200.0, 400.0], [20.0, 14.0, 10.0], pressure=[1000.0, 976.0, 953.0])
    assert superadiabatic(ascent) == ()


def test_superadiabatic_findings_are_grouped():
    """Many stretches give five findings and a count."""
    height = np.arange(0.0, 10000.0, 100.0)
    temperature = 15.0 - 0.0065 * height
    temperature[20::10] -= 4.0
    found = superadiabatic(ascent_of(height, temperature))
    assert codes(found) == ["superadiabatic"] * 6
    assert "3 more stretches" in found[-1].message


def test_hydrostatic_break_is_told_with_its_row():
    """Height and pressure that part by more than the limit: first row, worst row, both numbers."""
    columns = rows_of()
    columns["geopotential_height"][120:] += 40.0
    (found,) = hydrostatic(ascent_from(columns), "wmo-49")
    assert (found.code, found.rows[0]) == ("hydrostatic", 122)
    assert "+40 m" in found.message
    assert "limit 30 m" in found.message
    columns = rows_of()
    columns["geopotential_height"][120:] += 25.0
    assert hydrostatic(ascent_from(columns), "wmo-49") == ()


@pytest.mark.parametrize("gone", ["air_pressure", "geopotential_height"])
def test_hydrostatic_check_needs_two_measurements(gone):
    """What was computed from the other proves nothing and is not checked."""
    columns = rows_of()
    del columns[gone]
    assert hydrostatic(ascent_from(columns), "wmo-49") == ()


def test_hydrostatic_check_with_hardly_any_temperature():
    """One row with temperature gives nothing to compare."""
    columns = rows_of(10)
    ascent = ascent_from(columns)
    bare = ascent.with_columns({"air_temperature": np.full(len(ascent), np.nan)})
    assert hydrostatic(bare, "wmo-49") == ()


def test_unusual_ascent_rate_is_told():
    """Below 1 and above 10 m/s, averaged over half a minute, one finding a stretch."""
    columns = rows_of(200, 10.0)
    step = np.full(200, 10.0)
    step[50:60], step[120:130] = 100.0, 3.0
    columns["time"] = np.cumsum(step)
    found = ascent_rate(ascent_from(columns))
    assert codes(found) == ["ascent-rate", "ascent-rate"]
    assert found[0].value == "0.5 m/s"
    assert found[0].rows == (52, 62)
    assert float(found[1].value.split()[0]) > 10.0
    assert ascent_rate(ascent_from(rows_of())) == ()


def test_ascent_rate_of_two_rows_and_of_none():
    """Short ascents are judged where two heights exist."""
    assert ascent_rate(ascent_of([0.0], [10.0])) == ()
    assert codes(ascent_rate(ascent_of([0.0, 50.0], [10.0, 9.0]))) == ["ascent-rate"]


def test_gap_in_time_is_told():
    """Rows missing for minutes are told with both rows; even spacing is not, however wide."""
    columns = {name: np.delete(v, slice(80, 100)) for name, v in rows_of(200, 10.0).items()}
    (found,) = time_gaps(ascent_from(columns))
    assert (found.code, found.rows) == ("time-gap", (81, 82))
    assert found.value == "210 s"
    assert time_gaps(ascent_from(rows_of(30, 120.0))) == ()
    assert time_gaps(ascent_of([0.0, 5.0], [10.0, 9.0])) == ()


@pytest.mark.parametrize(
    ("elevation", "pressure", "told"),
    [
        (4.0, 958.0, False),
        (4.0, 1050.0, False),
        (4.0, 900.0, True),
        (2835.0, 720.0, False),
        (2835.0, 1013.0, True),
        (412.0, 9.6, True),
    ],
)
def test_surface_pressure_must_suit_the_elevation(elevation, pressure, told):
    """A deep low and a strong high pass; a pressure reduced to sea level does not."""
    station = Station("Harrow Tarn", 54.31, 12.84, elevation)
    found = station_pressure(station, replace(FLIGHT.surface, air_pressure=pressure))
    assert (codes(found) == ["surface-pressure-unusual"]) == told
    assert all(f"{pressure:.1f} hPa" in item.message for item in found)


@pytest.mark.parametrize(
    ("name", "difference", "words"),
    [
        ("air_pressure", -4.0, "hPa are due"),
        ("air_temperature", 8.0, "degC"),
        ("relative_humidity", 30.0, "%"),
        ("wind_speed", 15.0, "m/s"),
    ],
)
def test_surface_and_first_rows_must_fit(name, difference, words):
    """Each element of the first sonde row is held against the surface observation."""
    columns = rows_of(20)
    columns[name][0] += difference
    found = surface_against_sonde(ascent_from(columns))
    assert codes(found) == ["surface-differs"]
    assert (found[0].rows, found[0].path) == ((0, 2), (name,))
    assert words in found[0].message


def test_surface_pressure_without_measured_height():
    """Without height an ascent rate of 5 m/s is assumed and the limit is wider."""
    columns = rows_of(20)
    del columns["geopotential_height"]
    assert surface_against_sonde(ascent_from(columns)) == ()
    columns["air_pressure"] -= 20.0
    assert codes(surface_against_sonde(ascent_from(columns))) == ["surface-differs"]


def test_surface_is_not_held_against_rows_long_after_release():
    """Half a minute after release only pressure is comparable, after two minutes nothing is."""
    for first, expected in ((3, ["surface-differs"]), (12, [])):
        columns = {name: values[first:].copy() for name, values in rows_of(40).items()}
        columns["air_temperature"][0] += 20.0
        assert surface_against_sonde(ascent_from(columns)) == ()
        columns["air_pressure"] -= 5.0
        assert codes(surface_against_sonde(ascent_from(columns))) == expected


def test_surface_not_observed_is_not_compared():
    """Missing values at the surface give no finding."""
    ascent = ascent_from(rows_of(20))
    columns = {name: ascent[name].copy() for name in ascent}
    for name in ("air_temperature", "relative_humidity", "wind_speed", "wind_from_direction"):
        columns[name][0] = np.nan
    columns["air_temperature"][1] = np.nan
    assert surface_against_sonde(ascent.with_columns(columns)) == ()
