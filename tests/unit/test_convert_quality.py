"""Checks of station histories: findings set bits, values stay."""

from __future__ import annotations

import numpy as np
import pytest

from encoder.convert.station_file import read_converted
from encoder.formats.netcdf.converted_product import LevelQuality, SoundingQuality
from samples.archive_generator import igra
from tests.conversions import (
    EXCERPT,
    convert,
    station_text,
)


def flagged(folder, name="90417.nc"):
    batch, _station, _sources = read_converted(folder / name)
    return batch.profiles["sounding_quality"], batch.levels["level_quality"]


@pytest.mark.parametrize(
    ("change", "bit"),
    [
        (lambda line: line[:22] + b"  999" + line[27:], LevelQuality.TEMPERATURE_OUTSIDE_LIMITS),
        (lambda line: line[:16] + b"60000" + line[21:], LevelQuality.HEIGHT_OUTSIDE_LIMITS),
        (lambda line: line[:9] + b"200000" + line[15:], LevelQuality.PRESSURE_OUTSIDE_LIMITS),
        (lambda line: line[:46] + b" 1900" + line[51:], LevelQuality.WIND_OUTSIDE_LIMITS),
        (lambda line: line[:34] + b" 1100" + line[39:], LevelQuality.HUMIDITY_OUTSIDE_LIMITS),
        (lambda line: line[:40] + b"-9999" + line[45:], LevelQuality.HALF_WIND),
        (lambda line: line[:9] + b"100001" + line[15:], LevelQuality.PRESSURE_ORDER),
        (lambda line: line[:46] + b"  990" + line[51:], LevelQuality.WIND_JUMP),
        (lambda line: line[:22] + b" -700" + line[27:], LevelQuality.LAPSE_RATE),
        (lambda line: line[:22] + b"  300" + line[27:], LevelQuality.TEMPERATURE_SPIKE),
        (lambda line: line[:16] + b"    5" + line[21:], LevelQuality.HEIGHT_ORDER),
        (lambda line: line[:16] + b" 9900" + line[21:], LevelQuality.LAYER_THICKNESS),
    ],
)
def test_values_are_flagged_and_never_removed(tmp_path, change, bit):
    """A wrong value sets its bit and the bit of the sounding, and stays as it was."""
    text = station_text(count=2)
    lines = text.split(b"\n")
    place = next(i for i, line in enumerate(lines) if line.startswith(b"10") and b" 50000B" in line)
    lines[place] = change(lines[place])
    (tmp_path / "a.txt").write_bytes(b"\n".join(lines))
    summary = convert([tmp_path / "a.txt"], tmp_path / "out", formats=("igra", "netcdf"))
    sounding, level = flagged(tmp_path / "out")
    assert summary["adds_up"]
    assert np.any(level & int(bit))
    assert sounding[0] & int(SoundingQuality.LEVELS_FLAGGED)
    assert (tmp_path / "out" / "90417-data.txt").read_bytes() == b"\n".join(lines)


def test_real_and_generated_soundings_have_no_findings(tmp_path):
    """The limits let the real excerpt and the weather of the generator pass."""
    (tmp_path / "a.txt").write_bytes(EXCERPT)
    (tmp_path / "b.txt").write_bytes(station_text(count=60))
    convert([tmp_path / "a.txt", tmp_path / "b.txt"], tmp_path / "out")
    assert not flagged(tmp_path / "out", "71701.nc")[1].any()
    assert not flagged(tmp_path / "out")[1].any()


def test_a_profile_that_is_repeated_is_flagged(tmp_path):
    """The very levels of the sounding before under another time."""
    text = station_text(count=2)
    one, two = text.replace(b"\n#", b"\n\0#").split(b"\0")
    again = two.split(b"\n")[0].replace(b"%4d ncdc" % (two.count(b"\n") - 1), b"")
    head = two[:71].replace(two[32:36], one[32:36])
    (tmp_path / "a.txt").write_bytes(one + head + one[71:])
    convert([tmp_path / "a.txt"], tmp_path / "out")
    sounding, _level = flagged(tmp_path / "out")
    assert again
    assert [bool(x & int(SoundingQuality.REPEATED_PROFILE)) for x in sounding] == [False, True]


def test_a_position_that_is_not_of_the_catalogue_is_flagged(tmp_path):
    """A station in another place than the catalogue has it at that date."""
    text = station_text(count=2)
    (tmp_path / "a.txt").write_bytes(text.replace(b" 534127", b" 544127", 1))
    convert([tmp_path / "a.txt"], tmp_path / "out")
    sounding, _level = flagged(tmp_path / "out")
    bit = int(SoundingQuality.POSITION_NOT_OF_CATALOGUE)
    assert [bool(x & bit) for x in sounding] == [True, False]


def test_winds_in_the_wrong_unit_are_found_by_their_neighbours(tmp_path):
    """A run of soundings with winds twice as strong as before and after: knots taken for m/s."""
    texts = list(igra.station_text("90417", 2001, 1, 3))[:240]
    made = []
    for number, text in enumerate(texts):
        if 80 <= number < 160:
            lines = text.split(b"\n")
            lines[1:-1] = [
                line[:46] + b"%5d" % round(int(line[46:51]) / 0.514444) + line[51:]
                for line in lines[1:-1]
            ]
            made.append(b"\n".join(lines))
        else:
            made.append(text)
    (tmp_path / "a.txt").write_bytes(b"".join(made))
    convert([tmp_path / "a.txt"], tmp_path / "out")
    sounding, _level = flagged(tmp_path / "out")
    found = np.flatnonzero(sounding & int(SoundingQuality.WIND_UNIT_SUSPECT))
    assert found.min() >= 70
    assert found.max() < 170
    assert len(found) >= 70


def test_headers_set_bits_of_their_sounding(tmp_path):
    """Hour 99, dates that go back, releases far off, no levels, another number of levels."""
    text = station_text(count=3)
    one, two, three = text.replace(b"\n#", b"\n\0#").split(b"\0")
    one = one[:24] + b"99" + one[26:]
    two = two[:27] + b"0530" + two[31:] if two[24:26] == b"12" else two
    three = three[: three.index(b"\n") + 1]
    (tmp_path / "a.txt").write_bytes(three + two + one)
    convert([tmp_path / "a.txt"], tmp_path / "out")
    sounding, _level = flagged(tmp_path / "out")
    bits = [{item.name for item in SoundingQuality if x & int(item)} for x in sounding]
    assert {"HOUR_UNKNOWN", "TIME_GOES_BACK"} <= bits[0]
    assert {"RELEASE_FAR_FROM_NOMINAL", "TIME_GOES_BACK"} <= bits[1]
    assert {"NO_LEVELS", "LEVEL_COUNT_DIFFERS"} <= bits[2]


def test_directions_that_lost_their_fives_are_found_by_their_neighbours(tmp_path):
    """A sounding of a station that gives fives, with every direction in whole tens."""
    texts = list(igra.station_text("90417", 2001, 1, 3))[:80]

    def in_tens(text):
        lines = text.split(b"\n")
        lines[1:-1] = [
            line[:40] + b"%5d" % (int(line[40:45]) // 10 * 10) + line[45:]
            if line[40:45] != b"-9999"
            else line
            for line in lines[1:-1]
        ]
        return b"\n".join(lines)

    bit = int(SoundingQuality.DIRECTIONS_IN_TENS)
    some = [in_tens(text) if number in (7, 40) else text for number, text in enumerate(texts)]
    (tmp_path / "a.txt").write_bytes(b"".join(some))
    convert([tmp_path / "a.txt"], tmp_path / "some")
    found = flagged(tmp_path / "some")[0]
    assert np.flatnonzero(found & bit).tolist() == [7, 40]
    # a station that never gives fives has lost none
    (tmp_path / "a.txt").write_bytes(b"".join(in_tens(text) for text in texts))
    convert([tmp_path / "a.txt"], tmp_path / "all")
    assert not (flagged(tmp_path / "all")[0] & bit).any()
