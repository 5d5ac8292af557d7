"""Ascents of pilot balloons: time, height and wind, no pressure and no temperature."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from encoder.bulletin.compose import compose_early
from encoder.bulletin.due_times import due_times, passed_100_hpa
from encoder.diagnostics import has_errors
from encoder.errors import InputError
from encoder.formats.bufr.compose import message_content
from encoder.formats.bufr.read import read_message
from encoder.formats.bufr.to_flight import report_of_sounding
from encoder.formats.bufr.write import write_message
from encoder.formats.flight_folder import read_flight
from encoder.levels import LevelKind, select_levels
from encoder.levels.altitudes import STANDARD_ALTITUDES
from encoder.levels.combine import combine
from encoder.levels.heights import levels_at_heights
from encoder.physics import shortest_turn
from encoder.report import decode_reports, encode_report, form_of_flight
from encoder.resolution import coded_wind
from encoder.verify import verdict_text, verify
from encoder.verify.bufr import agree, agreement_text
from tests.flights import codes_of, facts_of, the, write_flight

FLIGHTS = Path(__file__).resolve().parents[2] / "samples" / "flights"


def rows(top=20_000.0, step=50.0, **columns):
    """Return a balloon rising at 5 m/s: wind veering and growing up to 11 km, then weaker."""
    height = np.arange(step, top - 412.0 + step / 2.0, step) + 412.0
    found = {
        "time": (height - 412.0) / 5.0,
        "geopotential_height": height,
        "wind_from_direction": np.mod(200.0 + height / 150.0, 360.0),
        "wind_speed": 5.0 + 40.0 * np.exp(-(((height - 11_000.0) / 3500.0) ** 2)),
    }
    return found | columns


def facts(**changes):
    """Return the facts of a flight of winds alone, nothing but wind observed at the surface."""
    document = facts_of(winds_alone=True, instrument__wind_equipment="1", **changes)
    document["surface"] = {"wind_from_direction_degree": 200.0, "wind_speed_m_s": 5.0}
    return document


@pytest.fixture
def balloon(tmp_path):
    """Return the flight of :func:`rows`."""
    return read_flight(write_flight(tmp_path, facts(), rows())).raise_for_errors()


def coded(flight, **options):
    """Return the report of a flight."""
    return encode_report(flight, select_levels(flight).value, **options).raise_for_errors()


def text_of(report, letters):
    """Return the groups of a part in one line."""
    (found,) = [part.text for part in report.parts if part.letters == letters]
    return " ".join(found.split())


# --- reading ----------------------------------------------------------------------------------


def test_flight_has_heights_and_no_pressure(balloon):
    """Nothing is invented: pressure and temperature are missing in every row."""
    assert balloon.ascent.by_height
    assert np.isnan(balloon.ascent["air_pressure"]).all()
    assert np.isnan(balloon.ascent["air_temperature"]).all()
    assert np.isnan(balloon.surface.air_pressure)
    assert np.all(np.diff(balloon.ascent["geopotential_height"]) > 0.0)
    assert balloon.ascent.source_row[0] == 0
    assert balloon.diagnostics == ()


def test_flight_says_that_winds_are_alone(tmp_path):
    """Without winds_alone a file without temperature is refused, and the hint tells the key."""
    document = facts_of()
    result = read_flight(write_flight(tmp_path, document, rows()))

    assert result.value is None
    assert "winds_alone" in the(result, "column-missing").hint


def test_surface_may_lack_pressure_only_with_winds_alone(tmp_path):
    """air_pressure_hpa and air_temperature_degc stay needed for every other flight."""
    document = facts_of()
    document["surface"] = {"wind_speed_m_s": 5.0, "wind_from_direction_degree": 200.0}
    result = read_flight(write_flight(tmp_path, document))

    assert codes_of(result) == ["key-missing", "key-missing"]
    document["surface"] |= {"air_pressure_hpa": None, "air_temperature_degc": 3.0}
    result = read_flight(write_flight(tmp_path, document))
    assert codes_of(result) == ["value-not-allowed"]


def test_winds_alone_need_winds(tmp_path):
    """A flight of winds alone without a wind is an error."""
    bare = {name: rows()[name] for name in ("time", "geopotential_height")}
    result = read_flight(write_flight(tmp_path, facts(), bare))
    assert the(result, "wind-not-given").severity == "error"
    empty = rows(wind_speed=np.full(len(rows()["time"]), np.nan))
    result = read_flight(write_flight(tmp_path, facts(), empty))
    assert "column-empty-but-needed" in codes_of(result)


def test_geometric_height_becomes_geopotential(tmp_path):
    """A theodolite gives geometric heights: they are turned with the gravity of the latitude."""
    given = rows()
    given["altitude"] = given.pop("geopotential_height")
    flight = read_flight(write_flight(tmp_path, facts(), given)).raise_for_errors()

    shift = given["altitude"][-1] - flight.ascent["geopotential_height"][-1]
    assert 20.0 < shift < 120.0


def test_rows_without_height_are_left_out(tmp_path):
    """A row without height has no place; it is named."""
    given = rows()
    given["geopotential_height"][7] = np.nan
    result = read_flight(write_flight(tmp_path, facts(), given))

    assert the(result, "row-without-height").rows == (9,)
    assert len(result.value.ascent) == len(given["time"])


def test_pressure_is_used_where_it_was_measured(tmp_path):
    """Winds alone with pressure go by pressure: 44nP1P1, from 850 hPa up."""
    given = rows()
    given["air_pressure"] = 1013.25 * np.exp(-given["geopotential_height"] / 7400.0)
    document = facts()
    document["surface"]["air_pressure_hpa"] = 958.3
    flight = read_flight(write_flight(tmp_path, document, given)).raise_for_errors()
    report = coded(flight)

    assert not flight.ascent.by_height
    assert report.form == "FM 32"
    assert text_of(report, "PPAA").split()[3][:5] == "44385"


# --- levels -----------------------------------------------------------------------------------


@pytest.mark.parametrize("method", ["largest-deviation", "fewest-levels"])
def test_levels_rebuild_every_row(balloon, method):
    """Straight lines in height between significant levels: 10 degrees and 5 m/s, half a step."""
    levels, found = select_levels(balloon, method=method)
    picked = levels.having(LevelKind.SIGNIFICANT_WIND | LevelKind.SURFACE)
    heights = levels["geopotential_height"][picked]
    direction, speed = coded_wind(
        levels["wind_from_direction"][picked],
        levels["wind_speed"][picked],
        _knots(),
    )
    own = balloon.ascent["geopotential_height"]
    inside = own <= heights[-1]
    rebuilt = np.interp(own, heights, speed)
    turned = np.interp(own, heights, np.degrees(np.unwrap(np.radians(direction))))

    assert "tolerance-not-met" not in {item.code for item in found}
    assert np.all(np.abs(rebuilt - balloon.ascent["wind_speed"])[inside] <= 5.0 + 0.2572223)
    off = np.abs(shortest_turn(np.mod(turned, 360.0), balloon.ascent["wind_from_direction"]))
    assert np.all(off[inside] <= 12.5 + 1e-9)


def _knots():
    from encoder.resolution import Coding

    return Coding("kt")


def test_fewest_levels_are_no_more(balloon):
    """The smallest set has no more levels than the other method."""
    counts = [
        len(select_levels(balloon, method=method).value.having(LevelKind.SIGNIFICANT_WIND))
        for method in ("fewest-levels", "largest-deviation")
    ]
    assert counts[0] <= counts[1]


def test_levels_stand_at_whole_units(balloon):
    """Significant winds lie at whole units of 300 m, as the code has no others."""
    levels = select_levels(balloon).value
    picked = levels.having(LevelKind.SIGNIFICANT_WIND)
    heights = levels["geopotential_height"][picked][1:]

    assert np.array_equal(heights, 300.0 * np.round(heights / 300.0))
    assert np.all(np.diff(levels["geopotential_height"]) > 0.0)
    assert np.isnan(levels["air_pressure"]).all()
    assert all(
        "hPa" not in reason.text
        for own in levels.reasons
        for reason in own[:1]
        if own and reason.rule != "standard-by-altitude"
    )


def test_standard_surfaces_come_by_altitude(balloon):
    """From 850 hPa up, at the altitudes that stand for them, marked as found by height."""
    levels = select_levels(balloon).value
    picked = levels.having(LevelKind.STANDARD)
    expected = [z for p, z in STANDARD_ALTITUDES.items() if p <= 850.0 and z <= 20_000.0]

    assert levels["geopotential_height"][picked].tolist() == expected
    assert all(levels.kinds[picked] & int(LevelKind.PRESSURE_FROM_HEIGHT))


def test_maximum_wind_is_that_of_the_flight(balloon):
    """Above the altitude of 500 hPa and over 30 m/s: 45 m/s at 11 km, by altitude."""
    levels = select_levels(balloon).value
    (index,) = levels.having(LevelKind.MAXIMUM_WIND)

    assert abs(levels["geopotential_height"][index] - 11_000.0) <= 50.0
    assert abs(levels["wind_speed"][index] - 45.0) < 0.1
    assert np.isfinite(levels["wind_shear_below"][index])


def test_layer_without_wind_is_shown(tmp_path):
    """A layer of 1500 m or more has limits, and no wind is made up in it (B/C20.7.5)."""
    given = rows()
    lost = (given["geopotential_height"] > 4000.0) & (given["geopotential_height"] < 7000.0)
    given["wind_speed"][lost] = np.nan
    flight = read_flight(write_flight(tmp_path, facts(), given)).value
    levels = select_levels(flight).value
    begin = levels["geopotential_height"][levels.having(LevelKind.BEGIN_MISSING_WIND)]
    end = levels["geopotential_height"][levels.having(LevelKind.END_MISSING_WIND)]
    report = coded(flight)

    assert (begin.tolist(), end.tolist()) == ([3900.0], [7200.0])
    assert " 55385 " in text_of(report, "PPAA")
    assert " ///// " in text_of(report, "PPAA")
    assert " 91468 ///// ///// ///// 92045 ///// 2" in text_of(report, "PPBB")


def test_a_short_gap_is_bridged(tmp_path):
    """A layer of less than 1500 m without wind is read as a straight line."""
    given = rows()
    lost = (given["geopotential_height"] > 4000.0) & (given["geopotential_height"] < 5000.0)
    given["wind_speed"][lost] = np.nan
    levels = select_levels(read_flight(write_flight(tmp_path, facts(), given)).value).value

    assert len(levels.having(LevelKind.BEGIN_MISSING_WIND)) == 0


def test_a_step_of_the_wind_is_told(tmp_path):
    """A wind that jumps within one unit cannot be coded within the limits: a finding says so."""
    given = rows()
    given["wind_speed"][given["geopotential_height"] > 5050.0] += 25.0
    found = select_levels(read_flight(write_flight(tmp_path, facts(), given)).value).diagnostics

    (item, *_more) = [one for one in found if one.code == "tolerance-not-met"]
    assert " m, limit " in item.message
    assert "hPa" not in item.message


@pytest.mark.parametrize(
    ("top", "letters"), [(500.0, 2), (900.0, 2), (16_400.0, 2), (16_900.0, 4), (31_500.0, 4)]
)
def test_any_top(tmp_path, top, letters):
    """Low, middle and high ascents are coded, read back and verified; C and D above 16 500 m."""
    flight = read_flight(write_flight(tmp_path, facts(), rows(top))).value
    report = coded(flight)
    (decoded,), found = decode_reports(report.text)

    assert len(report.parts) == letters
    assert verify(flight, decoded, report_diagnostics=found).may_be_sent


# --- coding -----------------------------------------------------------------------------------


def test_form_follows_the_platform(tmp_path):
    """FM 32 from land, FM 33 from a ship, FM 34 from a mobile station."""
    for platform, form, lead in (
        ("land", "FM 32", "PPAA 65"),
        ("ship", "FM 33", "QQAA QCW07 65"),
        ("mobile", "FM 34", "EEAA QCW07 65"),
    ):
        document = facts(station__platform=platform, station__call_sign="QCW07")
        document["station"]["elevation_quality"] = 3
        flight = read_flight(write_flight(tmp_path, document, rows())).value
        report = coded(flight)
        (decoded,), found = decode_reports(report.text)

        assert form_of_flight(flight) == report.form == form
        assert report.text.startswith(lead)
        assert verify(flight, decoded, report_diagnostics=found).may_be_sent


def test_no_form_of_temperatures_is_filled(balloon):
    """A flight without pressure fills no TEMP: one sentence, no report."""
    with pytest.raises(InputError, match="winds by height alone, which do not fill FM 35"):
        coded(balloon, form="FM 35")


def test_groups_of_the_four_parts(balloon):
    """55nP1P1 and 7HHHH in A, 9tnu1u2u3 in B and D, 55370 in C; a4 in all of them."""
    report = coded(balloon)
    lead, lower, upper, last = (
        text_of(report, letters) for letters in ("PPAA", "PPBB", "PPCC", "PPDD")
    )

    assert lead.startswith("PPAA 65181 90417 55385 ")
    assert " 55340 " in lead
    assert " 55320 " in lead
    assert lead.split()[-3][:2] == "71"
    assert lower.split()[3] == "90/23"
    assert upper.split()[3] == "55170"
    assert upper.endswith(" 77999=")
    assert last.split()[3][0] == "9"


def test_fixed_levels_at_and_above_thirty_kilometres(tmp_path):
    """From 100 units of 300 m on the group begins with 1 (32.3)."""
    flight = read_flight(write_flight(tmp_path, facts(), rows(33_000.0))).value
    report = coded(flight)
    (decoded,), _found = decode_reports(report.text)
    groups = text_of(report, "PPDD").rstrip("=").split()

    assert any(group.startswith("100") for group in groups)
    assert 30_000.0 in decoded.levels["geopotential_height"]
    assert np.nanmax(decoded.levels["geopotential_height"]) == 33_000.0


def test_units_of_five_hundred_metres(tmp_path):
    """reporting.pilot_step 500: the groups begin with 8, and verify reads them so."""
    document = facts(reporting__pilot_step=500)
    flight = read_flight(write_flight(tmp_path, document, rows())).value
    report = coded(flight)
    (decoded,), found = decode_reports(report.text)

    assert text_of(report, "PPBB").split()[3] == "80/12"
    assert verify(flight, decoded, report_diagnostics=found).may_be_sent
    heights = select_levels(flight).value
    picked = heights["geopotential_height"][heights.having(LevelKind.SIGNIFICANT_WIND)][1:]
    assert np.all(np.mod(picked, 500.0) == 0.0)


def test_units_of_a_thousand_feet(tmp_path):
    """Region IV: the surface spelled 0, units of 304.8 m."""
    document = facts(station__wmo_index="72417", station__wmo_region=4)
    document["station"]["wigos_id"] = None
    flight = read_flight(write_flight(tmp_path, document, rows())).value
    report = coded(flight)
    (decoded,), found = decode_reports(report.text)

    assert text_of(report, "PPBB").split()[3] == "90023"
    assert verify(flight, decoded, report_diagnostics=found).may_be_sent
    heights = decoded.levels["geopotential_height"][
        (decoded.levels.kinds & int(LevelKind.SIGNIFICANT_WIND)) != 0
    ]
    heights = heights[np.isfinite(heights)]
    assert np.allclose(np.mod(heights / 304.8 + 0.5, 1.0), 0.5, atol=1e-6)


def test_region_iv_ground_below_one_thousand_feet(tmp_path):
    """Altitudes below the ground are left out."""
    flight = read_flight(
        write_flight(
            tmp_path,
            facts(station__elevation_m=1200.0),
            rows() | {"geopotential_height": rows()["geopotential_height"] + 800.0},
        )
    ).value
    assert text_of(coded(flight), "PPBB").split()[3] == "90/56"


def test_maximum_wind_at_the_top(tmp_path):
    """The greatest wind at the top of the sounding is 6HHHH."""
    given = rows(12_000.0)
    given["wind_speed"] = 5.0 + given["geopotential_height"] / 250.0
    report = coded(read_flight(write_flight(tmp_path, facts(), given)).value)

    assert text_of(report, "PPAA").split()[-3] == "61201"


def test_winds_in_metres_a_second(tmp_path):
    """The unit of the report is that of its practice."""
    flight = read_flight(write_flight(tmp_path, facts(reporting__wind_unit="m s-1"), rows())).value
    report = coded(flight)
    (decoded,), found = decode_reports(report.text)

    assert report.text.startswith("PPAA 15181")
    assert verify(flight, decoded, report_diagnostics=found).may_be_sent


# --- verification -----------------------------------------------------------------------------


def test_report_of_temperatures_is_not_of_this_flight(balloon):
    """A TEMP is no report of a pilot balloon: a verdict says so, no exception."""
    flight = read_flight(FLIGHTS / "harrow-tarn").raise_for_errors()
    (decoded,), found = decode_reports(coded(flight).text)
    verdict = verify(balloon, decoded, report_diagnostics=found)

    assert not verdict.may_be_sent
    assert [item.code for item in verdict.diagnostics] == ["report-of-other-flight"]


def test_verdict_names_heights(balloon):
    """The verdict judges every row to the top, in heights."""
    (decoded,), found = decode_reports(coded(balloon).text)
    verdict = verify(balloon, decoded, report_diagnostics=found)

    assert verdict.may_be_sent
    assert verdict.rows_judged == len(balloon.ascent)
    assert {item.element for item in verdict.worst} == {"wind_from_direction", "wind_speed"}
    assert all(item.pressure is None and item.height is not None for item in verdict.worst)
    assert "hPa" not in verdict_text(verdict)


@pytest.mark.parametrize("letters", ["PPAA", "PPBB", "PPDD"])
def test_wrong_wind_must_not_be_sent(balloon, letters):
    """One wind changed in any part is an error."""
    report = coded(balloon)
    groups = text_of(report, letters).split()
    wrong = " ".join([*groups[:5], "12099", *groups[6:]])
    text = " ".join(
        wrong if part.letters == letters else " ".join(part.text.split()) for part in report.parts
    )
    (decoded,), found = decode_reports(text)
    verdict = verify(balloon, decoded, report_diagnostics=found)

    assert not verdict.may_be_sent


def test_either_spelling_of_the_surface_is_right(balloon):
    """90012 and 90/12 both give the surface wind first."""
    text = coded(balloon).text.replace("90/23", "90023")
    (decoded,), found = decode_reports(text)
    assert verify(balloon, decoded, report_diagnostics=found).may_be_sent


def test_other_significant_altitudes_are_a_choice(balloon):
    """A report with one more significant wind, true to the flight, may be sent."""
    levels = select_levels(balloon).value
    more = levels_at_heights(
        balloon.ascent, np.array([9900.0]), [int(LevelKind.SIGNIFICANT_WIND)], [()]
    )
    text = encode_report(balloon, combine([levels, more], by_height=True)).value.text
    (decoded,), found = decode_reports(text)
    verdict = verify(balloon, decoded, report_diagnostics=found)

    assert text != coded(balloon).text
    assert verdict.differences == ()
    assert verdict.may_be_sent


def test_a_fixed_altitude_left_out_is_told(balloon):
    """Fixed altitudes must all be there: 900 m (units 3) is not a choice."""
    groups = coded(balloon).text.replace("\n", " ")
    lead = groups.index("90/23")
    words = groups[lead:].split(" ")
    text = groups[:lead] + " ".join(["90/2/", words[1], words[2], *words[4:]])
    (decoded,), found = decode_reports(text)
    (item,) = verify(balloon, decoded, report_diagnostics=found).differences

    assert (item.record, item.severity) == ("3 units of altitude", "error")


def test_winds_of_a_radiosonde_are_judged_by_height_too():
    """A PILOT made from a radiosonde flight is judged row by row as well."""
    flight = read_flight(FLIGHTS / "halden-dome").raise_for_errors()
    report = encode_report(flight, select_levels(flight).value, form="FM 32").value
    (decoded,), found = decode_reports(report.text)
    verdict = verify(flight, decoded, report_diagnostics=found)

    assert verdict.may_be_sent
    assert verdict.rows_judged == len(flight.ascent)


def test_levels_left_out_break_the_curve(tmp_path):
    """A part B that ends early leaves rows uncovered."""
    flight = read_flight(write_flight(tmp_path, facts(), rows(12_000.0))).value
    report = coded(flight)
    groups = text_of(report, "PPBB").split()
    short = " ".join(groups[:7]) + "="
    (decoded,), found = decode_reports(f"{text_of(report, 'PPAA')} {short}")
    verdict = verify(flight, decoded, report_diagnostics=found)

    assert "curve-not-covered" in {item.code for item in verdict.diagnostics}
    assert not verdict.may_be_sent


def test_curve_beyond_its_limits_is_told(tmp_path):
    """A wind 30 kt off at one altitude breaks the curve around it, named by height."""
    flight = read_flight(write_flight(tmp_path, facts(), rows(12_000.0))).value
    report = coded(flight)
    groups = text_of(report, "PPBB").split()
    groups[5] = f"{groups[5][:2]}{int(groups[5][2:]) + 30:03d}"
    text = f"{text_of(report, 'PPAA')} {' '.join(groups)}"
    (decoded,), found = decode_reports(text)
    broken = [
        item
        for item in verify(flight, decoded, report_diagnostics=found).diagnostics
        if item.code == "tolerance-broken"
    ]

    assert broken
    assert all(item.path[0].endswith(" m") for item in broken)


# --- BUFR, times, pictures --------------------------------------------------------------------


def test_message_by_height_and_back(balloon):
    """3 09 051: height is the only vertical coordinate; the message gives the same PILOT again."""
    levels = select_levels(balloon).value
    content = message_content(balloon, levels).value
    (sounding,) = read_message(write_message(content).value).value
    agreement = agree(sounding, flight=balloon)
    again = report_of_sounding(sounding, selection="flags").value

    assert content.template.number == "309051"
    assert np.isnan(sounding.levels["air_pressure"]).all()
    assert agreement.agree, agreement_text(agreement)
    assert again.form == "FM 32"
    own = decode_reports(coded(balloon).text).value[0].levels
    theirs = decode_reports(again.text).value[0].levels
    shared = np.intersect1d(own["geopotential_height"], theirs["geopotential_height"])
    assert len(shared) > 20
    for height in shared:
        one, two = (
            float(table["wind_speed"][table["geopotential_height"] == height][0])
            for table in (own, theirs)
        )
        assert abs(one - two) < 0.6


def test_first_message_ends_at_the_altitude_of_100_hpa(balloon):
    """--first: levels up to 16 500 m."""
    content = message_content(balloon, select_levels(balloon).value, first=True).value
    assert max(content.levels["height_coordinate"]) == 16_500.0


def test_first_message_is_not_due_below(tmp_path):
    """Below that altitude the first message is not due, and the height is named."""
    flight = read_flight(write_flight(tmp_path, facts(), rows(9000.0))).value
    found = message_content(flight, select_levels(flight).value, first=True).diagnostics
    (item,) = [one for one in found if one.code == "bufr-first-message-not-due"]
    assert "9012 m" in item.message or "9000 m" in item.message or " m." in item.message


def test_due_times_go_by_altitude(balloon, tmp_path):
    """Parts A and B are ready when the balloon passes 16 500 m."""
    passed = passed_100_hpa(balloon)
    seconds = (passed - balloon.release_time).total_seconds()
    states = {item.name: item.ready for item in due_times(balloon).value}

    assert abs(seconds - (16_500.0 - 412.0) / 5.0) < 10.0
    assert states["parts A and B"] == passed
    low = read_flight(write_flight(tmp_path, facts(), rows(9000.0))).value
    early = compose_early(low, coded(low), centre="XNOR", area="ZZ")
    assert [item.code for item in early.diagnostics] == ["early-not-yet"]
    assert " m." in early.diagnostics[0].message


def test_page_and_pictures(balloon):
    """The page validates, places rows by the standard atmosphere, and invents no pressure."""
    from encoder.page import flight_page
    from encoder.page.document import page_document
    from encoder.page.review import review_of_flight
    from encoder.plot.figure import VIEWS, plot_sounding

    review = review_of_flight(balloon)
    document = page_document(review)

    assert review.verdict.may_be_sent
    assert review.fit.worst["wind_speed"].misfit <= review.fit.worst["wind_speed"].limit
    assert set(document["profile"]["air_pressure"]) == {None}
    assert all(place is not None for place in document["profile"]["place"])
    assert sum(1 for level in document["levels"] if level["rows"]) > 20
    assert ">nan" not in flight_page(review)
    for view in VIEWS:
        assert plot_sounding(review, view=view, suffix="svg").startswith(b"<?xml")


def test_regional_groups_of_winds_alone(balloon):
    """Extra winds by pressure cannot be given without pressure: no section 5 at all."""
    asked = balloon.with_reporting(regional_from_flight=True)
    assert "51515" not in coded(asked).text
    assert not has_errors(encode_report(asked, select_levels(asked).value).diagnostics)


def test_surface_pressure_stays_an_observation(tmp_path):
    """A surface pressure that was observed is kept as such and gives no level a pressure."""
    document = facts()
    document["surface"]["air_pressure_hpa"] = 965.0
    flight = read_flight(write_flight(tmp_path, document, rows())).value

    assert flight.surface.air_pressure == 965.0
    assert np.isnan(select_levels(flight).value["air_pressure"]).all()
    assert replace(flight, document={}).ascent.by_height


@pytest.mark.parametrize(
    ("practice", "words"),
    [
        ({"pilot_significant_by": "pressure"}, ("44385", " 21212 00968 ")),
        ({"pilot_standard_by": "altitude"}, ("55385", " 90/23 ")),
        ({"pilot_step": 500}, ("44385", " 80/12 ")),
        ({}, ("44385", " 90/23 ")),
    ],
)
def test_practice_of_the_station(practice, words):
    """reporting.pilot_... choose how a flight with pressure gives its winds; verify follows."""
    flight = read_flight(FLIGHTS / "harrow-tarn").raise_for_errors().with_reporting(**practice)
    report = encode_report(flight, select_levels(flight).value, form="FM 32").value
    (decoded,), found = decode_reports(report.text)

    assert text_of(report, "PPAA").split()[3] == words[0]
    assert words[1] in text_of(report, "PPBB") + " "
    assert verify(flight, decoded, report_diagnostics=found).may_be_sent
