"""The whole level table of a flight: what is in it, and what is said when it cannot be kept."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.errors import InputError
from encoder.levels import (
    METHODS,
    RULES,
    THERMODYNAMIC,
    LevelKind,
    coded_levels,
    misfit_of_levels,
    select_levels,
)
from encoder.levels.candidates import points_of
from encoder.levels.missing import missing_layers
from encoder.levels.standard import standard_levels
from encoder.levels.thermal_section import thermal_plan
from encoder.levels.tropopause import tropopauses
from encoder.resolution import Coding, coded_pressure
from tests.soundings import ascent_from, flight_of, sounding

NAN = float("nan")
WIND = LevelKind.SIGNIFICANT_WIND
both_methods = pytest.mark.parametrize("method", METHODS)


def codes(result):
    """Return the codes of the diagnostics."""
    return [item.code for item in result.diagnostics]


def pressures(levels, kinds):
    """Return the pressures of the levels with any of the kinds."""
    return [float(value) for value in levels["air_pressure"][levels.having(kinds)]]


def level_at(levels, pressure):
    """Return the index of the level at exactly a pressure."""
    (found,) = np.flatnonzero(levels["air_pressure"] == pressure)
    return int(found)


def rules_at(levels, pressure):
    """Return the names of the rules that chose the level at a pressure."""
    return [item.rule for item in levels.reasons[level_at(levels, pressure)]]


def smooth(count=400, top=50.0, **changes):
    """Return an ascent with straight curves: 6.5 K/km, 60 to 20 %, westerly and stronger aloft."""
    pressure = np.geomspace(1003.2, top, count)
    height = -7300.0 * np.log(pressure / pressure[0])
    columns = {
        "temperature": 15.0 - 0.0065 * height,
        "humidity": 60.0 - 0.002 * height,
        "direction": 270.0,
        "speed": 5.0 + 0.001 * height,
    }
    return ascent_from(pressure, **{**columns, **changes})


@both_methods
def test_a_table_has_every_kind_of_level(method):
    """Surface, standard levels, tropopause, significant levels, maximum wind, zero crossing."""
    levels = select_levels(flight_of(sounding(4, 3000)), method=method).value
    present = 0
    for kinds in levels.kinds:
        present |= int(kinds)
    for kind in ("SURFACE", "STANDARD", "TROPOPAUSE", "SIGNIFICANT_TEMPERATURE", "FREEZING"):
        assert present & LevelKind[kind]
    for kind in ("SIGNIFICANT_HUMIDITY", "SIGNIFICANT_WIND", "TOP_OF_WIND_SOUNDING"):
        assert present & LevelKind[kind]
    assert np.all(np.diff(levels["air_pressure"]) < 0.0)
    assert all(levels.reasons)


@both_methods
def test_the_same_flight_gives_the_same_levels(method):
    """Selection is a function of the flight alone."""
    first = select_levels(flight_of(sounding(5, 1500)), method=method)
    again = select_levels(flight_of(sounding(5, 1500)), method=method)
    assert first.value == again.value
    assert first.diagnostics == again.diagnostics


def test_attributes_tell_the_facts_about_the_table():
    """What a coder needs to know besides the levels."""
    ascent = smooth(speed=np.where(np.arange(400) < 300, 10.0, NAN))
    flight = flight_of(ascent, wind_unit="m s-1")
    facts = select_levels(flight, method="fewest-levels").value.attributes
    assert dict(facts) == {
        "method": "fewest-levels",
        "rules": "wmo",
        "wind_unit": "m s-1",
        "vapour_pressure_formula": "wmo-49",
        "ascent_rows": 400,
        "surface_pressure": 1003.2,
        "top_pressure": float(ascent["air_pressure"][-1]),
        "top_temperature_pressure": float(ascent["air_pressure"][-1]),
        "top_humidity_pressure": float(ascent["air_pressure"][-1]),
        "top_wind_pressure": float(ascent["air_pressure"][299]),
        "first_tropopause_pressure": None,
        "tropopause_searched": True,
        "wind_observed": True,
        "humidity_observed": True,
        "high_levels": False,
        "shear": True,
    }


@both_methods
def test_a_level_has_every_element_of_its_row(method):
    """A level chosen for one element gives all of them, and names its row (35.3.1.1)."""
    ascent = sounding(6, 1500)
    levels = select_levels(flight_of(ascent), method=method).value
    for level in levels.having(THERMODYNAMIC | WIND):
        if len(levels.rows[level]) == 1:
            row = levels.rows[level][0]
            for name in ("air_pressure", "air_temperature", "relative_humidity", "wind_speed"):
                assert levels[name][level] == ascent[name][row]
            depression = ascent["air_temperature"][row] - ascent["dew_point_temperature"][row]
            assert levels["dew_point_depression"][level] == pytest.approx(depression)


@both_methods
@pytest.mark.parametrize("unit", ["kt", "m s-1"])
def test_levels_of_a_section_have_different_coded_pressures(method, unit):
    """No pressure is reported twice in section 5 or in section 6."""
    levels = select_levels(flight_of(sounding(7, 5000), wind_unit=unit), method=method).value
    for kinds in (THERMODYNAMIC, WIND):
        coded = coded_pressure(np.array(pressures(levels, kinds)))
        assert np.all(np.diff(coded) < 0.0)


@both_methods
def test_a_kink_beside_a_standard_level_is_reported_at_the_standard_level(method):
    """The row at 500.3 hPa is coded 500: the standard level stands for it, with its values."""
    pressure = [1000.0, 800.0, 650.0, 520.0, 500.3, 480.0, 400.0, 300.5]
    temperature = np.interp(-np.array(pressure), [-1000.0, -500.3, -300.5], [10.0, -10.0, -11.0])
    levels = select_levels(flight_of(ascent_from(pressure, temperature)), method=method).value
    level = level_at(levels, 500.0)
    assert levels.kinds[level] & LevelKind.STANDARD
    assert levels.kinds[level] & LevelKind.SIGNIFICANT_TEMPERATURE
    assert 500.3 not in pressures(levels, THERMODYNAMIC)


def test_one_level_lies_between_110_and_100_hpa():
    """An ascent that passes 100 hPa has a significant level in that band, a shorter one not."""
    for method in METHODS:
        long = select_levels(flight_of(smooth(top=50.0)), method=method).value
        short = select_levels(flight_of(smooth(top=130.0)), method=method).value
        coded = coded_pressure(np.array(pressures(long, THERMODYNAMIC)))
        assert np.any((coded <= 110.0) & (coded >= 100.0))
        assert min(pressures(short, THERMODYNAMIC)) == pytest.approx(130.0)


def with_tropopause(pressure):
    """Return an ascent with a tropopause near a pressure."""
    rows = np.geomspace(1000.0, 60.0, 1200)
    height = -7300.0 * np.log(rows / 1000.0)
    top = -7300.0 * np.log(pressure / 1000.0)
    return ascent_from(rows, 15.0 - 0.0065 * np.minimum(height, top))


@pytest.mark.parametrize(("tropopause", "switch"), [(400.0, 400.0), (150.0, 300.0)])
def test_the_smaller_tolerance_ends_at_the_lower_of_300_hpa_and_the_tropopause(tropopause, switch):
    """Segments that start at or below the switch surface are held to 1 K, the others to 2 K."""
    ascent, rules = with_tropopause(tropopause), RULES["wmo"]
    standard = standard_levels(ascent, rules=rules).value
    found = tropopauses(ascent, rules=rules).value
    points = points_of(ascent, standard)
    missing = missing_layers(ascent, rules=rules).value
    section = thermal_plan(points, ascent, missing, found, rules=rules, formula="wmo-49").section
    lowest_above = section.coded_pressure[~section.lower_zone].max()
    coded = coded_pressure(found["air_pressure"][:1])[0]
    assert coded == pytest.approx(tropopause, abs=3.0)
    assert lowest_above < max(300.0, coded) <= section.coded_pressure[section.lower_zone].min()
    assert lowest_above == pytest.approx(switch, abs=4.0)
    temperature = section.curves[0]
    assert (temperature.limit[0], temperature.limit_above[0]) == (1.1, 2.1)


def test_the_other_rule_set_makes_tropopauses_significant():
    """The fmh-3 rules select the tropopause too, and a level within 20 hPa of the surface."""
    flight = flight_of(with_tropopause(200.0))
    plain = select_levels(flight, rules=RULES["wmo"]).value
    other = select_levels(flight.with_reporting(criteria="fmh-3")).value
    assert other.attributes["rules"] == "fmh-3"
    (place,) = other.having(LevelKind.TROPOPAUSE)
    coded = coded_pressure(other["air_pressure"][[place]])[0]
    assert coded in coded_pressure(np.array(pressures(other, THERMODYNAMIC)))
    assert min(1000.0 - p for p in pressures(other, THERMODYNAMIC)[1:]) <= 20.0
    assert min(1000.0 - p for p in pressures(plain, THERMODYNAMIC)[1:]) > 20.0


@both_methods
def test_a_humidity_gap_has_its_limits_and_a_level_inside(method):
    """A layer of 20 hPa or more: both limits, and a level with temperature alone in between."""
    ascent = smooth()
    inside = (ascent["air_pressure"] < 640.0) & (ascent["air_pressure"] > 600.0)
    flight = flight_of(
        ascent.with_columns(
            {
                name: np.where(inside, NAN, ascent[name])
                for name in ("relative_humidity", "dew_point_temperature")
            }
        )
    )
    levels = select_levels(flight, method=method).value
    (begin,) = levels.having(LevelKind.BEGIN_MISSING_HUMIDITY)
    (end,) = levels.having(LevelKind.END_MISSING_HUMIDITY)
    thermal = [i for i in levels.having(THERMODYNAMIC) if begin < i < end]
    assert levels["air_pressure"][begin] >= 640.0
    assert levels["air_pressure"][end] <= 600.0
    assert len(thermal) >= 1
    assert np.all(np.isnan(levels["dew_point_depression"][thermal]))
    assert np.all(np.isfinite(levels["air_temperature"][thermal]))


@both_methods
def test_the_limit_of_a_gap_has_the_value(method):
    """The row below the gap is coded 500 like the standard level in it: the next row serves."""
    pressure = np.concatenate((1000.4 - 10.0 * np.arange(51), [499.7, 480.0, 470.0, 400.0]))
    humidity = np.where((pressure < 500.0) & (pressure > 472.0), NAN, 50.0)
    ascent = ascent_from(pressure, np.linspace(10.0, -30.0, len(pressure)), humidity)
    levels = select_levels(flight_of(ascent), method=method).value
    (begin,) = levels.having(LevelKind.BEGIN_MISSING_HUMIDITY)
    (end,) = levels.having(LevelKind.END_MISSING_HUMIDITY)
    assert levels["air_pressure"][begin] == 510.4
    assert levels["air_pressure"][end] == 470.0
    assert np.isfinite(levels["dew_point_depression"][begin])


@both_methods
def test_a_thin_gap_is_crossed(method):
    """A gap below 20 hPa is neither marked nor are its rows chosen."""
    ascent = smooth()
    inside = (ascent["air_pressure"] < 640.0) & (ascent["air_pressure"] > 628.0)
    changes = {
        name: np.where(inside, NAN, ascent[name])
        for name in ("relative_humidity", "dew_point_temperature")
    }
    cold = 5.0 * np.clip(1.0 - np.abs(ascent["air_pressure"] - 634.0) / 30.0, 0.0, 1.0)
    changes["air_temperature"] = ascent["air_temperature"] - cold
    levels = select_levels(flight_of(ascent.with_columns(changes)), method=method).value
    near = [p for p in pressures(levels, THERMODYNAMIC) if 600.0 < p < 670.0]
    assert near
    marks = LevelKind.BEGIN_MISSING_TEMPERATURE | LevelKind.BEGIN_MISSING_HUMIDITY
    assert len(levels.having(marks)) == 0
    assert np.all(np.isfinite(levels["dew_point_depression"][levels.having(THERMODYNAMIC)]))


@both_methods
def test_a_temperature_gap_has_its_limits_and_nothing_inside(method):
    """No significant level of temperature lies inside a thick gap; rows inside are not judged."""
    ascent = sounding(8, 2000)
    inside = (ascent["air_pressure"] < 640.0) & (ascent["air_pressure"] > 560.0)
    changes = {
        name: np.where(inside, NAN, ascent[name])
        for name in ("air_temperature", "relative_humidity", "dew_point_temperature")
    }
    ascent = ascent.with_columns(changes)
    result = select_levels(flight_of(ascent), method=method)
    levels = result.value
    (begin,) = levels.having(LevelKind.BEGIN_MISSING_TEMPERATURE)
    (end,) = levels.having(LevelKind.END_MISSING_TEMPERATURE)
    assert levels["air_pressure"][begin] >= 640.0
    assert levels["air_pressure"][end] <= 560.0
    assert levels.kinds[begin] & LevelKind.BEGIN_MISSING_HUMIDITY
    assert not [i for i in levels.having(THERMODYNAMIC) if begin < i < end]
    assert "tolerance-not-met" not in codes(result)
    assert "pressure-ratio-not-met" not in codes(result)


@both_methods
def test_a_wind_gap_has_its_limits(method):
    """A layer without wind of 50 hPa or more has two limits and no wind level between."""
    ascent = sounding(9, 2000)
    inside = (ascent["air_pressure"] < 640.0) & (ascent["air_pressure"] > 560.0)
    ascent = ascent.with_columns({"wind_speed": np.where(inside, NAN, ascent["wind_speed"])})
    result = select_levels(flight_of(ascent), method=method)
    levels = result.value
    (begin,) = levels.having(LevelKind.BEGIN_MISSING_WIND)
    (end,) = levels.having(LevelKind.END_MISSING_WIND)
    assert levels["air_pressure"][begin] >= 640.0
    assert levels["air_pressure"][end] <= 560.0
    assert not [i for i in levels.having(WIND) if begin < i < end]
    assert "tolerance-not-met" not in codes(result)


@both_methods
def test_humidity_that_ends_below_the_top(method):
    """The last level with humidity is given, all above it carry temperature alone."""
    ascent = smooth()
    gone = ascent["air_pressure"] < 300.0
    changes = {
        name: np.where(gone, NAN, ascent[name])
        for name in ("relative_humidity", "dew_point_temperature")
    }
    levels = select_levels(flight_of(ascent.with_columns(changes)), method=method).value
    thermal = levels.having(THERMODYNAMIC)
    dry = np.isnan(levels["dew_point_depression"][thermal])
    (begin,) = levels.having(LevelKind.BEGIN_MISSING_HUMIDITY)
    last = thermal[~dry][-1]
    assert begin == last
    assert 300.0 <= levels["air_pressure"][last] < 304.0
    assert dry[-1]


@both_methods
def test_a_surface_without_humidity(method):
    """The lowest row with humidity then becomes a level."""
    humidity = np.full(400, 50.0)
    humidity[0] = NAN
    levels = select_levels(flight_of(smooth(humidity=humidity)), method=method).value
    thermal = levels.having(THERMODYNAMIC)
    assert np.isnan(levels["dew_point_depression"][thermal[0]])
    assert levels.rows[thermal[1]][0] <= 3
    assert "lowest-humidity" in [item.rule for item in levels.reasons[thermal[1]]]


def test_wind_ends_below_the_temperature():
    """The highest level with wind is marked as the top of the wind sounding."""
    ascent = smooth(speed=np.where(np.arange(400) < 300, 10.0, NAN))
    levels = select_levels(flight_of(ascent)).value
    (top,) = levels.having(LevelKind.TOP_OF_WIND_SOUNDING)
    assert levels["air_pressure"][top] == ascent["air_pressure"][299]
    assert "highest-wind" in rules_at(levels, ascent["air_pressure"][299])


@both_methods
def test_no_wind_at_all(method):
    """Without wind there are no wind levels, and a note says so."""
    result = select_levels(flight_of(smooth(direction=NAN, speed=NAN)), method=method)
    assert codes(result) == ["no-wind"]
    kinds = LevelKind.MAXIMUM_WIND | LevelKind.TOP_OF_WIND_SOUNDING
    assert len(result.value.having(kinds)) == 0


@both_methods
def test_no_humidity_at_all(method):
    """Without humidity all levels carry temperature alone, and a note says so."""
    result = select_levels(flight_of(smooth(humidity=NAN)), method=method)
    assert codes(result) == ["no-humidity"]
    assert np.all(np.isnan(result.value["dew_point_depression"]))


def test_humidity_without_a_dew_point_counts_as_missing():
    """A humidity of 0 % has no dew point and cannot be reported."""
    result = select_levels(flight_of(smooth(humidity=0.0)))
    assert codes(result) == ["no-humidity"]
    assert np.all(np.isnan(result.value["relative_humidity"]))


@both_methods
def test_no_temperature_at_all(method):
    """Without temperature only winds and pressures are left."""
    result = select_levels(flight_of(smooth(temperature=NAN, humidity=NAN)), method=method)
    assert codes(result) == ["no-temperature", "no-humidity", "tropopause-not-searched"]
    assert len(result.value.having(WIND)) >= 2
    assert not result.value.attributes["tropopause_searched"]


@both_methods
def test_the_surface_alone(method):
    """One row gives the surface level and a warning."""
    result = select_levels(
        flight_of(ascent_from([1000.5], [10.0], [50.0], [270.0], [5.0])), method=method
    )
    assert "surface-only" in codes(result)
    assert pressures(result.value, LevelKind.SURFACE) == [1000.5]


def test_no_rows_at_all():
    """An empty ascent gives an empty table and an error."""
    result = select_levels(flight_of(ascent_from([])))
    assert codes(result)[0] == "no-ascent"
    assert len(result.value) == 0
    with pytest.raises(InputError, match="no-ascent"):
        result.raise_for_errors()


def test_unknown_methods_and_rules_are_refused():
    """The message says what there is."""
    with pytest.raises(InputError, match="largest-deviation or fewest-levels, got 'best'"):
        select_levels(flight_of(smooth()), method="best")
    with pytest.raises(InputError, match="wmo or fmh-3, got 'none'"):
        select_levels(flight_of(smooth(), criteria="none"))


@both_methods
def test_a_step_that_shares_a_coded_pressure_is_said(method):
    """A jump of humidity between two rows coded alike cannot be kept and is named by its row."""
    pressure = np.concatenate(([1000.0], 998.6 - 0.3 * np.arange(40)))
    humidity = np.where(pressure > 990.9, 80.0, 30.0)
    temperature = 10.0 - 0.05 * np.arange(41)
    result = select_levels(flight_of(ascent_from(pressure, temperature, humidity)), method=method)
    (found,) = [item for item in result.diagnostics if item.code == "tolerance-not-met"]
    assert "Relative humidity" in found.message
    assert float(found.value.split()[0]) > float(found.expected.split()[2]) > 15.0
    row = found.rows[0]
    assert abs(pressure[row] - 990.9) < 1.0


def test_two_mandatory_levels_that_share_a_coded_pressure_are_said():
    """Base and top of an inversion within one hectopascal: one level stands for both."""
    pressure = np.concatenate(([1000.0, 950.0, 843.4, 842.6], np.linspace(800.0, 400.0, 9)))
    temperature = np.concatenate(([10.0, 7.0, 0.0, 3.0], np.linspace(0.0, -30.0, 9)))
    result = select_levels(flight_of(ascent_from(pressure, temperature)))
    (found,) = [item for item in result.diagnostics if item.code == "level-thinned"]
    assert "842.60" in found.message
    assert "843.40" in found.message
    assert found.rows == (3, 2)
    assert 843.4 in pressures(result.value, THERMODYNAMIC)
    assert 842.6 not in pressures(result.value, THERMODYNAMIC)


def test_a_ratio_that_cannot_be_kept_is_said():
    """Rows at 19.8 and 11.4 hPa without a row or standard level between: the ratio is 0.58."""
    ascent = ascent_from([60.0, 31.0, 19.8, 11.4], [-40.0, -60.0, -75.0, -90.0])
    result = select_levels(flight_of(ascent))
    (found,) = [item for item in result.diagnostics if item.code == "pressure-ratio-not-met"]
    assert "19.8 and 11.4 hPa have the ratio 0.58" in found.message


def test_a_ratio_of_exactly_0_6_is_too_small():
    """The ratio has to be more than 0.6: from 20 to 12 hPa it is not."""
    ascent = ascent_from([60.0, 31.0, 20.0, 12.0], [-40.0, -60.0, -75.0, -90.0])
    assert "pressure-ratio-not-met" in codes(select_levels(flight_of(ascent)))


def test_successive_levels_keep_the_ratio_up_to_the_tropopause():
    """Straight curves get levels in between, below the first tropopause only."""
    for method in METHODS:
        levels = select_levels(flight_of(with_tropopause(250.0)), method=method).value
        coded = coded_pressure(np.array(pressures(levels, THERMODYNAMIC)))
        ratios = coded[1:] / coded[:-1]
        assert np.all(ratios[coded[:-1] > 255.0] > 0.6)


def flapping(count=1500):
    """Return an ascent whose humidity jumps between 20 and 80 % from row to row."""
    pressure = 1000.0 - 0.2 * np.arange(count)
    humidity = np.where(np.arange(count) % 2 == 0, 20.0, 80.0)
    return ascent_from(pressure, 10.0 - 0.002 * np.arange(count), humidity)


def test_fewest_levels_gives_way_where_almost_nothing_can_be_kept():
    """A hopeless humidity is left to the other method, in bounded time, and said."""
    result = select_levels(flight_of(flapping()), method="fewest-levels")
    found = codes(result)
    assert "fewest-levels-unproved" in found
    assert found.count("tolerance-not-met") == 11
    summary = result.diagnostics[len(found) - 1 - found[::-1].index("tolerance-not-met")]
    assert "more stretches" in summary.message


def test_a_maximum_wind_at_a_standard_level_is_one_level():
    """A maximum coded at the pressure of a standard level is that standard level."""
    pressure = np.geomspace(1000.0, 100.0, 800)
    speed = 10.0 + 45.0 * np.exp(-(((pressure - 250.2) / 60.0) ** 2))
    levels = select_levels(
        flight_of(
            ascent_from(
                pressure, 15.0 - 0.0065 * -7300.0 * np.log(pressure / 1000.0), 50.0, 270.0, speed
            )
        )
    ).value
    (place,) = levels.having(LevelKind.MAXIMUM_WIND)
    coded = coded_levels(levels, Coding(), "wmo-49")
    alike = np.flatnonzero(coded["air_pressure"] == coded["air_pressure"][place])
    assert levels.kinds[place] & WIND
    assert np.isfinite(levels["wind_shear_below"][place])
    assert len(set(coded["wind_speed"][alike].tolist())) == 1


def test_zero_crossings_are_not_significant():
    """The crossing of 0 degC is in the table but in no section."""
    levels = select_levels(flight_of(smooth())).value
    (place,) = levels.having(LevelKind.FREEZING)
    assert levels.kinds[place] == LevelKind.FREEZING
    assert levels["air_temperature"][place] == 0.0
    assert len(levels.rows[place]) == 2


def test_the_top_row_beside_a_standard_level():
    """A top at 9.98 hPa is coded 10.0: the standard level stands for it."""
    levels = select_levels(flight_of(smooth(top=9.98))).value
    thermal = pressures(levels, THERMODYNAMIC)
    assert thermal[-1] == 10.0
    assert "highest-level" in rules_at(levels, 10.0)


def test_a_standard_level_at_the_coded_pressure_of_the_surface():
    """Surface 1000.3 hPa: the surface keeps section 5, the standard level its own."""
    ascent = ascent_from([1000.3, 999.0, 950.0, 900.0], [10.0, 9.9, 7.0, 4.0])
    levels = select_levels(flight_of(ascent)).value
    assert levels.kinds[level_at(levels, 1000.0)] == LevelKind.STANDARD
    assert levels.kinds[level_at(levels, 1000.3)] & LevelKind.SIGNIFICANT_TEMPERATURE


def test_levels_below_the_ground_are_not_significant():
    """A plateau station: standard levels below it carry a height and nothing else."""
    ascent = ascent_from(np.linspace(720.0, 300.0, 60), np.linspace(5.0, -40.0, 60))
    levels = select_levels(flight_of(ascent)).value
    for pressure in (1000.0, 925.0, 850.0):
        level = level_at(levels, pressure)
        assert levels.kinds[level] == LevelKind.STANDARD
        assert np.isnan(levels["air_temperature"][level])
    assert pressures(levels, THERMODYNAMIC)[0] == 720.0


def test_the_unit_of_wind_decides_what_is_within_limits():
    """In m/s the code is coarser, so the limit is wider: both keep their own promise."""
    ascent = sounding(10, 3000)
    for unit in ("kt", "m s-1"):
        levels = select_levels(flight_of(ascent, wind_unit=unit)).value
        found = misfit_of_levels(
            ascent, levels, rules=RULES["wmo"], coding=Coding(unit), formula="wmo-49"
        )
        assert found.within_limits
        assert levels.attributes["wind_unit"] == unit


def test_levels_are_chosen_again_where_inserting_gets_stuck():
    """Crowded rows of a rough wind: some levels are chosen anew, and every row is kept."""
    ascent = sounding(14, 6000, top=120.0, noise=2.0)
    result = select_levels(flight_of(ascent, wind_unit="kt"))
    rules = {item.rule for reasons in result.value.reasons for item in reasons}
    assert "chosen-again" in rules
    assert "tolerance-not-met" not in codes(result)


@both_methods
def test_a_wind_that_turns_right_round_keeps_its_way(method):
    """A turn of 180 degrees has a level between, so that the way is plain."""
    pressure = np.geomspace(1000.0, 500.0, 300)
    direction = np.linspace(90.0, 270.0, 300)
    ascent = ascent_from(pressure, np.linspace(10.0, -20.0, 300), 50.0, direction, 20.0)
    levels = select_levels(flight_of(ascent), method=method).value
    coded = coded_levels(levels, Coding(), "wmo-49")
    winds = coded["wind_from_direction"][levels.having(WIND)]
    assert len(winds) >= 3
    assert np.all(np.abs(np.diff(winds)) <= 165.0)
