"""The explanation on a terminal: aligned and coloured there, plain everywhere else."""

from __future__ import annotations

import io
import os
import pty
import re
import subprocess
import sys

from rich.console import Console

from encoder.cli.explain_terminal import is_terminal, printable, show_explanation
from encoder.report import decode_reports
from encoder.report.explain import explain

TEXT = "TTAA 17121 90122 99958 04618 24014 00845 ///// ///// 92291 0200 25025="


def shown(width, *, colour):
    stream = io.StringIO()
    console = Console(
        file=stream,
        width=width,
        force_terminal=colour,
        color_system="truecolor" if colour else None,
        highlight=False,
    )
    show_explanation(explain(decode_reports(TEXT).value[0]), {"TTAA": "standard levels"}, console)
    return stream.getvalue()


def test_columns_are_aligned_and_nothing_is_lost():
    """Every group stands at the left edge, every sentence in the last column."""
    lines = shown(80, colour=False).splitlines()
    groups = explain(decode_reports(TEXT).value[0])

    starts = [line.split(" ")[0] for line in lines]
    assert [group.text for group in groups if group.text in starts] == [g.text for g in groups]
    assert max(map(len, lines)) <= 80
    together = re.sub(r"\s+", "", "".join(lines))
    for group in groups:
        for figures in group.figures:
            words = [word for word in re.split(r"\s+", figures.sentence) if len(word) < 30]
            assert all(word in together for word in words)


def test_colours_tell_nothing_that_words_do_not():
    """Without its colours the coloured text is the plain one."""
    coloured = shown(100, colour=True)

    assert "\x1b[" in coloured
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured).split() == shown(100, colour=False).split()


def test_a_file_is_no_terminal():
    """Output that is caught stays plain."""
    assert not is_terminal(io.StringIO())


def test_characters_that_steer_a_terminal_are_marked():
    """An escape sequence in a message does not reach the terminal."""
    assert printable("8\x1b[2J5") == "8\ufffd[2J5"


def run_on_terminal(report, **environment):
    """Run the command with a pseudo-terminal as its standard output."""
    own, other = pty.openpty()
    done = subprocess.Popen(
        [sys.executable, "-m", "encoder", "explain", str(report)],
        stdout=other,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "TERM": "xterm-256color", "COLUMNS": "90", **environment},
    )
    os.close(other)
    said = b""
    while True:
        try:
            piece = os.read(own, 4096)
        except OSError:
            break
        if not piece:
            break
        said += piece
    done.wait()
    os.close(own)
    return said.decode()


def test_the_command_on_a_terminal_and_in_a_pipe(tmp_path):
    """Colours on a terminal unless the reader wants none; none in a pipe."""
    report = tmp_path / "report.txt"
    report.write_text(TEXT)
    piped = subprocess.run(
        [sys.executable, "-m", "encoder", "explain", str(report)],
        capture_output=True,
        text=True,
        check=False,
    ).stdout

    assert "\x1b" not in piped
    assert "\x1b[1;36m" in run_on_terminal(report)
    assert "36m" not in run_on_terminal(report, NO_COLOR="1")
