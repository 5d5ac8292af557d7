"""The facts of a flight: what they become, and when they contradict each other."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from encoder.diagnostics import Severity
from encoder.formats.flight_facts import flight_facts
from encoder.physics import dew_point, relative_humidity
from encoder.profile import CloudGroup, Instrument, Reporting, Station
from tests.flights import FACTS, codes_of, facts_of, the


def test_facts_become_values():
    """Station, times and surface come out in the units of the package."""
    result = flight_facts(FACTS)
    facts = result.value
    assert result.diagnostics == ()
    assert facts.station == Station(
        "Harrow Tarn", 54.31, 12.84, 412.0, "90417", "0-20000-0-90417", 6
    )
    assert facts.nominal_time == datetime(2031, 7, 15, 18, tzinfo=UTC)
    assert facts.release_time == datetime(2031, 7, 15, 17, 16, 30, tzinfo=UTC)
    assert facts.surface.air_pressure == 964.8
    assert facts.surface.dew_point_temperature == float(dew_point(15.0, 60.0, "wmo-49"))
    assert (facts.instrument, facts.reporting) == (Instrument(), Reporting())
    assert facts.vapour_pressure_formula == "wmo-49"


def test_instrument_and_reporting_are_taken_over():
    """Figures stay figures; whole numbers written with a point are whole numbers."""
    facts = flight_facts(
        facts_of(
            instrument__radiosonde_type=90.0,
            instrument__tracking=8,
            instrument__correction="5",
            instrument__wind_equipment="8",
            instrument__serial="A1",
            instrument__vapour_pressure_formula="wmo-8",
            reporting__wind_unit="m s-1",
            reporting__criteria="fmh-3",
            reporting__section_7_parts=["A"],
            reporting__shear=False,
            reporting__high_levels=True,
            reporting__national_groups=["61616", "12345"],
            surface__cloud={"amount": "3", "low": "1", "$comment": "x"},
        )
    ).value
    assert facts.instrument == Instrument(90, "5", 8, "8", "A1")
    assert isinstance(facts.instrument.radiosonde_type, int)
    assert facts.reporting == Reporting(
        "m s-1", "fmh-3", ("A",), False, True, (), ("61616", "12345")
    )
    assert facts.surface.cloud == CloudGroup("3", "1", "/", "/", "/")
    assert facts.surface.dew_point_temperature == float(dew_point(15.0, 60.0, "wmo-8"))


def test_surface_dew_point_in_place_of_humidity():
    """Humidity and dew point are completed from each other with the formula of the flight."""
    document = facts_of(surface__dew_point_degc=7.0, surface__relative_humidity_percent=None)
    surface = flight_facts(document).value.surface
    assert surface.dew_point_temperature == 7.0
    assert surface.relative_humidity == float(relative_humidity(15.0, 7.0))


def test_surface_values_not_observed_stay_missing():
    """null and an absent key are missing values; nothing is invented."""
    document = facts_of(surface__air_temperature_degc=None, surface__wind_speed_m_s=None)
    del document["surface"]["wind_from_direction_degree"]
    surface = flight_facts(document).value.surface
    assert np.isnan(surface.air_temperature)
    assert np.isnan(surface.dew_point_temperature)
    assert np.isnan([surface.wind_from_direction, surface.wind_speed]).all()
    assert surface.cloud is None


@pytest.mark.parametrize(
    ("direction", "speed", "expected"),
    [
        (240.0, 10.0, (240.0, 10.0 * 1852.0 / 3600.0)),
        (0.0, 10.0, (360.0, 10.0 * 1852.0 / 3600.0)),
        (240.0, 0.0, (0.0, 0.0)),
        (None, 0.0, (0.0, 0.0)),
    ],
)
def test_surface_wind_in_knots(direction, speed, expected):
    """Knots are converted; north is 360; calm is 0 whatever the direction."""
    document = facts_of(surface__wind_from_direction_degree=direction, surface__wind_speed_kt=speed)
    del document["surface"]["wind_speed_m_s"]
    surface = flight_facts(document).value.surface
    assert (surface.wind_from_direction, surface.wind_speed) == expected


@pytest.mark.parametrize(
    ("changes", "code", "severity"),
    [
        ({"release_time": "2031-02-30T17:16Z"}, "time-does-not-exist", Severity.ERROR),
        ({"nominal_time": "2031-07-15T25:00Z"}, "time-does-not-exist", Severity.ERROR),
        ({"release_time": "2031-07-16T17:16Z"}, "release-far-from-nominal", Severity.ERROR),
        ({"release_time": "2031-07-15T16:50Z"}, "release-not-usual", Severity.WARNING),
        ({"release_time": "2031-07-15T18:30Z"}, "release-not-usual", Severity.WARNING),
        ({"nominal_time": "2031-07-15T17:30Z"}, "nominal-time-not-whole-hour", Severity.WARNING),
        (
            {"station__wigos_id": "0-20000-0-90418"},
            "station-identifiers-differ",
            Severity.ERROR,
        ),
        ({"surface__dew_point_degc": 7.0}, "surface-given-twice", Severity.ERROR),
        ({"surface__wind_speed_kt": 7.0}, "surface-given-twice", Severity.ERROR),
        (
            {"surface__dew_point_degc": 16.0, "surface__relative_humidity_percent": None},
            "surface-dew-point-above-temperature",
            Severity.ERROR,
        ),
        ({"surface__wind_speed_m_s": None}, "surface-wind-incomplete", Severity.WARNING),
        (
            {"reporting__regional_groups": ["61616", "1"]},
            "groups-without-indicator",
            Severity.ERROR,
        ),
        ({"reporting__national_groups": ["12345"]}, "groups-without-indicator", Severity.ERROR),
    ],
)
def test_facts_that_contradict_each_other(changes, code, severity):
    """What cannot be is an error and gives no facts; what is unusual is a warning."""
    result = flight_facts(facts_of(**changes))
    found = the(result, code)
    assert found.severity is severity
    assert (result.value is None) == (severity is Severity.ERROR)
    assert found.path


def test_usual_release_times_say_nothing():
    """From an hour before to 29 minutes after the nominal time a release is usual."""
    for time in ("17:00", "17:15", "18:00", "18:29"):
        assert codes_of(flight_facts(facts_of(release_time=f"2031-07-15T{time}Z"))) == []


def test_wigos_identifier_of_another_series_is_not_compared():
    """Only identifiers of issuer 20000 hold the WMO index."""
    assert codes_of(flight_facts(facts_of(station__wigos_id="0-20001-0-XY"))) == []
