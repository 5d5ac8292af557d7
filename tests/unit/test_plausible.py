"""Values that can hardly be: limits of the air, jumps, and parts whose name is one figure off."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from encoder.catalogue import CATALOGUE
from encoder.columns import LEVEL_COLUMNS
from encoder.diagnostics import Severity
from encoder.formats.flight_folder import read_flight
from encoder.formats.samples_folder import sample_flight
from encoder.levels import select_levels
from encoder.repair.plausible import (
    COLDEST,
    HOTTEST,
    KELVIN_OF_FALL,
    KELVIN_OF_RISE,
    LIMIT_PRESSURES,
    STRONGEST_WIND,
    doubts,
    temperature_limits,
)
from encoder.report import decode_reports, encode_report
from tests.undamaged import PART_A, PART_B

REAL = Path(__file__).parents[1] / "external" / "data" / "soundings.json"
NEW = ("value-implausible", "temperature-jump", "wind-jump", "humidity-misfit", "part-apart")
"""Codes of suspicions: nothing is changed for them, and good reports must give none."""


def levels(**given: list[float]) -> dict[str, np.ndarray]:
    """Return columns of levels, missing where not given."""
    count = len(given["air_pressure"])
    return {name: np.array(given.get(name, [math.nan] * count)) for name in LEVEL_COLUMNS}


def found(**given: list[float]) -> list[tuple[str, str, int, int]]:
    """Return code, element and levels of each doubt."""
    return [(one.code, one.element, one.lower, one.upper) for one in doubts(levels(**given))]


def told(text: str) -> list[str]:
    """Return the codes of suspicions about a text."""
    return [item.code for item in decode_reports(text).diagnostics if item.code in NEW]


@pytest.mark.parametrize("place", range(len(LIMIT_PRESSURES)))
def test_temperature_limits(place: int) -> None:
    """At the pressures of the table the limits are those of the table, between them between."""
    pressure = LIMIT_PRESSURES[place]
    assert (COLDEST[place], HOTTEST[place]) == temperature_limits(pressure)
    for value, doubtful in ((HOTTEST[place], False), (HOTTEST[place] + 0.2, True)):
        assert doubtful == bool(found(air_pressure=[pressure], air_temperature=[value]))
    for value, doubtful in ((COLDEST[place], False), (COLDEST[place] - 0.2, True)):
        assert doubtful == bool(found(air_pressure=[pressure], air_temperature=[value]))


def test_fall_faster_than_that_of_dry_air() -> None:
    """A fall along the dry adiabat is sound; one that is faster by more than the limit is not."""
    dry = 273.15 * (650.0 / 700.0) ** (2.0 / 7.0) - 273.15
    ground = {"air_pressure": [1000.0, 700.0, 650.0]}
    good, bad = dry - KELVIN_OF_FALL + 0.05, dry - KELVIN_OF_FALL - 0.05
    assert found(**ground, air_temperature=[15.0, 0.0, good]) == []
    jump = ("temperature-jump", "air_temperature", 1, 2)
    assert found(**ground, air_temperature=[15.0, 0.0, bad]) == [jump]


def test_ground_makes_air_its_own() -> None:
    """Just above the ground a fall faster than that of dry air is sound, and a strong inversion."""
    near = {"air_pressure": [1000.0, 990.0]}
    assert found(**near, air_temperature=[40.0, 34.0]) == []
    assert found(**near, air_temperature=[-40.0, -12.0]) == []
    assert found(**near, air_temperature=[40.0, 30.0]) != []
    assert found(**near, air_temperature=[-40.0, -5.0]) != []


def test_rise_aloft() -> None:
    """Aloft a thin layer cannot be warmer than that below it by more than the limit."""
    aloft = {"air_pressure": [1000.0, 700.0, 699.9]}
    assert found(**aloft, air_temperature=[5.0, -10.0, -10.0 + KELVIN_OF_RISE]) == []
    jump = ("temperature-jump", "air_temperature", 1, 2)
    assert found(**aloft, air_temperature=[5.0, -10.0, -9.5 + KELVIN_OF_RISE]) == [jump]


def test_wind_against_both_neighbours() -> None:
    """A wind far from both its neighbours is doubtful; the edge of a strong shear is not."""
    calm = {"air_pressure": [500.0, 450.0, 400.0]}
    peak = ("wind-jump", "wind_speed", 1, 1)
    west = {"wind_from_direction": [270.0, 270.0, 270.0]}
    assert found(**calm, **west, wind_speed=[20.0, 60.0, 22.0]) == [peak]
    assert found(**calm, **west, wind_speed=[20.0, 60.0, 60.0]) == []
    turned = {"wind_from_direction": [270.0, 90.0, 270.0]}
    assert found(**calm, **turned, wind_speed=[20.0, 20.0, 20.0]) == [peak]


def test_strongest_wind() -> None:
    """A wind beyond all that was measured is doubtful, also where only its height is known."""
    where = {"air_pressure": [math.nan], "wind_from_direction": [270.0]}
    assert found(**where, wind_speed=[STRONGEST_WIND]) == []
    value = ("value-implausible", "wind_speed", 0, 0)
    assert found(**where, wind_speed=[STRONGEST_WIND + 1.0]) == [value]


def test_height_far_from_the_usual() -> None:
    """At 500 hPa a height may be 4,530 to 6,620 gpm; missing ones are never doubtful."""
    at = {"air_pressure": [500.0]}
    value = ("value-implausible", "geopotential_height", 0, 0)
    assert found(**at, geopotential_height=[4540.0]) == []
    assert found(**at, geopotential_height=[6610.0]) == []
    assert found(**at, geopotential_height=[6630.0]) == [value]
    assert found(**at, geopotential_height=[math.nan]) == []


def test_told_of_a_lone_part() -> None:
    """A part that stands alone is judged by what the air can be, at the group concerned."""
    text = PART_A.replace("25067 49358", "25067 49258")
    (one,) = (item for item in decode_reports(text).diagnostics if item.code in NEW)
    assert one.code == "value-implausible"
    assert one.span is not None
    assert text[slice(*one.span)] == "49258"
    assert one.path == ("TTAA", "2", "250 hPa", "TTTaDD")
    assert one.severity is Severity.WARNING


def test_values_stay_as_received() -> None:
    """A suspicion changes no value, whatever the mode, unless a repair is told."""
    text = PART_B.replace("55256 26573", "55256 08573")
    for mode in ("none", "safe", "all"):
        (report,), _told = decode_reports(text, repair=mode)  # type: ignore[arg-type]
        assert report.repairs == ()
        (record,) = (
            item
            for item in report.parts[0].content.records("6")
            if item.get("air_pressure") == 256.0
        )
        assert record.get("wind_from_direction") == 85.0


def test_not_told_twice() -> None:
    """What the parts contradict each other about is not called implausible besides."""
    text = f"{PART_A}\n{PART_B}".replace("40742 23567", "40742 23467")
    codes = [item.code for item in decode_reports(text).diagnostics]
    assert codes.count("temperature-misfit") == 1
    assert not set(codes) & set(NEW)


@pytest.mark.parametrize(
    ("good", "bad", "apart"),
    [
        ("TTBB 59008 90417", "TTBB 59008 90477", True),
        ("TTBB 59008 90417", "TTBB 59008 90471", True),
        ("TTBB 59008 90417", "TTBB 58008 90417", True),
        ("TTBB 59008 90417", "TTBB 59128 90417", False),
        ("TTBB 59008 90417", "TTBB 59008 90731", False),
        ("TTBB 59008 90417", "TTBB 59008 90417", False),
    ],
)
def test_part_with_one_other_figure(good: str, bad: str, apart: bool) -> None:
    """A part that differs from its neighbour by one figure of time or station is told apart."""
    text = f"{PART_A}\n{PART_B}".replace(good, bad)
    assert apart == ("part-apart" in told(text))


def test_neighbouring_stations_are_not_told() -> None:
    """Two whole soundings of stations one figure apart are just that."""
    other = f"{PART_A}\n{PART_B}".replace("90417", "90418")
    assert told(f"{PART_A}\n{PART_B}\n{other}") == []
    assert told("\n".join((PART_A, PART_A.replace("90417", "90418")))) == []


def test_chain_of_heights_does_not_hang_on_a_wrong_one() -> None:
    """A wrong 500 hPa height leaves the thousands of the heights below it as they are."""
    (report,), _told = decode_reports(PART_A.replace("50575", "50775"))
    heights = {
        record.get("air_pressure"): record.get("geopotential_height")
        for record in report.parts[0].content.records("2", "standard")
    }
    assert [heights[p] for p in (1000.0, 925.0, 850.0, 700.0)] == [140.0, 803.0, 1513.0, 3108.0]


def test_lone_part_is_repaired_by_both_layers() -> None:
    """Where the layers below and above agree on one height figure, it is proposed for part A."""
    (report,), _told = decode_reports(PART_A.replace("30945", "30645"), repair="safe")
    (repair,) = report.repairs
    assert (repair.original, repair.proposed, repair.applied) == ("30645", "30945", True)
    assert [abs(item.after) < item.limit for item in repair.evidence] == [True, True]


def test_good_reports_give_no_suspicion() -> None:
    """Real reports and those of the sample flights give none of these findings."""
    real = [item["raw"] for item in json.loads(REAL.read_text(encoding="utf-8"))]
    texts = [*real, "\n".join(real)]
    for name in ("harrow-tarn", "halden-dome", "saltmere-point"):
        flight = read_flight(sample_flight(name)).value
        assert flight is not None
        texts.append(encode_report(flight, select_levels(flight).value).value.text)
    assert [told(text) for text in texts] == [[] for _text in texts]


def test_suspicions_are_warnings() -> None:
    """None of them is an error: nothing is known to be wrong."""
    assert {CATALOGUE[code].severity for code in NEW} == {Severity.WARNING}
