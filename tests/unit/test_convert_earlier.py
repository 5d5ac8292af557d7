"""What an earlier run left in the destination does not show in a later one."""

from __future__ import annotations

import shutil

import pytest

from encoder.convert import stations
from encoder.convert.run import Silent, plan_run, run_plan
from encoder.convert.sources import find_sources
from encoder.convert.storage import Store
from encoder.convert.work import Settings
from encoder.errors import InputError
from encoder.stations import StationCatalogue
from tests.conversions import coded_days, convert, quarantine, settings, station_text


def results_of(folder):
    """Return what a user has of a run: all but the working folder."""
    return {item.name: item.read_bytes() for item in sorted(folder.iterdir()) if item.is_file()}


def test_a_source_that_changed_back_is_converted_again(tmp_path):
    """Text as long as before, so that the sizes of the files are the same too."""
    source = tmp_path / "a.txt"
    texts = [station_text(count=3), station_text(count=3).replace(b"ncdc-gts", b"ncdc-nws")]
    made = []
    for text in (*texts, texts[0]):
        source.write_bytes(text)
        convert([source], tmp_path / "out", formats=("igra",))
        made.append((tmp_path / "out" / "90417-data.txt").read_bytes())
        assert made[-1] == text
    assert len(made[0]) == len(made[1])


def test_a_station_made_alone_and_then_of_two_sources_and_alone_again(tmp_path):
    """The file is always that of the sources given."""
    for name, seed in (("a", 3), ("b", 5)):
        (tmp_path / f"{name}.txt").write_bytes(station_text(seed=seed, count=3))
    one, two = [tmp_path / "a.txt"], [tmp_path / "a.txt", tmp_path / "b.txt"]
    for sources in (one, two, one, two):
        convert(sources, tmp_path / "out")
        convert(sources, tmp_path / "fresh")
        assert results_of(tmp_path / "out") == results_of(tmp_path / "fresh")
        shutil.rmtree(tmp_path / "fresh")


def test_a_refusal_that_was_mended_leaves_the_quarantine(tmp_path):
    """A source that changed while it was read, and then is what the plan was made of."""
    path = tmp_path / "a.txt"
    text = station_text(count=3)
    path.write_bytes(text)
    chosen = settings(tmp_path / "out")
    plan = plan_run([str(path)], chosen)
    path.write_bytes(text + b"more\n")
    assert run_plan(plan, chosen)["refused"] == {"convert-source-changed": 1}
    assert len(quarantine(tmp_path / "out")) == 1
    path.write_bytes(text)
    assert convert([path], tmp_path / "out")["refused"] == {}
    assert quarantine(tmp_path / "out") == []


def test_positions_found_later_leave_the_quarantine(tmp_path):
    """Soundings refused for want of a position are not in the quarantine of the next run."""
    coded_days(tmp_path / "in", 2)
    without = Settings(str(tmp_path / "out"), StationCatalogue(()))
    plan = plan_run([str(tmp_path / "in")], without)
    assert set(run_plan(plan, without)["refused"]) == {"convert-position-unknown"}
    assert quarantine(tmp_path / "out")
    convert([tmp_path / "in"], tmp_path / "out")
    convert([tmp_path / "in"], tmp_path / "fresh")
    assert results_of(tmp_path / "out") == results_of(tmp_path / "fresh")


def test_a_source_whose_reading_broke_off_while_it_was_written_is_read_again(tmp_path):
    """It ends in the middle of a zip, but it also changed: it is not damaged for good."""
    import zipfile

    path = tmp_path / "a.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("one.txt", station_text(count=200))
    whole = path.read_bytes()
    chosen = settings(tmp_path / "out")
    plan = plan_run([str(path)], chosen)
    path.write_bytes(whole[: len(whole) // 2])
    assert run_plan(plan, chosen)["refused"] == {"convert-source-changed": 1}
    path.write_bytes(whole)
    assert convert([path], tmp_path / "out")["total"]["soundings"]["written"] == 200


@pytest.mark.parametrize("alone", [True, False])
def test_a_file_that_is_not_what_was_written_is_made_again(tmp_path, monkeypatch, alone):
    """A difference read back is not taken for done by the next run."""
    names = ("a.txt",) if alone else ("a.txt", "b.txt")
    for name in names:
        (tmp_path / name).write_bytes(station_text(count=3))
    sources = [tmp_path / name for name in names]
    with monkeypatch.context() as patch:
        patch.setattr(stations, "differences", lambda *_given: ("air_pressure",))
        assert not convert(sources, tmp_path / "out")["adds_up"]
    assert convert(sources, tmp_path / "out")["adds_up"]


def test_the_destination_inside_a_source_is_not_read(tmp_path):
    """Else a second run would convert the results of the first one."""
    coded_days(tmp_path / "in", 2)
    made = []
    for _ in range(2):
        summary = convert([tmp_path / "in"], tmp_path / "in" / "results")
        made.append(results_of(tmp_path / "in" / "results"))
    assert [item["code"] for item in summary["not_read"]] == ["convert-own-results"]
    assert made[0] == made[1]


def test_the_order_of_what_is_given_does_not_show(tmp_path):
    """Also not in what is told of sources that cannot be read; a file given twice is read once."""
    coded_days(tmp_path / "in" / "inner", 2)
    (tmp_path / "in" / "x.bin").write_bytes(b"nothing")
    (tmp_path / "b.bin").write_bytes(b"nothing")
    given = [tmp_path / "gone", tmp_path / "b.bin", tmp_path / "in", tmp_path / "in" / "inner"]
    for name, order in (("one", given), ("two", given[::-1])):
        summary = convert(order, tmp_path / name)
    assert len(summary["sources"]) == 2
    assert len(summary["not_read"]) == 3
    assert results_of(tmp_path / "one") == results_of(tmp_path / "two")


def test_results_are_no_source_of_their_own_destination(tmp_path):
    """The quarantine file would be written over while its mended records are needed."""
    coded_days(tmp_path / "in", 2)
    convert([tmp_path / "in"], tmp_path / "out")
    (tmp_path / "link").symlink_to(tmp_path / "out" / "quarantine.jsonl")
    for name in ("out", "out/quarantine.jsonl", "link"):
        with pytest.raises(InputError, match="copy it elsewhere"):
            find_sources([str(tmp_path / name)], results=str(tmp_path / "out"))


def test_a_destination_that_goes_is_missed(tmp_path):
    """It is not made anew with the rest of the results."""

    class Removes(Silent):
        """Takes the destination away when the sources are read."""

        def stations_planned(self, count, done):
            shutil.rmtree(tmp_path / "out")

    coded_days(tmp_path / "in", 2)
    chosen = settings(tmp_path / "out")
    plan = plan_run([str(tmp_path / "in")], chosen)
    with pytest.raises(OSError, match=r"No such file|the folder is gone"):
        run_plan(plan, chosen, progress=Removes())
    assert not (tmp_path / "out").exists()
    with pytest.raises(OSError, match="the folder is gone"):
        Store(str(tmp_path / "out")).write("x", b"")


def test_a_station_file_that_goes_before_the_end_is_missed(tmp_path):
    """The summary never names files that are not there."""

    class Removes(Silent):
        """Takes one file away when another one was made."""

        def station_done(self, document):
            for item in (tmp_path / "out").glob("90417.nc"):
                item.unlink()

    coded_days(tmp_path / "in", 2)
    chosen = settings(tmp_path / "out")
    plan = plan_run([str(tmp_path / "in")], chosen)
    with pytest.raises(OSError, match=r"90417.nc went or changed"):
        run_plan(plan, chosen, progress=Removes())
    assert not (tmp_path / "out" / "summary.json").exists()
    assert convert([tmp_path / "in"], tmp_path / "out")["adds_up"]


def test_a_head_that_cannot_be_judged_is_told(tmp_path, monkeypatch):
    """The program fails over one file when it looks what it is; the others are found."""
    from encoder.convert import sources

    coded_days(tmp_path / "in", 2)
    real = sources.guess
    failed = []

    def fails(head, **more):
        if not failed:
            failed.append(head)
            raise IndexError("no head")
        return real(head, **more)

    monkeypatch.setattr(sources, "guess", fails)
    made, found = find_sources([str(tmp_path / "in")])
    assert len(made) == 1
    assert [item.code for item in found] == ["convert-unit-failed"]
    assert "IndexError: no head" in found[0].message
