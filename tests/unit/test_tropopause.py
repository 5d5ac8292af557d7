"""Tropopauses by the definition of WMO-No. 182."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.levels.lapse import lapse_curve
from encoder.levels.rules import WMO
from encoder.levels.table import LevelKind
from encoder.levels.tropopause import first_tropopause_pressure, tropopauses
from encoder.physics import standard_atmosphere_temperature
from tests.ascents import ascent_of, curve_at

KM = 1000.0
FINE = np.arange(100.0, 31001.0, 5.0)
WORKED_HEIGHT = (0, 8, 9, 10, 10.5, 11, 11.5, 12, 12.5, 13, 14, 15, 16, 17, 18, 19, 20)
WORKED_TEMPERATURE = (
    22, -30, -37, -44, -47.5, -48.3, -49.2, -50, -50.7, -51.5, -53, -57, -61, -63.5, -64, -63, -62
)  # fmt: skip


def heights(ascent):
    """Return the heights of the tropopauses in km."""
    levels = tropopauses(ascent, rules=WMO).value
    assert set(levels.kinds) <= {int(LevelKind.TROPOPAUSE)}
    return [float(value) for value in levels["geopotential_height"] / KM]


def sparse(*points):
    """Return an ascent whose rows are the (km, degC) points."""
    km, temperature = zip(*points, strict=True)
    return ascent_of(np.array(km) * KM, temperature)


def fine(*points, noise=0.0, seed=0):
    """Return rows each 5 m on straight lines between (km, degC) points."""
    curve = curve_at(FINE / KM, points)
    return ascent_of(FINE, curve + noise * np.random.default_rng(seed).standard_normal(len(FINE)))


def test_worked_example():
    """Lapse 1.6 K/km at 10.5 km; 4 K/km from 14 km on; 0.5 K/km at 17 km: two tropopauses."""
    ascent = sparse(*zip(WORKED_HEIGHT, WORKED_TEMPERATURE, strict=True))
    levels = tropopauses(ascent, rules=WMO).value
    assert list(levels["geopotential_height"]) == [10500.0, 17000.0]
    assert levels.rows == ((4,), (13,))
    assert [reason[0].rule for reason in levels.reasons] == [
        "tropopause-first",
        "tropopause-further",
    ]
    assert "1.6 K/km" in levels.reasons[0][0].text


def test_worked_example_with_a_cold_level_within_2_km():
    """-54.6 degC at 12.5 km makes 3.55 K/km from 10.5 km: that level fails."""
    temperature = list(WORKED_TEMPERATURE)
    temperature[8] = -54.6
    assert heights(sparse(*zip(WORKED_HEIGHT, temperature, strict=True)))[0] == 12.5


@pytest.mark.parametrize(("twelve", "expected"), [(-64.0, [10.0]), (-64.1, [12.0])])
def test_lapse_of_exactly_two(twelve, expected):
    """2 K/km or less: exactly 2 counts, in the lapse rate and in the average."""
    points = [(0, 20), (10, -60), (11, -62), (12, twelve), (13, -65), (20, -70)]
    assert heights(sparse(*points)) == expected


def test_average_to_the_level_exactly_2_km_above():
    """The average counts to 2 km above even when no row lies there."""
    base = [(0, 15), (10, -50), (11, -50)]
    cooling = [*base, (13, -58.0), (15, -66.0), (16, -66.0), (20, -66.0)]
    assert heights(sparse(*cooling)) == [10.0, 15.0]
    faster = [*base, (13, -59.0), (15, -68.0), (16, -68.0), (20, -68.0)]
    assert heights(sparse(*faster)) == [15.0]


def test_standard_atmosphere_at_full_resolution():
    """Rows each 5 m: exactly the row at 11 km."""
    assert heights(ascent_of(FINE, standard_atmosphere_temperature(FINE))) == [11.0]


@pytest.mark.parametrize("seed", range(5))
def test_noise_makes_no_tropopauses_and_moves_none(seed):
    """0.1 K of noise at rows each 5 m: the same one tropopause within 30 m."""
    found = heights(fine((0, 15), (11, -56.5), (20, -56.5), (32, -44.5), noise=0.1, seed=seed))
    assert len(found) == 1
    assert found[0] == pytest.approx(11.0, abs=0.03)


@pytest.mark.parametrize("seed", range(3))
def test_noise_with_two_tropopauses(seed):
    """A first at 10 km, 5 K/km between 13 and 15 km, a second at 15 km, noise of 0.1 K."""
    found = heights(fine((0, 12), (10, -53), (13, -53), (15, -63), (31, -58), noise=0.1, seed=seed))
    assert np.allclose(found, [10.0, 15.0], atol=0.04)
    assert len(found) == 2


@pytest.mark.parametrize("seed", range(3))
def test_sharp_inversion_is_found_at_its_base(seed):
    """An inversion of 20 K/km right above: the tropopause is its base within 20 m."""
    found = heights(fine((0, 15), (9, -52.5), (9.3, -46.5), (31, -50), noise=0.1, seed=seed))
    assert len(found) == 1
    assert found[0] == pytest.approx(9.0, abs=0.02)


def test_waves_in_the_stratosphere_make_no_tropopause():
    """A wave of 0.5 K and 1 km length stays below 3 K/km over 1 km: one tropopause."""
    curve = curve_at(FINE / KM, [(0, 15), (11, -56.5), (31, -50)])
    wave = np.where(FINE > 12000.0, 0.5 * np.sin(2.0 * np.pi * FINE / 1000.0), 0.0)
    assert len(heights(ascent_of(FINE, curve + wave))) == 1


@pytest.mark.parametrize(("kilometres", "pressure"), [(7.2, 400.0), (13.6, 150.0)])
def test_low_and_high_tropopause(kilometres, pressure):
    """A polar tropopause near 400 hPa and a subtropical one near 150 hPa."""
    ascent = fine((0, 15), (kilometres, 15 - 6.5 * kilometres), (31, 15 - 6.5 * kilometres))
    levels = tropopauses(ascent, rules=WMO).value
    assert levels["air_pressure"][0] == pytest.approx(pressure, rel=0.04)
    assert first_tropopause_pressure(levels) == levels["air_pressure"][0]


def test_low_inversion_below_a_tropopause_is_none():
    """Below 500 hPa a level counts only if it is the only one (remark to the definition)."""
    points = [(0, 10), (1, 3), (1.5, 9), (3.5, 5), (11, -50), (20, -50)]
    assert heights(sparse(*points)) == [11.0]


def test_only_level_below_500_hectopascals():
    """Nothing above is steeper than 3 K/km over 1 km: the low level is the tropopause."""
    points = [(0, -20), (3, -38), (4, -38), (8, -42), (20, -45)]
    levels = tropopauses(sparse(*points), rules=WMO).value
    assert list(levels["geopotential_height"]) == [3000.0]
    assert levels["air_pressure"][0] > 500.0


def test_low_level_with_a_steep_layer_above_is_none():
    """A layer steeper than 3 K/km above and no tropopause there: none at all."""
    points = [(0, 10), (2, -3), (4.5, -6), (10, -42), (11, -47)]
    result = tropopauses(sparse(*points), rules=WMO)
    assert len(result.value) == 0
    assert np.isnan(first_tropopause_pressure(result.value))


def test_stable_from_the_surface_has_no_tropopause():
    """The lapse rate has to fall: air that is isothermal from the ground up has none."""
    assert heights(sparse((0, -30), (2, -30), (5, -30), (20, -30))) == []


def test_second_within_a_kilometre_of_the_steep_level():
    """The second may lie inside the 1 km layer of the 3 K/km test."""
    points = [(0, 10), (9, -50), (11, -50), (11.8, -56), (12, -56), (14, -58), (20, -58)]
    assert heights(sparse(*points)) == [9.0, 11.8]


def test_two_kelvin_between_the_tropopauses_is_not_enough():
    """Without more than 3 K/km over 1 km there is no further one."""
    points = [(0, 10), (9, -50), (12, -50), (16, -61), (17, -61), (22, -61)]
    assert heights(sparse(*points)) == [9.0]


def test_three_tropopauses():
    """As many as observed (35.2.3)."""
    points = [(0, 10), (8, -45), (11, -45), (13, -53), (16, -53), (18, -62), (21, -62), (25, -60)]
    assert heights(sparse(*points)) == [8.0, 13.0, 18.0]


def test_no_claim_without_2_km_of_data():
    """A balloon that bursts 1.5 km above: none is reported, and that is said with the row."""
    result = tropopauses(sparse((0, 15), (5, -17.5), (11, -56.5), (12.5, -56.5)), rules=WMO)
    assert len(result.value) == 0
    (finding,) = result.diagnostics
    assert finding.code == "tropopause-unproven"
    assert finding.rows == (2,)
    complete = tropopauses(sparse((0, 15), (5, -17.5), (11, -56.5), (13, -56.5)), rules=WMO)
    assert len(complete.value) == 1
    assert complete.diagnostics == ()


def test_missing_layer_within_2_km():
    """20 hPa or more without temperature within the 2 km: unproven; a thin gap: no matter."""
    ascent = fine((0, 15), (11, -56.5), (31, -56.5))
    for depth, proven in ((800.0, False), (300.0, True)):
        inside = np.abs(FINE - 12000.0) < depth / 2.0
        broken = ascent.with_columns(
            {"air_temperature": np.where(inside, np.nan, ascent["air_temperature"])}
        )
        result = tropopauses(broken, rules=WMO)
        codes = [finding.code for finding in result.diagnostics]
        assert (len(result.value) == 1) == proven
        assert ("tropopause-unproven" in codes) != proven


def test_tropopause_inside_a_missing_layer():
    """When the bend lies in a layer without data its upper limit is not called a tropopause."""
    ascent = fine((0, 15), (11, -56.5), (31, -56.5))
    inside = (FINE > 8000.0) & (FINE < 12000.0)
    broken = ascent.with_columns(
        {"air_temperature": np.where(inside, np.nan, ascent["air_temperature"])}
    )
    result = tropopauses(broken, rules=WMO)
    assert len(result.value) == 0
    assert {finding.code for finding in result.diagnostics} == {"tropopause-unproven"}


@pytest.mark.parametrize("count", [0, 1])
def test_too_few_rows(count):
    """No rows, one row: said so."""
    result = tropopauses(ascent_of(FINE[:count], 10.0), rules=WMO)
    assert len(result.value) == 0
    assert [finding.code for finding in result.diagnostics] == ["tropopause-not-searched"]


def test_no_temperature_and_no_height():
    """Without temperature, or without height, nothing can be searched."""
    ascent = fine((0, 15), (31, -50))
    for name in ("air_temperature", "geopotential_height"):
        nothing = ascent.with_columns({name: np.full(len(FINE), np.nan)})
        result = tropopauses(nothing, rules=WMO)
        assert [finding.code for finding in result.diagnostics] == ["tropopause-not-searched"]


def test_two_rows():
    """Two rows have no tropopause."""
    assert heights(sparse((0, 15), (5, -17))) == []


def test_ascent_that_ends_in_the_troposphere():
    """No tropopause and nothing to say about one."""
    result = tropopauses(fine((0, 15), (31, 15 - 31 * 3.5), noise=0.1), rules=WMO)
    assert len(result.value) == 0
    assert result.diagnostics == ()


def test_row_taken_is_a_row_of_the_ascent():
    """Every value of the level is that of its row, at full resolution too."""
    ascent = fine((0, 15), (11, -56.5), (31, -50), noise=0.1)
    levels = tropopauses(ascent, rules=WMO).value
    ((row,),) = levels.rows
    names = ("air_pressure", "air_temperature", "geopotential_height", "wind_speed")
    assert [levels[name][0] for name in names] == [ascent[name][row] for name in names]


def test_heights_that_do_not_rise_are_passed_over():
    """A height that falls back is left out of the curve, the rest is used."""
    ascent = fine((0, 15), (11, -56.5), (31, -50))
    height = ascent["geopotential_height"].copy()
    height[3000] -= 50.0
    curve = lapse_curve(ascent.with_columns({"geopotential_height": height}), gap=20.0)
    assert 3000 not in curve.rows
    assert np.all(np.diff(curve.height) > 0.0)


def test_local_lapse_of_straight_lines_is_exact():
    """On a straight line the fitted lapse rate and its foot are those of the line."""
    curve = lapse_curve(fine((0, 15), (31, 15 - 31 * 6.5)), gap=20.0)
    assert np.allclose(curve.lapse[:-1], 6.5, atol=1e-6)
    assert np.allclose(curve.foot, curve.temperature, atol=1e-9)
    assert np.isnan(curve.lapse[-1])
