"""The commands report and plot as a user meets them: output, exit codes, wrong files, pipes."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

from encoder.schemas_folder import schema
from tests.months import quarantine_records, run_summary

ROOT = Path(__file__).resolve().parents[2]
FLIGHT = ROOT / "samples" / "flights" / "halden-dome"
OTHER = ROOT / "samples" / "flights" / "saltmere-point"


def run(*words, text=None, cwd=ROOT):
    """Run the command; give exit code, output and complaints."""
    done = subprocess.run(
        [sys.executable, "-m", "encoder", *map(str, words)],
        input=text,
        capture_output=True,
        text=True,
        cwd=cwd,
        check=False,
    )
    assert "Traceback" not in done.stderr
    return done.returncode, done.stdout, done.stderr


@pytest.fixture(scope="module")
def reports():
    """The reports of two flights."""
    return {path.name: run("encode", path)[1] for path in (FLIGHT, OTHER)}


def test_page_of_a_flight(tmp_path):
    """One file is written, whole, and nothing beside it."""
    code, out, said = run("report", FLIGHT, "-o", tmp_path / "page.html")

    assert (code, out) == (0, "")
    assert "error" not in said
    assert [path.name for path in tmp_path.iterdir()] == ["page.html"]
    page = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert page.startswith("<!doctype html>")
    assert page.endswith("</html>\n")
    assert run("report", FLIGHT, "-o", "-")[1] == page


def test_data_of_a_page():
    """--json gives the data the page embeds, valid against their schema."""
    code, out, _said = run("report", FLIGHT, "--json")

    assert code == 0
    jsonschema.Draft202012Validator(schema("page")).validate(json.loads(out))


def test_report_through_a_pipe(reports):
    """encode | report: a report alone is shown and not judged."""
    code, out, _said = run("report", "-", "-o", "-", text=reports["halden-dome"])

    assert code == 0
    assert "Not judged: a report alone" in out


def test_report_of_another_flight_must_not_be_sent(reports, tmp_path):
    """The exit code says what the page says."""
    report = tmp_path / "report.txt"
    report.write_text(reports["saltmere-point"])

    code, out, _said = run("report", FLIGHT, report, "-o", "-")

    assert code == 1
    assert ">Must not be sent<" in out


def test_several_soundings_have_to_be_chosen(reports):
    """Which one is asked for by number; the message lists them."""
    both = reports["halden-dome"] + reports["saltmere-point"]

    code, _out, said = run("report", "-", "-o", "-", text=both)
    assert code == 2
    assert "choose with --number" in said
    assert "90731" in said
    assert "90122" in said
    code, out, _said = run("report", "-", "-o", "-", "--number", 2, text=both)
    assert code == 0
    assert "90122" in out
    assert run("report", "-", "-o", "-", "--number", 3, text=both)[0] == 2
    assert run("report", OTHER, "-", "-o", "-", text=both)[0] == 0


def test_parts_that_cannot_be_in_time():
    """Times due are set by the service."""
    _code, out, _said = run("report", FLIGHT, "--json", "--due-ab", -30)

    sentences = json.loads(out)["times"]["sentences"]
    assert any(not item["as_it_should_be"] for item in sentences)


@pytest.mark.parametrize(
    ("words", "code", "expected"),
    [
        (("report", FLIGHT), 2, "-o page.html"),
        (("report", "no-such-flight", "-o", "-"), 3, "no-such-flight"),
        (("report", FLIGHT, OTHER, "-o", "-"), 2, "One flight at a time"),
        (("report", FLIGHT, "-o", "no/such/folder/page.html"), 3, "Cannot write"),
        (("report", FLIGHT, "-o", "/dev/full"), 3, "No space left"),
        (("report", FLIGHT, "--month", "2031-01", "-o", "-"), 2, "station history"),
        (("report", ROOT / "LICENSE", "-o", "-"), 1, "no report"),
        (("plot", FLIGHT, "-o", "picture.gif"), 2, ".png, .svg or .pdf"),
        (("plot", FLIGHT), 2, "--output"),
        (("plot", FLIGHT, "-o", "/dev/full", "--kind", "png"), 3, "No space left"),
        (("plot", "no-such-flight", "-o", "x.png"), 3, "no-such-flight"),
        (("plot", FLIGHT, "-o", "no/such/folder/x.png"), 3, "Cannot write"),
    ],
)
def test_wrong_use_is_told_in_a_line(words, code, expected):
    """What, where, what to do; never a traceback; the exit code tells the kind."""
    done, out, said = run(*words)

    assert done == code
    assert out == ""
    assert expected in said


def test_binary_file_as_report(tmp_path):
    """A picture given as a report is refused."""
    file = tmp_path / "x.txt"
    file.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 20)

    code, _out, said = run("report", file, "-o", "-")

    assert code == 1
    assert "no report" in said


@pytest.mark.parametrize(
    ("suffix", "begin"), [("png", b"\x89PNG"), ("svg", b"<?xml"), ("pdf", b"%PDF")]
)
def test_pictures(tmp_path, suffix, begin):
    """The ending of the name tells the kind of file; the same bytes each time."""
    file = tmp_path / f"winds.{suffix}"
    words = ("plot", FLIGHT, "--view", "hodograph", "--dpi", 40, "-o", file)

    assert run(*words)[:2] == (0, "")
    first = file.read_bytes()
    assert first.startswith(begin)
    assert run(*words)[0] == 0
    assert file.read_bytes() == first
    assert [path.name for path in tmp_path.iterdir()] == [file.name]


def test_a_closed_pipe_is_no_fault():
    """head takes the first bytes and goes away."""
    done = subprocess.run(
        f"{sys.executable} -m encoder report {FLIGHT} -o - | head -c 20",
        shell=True,
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )

    assert done.stdout.startswith("<!doctype html>")
    assert "Traceback" not in done.stderr


@pytest.fixture(scope="module")
def history(tmp_path_factory):
    """A station history of one flight."""
    folder = tmp_path_factory.mktemp("history")
    run("archive", OTHER, "-o", folder, "--products", "history")
    return next(folder.glob("*_history.nc"))


def test_history_gives_a_month(history, tmp_path):
    """A station history is shown month by month, with times of sending where there are any."""
    sent = tmp_path / "sent.csv"
    sent.write_text(
        "nominal_time,part,sent_time\n2031-01-17T12:00Z,A,2031-01-17T15:00Z\n"
        "2031-01-17T12:00Z,B,2031-01-17T12:40Z\n"
    )

    code, out, _said = run("report", history, "-o", "-", "--sent", sent, "--hours", "00,12")
    assert code == 0
    assert "A late +180 min" in out
    code, out, _said = run("report", history, "--json")
    assert code == 0
    jsonschema.Draft202012Validator(schema("month")).validate(json.loads(out))
    code, _out, said = run("report", history, "-o", "-", "--month", "2031-02")
    assert code == 1
    assert "2031-01" in said
    for words, expected in (
        (("--month", "2031-13"), "YYYY-MM"),
        (("--hours", "25"), "nominal hours"),
    ):
        code, _out, said = run("report", history, "-o", "-", *words)
        assert code == 2
        assert expected in said


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a,b\n", "expected the columns"),
        ("nominal_time,part,sent_time\nx,A,2031-01-17T15:00Z\n", "line 2"),
        ("nominal_time,part,sent_time\n2031-01-17T12:00Z,E,2031-01-17T15:00Z\n", "A to D"),
        ("nominal_time,part,sent_time\n2031-01-17T12:00Z\n", "line 2"),
    ],
)
def test_wrong_times_of_sending(history, tmp_path, text, expected):
    """The line is named."""
    sent = tmp_path / "sent.csv"
    sent.write_text(text)

    code, _out, said = run("report", history, "-o", "-", "--sent", sent)

    assert code == 1
    assert expected in said


def test_summary_of_a_run(tmp_path):
    """The summary of a conversion gives its index page; one that does not add up leaves with 1."""
    file = tmp_path / "out" / "summary.json"
    file.parent.mkdir()
    file.write_text(json.dumps(run_summary()))
    lines = [json.dumps(item) for item in quarantine_records()]
    (file.parent / "quarantine.jsonl").write_text("\n".join(lines) + "\n")
    page = tmp_path / "index.html"
    assert run("report", file, "-o", page)[0] == 0
    text = page.read_text(encoding="utf-8")
    assert "Adds up; 9 soundings refused" in text
    assert 'href="out/quarantine.jsonl"' in text
    assert 'href="out/90417.nc"' in text
    assert "Found no TTAA in 9." in text

    (file.parent / "quarantine.jsonl").write_text("{}\nnot json\n")
    code, _out, said = run("report", file, "-o", "-")
    assert code == 1
    assert "line 2" in said

    total = run_summary()["total"]
    total["levels"]["written"] -= 1
    (file.parent / "quarantine.jsonl").unlink()
    file.write_text(json.dumps(run_summary(total=total)))
    code, out, _said = run("report", file, "-o", "-")
    assert code == 1
    assert "Does not add up: levels" in out

    file.write_text(json.dumps(run_summary(sources=5)))
    code, _out, said = run("report", file, "-o", "-")
    assert code == 1
    assert "no whole summary" in said
