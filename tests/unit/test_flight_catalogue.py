"""Every code of the stage has a hint, and reading some flight raises it."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.catalogue import CATALOGUE
from encoder.catalogue.flight import RULES
from encoder.errors import InputError
from encoder.formats.flight_folder import read_flight
from encoder.formats.starter import write_starter
from tests.flights import FACTS, codes_of, facts_of, rows_of, text_of, write_flight

EDIT = {"columns": ["air_temperature"], "action": "missing", "reason": "Icing."}


def changed(name, rows, value):
    """Return columns with a value put into some rows."""
    columns = rows_of()
    columns[name][rows] = value
    return columns


def without(*names):
    """Return columns without some of them."""
    return {name: values for name, values in rows_of().items() if name not in names}


def with_column(name, values):
    """Return columns with one more."""
    return {**rows_of(), name: np.broadcast_to(values, 200).astype(float)}


def edited(**changes):
    """Return facts with one quality edit."""
    return facts_of(quality_edits=[{**EDIT, **changes}])


def sinking():
    """Return columns of a balloon that sinks for a while."""
    order = [*range(40), *range(39, 29, -1), *range(30, 190)]
    columns = {name: values[[*order[:200]]].copy() for name, values in rows_of(220).items()}
    columns["time"] = 10.0 * np.arange(1.0, 201.0)
    return columns


def header(old, new):
    """Return the profile text with its header changed."""
    first, rest = text_of(rows_of()).split("\n", 1)
    return first.replace(old, new) + "\n" + rest


def dew_points():
    """Return columns with a dew point that does not fit the humidity."""
    return with_column("dew_point_temperature", -60.0)


def falling(*, swapped=False):
    """Return the rows of a sonde that falls, two of them out of order where they are swapped."""
    rows = rows_of()
    columns = {k: v if k == "time" else v[::-1].copy() for k, v in rows.items()}
    if swapped:
        for name in columns.keys() - {"time"}:
            columns[name][[50, 51]] = columns[name][[51, 50]]
    return columns


CASES = {
    "file-too-large": (None, b"#" * 64_000_001),
    "file-not-text": (None, b"a\0b"),
    "file-empty": (None, b""),
    "encoding-not-utf-8": (None, b"\xff"),
    "byte-order-mark": (None, b"\xef\xbb\xbf" + text_of(rows_of()).encode()),
    "json-not-valid": ("{", None),
    "key-unknown": (facts_of(typo=1), None),
    "key-missing": ("{}", None),
    "value-not-allowed": (facts_of(station__latitude=91), None),
    "station-not-identified": (facts_of(station__wmo_index=None, station__wigos_id=None), None),
    "station-identifiers-differ": (facts_of(station__wmo_index="90418"), None),
    "time-does-not-exist": (facts_of(nominal_time="2031-02-30T00:00Z"), None),
    "release-far-from-nominal": (facts_of(nominal_time="2032-07-15T18:00Z"), None),
    "release-not-usual": (facts_of(nominal_time="2031-07-15T19:00Z"), None),
    "nominal-time-not-whole-hour": (facts_of(nominal_time="2031-07-15T18:01Z"), None),
    "surface-given-twice": (facts_of(surface__dew_point_degc=1), None),
    "surface-dew-point-above-temperature": (
        facts_of(surface__dew_point_degc=20, surface__relative_humidity_percent=None),
        None,
    ),
    "surface-wind-incomplete": (facts_of(surface__wind_from_direction_degree=None), None),
    "groups-without-indicator": (facts_of(reporting__national_groups=["12345"]), None),
    "edit-range-not-given": (edited(), None),
    "edit-column-unknown": (edited(columns=["x"], from_line=2, to_line=3), None),
    "edit-without-rows": (edited(from_line=900, to_line=901), None),
    "edit-applied": (edited(from_line=2, to_line=3), None),
    "edit-doubtful": (edited(from_line=2, to_line=3, action="doubtful"), None),
    "header-not-found": (None, "hello\n"),
    "separator-not-comma": (None, text_of(rows_of()).replace(",", ";")),
    "column-unknown": (None, header("air_temperature", "air_temprature")),
    "column-not-used": (None, header("relative_humidity [%]", "battery [V]")),
    "column-repeated": (None, header("relative_humidity [%]", "air_temperature [degC]")),
    "column-missing": (None, without("air_temperature")),
    "column-empty": (None, changed("wind_speed", slice(None), np.nan)),
    "column-empty-but-needed": (None, changed("time", slice(None), np.nan)),
    "column-superseded": (None, with_column("altitude", 1000.0)),
    "humidity-not-given": (None, without("relative_humidity")),
    "wind-not-given": (None, without("wind_speed")),
    "unit-not-given": (None, header(" [hPa]", "")),
    "unit-unknown": (None, header("[hPa]", "[hpa]")),
    "unit-of-other-kind": (None, header("[hPa]", "[m]")),
    "profile-without-rows": (None, header("", "").split("\n")[0]),
    "line-not-as-header": (None, text_of(rows_of()) + "1,2\n"),
    "cell-not-readable": (None, text_of(rows_of()).replace("\n10.0,", "\nten,")),
    "ascent-without-rows": (None, changed("time", slice(None), -1.0)),
    "few-rows": (None, rows_of(2)),
    "row-without-time": (None, changed("time", 5, np.nan)),
    "row-before-release": (None, changed("time", 0, 0.0)),
    "rows-out-of-order": (None, changed("time", 5, 75.0)),
    "row-repeats-time": (None, changed("time", 5, 50.0)),
    "row-without-pressure": (None, changed("air_pressure", 5, np.nan)),
    "row-without-height": (
        None,
        {k: v for k, v in changed("geopotential_height", 5, np.nan).items() if k != "air_pressure"},
    ),
    "row-not-above-surface": (None, changed("air_pressure", 0, 964.8)),
    "pressure-spike": (None, changed("air_pressure", 50, 300.0)),
    "row-not-rising": (None, changed("air_pressure", 50, rows_of()["air_pressure"][49])),
    "pressure-stuck": (None, changed("air_pressure", slice(50, 60), rows_of()["air_pressure"][49])),
    "row-descending": (None, sinking()),
    "row-after-burst": (None, changed("air_pressure", 199, rows_of()["air_pressure"][190])),
    "pressure-computed": (None, without("air_pressure")),
    "height-computed": (None, without("geopotential_height")),
    "height-not-computable": (
        None,
        {
            k: v
            for k, v in changed("air_temperature", slice(150, None), np.nan).items()
            if k != "geopotential_height"
        },
    ),
    "wind-incomplete": (None, changed("wind_speed", 5, np.nan)),
    "humidity-without-dew-point": (None, changed("relative_humidity", 5, 0.0)),
    "humidity-disagrees": (None, dew_points()),
    "values-impossible": (None, changed("air_temperature", 5, 99.0)),
    "column-impossible": (None, changed("air_temperature", slice(None), 288.0)),
    "unit-doubtful": (None, changed("relative_humidity", slice(None), 0.5)),
    "humidity-above-saturation": (None, changed("relative_humidity", 5, 101.0)),
    "superadiabatic": (None, changed("air_temperature", 50, -40.0)),
    "hydrostatic": (
        None,
        with_column("geopotential_height", rows_of()["geopotential_height"] * 1.1),
    ),
    "ascent-rate": (None, with_column("time", 100.0 * np.arange(1, 201))),
    "time-gap": (None, {k: np.delete(v, slice(50, 80)) for k, v in rows_of().items()}),
    "surface-pressure-unusual": (facts_of(surface__air_pressure_hpa=1080.0), None),
    "surface-pressure-contradicted": (facts_of(surface__air_pressure_hpa=985.0), None),
    "surface-pressure-needed": (
        facts_of(winds_alone=True, surface__air_pressure_hpa=None),
        None,
    ),
    "drop-rises": (facts_of(station__platform="drop"), None),
    "row-not-falling": (facts_of(station__platform="drop"), falling(swapped=True)),
    "splash-time-computed": (facts_of(station__platform="drop"), falling()),
    "splash-before-release": (
        facts_of(station__platform="drop", drop__splash_time="2031-07-15T17:00Z"),
        falling(),
    ),
    "surface-differs": (facts_of(surface__air_temperature_degc=30.0), None),
}


@pytest.mark.parametrize("code", CASES)
def test_code_is_raised(code, tmp_path):
    """Reading the flight of the case raises the code."""
    facts, profile = CASES[code]
    result = read_flight(write_flight(tmp_path, facts, profile))
    assert code in codes_of(result)
    for item in result.diagnostics:
        assert item.hint
        assert item.message.endswith((".", "?", "!"))
        assert (item.severity == "error") <= (result.value is None)


def test_codes_raised_by_files_and_folders(tmp_path):
    """Codes that need a file system state of their own."""
    assert codes_of(read_flight(tmp_path / "none")) == ["file-not-found"]
    write_flight(tmp_path, None, text_of(rows_of()).replace("time [s]", "time [UTC]"))
    assert codes_of(read_flight(tmp_path, profile=tmp_path)) == ["file-not-readable"]
    with pytest.raises(InputError) as caught:
        write_starter(tmp_path)
    assert [item.code for item in caught.value.diagnostics] == ["file-exists", "file-exists"]
    with pytest.raises(InputError) as caught:
        write_starter(tmp_path / "flight.json" / "a")
    assert [item.code for item in caught.value.diagnostics] == ["file-not-writable"]


def test_every_code_has_a_case():
    """No code stands in the catalogue that nothing raises; the rest is raised in other tests."""
    elsewhere = {
        "file-not-found",
        "file-not-readable",
        "file-exists",
        "file-not-writable",
        "time-without-release",
    }
    assert set(CASES) | elsewhere == set(RULES)
    assert set(CASES) & elsewhere == set()


def test_no_other_stage_uses_a_code_of_this_one():
    """A code means one thing: the whole catalogue holds the rules of this stage unchanged."""
    assert {code: CATALOGUE[code] for code in RULES} == RULES


def test_every_rule_says_what_it_means_and_what_to_do():
    """Title and hint are sentences."""
    for code, rule in RULES.items():
        assert rule.title.endswith("."), code
        assert rule.hint.endswith("."), code
    assert FACTS["format"] == "aerogram-flight-1"
