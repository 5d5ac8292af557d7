"""What a BUFR message of a flight says, and what stops it from being written."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from encoder.diagnostics import has_errors
from encoder.formats.bufr.compose import corrected, message_content, nil_content
from encoder.formats.bufr.content import check_content
from encoder.formats.bufr.facts import EQUIPMENT, TERMINATIONS, origin_of
from encoder.formats.bufr.monthly import monthly_message as message_of_means
from encoder.formats.bufr.monthly import read_monthly, write_monthly
from encoder.formats.bufr.read import read_message, read_subsets
from encoder.formats.bufr.rows import LevelRows, coded_wind, with_positions
from encoder.formats.bufr.sections import read_header
from encoder.formats.bufr.write import write_message
from encoder.levels import select_levels
from encoder.levels.table import LevelKind
from encoder.profile import Profile
from tests.bufr_soundings import facts_with, monthly_message, platform_flight

SURFACE_KINDS = 131072 + 8192 + 4096 + 2048


@pytest.fixture(scope="module")
def saltmere(sample_flights):
    return sample_flights["saltmere-point"]


@pytest.fixture(scope="module")
def levels(saltmere):
    return select_levels(saltmere).value


@pytest.fixture(scope="module")
def content(saltmere, levels):
    return message_content(saltmere, levels, rows="selected").value


def changed(content, name, index, value):
    """Return the content with one value of one level changed."""
    columns = {key: np.array(values) for key, values in content.levels.items()}
    columns[name][index] = value
    return replace(content, levels=columns)


def with_fact(content, name, value):
    """Return the content with one fact changed."""
    names = [element.name for element in content.template.before]
    before = list(content.before)
    before[names.index(name)] = value
    return replace(content, before=tuple(before))


def codes(diagnostics):
    return [item.code for item in diagnostics]


# --- what cannot be represented -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("temperature", 655.35),  # all bits set: would come back as missing
        ("temperature", 700.0),
        ("temperature", -0.01),
        ("temperature", np.inf),
        ("wind_speed", 409.5),
        ("wind_speed", -0.1),
        ("wind_direction", 511.0),
        ("pressure", 262143.0),
        ("pressure", -1.0),
        ("height", -1000.1),
        ("height", 208715.1),
        ("time", 24575.0),
        ("time", -8193.0),
        ("latitude_displacement", -90.00001),
        ("longitude_displacement", -180.00001),
        ("significance", 262143.0),
    ],
)
def test_levels_out_of_range_are_told_before_coding(content, name, value):
    """Beyond the range of the element, the code of missing included: nothing is written."""
    result = write_message(changed(content, name, 3, value))

    assert result.value is None
    assert codes(result.diagnostics) == ["bufr-not-representable"]
    assert "level 4" in result.diagnostics[0].message
    assert name in result.diagnostics[0].message


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("latitude", float("nan")),
        ("latitude", 90.1 + 1e5),
        ("longitude", float("inf")),
        ("block_number", 127.0),
        ("call_sign", "TEN-LETTER"),
        ("call_sign", "ÄÖÜ"),
        ("call_sign", "A\nB"),
        ("serial_number", "x" * 21),
        ("call_sign", 7.0),
        ("year", "2031"),
        ("balloon_mass", 4.095),
        ("frequency", 3.3e9),
        ("ground_height", -400.1),
    ],
)
def test_facts_that_do_not_fit_are_told_before_coding(content, name, value):
    """NaN, out of range, too long, not ASCII, text for a number: nothing is written."""
    result = write_message(with_fact(content, name, value))

    assert result.value is None
    assert codes(result.diagnostics) == ["bufr-not-representable"]
    assert name in result.diagnostics[0].message


def test_missing_values_stay_missing(content):
    """NaN becomes missing in every element of a level, never the lowest value (0 K)."""
    for name in ("temperature", "dew_point", "wind_speed", "wind_direction", "height", "time"):
        message = write_message(changed(content, name, 5, np.nan)).value
        for reader in ("auto", "library"):
            block = next(
                read_subsets(message, read_header(message).value, reader=reader).value[0].blocks()
            )
            place = [element.name for element in content.template.level].index(name)
            assert np.isnan(block.values[5, place])
            assert not np.isnan(block.values[4, place])


def test_lowest_and_highest_values_survive(content):
    """Both ends of the range of every level element come back."""
    for element in content.template.level:
        if element.name == "significance":
            continue
        for value in (element.lowest, element.highest):
            message = write_message(changed(content, element.name, 2, value)).value
            block = next(read_subsets(message, read_header(message).value).value[0].blocks())
            place = content.template.level.index(element)
            assert block.values[2, place] == pytest.approx(value, abs=element.step / 4)


def test_a_level_without_pressure_is_told(content):
    """Only a NIL message may have a level without its coordinate."""
    result = write_message(changed(content, "pressure", 7, np.nan))

    assert result.value is None
    assert "bufr-level-without-coordinate" in codes(result.diagnostics)


def test_too_many_levels_are_told(content):
    """Wind shear is counted with 8 bits, of which the last value means missing."""
    shear = {name: np.repeat(values[:1], 255) for name, values in content.shear.items()}

    assert codes(check_content(replace(content, shear=shear))) == ["bufr-too-many-levels"]


def test_a_message_larger_than_a_bulletin_is_told(content):
    """Beyond 500,000 octets: an error, with the message for those who want it anyway."""
    count = 23000
    columns = {name: np.repeat(values[-2:-1], count) for name, values in content.levels.items()}
    result = write_message(replace(content, levels=columns))

    assert codes(result.diagnostics) == ["bufr-too-large"]
    assert len(result.value) > 500_000


def test_many_faults_are_counted(content):
    """Three faults of an element are named, the others counted."""
    columns = {key: np.array(values) for key, values in content.levels.items()}
    columns["temperature"][:9] = 900.0
    result = write_message(replace(content, levels=columns))

    assert len(result.diagnostics) == 4
    assert "6 more levels" in result.diagnostics[-1].message


# --- levels ---------------------------------------------------------------------------------------


def test_each_level_once_in_descending_pressure(saltmere, levels):
    """All rows and the levels between them, once each (B/C25.7)."""
    whole = message_content(saltmere, levels, template="309057").value
    pressure = whole.levels["pressure"]
    between = sum(1 for rows in levels.rows if len(rows) != 1)

    assert np.all(np.diff(pressure) < 0.0)
    assert whole.count == len(saltmere.ascent) + between
    assert int(np.count_nonzero(whole.levels["significance"])) == len(levels)


def test_kinds_are_combined(content, levels):
    """Every kind of every level is in its flags, the surface with all four (145408)."""
    flags = content.levels["significance"].astype(int)
    surface = int(levels.having(LevelKind.SURFACE)[0])

    assert flags[surface] == SURFACE_KINDS
    assert all(
        int(kind) & flag == int(kind) for kind, flag in zip(levels.kinds, flags, strict=True)
    )
    maximum = flags[levels.having(LevelKind.MAXIMUM_WIND)]
    assert np.all(maximum & int(LevelKind.SIGNIFICANT_WIND))


def test_standard_levels_below_the_ground_come_first(content):
    """1000 hPa under a low: height, time and displacements 0, nothing else (B/C25.8.2.2)."""
    first = {name: values[0] for name, values in content.levels.items()}

    assert first["pressure"] == 100000.0
    assert first["significance"] == 65536
    assert (first["time"], first["latitude_displacement"], first["longitude_displacement"]) == (
        0.0,
        0.0,
        0.0,
    )
    assert first["height"] == pytest.approx(-345.0, abs=1.0)
    assert all(np.isnan(first[name]) for name in ("temperature", "dew_point", "wind_speed"))


def test_extrapolated_height_ends_the_message(content):
    """10 hPa above the top: height alone, time and wind missing (B/C25.8.2.4)."""
    last = {name: values[-1] for name, values in content.levels.items()}

    assert last["pressure"] == 1000.0
    assert np.isfinite(last["height"])
    assert all(np.isnan(last[name]) for name in ("time", "temperature", "wind_speed"))


def test_limits_of_missing_layers_are_flagged(content):
    """Humidity lost between 641 and 606 hPa: begin and end are flagged (B/C25.8.9)."""
    flags = content.levels["significance"].astype(int)
    begin = np.flatnonzero(flags & int(LevelKind.BEGIN_MISSING_HUMIDITY))
    end = np.flatnonzero(flags & int(LevelKind.END_MISSING_HUMIDITY))

    assert (len(begin), len(end)) == (1, 1)
    assert 60000 < content.levels["pressure"][end[0]] < content.levels["pressure"][begin[0]] < 65000


def test_wind_shear_block_has_the_maximum_winds(content, levels):
    """One level of shear for each maximum wind that has one (B/C25.9)."""
    (place,) = levels.having(LevelKind.MAXIMUM_WIND)

    assert content.shear_count == 1
    assert content.shear["pressure"][0] == pytest.approx(levels["air_pressure"][place] * 100.0)
    assert content.shear["shear_below"][0] == pytest.approx(levels["wind_shear_below"][place])


def test_displacements_are_those_measured(content, levels):
    """Positions less the station's, degrees."""
    place = int(levels.having(LevelKind.TROPOPAUSE)[0])

    assert content.levels["latitude_displacement"][place] == pytest.approx(
        levels["latitude"][place] - 57.7338
    )


def test_displacements_are_integrated_where_none_were_measured(saltmere):
    """Without positions the wind gives them: within 2 % of the measured drift."""
    ascent = saltmere.ascent
    bare = {name: ascent[name] for name in ascent if name not in ("latitude", "longitude")}
    without = replace(saltmere, ascent=type(ascent)(bare, ascent.source_row, ascent.computed))
    result = message_content(without, select_levels(without).value)
    measured = message_content(saltmere, select_levels(saltmere).value).value

    assert "bufr-positions-from-wind" in codes(result.diagnostics)
    assert result.value.count == measured.count
    for name in ("latitude_displacement", "longitude_displacement"):
        own, other = result.value.levels[name][-3], measured.levels[name][-3]
        assert own == pytest.approx(other, rel=0.02)


def test_longitudes_wrap_across_the_date_line(saltmere):
    """A balloon that crosses 180 degrees moves on by small displacements."""
    ascent = saltmere.ascent
    longitude = np.mod(ascent["longitude"] + 16.9046 + 179.9 + 180.0, 360.0) - 180.0
    moved = replace(
        saltmere,
        ascent=ascent.with_columns({"longitude": longitude}),
        station=replace(saltmere.station, longitude=179.9),
    )
    written = message_content(moved, select_levels(moved).value).value
    message = write_message(written).value
    (sounding,) = read_message(message).value

    assert np.nanmax(np.abs(written.levels["longitude_displacement"])) < 5.0
    assert np.nanmin(sounding.levels["longitude"]) < -170.0
    assert np.nanmax(sounding.levels["longitude"]) > 170.0


def test_north_is_360_and_calm_is_0():
    """0 with a speed would mean light and variable (note to 0 11 001)."""
    direction, _speed = coded_wind(
        np.array([0.3, 359.7, 360.0, 0.0, 240.0, np.nan]),
        np.array([5.0, 5.0, 5.0, 0.0, 0.04, 3.0]),
    )

    assert direction[:5].tolist() == [360.0, 360.0, 360.0, 0.0, 0.0]
    assert np.isnan(direction[5])


# --- messages -------------------------------------------------------------------------------------


def test_first_message_ends_at_100_hpa(saltmere, levels):
    """The first message has the levels up to 100 hPa, the second all (B/C25.1)."""
    first = message_content(saltmere, levels, first=True).value
    whole = message_content(saltmere, levels).value

    assert first.levels["pressure"][-1] == 10000.0
    assert first.count < whole.count


def test_first_message_is_not_due_below_100_hpa(sample_flights):
    """A flight that ends below 100 hPa has only the second message."""
    flight = sample_flights["halden-dome"]
    result = message_content(flight, select_levels(flight).value, first=True)

    assert result.value is None
    assert "bufr-first-message-not-due" in codes(result.diagnostics)


def test_nil_message_says_only_who(sample_flights):
    """127 octets with 3 09 052 without a WIGOS identifier, as measured for such a message."""
    flight = sample_flights["harrow-tarn"]
    bare = replace(flight, station=replace(flight.station, wigos_id=None))
    message = write_message(nil_content(bare, template="309052").value).value
    (sounding,) = read_message(message).value

    assert len(message) == 127
    assert sounding.nil
    assert sounding.station == "90417"
    assert len(sounding.levels) == 0
    assert codes(read_message(message).diagnostics) == ["bufr-nil"]


def test_corrected_message_counts_up(content):
    """The same data with the update sequence number one higher, same time in section 1."""
    first, second = write_message(content).value, write_message(corrected(content)).value

    assert read_header(first).value.update == 0
    assert read_header(second).value.update == 1
    assert read_header(first).value.time == read_header(second).value.time


def test_size_is_that_of_the_rows(content):
    """164 + 22 n octets without shear (3 09 057)."""
    bare = replace(content, shear={name: values[:0] for name, values in content.shear.items()})

    assert len(write_message(bare).value) == 164 + 22 * content.count


def test_descent_counts_from_its_start(saltmere, levels):
    """Rows after the burst: descending pressure, times and displacements from the first row."""
    result = message_content(saltmere, levels, template="309056").value
    (sounding,) = read_message(write_message(result).value).value

    assert np.all(np.diff(result.levels["pressure"]) < 0.0)
    assert result.levels["time"][-1] == 0.0
    assert np.all(np.diff(result.levels["time"]) < 0.0)
    assert result.levels["latitude_displacement"][-1] == 0.0
    assert sounding.release_time > saltmere.release_time
    assert sounding.header.sub_category == 14


def test_flight_without_descent_or_wind(sample_flights):
    """No descent, no wind: told, nothing made up."""
    flight = sample_flights["harrow-tarn"]
    table = select_levels(flight).value
    nothing = np.full(len(flight.ascent), np.nan)
    calm = replace(
        flight,
        ascent=flight.ascent.with_columns({"wind_speed": nothing, "wind_from_direction": nothing}),
    )

    assert codes(message_content(flight, table, template="309056").diagnostics) == [
        "bufr-no-descent"
    ]
    assert "bufr-no-wind" in codes(
        message_content(calm, select_levels(calm).value, template="309050").diagnostics
    )


def test_flight_without_temperature_is_upper_wind(saltmere):
    """Pilot balloon: the template of upper wind without being asked for."""
    nothing = np.full(len(saltmere.ascent), np.nan)
    names = ("air_temperature", "dew_point_temperature", "relative_humidity")
    pilot = replace(saltmere, ascent=saltmere.ascent.with_columns(dict.fromkeys(names, nothing)))
    result = message_content(pilot, select_levels(saltmere).value)

    assert result.value.template.number == "309050"


def test_upper_wind_by_height_rises(saltmere, levels):
    """3 09 051: ascending height, the surface 133120 (B/C20)."""
    result = message_content(saltmere, levels, template="309051").value

    assert np.all(np.diff(result.levels["height_coordinate"]) >= 0.0)
    assert result.levels["significance"][0] == 131072 + 2048
    standard = result.levels["significance"].astype(int) & int(LevelKind.STANDARD)
    assert np.count_nonzero(standard) == 13  # 850 to 20 hPa; 10 hPa is extrapolated, without wind


@pytest.mark.parametrize("platform", ["ship", "mobile", "drop"])
def test_who_is_not_said_is_told(saltmere, levels, platform):
    """Ship and mobile station need a call sign, a drop its aircraft."""
    flight = platform_flight(saltmere, platform)
    flight.document["station"].pop("call_sign")
    result = message_content(flight, levels)

    assert result.value is None
    assert "bufr-identifier-missing" in codes(result.diagnostics)


def test_template_of_another_platform_is_refused(saltmere, levels):
    """A land station sends no drop."""
    result = message_content(saltmere, levels, template="309053")

    assert result.value is None
    assert "bufr-template-unfit" in codes(result.diagnostics)
    assert codes(nil_content(saltmere, template="309053").diagnostics)[0] == "bufr-template-unfit"


def test_ship_says_call_sign_and_sea(saltmere, levels):
    """Call sign, no block number, sub-category 5, sea temperature in K."""
    flight = platform_flight(saltmere, "ship")
    message = write_message(message_content(flight, levels, rows="selected").value).value
    (sounding,) = read_message(message).value

    assert (sounding.call_sign, sounding.wmo_index) == ("QCW07", None)
    assert sounding.header.sub_category == 5
    assert sounding.sea_temperature == 8.3


def test_notes_on_what_was_assumed(saltmere, levels):
    """Centre, height of the ground, class of the cloud base."""
    assert codes(message_content(saltmere, levels).diagnostics) == [
        "bufr-ground-height-assumed",
        "bufr-cloud-base-class",
        "bufr-centre-missing",
    ]
    given = facts_with(saltmere)
    given.document["reporting"] = {"centre": 99, "sub_centre": 4}
    given.document["station"] = {**given.document["station"], "ground_elevation_m": 3.0}
    result = message_content(given, levels)
    assert codes(result.diagnostics) == ["bufr-cloud-base-class"]
    assert result.value.origin.centre == 99
    assert origin_of(given, centre=7).value.centre == 7


def test_gas_mass_is_given_or_computed_or_missing(saltmere, levels):
    """kg as given; by the ideal gas law from a volume; missing for a gas without a formula."""

    def mass(**balloon):
        flight = facts_with(saltmere, **balloon.pop("equipment", {}))
        flight.document["balloon"] = {**flight.document["balloon"], **balloon}
        content = message_content(flight, levels, rows="selected").value
        names = [element.name for element in content.template.before]
        return content.before[names.index("gas_amount")]

    assert mass(equipment={"gas_amount_kg": 0.5}) == 0.5
    assert mass() == pytest.approx(0.2008, abs=0.0001)
    assert mass(gas="natural gas") is None
    assert mass(gas_amount_m3=None) is None


def test_code_figures_of_text_and_binary_are_paired():
    """Equipment of table 0265 and reasons of flight.json have each one figure."""
    assert EQUIPMENT["4"] == 14
    assert EQUIPMENT["8"] == 7
    assert set(TERMINATIONS.values()) <= set(range(31))


# --- monthly means --------------------------------------------------------------------------------


def test_monthly_means_go_both_ways():
    """What is written is read back within half a step."""
    means = monthly_message()
    message = write_monthly(means).value
    subset = read_subsets(message, read_header(message).value).value[0]
    again = read_monthly(subset).value

    assert (again.year, again.month, again.days, again.hour) == (2031, 7, 31, 0)
    assert again.surface.tolist() == means.surface.tolist()
    for name, values in means.columns.items():
        assert np.allclose(again.columns[name], values, atol=0.5, equal_nan=True), name


def test_monthly_means_that_do_not_fit_are_told():
    """The same checks as for soundings."""
    bad = write_monthly(monthly_message(air_temperature=np.array([900.0, 0.0, 0.0, 0.0])))

    assert bad.value is None
    assert has_errors(bad.diagnostics)


def test_monthly_means_of_another_message(content):
    """A sounding has no monthly means."""
    message = write_message(content).value
    subset = read_subsets(message, read_header(message).value).value[0]

    assert codes(read_monthly(subset).diagnostics) == ["bufr-no-sounding"]


def test_monthly_means_of_soundings_make_a_message(sample_flights, levels):
    """The means computed for the text form are those of the message."""
    from encoder.climat import MonthlySounding, monthly_means

    flight = sample_flights["saltmere-point"]
    means = monthly_means(
        [MonthlySounding(day, 12, levels) for day in (16, 17)], year=2031, month=1
    )
    message = write_monthly(message_of_means(means, flight.station)).value
    subset = read_subsets(message, read_header(message).value).value[0]
    again = read_monthly(subset).value

    assert again.times_used == 8
    assert np.allclose(
        again.columns["air_temperature"], means.air_temperature, atol=0.0051, equal_nan=True
    )
    assert again.surface.tolist()[:2] == [True, False]


def test_drift_from_wind_is_the_integral():
    """A steady wind of 10 m/s from the west moves the balloon 36 km east in an hour."""
    time = np.arange(0.0, 3601.0, 60.0)
    steady = {
        "time": time,
        "wind_from_direction": np.full(len(time), 270.0),
        "wind_speed": np.full(len(time), 10.0),
    }
    rows = LevelRows({**steady, "latitude": time * np.nan}, np.zeros(len(time), np.int64))
    placed = with_positions(rows, Profile(steady, np.arange(len(time))), (0.0, 20.0))

    assert placed["latitude"][-1] == pytest.approx(0.0, abs=1e-6)
    assert placed["longitude"][-1] == pytest.approx(20.0 + np.degrees(36000.0 / 6371000.0))
