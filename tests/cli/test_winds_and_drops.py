"""The whole way of a pilot balloon and of a dropped sonde as a user goes it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TRAFFIC = ROOT / "samples" / "traffic"
LAND = ROOT / "samples" / "flights" / "halden-dome"
CASES = {
    "harrow-tarn-winds": ("PPAA", "PPBB", "PPCC", "PPDD"),
    "survey-drop": ("XXAA", "XXBB"),
}


def run(*words, cwd=ROOT):
    """Run the command; give exit code, output and complaints."""
    done = subprocess.run(
        [sys.executable, "-m", "encoder", *map(str, words)],
        capture_output=True,
        text=True,
        cwd=cwd,
        check=False,
    )
    assert "Traceback" not in done.stderr
    return done.returncode, done.stdout, done.stderr


@pytest.mark.parametrize("name", CASES)
def test_the_whole_way(name, tmp_path):
    """encode, decode, verify, explain, BUFR and back, page, plot, archive, bulletins."""
    flight, text, message = TRAFFIC / name, tmp_path / "report.txt", tmp_path / "message.bufr"

    assert run("encode", flight, "-o", text)[0] == 0
    assert [line[:4] for line in text.read_text().splitlines() if line[4:5] == " "][
        : len(CASES[name])
    ] == list(CASES[name])
    assert run("decode", text)[0] == 0
    code, said, _ = run("verify", flight, text)
    assert (code, said.split("(")[0]) == (0, "May be sent ")
    assert run("explain", text)[0] == 0
    assert run("encode", flight, "--to", "bufr", "--centre", "99", "-o", message)[0] == 0
    code, said, _ = run("verify", flight, text, message)
    assert code == 0
    assert "BUFR agrees" in said
    code, again, _ = run("encode", message)
    assert code == 0
    assert again.startswith(CASES[name][0])
    assert run("report", flight, text, message, "-o", tmp_path / "page.html")[0] == 0
    assert run("plot", flight, "-o", tmp_path / "profile.svg")[0] == 0
    assert run("archive", flight, "-o", tmp_path / "archive")[0] == 0
    for file in (tmp_path / "archive").iterdir():
        assert run("show", file)[0] == 0
    code, said, _ = run("bulletin", flight, "--centre", "XNOR", "--area", "ZZ")
    assert code == 0
    assert all(letters in said for letters in CASES[name])


def test_winds_against_forms_of_temperature(tmp_path):
    """A pilot balloon fills no TEMP, and a TEMP is not its report: one sentence each."""
    winds, text = TRAFFIC / "harrow-tarn-winds", tmp_path / "report.txt"
    run("encode", LAND, "-o", text)

    code, _out, said = run("encode", winds, "--form", "FM 35")
    assert (code, said.splitlines()[-1]) == (
        2,
        "Error: The flight has winds by height alone, which do not fill FM 35.",
    )
    assert run("verify", winds, text)[0] == 1
    code, _out, said = run("report", winds, text, "-o", tmp_path / "page.html")
    assert code != 0
    assert "winds by height alone" in said
    assert not (tmp_path / "page.html").exists()
