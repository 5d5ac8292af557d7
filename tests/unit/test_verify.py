"""The verdict: every way a report can differ from its flight is seen, and nothing else."""

from __future__ import annotations

import pytest

from encoder.catalogue.verify import RULES
from encoder.diagnostics import Severity
from encoder.levels import select_levels
from encoder.report import decode_reports, encode_report
from encoder.verify import verdict_text, verify

NAME = "harrow-tarn"


def report_of(flight, **options):
    return encode_report(flight, select_levels(flight, **options).value).value.text


def verdict_of(flight, text):
    decoded = decode_reports(text, formula=flight.vapour_pressure_formula)
    return verify(flight, decoded.value[0], report_diagnostics=decoded.diagnostics)


def codes(verdict, severity=Severity.ERROR):
    return {item.code for item in verdict.diagnostics if item.severity is severity}


def differing(verdict):
    return {(item.part, item.section, item.element) for item in verdict.differences}


def group_after(text, lead):
    """The group that follows another one."""
    groups = text.split()
    return groups[groups.index(lead) + 1]


@pytest.mark.parametrize("name", ["harrow-tarn", "halden-dome", "saltmere-point"])
@pytest.mark.parametrize("method", ["largest-deviation", "fewest-levels"])
def test_own_report_may_be_sent(name, method, sample_flights):
    """The report made from a flight stands, by either method, and no element is off."""
    flight = sample_flights[name]

    verdict = verdict_of(flight, report_of(flight, method=method))

    assert verdict.may_be_sent
    assert verdict.differences == ()
    assert verdict.rows_judged == len(flight.ascent)
    assert {item.element for item in verdict.worst} == {
        "air_temperature",
        "relative_humidity",
        "wind_from_direction",
        "wind_speed",
        "geopotential_height",
    }
    assert all(item.within for item in verdict.worst)


def test_a_report_just_encoded_is_judged_as_it_would_be_printed(sample_flights):
    """Unrounded levels beside the text do not count: what is printed is judged."""
    flight = sample_flights[NAME]
    report = encode_report(flight, select_levels(flight).value).value

    assert verify(flight, report) == verdict_of(flight, report.text)


def test_limits_are_those_of_the_regulations(sample_flights):
    """Limits: 1 or 2 K, 15 %, 10 degrees, 5 m/s, each plus the half step (35.3.1.3, 35.3.2.1)."""
    flight = sample_flights[NAME]
    worst = {item.element: item for item in verdict_of(flight, report_of(flight)).worst}

    assert worst["air_temperature"].limit in (pytest.approx(1.1), pytest.approx(2.1))
    assert worst["wind_from_direction"].limit == pytest.approx(12.5)
    assert worst["wind_speed"].limit == pytest.approx(5.0 + 0.5 * 1852 / 3600)
    assert 15.0 < worst["relative_humidity"].limit < 25.0


def test_wrong_standard_temperature(sample_flights):
    """A temperature of a standard level that is 3 K off is an error in its field."""
    flight = sample_flights[NAME]
    text = report_of(flight)
    right = group_after(text, next(g for g in text.split() if g.startswith("5057")))
    wrong = f"{int(right[:3]) + 30:03d}{right[3:]}"

    verdict = verdict_of(flight, text.replace(right, wrong, 1))

    assert not verdict.may_be_sent
    assert ("TTAA", "2", "air_temperature") in differing(verdict)


def test_one_step_is_a_warning(sample_flights):
    """A field one step of the code off is a warning, not an error."""
    flight = sample_flights[NAME]
    text = report_of(flight)
    lead = next(g for g in text.split() if g.startswith("85"))
    verdict = verdict_of(flight, text.replace(lead, f"85{int(lead[2:]) + 1:03d}", 1))

    (difference,) = verdict.differences
    assert difference.severity is Severity.WARNING
    assert difference.steps == pytest.approx(1.0)
    assert verdict.warnings() == 1


def test_left_out_significant_level(sample_flights):
    """Without one significant level the curve is off, with the row named."""
    flight = sample_flights[NAME]
    text = report_of(flight)
    begin = text.index("TTBB")
    groups = text[begin : text.index("21212", begin)].split()
    dropped = " ".join(groups[:9] + groups[13:])

    verdict = verdict_of(
        flight, text.replace(text[begin : text.index("21212", begin)], dropped + " ")
    )

    assert "tolerance-broken" in codes(verdict)
    assert not verdict.may_be_sent
    broken = next(item for item in verdict.diagnostics if item.code == "tolerance-broken")
    assert broken.rows
    assert "TOO LARGE" in verdict_text(verdict)


def test_wrong_significant_wind(sample_flights):
    """A significant wind that is not what the flight has at that pressure is an error."""
    flight = sample_flights[NAME]
    text = report_of(flight)
    at = text.index("21212")
    groups = text[at:].split()
    wind = groups[4]
    wrong = f"{(int(wind[:2]) + 18) % 36:02d}{wind[2:]}"

    verdict = verdict_of(flight, text[:at] + text[at:].replace(wind, wrong, 1))

    assert "level-not-in-flight" in codes(verdict)


def test_wrong_surface_level_of_part_b(sample_flights):
    """The surface level of part B is held against the surface observation, and against part A."""
    flight = sample_flights[NAME]
    text = report_of(flight)
    at = text.index("TTBB")
    verdict = verdict_of(flight, text[:at] + text[at:].replace(" 13827 ", " 13867 ", 1))

    assert {"level-not-in-flight", "parts-disagree"} <= codes(verdict)


def test_wrong_minute_of_release(sample_flights):
    """The time of release is known to the minute: another one is an error."""
    flight = sample_flights[NAME]
    verdict = verdict_of(flight, report_of(flight).replace("82321", "82322"))

    assert ("TTAA", "7", "release_minute") in differing(verdict)
    assert not verdict.may_be_sent


def test_other_station_and_hour(sample_flights):
    """A report of another station or hour is an error that says what differs."""
    flight = sample_flights[NAME]
    verdict = verdict_of(flight, report_of(flight).replace("90417", "90731"))

    assert "report-of-other-flight" in codes(verdict)
    assert "station 90731 instead of 90417" in " ".join(verdict_text(verdict).split())


def test_other_flight(sample_flights):
    """The report of one flight does not stand for another."""
    verdict = verdict_of(sample_flights["halden-dome"], report_of(sample_flights[NAME]))

    assert not verdict.may_be_sent
    assert verdict.errors() > 10


def test_missing_parts_are_told(sample_flights):
    """A lone part A may be sent; what else the flight would give is told."""
    flight = sample_flights[NAME]
    text = report_of(flight)
    verdict = verdict_of(flight, text[: text.index("TTBB")])

    assert verdict.may_be_sent
    assert verdict.rows_judged == 0
    assert [item.path for item in verdict.diagnostics if item.code == "part-not-given"] == [
        ("TTBB",),
        ("TTCC",),
        ("TTDD",),
    ]


def test_parts_a_and_b_alone_are_judged_to_100_hpa(sample_flights):
    """Without part D only the rows to 100 hPa are judged."""
    flight = sample_flights[NAME]
    text = report_of(flight)
    verdict = verdict_of(flight, text[: text.index("TTCC")])

    assert verdict.may_be_sent
    assert 0 < verdict.rows_judged < len(flight.ascent)


def test_cut_report_does_not_cover_the_flight(sample_flights):
    """A part B that ends too early leaves observed rows uncovered."""
    flight = sample_flights[NAME]
    text = report_of(flight)
    begin, end = text.index("TTBB"), text.index("21212")
    groups = text[begin:end].split()
    verdict = verdict_of(flight, text[:begin] + " ".join(groups[:-8]) + "=\n")

    assert {"curve-not-covered"} <= codes(verdict)
    assert "mandatory-level-missing" in codes(verdict, Severity.WARNING)


def test_damaged_group_stands_against_sending(sample_flights):
    """An error of decoding is an error of the verdict."""
    flight = sample_flights[NAME]
    text = report_of(flight)
    lead = next(g for g in text.split() if g.startswith("701"))
    verdict = verdict_of(flight, text.replace(group_after(text, lead), "0X272", 1))

    assert "group-malformed" in codes(verdict)


def test_metres_per_second_report_of_a_knots_station(sample_flights):
    """The unit is read from the report; winds are then compared in its own steps."""
    flight = sample_flights[NAME]
    levels = select_levels(flight.with_reporting(wind_unit="m s-1")).value
    text = encode_report(flight.with_reporting(wind_unit="m s-1"), levels).value.text
    verdict = verdict_of(flight, text)

    assert not [item for item in verdict.differences if item.element == "wind_speed"]


def test_unreachable_tolerance_is_a_warning(sample_flights):
    """Rows no choice of levels can serve are told as such and do not forbid sending."""
    import numpy as np

    flight = sample_flights["halden-dome"]
    temperature = flight.ascent["air_temperature"].copy()
    row = int(np.searchsorted(-flight.ascent["air_pressure"], -450.2))
    temperature[row] += 9.0
    temperature[row + 1] -= 9.0
    from dataclasses import replace

    spiked = replace(flight, ascent=flight.ascent.with_columns({"air_temperature": temperature}))
    verdict = verdict_of(spiked, report_of(spiked))

    assert "tolerance-not-reachable" in codes(verdict, Severity.WARNING)
    assert "tolerance-broken" not in codes(verdict)


def test_every_code_is_triggered_here():
    """Each diagnostic of this stage has a test above."""
    assert set(RULES) == {
        "report-of-other-flight",
        "tolerance-broken",
        "tolerance-not-reachable",
        "curve-not-covered",
        "mandatory-level-missing",
        "level-not-in-flight",
        "part-not-given",
    }
