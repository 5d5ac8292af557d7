"""Regional and national sections: read where known, kept in any case, computed from a flight."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from encoder.codes.content import Record
from encoder.codes.drop_text import read_drop_text
from encoder.codes.regional import read_regional, write_regional
from encoder.codes.tables import code_table
from encoder.formats.flight_folder import read_flight
from encoder.levels import select_levels
from encoder.levels.derived import (
    lifted_temperature,
    mean_wind,
    pressure_at_height,
    stability_base,
    stability_index,
    value_at,
    wind_at_pressure,
)
from encoder.profile import Profile
from encoder.report import decode_reports, encode_report
from encoder.report.regional_groups import regional_groups
from encoder.resolution import KNOT
from encoder.verify import verify

SAMPLES = Path(__file__).parents[2] / "samples" / "flights"


def read(groups: str, region: int | None = None) -> list[tuple[str, dict[str, Any]]]:
    """Return kind and values of each record."""
    return [(record.kind, dict(record.values)) for record in read_regional(groups, region=region)]


@pytest.mark.parametrize(
    ("groups", "kind", "values"),
    [
        ("10164 00012", "stability-index", {"stability_index": 12.0, "no_index": None}),
        ("10164 00051", "stability-index", {"stability_index": -1.0, "no_index": None}),
        ("10164 00091", "stability-index", {"stability_index": None, "no_index": "91"}),
        ("10167 03230", "doubtful-temperature", {"layer_bottom": 320.0, "layer_top": 300.0}),
        ("10166 00085", "doubtful-geopotential", {"layer_bottom": 1000.0, "layer_top": 850.0}),
        ("10168 04030", "doubtful-humidity", {"layer_bottom": 400.0, "layer_top": 300.0}),
        (
            "10190 50584",
            "extrapolated-height",
            {"air_pressure": 500.0, "geopotential_height": 5840.0},
        ),
        ("10181", "additional", {}),
        ("10159", "additional", {}),
    ],
)
def test_additional_information(groups: str, kind: str, values: dict[str, Any]) -> None:
    """Table 0421 of Region IV with its arguments."""
    ((found, said),) = read(groups)
    assert (kind, {"additional": groups[3:5], **values}) == (found, said)
    assert (groups, ()) == write_regional(read_regional(groups))


def test_mean_winds() -> None:
    """10194 gives the mean winds of two layers (report of station 72235)."""
    (record,) = read_regional("10194 20036 22041")
    assert (
        record.get("lower_wind_from_direction"),
        round(float(record.get("lower_wind_speed") or 0) / KNOT),
        record.get("upper_wind_from_direction"),
        round(float(record.get("upper_wind_speed") or 0) / KNOT),
    ) == (200.0, 36, 220.0, 41)


def test_extra_winds_of_region_vi() -> None:
    """51515 11PPP ddfff 22800 ddfff 33600 ddfff (report of station 02963)."""
    groups = "51515 11875 24007 22800 26509 33600 25015"
    records = read_regional(groups, region=6)
    assert [one.kind for one in records] == ["verbatim", "extra-wind", "extra-wind", "extra-wind"]
    assert [one.get("air_pressure") for one in records[1:]] == [875.0, 800.0, 600.0]
    assert groups == write_regional(records)[0]


@pytest.mark.parametrize(
    "groups",
    [
        "51515 10164",
        "51515 10164 00045",
        "51515 10164 0005/",
        "51515 10167 13230",
        "51515 10199 00012",
        "51515 10194 20036",
        "51515 10194 37036 22041",
        "51515 10195 85457 10711 50584",
        "51515 99999 ABC 1",
        "51515 11/// /////",
        "51515",
        "",
    ],
)
def test_unknown_groups_are_kept(groups: str) -> None:
    """What is not known, or damaged, comes back as it was."""
    assert groups == write_regional(read_regional(groups))[0]


def test_region_decides() -> None:
    """The tables of one region are not used for another."""
    assert [kind for kind, _said in read("10164 00012", region=6)] == ["verbatim", "verbatim"]
    assert [kind for kind, _said in read("10181", region=3)] == ["verbatim"]


def test_values_that_cannot_be_coded() -> None:
    """An index beyond the figures and an unknown code are told."""
    index = Record("stability-index", {"additional": "64", "stability_index": 55.0})
    text, faults = write_regional([index])
    assert (text, [fault.code for fault in faults]) == ("10164 00091", ["value-not-codable"])
    text, faults = write_regional([Record("additional", {"additional": "99"})])
    assert (text, [fault.code for fault in faults]) == ("101//", ["value-not-codable"])


def test_every_code_of_table_0421() -> None:
    """Every code of the table reads as additional information and comes back."""
    for code in code_table("0421"):
        groups = f"101{code}"
        assert groups == write_regional(read_regional(groups))[0]
        kinds = {record.kind for record in read_regional(groups)}
        assert kinds <= {"additional", "verbatim"}


# --- plain words of drops ---------------------------------------------------------------------

DROP = (
    "62626 MBL WND 14058 AEV 40101 DLM WND 13552 001762 WL150 12551 08 1 "
    "REL 2939N08607W 131947 SPG 2942N08610W 132241"
)


def test_words_of_a_drop() -> None:
    """Release, splash and layer winds are read (bulletin UZNT13 KWBC 211330)."""
    records = read_drop_text(DROP)
    said = {record.kind: dict(record.values) for record in records}
    assert tuple(said["release"][name] for name in ("latitude", "longitude", "time")) == (
        29.39,
        -86.07,
        "131947",
    )
    assert tuple(said["splash"][name] for name in ("latitude", "longitude", "time")) == (
        29.42,
        -86.10,
        "132241",
    )
    assert (
        said["boundary-layer-wind"]["wind_from_direction"],
        round(said["boundary-layer-wind"]["wind_speed"] / KNOT),
    ) == (140.0, 58)
    assert tuple(said["deep-layer-wind"][name] for name in ("layer_bottom", "layer_top")) == (
        1001.0,
        762.0,
    )
    assert said["lowest-layer-wind"]["wind_from_direction"] == 125.0
    assert " ".join(str(record.get("groups")) for record in records) == DROP


def test_mission_of_a_drop() -> None:
    """61616 names aircraft, mission, storm and observation; words not understood are kept."""
    (record,) = read_drop_text("61616 QCW07 1708A KESTREL OB 01")
    assert (
        record.kind,
        record.get("aircraft"),
        record.get("observation"),
    ) == ("mission", "QCW07", "01")
    text = "62626 SPL 2551N07756W EYEWALL 090 REL 25N077W MBL WND 1452"
    records = read_drop_text(text)
    assert [one.kind for one in records[:2]] == ["verbatim", "splash"]
    assert text == " ".join(str(one.get("groups")) for one in records)


# --- computed from a flight -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("elevation", "base"),
    [
        (0.0, 850.0),
        (999.0, 850.0),
        (1000.0, 800.0),
        (1400.0, 800.0),
        (1401.0, 750.0),
        (2001.0, None),
    ],
)
def test_base_of_the_index(elevation: float, base: float | None) -> None:
    """WMO-No. 306 Volume I.2, B/C25 annex I: the base goes up with the station."""
    found = stability_base(elevation)
    assert np.isnan(found) if base is None else base == found


def test_dry_parcel_never_condenses() -> None:
    """Very dry air is lifted along the dry adiabat: potential temperature is kept."""
    found = lifted_temperature(10.0, -60.0, 850.0) + 273.15
    assert abs(283.15 * (500.0 / 850.0) ** (2.0 / 7.0) - found) < 1e-9


def layer() -> Profile:
    """Return a profile whose wind turns from west 10 m/s to south 10 m/s in 2000 m."""
    height = np.linspace(0.0, 4000.0, 41)
    share = np.clip(height / 2000.0, 0.0, 1.0)
    u, v = 10.0 * (1.0 - share), 10.0 * share
    return Profile(
        {
            "air_pressure": 1000.0 * np.exp(-height / 8000.0),
            "geopotential_height": height,
            "wind_from_direction": np.degrees(np.arctan2(-u, -v)) % 360.0,
            "wind_speed": np.hypot(u, v),
        },
        np.arange(2, 43),
    )


def test_mean_wind_of_a_layer() -> None:
    """The mean of components that change linearly is the wind in the middle of the layer."""
    direction, speed = mean_wind(layer(), 0.0, 2000.0)
    np.testing.assert_allclose([225.0, 10.0 * np.sqrt(0.5)], [direction, speed], rtol=1e-9)
    assert np.isnan(mean_wind(layer(), 0.0, 5000.0)[1])
    assert np.isnan(mean_wind(layer(), 2000.0, 2000.0)[1])


def test_values_at_a_pressure() -> None:
    """Values at a pressure are linear in ln p; outside there are none."""
    profile = layer()
    assert abs(1000.0 * np.exp(-1550.0 / 8000.0) - pressure_at_height(profile, 1550.0)) < 1e-6
    np.testing.assert_allclose(
        1550.0, value_at(profile, "geopotential_height", 1000.0 * np.exp(-1550.0 / 8000.0))
    )
    assert value_at(profile, "geopotential_height", 1000.0) == 0.0
    assert np.isnan(value_at(profile, "geopotential_height", 1001.0))
    assert np.isnan(value_at(profile, "geopotential_height", 100.0))
    assert np.isnan(pressure_at_height(profile, 9000.0))
    direction, speed = wind_at_pressure(profile, 1000.0 * np.exp(-1000.0 / 8000.0))
    np.testing.assert_allclose([225.0, 10.0 * np.sqrt(0.5)], [direction, speed], rtol=1e-9)


def test_regional_section_of_a_flight() -> None:
    """Region VI gives extra winds, Region IV index and mean winds, Region V nothing."""
    flight = read_flight(SAMPLES / "harrow-tarn").value
    assert flight is not None
    levels = select_levels(flight).value
    for region, kinds in (
        (4, ["verbatim", "stability-index", "mean-winds"]),
        (6, ["verbatim", "extra-wind", "extra-wind", "extra-wind"]),
        (5, []),
    ):
        here = replace(flight, station=replace(flight.station, wmo_region=region))
        groups, found = regional_groups(here, levels)
        assert found == ()
        assert kinds == [one.kind for one in read_regional(" ".join(groups), region=region)]
        report = encode_report(here.with_reporting(regional_groups=groups), levels).value
        (again,), told = decode_reports(report.text)
        assert told == ()
        if groups:
            said = again.parts[1].content.records("9")[0].get("groups")
            assert " ".join(groups) == said


@pytest.mark.parametrize(
    ("region", "begins", "parts"),
    [(6, "51515 11", ["TTBB"]), (1, "51515 11", ["TTBB"]), (4, "51515 10164", ["TTAA", "TTBB"])],
)
def test_regional_section_is_formed_where_asked(region: int, begins: str, parts: list[str]) -> None:
    """Extra winds stand in part B alone (report of station 02963), codes 101 in A and B."""
    flight = read_flight(SAMPLES / "harrow-tarn").value
    assert flight is not None
    here = replace(flight, station=replace(flight.station, wmo_region=region))
    levels = select_levels(here).value
    report = encode_report(here.with_reporting(regional_from_flight=True), levels).value
    (again,), told = decode_reports(report.text)
    text = {part.letters: " ".join(part.text.split()) for part in report.parts}

    assert told == ()
    assert parts == [letters for letters, said in text.items() if begins in said]
    assert all("51515" not in said for letters, said in text.items() if letters not in parts)
    assert verify(here.with_reporting(regional_from_flight=True), again).may_be_sent
    assert "51515" not in encode_report(here, levels).value.text
    winds = encode_report(here.with_reporting(regional_from_flight=True), levels, form="FM 32")
    assert "51515" not in winds.value.text


def test_no_index_over_a_high_station() -> None:
    """A station above 2000 gpm has no stability index, and a note tells so."""
    flight = read_flight(SAMPLES / "halden-dome").value
    assert flight is not None
    levels = select_levels(flight).value
    here = replace(flight, station=replace(flight.station, wmo_region=4))
    groups, found = regional_groups(here, levels)
    assert groups[1:3] == ("10164", "00091")
    assert [one.code for one in found] == ["no-stability-index"]


def test_reasons_for_no_index() -> None:
    """Missing values at the base or at 500 hPa, and very dry air, give no index."""
    flight = read_flight(SAMPLES / "harrow-tarn").value
    assert flight is not None
    levels = select_levels(flight).value
    ascent = flight.ascent
    dry = ascent.with_columns({"dew_point_temperature": np.full(len(ascent), -60.0)})
    none = ascent.with_columns({"dew_point_temperature": np.full(len(ascent), np.nan)})
    low = levels.select(levels["air_pressure"] > 600.0)
    reasons = [
        stability_index(levels, dry, 412.0).reason,
        stability_index(levels, none, 412.0).reason,
        stability_index(low, ascent, 412.0).reason,
        stability_index(levels, ascent, 412.0).reason,
    ]
    assert reasons == [
        "the air at 850 hPa is too dry",
        "temperature or humidity at 850 hPa is missing",
        "there is no temperature at 500 hPa",
        "",
    ]
