"""Every command as a user meets it: output, exit code, help, and what it says of faults."""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from encoder.cli import cli

ROOT = Path(__file__).resolve().parents[2]
HARROW = str(ROOT / "samples" / "flights" / "harrow-tarn")
HALDEN = str(ROOT / "samples" / "flights" / "halden-dome")
COMMANDS = ("demo", "start", "levels", "encode", "decode", "explain", "verify")


def run(*arguments, text=None):
    return CliRunner().invoke(cli, list(arguments), input=text, catch_exceptions=False)


def process(*arguments, **options):
    """Run the command as a process of its own."""
    options.setdefault("capture_output", True)
    return subprocess.run(
        [sys.executable, "-m", "encoder", *arguments],
        cwd=ROOT,
        text=True,
        check=False,
        timeout=120,
        **options,
    )


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    """A report of the first sample, in a file."""
    path = tmp_path_factory.mktemp("report") / "report.txt"
    result = run("encode", HARROW, "-o", str(path))
    assert result.exit_code == 0
    return str(path)


# --- help -------------------------------------------------------------------------------------


@pytest.mark.parametrize("command", COMMANDS)
def test_help_has_a_sentence_and_an_example(command):
    """Each command explains itself in 80 columns, with an example."""
    result = run(command, "--help")

    assert result.exit_code == 0
    assert "Example:" in result.output
    assert f"aerogram {command}" in result.output
    assert max(len(line) for line in result.output.splitlines()) <= 80


def test_group_help_lists_commands_and_exit_codes():
    """The first help lists every command and the exit codes."""
    result = run("--help")

    assert all(f"  {command} " in result.output for command in COMMANDS)
    assert "Exit codes:" in result.output
    assert "An aid, not an authority" in " ".join(result.output.split())


def test_the_overview_is_not_cut():
    """The line of every command stands whole in the overview."""
    lines = run("--help").output.split("Commands:")[1].split("Exit codes")[0]

    assert "..." not in lines
    assert len(lines.split("\n")) > 10


def test_unknown_command_and_option_are_wrong_use():
    """Wrong use leaves with 2."""
    assert run("transmit").exit_code == 2
    assert run("levels", HARROW, "--metres").exit_code == 2
    assert run("levels", HARROW, "--json", "--csv").exit_code == 2
    assert run("encode", HARROW, "--parts", "AX").exit_code == 2
    assert run("explain").exit_code == 2


# --- the main way -----------------------------------------------------------------------------


def test_demo_goes_the_whole_way():
    """The demo reads, selects, codes, decodes and verifies, and says so."""
    result = run("demo")

    assert result.exit_code == 0
    for word in (
        "1. FLIGHT",
        "2. LEVELS",
        "3. REPORT",
        "4. READ BACK",
        "5. VERDICT",
        "May be sent",
    ):
        assert word in result.output
    assert "the same characters" in result.output


@pytest.mark.parametrize("name", ["halden-dome", "saltmere-point"])
def test_demo_of_the_other_samples(name):
    """The other samples go the whole way too."""
    assert run("demo", name).exit_code == 0


def test_demo_unknown_and_copy(tmp_path):
    """An unknown sample is wrong use; a copy is not made over another flight."""
    folder = str(tmp_path / "mine")

    assert run("demo", "nowhere").exit_code == 2
    assert run("demo", "--copy", folder).exit_code == 0
    assert run("encode", folder).exit_code == 0
    assert run("demo", "--copy", folder).exit_code == 3


def test_start_gives_a_flight_that_can_be_coded(tmp_path):
    """A starter flight is complete: it encodes without an error."""
    folder = str(tmp_path / "new")

    first = run("start", folder)
    again = run("start", folder)

    assert first.exit_code == 0
    assert run("encode", folder).exit_code == 0
    assert again.exit_code == 3
    assert "exists" in again.output


def test_levels_csv_has_the_headers_of_a_profile():
    """CSV: one row a level, headers name [unit], a kinds column."""
    result = run("levels", HARROW, "--csv")
    rows = list(csv.DictReader(io.StringIO(result.stdout)))

    assert result.exit_code == 0
    assert {"air_pressure [hPa]", "air_temperature [degC]", "kinds"} <= set(rows[0])
    assert any("tropopause" in row["kinds"] for row in rows)


def test_levels_json_and_reasons():
    """JSON holds the reasons; the text shows them when asked."""
    document = json.loads(run("levels", HARROW, "--json", "--show", "error").stdout)
    text = run("levels", HARROW, "--reasons").stdout

    assert document["format"] == "aerogram-levels-1"
    assert all(level["reasons"] for level in document["levels"])
    assert "35.3.1" in text


def test_fewest_levels_are_fewer():
    """The method changes how many levels there are."""
    largest = run("levels", HALDEN, "--csv").stdout.count("\n")
    fewest = run("levels", HALDEN, "--csv", "--method", "fewest-levels").stdout.count("\n")

    assert fewest < largest


def test_encode_parts_and_unit():
    """Parts are picked by letter; the wind unit changes the day figures."""
    knots = run("encode", HARROW, "--parts", "A", "--show", "error").stdout
    metres = run("encode", HARROW, "--parts", "A", "--wind-unit", "m/s", "--show", "error").stdout

    assert knots.startswith("TTAA 59")
    assert metres.startswith("TTAA 09")
    assert "TTBB" not in knots


def test_encode_part_above_the_top_is_an_error():
    """A part the flight does not reach cannot be made."""
    result = run("encode", HALDEN, "--parts", "C")

    assert result.exit_code == 1
    assert "levels-not-in-parts" in result.output


def test_decode_text_csv_json(report):
    """Decoding shows station, time and levels; CSV and JSON on request."""
    text = run("decode", report)
    table = run("decode", report, "--csv")
    document = json.loads(run("decode", report, "--json").stdout)

    assert text.exit_code == 0
    assert "station 90417" in text.stdout
    assert max(len(line) for line in text.stdout.splitlines()) <= 80
    assert table.stdout.splitlines()[0].endswith("kinds")
    assert document["reports"][0]["form"] == "FM 35"


def test_decode_json_then_encode_prints_the_report_again(report):
    """decode --json | encode - gives the report group for group (here to the character)."""
    document = run("decode", report, "--json").stdout

    again = run("encode", "-", text=document)

    assert again.exit_code == 0
    assert again.stdout.split() == Path(report).read_text(encoding="ascii").split()


def test_encode_of_a_changed_json_codes_it_anew(report):
    """A value changed in the JSON form appears in the report."""
    document = json.loads(run("decode", report, "--json").stdout)
    for part in document["reports"][0]["parts"]:
        for section in part["content"]["sections"]:
            for record in section["records"]:
                if record["kind"] == "surface" and "air_temperature" in record["values"]:
                    record["values"]["air_temperature"] = 21.4

    again = run("encode", "-", text=json.dumps(document))

    assert " 214" in again.stdout


def test_parts_in_several_files_are_one_sounding(tmp_path, report):
    """Parts given separately are merged."""
    text = Path(report).read_text(encoding="ascii")
    names = []
    for place, part in enumerate(text.split("=\n")[:-1]):
        names.append(str(tmp_path / f"{place}.txt"))
        Path(names[-1]).write_text(part + "=", encoding="ascii")

    result = run("decode", *reversed(names))

    assert result.exit_code == 0
    assert "TTAA TTBB TTCC TTDD" in result.stdout


def test_explain_report_flight_and_form(report):
    """Explaining works from a report, from a flight (with rows), and for the form itself."""
    text = run("explain", report)
    flight = json.loads(run("explain", HARROW, "--json", "--show", "error").stdout)
    form = run("explain", "--form", "fm35")

    assert "WMO block 90" in text.stdout
    assert any(group["rows"] for group in flight["reports"][0]["groups"])
    assert "TTTaDD" in form.stdout
    assert run("explain", "--form", "FM 1").exit_code == 2


def test_verify_good_and_bad(tmp_path, report):
    """A good report leaves with 0, one with a wrong figure with 1."""
    text = Path(report).read_text(encoding="ascii")
    bad = tmp_path / "bad.txt"
    bad.write_text(text.replace(" 13827 ", " 23827 ", 1), encoding="ascii")

    good = run("verify", HARROW, report)
    wrong = run("verify", HARROW, str(bad))

    assert good.exit_code == 0
    assert good.stdout.startswith("May be sent")
    assert wrong.exit_code == 1
    assert wrong.stdout.startswith("MUST NOT BE SENT")
    assert json.loads(run("verify", HARROW, str(bad), "--json").stdout)["may_be_sent"] is False


def test_verify_sees_a_part_of_another_station(tmp_path, report):
    """A part whose station or hour was changed is another sounding and stands against sending."""
    text = Path(report).read_text(encoding="ascii")
    for wrong in (("TTCC 59001 90417", "TTCC 59001 90410"), ("TTDD 5900/", "TTDD 5903/")):
        bad = tmp_path / "bad.txt"
        bad.write_text(text.replace(*wrong, 1), encoding="ascii")

        result = run("verify", HARROW, str(bad))

        assert result.exit_code == 1
        assert "report-of-other-flight" in result.stdout


# --- bad input --------------------------------------------------------------------------------


@pytest.mark.parametrize("command", ["levels", "encode", "explain", "verify"])
def test_missing_flight(command, report):
    """A missing flight is named and leaves with 3."""
    arguments = [command, "no/such/folder"] + ([report] if command == "verify" else [])
    if command == "explain":
        arguments = [command, "no/such/file.txt"]

    result = run(*arguments)

    assert result.exit_code == 3
    assert "no/such" in result.output


def test_a_missing_flight_is_told_once(tmp_path):
    """A folder that is not there is one error, not one for each file it might have held."""
    result = run("encode", str(tmp_path / "none"))
    assert result.exit_code == 3
    assert result.stderr.count("error file-not-found") == 1
    assert "profile.csv" not in result.stderr


@pytest.mark.parametrize("given", [HARROW, str(Path(HARROW, "flight.json"))])
def test_the_flight_comes_first(report, given):
    """With report and flight in the wrong order the order is told, not what each lacks."""
    result = run("verify", report, given)
    assert result.exit_code == 2
    assert "The flight comes first" in result.stderr
    assert f"{given} is a flight" in result.stderr.replace("\n", " ")


@pytest.mark.parametrize("command", ["decode", "explain"])
def test_missing_report_and_folder(command, tmp_path):
    """A missing report leaves with 3; a folder without a flight is told as such."""
    assert run(command, str(tmp_path / "none.txt")).exit_code == 3
    assert run(command, str(tmp_path)).exit_code == 3


@pytest.mark.parametrize(
    "data", [b"", b"\n\n", b"hello world", bytes(range(256)) * 40, b"\x00" * 1000, "é".encode()]
)
def test_no_report_in_the_file(data, tmp_path):
    """A file without a report, binary or not, is an error, never a traceback."""
    path = tmp_path / "junk.bin"
    path.write_bytes(data)

    result = run("decode", str(path))

    assert result.exit_code == 1
    assert "no-report" in result.output


@pytest.mark.parametrize("name", [sys.executable, str(Path(HARROW, "profile.csv"))])
def test_a_wrong_file_is_told_in_a_few_lines(name):
    """A program or a table given as report is one short error."""
    result = run("decode", name)

    assert result.exit_code == 1
    assert result.stderr.count("no-report") == 1
    assert len(result.stderr.splitlines()) <= 5
    assert max(len(line) for line in result.stderr.splitlines()) < 200


def test_report_cut_in_the_middle(tmp_path, report):
    """A report cut at any place decodes with diagnostics."""
    text = Path(report).read_text(encoding="ascii")
    for length in range(5, len(text), 97):
        path = tmp_path / "cut.txt"
        path.write_text(text[:length], encoding="ascii")
        result = run("decode", str(path), "--json", "--show", "error")
        assert result.exit_code in (0, 1)
        assert json.loads(result.stdout)["reports"]


def test_json_of_another_kind(tmp_path):
    """JSON that is no report is refused with what was expected."""
    path = tmp_path / "other.json"
    path.write_text('{"format": "something"}', encoding="utf-8")
    broken = tmp_path / "broken.json"
    broken.write_text('{"format": ', encoding="utf-8")

    assert run("encode", str(path)).exit_code == 1
    assert "aerogram-report-1" in run("encode", str(path)).output
    assert run("decode", str(broken)).exit_code == 1


def test_flight_with_errors_leaves_with_1(tmp_path):
    """Faults in the content of a flight are all listed and leave with 1."""
    folder = tmp_path / "flight"
    shutil.copytree(HARROW, folder)
    facts = json.loads((folder / "flight.json").read_text(encoding="utf-8"))
    facts["statoin"] = facts.pop("station")
    facts["nominal_time"] = "yesterday"
    (folder / "flight.json").write_text(json.dumps(facts), encoding="utf-8")

    result = run("encode", str(folder))

    assert result.exit_code == 1
    assert "statoin" in result.output
    assert "station" in result.output
    assert "nominal_time" in result.output


def test_huge_report_is_refused(tmp_path):
    """A file larger than any report is refused without reading it all."""
    path = tmp_path / "huge.txt"
    with path.open("wb") as stream:
        stream.truncate(500 * 1024 * 1024)

    result = run("decode", str(path))

    assert result.exit_code == 3
    assert "larger than" in result.output


# --- as a process -----------------------------------------------------------------------------


def test_process_prints_data_on_stdout_only():
    """Data go to standard output, findings to standard error."""
    done = process("encode", HARROW)

    assert done.returncode == 0
    assert done.stdout.startswith("TTAA")
    assert "TTAA" not in done.stderr


def test_closed_pipe_is_quiet():
    """A reader that goes away is no traceback."""
    command = f"{sys.executable} -m encoder levels {HARROW} --csv 2>err.txt | head -1"
    done = subprocess.run(
        ["bash", "-c", f"cd {ROOT} && {command.replace('err.txt', '/dev/stderr')}"],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )

    assert done.stdout.startswith("time [s]")
    assert "Traceback" not in done.stderr


def test_full_disk_is_told():
    """A full disk is told in one line, with exit code 3."""
    with Path("/dev/full").open("w") as full:
        done = process("encode", HARROW, stdout=full, stderr=subprocess.PIPE, capture_output=False)

    assert done.returncode == 3
    assert "Traceback" not in done.stderr
    assert "cannot write" in done.stderr.lower()


def test_output_into_missing_folder(tmp_path):
    """An output file that cannot be written leaves nothing behind and the exit code 3."""
    result = run("encode", HARROW, "-o", str(tmp_path / "none" / "report.txt"))

    assert result.exit_code == 3
    assert list(tmp_path.iterdir()) == []


HEEDS_INTERRUPTS = (
    "import runpy, signal; signal.signal(signal.SIGINT, signal.default_int_handler); "
    "runpy.run_module('encoder', run_name='__main__', alter_sys=True)"
)
"""Undoes what a shell does to the commands it runs in the background."""


INTERRUPTED_EARLY = """
import runpy, sys
class Interrupts:
    def find_spec(self, name, *_more):
        if name == "encoder.cli":
            raise KeyboardInterrupt
sys.meta_path.insert(0, Interrupts())
runpy.run_module("encoder", run_name="__main__", alter_sys=True)
"""


def test_interrupt_while_the_program_is_loaded():
    """Ctrl-C in the first moment leaves with 130 and a sentence too."""
    done = subprocess.run(
        [sys.executable, "-c", INTERRUPTED_EARLY],
        capture_output=True,
        cwd=ROOT,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout) == (130, "")
    assert done.stderr == "Interrupted; nothing was begun.\n"


def test_interrupt_leaves_nothing_half_written(tmp_path):
    """Ctrl-C leaves with 130 and no partial file."""
    out = tmp_path / "report.txt"
    child = subprocess.Popen(
        [sys.executable, "-c", HEEDS_INTERRUPTS, "decode", "-", "-o", str(out)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=ROOT,
        text=True,
    )
    assert child.stdin is not None
    child.stdin.write("=\n" * 100_000)  # more than a pipe holds: it is reading when this is written
    child.stdin.flush()
    os.kill(child.pid, signal.SIGINT)
    _out, err = child.communicate(timeout=60)

    assert child.returncode == 130
    assert "Traceback" not in err
    assert list(tmp_path.iterdir()) == []


def test_output_is_moved_into_place(tmp_path):
    """A file that is there is replaced whole; no temporary file stays."""
    out = tmp_path / "report.txt"
    out.write_text("old", encoding="ascii")

    assert run("encode", HARROW, "-o", str(out)).exit_code == 0
    assert out.read_text(encoding="ascii").startswith("TTAA")
    assert [path.name for path in tmp_path.iterdir()] == ["report.txt"]
