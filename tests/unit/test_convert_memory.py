"""The bound of memory: how many processes may work, and what does not fit at all."""

from __future__ import annotations

import pytest

from encoder.convert.memory import BASE_BYTES, jobs_that_fit, source_needs, station_need
from encoder.convert.run import plan_run, run_plan
from encoder.convert.storage import Store
from encoder.convert.work import Settings
from encoder.errors import InputError
from encoder.stations import NORRELAND
from tests.unit.test_convert_text import coded

GIB = 1 << 30


@pytest.mark.parametrize(
    ("jobs", "memory", "needs", "expected"),
    [
        (8, 4 * GIB, [("a", GIB), ("b", GIB // 2)], 4),
        (2, 4 * GIB, [("a", GIB)], 2),
        (8, GIB, [("a", GIB)], 1),
        (3, GIB, [], 3),
    ],
)
def test_no_more_processes_than_fit(jobs, memory, needs, expected):
    """All may hold the largest unit at once."""
    assert jobs_that_fit(jobs, memory, needs) == expected


def test_a_source_that_does_not_fit_is_told_before_anything_is_done(tmp_path):
    """One line with the figure, nothing written but the lock."""
    (tmp_path / "19940111.txt").write_text(coded()["A"])
    settings = Settings(str(tmp_path / "out"), NORRELAND)
    plan = plan_run([str(tmp_path / "19940111.txt")], settings)
    assert source_needs(plan)[0][1] > BASE_BYTES
    with pytest.raises(InputError, match=r"11.txt needs about 150 MiB, --memory allows 9"):
        run_plan(plan, settings, memory=9 << 20)
    assert not (tmp_path / "out" / ".work" / "units").exists()


def test_a_station_that_does_not_fit_stops_cleanly_and_goes_on(tmp_path, monkeypatch):
    """What was read stays read; with more memory the run ends as any other."""
    import encoder.convert.memory as module

    (tmp_path / "19940111.txt").write_text("\n".join(coded().values()))
    settings = Settings(str(tmp_path / "out"), NORRELAND)
    plan = plan_run([str(tmp_path / "19940111.txt")], settings)
    monkeypatch.setattr(module, "BYTES_OF_A_PART", 1e6)
    with pytest.raises(InputError, match="90417 needs about"):
        run_plan(plan, settings, memory=GIB)
    shards = list((tmp_path / "out").glob(".work/units/*/90417.parts"))
    store = Store(str(tmp_path / "out"))
    names = [str(item.relative_to(tmp_path / "out")) for item in shards]
    assert station_need(names, store) > GIB
    monkeypatch.undo()
    assert run_plan(plan, settings, memory=GIB)["total"]["soundings"]["written"] == 1
