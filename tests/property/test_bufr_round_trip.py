"""Any valid flight survives flight -> BUFR -> flight within half a step of every element."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from encoder.diagnostics import has_errors
from encoder.formats.bufr.content import MessageContent, Origin
from encoder.formats.bufr.read import read_message, read_soundings, read_subsets
from encoder.formats.bufr.rows import LevelRows, level_columns, shear_columns
from encoder.formats.bufr.sections import read_header
from encoder.formats.bufr.subset import Block
from encoder.formats.bufr.templates import TEMPLATES
from encoder.formats.bufr.through_eccodes import read_with_library
from encoder.formats.bufr.write import write_message
from encoder.physics import shortest_turn

LIMITS = {
    "time": (-8192.0, 24574.0),
    "air_pressure": (0.0, 1638.0),
    "geopotential_height": (-1000.0, 100000.0),
    "air_temperature": (-273.0, 380.0),
    "dew_point_temperature": (-273.0, 380.0),
    "wind_from_direction": (0.0, 360.0),
    "wind_speed": (0.0, 409.3),
    "latitude": (-30.0, 80.0),
    "longitude": (-180.0, 180.0),
    "wind_shear_below": (0.0, 409.3),
    "wind_shear_above": (0.0, 409.3),
}
STEPS = {
    "309057": {"air_pressure": 0.01, "geopotential_height": 0.1},
    "309056": {"air_pressure": 0.01, "geopotential_height": 0.1},
    "309052": {"air_pressure": 0.1, "geopotential_height": 1.0},
    "309053": {"air_pressure": 0.1, "geopotential_height": 1.0},
}
COMMON = {
    "time": 1.0,
    "air_temperature": 0.01,
    "dew_point_temperature": 0.01,
    "wind_speed": 0.1,
    "latitude": 1e-5,
}
"""Steps of BUFR Table B in the units of the package, by template where they differ."""


@st.composite
def level_rows(draw):
    """Rows of any values the elements hold, missing ones among them, and any kinds."""
    count = draw(st.integers(1, 40))
    seed = draw(st.integers(0, 2**32 - 1))
    random = np.random.default_rng(seed)
    columns = {}
    for name, (low, high) in LIMITS.items():
        values = random.uniform(low, high, count)
        if name != "air_pressure":
            values[random.random(count) < draw(st.sampled_from([0.0, 0.2, 1.0]))] = np.nan
        columns[name] = values
    columns["air_pressure"][::-1].sort()
    return LevelRows(columns, random.integers(0, (1 << 18) - 1, count))


def content_of(rows, template, start):
    """Return a message with those levels and no facts."""
    chosen = TEMPLATES[template]
    columns, shear = level_columns(rows, start), shear_columns(rows, start)
    return MessageContent(
        chosen,
        next(iter(chosen.sub_category)),
        datetime(2031, 7, 9, tzinfo=UTC),
        tuple(
            {"latitude": start[0], "longitude": start[1]}.get(element.name)
            for element in chosen.before
        ),
        None,
        {element.name: columns[element.name] for element in chosen.level},
        {element.name: shear[element.name] for element in chosen.shear},
        Origin(99),
    )


@settings(max_examples=60)
@given(
    level_rows(),
    st.sampled_from(sorted(STEPS)),
    st.sampled_from([(0.0, 0.0), (57.7338, -16.9046), (-9.99999, 179.99999), (10.0, -180.0)]),
)
def test_levels_survive_within_half_a_step(rows, template, start):
    """Every value comes back within half a step, missing as missing, kinds as they were."""
    result = write_message(content_of(rows, template, start))
    assert not has_errors(result.diagnostics), [item.message for item in result.diagnostics]
    (sounding,) = read_message(result.value).value
    levels = sounding.levels

    assert len(levels) == len(rows)
    assert levels.kinds.tolist() == rows.kinds.tolist()
    for name, step in {**COMMON, **STEPS[template]}.items():
        asked, given_back = rows[name], levels[name]
        assert np.array_equal(np.isnan(asked), np.isnan(given_back)), name
        off = np.nanmax(np.abs(asked - given_back), initial=0.0)
        assert off <= step / 2.0 * (1.0 + 1e-6), name
    turn = np.abs(shortest_turn(rows["longitude"], levels["longitude"]))
    assert np.nanmax(turn, initial=0.0) <= 5.1e-6
    blown = np.round(rows["wind_speed"], 1) > 0.0
    turn = np.abs(shortest_turn(rows["wind_from_direction"], levels["wind_from_direction"]))
    assert np.nanmax(turn[blown], initial=0.0) <= 0.5 + 1e-6


@settings(max_examples=40)
@given(level_rows(), st.sampled_from(sorted(TEMPLATES)))
def test_both_readers_agree_on_anything_written(rows, template):
    """Bulk reader and coding library give the same doubles for every template."""
    if TEMPLATES[template].vertical == "height":
        rows = rows.select(np.flatnonzero(np.isfinite(rows["geopotential_height"])))
    if len(rows) == 0:
        rows = LevelRows({name: np.array([1.0]) for name in LIMITS}, np.zeros(1, np.int64))
    message = write_message(content_of(rows, template, (10.0, 20.0))).value
    header = read_header(message).value

    assert read_subsets(message, header).value == read_with_library(message, header).value


@settings(max_examples=40)
@given(level_rows())
def test_writing_again_what_was_read_gives_the_same_octets(rows):
    """Coded values are fixed points: message -> values -> message is the same message."""
    content = content_of(rows, "309057", (10.0, 20.0))
    message = write_message(content).value
    subset = read_subsets(message, read_header(message).value).value[0]
    level, shear = (entry for entry in subset.entries if isinstance(entry, Block))
    again = MessageContent(
        content.template,
        content.platform,
        content.nominal_time,
        content.before,
        None,
        {element.name: level.values[:, i] for i, element in enumerate(content.template.level)},
        {element.name: shear.values[:, i] for i, element in enumerate(content.template.shear)},
        content.origin,
    )

    assert write_message(again).value == message


@settings(max_examples=150)
@given(st.binary(max_size=300), st.booleans())
def test_any_bytes_are_read_without_an_exception(data, framed):
    """Bytes alone, and bytes in a frame of the right length: diagnostics, never an exception."""
    if framed:
        data = b"BUFR" + (len(data) + 12).to_bytes(3, "big") + b"\x04" + data + b"7777"
    results = list(read_soundings(data))

    assert all(item.code for result in results for item in result.diagnostics)
    assert results
