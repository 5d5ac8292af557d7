"""``--repair`` of the commands that read coded text."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from encoder.cli import cli

SAMPLE = Path(__file__).parents[2] / "samples" / "flights" / "harrow-tarn"


@pytest.fixture
def garbled(tmp_path: Path) -> tuple[str, str]:
    """Return a file with a report of which one group is garbled, and that group."""
    text = CliRunner().invoke(cli, ["encode", str(SAMPLE)]).stdout
    group = next(word for word in text.split() if word.startswith("70"))
    bad = group.replace("0", "O", 1)
    path = tmp_path / "garbled.txt"
    path.write_text(text.replace(group, bad, 1), encoding="ascii")
    return str(path), bad


@pytest.mark.parametrize(
    ("mode", "code", "exit_code"), [("none", "repair-proposed", 1), ("safe", "repaired", 0)]
)
def test_decode(garbled: tuple[str, str], mode: str, code: str, exit_code: int) -> None:
    """Decode proposes a repair, or makes it and tells the characters received."""
    path, bad = garbled
    result = CliRunner().invoke(cli, ["decode", path, "--repair", mode, "--json"])
    document = json.loads(result.stdout)
    told = [item for item in document["diagnostics"] if item["code"] == code]
    assert (result.exit_code, [item["value"] for item in told]) == (exit_code, [bad])
    originals = [
        entry["original"] for entry in document["reports"][0]["trace"] if "original" in entry
    ]
    assert originals == ([bad] if mode == "safe" else [])


def test_explain(garbled: tuple[str, str]) -> None:
    """Explain says what was received where a repair was read."""
    path, bad = garbled
    result = CliRunner().invoke(cli, ["explain", path, "--repair", "safe"])
    assert f"repaired: received as {bad}" in result.stdout


def test_verify(garbled: tuple[str, str]) -> None:
    """A garbled report must not be sent; repaired it says what the balloon measured."""
    path, _bad = garbled
    plain = CliRunner().invoke(cli, ["verify", str(SAMPLE), path])
    assert plain.exit_code == 1
    mended = CliRunner().invoke(cli, ["verify", str(SAMPLE), path, "--repair", "safe", "--json"])
    assert not any(
        item["severity"] == "error" for item in json.loads(mended.stdout).get("diagnostics", [])
    )


def test_wrong_mode(garbled: tuple[str, str]) -> None:
    """Another mode is wrong use."""
    result = CliRunner().invoke(cli, ["decode", garbled[0], "--repair", "some"])
    assert result.exit_code == 2
    assert "none" in result.stderr


@pytest.mark.parametrize("mode", ["none", "safe"])
def test_page(garbled: tuple[str, str], tmp_path: Path, mode: str) -> None:
    """The page shows what was received, marked, with the proposal; or what was read instead."""
    path, bad = garbled
    page = tmp_path / "page.html"
    command = ["report", str(SAMPLE), path, "--repair", mode]
    result = CliRunner().invoke(cli, [*command, "-o", str(page)])
    document = json.loads(CliRunner().invoke(cli, [*command, "--json"]).stdout)
    good = bad.replace("O", "0")
    groups = {group["text"]: group["received"] for group in document["groups"]}
    found = [item for item in document["diagnostics"] if item["code"].startswith("repair")]
    text = page.read_text("utf-8")

    assert result.exit_code == (1 if mode == "none" else 0)
    assert [(item["value"], item["expected"]) for item in found] == [(bad, good)]
    assert (bad in groups, groups.get(good)) == ((True, None) if mode == "none" else (False, bad))
    assert f"<code>{bad}</code>" in text
    word = "Proposed" if mode == "none" else "Read as"
    assert f"{word}: <code>{good}</code>" in text
    assert (f"received as {bad}" in text) == (mode == "safe")
    assert f">{bad}</span>" in text  # the report as received, in either mode
