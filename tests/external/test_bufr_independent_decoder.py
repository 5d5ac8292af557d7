"""Every message we write, read back by ecCodes and by an independent decoder (pybufrkit 0.2.25).

Also the tables of elements and templates, line by line, against those of that decoder.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pybufrkit
import pytest

from encoder.formats.bufr.compose import corrected, message_content, nil_content
from encoder.formats.bufr.content import Origin
from encoder.formats.bufr.elements import ELEMENTS, FINE_HEIGHT, FINE_PRESSURE
from encoder.formats.bufr.monthly import write_monthly
from encoder.formats.bufr.read import read_subsets
from encoder.formats.bufr.sections import read_header
from encoder.formats.bufr.subset import Block
from encoder.formats.bufr.templates import SEQUENCES, TEMPLATES
from encoder.formats.bufr.through_eccodes import read_with_library
from encoder.formats.bufr.write import write_message
from encoder.levels import select_levels
from tests.bufr_independent import differences, header_of, independent, values_of
from tests.bufr_soundings import facts_with, monthly_message, platform_flight

FLIGHTS = ("saltmere-point", "halden-dome")
CASES = [
    ("309057", "land", "all"),
    ("309057", "land", "selected"),
    ("309057", "ship", "selected"),
    ("309057", "mobile", "selected"),
    ("309052", "land", "all"),
    ("309052", "ship", "selected"),
    ("309052", "mobile", "selected"),
    ("309053", "drop", "selected"),
    ("309050", "land", "all"),
    ("309050", "ship", "selected"),
    ("309050", "mobile", "selected"),
    ("309051", "land", "all"),
    ("309051", "ship", "selected"),
    ("309051", "mobile", "selected"),
    ("309056", "land", "all"),
    ("309056", "ship", "all"),
    ("309056", "mobile", "all"),
]


def within_half_a_step(elements, asked, values):
    """Tell whether coded values are those asked for within half a step, missing as missing."""
    for element, one, other in zip(elements, asked, values, strict=True):
        if one is None or (isinstance(one, float) and np.isnan(one)):
            assert other is None, element
        elif isinstance(one, str):
            assert other == one, element
        else:
            assert other is not None, element
            assert abs(other - one) <= element.step / 2.0 + 1e-7 * element.step, element


def expected_values(content):
    """Return the elements and values of a message in the order of the message, with counts."""
    elements = list(content.template.before)
    values = list(content.before)
    if content.wigos is not None:
        elements = [*SEQUENCES["301150"], *elements]
        values = [*content.wigos, *values]
    for fxy, row, columns in (
        ("031002", content.template.level, content.levels),
        ("031001", content.template.shear, content.shear),
    ):
        count = len(next(iter(columns.values())))
        elements.append(ELEMENTS[fxy])
        values.append(float(count))
        for index in range(count):
            elements.extend(row)
            values.extend(float(columns[element.name][index]) for element in row)
    return elements, values


@pytest.mark.parametrize(("template", "platform", "rows"), CASES)
@pytest.mark.parametrize("name", FLIGHTS)
def test_what_is_written_is_read_back_by_both(sample_flights, name, template, platform, rows):
    """All elements within half a step, and the header, by ecCodes and by pybufrkit."""
    flight = platform_flight(sample_flights[name], platform)
    if template == "309056" and flight.descent is None:
        assert message_content(flight, select_levels(flight).value, template=template).value is None
        return
    levels = select_levels(flight).value
    content = message_content(
        flight, levels, template=template, rows=rows, origin=Origin(99, 7, 2)
    ).value
    message = write_message(content).value
    header = read_header(message).value
    library = read_with_library(message, header)
    other = independent(message)
    elements, asked = expected_values(content)
    _fxys, values = values_of(other)

    assert library.diagnostics == ()
    assert read_subsets(message, header).value == library.value
    assert differences(library.value[0], other) == []
    within_half_a_step(elements, asked, values)
    named = header_of(other)
    time = flight.nominal_time
    assert (header.centre, header.sub_centre, header.update) == (99, 7, 2)
    assert (named["originating_centre"], named["originating_subcentre"]) == (99, 7)
    assert named["update_sequence_number"] == 2
    assert (named["year"], named["month"], named["day"]) == (time.year, time.month, time.day)
    assert (named["hour"], named["minute"], named["second"]) == (time.hour, 0, 0)
    assert named["data_category"] == header.category == 2
    assert named["data_i18n_subcategory"] == header.sub_category
    assert header.sub_category == TEMPLATES[template].sub_category[platform]
    assert named["master_table_version"] == header.table_version
    assert (named["is_observation"], named["is_compressed"]) == (True, False)


def test_full_instrument_block_is_read_back(sample_flights):
    """All 23 elements of 3 01 128 come back as flight.json gives them."""
    flight = facts_with(sample_flights["saltmere-point"])
    content = message_content(flight, select_levels(flight).value, rows="selected").value
    message = write_message(content).value
    fxys, values = values_of(independent(message))
    block = dict(zip((element.fxy for element in SEQUENCES["301128"]), [None] * 23, strict=True))
    for fxy, value in zip(fxys, values, strict=True):
        if fxy in block and block[fxy] is None:
            block[fxy] = value

    assert block == {
        "001081": "NWS-031-20122",
        "001082": 412,
        "001083": 1,
        "001095": "MK",
        "002015": 4,
        "002016": 20,
        "002017": 3,
        "002066": 62,
        "002067": pytest.approx(403500000.0),
        "002080": 62,
        "002081": 30,
        "002082": 0.8,
        "002083": 3,
        "002084": 0,
        "002085": 0.201,  # p V M / (R T) = 95830 Pa x 2.4 m3 x 2.016 g/mol / (R x 277.75 K)
        "002086": 44.0,
        "002095": 3,
        "002096": 5,
        "002097": 11,
        "002103": 1,
        "002191": 1,
        "025061": "NR 4.2.1",
        "035035": 1,
    }


@pytest.mark.parametrize("template", ["309057", "309052", "309050", "309051"])
def test_nil_and_corrected_messages_are_read_back(sample_flights, template):
    """NIL: one level, all missing; a correction: update sequence number one higher."""
    flight = sample_flights["harrow-tarn"]
    content = nil_content(flight, template=template).value
    message = write_message(content).value
    again = write_message(corrected(content)).value
    fxys, values = values_of(independent(message))
    start = fxys.index("031002")

    assert values[start] == 1
    assert all(value is None for value in values[start + 1 :] if value != 1)
    assert values[fxys.index("001001")] == 90
    assert header_of(independent(again))["update_sequence_number"] == 1
    assert read_header(again).value.update == 1


def test_monthly_means_are_read_back():
    """3 09 054: all elements of every level, statistics and missing days in their turn."""
    message = write_monthly(monthly_message()).value
    header = read_header(message).value
    library = read_with_library(message, header)
    other = independent(message)
    fxys, values = values_of(other)
    block = next(entry for entry in library.value[0].entries if isinstance(entry, Block))
    place = fxys.index("031001") + 1
    rows = np.array(
        [np.nan if value is None else value for value in values[place:]], dtype=float
    ).reshape(len(block), len(block.fxys))

    assert header_of(other)["data_i18n_subcategory"] == 25
    assert np.allclose(rows, block.values, equal_nan=True, atol=1e-9)
    assert block.column("008023").tolist() == [4.0] * len(block)
    assert fxys[place : place + 15] == list(block.fxys)


def test_elements_are_those_of_an_independent_table():
    """BUFR Table B: unit, scale, reference and bits of every line (newest tables of pybufrkit)."""
    lines = table_b()

    for fxy, element in ELEMENTS.items():
        _name, unit, scale, reference, bits = lines[fxy][:5]
        assert (element.scale, element.reference, element.bits) == (scale, reference, bits), fxy
        assert unit_word(element.unit) == unit_word(unit), fxy


def test_higher_precision_is_that_of_the_operator():
    """2 07 001: scale + 1, reference x 10, width + ceil(10/3) bits (FM 94, operator 2 07)."""
    for fine in (FINE_PRESSURE, FINE_HEIGHT):
        coarse = ELEMENTS[fine.fxy]
        assert fine.scale == coarse.scale + 1
        assert fine.reference == coarse.reference * 10
        assert fine.bits == coarse.bits + 4


def table_b():
    """Return Table B of the independent decoder by descriptor."""
    root = Path(pybufrkit.__file__).parent / "tables" / "0" / "0_0"
    versions = sorted(int(path.name) for path in root.iterdir() if path.name.isdigit())
    return json.loads((root / str(versions[-1]) / "TableB.json").read_text(encoding="utf-8"))


def unit_word(unit):
    """Return a unit in one spelling."""
    word = unit.upper().replace(" ", "").replace("**", "").replace("-", "/")
    same = {
        "M2S/2": "M2/S2",
        "MS/1": "M/S",
        "DEG": "DEGREE",
        "DEGREE(ANGLE)": "DEGREE",
        "DEGREETRUE": "DEGREE",
        "GPM": "GPM",
        "CODETABLE": "CODETABLE",
        "YEAR": "A",
        "MONTH": "MON",
        "DAY": "D",
        "HOUR": "H",
        "MINUTE": "MIN",
        "SECOND": "S",
    }
    return same.get(word, word)
