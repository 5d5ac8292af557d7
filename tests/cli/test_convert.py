"""``aerogram convert`` as a user meets it: killed, interrupted, out of room, on a cluster."""

from __future__ import annotations

import errno
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from encoder.cli import main
from samples.archive_generator.__main__ import make_igra, make_traffic

ROOT = Path(__file__).parents[2]
EXCERPT = ROOT / "tests" / "external" / "data" / "igra_sounding_excerpt.txt"


def command(*words):
    return [sys.executable, "-m", "encoder", "convert", *map(str, words)]


def run(*words, **more):
    return subprocess.run(
        command(*words), cwd=ROOT, capture_output=True, text=True, check=False, **more
    )


def files_of(folder):
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(Path(folder).rglob("*"))
        if path.is_file() and path.name != "lock"
    }


def until_at_work(process, folder, accounts=1):
    """Wait until some units are done, or the run is."""
    while process.poll() is None:
        if len(list(Path(folder).glob(".work/units/*/account.json"))) >= accounts:
            return
        time.sleep(0.005)


@pytest.fixture(scope="module")
def sources(tmp_path_factory):
    """Six days of traffic and a year of three stations as IGRA zips, both damaged a little."""
    folder = tmp_path_factory.mktemp("sources")
    make_traffic(folder / "days", 1994, 1, 5, rate=0.002, days=6)
    make_igra(folder / "igra", 1994, 1, 5, rate=0.01, repeat=1)
    return folder


@pytest.fixture(scope="module")
def undisturbed(sources, tmp_path_factory):
    """What one undisturbed run in one process makes of them."""
    folder = tmp_path_factory.mktemp("undisturbed") / "out"
    done = run(sources / "days", sources / "igra", "--to", folder, "--jobs", 1)
    assert done.returncode == 0, done.stderr
    return files_of(folder)


def test_the_summary_says_that_it_adds_up(tmp_path):
    """Counts, stations and the sentence; nothing else on standard output."""
    done = run(EXCERPT, "--to", tmp_path / "out", "--jobs", 1)
    assert done.returncode == 0
    assert "Everything adds up: read = written + refused + aside." in done.stdout
    assert "begins with an IGRA header line of CAM00071701" in done.stderr


def test_json_is_of_its_schema(tmp_path):
    """``--json`` writes the summary, which is also in the destination."""
    import jsonschema

    from encoder.schemas_folder import schema

    done = run(EXCERPT, "--to", tmp_path / "out", "--json", "-q", "--jobs", 1)
    document = json.loads(done.stdout)
    jsonschema.validate(document, schema("conversion"))
    assert document == json.loads((tmp_path / "out" / "summary.json").read_text())


def test_quarantine_records_are_of_their_schema(sources, tmp_path):
    """Every line of the quarantine file."""
    import jsonschema

    from encoder.schemas_folder import schema

    run(sources / "igra", "--to", tmp_path / "out", "--jobs", 1)
    lines = (tmp_path / "out" / "quarantine.jsonl").read_text().splitlines()
    assert len(lines) > 5
    judge = jsonschema.Draft202012Validator(schema("quarantine"))
    for line in lines:
        record = json.loads(line)
        record["diagnostics"] = []
        judge.validate(record)


def test_a_plan_is_shown_and_nothing_done(tmp_path):
    """``--plan`` lists what would be read and why."""
    done = run(EXCERPT, "--to", tmp_path / "out", "--plan")
    assert (done.returncode, (tmp_path / "out").exists()) == (0, False)
    assert done.stdout == (
        "igra_sounding_excerpt.txt: igra (begins with an IGRA header line of CAM00071701)\n"
    )


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("gone.txt", "--to", "x"), 1, "There is no file"),
        ((EXCERPT, "--to", "x", "--memory", "10M"), 1, "--memory allows"),
        ((EXCERPT, "--to", "x", "--memory", "much"), 2, "is no size"),
        ((EXCERPT, "--to", "x", "--month", "1994-13"), 2, "YYYY-MM"),
        ((EXCERPT, "--to", "x", "--map", "gone.json"), 1, "column map"),
        ((EXCERPT, "--to", "x", "--stations", "gone.txt"), 1, "station list"),
        ((EXCERPT, "--to", "x", "--service", "gone.json"), 1, "service.json"),
        ((EXCERPT,), 2, "--to"),
        ((EXCERPT, "--to", "/dev/null/x"), 3, "Cannot write"),
        ((EXCERPT, "--to", "x", "--scheduler", "nonsense"), 3, "scheduler"),
        ((EXCERPT, "--to", "nosuch://bucket/x"), 1, "nosuch"),
    ],
)
def test_wrong_use_is_told_in_a_line(tmp_path, monkeypatch, capsys, words, *, code, said):
    """A plain sentence and an exit code, never a traceback."""
    given = [str(tmp_path / word) if word == "x" else str(word) for word in words]
    monkeypatch.setattr(sys, "argv", ["aerogram", "convert", *given])
    with pytest.raises(SystemExit) as left:
        main()
    told = capsys.readouterr().err
    assert left.value.code == code, told
    assert said in told


def test_output_does_not_depend_on_the_number_of_processes(sources, undisturbed, tmp_path):
    """Two processes, sources in the other order: every file is the same."""
    done = run(sources / "igra", sources / "days", "--to", tmp_path / "out", "--jobs", 2)
    assert done.returncode == 0, done.stderr
    assert files_of(tmp_path / "out") == undisturbed


def test_killed_at_any_moment_it_goes_on(sources, undisturbed, tmp_path):
    """kill -9 again and again; in the end every file is that of an undisturbed run."""
    folder = tmp_path / "out"
    words = command(sources / "days", sources / "igra", "--to", folder, "--jobs", 1, "-q")
    options = {"cwd": ROOT, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    killed = 0
    for more in (1, 2, 4):
        before = len(list(folder.rglob("*")))
        process = subprocess.Popen(words, **options)
        while process.poll() is None and len(list(folder.rglob("*"))) < before + more:
            time.sleep(0.002)
        process.kill()
        killed += process.wait() != 0
    assert killed == 3
    assert subprocess.run(words, check=False, timeout=120, **options).returncode == 0
    assert files_of(folder) == undisturbed
    assert not list(folder.rglob(".*.part"))


def test_interrupted_it_stops_and_goes_on(sources, undisturbed, tmp_path):
    """Ctrl-C with two processes: a sentence, no traceback, no process left; then it goes on."""
    folder = tmp_path / "out"
    process = subprocess.Popen(
        command(sources / "days", sources / "igra", "--to", folder, "--jobs", 2),
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    until_at_work(process, folder)
    os.killpg(process.pid, signal.SIGINT)
    _out, told = process.communicate(timeout=60)
    assert "Traceback" not in told
    if process.returncode:
        assert process.returncode == 130
        assert "Interrupted" in told
    done = run(sources / "days", sources / "igra", "--to", folder, "--jobs", 1)
    assert done.returncode == 0
    assert files_of(folder) == undisturbed


def test_workers_end_with_a_killed_run(sources, tmp_path):
    """No process of a killed run stays behind."""
    process = subprocess.Popen(
        command(sources / "days", sources / "igra", "--to", tmp_path / "out", "--jobs", 2),
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    until_at_work(process, tmp_path / "out")
    process.kill()
    process.wait()
    for _ in range(60):
        left = [
            item
            for item in Path("/proc").iterdir()
            if item.name.isdigit() and _session(item) == process.pid
        ]
        if not left:
            break
        time.sleep(0.25)
    assert left == []


def _session(item):
    """Return the session of a process, 0 where it has ended meanwhile."""
    try:
        fields = (item / "stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0
    return 0 if fields[0] == "Z" else int(fields[3])


def test_two_runs_do_not_write_to_one_destination(tmp_path):
    """The second one is told; the lock ends with the first."""
    import fcntl

    folder = tmp_path / "out"
    (folder / ".work").mkdir(parents=True)
    with (folder / ".work" / "lock").open("a") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        done = run(EXCERPT, "--to", folder)
        assert done.returncode == 1
        assert "Another conversion is writing" in done.stderr
    assert run(EXCERPT, "--to", folder).returncode == 0


def test_a_lost_worker_process_does_not_end_the_run(sources, undisturbed, tmp_path):
    """One of two processes is killed: what it worked on is done again, all is as undisturbed."""
    folder = tmp_path / "out"
    process = subprocess.Popen(
        command(sources / "days", sources / "igra", "--to", folder, "--jobs", 2),
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    until_at_work(process, folder)
    killed = 0
    for item in Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split():
        if "spawn_main" in Path(f"/proc/{item}/cmdline").read_text():
            os.kill(int(item), signal.SIGKILL)
            killed += 1
            break
    _out, told = process.communicate(timeout=120)
    assert killed == 1
    assert process.returncode == 0, told
    assert "A worker process was lost; what it may have died of is tried again alone" in told
    assert files_of(folder) == undisturbed


def test_a_disk_without_room_stops_it_cleanly(sources, tmp_path):
    """Files may not grow beyond some kilobytes: a sentence; with room it ends well."""
    import resource

    def little():
        resource.setrlimit(resource.RLIMIT_FSIZE, (40_000, 40_000))
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)

    words = (sources / "igra", "--to", tmp_path / "out", "--jobs", 1)
    done = run(*words, preexec_fn=little)
    assert done.returncode == 3
    assert "Traceback" not in done.stderr
    assert "What is done stays done" in done.stderr
    assert run(*words).returncode == 0


def test_want_of_room_is_told_in_a_line_whatever_a_library_says(tmp_path, monkeypatch, capsys):
    """HDF5 words its faults in many, with a line end and an address of memory."""

    def fails(*_given, **_more):
        raise OSError(
            errno.ENOSPC, "Can't write data (file write failed: time = now\n, buf = 0x55)"
        )

    monkeypatch.setattr("encoder.convert.run.run_plan", fails)
    words = ["convert", str(EXCERPT), "--to", str(tmp_path / "out")]
    monkeypatch.setattr(sys, "argv", ["aerogram", *words])
    with pytest.raises(SystemExit) as left:
        main()
    said = f"Cannot write to {tmp_path / 'out'}: {os.strerror(errno.ENOSPC)}. What is done"
    assert (left.value.code, said in capsys.readouterr().err) == (3, True)


def test_a_destination_that_vanishes_stops_it_cleanly(sources, tmp_path):
    """The folder is taken away in the middle; there is a sentence or a whole result."""
    import shutil

    process = subprocess.Popen(
        command(sources / "days", "--to", tmp_path / "out", "--jobs", 1),
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    until_at_work(process, tmp_path / "out")
    shutil.rmtree(tmp_path / "out", ignore_errors=True)
    _out, told = process.communicate(timeout=60)
    assert "Traceback" not in told
    assert process.returncode in (0, 1, 3)


def test_object_storage_by_url(tmp_path):
    """Source and destination may be URLs; the station file is that of a local run."""
    url = f"file://{tmp_path}/far"
    done = run(f"file://{EXCERPT}", "--to", url, "--jobs", 1, "--no-fast")
    assert done.returncode == 0, done.stderr
    assert run(EXCERPT, "--to", tmp_path / "near", "--jobs", 1, "--no-fast").returncode == 0
    far, near = tmp_path / "far" / "71701.nc", tmp_path / "near" / "71701.nc"
    assert far.read_bytes() == near.read_bytes()


def test_a_cluster_that_loses_a_worker_makes_the_same(sources, undisturbed, tmp_path):
    """A scheduler and two worker processes on loopback; one is killed in the middle."""
    environment = {
        **os.environ,
        "PYTHONPATH": str(ROOT),
        "DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "10",
    }
    started = []

    def start(module, *words):
        process = subprocess.Popen(
            [sys.executable, "-m", module, *words],
            cwd=tmp_path,
            env=environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        started.append(process)
        return process

    file = tmp_path / "scheduler.json"
    try:
        start(
            "distributed.cli.dask_scheduler",
            "--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--scheduler-file", str(file),
        )  # fmt: skip
        for _ in range(120):
            if file.exists() and file.stat().st_size:
                break
            time.sleep(0.25)
        address = json.loads(file.read_text())["address"]
        workers = [
            start(
                "distributed.cli.dask_worker",
                address, "--nthreads", "1", "--no-nanny", "--no-dashboard",
                "--local-directory", str(tmp_path / name),
            )
            for name in ("one", "two")
        ]  # fmt: skip
        process = subprocess.Popen(
            command(
                sources / "days", sources / "igra",
                "--to", tmp_path / "out", "--scheduler", address, "-q",
            ),
            cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        for _ in range(400):
            if len(list((tmp_path / "out").glob(".work/units/*/account.json"))) >= 2:
                break
            time.sleep(0.05)
        workers[0].kill()
        workers[0].wait()
        _out, told = process.communicate(timeout=300)
        assert process.returncode == 0, told
    finally:
        for item in started:
            item.kill()
            item.wait()
    assert files_of(tmp_path / "out") == undisturbed
