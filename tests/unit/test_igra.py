"""IGRA sounding data: reading many lines at once, refusing, writing back."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from encoder.convert.from_igra import batch_of_igra, igra_of_batch, station_key, times
from encoder.formats.igra.reader import is_igra, read_igra
from encoder.formats.igra.writer import write_igra

EXCERPT = (
    Path(__file__).parents[1] / "external" / "data" / "igra_sounding_excerpt.txt"
).read_bytes()
"""Real sounding of the IGRA archive (public domain), verbatim."""
HEAD = b"#NRM00090417 2021 01 26 12 1011    2 ncdc-gts ncdc-gts  534127  -182751\n"
LEVEL = b"10 -9999 100000   116B  -63B-9999    19   285    46 \n"
SECOND = b"20   123  97700 -8888A  -73 -8888     7 -8888   146 \n"
SOUNDING = HEAD + LEVEL + SECOND


def written(soundings) -> bytes:
    return b"".join(write_igra(soundings))


def test_real_sounding_is_read_as_its_lines_say():
    """Every number of the excerpt is in its column, the flags too."""
    made = read_igra(EXCERPT)
    lines = EXCERPT.decode("ascii").splitlines()[1:]
    assert (len(made), made.refused, made.found) == (1, (), ())
    for name, begin, end in (
        ("pressure", 9, 15),
        ("height", 16, 21),
        ("temperature", 22, 27),
        ("depression", 34, 39),
        ("direction", 40, 45),
        ("speed", 46, 51),
    ):
        assert made.levels[name].tolist() == [int(line[begin:end]) for line in lines]
    assert bytes(made.levels["pressure_flag"]).decode() == "".join(line[15] for line in lines)


@pytest.mark.parametrize(
    "text",
    [
        EXCERPT,
        EXCERPT + SOUNDING,
        SOUNDING.replace(b" \n", b"\n"),
        SOUNDING.replace(b"\n", b"\r\n"),
        SOUNDING.replace(b" \n", b"\n").replace(b"\n", b"\r\n"),
        SOUNDING.rstrip(b"\n"),
        SOUNDING + SOUNDING.replace(b"\n", b"\r\n") + SOUNDING,
        HEAD,
        HEAD.replace(b"\n", b"\r\n"),
        HEAD + HEAD + LEVEL,
    ],
    ids=[
        "real",
        "two",
        "no-blank",
        "crlf",
        "crlf-no-blank",
        "open-end",
        "mixed",
        "empty",
        "crlf-empty",
        "short",
    ],
)
def test_written_back_the_bytes_are_those_of_the_source(text):
    """The layout comes out again byte for byte, also through the columns of the archive."""
    made = read_igra(text)
    assert made.refused == ()
    assert written(made) == text
    assert written(igra_of_batch(batch_of_igra(made, "90417"))) == text


def test_every_number_of_the_layout_is_written_as_it_was_read():
    """Each field is held to its limits, both missing figures included."""
    random = np.random.default_rng(4)
    lines = []
    for _ in range(400):

        def pick(low, high):
            return int(random.choice([-9999, -8888, low, high, random.integers(low, high + 1)]))

        pressure = int(random.choice([-9999, random.integers(0, 120000)]))
        elapsed = int(random.choice([-9999, -8888, random.integers(0, 300) * 100 + 59]))
        lines.append(
            f"{random.choice([10, 11, 12, 20, 21, 22, 30, 31, 32])} {elapsed:5d} {pressure:6d}"
            f"{random.choice(list(' AB'))}{pick(-999, 45000):5d}{random.choice(list(' AB'))}"
            f"{pick(-990, 500):5d}{random.choice(list(' AB'))}{pick(0, 1000):5d} "
            f"{pick(0, 500):5d} {pick(0, 360):5d} {pick(0, 1500):5d} \n"
        )
    text = HEAD.replace(b"   2 n", b" 400 n") + "".join(lines).encode()
    made = read_igra(text)
    assert made.refused == ()
    assert written(igra_of_batch(batch_of_igra(made, "90417"))) == text


@pytest.mark.parametrize("size", [1, 7, 52, 100, 1000])
def test_pieces_of_any_size_give_the_same(size):
    """How the bytes arrive does not matter."""
    text = (EXCERPT + SOUNDING) * 3
    made = read_igra(text[at : at + size] for at in range(0, len(text), size))
    assert written(made) == text
    assert made.size == len(text)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b"   116B", b"  0116B"),
        (b"  -63B", b" - 63B"),
        (b"  -63B", b"   -0B"),
        (b"   116B", b"   1O6B"),
        (b"   116B", b"   116C"),
        (b"10 -9999", b"40 -9999"),
        (b"  123  97700", b" -123  97700"),
        (b"  123  97700", b"  160  97700"),
        (b"   285", b"   361"),
        (b"   285", b"\0\0\0\0\0\0"),
        (b"46 \n", b"46 x\n"),
        (b"   7 -8888", b"\n -8888"),
        (b" 97700", b" -8888"),
        (b"2021 01 26", b"2021 02 30"),
        (b"26 12", b"26 24"),
        (b"1011    2", b"1060    2"),
        (b"1011    2", b"2460    2"),
        (b" 534127", b" 5341x7"),
    ],
)
def test_a_line_off_the_layout_refuses_its_sounding_whole(old, new):
    """The refused bytes are the sounding, with the line; its neighbours are taken."""
    wrong = SOUNDING.replace(old, new)
    assert wrong != SOUNDING
    text = EXCERPT + wrong + SOUNDING
    made = read_igra(text)
    assert len(made) == 2
    (refused,) = made.refused
    assert (refused.data, refused.offset) == (wrong, len(EXCERPT))
    assert [item.code for item in refused.diagnostics] == ["igra-line-malformed"]
    assert refused.levels >= 2
    assert written(made) == EXCERPT + SOUNDING


def test_elapsed_times_are_counted_in_minutes_and_seconds():
    """ETIME is MMMSS: 123 is one minute and 23 seconds."""
    made = read_igra(SOUNDING)
    batch = batch_of_igra(made, "90417")
    assert batch.levels["time"].tolist() == [-2147483648, 83]


def test_missing_and_removed_are_kept_apart():
    """-9999 is not reported, -8888 removed; both have the fill value."""
    batch = batch_of_igra(read_igra(SOUNDING), "90417")
    assert batch.levels["geopotential_height"].tolist() == [116, -2147483648]
    assert batch.levels["geopotential_height_status"].tolist() == [0, 3]
    assert batch.levels["relative_humidity_status"].tolist() == [2, 3]
    assert batch.levels["air_temperature_status"].tolist() == [0, 0]


def test_a_header_that_announces_other_levels_is_told_and_kept():
    """The levels that are there are taken; the announced number is written back."""
    text = HEAD.replace(b"   2 n", b" 147 n") + LEVEL
    made = read_igra(text)
    assert [item.code for item in made.found] == ["igra-level-count"]
    assert (made.headers["announced"].tolist(), made.headers["row_size"].tolist()) == ([147], [1])
    assert written(made) == text


def test_text_before_the_first_header_is_refused():
    """Nothing is skipped: what stands outside has a place among the refused."""
    made = read_igra(b"some words\n" + SOUNDING)
    assert [(item.offset, item.data, item.soundings) for item in made.refused] == [
        (0, b"some words\n", 0)
    ]
    assert made.refused[0].diagnostics[0].code == "igra-outside-sounding"


def test_lines_that_end_in_several_ways_are_taken_and_told():
    """A sounding with mixed line ends keeps its values."""
    made = read_igra(SOUNDING.replace(b"46 \n", b"46 \r\n"))
    assert len(made) == 1
    assert [item.code for item in made.found] == ["igra-lines-mixed"]
    assert written(made) == SOUNDING


def test_no_text_at_all():
    """An empty file has no soundings and no bytes."""
    made = read_igra(b"")
    assert (len(made), made.size, made.refused) == (0, 0, ())


@pytest.mark.parametrize(
    ("hour", "release", "time", "source"),
    [
        ("00", "2303", "2021-01-25T23:03", 0),
        ("12", "1011", "2021-01-26T10:11", 0),
        ("18", "0010", "2021-01-27T00:10", 0),
        ("12", "1099", "2021-01-26T12:00", 1),
        ("12", "9999", "2021-01-26T12:00", 1),
        ("99", "1130", "2021-01-26T11:30", 0),
        ("99", "9999", "2021-01-26T00:00", 2),
    ],
)
def test_times_of_release(hour, release, time, source):
    """The date belongs to the hour: a release far from it is on the day beside (format description,
    HOUR and RELTIME)."""
    head = HEAD.replace(b"26 12 1011", f"26 {hour} {release}".encode())
    released, _nominal, known = times(read_igra(head).headers)
    assert str(released.astype("datetime64[s]").astype("datetime64[m]")[0]) == time
    assert known.tolist() == [source]


def test_stations_with_wmo_numbers_go_by_them():
    """The network letter M means a number of the WMO (station list format)."""
    assert station_key("CAM00071701") == "71701"
    assert station_key("USW00094703") == "USW00094703"


def test_the_layout_is_recognised_by_its_header():
    """A file is one of the layout if it begins with a header line, whatever its name."""
    assert is_igra(EXCERPT)
    assert not is_igra(b"#NRM00090417 and so on\n")
    assert not is_igra(b"TTAA 51001 90417=")


@pytest.mark.parametrize("rate", [0.0, 0.001, 0.02, 0.3])
def test_compiled_code_reads_the_same(rate):
    """Columns of lines and faults are those of the definition, also of damaged lines."""
    from encoder.formats.igra import compiled, lines

    random = np.random.default_rng(7)
    table = np.frombuffer(
        b"".join(line.ljust(52) for line in EXCERPT.split(b"\n")[1:-1]), np.uint8
    ).reshape(-1, 52)
    table = np.tile(table, (60, 1))
    signs = np.frombuffer(b"0123456789 -9AB?\x00\xff/:1234", np.uint8)
    damaged = random.random(table.shape) < rate
    table[damaged] = random.choice(signs, int(damaged.sum()))
    columns, wrong = lines.level_columns(table)
    own, own_wrong = compiled.level_columns(table)
    assert np.array_equal(wrong, own_wrong)
    assert set(own) == set(columns)
    for name, values in columns.items():
        assert own[name].dtype == values.dtype
        assert np.array_equal(own[name][~wrong], values[~wrong]), name
