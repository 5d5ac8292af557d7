"""Reports of pilot balloons: groups, verification, messages, times and pictures."""

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
from encoder.levels.combine import combine
from encoder.levels.heights import levels_at_heights
from encoder.report import decode_reports, encode_report, form_of_flight
from encoder.verify import verdict_text, verify
from encoder.verify.bufr import agree, agreement_text
from tests.flights import write_flight
from tests.pilot_balloons import coded, facts, rows, text_of

FLIGHTS = Path(__file__).resolve().parents[2] / "samples" / "flights"


@pytest.fixture
def balloon(tmp_path):
    """Return the flight of :func:`rows`."""
    return read_flight(write_flight(tmp_path, facts(), rows())).raise_for_errors()


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
