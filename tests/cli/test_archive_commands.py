"""archive, show and export, and the archive's files given to the other commands."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import netCDF4
import pytest
from click.testing import CliRunner

from encoder.cli import cli
from encoder.formats.netcdf import read_netcdf
from tests.archives import DATA, ROOT, real_texts
from tests.unit.test_foreign_cf import write as write_foreign

HARROW = str(ROOT / "samples" / "flights" / "harrow-tarn")
HALDEN = str(ROOT / "samples" / "flights" / "halden-dome")
SERVICE = str(ROOT / "samples" / "service.json")


def run(*arguments, text=None):
    return CliRunner().invoke(
        cli, [str(item) for item in arguments], input=text, catch_exceptions=False
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The files of two flights."""
    path = tmp_path_factory.mktemp("archive")
    result = run("archive", HARROW, HALDEN, "-o", path, "--service", SERVICE)
    assert result.exit_code == 0
    return path


@pytest.fixture(scope="module")
def report():
    """The report of the first flight."""
    return run("encode", HARROW).stdout


@pytest.mark.parametrize("command", ["archive", "show", "export"])
def test_help(command) -> None:
    """Each command explains itself in 80 columns, with an example."""
    result = run(command, "--help")
    assert result.exit_code == 0
    assert "Example:" in result.stdout
    assert max(len(line) for line in result.stdout.splitlines()) <= 80


def test_archive_writes_the_products(folder) -> None:
    """A flight gives a flight file, a level file and the history of its station."""
    names = sorted(item.name for item in folder.iterdir() if not item.name.startswith("."))
    assert names == [
        "90417_20310709T0000Z_flight.nc",
        "90417_20310709T0000Z_levels.nc",
        "90417_history.nc",
        "90731_20310320T1200Z_flight.nc",
        "90731_20310320T1200Z_levels.nc",
        "90731_history.nc",
    ]


def test_archive_tells_what_it_wrote(tmp_path) -> None:
    """Names and sizes go to standard output; a second run changes no history and says so."""
    first = run("archive", HALDEN, "-o", tmp_path)
    assert first.stdout.count("wrote ") == 3
    assert "archive-service-unknown" in first.stderr
    second = run("archive", HALDEN, "-o", tmp_path, "--service", SERVICE)
    assert "archive-already-there" in second.stderr
    assert second.exit_code == 0


def test_only_some_products(tmp_path) -> None:
    """--products takes any of the three, and nothing else."""
    run("archive", HALDEN, "-o", tmp_path, "--products", "levels")
    assert [item.name for item in tmp_path.iterdir()] == ["90731_20310320T1200Z_levels.nc"]
    assert run("archive", HALDEN, "--products", "all").exit_code == 2
    assert run("archive", HALDEN, "--products", ",").exit_code == 2


def test_the_report_as_it_was_sent(tmp_path, report) -> None:
    """--report keeps the characters that were sent in place of coding the flight again."""
    sent = tmp_path / "sent.txt"
    sent.write_text(report.replace("TTAA", "\r\nTTAA "))
    result = run("archive", HARROW, "-o", tmp_path, "--report", sent)
    assert result.exit_code == 0
    archive = read_netcdf(tmp_path / "90417_20310709T0000Z_flight.nc").value
    assert archive.reports[0].text.encode() == sent.read_bytes()
    assert run("archive", HARROW, HALDEN, "--report", sent).exit_code == 2


def test_archive_a_coded_report(tmp_path, report) -> None:
    """A report needs month and position; known stations have a position."""
    path = tmp_path / "report.txt"
    path.write_text(report)
    out = tmp_path / "out"
    without = run("archive", path, "-o", out)
    assert (without.exit_code, "report-without-time" in without.stderr) == (1, True)
    wrong = run("archive", path, "-o", out, "--month", "2031-13")
    assert (wrong.exit_code, "--month" in wrong.stderr) == (2, True)
    dated = tmp_path / "report-2031-07-09.txt"
    dated.write_text(report)
    assert run("archive", dated, "-o", tmp_path / "dated").exit_code == 0
    assert run("archive", path, "-o", out, "--month", "2031-07").exit_code == 0
    assert run("encode", out / "90417_20310709T0000Z_levels.nc").stdout == report
    assert run("encode", out / "90417_history.nc").stdout == report


def test_a_sounding_that_is_there_changes_nothing(folder) -> None:
    """The same flight again leaves the history as it is, and says so."""
    history = folder / "90731_history.nc"
    before = history.read_bytes()
    result = run("archive", HALDEN, "-o", folder, "--products", "history")
    assert result.exit_code == 0
    assert result.stdout.startswith(f"left as it is: {history} (1 sounding")
    assert history.read_bytes() == before


WITHOUT_PRIVILEGE = (1, 2)
"""Capabilities by which root writes and reads against the mode of a file (linux/capability.h)."""


def without_privilege():
    """Give up in a child process what lets root write into a read-only folder."""
    import ctypes

    drop_from_bounding_set = 24  # PR_CAPBSET_DROP, linux/prctl.h
    for capability in WITHOUT_PRIVILEGE:
        ctypes.CDLL(None).prctl(drop_from_bounding_set, capability, 0, 0, 0)


@pytest.mark.parametrize(
    "arguments",
    [
        ("archive", HALDEN, "-o", "{}"),
        ("archive", HALDEN, "-o", "{}/new"),
        ("archive", HALDEN, "-o", "{}", "--products", "history"),
        ("export", "{}/90731_history.nc", "--to", "csv", "-o", "{}/table.csv"),
        ("report", HALDEN, "-o", "{}/page.html"),
    ],
)
def test_a_folder_that_may_not_be_written_to(folder, tmp_path, arguments) -> None:
    """A read-only folder: one clear line, exit code 3, the old file untouched, nothing new."""
    kept = tmp_path / "kept"
    kept.mkdir()
    old = (folder / "90731_history.nc").read_bytes()
    (kept / "90731_history.nc").write_bytes(old)
    kept.chmod(0o555)
    done = subprocess.run(
        [sys.executable, "-m", "encoder", *(word.replace("{}", str(kept)) for word in arguments)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        preexec_fn=without_privilege,
    )
    kept.chmod(0o755)
    assert done.returncode == 3
    assert "Permission denied" in done.stderr
    assert "Traceback" not in done.stderr
    assert [item.name for item in kept.iterdir()] == ["90731_history.nc"]
    assert (kept / "90731_history.nc").read_bytes() == old


def test_reports_of_an_archive_have_a_date(folder) -> None:
    """A report read from an archive has the date the archive keeps of it, and says so."""
    for name in ("90731_history.nc", "90731_20310320T1200Z_levels.nc"):
        result = run("decode", folder / name, "--json")
        assert result.exit_code == 0
        (located,) = (item["located"] for item in json.loads(result.stdout)["reports"])
        assert located["nominal_time"] == "2031-03-20T12:00:00Z"
        assert located["date_source"] == "archive"
        assert "date-unknown" not in result.stderr


def test_a_ship_is_its_call_sign(tmp_path) -> None:
    """The flight of a ship and its report as received belong into one history, and so does BUFR."""
    ship = ROOT / "samples" / "traffic" / "calder-wren"
    report, message = tmp_path / "ship.txt", tmp_path / "ship.bufr"
    assert run("encode", ship, "-o", report).exit_code == 0
    assert run("encode", ship, "--to", "bufr", "--centre", "99", "-o", message).exit_code == 0
    assert run("archive", ship, "-o", tmp_path).exit_code == 0
    with netCDF4.Dataset(tmp_path / "QCW07_20310118T1200Z_flight.nc") as dataset:
        assert dataset["station"].call_sign == "QCW07"
        assert dataset.platform == "QCW07 Calder Wren"
    usual = ("--month", "2031-01", "--products", "levels,history", "-o", tmp_path)
    for source in (report, message):
        assert run("archive", source, *usual).exit_code == 0
    assert sorted(item.name for item in tmp_path.glob("*.nc")) == [
        "QCW07_20310118T1200Z_flight.nc",
        "QCW07_20310118T1200Z_levels.nc",
        "QCW07_history.nc",
    ]


def test_positions_of_other_stations(tmp_path) -> None:
    """A station that is not known needs --position or a list it is in."""
    path = tmp_path / "report.txt"
    path.write_text(real_texts()["S1-TT"])
    out = tmp_path / "out"
    usual = ("archive", path, "-o", out, "--month", "2006-09")
    unknown = run(*usual)
    assert (unknown.exit_code, "report-without-position" in unknown.stderr) == (1, True)
    assert not out.exists()
    given = run(*usual, "--position", "32.32,-90.08,91")
    assert given.exit_code == 0
    sounding = read_netcdf(out / "72235_20060922T1200Z_levels.nc").value
    assert (sounding.station.latitude, sounding.station.elevation) == (32.32, 91.0)
    for wrong in ("north", "1", "91,0", "0,181", "1,2,3,4"):
        assert run(*usual, "--position", wrong).exit_code == 2
    listed = DATA / "igra_station_list_excerpt.txt"
    assert run(*usual, "--stations", listed).exit_code in (0, 1)
    assert run(*usual, "--stations", path).exit_code == 3


def test_a_sounding_of_no_named_station(tmp_path) -> None:
    """A dropsonde names no station: it has a level file, and no history to be mixed up in."""
    path = tmp_path / "report.txt"
    path.write_text(real_texts()["S5-XX"])
    result = run("archive", path, "-o", tmp_path / "out", "--month", "2006-10")
    assert "archive-station-unnamed" in result.stderr
    assert [item.name.rsplit("_", 1)[1] for item in (tmp_path / "out").iterdir()] == ["levels.nc"]


def test_created(tmp_path) -> None:
    """--created dates the file; without it the end of the data does."""
    usual = ("archive", HALDEN, "-o", tmp_path, "--products", "levels")
    run(*usual)
    path = tmp_path / "90731_20310320T1200Z_levels.nc"
    with netCDF4.Dataset(path) as dataset:
        assert dataset.date_created == dataset.time_coverage_end
    run(*usual, "--created", "2031-03-21T06:00:00+01:00")
    with netCDF4.Dataset(path) as dataset:
        assert dataset.date_created == "2031-03-21T05:00:00Z"
    run(*usual, "--created", "2031-03-21T06:00:00")
    with netCDF4.Dataset(path) as dataset:
        assert dataset.date_created == "2031-03-21T06:00:00Z"
    assert run(*usual, "--created", "yesterday").exit_code == 2


def test_faults_of_archive(tmp_path) -> None:
    """Wrong files and folders leave with their code, without a traceback."""
    (tmp_path / "file").touch()
    bad = tmp_path / "bad.json"
    bad.write_text("{}x")
    assert run("archive", tmp_path / "none").exit_code == 3
    assert run("archive", HALDEN, "-o", tmp_path / "file" / "below").exit_code == 3
    assert run("archive", HALDEN, "-o", "/proc/1/none").exit_code == 3
    assert run("archive", HALDEN, "-o", tmp_path, "--service", bad).exit_code == 1
    bad.write_text("no report at all\n")
    assert run("archive", bad).exit_code == 1
    (tmp_path / "90731_20310320T1200Z_levels.nc").mkdir()
    result = run("archive", HALDEN, "-o", tmp_path, "--products", "levels")
    assert result.exit_code == 3
    assert "Nothing was left behind" in result.stderr
    (tmp_path / "90731_history.nc").mkdir()
    assert run("archive", HALDEN, "-o", tmp_path, "--products", "history").exit_code == 1


def test_foreign_files(tmp_path) -> None:
    """A CF file of others is shown, archived with facts, and read by the other commands."""
    path = write_foreign(tmp_path / "foreign.nc", more=("ozone",))
    shown = run("show", path)
    assert shown.exit_code == 0
    assert "not used    ozone" in shown.stdout
    assert "air_temperature (variable ta)" in shown.stdout
    assert run("levels", path).exit_code == 0
    facts = tmp_path / "flight.json"
    from tests.flights import FACTS

    facts.write_text(json.dumps(FACTS))
    out = tmp_path / "out"
    made = run("archive", path, "--facts", facts, "-o", out, "--service", SERVICE)
    assert made.exit_code == 0
    assert "netcdf-fact-assumed" not in made.stderr
    archive = read_netcdf(out / "90417_20310715T1800Z_flight.nc").value
    assert archive.flight.station.wigos_id == "0-20000-0-90417"
    facts.write_text("{}")
    assert run("archive", path, "--facts", facts, "-o", out).exit_code == 1


def test_soundings_of_foreign_files(tmp_path) -> None:
    """FILE#2 is the second sounding of a file."""
    path = write_foreign(tmp_path / "foreign.nc", "ragged")
    several = run("levels", path)
    assert (several.exit_code, "netcdf-choose-sounding" in several.stderr) == (1, True)
    assert run("levels", f"{path}#2").exit_code == 0
    assert run("levels", f"{path}#3").exit_code == 1
    assert "2, contiguous ragged" in run("show", path).stdout
    assert "2, padded" in run("show", write_foreign(tmp_path / "p.nc", "padded")).stdout
    assert "2, indexed ragged" in run("show", write_foreign(tmp_path / "i.nc", "indexed")).stdout
    nothing = write_foreign(tmp_path / "n.nc", leave=("air_temperature",))
    assert "none: no air_temperature" in run("show", nothing).stdout


@pytest.mark.parametrize(
    "name",
    ["90417_20310709T0000Z_flight.nc", "90417_20310709T0000Z_levels.nc", "90417_history.nc"],
)
def test_show_fits_eighty_columns(folder, name) -> None:
    """What is in a file is told in lines of at most 80 characters."""
    result = run("show", folder / name)
    assert result.exit_code == 0
    assert max(len(line) for line in result.stdout.splitlines()) <= 80
    assert "Harrow Tarn" in result.stdout


def test_show_a_long_history(tmp_path) -> None:
    """Of many soundings the first and the last are shown, and what was superseded."""
    from dataclasses import replace

    from encoder.archive import history_of
    from encoder.formats.netcdf import write_netcdf
    from tests.unit.test_netcdf_history import soundings

    made = soundings(20)
    made[19] = replace(made[19], superseded=True)
    write_netcdf(history_of(made), tmp_path / "history.nc")
    text = run("show", tmp_path / "history.nc").stdout
    assert "8 more" in text
    assert "superseded" in text
    assert "1 superseded by a correction" in text
    assert "superseded" in run("show", f"{tmp_path / 'history.nc'}#20").stdout
    assert run("show", f"{tmp_path / 'history.nc'}#21").exit_code == 1


def test_show_of_bad_files(tmp_path) -> None:
    """A missing file, a text and a cut file leave with 3 or 1 and a plain sentence."""
    text = tmp_path / "text.nc"
    text.write_text("x")
    assert run("show", tmp_path / "none.nc").exit_code == 3
    assert run("show", text).exit_code == 3
    cut = tmp_path / "cut.nc"
    run("archive", HALDEN, "-o", tmp_path, "--products", "levels")
    whole = tmp_path / "90731_20310320T1200Z_levels.nc"
    cut.write_bytes(whole.read_bytes()[:4000])
    assert run("show", cut).exit_code == 3
    with netCDF4.Dataset(whole, "a") as dataset:
        dataset.renameVariable("level_type", "other")
    result = run("show", whole)
    assert (result.exit_code, "archive-incomplete" in result.stderr) == (1, True)


@pytest.mark.parametrize("form", ["csv", "json", "parquet"])
@pytest.mark.parametrize(
    "name",
    ["90417_20310709T0000Z_flight.nc", "90417_20310709T0000Z_levels.nc", "90417_history.nc#1"],
)
def test_export(folder, tmp_path, name, form) -> None:
    """Every product is written in every format, to a file or to standard output."""
    path = tmp_path / f"table.{form}"
    assert run("export", folder / name, "--to", form, "-o", path).exit_code == 0
    printed = CliRunner().invoke(cli, ["export", str(folder / name), "--to", form])
    assert printed.stdout_bytes == path.read_bytes()


def test_export_of_a_folder_and_of_faults(folder, tmp_path) -> None:
    """A flight folder is exported too; reports as text are not, and folders cannot be written."""
    assert run("export", HALDEN).stdout.startswith("time [s],latitude [degree]")
    assert run("export", tmp_path / "none").exit_code == 3
    history = folder / "90417_history.nc"
    assert run("export", history, "--to", "parquet", "-o", tmp_path / "n" / "x").exit_code == 3
    assert run("export", f"{history}#9").exit_code == 1


def test_every_reading_command_takes_the_files(folder, report, tmp_path) -> None:
    """Levels, encode, decode, explain and verify read what the archive wrote."""
    flight = folder / "90417_20310709T0000Z_flight.nc"
    levels = folder / "90417_20310709T0000Z_levels.nc"
    history = folder / "90417_history.nc"
    path = tmp_path / "report.txt"
    path.write_text(report)
    assert run("encode", flight).stdout == report
    assert run("levels", flight).stdout == run("levels", HARROW).stdout
    assert run("explain", flight).stdout == run("explain", HARROW).stdout
    table = run("decode", path, "--csv").stdout
    assert run("decode", history, "--csv").stdout == table
    assert run("verify", flight, history).stdout == run("verify", HARROW, path).stdout
    assert run("verify", flight, flight).exit_code == 0
    assert run("decode", levels, "--json").exit_code == 0
    wrong = run("levels", history)
    assert (wrong.exit_code, "archive-other-product" in wrong.stderr) == (1, True)


def test_a_file_without_reports(tmp_path) -> None:
    """A history of levels without texts holds nothing to decode."""
    from encoder.archive import history_of
    from encoder.formats.netcdf import write_netcdf
    from tests.archives import igra_sounding

    write_netcdf(history_of([igra_sounding()[0]]), tmp_path / "igra.nc")
    result = run("decode", tmp_path / "igra.nc")
    assert result.exit_code == 1
    assert "no coded report" in result.stderr


def test_missing_libraries(folder, monkeypatch) -> None:
    """Without netCDF4 or pyarrow each command says in one line what to install."""
    with monkeypatch.context() as patch:
        patch.setitem(sys.modules, "pyarrow", None)
        result = run("export", folder / "90417_history.nc", "--to", "parquet")
        assert result.exit_code == 3
        assert "aerogram[parquet]" in result.stderr
    monkeypatch.setitem(sys.modules, "netCDF4", None)
    for arguments in (
        ("archive", HALDEN, "-o", folder),
        ("archive", HALDEN, "-o", folder, "--products", "history"),
        ("show", folder / "90417_history.nc"),
        ("encode", folder / "90417_history.nc"),
        ("levels", folder / "90417_20310709T0000Z_flight.nc"),
        ("export", folder / "90417_history.nc"),
    ):
        result = run(*arguments)
        assert result.exit_code == 3
        assert "aerogram[netcdf]" in result.stderr


def test_as_a_process(folder) -> None:
    """Full devices and closed pipes are told like everywhere; tables are no terminal output."""
    command = [sys.executable, "-m", "encoder", "export", str(folder / "90417_history.nc")]
    with open("/dev/full", "w", encoding="utf-8") as full:  # noqa: PTH123  # a device
        done = subprocess.run(command, cwd=ROOT, stdout=full, stderr=subprocess.PIPE, check=False)
    assert done.returncode == 3
    assert b"Traceback" not in done.stderr
    parquet = [*command, "--to", "parquet"]
    with open("/dev/full", "w", encoding="utf-8") as full:  # noqa: PTH123  # a device
        done = subprocess.run(parquet, cwd=ROOT, stdout=full, stderr=subprocess.PIPE, check=False)
    assert done.returncode == 3
    assert b"Traceback" not in done.stderr
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(command, cwd=ROOT, stdout=write, stderr=subprocess.PIPE, check=False)
    os.close(write)
    assert done.returncode == 141


def test_a_flight_file_is_not_replaced_by_another(tmp_path):
    """The same flight may be written again; another of that name only with --replace."""
    folder = tmp_path / "archive"
    flight = str(ROOT / "samples" / "flights" / "halden-dome")
    message = tmp_path / "halden-dome.bufr"
    assert (
        run("encode", flight, "--to", "bufr", "--centre", "99", "-o", str(message)).exit_code == 0
    )
    assert run("archive", flight, "-o", str(folder)).exit_code == 0
    (product,) = folder.glob("*_flight.nc")
    held = product.read_bytes()

    assert run("archive", flight, "-o", str(folder)).exit_code == 0
    kept = run("archive", str(message), "-o", str(folder))
    assert (kept.exit_code, product.read_bytes()) == (1, held)
    assert "archive-flight-differs" in kept.stderr
    assert "--replace" in kept.stderr

    assert run("archive", str(message), "-o", str(folder), "--replace").exit_code == 0
    assert product.read_bytes() != held
