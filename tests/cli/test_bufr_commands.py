"""BUFR through the commands, as a user meets it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

from encoder.schemas_folder import schema

ROOT = Path(__file__).resolve().parents[2]
FLIGHT = ROOT / "samples" / "flights" / "saltmere-point"


def aerogram(*words, data=None, environment=None):
    """Run a command; return exit code, output and errors as bytes."""
    done = subprocess.run(
        [sys.executable, "-m", "encoder", *map(str, words)],
        input=data,
        capture_output=True,
        check=False,
        cwd=ROOT,
        env={**os.environ, **(environment or {})},
    )
    return done.returncode, done.stdout, done.stderr


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """A message and the text of the same flight."""
    folder = tmp_path_factory.mktemp("bufr")
    message, text = folder / "saltmere.bufr", folder / "saltmere.txt"
    code, _out, errors = aerogram(
        "encode", FLIGHT, "--to", "bufr", "--rows", "selected", "--centre", 99, "-o", message
    )
    assert code == 0, errors
    assert aerogram("encode", FLIGHT, "-o", text)[0] == 0
    return message, text


def test_encode_decode_explain(files):
    """No template named anywhere: the message is written, its levels and elements are shown."""
    message, _text = files

    code, out, errors = aerogram("decode", message)
    assert (code, errors) == (0, b"")
    assert b"station 90122" in out
    assert b"sfc T U w" in out
    code, out, _errors = aerogram("explain", message)
    assert code == 0
    assert b"balloon burst" in out
    assert max(map(len, out.decode().splitlines())) <= 80


def test_message_through_a_pipe(files):
    """encode to standard output, decode from standard input."""
    code, data, _errors = aerogram("encode", FLIGHT, "--to", "bufr", "--centre", 99)
    assert code == 0
    assert data.startswith(b"BUFR")
    code, out, _errors = aerogram("decode", "-", "--json", data=data)
    document = json.loads(out)
    assert code == 0
    jsonschema.validate(document, schema("soundings"))
    assert len(document["soundings"][0]["levels"]["levels"]) > 2700
    code, out, _errors = aerogram("decode", "-", "--csv", data=data)
    assert out.count(b"\n") == len(document["soundings"][0]["levels"]["levels"]) + 1


def test_verify_takes_message_and_text(files):
    """Alone, together, and through a pipe; exit code 0 where they agree."""
    message, text = files
    for words in ([message], [message, text]):
        code, out, _errors = aerogram("verify", FLIGHT, *words, "--show", "error")
        assert code == 0, out
        assert b"BUFR agrees" in out
    code, out, _errors = aerogram("verify", FLIGHT, text, message, "--json")
    document = json.loads(out)
    jsonschema.validate(document["agreements"][0], schema("agreement"))
    assert document["verdict"]["may_be_sent"]
    assert aerogram("verify", FLIGHT, "-", data=message.read_bytes())[0] == 0


def test_verify_says_no_to_another_flight(files):
    """The message of another station: exit code 1, with the reasons."""
    other = ROOT / "samples" / "flights" / "halden-dome"
    code, out, _errors = aerogram("verify", other, files[0], "--show", "error")

    assert code == 1
    assert b"BUFR DISAGREES" in out
    assert b"station" in out


def test_text_to_bufr_and_back(files, tmp_path):
    """A text becomes a message with --date, the message becomes the same text."""
    _message, text = files
    made = tmp_path / "made.bufr"

    code, _out, errors = aerogram("encode", text, "--to", "bufr", "-o", made)
    assert code == 2
    assert b"--date" in errors
    code, _out, errors = aerogram(
        "encode", text, "--to", "bufr", "--date", "2031-01-17", "-o", made
    )
    assert code == 0, errors
    code, out, _errors = aerogram("encode", made, "--levels", "flags", "--wind-unit", "m/s")
    assert code == 0
    assert out == text.read_bytes()


def test_lone_part_needs_force(files, tmp_path):
    """Part A alone is refused with the reason, exit code 1, unless forced."""
    alone = tmp_path / "a.txt"
    text = files[1].read_text()
    alone.write_text(text[: text.index("=") + 1] + "\n")
    asked = ("encode", alone, "--to", "bufr", "--date", "2031-01-17", "-o", tmp_path / "a.bufr")

    code, _out, errors = aerogram(*asked)
    assert code == 1
    assert b"bufr-lone-part" in errors
    assert not (tmp_path / "a.bufr").exists()
    assert aerogram(*asked, "--force")[0] == 0


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("--message", "low-resolution"), b"309052"),
        (("--message", "wind"), b"309050"),
        (("--message", "wind-by-height"), b"309051"),
        (("--message", "descent"), b"309056"),
        (("--message", "3 09 057", "--first"), b"309057"),
        (("--nil",), b"NIL"),
    ],
)
def test_kinds_of_message(words, expected):
    """Every kind by its name; a template may be named too."""
    code, data, errors = aerogram(
        "encode", FLIGHT, "--to", "bufr", "--rows", "selected", "--centre", 99, *words
    )
    assert code == 0, errors
    code, out, _errors = aerogram("decode", "-", data=data)
    assert code == 0
    assert expected in out


def test_bulletin_with_heading(files, tmp_path):
    """Envelope, number and heading; a correction counts up."""
    path = tmp_path / "b.bufr"
    words = ("--bulletin", "XNOR", "--channel", 7, "--update", 1, "--indicator", "CCA")
    code, _out, errors = aerogram(
        "encode", FLIGHT, "--to", "bufr", "--centre", 99, "--rows", "selected", *words, "-o", path
    )

    assert code == 0, errors
    assert path.read_bytes().startswith(b"\x01\r\r\n007\r\r\nIUSA01 XNOR 171200 CCA\r\r\nBUFR")
    document = json.loads(aerogram("decode", path, "--json")[1])
    assert document["soundings"][0]["header"]["update"] == 1
    assert document["soundings"][0]["heading"] == "IUSA01 XNOR 171200 CCA"
    bad = aerogram("encode", FLIGHT, "--to", "bufr", "--bulletin", "nor", "-o", path)
    assert bad[0] == 2


def test_notification_of_a_message(files):
    """The document on standard output, the topic beside it."""
    code, out, errors = aerogram(
        "notification",
        files[0],
        "--centre-id",
        "nr-norreland",
        "--url",
        "https://wis.example/saltmere.bufr",
        "--published",
        "2031-01-17T13:00:00Z",
    )

    assert code == 0, errors
    jsonschema.validate(json.loads(out), schema("notification"))
    assert b"topic origin/a/wis2/nr-norreland/data/core" in errors
    code, _out, errors = aerogram(
        "notification",
        files[1],
        "--centre-id",
        "nr-norreland",
        "--url",
        "https://wis.example/x",
        "--published",
        "2031-01-17T13:00:00Z",
    )
    assert code == 1
    assert b"holds no BUFR" in errors


def test_levels_of_a_message_as_a_flight(files):
    """A message with one sounding is a flight to the other commands."""
    code, out, _errors = aerogram("levels", files[0])

    assert code == 0
    assert b"958.3" in out


def test_without_the_extra_one_line_says_what_to_install(files, tmp_path):
    """Without the coding library: exit code 1 and the line, no traceback; plain ones are read."""
    hidden = tmp_path / "eccodes.py"
    hidden.write_text("raise ImportError('hidden')\n")
    away = {"PYTHONPATH": str(tmp_path)}

    code, _out, errors = aerogram("encode", FLIGHT, "--to", "bufr", environment=away)
    assert code == 1
    assert b'pip install "aerogram[bufr]"' in errors
    assert b"Traceback" not in errors
    assert aerogram("decode", files[0], environment=away)[0] == 0


def test_wrong_use_is_told(files, tmp_path):
    """Wrong kinds, BUFR as its own source, text and BUFR mixed, an empty or foreign file."""
    message, text = files
    empty = tmp_path / "empty"
    empty.write_bytes(b"")
    broken = tmp_path / "broken.bufr"
    broken.write_bytes(message.read_bytes()[:-50])
    for words, code, say in (
        (("encode", FLIGHT, "--to", "bufr", "--message", "sonnet"), 2, b"--message takes"),
        (("encode", message, "--to", "bufr"), 2, b"BUFR already"),
        (("encode", FLIGHT, "--to", "bufr", "--parts", "A"), 2, b"--parts"),
        (("decode", message, text), 2, b"not together"),
        (("decode", empty), 1, b"no-report"),
        (("decode", broken), 1, b"bufr-damaged"),
        (("verify", FLIGHT, broken), 1, b"no sounding"),
        (("encode", FLIGHT, "--to", "bufr", "-o", tmp_path / "no" / "x.bufr"), 3, b"Cannot write"),
        (("encode", FLIGHT, "--to", "bufr", "-o", "/dev/full"), 3, b"Cannot write"),
    ):
        result, _out, errors = aerogram(*words)
        assert result == code, (words, errors)
        assert say in errors, (words, errors)
        assert b"Traceback" not in errors
