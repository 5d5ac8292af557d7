"""The README says what is true: its examples run and print what it shows."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from encoder.cli import cli

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(kind):
    return re.findall(rf"```{kind}\n(.*?)```", README, re.DOTALL)


def test_first_paragraph_states_the_job():
    """README opens with one paragraph that states the job."""
    first = README.split("\n\n")[1]

    assert first.startswith("Aerogram turns one processed radiosonde flight into")


def test_cautions_are_there():
    """An aid, not an authority; hydrogen only by trained staff."""
    assert "An aid, not an authority" in README
    assert "Hydrogen is handled by trained staff only" in README


@pytest.mark.parametrize("code", blocks("python"))
def test_python_examples_run(code, monkeypatch, capsys):
    """Every Python example runs as it stands."""
    monkeypatch.chdir(ROOT)

    exec(compile(code, "README.md", "exec"), {})

    assert "Traceback" not in capsys.readouterr().err


def console():
    """Every command of the console blocks with the output the README shows."""
    found = []
    for block in blocks("console"):
        for piece in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            command, _line, shown = piece.partition("\n")
            found.append((command, shown))
    return found


@pytest.mark.parametrize(("command", "shown"), console(), ids=[item[0] for item in console()])
def test_console_examples_print_what_is_shown(command, shown, monkeypatch, tmp_path):
    """Every command of the README prints what is shown below it ("..." stands for more lines)."""
    monkeypatch.chdir(ROOT)
    words = command.split()
    report = tmp_path / "report.txt"
    if "report.txt" in words:
        flight = next(word for word in words if word.startswith("samples/"))
        made = CliRunner().invoke(cli, ["encode", flight, "-o", str(report)])
        assert made.exit_code == 0
        words = [str(report) if word == "report.txt" else word for word in words]

    done = CliRunner().invoke(cli, words[1:], catch_exceptions=False)

    assert words[0] == "aerogram"
    pieces = [re.escape(piece) for piece in shown.split("...\n")]
    assert re.fullmatch("(?s)" + ".*".join(pieces), done.stdout), done.stdout


def test_every_command_is_in_the_table():
    """The table of commands lists every command there is."""
    for command in cli.commands:
        assert f"`aerogram {command}" in README, command


def test_saving_by_fewest_levels_is_as_told(sample_flights):
    """The table of levels saved holds the numbers of the samples."""
    from encoder.levels import THERMODYNAMIC, LevelKind, select_levels

    for name, flight in sample_flights.items():
        counts = []
        for method in ("largest-deviation", "fewest-levels"):
            levels = select_levels(flight, method=method).value
            counts.append(
                len(levels.having(int(THERMODYNAMIC)))
                + len(levels.having(LevelKind.SIGNIFICANT_WIND))
            )
        title = name.replace("-", " ").title()
        saved = round(100 * (1 - counts[1] / counts[0]))
        row = f"| {title} | {len(flight.ascent)} | {counts[0]} | {counts[1]} | {saved} % |"
        assert row in README, row
