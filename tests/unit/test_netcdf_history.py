"""The station history: many soundings, continued safely, corrections kept."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from dataclasses import replace
from datetime import timedelta

import netCDF4
import numpy as np
import pytest

from encoder.archive import history_of, joined
from encoder.errors import InputError
from encoder.formats.netcdf import PRODUCTS, append_to_history, read_netcdf, write_netcdf
from encoder.formats.netcdf.template import deviations
from encoder.levels import Levels
from encoder.sounding import Sounding
from tests.archives import ROOT, igra_sounding, sample_archive, service, sounding_of_archive

DAY = timedelta(hours=12)


def soundings(count=4) -> list[Sounding]:
    """Return soundings of one station, each of its own time and length."""
    first = sounding_of_archive(sample_archive())
    made = []
    for place in range(count):
        levels = first.levels.select(slice(0, len(first.levels) - place))
        made.append(
            Sounding(
                first.station,
                first.time + place * DAY,
                first.nominal_time + place * DAY,
                levels,
                {name: values[: len(levels)] for name, values in first.status.items()},
                first.text.replace("90417", "90417 ", 1) if place % 2 else first.text,
                formula=first.formula,
            )
        )
    return made


def codes(result):
    return [item.code for item in result.diagnostics]


def test_a_history_comes_back(tmp_path) -> None:
    """Every sounding of a history is equal to the one written, whatever its length."""
    path = tmp_path / "history.nc"
    made = soundings()
    write_netcdf(history_of(made), path, service=service())
    again = read_netcdf(path).value
    assert again == history_of(made)
    assert list(again.soundings()) == made
    assert again[-1] == made[-1]
    with netCDF4.Dataset(path) as dataset:
        dataset.set_auto_maskandscale(False)
        assert deviations(dataset, PRODUCTS["history"]) == []
        assert dataset["row_size"].sample_dimension == "obs"
        assert len(set(netCDF4.chartostring(dataset["profile_id"][...]).tolist())) == len(made)


def test_integers_as_the_source_had_them(tmp_path) -> None:
    """A history of archived soundings holds their figures and comes back."""
    sounding, rows = igra_sounding()
    path = tmp_path / "history.nc"
    later = replace(sounding, nominal_time=sounding.nominal_time + DAY)
    write_netcdf(history_of([sounding, later]), path)
    with netCDF4.Dataset(path) as dataset:
        dataset.set_auto_maskandscale(False)
        assert dataset["air_temperature"].dtype == np.int16
        figures = [int(row[22:27]) for row in rows]
        stored = dataset["air_temperature"][: len(rows)].tolist()
        assert [a for a, b in zip(stored, figures, strict=True) if b > -8888] == [
            b for b in figures if b > -8888
        ]
    assert read_netcdf(path).value.soundings() == (sounding, later)


def test_mixed_wind_units_stay_exact(tmp_path) -> None:
    """Knots and tenths of m s-1 in one history cannot share whole steps: floats keep both."""
    path = tmp_path / "history.nc"
    knots = soundings(1)[0]
    metres = replace(
        knots,
        nominal_time=knots.nominal_time + DAY,
        levels=Levels(
            {**knots.levels.columns, "wind_speed": np.round(knots.levels["wind_speed"], 1)},
            knots.levels.kinds,
            attributes=knots.levels.attributes,
        ),
        report=None,
        diagnostics=(),
    )
    plain = replace(knots, report=None, diagnostics=())
    write_netcdf(history_of([plain, metres]), path)
    assert read_netcdf(path).value.soundings() == (plain, metres)
    with netCDF4.Dataset(path) as dataset:
        assert dataset["wind_speed"].dtype == np.float64


def test_soundings_are_kept_in_the_order_of_time(tmp_path) -> None:
    """A sounding that arrives late takes its place by nominal time."""
    path = tmp_path / "history.nc"
    made = soundings()
    append_to_history(path, [made[0], made[3]])
    append_to_history(path, [made[2]])
    result = append_to_history(path, [made[1]])
    assert list(result.value.soundings()) == made
    assert list(read_netcdf(path).value.soundings()) == made


def test_an_equal_sounding_changes_nothing(tmp_path) -> None:
    """Adding what is there already leaves the file as it is, byte for byte."""
    path = tmp_path / "history.nc"
    made = soundings(2)
    append_to_history(path, made)
    before = path.read_bytes()
    result = append_to_history(path, [made[1]])
    assert codes(result) == ["archive-already-there"]
    assert path.read_bytes() == before


def test_a_corrected_report_replaces_and_keeps_its_predecessor(tmp_path) -> None:
    """The corrected report is the current one; the former stays, marked as superseded."""
    path = tmp_path / "history.nc"
    made = soundings(3)
    append_to_history(path, made)
    corrected = replace(made[1], text=made[1].text.replace("TTAA", "TTAA  "))
    again = replace(made[1], text=made[1].text.replace("TTAA", "TTAA   "))
    assert codes(append_to_history(path, [corrected])) == ["archive-corrected"]
    assert codes(append_to_history(path, [again])) == ["archive-corrected"]
    history = read_netcdf(path).value
    assert history.superseded.tolist() == [False, True, True, False, False]
    current = [history[int(place)] for place in history.current()]
    assert current == [made[0], again, made[2]]
    assert history[1] == replace(made[1], superseded=True)
    assert len(history.remarks) == 3


def test_corrections_in_one_go(tmp_path) -> None:
    """Of two soundings of one time, given together, the later one counts."""
    path = tmp_path / "history.nc"
    first = soundings(1)[0]
    other = replace(first, text=first.text + " ")
    result = append_to_history(path, [first, other])
    assert codes(result) == ["archive-corrected"]
    assert result.value.superseded.tolist() == [True, False]


def test_another_station_is_refused(tmp_path) -> None:
    """A file of one station takes no sounding of another; it stays as it was."""
    path = tmp_path / "history.nc"
    append_to_history(path, soundings(1))
    before = path.read_bytes()
    stranger = sounding_of_archive(sample_archive("halden-dome"))
    result = append_to_history(path, [stranger])
    assert (result.value, codes(result)) == (None, ["archive-other-station"])
    assert path.read_bytes() == before
    with pytest.raises(InputError, match="one station"):
        history_of([soundings(1)[0], stranger])
    assert codes(append_to_history(tmp_path / "new.nc", [soundings(1)[0], stranger])) == [
        "archive-other-station"
    ]
    assert not (tmp_path / "new.nc").exists()


def test_another_formula_is_refused(tmp_path) -> None:
    """Humidities computed by two formulas do not go into one file."""
    path = tmp_path / "history.nc"
    append_to_history(path, soundings(1))
    other = replace(soundings(2)[1], formula="hyland-wexler")
    assert codes(append_to_history(path, [other])) == ["archive-other-formula"]
    with pytest.raises(InputError, match="formula"):
        history_of([soundings(1)[0], other])
    with pytest.raises(InputError, match="at least one"):
        history_of([])


def test_a_file_of_another_product_is_refused(tmp_path) -> None:
    """A level file is not continued as a history, and not touched."""
    path = tmp_path / "levels.nc"
    write_netcdf(soundings(1)[0], path)
    before = path.read_bytes()
    assert codes(append_to_history(path, soundings(1))) == ["archive-other-product"]
    path.write_bytes(before[:5000])
    assert codes(append_to_history(path, soundings(1))) == ["archive-damaged"]
    assert path.read_bytes() == before[:5000]


def test_joined_is_the_history_of_all(tmp_path) -> None:
    """Two histories joined are the history of their soundings in the order of time."""
    made = soundings(5)
    assert joined(history_of([made[1], made[4]]), history_of([made[0], made[2], made[3]])) == (
        history_of(made)
    )


WRITER = """
import sys
from datetime import timedelta
from dataclasses import replace
from encoder.formats.netcdf import append_to_history
from tests.unit.test_netcdf_history import soundings
path, first, step, count = sys.argv[1], int(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4])
one = soundings(1)[0]
print("ready", flush=True)
for place in range(first, first + step * count, step):
    late = timedelta(hours=12 * place)
    moved = replace(one, time=one.time + late, nominal_time=one.nominal_time + late)
    append_to_history(path, [moved])
"""


def writer(path, first, step, count):
    """Start a process that adds soundings one by one."""
    process = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path), str(first), str(step), str(count)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout.readline() == "ready\n"
    return process


def test_killed_at_any_moment_the_file_is_whole(tmp_path) -> None:
    """A writer killed in the middle leaves a readable history, one more at most than before."""
    path = tmp_path / "history.nc"
    append_to_history(path, soundings(1))
    length = 1
    for delay in (0.01, 0.03, 0.05, 0.08, 0.12):
        process = writer(path, length + 100, 1, 1000)
        time.sleep(delay)
        process.send_signal(signal.SIGKILL)
        process.wait()
        process.stdout.close()
        result = read_netcdf(path)
        assert result.diagnostics == ()
        assert len(result.value) >= length
        assert result.value[0] == replace(soundings(1)[0], report=None, diagnostics=())
        length = len(result.value)
    append_to_history(path, [soundings(2)[1]])
    names = sorted(item.name for item in tmp_path.iterdir())
    assert names == ["history.nc"]


def test_two_writers_lose_nothing(tmp_path) -> None:
    """Two processes that add soundings at the same time: all of them are in the file."""
    path = tmp_path / "history.nc"
    running = [writer(path, first, 2, 12) for first in (0, 1)]
    for process in running:  # each holds the lock in turn and removes its file
        assert process.wait(timeout=60) == 0
        process.stdout.close()
    history = read_netcdf(path).value
    assert len(history) == 24
    assert np.all(np.diff(history.nominal_time) == 43200.0)
    assert not history.superseded.any()
