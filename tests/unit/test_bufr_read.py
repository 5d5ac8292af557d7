"""Reading the forms of BUFR soundings that real traffic has."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from encoder.formats.bufr.clouds import CloudElements, cloud_elements, cloud_group, from_values
from encoder.formats.bufr.compose import message_content
from encoder.formats.bufr.document import explanation_as_json, soundings_as_json
from encoder.formats.bufr.explain import explain_subset, explanation_of, meaning_of
from encoder.formats.bufr.read import read_message, read_soundings
from encoder.formats.bufr.sections import read_header
from encoder.formats.bufr.subset import Block, Item, Subset, plain_text
from encoder.formats.bufr.through_eccodes import library
from encoder.formats.bufr.write import write_message
from encoder.levels import select_levels
from encoder.levels.table import LevelKind
from encoder.profile import CloudGroup

LEVEL_KEYS = (
    "timePeriod",
    "extendedVerticalSoundingSignificance",
    "pressure",
    "nonCoordinateGeopotentialHeight",
    "latitudeDisplacement",
    "longitudeDisplacement",
    "airTemperature",
    "dewpointTemperature",
    "windDirection",
    "windSpeed",
)


def built(descriptors, counts, values, *, subsets=1, compressed=0, version=31, shear=(0,)):
    """Return a message made with the coding library alone."""
    eccodes = library()
    handle = eccodes.codes_bufr_new_from_samples("BUFR4")
    for key, value in (
        ("masterTablesVersionNumber", version),
        ("numberOfSubsets", subsets),
        ("compressedData", compressed),
        ("dataCategory", 2),
        ("internationalDataSubCategory", 4),
    ):
        eccodes.codes_set(handle, key, value)
    if counts:
        eccodes.codes_set_array(
            handle, "inputExtendedDelayedDescriptorReplicationFactor", list(counts)
        )
    eccodes.codes_set_array(handle, "inputDelayedDescriptorReplicationFactor", list(shear))
    eccodes.codes_set_array(handle, "unexpandedDescriptors", list(descriptors))
    for key, value in values.items():
        if isinstance(value, list | np.ndarray):
            eccodes.codes_set_array(handle, key, value)
        else:
            eccodes.codes_set(handle, key, value)
    eccodes.codes_set(handle, "pack", 1)
    message = eccodes.codes_get_message(handle)
    eccodes.codes_release(handle)
    return message


def codes(result):
    return [item.code for item in result.diagnostics]


def test_subsets_of_different_lengths_are_told_apart():
    """Three soundings in one message, 5, 8 and 2 levels: each its own."""
    pressures = 100.0 * np.arange(950, 935, -1.0)
    message = built([309052], (5, 8, 2), {"pressure": pressures}, subsets=3, shear=(0, 0, 0))
    for reader in ("auto", "library"):
        read = read_message(message, reader=reader).value
        assert [len(one.levels) for one in read] == [5, 8, 2]
        assert [one.subset for one in read] == [1, 2, 3]
        assert read[1].levels["air_pressure"].tolist() == list(range(945, 937, -1))


def test_compressed_subsets_are_read():
    """A compressed message of two soundings with equal level counts goes through the library."""
    message = built(
        [309052],
        (2,),
        {
            "#1#pressure": np.array([95000.0, 94000.0]),
            "#2#pressure": np.array([90000.0, 80000.0]),
            "#1#airTemperature": np.array([280.15, 270.15]),
            "blockNumber": np.array([90, 91]),
            "stationNumber": np.array([417, 731]),
        },
        subsets=2,
        compressed=1,
    )
    read = read_message(message).value

    assert [one.wmo_index for one in read] == ["90417", "91731"]
    assert [one.levels["air_pressure"].tolist() for one in read] == [[950.0, 900.0], [940.0, 800.0]]
    assert [one.levels["air_temperature"][0] for one in read] == [7.0, -3.0]


@pytest.mark.parametrize(
    "descriptors",
    [
        [309052, 1081, 2067, 2191, 25061],
        [1081, 2191, 309052],
        [301150, 309052, 2191],
        [309057, 2191],
    ],
)
def test_metadata_before_and_after_a_template(descriptors):
    """Elements around the template are facts; both readers agree."""
    values = {"pressure": np.array([95000.0, 94000.0]), "geopotentialHeightCalculation": 1}
    message = built(descriptors, (2,), values)
    auto, other = read_message(message), read_message(message, reader="library")

    assert auto.value[0].facts["height_calculation"] == 1.0
    assert auto.value[0].plain == other.value[0].plain
    assert auto.value[0].levels["air_pressure"].tolist() == [950.0, 940.0]


def test_associated_fields_are_kept_apart():
    """A quality field before every element of the levels (2 04 008)."""
    message = built(
        [204008, 31021, 309052, 204000], (2,), {"pressure": np.array([95000.0, 94000.0])}
    )
    (sounding,) = read_message(message).value

    assert sounding.levels["air_pressure"].tolist() == [950.0, 940.0]


def test_levels_spelled_out_in_section_3():
    """A service that writes the level sequence itself, with its own replication."""
    message = built(
        [301111, 301113, 301114, 101000, 31002, 303054],
        (3,),
        {"pressure": np.array([95000.0, 94000.0, 93000.0])},
    )
    (sounding,) = read_message(message).value

    assert sounding.template == "none"
    assert len(sounding.levels) == 3


def test_height_coordinate_template_of_high_resolution():
    """3 09 055 orders levels by height and gives relative humidity."""
    message = built([309055], (2,), {"geopotentialHeight": np.array([100, 200])}, version=31)
    (sounding,) = read_message(message).value

    assert sounding.levels["geopotential_height"].tolist() == [100.0, 200.0]
    assert sounding.template == "309055"


def test_light_and_variable_wind_has_no_direction():
    """Direction 0 with a speed (note to 0 11 001): shown as missing, and told."""
    message = built(
        [309052],
        (2,),
        {
            "pressure": np.array([95000.0, 94000.0]),
            "windDirection": np.array([0, 360]),
            "windSpeed": np.array([1.0, 2.0]),
        },
    )
    result = read_message(message)

    assert np.isnan(result.value[0].levels["wind_from_direction"][0])
    assert result.value[0].levels["wind_from_direction"][1] == 360.0
    assert "bufr-variable-wind" in codes(result)


def test_levels_without_any_place_are_left_out_and_told():
    """A temperature without pressure or height cannot be used."""
    message = built(
        [309052],
        (2,),
        {
            "pressure": np.array([95000.0, -1e100]),
            "airTemperature": np.array([280.0, 281.0]),
        },
    )
    result = read_message(message)

    assert len(result.value[0].levels) == 1
    assert "bufr-level-without-place" in codes(result)


def test_shear_without_its_level_is_told():
    """Wind shear at a pressure that no level has is left out."""
    message = built(
        [309052],
        (1,),
        {
            "pressure": np.array([95000.0, 30000.0]),
            "absoluteWindShearIn1KmLayerBelow": np.array([4.0]),
        },
        shear=(1,),
    )
    result = read_message(message)

    assert np.isnan(result.value[0].levels["wind_shear_below"][0])
    assert "bufr-shear-without-level" in codes(result)


def test_a_time_that_does_not_exist_is_told():
    """31 April: the launch time is missing, the rest is read."""
    message = built(
        [309052],
        (1,),
        {
            "pressure": np.array([95000.0]),
            "timeSignificance": 18,
            "year": 2031,
            "month": 4,
            "day": 31,
            "hour": 0,
            "minute": 0,
        },
    )
    result = read_message(message)

    assert result.value[0].release_time is None
    assert "bufr-time-does-not-exist" in codes(result)


def test_nominal_time_is_that_of_the_heading():
    """Heading first, in the month nearest to section 1; section 1 without one."""
    message = built(
        [309052],
        (1,),
        {
            "pressure": np.array([95000.0]),
            "typicalYear": 2031,
            "typicalMonth": 3,
            "typicalDay": 31,
            "typicalHour": 23,
        },
    )
    bulletin = b"\x01\r\r\n001\r\r\nIUSA01 XNOR 010000\r\r\n" + message + b"\r\r\n\x03"
    (alone,) = next(iter(read_soundings(message))).value
    (headed,) = next(iter(read_soundings(bulletin))).value

    assert f"{alone.nominal_time:%Y-%m-%d %H}" == "2031-03-31 23"
    assert f"{headed.nominal_time:%Y-%m-%d %H}" == "2031-04-01 00"


def test_library_is_silent(capfd):
    """The coding library's own words do not reach standard error."""
    library()
    message = bytearray(built([309052], (1,), {"pressure": np.array([95000.0])}))
    place = bytes(message).index(bytes([0xC9, 0x34]))
    message[place : place + 2] = bytes([0xC9, 0xFE])
    read_message(bytes(message), reader="library")

    assert capfd.readouterr().err == ""


def test_precision_is_told_per_column(sample_flights):
    """1 Pa and 0.1 m with 3 09 057, 10 Pa and 1 m with 3 09 052."""
    flight = sample_flights["saltmere-point"]
    levels = select_levels(flight).value
    for template, pressure, height in (("309057", 0.01, 0.1), ("309052", 0.1, 1.0)):
        content = message_content(flight, levels, template=template, rows="selected").value
        (sounding,) = read_message(write_message(content).value).value
        precision = sounding.levels.attributes["precision"]
        assert (precision["air_pressure"], precision["geopotential_height"]) == (pressure, height)
        assert (
            sounding.profile()["air_pressure"].tolist() == sounding.levels["air_pressure"].tolist()
        )


@pytest.mark.parametrize(
    ("cloud", "elements"),
    [
        (CloudGroup("7", "7", "3", "2", "/"), CloudElements(7, 7, 200, 37, 22, 60)),
        (CloudGroup("2", "0", "9", "3", "1"), CloudElements(8, 2, 2500, 30, 23, 11)),
        (CloudGroup("0", "0", "9", "0", "1"), CloudElements(0, 0, None, 30, 20, 11)),
        (CloudGroup("0", "0", "9", "0", "0"), CloudElements(62, 0, None, 30, 20, 10)),
        (CloudGroup("9", "/", "/", "/", "/"), CloudElements(5, 9, None, 62, 61, 60)),
    ],
)
def test_clouds_go_both_ways(cloud, elements):
    """Significance by what is seen, types by their decade, base by its class (B/C25.5)."""
    assert cloud_elements(cloud) == elements
    assert cloud_group(elements) == cloud


def test_clouds_not_observed():
    """No observation is missing everywhere; what is of the wrong kind counts as missing."""
    assert cloud_elements(None) == CloudElements()
    assert cloud_group(CloudElements()) is None
    assert from_values("x", 3.0, None, (None,)) == CloudElements(None, 3.0)
    assert cloud_group(CloudElements(None, 3.0, 450.0)) == CloudGroup("3", "/", "4", "/", "/")


def test_texts_lose_their_padding():
    """Blanks and zeros at the end; all bits set or not ASCII is missing."""
    assert plain_text(b"AB  \0") == "AB"
    assert plain_text(b"\xff" * 4) is None
    assert plain_text(b"A\xe9  ") is None
    assert plain_text(b"    ") is None


def test_subset_finds_values_and_blocks():
    """First value that is there; columns by descriptor; equality by value."""
    block = Block(("007004", "012101"), np.array([[95000.0, np.nan]]))
    subset = Subset((Item("001001", None), Item("001001", 90.0), block))

    assert subset.first("001001") == 90.0
    assert subset.every("001001") == (None, 90.0)
    assert block.column("010009", "007004").tolist() == [95000.0]
    assert block.column("011001") is None
    assert block == Block(block.fxys, block.values.copy())
    assert block != 3


def test_explanation_names_figures_and_flags(sample_flights):
    """Every element with its meaning, 80 columns at most."""
    flight = sample_flights["saltmere-point"]
    content = message_content(flight, select_levels(flight).value, rows="selected").value
    (sounding,) = read_message(write_message(content).value).value
    text = explanation_of(sounding)
    explained = explain_subset(sounding.plain)

    assert "satellite navigation" in text
    assert "balloon burst" in text
    assert max(map(len, text.splitlines())) <= 80
    assert meaning_of("008042", 145408.0).startswith("surface, significant for temperature")
    assert meaning_of("008042", 0.0) == "none of the kinds"
    assert meaning_of("002003", 12.0) == "figure 12, not in the table"
    assert meaning_of("007004", 95000.0) == ""
    assert sum(1 for item in explained if item.repetition == 1) == 10 + 7
    assert explanation_as_json(sounding)["elements"][0]["value"] == 0.0


def test_json_of_a_sounding_fits_its_schema(sample_flights):
    """soundings.schema.json describes what decode --json writes."""
    import jsonschema

    from encoder.schemas_folder import schema

    flight = sample_flights["halden-dome"]
    content = message_content(flight, select_levels(flight).value, rows="selected").value
    result = read_message(write_message(content).value)
    document = soundings_as_json(result.value, result.diagnostics)

    jsonschema.validate(document, schema("soundings"))
    assert document["soundings"][0]["wmo_index"] == "90731"


def test_kinds_of_the_old_flag_table():
    """0 08 001 of archive messages becomes kinds of level."""
    message = built(
        [
            301001,
            301011,
            301012,
            301022,
            107000,
            31001,
            7004,
            8001,
            10003,
            12001,
            12003,
            11001,
            11002,
        ],
        (),
        {
            "pressure": np.array([95000.0, 85000.0, 30000.0]),
            "verticalSoundingSignificance": np.array([64 + 4 + 2, 32, 16 + 8]),
            "nonCoordinateGeopotential": np.array([4903.0, -1e100, 88260.0]),
        },
        shear=(3,),
        version=13,
    )
    (sounding,) = read_message(message).value
    kinds = sounding.levels.kinds

    assert kinds[0] == 131072 + 8192 + 4096 + 2048
    assert kinds[1] == int(LevelKind.STANDARD)
    assert kinds[2] == int(LevelKind.TROPOPAUSE | LevelKind.MAXIMUM_WIND)
    assert sounding.levels["geopotential_height"][0] == pytest.approx(500.0, abs=0.6)
    assert sounding.release_time is None


def test_header_of_a_message_with_an_optional_section(sample_flights):
    """Section 2 is stepped over."""
    flight = sample_flights["halden-dome"]
    content = message_content(flight, select_levels(flight).value, rows="selected").value
    message = write_message(content).value
    one = bytearray(message[: 8 + 22])
    one[8 + 9] |= 0x80
    extra = bytes([0, 0, 8, 0, 1, 2, 3, 4])
    whole = bytes(one) + extra + message[30:]
    whole = whole[:4] + len(whole).to_bytes(3, "big") + whole[7:]

    assert read_header(whole).value.descriptors == ("309057",)
    assert read_message(whole).value[0].levels == read_message(message).value[0].levels


def test_map_projections_work_after_the_coding_library():
    """The PROJ inside the coding library is not the one of pyproj, in whatever order they come."""
    program = (
        "from encoder.formats.bufr.through_eccodes import library\n"
        "library()\n"
        "import pyproj\n"
        "print(pyproj.CRS(4326).to_epsg())\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "4326\n", "")


def test_compressed_values_that_are_all_the_same_or_all_missing():
    """Three subsets whose pressures are equal, whose winds are missing: each has all its values."""
    message = built(
        [309052],
        (2,),
        {
            "#1#pressure": np.array([95000.0, 95000.0, 95000.0]),
            "#2#pressure": np.array([90000.0, 80000.0, 70000.0]),
            "#1#airTemperature": np.array([280.15, 280.15, 280.15]),
            "blockNumber": np.array([90, 90, 90]),
            "stationNumber": np.array([417, 731, 122]),
        },
        subsets=3,
        compressed=1,
    )
    read = read_message(message).value

    assert [one.wmo_index for one in read] == ["90417", "90731", "90122"]
    assert [one.levels["air_temperature"][0] for one in read] == [7.0, 7.0, 7.0]
    assert [one.levels["air_pressure"][1] for one in read] == [900.0, 800.0, 700.0]
    assert all(np.all(np.isnan(one.levels["wind_speed"])) for one in read)
