"""Monthly means, and the monthly forms that carry them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from encoder.climat import MonthlySounding, climat_temp, monthly_means
from encoder.codes import FORMS
from encoder.codes.declare import Context
from encoder.codes.groups_month import MONTH, SURFACE
from encoder.codes.groups_monthly import HEIGHT, LEVELS, STEADINESS, TEMPERATURE, WIND
from encoder.codes.tables import code_table
from encoder.levels.table import LevelKind, Levels
from encoder.report import decode_reports, encode_content
from encoder.resolution import KNOT

FIRST = {"air_pressure": 850.0}
PRESSURES = (964.8, 850.0, 700.0)
KINDS = (LevelKind.SURFACE, LevelKind.STANDARD, LevelKind.STANDARD)


def table(direction: float, speed: float, **columns: Any) -> Levels:
    """Return a level table with the same wind at each of three levels."""
    values = {
        "air_pressure": np.array(PRESSURES),
        "geopotential_height": np.array([411.0, 1500.0, 3000.0]),
        "air_temperature": np.array([12.0, 5.0, -4.0]),
        "dew_point_depression": np.array([2.0, 4.0, 10.0]),
        "wind_from_direction": np.full(3, direction),
        "wind_speed": np.full(3, speed),
    }
    values.update({name: np.array(column) for name, column in columns.items()})
    return Levels(values, np.array([int(kind) for kind in KINDS]))


def test_means_of_two_soundings() -> None:
    """Arithmetic means of pressure, height, temperature and depression."""
    colder = {"air_temperature": [10.0, 3.0, -6.0], "dew_point_depression": [4.0, 6.0, 12.0]}
    means = monthly_means(
        [
            MonthlySounding(1, 0, table(270.0, 10.0)),
            MonthlySounding(1, 12, table(270.0, 10.0, **colder)),
        ],
        year=2031,
        month=7,
    )
    assert means.air_temperature[:3].tolist() == [11.0, 4.0, -5.0]
    assert means.dew_point_depression[:3].tolist() == [3.0, 5.0, 11.0]
    assert means.air_pressure[:3].tolist() == [964.8, 850.0, 700.0]
    assert means.days_without_temperature[1:3].tolist() == [30, 30]
    assert means.days_without_wind[3:5].tolist() == [31, 31]
    assert (means.times, means.soundings) == ("3", 2)
    assert np.all(np.isnan(means.air_temperature[3:]))


@pytest.mark.parametrize(
    ("winds", "direction", "speed", "steadiness"),
    [
        ([(270.0, 10.0), (270.0, 10.0)], 270.0, 10.0, 100.0),
        # a right angle: the mean vector is 10 sin 45 degrees long
        ([(270.0, 10.0), (180.0, 10.0)], 225.0, 10.0 * np.sqrt(0.5), 100.0 * np.sqrt(0.5)),
        # opposite winds of 10 and 5: 2.5 out of 7.5
        ([(270.0, 10.0), (90.0, 5.0)], 270.0, 2.5, 100.0 / 3.0),
    ],
)
def test_vector_mean_and_steadiness(
    winds: list[tuple[float, float]], direction: float, speed: float, steadiness: float
) -> None:
    """The wind is averaged as a vector; steadiness is its speed over the mean speed."""
    soundings = [MonthlySounding(day, 0, table(*wind)) for day, wind in enumerate(winds, 1)]
    means = monthly_means(soundings, year=2031, month=2)
    np.testing.assert_allclose(
        [direction, speed, steadiness],
        [means.wind_from_direction[1], means.wind_speed[1], means.wind_steadiness[1]],
        rtol=1e-12,
    )
    assert 28 - len(winds) == means.days_without_wind[1]


def test_month_without_soundings() -> None:
    """A month without soundings has no means, and every day is missing."""
    means = monthly_means([], year=2032, month=2)
    assert means.days_without_temperature.tolist() == [29] * 12
    assert (means.times, bool(np.all(np.isnan(means.wind_speed)))) == (None, True)


def test_calm_month_has_no_steadiness() -> None:
    """Where every wind was calm the steadiness is not defined."""
    means = monthly_means([MonthlySounding(3, 0, table(0.0, 0.0))], year=2031, month=7)
    assert (float(means.wind_speed[1]), bool(np.isnan(means.wind_steadiness[1]))) == (0.0, True)


def test_day_that_the_month_does_not_have() -> None:
    """A sounding of 30 February is refused."""
    with pytest.raises(ValueError, match="Expected a day from 1 to 28"):
        monthly_means([MonthlySounding(30, 0, table(0.0, 0.0))], year=2031, month=2)


@pytest.mark.parametrize("position", [None, (-53.42, 18.36)])
def test_report_of_a_month(position: tuple[float, float] | None) -> None:
    """The means go into FM 75 (FM 76 with a position) and come back within the steps."""
    soundings = [
        MonthlySounding(day, hour, table(250.0 + day, 12.0))
        for day in range(1, 21)
        for hour in (0, 12)
    ]
    means = monthly_means(soundings, year=2031, month=7)
    content = climat_temp(means, station="90417", position=position)
    text, told = encode_content([content])
    (report,), found = decode_reports(text)
    assert ([one.code for one in told], [one.code for one in found]) == ([], [])
    assert ("FM 75" if position is None else "FM 76") == report.form
    level = report.parts[0].content.records("2")[1]
    assert tuple(
        level.get(name)
        for name in (
            "air_pressure",
            "geopotential_height",
            "days_without_temperature",
            "days_without_wind",
        )
    ) == (850.0, 1500.0, 11, 9)
    assert abs(float(level.get("wind_speed") or 0) - float(means.wind_speed[1])) <= 0.5
    assert text.split() == encode_content([report.parts[0].content]).value.split()


def test_text_of_a_month() -> None:
    """Figures of one level by hand: HHHH nTnT TTTa DD nv rfrf dvdvdv fvfvfv."""
    text = "CLIMAT TEMP 57131 90417 39648 12036 14520 20523 60852 70012="
    (report,), found = decode_reports(text)
    assert found == ()
    surface, level = report.parts[0].content.records("2")
    assert tuple(surface.values.values()) == ("3", 964.8, 12.0, 3.6)
    assert dict(level.values) == {
        "air_pressure": 850.0,
        "geopotential_height": 1452.0,
        "days_without_temperature": 2,
        "air_temperature": 5.2,
        "dew_point_depression": 3.6,
        "days_without_wind": 0,
        "wind_steadiness": 85.0,
        "wind_from_direction": 270.0,
        "wind_speed": 12 * KNOT,
    }
    assert text.split() == encode_content([report.parts[0].content]).value.split()


def test_months_under_shared_words() -> None:
    """Several reports may share their letters and month; each says both."""
    text = "CLIMAT TEMP\n07131 90417 39648 12036 14520 01523 60852 70012=\n90731 37000 12036="
    reports, _found = decode_reports(text)
    assert [
        tuple(
            report.parts[0].content.identification[name]
            for name in ("station", "month", "year_figures")
        )
        for report in reports
    ] == [("90417", 7, 131), ("90731", 7, 131)]
    for report in reports:
        assert all(text[slice(*entry.span)].split() == entry.text.split() for entry in report.trace)


@pytest.mark.parametrize(
    ("group", "text", "code"),
    [
        (MONTH, "13131", "time-impossible"),
        (MONTH, "07//1", "time-impossible"),
        (SURFACE, "79648", "figures-impossible"),
        (SURFACE, "396/8", "figures-partly-missing"),
        (HEIGHT, "14/20", "figures-partly-missing"),
        (TEMPERATURE, "/0523", "figures-partly-missing"),
        (TEMPERATURE, "20523", "figures-impossible"),
        (STEADINESS, "60/52", "figures-partly-missing"),
        (WIND, "7/012", "figures-partly-missing"),
        (WIND, "70012", "wind-direction-impossible"),
    ],
)
def test_damaged_groups(group: Any, text: str, code: str) -> None:
    """Impossible figures are told, and the value is missing."""
    carried = {TEMPERATURE.symbol: "4", WIND.symbol: "4"}.get(group.symbol, "0")
    read = group.decode(text, Context(carried=carried))
    assert code in [fault.code for fault in read.faults]


@pytest.mark.parametrize(
    ("group", "values", "text", "code"),
    [
        (MONTH, {"month": 13, "year_figures": 31}, "/////", "time-not-codable"),
        (SURFACE, {"times": "8", "air_pressure": 1013.25}, "/0133", "value-not-codable"),
        (SURFACE, {"times": "3", "air_pressure": 1200.0}, "3////", "value-not-codable"),
        (HEIGHT, {"air_pressure": 700.0, "geopotential_height": 3000.0}, "3000/", "level-order"),
        (HEIGHT, {**FIRST, "geopotential_height": -5.0}, "/////", "value-not-codable"),
        (HEIGHT, {**FIRST, "days_without_temperature": 40}, "/////", "value-not-codable"),
        (STEADINESS, {"wind_steadiness": 120.0}, "/////", "value-not-codable"),
        (WIND, {"wind_speed": 5000.0}, "/////", "value-not-codable"),
    ],
)  # fmt: skip
def test_means_that_cannot_be_coded(
    group: Any, values: dict[str, Any], text: str, code: str
) -> None:
    """What the figures cannot hold is missing, with a diagnostic."""
    coded = group.encode(values, Context(wind_unit="m s-1"))
    assert (text, [code]) == (coded.text, [fault.code for fault in coded.faults])


def test_declared_levels() -> None:
    """The levels of the monthly forms come downward in pressure; table 1400 has seven figures."""
    assert sorted(LEVELS, reverse=True) == list(LEVELS)
    assert len(code_table("1400")) == 7
    assert [FORMS[number].parts[0].letters for number in ("FM 75", "FM 76")] == [
        "CLIMAT TEMP",
        "CLIMAT TEMP SHIP",
    ]
