"""Real BUFR messages: soundings of many services, from the pybufrkit 0.2.25 source distribution.

Facts about the files (stations, dates, numbers of levels) were read from them with two independent
decoders, ecCodes and pybufrkit.
"""

from __future__ import annotations

import numpy as np
import pytest

from encoder.bulletin.envelope import message as envelope
from encoder.bulletin.heading import parse_heading
from encoder.diagnostics import has_errors
from encoder.formats.bufr.bits import pack_rows
from encoder.formats.bufr.bulk import is_plain, level_codes, read_plain
from encoder.formats.bufr.headings import bulletin_octets, heading_fits_message
from encoder.formats.bufr.read import read_message, read_soundings, read_subsets
from encoder.formats.bufr.sections import read_header
from encoder.formats.bufr.stream import FoundMessage, find_messages_in
from encoder.formats.bufr.templates import TEMPLATES
from encoder.formats.bufr.through_eccodes import read_with_library
from encoder.levels.table import LevelKind
from tests.bufr_files import SOUNDINGS, octets
from tests.bufr_independent import differences, independent

PLAIN = (
    "IUSD40_OKLI.bufr",
    "IUSK73_AMMC_040000.bufr",
    "IUSK73_AMMC_182300.bufr",
    "btem_109.bufr",
)


def messages(name):
    return [item for item in find_messages_in(octets(name)) if isinstance(item, FoundMessage)]


def soundings(name, reader="auto"):
    results = list(read_soundings(octets(name), reader=reader))
    return [one for result in results for one in result.value], [
        item for result in results for item in result.diagnostics
    ]


@pytest.mark.parametrize("name", sorted(SOUNDINGS))
def test_every_radiosonde_and_pilot_file_decodes(name):
    """Each file gives all its soundings, without an error, with levels and a station."""
    read, found = soundings(name)

    assert len(read) == SOUNDINGS[name]
    assert not has_errors(found), [item.as_text() for item in found]
    assert all(len(one.levels) > 5 for one in read)
    assert all(one.station != "unknown station" for one in read)


@pytest.mark.parametrize("name", sorted(SOUNDINGS))
def test_bulk_reader_and_library_agree_on_every_file(name):
    """The values read from the bits and those of the coding library are the same doubles."""
    for item in messages(name):
        header = read_header(item.data).value
        plain, library = read_plain(item.data, header), read_with_library(item.data, header)

        assert library.diagnostics == ()
        assert (plain is not None) == (name in PLAIN) == is_plain(header)
        if plain is not None:
            assert plain == library.value


@pytest.mark.parametrize("name", PLAIN)
def test_independent_decoder_agrees_on_plain_files(name):
    """pybufrkit finds the same descriptors and values."""
    for item in messages(name):
        header = read_header(item.data).value
        subset = read_subsets(item.data, header).value[0]
        read = independent(item.data)

        assert differences(subset, read) == []


def test_longest_message_round_trips_to_identical_bits():
    """2743 levels at 2 s: bits to numbers to values and back gives the same bits."""
    (item,) = messages("IUSK73_AMMC_040000.bufr")
    header = read_header(item.data).value
    start, codes = level_codes(item.data, header)
    block = next(iter(read_plain(item.data, header)[0].blocks()))
    elements = TEMPLATES["309052"].level
    widths = [element.bits for element in elements]
    back = []
    for place, element in enumerate(elements):
        values = block.values[:, place]
        own = np.rint(values * 10.0**element.scale) - element.reference
        back.append(np.where(np.isnan(values), (1 << element.bits) - 1, own).astype(np.int64))
    first, end = header.data
    bits = np.unpackbits(np.frombuffer(item.data[first:end], np.uint8))
    received = bits[start : start + 2743 * sum(widths)]

    assert len(block) == 2743
    assert all(np.array_equal(one, other) for one, other in zip(back, codes, strict=True))
    assert np.array_equal(pack_rows(back, widths), received)


def test_enveloped_messages_rebuild_to_identical_bytes():
    """Heading and envelope made anew around the four messages give the file as it was received."""
    whole = octets("IUSD40_OKLI.bufr")
    rebuilt = b""
    for item in messages("IUSD40_OKLI.bufr"):
        heading = parse_heading(item.heading).value
        rebuilt += envelope(bulletin_octets(item.data, heading).value, channel=item.channel)

    assert rebuilt == whole
    assert [item.offset for item in messages("IUSD40_OKLI.bufr")] == [31, 1892, 3605, 4926]


@pytest.mark.parametrize(
    ("name", "code", "words"),
    [
        ("ocea_133.bufr", "bufr-no-sounding", "oceanographic"),
        ("profiler_european.bufr", "bufr-no-sounding", "No levels"),
        ("b002_95.bufr", "bufr-no-sounding", "No levels"),
        ("btem_111.bufr", "bufr-damaged", "no descriptor"),
    ],
)
def test_what_is_no_sounding_is_refused(name, code, words):
    """Buoy, profilers and a message without descriptors: an error that names the reason."""
    read, found = soundings(name)

    assert read == []
    assert [item.code for item in found] == [code]
    assert words in found[0].message
    assert found[0].span is not None


def test_damaged_messages_among_good_ones_are_told_with_their_place():
    """A file with two broken messages and one whole: each is told, reading goes on."""
    found = list(find_messages_in(octets("multi_invalid_messages.bufr")))

    assert [type(item).__name__ for item in found].count("FoundMessage") >= 1
    assert all(item.span is not None for item in found if not isinstance(item, FoundMessage))


def test_identity_and_times_of_the_enveloped_soundings():
    """WMO 11520, four nominal times of 20 November 2007, launches some half hour before."""
    read, _found = soundings("IUSD40_OKLI.bufr")

    assert [one.wmo_index for one in read] == ["11520"] * 4
    assert [f"{one.nominal_time:%d %H%M}" for one in read] == [
        "20 1800",
        "20 1200",
        "20 0600",
        "20 0000",
    ]
    assert [f"{one.release_time:%H%M}" for one in read][:3] == ["1730", "1115", "0529"]
    assert len(read[0].levels) == 82
    assert min(len(one.levels) for one in read) == 57


def test_standard_level_below_ground_stands_before_the_surface():
    """A raised station gives 1000 hPa first, then the surface (B/C25.8.2.2)."""
    for name in ("IUSD40_OKLI.bufr", "IUSK73_AMMC_040000.bufr", "uegabe.bufr"):
        for one in soundings(name)[0]:
            assert one.levels["air_pressure"][0] == 1000.0
            assert one.levels.kinds[0] == int(LevelKind.STANDARD)
            assert one.levels.kinds[1] & int(LevelKind.SURFACE)
            assert np.isnan(one.levels["air_temperature"][0])


def test_messages_made_from_text_are_flagged():
    """The archive's reformatted TEMP has no times and no displacements; native ones have."""
    assert soundings("btem_109.bufr")[0][0].reformatted
    assert not soundings("IUSK73_AMMC_040000.bufr")[0][0].reformatted
    assert "bufr-reformatted" in [item.code for item in soundings("btem_109.bufr")[1]]


def test_associated_fields_do_not_shift_the_values():
    """Quality bits before every element (2 04 004) are read apart from the values."""
    one = soundings("uegabe.bufr")[0][0]

    assert one.wmo_index == "10618"
    assert f"{one.release_time:%Y-%m-%d %H:%M}" == "2015-07-12 05:01"
    assert one.levels["air_pressure"][:3].tolist() == [1000.0, 975.0, 925.0]
    assert one.levels["air_temperature"][2] == 14.0


def test_archive_forms_of_ships_and_mobile_stations():
    """3 09 196 and 3 09 198: call signs, geopotential turned into height."""
    ship, mobile = soundings("temp_102.bufr")[0][0], soundings("temp_106.bufr")[0][0]

    assert (ship.call_sign, ship.wmo_index) == ("ASDE3", None)
    assert mobile.call_sign == "HYME2"
    assert ship.levels["geopotential_height"][1] == pytest.approx(640.0 / 9.80665, abs=0.05)
    assert ship.levels.attributes["precision"]["air_temperature"] == 0.1


def test_winds_by_height_keep_their_height():
    """PILOT of the archive: no pressure, heights in steps of 300 m."""
    one = soundings("pilo_91.bufr")[0][0]

    assert np.all(np.isnan(one.levels["air_pressure"][:6]))
    assert np.round(one.levels["geopotential_height"][1:4], -1).tolist() == [300.0, 600.0, 900.0]
    assert one.levels["wind_speed"][0] == 4.0


def test_trailing_metadata_is_read():
    """Serial number and software follow the template in the messages of one service."""
    one = soundings("IUSK73_AMMC_040000.bufr")[0][0]

    assert one.instrument.serial == "L1943004"
    assert one.facts["frequency"] > 4.0e8


def test_real_headings_break_the_rules_and_are_told():
    """IUSD40 is a land station under a number for ships; the heading of a file in edition 3."""
    item = messages("IUSD40_OKLI.bufr")[0]
    header = read_header(item.data).value
    heading = parse_heading("IUSD40 OKLI 201900").value

    assert heading_fits_message(parse_heading(item.heading).value, header) == ()
    assert [one.code for one in heading_fits_message(heading, header)] == [
        "bufr-heading-by-content"
    ]


def test_values_of_both_readers_make_the_same_levels():
    """The level table does not depend on the reader."""
    for name in PLAIN:
        auto, library = soundings(name)[0], soundings(name, "library")[0]
        assert all(one.levels == other.levels for one, other in zip(auto, library, strict=True))


def test_a_message_cut_short_anywhere_is_told():
    """Every hundredth cut of a real message: a diagnostic, no sounding made up."""
    data = messages("IUSK73_AMMC_182300.bufr")[0].data
    for end in range(0, len(data) - 1, 100):
        results = list(read_soundings(data[:end]))
        assert all(result.value == () for result in results)
        assert has_errors([item for result in results for item in result.diagnostics])


def test_one_message_alone_is_read_without_a_stream():
    """read_message takes the bytes of one message."""
    data = messages("btem_109.bufr")[0].data

    assert len(read_message(data).value) == 1


def test_quality_information_of_an_archive_is_counted_not_mixed_in():
    """Archive messages end with marks on every value (operator 2 22 000): told as such."""
    for name in ("temp_101.bufr", "pilo_91.bufr"):
        for result in read_soundings(octets(name)):
            assert "bufr-element-unknown" not in [item.code for item in result.diagnostics]
            for sounding in result.value:
                assert [extra.kind for extra in sounding.extra] == ["quality information"]
                assert dict(sounding.extra[0].rows[0])["values"] > 0
