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


@pytest.mark.parametrize("name", ["harrow-tarn", "saltmere-point"])
@pytest.mark.parametrize("method", ["largest-deviation", "fewest-levels"])
@pytest.mark.parametrize("letters", ["AB", "ABC", "ABD", "A", "B", "C", "D", "CD", "AC", "BD"])
def test_parts_alone_may_be_sent(name, method, letters, sample_flights):
    """A correct report may be sent part by part, as it is at 100 hPa."""
    flight = sample_flights[name]
    levels = select_levels(flight, method=method).value
    text = encode_report(flight, levels, letters=letters).value.text

    verdict = verdict_of(flight, text)

    assert verdict.may_be_sent, verdict_text(verdict)


def test_a_part_the_flight_does_not_have(sample_flights):
    """A part above the top of the flight is invented."""
    flight = sample_flights["halden-dome"]
    wrong = "TTCC 70127 90731 70846 56968 33030 50060 57168 34020 88999 77999 31313 59008 81117=\n"

    verdict = verdict_of(flight, report_of(flight) + wrong)

    assert "part-not-in-flight" in codes(verdict)


def test_humidity_invented_across_a_gap(sample_flights):
    """Without the level that shows the layer without humidity, a reader sees humidity there."""
    flight = sample_flights["saltmere-point"]
    text = report_of(flight)
    at = text.index("TTBB")
    before, heat, rest = text[:at], *text[at:].split("21212", 1)
    groups = heat.split()
    pairs = [groups[i : i + 2] for i in range(3, len(groups), 2)]
    kept = [pair for pair in pairs if not pair[1].endswith("//")]
    numbers = ["00", *[f"{n}{n}" for n in range(1, 10)] * 9]
    again = [f"{numbers[i]}{pair[0][2:]} {pair[1]}" for i, pair in enumerate(kept)]

    verdict = verdict_of(flight, f"{before}{' '.join([*groups[:3], *again])} 21212{rest}")

    assert len(kept) < len(pairs)
    assert "curve-invented" in codes(verdict)


def test_group_of_solidi_where_the_flight_has_a_wind(sample_flights):
    """A wind left out of section 6 is an error even where another part still has it."""
    flight = sample_flights["halden-dome"]
    text = report_of(flight)
    at = text.index("21212")
    groups = text[at:].split()
    wrong = text[:at] + text[at:].replace(f"{groups[5]} {groups[6]}", f"{groups[5]} /////", 1)

    assert "value-left-out" in codes(verdict_of(flight, wrong))


def test_missing_none_group(sample_flights):
    """Where there is no tropopause the part says so; leaving 88999 out is an error."""
    flight = sample_flights[NAME]
    text = report_of(flight)

    assert "section-missing" in codes(verdict_of(flight, text.replace("88999 ", "", 1)))


def test_lost_opening_letters(sample_flights):
    """Groups without the letters that open their part are not a remark."""
    flight = sample_flights[NAME]
    text = report_of(flight)
    verdict = verdict_of(flight, text.replace("TTCC ", "", 1))

    assert "text-outside-report" in codes(verdict)


@pytest.mark.parametrize(
    ("wrong", "code"),
    [
        (lambda text: text.replace("=\nTTBB", "\nTTBB", 1), "report-not-ended"),
        (
            lambda text: text + text[: text.index("=")].replace(" 13827", " 13829") + "=",
            "part-twice",
        ),
        (lambda text: text.replace(" 11951 ", " 22951 ", 1), "level-number"),
    ],
)
def test_broken_form_is_seen(wrong, code, sample_flights):
    """What may be read may still not be sent as it is."""
    flight = sample_flights[NAME]
    verdict = verdict_of(flight, wrong(report_of(flight)))

    assert code in codes(verdict) | codes(verdict, Severity.WARNING)


def test_groups_that_cannot_be_verified_are_named(sample_flights):
    """Regional groups the flight does not give are named."""
    flight = sample_flights[NAME]
    text = report_of(flight).replace("=\nTTCC", " 51515 10164 00006=\nTTCC", 1)

    assert "groups-not-of-flight" in codes(verdict_of(flight, text), Severity.WARNING)


@pytest.mark.parametrize("name", ["harrow-tarn", "halden-dome", "saltmere-point"])
def test_any_damage_gives_a_verdict(name, sample_flights):
    """Whatever happens to a report, there is a verdict and no exception."""
    import random

    flight = sample_flights[name]
    text = report_of(flight)
    chance = random.Random(7)
    for _ in range(60):
        groups = text.split(" ")
        at = chance.randrange(len(groups))
        kind = chance.choice(("lost", "solidi", "swapped", "figure", "half"))
        if kind == "lost":
            del groups[at]
        elif kind == "solidi":
            groups[at] = "/////"
        elif kind == "swapped" and at:
            groups[at], groups[at - 1] = groups[at - 1], groups[at]
        elif kind == "figure":
            place = chance.randrange(len(groups[at]))
            groups[at] = (
                groups[at][:place] + chance.choice("0123456789/X") + groups[at][place + 1 :]
            )
        else:
            groups[at] = groups[at][:2] + "///"
        decoded = decode_reports(" ".join(groups), formula=flight.vapour_pressure_formula)
        for report in decoded.value:
            verdict = verify(flight, report, report_diagnostics=decoded.diagnostics)
            assert verdict_text(verdict)


def test_every_code_is_triggered_here():
    """Each diagnostic of this stage has a test above."""
    assert set(RULES) == {
        "report-of-other-flight",
        "tolerance-broken",
        "tolerance-not-reachable",
        "curve-not-covered",
        "curve-invented",
        "mandatory-level-missing",
        "level-not-in-flight",
        "value-left-out",
        "part-not-given",
        "part-not-in-flight",
        "section-missing",
        "groups-not-of-flight",
    }
