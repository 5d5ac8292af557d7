"""Flights that are not ordinary: each comes out in the code as the regulations say."""

from __future__ import annotations

import json

import pytest

from encoder.formats.flight_folder import read_flight
from encoder.levels import select_levels
from encoder.report import decode_reports, encode_report
from encoder.verify import verify
from samples.generator import random_flight, write_flight


def made(folder, *, change=None, columns=None, **choices):
    """A flight with facts or columns changed, read from files."""
    flight = random_flight(7, **{"spacing": 2.0, "burst_pressure": 60.0, **choices})
    write_flight(flight, folder)
    if change is not None:
        path = folder / "flight.json"
        document = json.loads(path.read_text(encoding="utf-8"))
        change(document)
        path.write_text(json.dumps(document), encoding="utf-8")
    if columns is not None:
        path = folder / "profile.csv"
        lines = path.read_text(encoding="utf-8").splitlines()
        head = next(i for i, line in enumerate(lines) if not line.startswith("#"))
        names = lines[head].split(",")
        rows = [line.split(",") for line in lines[head + 1 :]]
        columns(names, rows)
        body = [",".join(row) for row in rows]
        path.write_text("\n".join([",".join(names), *body]) + "\n", encoding="utf-8")
    return read_flight(folder).raise_for_errors()


def coded(flight):
    report = encode_report(flight, select_levels(flight).value).value
    decoded = decode_reports(report.text, formula=flight.vapour_pressure_formula)
    verdict = verify(flight, decoded.value[0], report_diagnostics=decoded.diagnostics)
    assert verdict.may_be_sent, [item.as_text() for item in verdict.diagnostics]
    return report, decoded.value[0]


def blank(*wanted):
    """A change that empties the columns whose header begins with one of the words."""

    def columns(names, rows):
        places = [i for i, name in enumerate(names) if name.startswith(wanted)]
        for row in rows:
            for place in places:
                row[place] = ""

    return columns


def test_surface_above_1000_hpa(tmp_path):
    """A surface pressure of 1000 hPa and more drops its thousand; 1000 hPa is a real level."""
    flight = made(tmp_path, elevation=3.0, climate="mid-latitude summer")
    assert flight.surface.air_pressure >= 1000.0
    _report, decoded = coded(flight)
    surface = decoded.part("A").content.records("2", "surface")[0]
    thousand = decoded.part("A").content.records("2", "standard")[0]

    assert surface.get("air_pressure") == pytest.approx(flight.surface.air_pressure, abs=0.5)
    assert thousand.get("air_pressure") == 1000.0
    assert thousand.get("air_temperature") is not None


def test_tropopause_coded_as_a_standard_level(tmp_path):
    """A tropopause that rounds to a standard pressure gives the values of that level."""
    write_flight(random_flight(113), tmp_path)
    flight = read_flight(tmp_path).raise_for_errors()
    _report, decoded = coded(flight)
    content = decoded.part("A").content
    standard = {item.get("air_pressure"): item for item in content.records("2", "standard")}
    shared = [
        item for item in content.records("3", "tropopause") if item.get("air_pressure") in standard
    ]

    assert shared
    for item in shared:
        level = standard[item.get("air_pressure")]
        assert item.get("air_temperature") == level.get("air_temperature")
        assert item.get("wind_speed") == level.get("wind_speed")


def test_no_wind_at_all(tmp_path):
    """Without wind: Id is a solidus, no wind groups at standard levels, no section 6."""

    def calm_facts(document):
        document["surface"]["wind_from_direction_degree"] = None
        document["surface"]["wind_speed_m_s"] = None

    flight = made(tmp_path, change=calm_facts, columns=blank("wind_"))
    report, decoded = coded(flight)
    content = decoded.part("A").content

    assert content.identification["last_wind"] == "/"
    assert all("wind_speed" not in item.values for item in content.records("2", "standard"))
    assert content.records("2", "surface")[0].values["wind_speed"] is None
    assert "21212" not in report.text
    assert "77999" in report.text


def test_no_humidity_at_all(tmp_path):
    """Without humidity: every temperature group ends in two solidi."""

    def dry_facts(document):
        document["surface"]["relative_humidity_percent"] = None

    flight = made(tmp_path, change=dry_facts, columns=blank("relative_humidity"))
    _report, decoded = coded(flight)

    for letter in "ABCD":
        for number in ("2", "3", "5"):
            for record in decoded.part(letter).content.records(number):
                assert record.get("dew_point_depression") is None
                assert record.get("air_temperature") is not None or number == "2"


def test_temperature_gap_is_a_solidi_level(tmp_path):
    """A layer of 20 hPa and more without temperature: limits given, a solidi level between."""

    def gap(names, rows):
        p = next(i for i, name in enumerate(names) if name.startswith("air_pressure"))
        places = [
            i
            for i, name in enumerate(names)
            if name.startswith(("air_temperature", "relative_humidity"))
        ]
        for row in rows:
            if 560.0 < float(row[p]) < 610.0:
                for place in places:
                    row[place] = ""

    flight = made(tmp_path, columns=gap, elevation=100.0)
    _report, decoded = coded(flight)
    records = decoded.part("B").content.records("5")
    empty = [i for i, item in enumerate(records) if item.get("air_pressure") is None]

    assert len(empty) == 1
    below, above = records[empty[0] - 1], records[empty[0] + 1]
    assert 608.0 <= below.get("air_pressure") <= 613.0
    assert 557.0 <= above.get("air_pressure") <= 562.0


def test_humidity_gap_has_a_level_without_humidity_inside(tmp_path):
    """A layer without humidity shows at least one level with temperature alone (35.3.1.6)."""

    def gap(names, rows):
        p = next(i for i, name in enumerate(names) if name.startswith("air_pressure"))
        u = next(i for i, name in enumerate(names) if name.startswith("relative_humidity"))
        for row in rows:
            if 560.0 < float(row[p]) < 610.0:
                row[u] = ""

    flight = made(tmp_path, columns=gap, elevation=100.0)
    _report, decoded = coded(flight)
    inside = [
        item
        for item in decoded.part("B").content.records("5")
        if item.get("air_pressure") and 560.0 < item.get("air_pressure") < 610.0
    ]

    assert inside
    assert all(item.get("dew_point_depression") is None for item in inside)
    assert all(item.get("air_temperature") is not None for item in inside)


def test_wind_gap_is_a_solidi_level(tmp_path):
    """A layer of 50 hPa and more without wind: limits given, a solidi level between."""

    def gap(names, rows):
        p = next(i for i, name in enumerate(names) if name.startswith("air_pressure"))
        places = [i for i, name in enumerate(names) if name.startswith("wind_")]
        for row in rows:
            if 600.0 < float(row[p]) < 680.0:
                for place in places:
                    row[place] = ""

    flight = made(tmp_path, columns=gap, elevation=100.0)
    _report, decoded = coded(flight)
    records = decoded.part("B").content.records("6")

    assert sum(1 for item in records if item.get("air_pressure") is None) == 1


def test_more_than_99_levels_number_on(tmp_path):
    """After level number 99 comes 11 again (35.3.1)."""

    def rough(names, rows):
        t = next(i for i, name in enumerate(names) if name.startswith("air_temperature"))
        for place, row in enumerate(rows):
            row[t] = f"{float(row[t]) + (3.2 if place // 12 % 2 else 0.0):.2f}"

    flight = made(tmp_path, columns=rough)
    report = encode_report(flight, select_levels(flight).value).value
    decoded = decode_reports(report.text)
    groups = report.part("B").text.split("21212")[0].split()
    numbers = [group[:2] for group in groups[3:-1:2]]

    assert len(numbers) > 100
    assert numbers[:12] == ["00", "11", "22", "33", "44", "55", "66", "77", "88", "99", "11", "22"]
    assert not [item for item in decoded.diagnostics if item.code == "level-number"]


def test_station_with_wigos_id_alone_cannot_be_coded(tmp_path):
    """FM 35 needs the five-figure station number; without it encoding says so."""

    def only_wigos(document):
        document["station"].pop("wmo_index", None)
        document["station"]["wigos_id"] = "0-20008-0-KESTREL"

    flight = made(tmp_path, change=only_wigos)
    result = encode_report(flight, select_levels(flight).value)

    assert "station-unknown" in {item.code for item in result.diagnostics}


def test_section_7_only_where_the_practice_says(tmp_path):
    """Which parts carry 31313 is a practice of the service."""

    def practice(document):
        document.setdefault("reporting", {})["section_7_parts"] = ["B"]

    flight = made(tmp_path, change=practice)
    report, _decoded = coded(flight)

    assert "31313" in report.part("B").text
    assert "31313" not in report.part("A").text


def test_high_standard_levels_when_asked(tmp_path):
    """The levels 7 5 3 2 1 hPa are given when asked for (4/35.2.1)."""

    def practice(document):
        document.setdefault("reporting", {})["high_levels"] = True

    flight = made(tmp_path, change=practice, burst_pressure=4.5)
    _report, decoded = coded(flight)
    pressures = [
        item.get("air_pressure") for item in decoded.part("C").content.records("2", "standard")
    ]

    assert pressures[:7] == [70.0, 50.0, 30.0, 20.0, 10.0, 7.0, 5.0]


def test_regional_groups_are_given(tmp_path):
    """Groups of sections 9 and 10 named in the flight stand at the end of parts A and B."""

    def practice(document):
        document.setdefault("reporting", {})["regional_groups"] = ["51515", "11875", "24007"]

    flight = made(tmp_path, change=practice)
    report, decoded = coded(flight)

    assert report.part("B").text.rstrip("=").endswith("51515 11875 24007")
    assert decoded.part("B").content.records("9")[0].get("groups") == "51515 11875 24007"
