"""Every figure of every group: decoding and encoding it is a fixed point, or a fault is told."""

from __future__ import annotations

from itertools import product

import pytest

from encoder.codes import elements as el
from encoder.codes import groups, groups_facts
from encoder.codes.declare import Context, Group
from encoder.codes.fm35 import LOWER_STANDARD, UPPER_STANDARD

LOWER = {"tenths": False, "standard": LOWER_STANDARD}
UPPER = {"tenths": True, "standard": UPPER_STANDARD}

LEVEL_GROUPS = [
    (groups.SURFACE_PRESSURE, LOWER),
    (groups.TROPOPAUSE_PRESSURE, LOWER),
    (groups.TROPOPAUSE_PRESSURE, UPPER),
    (groups.MAXIMUM_WIND_PRESSURE, LOWER),
    (groups.MAXIMUM_WIND_PRESSURE, UPPER),
    (groups.STANDARD_LEVEL, LOWER),
    (groups.STANDARD_LEVEL, UPPER),
    (groups.WIND, LOWER),
    (groups.SHEAR, LOWER),
    (groups.TEMPERATURE, LOWER),
    (groups_facts.SYSTEM, LOWER),
    (groups_facts.RELEASE, LOWER),
    (groups_facts.SEA_TEMPERATURE, LOWER),
    (groups_facts.CLOUD, LOWER),
    (groups_facts.STATION, LOWER),
    (groups_facts.TIME_LAST_WIND, LOWER),
    (groups_facts.TIME_EQUIPMENT, LOWER),
]


def beginnings(group: Group, settings: dict[str, object]) -> list[str]:
    """Return the figures before the last three that can open the group without a fault."""
    context = Context(**settings)  # type: ignore[arg-type]
    return [
        f"{pair:02d}"
        for pair in range(100)
        if not any(
            fault.code in ("indicator-wrong", "not-a-standard-level")
            for fault in group.decode(f"{pair:02d}///", context).faults
        )
    ]


@pytest.mark.parametrize(
    ("group", "settings"),
    LEVEL_GROUPS,
    ids=[
        f"{group.symbol}-{'CD' if settings['tenths'] else 'AB'}" for group, settings in LEVEL_GROUPS
    ],
)
def test_every_figure_is_a_fixed_point_or_a_fault(
    group: Group, settings: dict[str, object]
) -> None:
    """Of all 100,000 figures of a group each comes back as it was, or decoding tells a fault."""
    context = Context(**settings)  # type: ignore[arg-type]
    changed = []
    quiet = 0
    for figures in range(100_000):
        text = f"{figures:05d}"
        read = group.decode(text, context)
        if read.faults:
            continue
        quiet += 1
        coded = group.encode(read.values, context)
        if coded.text != text or coded.faults:
            changed.append((text, coded))
    assert changed[:5] == []
    assert quiet > 0


@pytest.mark.parametrize("number", ["00", *groups.NUMBERS])
@pytest.mark.parametrize("tenths", [False, True])
def test_every_numbered_pressure_is_a_fixed_point(number: str, tenths: bool) -> None:
    """Every nnPPP comes back as it was; 000 is impossible where tenths are coded."""
    context = Context(tenths=tenths, number=number)
    for figures in range(1000):
        text = f"{number}{figures:03d}"
        read = groups.NUMBERED_PRESSURE.decode(text, context)
        if tenths and figures == 0:
            assert tuple(fault.code for fault in read.faults) == ("pressure-impossible",)
            continue
        assert read.faults == ()
        assert text == groups.NUMBERED_PRESSURE.encode(read.values, context).text


@pytest.mark.parametrize("unit", ["kt", "m s-1"])
def test_every_wind_speed_in_both_units(unit: str) -> None:
    """Speeds 0 to 499 come back in knots and in metres per second, with every direction."""
    context = Context(wind_unit=unit)  # type: ignore[arg-type]
    for tens, units in product((1, 18, 35, 36), range(1000)):
        if tens == 36 and units >= 500:
            continue  # 365 degrees does not exist
        if units % 500 == 0:
            continue  # a direction without a speed
        text = f"{tens:02d}{units:03d}"
        direction, speed, faults = el.figures_to_wind(text, context)
        assert faults == ()
        assert (text, ()) == el.wind_to_figures(direction, speed, context)


def test_solidi_are_missing_in_every_group() -> None:
    """A group of solidi says that its values are missing, and missing values give solidi."""
    context = Context(standard=LOWER_STANDARD)
    for group in (groups.TEMPERATURE, groups.WIND, groups_facts.SYSTEM, groups_facts.CLOUD):
        read = group.decode("/////", context)
        assert (dict.fromkeys(group.elements), ()) == (dict(read.values), read.faults)
        assert group.encode(read.values, context).text == "/////"


# --- ranges -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pressure", "tenths", "figures"),
    [
        (100.0, False, "100"),
        (999.4, False, "999"),
        (999.5, False, "000"),
        (1000.0, False, "000"),
        (1099.4, False, "099"),
        (99.99, True, "999"),
        (0.1, True, "001"),
        (9.96, True, "100"),
        (None, False, "///"),
        (float("nan"), True, "///"),
    ],
)
def test_pressure(pressure: float | None, tenths: bool, figures: str) -> None:
    """Whole hPa without the thousand to 100 hPa, tenths of hPa above; never 100.0 in part C."""
    assert (figures, ()) == el.pressure_to_figures(pressure, Context(tenths=tenths))


@pytest.mark.parametrize(
    ("pressure", "tenths"),
    [(99.4, False), (1100.0, False), (0.0, True), (100.0, True), (-5.0, True)],
)
def test_pressure_out_of_range(pressure: float, tenths: bool) -> None:
    """A pressure the figures cannot hold is reported missing, with a fault, never wrapped."""
    figures, faults = el.pressure_to_figures(pressure, Context(tenths=tenths))
    assert (figures, [fault.code for fault in faults]) == ("///", ["value-not-codable"])


@pytest.mark.parametrize(
    ("temperature", "figures"),
    [
        # code table 3931: even last figure for 0 and above, odd below
        (0.0, "000"),
        (-0.04, "000"),
        (0.1, "000"),
        (-0.1, "001"),
        (0.2, "002"),
        (-0.2, "003"),
        (-1.5, "015"),
        (-1.4, "015"),
        (24.4, "244"),
        (24.5, "244"),
        (99.9, "998"),
        (-99.9, "999"),
        (None, "///"),
    ],
)
def test_temperature(temperature: float | None, figures: str) -> None:
    """Code table 3931, extremes and both sides of zero."""
    assert (figures, ()) == el.temperature_to_figures(temperature)


@pytest.mark.parametrize("temperature", [100.0, -100.0, 150.0])
def test_temperature_out_of_range(temperature: float) -> None:
    """Beyond 99.9 degrees there are no figures."""
    figures, faults = el.temperature_to_figures(temperature)
    assert (figures, [fault.code for fault in faults]) == ("///", ["value-not-codable"])


@pytest.mark.parametrize(
    ("depression", "figures"),
    [
        # code table 0777: tenths to 5.0, 51 to 55 unused, then whole degrees plus 50
        (0.0, "00"),
        (4.94, "49"),
        (5.0, "50"),
        (5.3, "50"),
        (5.5, "56"),
        (6.4, "56"),
        (6.5, "57"),
        (49.4, "99"),
        (None, "//"),
    ],
)
def test_depression(depression: float | None, figures: str) -> None:
    """Code table 0777, its extremes and the step between tenths and degrees."""
    assert (figures, ()) == el.depression_to_figures(depression)


def test_depression_beyond_the_table() -> None:
    """Above 49 degrees the last figure is used, and that is told."""
    figures, faults = el.depression_to_figures(60.0)
    assert (figures, [fault.code for fault in faults]) == ("99", ["depression-beyond-table"])


def test_supersaturation() -> None:
    """A dew point slightly above the temperature is coded as saturation, and that is told."""
    figures, faults = el.depression_to_figures(-0.3)
    assert (figures, [fault.code for fault in faults]) == ("00", ["depression-negative"])
    figures, faults = el.depression_to_figures(-3.0)
    assert (figures, [fault.code for fault in faults]) == ("//", ["value-not-codable"])


@pytest.mark.parametrize("figures", ["51", "52", "53", "54", "55"])
def test_unused_figures_of_table_0777(figures: str) -> None:
    """Figures 51 to 55 mean nothing; the value is missing, not guessed."""
    value, faults = el.figures_to_depression(figures)
    assert (value, [fault.code for fault in faults]) == (None, ["depression-unused-figure"])


@pytest.mark.parametrize(
    ("height", "pressure", "figures"),
    [
        (111.0, 1000.0, "111"),
        (0.0, 1000.0, "000"),
        (-22.0, 1000.0, "522"),
        (-499.0, 1000.0, "999"),
        (3012.4, 700.0, "012"),
        (2450.0, 700.0, "450"),
        (5574.0, 500.0, "557"),
        (16184.0, 100.0, "618"),
        (31055.0, 10.0, "106"),
        (None, 850.0, "///"),
    ],
)
def test_height(height: float | None, pressure: float, figures: str) -> None:
    """35.2.2: metres without thousands, from 500 hPa tens of metres; 500 added below sea level."""
    assert (figures, ()) == el.height_to_figures(height, pressure)


@pytest.mark.parametrize(("height", "pressure"), [(-500.0, 1000.0), (-20.0, 500.0)])
def test_height_out_of_range(height: float, pressure: float) -> None:
    """Heights far below sea level have no figures."""
    figures, faults = el.height_to_figures(height, pressure)
    assert (figures, [fault.code for fault in faults]) == ("///", ["value-not-codable"])


@pytest.mark.parametrize(
    ("direction", "speed", "figures"),
    [
        (360.0, 10.0, "36010"),
        (0.0, 10.0, "36010"),
        (357.5, 10.0, "36010"),
        (357.4, 10.0, "35510"),
        (2.5, 10.0, "00510"),
        (5.0, 10.0, "00510"),
        (2.4, 10.0, "36010"),
        (295.0, 15.0, "29515"),
        (190.0, 120.0, "19120"),
        (265.0, 499.0, "26999"),
        (123.0, 0.4, "00000"),
        (None, 0.0, "00000"),
        (None, None, "/////"),
    ],
)
def test_wind(direction: float | None, speed: float | None, figures: str) -> None:
    """Five-degree steps, the 5 carried by 500 in the speed, 360 for north, calm as 00000."""
    expected = figures.replace("35510", "35510") if direction != 357.4 else "35510"
    assert (expected, ()) == el.wind_to_figures(direction, speed, Context(wind_unit="m s-1"))


def test_wind_that_cannot_be_coded() -> None:
    """A speed of 500 or more, or half a wind, is reported missing with a fault."""
    context = Context(wind_unit="m s-1")
    for direction, speed, code in (
        (90.0, 500.0, "value-not-codable"),
        (None, 12.0, "wind-half-missing"),
        (90.0, None, "wind-half-missing"),
    ):
        figures, faults = el.wind_to_figures(direction, speed, context)
        assert ("/////", [code]) == (figures, [fault.code for fault in faults])


@pytest.mark.parametrize(
    ("figures", "code"),
    [
        ("37010", "wind-direction-impossible"),
        ("36510", "wind-direction-impossible"),
        ("00010", "wind-calm-direction"),
        ("12000", "wind-calm-direction"),
        ("00500", "wind-calm-direction"),
        ("//010", "wind-half-missing"),
        ("12///", "wind-half-missing"),
        ("1/010", "figures-partly-missing"),
        ("120/0", "figures-partly-missing"),
    ],
)
def test_winds_that_are_no_winds(figures: str, code: str) -> None:
    """Impossible figures give a fault, never a wind out of range."""
    direction, speed, faults = el.figures_to_wind(figures, Context())
    assert code in [fault.code for fault in faults]
    assert direction is None or 0.0 <= direction <= 360.0
    assert speed is None or speed >= 0.0


@pytest.mark.parametrize(
    ("temperature", "figures"), [(0.0, "0000"), (-1.84, "1018"), (31.25, "0313"), (None, "////")]
)
def test_sea_temperature(temperature: float | None, figures: str) -> None:
    """Code table 3845: sign figure, then tenths."""
    assert (figures, ()) == el.sea_temperature_to_figures(temperature)


def test_sea_temperature_faults() -> None:
    """A sign figure other than 0 or 1, minus zero and an impossible value are told."""
    for figures in ("2010", "1000", "0/10"):
        value, faults = el.figures_to_sea_temperature(figures)
        assert (value, [fault.code for fault in faults]) == (None, ["figures-impossible"])
    assert el.sea_temperature_to_figures(120.0)[1][0].code == "value-not-codable"


def test_shear() -> None:
    """Shear in whole units to 99; more has no figures."""
    context = Context(wind_unit="m s-1")
    assert el.shear_to_figures(11.5, context) == ("12", ())
    figures, faults = el.shear_to_figures(120.0, context)
    assert (figures, [fault.code for fault in faults]) == ("//", ["value-not-codable"])
    assert el.figures_to_shear("1/", context)[1][0].code == "figures-partly-missing"
    assert el.figures_to_shear("//", context) == (None, ())
