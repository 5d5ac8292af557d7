"""BUFR files shown as a stream: at once, message by message, in bounded memory."""

from __future__ import annotations

import io
import json
import tracemalloc

import click
import jsonschema
import numpy as np
import pytest
from click.testing import CliRunner

from encoder.cli import cli
from encoder.cli.bufr_stream import (
    MOST_TOLD,
    BufrInputs,
    Findings,
    content_text,
    json_item,
    json_pieces,
    show_bufr,
)
from encoder.formats.bufr.compose import message_content
from encoder.formats.bufr.document import FORMAT, content_as_json, soundings_as_json
from encoder.formats.bufr.monthly import write_monthly
from encoder.formats.bufr.read import read_contents
from encoder.formats.bufr.write import write_message
from encoder.levels import select_levels
from encoder.schemas_folder import schema
from tests.bufr_soundings import monthly_message


@pytest.fixture(scope="module")
def messages(sample_flights):
    """A short sounding, a longer one, and monthly means."""
    flight = sample_flights["saltmere-point"]
    levels = select_levels(flight).value
    short = write_message(message_content(flight, levels, rows="selected").value).value
    long = write_message(message_content(flight, levels).value).value
    return short, long, write_monthly(monthly_message()).value


def test_the_first_sounding_is_there_before_the_file_is_read(messages, tmp_path):
    """Nothing waits for the end of the file."""
    short, _long, _month = messages
    path = tmp_path / "many.bufr"
    path.write_bytes(short * 200)
    read: list[io.BufferedReader] = []

    class Watched(BufrInputs):
        def _opened(self, name):
            stream = super()._opened(name)
            read.append(stream)
            return stream

    contents = Watched((str(path),)).contents(list)
    first = next(contents)

    assert first.station == "90122"
    assert read[0].tell() < path.stat().st_size / 2


def test_memory_does_not_grow_with_the_file(messages, tmp_path, capsys):
    """Twelve times as many messages take no more memory, as text and as JSON."""
    _short, long, _month = messages

    def peak(count, as_json):
        path = tmp_path / f"{count}.bufr"
        path.write_bytes(long * count)
        tracemalloc.start()
        code = show_bufr(
            BufrInputs((str(path),)),
            (as_json, False, str(tmp_path / "out"), "note"),
            content_text,
            (FORMAT, content_as_json),
        )
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert code == 0
        return most

    for as_json in (False, True):
        few, many = peak(2, as_json), peak(24, as_json)
        assert many < few + 6e6  # 22 soundings kept would take 13 MB


def test_json_as_a_stream_is_the_document(messages, tmp_path, capsys):
    """Piece by piece the same as in one: soundings, months, findings; it fits its schema."""
    data = b"".join((*messages, b"BUFR?", messages[0][:200]))
    path, out = tmp_path / "mixed.bufr", tmp_path / "out.json"
    path.write_bytes(data)
    code = show_bufr(
        BufrInputs((str(path),)),
        (True, False, str(out), "note"),
        content_text,
        (FORMAT, content_as_json),
    )
    document = json.loads(out.read_text())
    contents = [one for result in read_contents(data) for one in result.value]

    assert code == 1
    jsonschema.validate(document, schema("soundings"))
    whole = json.loads(json.dumps(soundings_as_json(contents)))
    assert document["soundings"] == whole["soundings"]
    assert document["months"] == whole["months"]
    assert [item["code"] for item in document["diagnostics"]] == ["bufr-damaged"] * 2
    assert {item["file"] for item in document["diagnostics"]} == {str(path)}


def test_text_of_soundings_and_months(messages, tmp_path, capsys):
    """One after another, an empty line between them."""
    path = tmp_path / "two.bufr"
    path.write_bytes(messages[0] + messages[2])
    how = (False, False, None, "note")

    assert show_bufr(BufrInputs((str(path),)), how, content_text, (FORMAT, content_as_json)) == 0
    text = capsys.readouterr().out
    assert "BUFR 309057  station 90122" in text
    assert "BUFR 309054  FM 75  station 90417  2031-07  31 days" in text
    assert "hours: 00 UTC" in text
    assert max(map(len, text.splitlines())) <= 80


def test_csv_holds_one_sounding(messages, tmp_path, capsys):
    """Several, or monthly means, are refused; one is written."""
    path = tmp_path / "x.bufr"

    def shown(data):
        path.write_bytes(data)
        how = (False, True, None, "note")
        return show_bufr(BufrInputs((str(path),)), how, content_text, (FORMAT, content_as_json))

    assert shown(messages[0]) == 0
    assert capsys.readouterr().out.startswith("time [s],air_pressure [hPa]")
    for data, words in ((messages[0] * 2, "one sounding"), (messages[2], "monthly means")):
        with pytest.raises(click.UsageError, match=words):
            shown(data)


def test_findings_are_told_up_to_a_number_and_counted(messages, tmp_path, capsys):
    """A thousand damaged places do not make a thousand lines; --json has them all."""
    path = tmp_path / "damaged.bufr"
    path.write_bytes(messages[0] + b"BUFR....." * 30)
    how = (True, False, str(tmp_path / "out.json"), "note")

    assert show_bufr(BufrInputs((str(path),)), how, content_text, (FORMAT, content_as_json)) == 1
    errors = capsys.readouterr().err
    assert errors.count("error bufr-damaged") == MOST_TOLD
    assert f"bufr-damaged: {30 - MOST_TOLD} more of the same" in errors
    assert "30 errors" in errors
    assert len(json.loads((tmp_path / "out.json").read_text())["diagnostics"]) == 30


def test_standard_input_is_streamed(messages, monkeypatch):
    """BUFR from a pipe is read on from its beginning; a text is handed back whole."""

    class Pipe:
        def __init__(self, data):
            self.buffer = io.BytesIO(data)

    monkeypatch.setattr("sys.stdin", Pipe(messages[1] * 3))
    inputs = BufrInputs(("-",))
    assert len(list(inputs.contents(list))) == 3
    text = b"TTAA 17121 90122 NIL=\n" * 5000
    monkeypatch.setattr("sys.stdin", Pipe(text))
    inputs = BufrInputs(("-",))
    assert (inputs.bufr, inputs.others, inputs.text) == ([], (), text)


def test_pieces_of_an_object_are_json():
    """Arrays of none, one and several items."""
    text = "".join(
        json_pieces([("format", 'a "name"'), ("none", iter(())), ("two", iter(["1", "[\n 2\n]"]))])
    )
    assert json.loads(text) == {"format": 'a "name"', "none": [], "two": [1, [2]]}
    assert Findings("error").finish() == 0


@pytest.mark.parametrize("rows", [[], [{"a": 1}], [{"a": None}, {"a": "[null]"}]])
def test_rows_stand_in_one_line_each(rows):
    """Levels and elements take a line each, whatever they hold."""
    for document in ({"x": [None], "elements": list(rows)}, {"y": "]", "levels": {"levels": rows}}):
        wanted = json.loads(json.dumps(document))
        text = json_item(document)
        assert json.loads(text) == wanted
        assert text.count('"a"') == len(rows)
        assert np.all([line.count('"a"') <= 1 for line in text.splitlines()])


def test_text_of_a_file_of_messages(messages, tmp_path):
    """encode prints the text of every message as it is read, months too."""
    path = tmp_path / "many.bufr"
    path.write_bytes(messages[0] * 2 + messages[2])
    result = CliRunner().invoke(cli, ["encode", str(path), "--levels", "flags"])

    assert result.exit_code == 0, result.stderr
    assert result.stdout.count("TTAA 67121 90122") == 2
    assert "CLIMAT TEMP 07031 90417" in result.stdout
    parts = CliRunner().invoke(cli, ["encode", "-", "--parts", "B"], input=messages[0])
    assert parts.stdout.startswith("TTBB")
    assert "TTAA" not in parts.stdout
