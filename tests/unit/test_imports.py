"""The layers of the package: imports point one way, heavy libraries wait until used."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "encoder"

LAYERS = (
    ("errors", "rounding", "columns", "schemas_folder"),
    ("diagnostics", "catalogue", "resolution", "trace", "rows"),
    ("profile", "physics"),
    ("levels", "codes", "ascent", "checks"),
    ("report", "bulletin", "repair"),
    ("sounding",),
    ("archive", "climat"),
    ("formats", "stations", "located"),
    ("verify", "convert"),
    ("page", "plot"),
    ("reference", "cli"),
    ("__main__",),
)
"""Lowest first; a module may import its own layer and those below it.

Inside one layer a module named later in the row may use the earlier ones and the other way round.
"""

ALLOWED = {
    ("diagnostics", "catalogue"),  # severities come from the catalogue when a diagnostic is made
    ("errors", "diagnostics"),  # for the type of what an exception carries
}


SETS_THREADS = ("workers.py",)
"""Processes of a bulk run get one thread each, which numerical libraries read from there."""


def layer_of(module: str) -> int | None:
    for place, names in enumerate(LAYERS):
        if module in names:
            return place
    return None


def imports_of(path: Path) -> set[str]:
    """Top-level modules of the package that a file imports, wherever in the file."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = []
        if isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            names = (
                [f"encoder.{item.name}" for item in node.names]
                if node.module == "encoder"
                else [node.module]
            )
        elif isinstance(node, ast.Import):
            names = [item.name for item in node.names]
        found.update(name.split(".")[1] for name in names if name.startswith("encoder."))
    return found


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.py")), ids=lambda p: str(p.name))
def test_imports_point_downward(path):
    """No module imports from a layer above its own."""
    own = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    if own == "__init__":
        return
    mine = layer_of(own)

    assert mine is not None, f"{own} has no layer"
    for other in imports_of(path):
        theirs = layer_of(other)
        assert theirs is not None, f"{other} has no layer"
        assert theirs <= mine or (own, other) in ALLOWED, f"{path.name} imports {other}"


@pytest.mark.parametrize(
    "heavy", ["cf_units", "jsonschema", "xarray", "netCDF4", "eccodes", "pandas", "matplotlib"]
)
def test_command_line_starts_without(heavy):
    """Showing the help imports no heavy library."""
    code = (
        "import sys, encoder.cli\n"
        f"assert {heavy!r} not in sys.modules, 'imported'\n"
        "assert 'numpy' not in sys.modules, 'numpy imported'\n"
    )

    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)

    assert done.stderr == ""


def test_every_public_name_can_be_loaded():
    """Every name in __all__ is there, and the rest are refused."""
    import encoder

    assert all(getattr(encoder, name) is not None for name in encoder.__all__)
    assert set(encoder.__all__) <= set(dir(encoder))
    with pytest.raises(AttributeError):
        _ = encoder.no_such_name


def test_only_rounding_rounds():
    """Observed values are rounded in one place: no int() or round() of a float elsewhere."""
    offenders = []
    for path in PACKAGE.rglob("*.py"):
        if path.name == "rounding.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            called = isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
            if called and node.func.id == "round" and len(node.args) == 1:
                offenders.append(f"{path.name}:{node.lineno}")

    assert offenders == []


def test_no_clock_no_environment():
    """Nothing in the package reads the clock or the environment, the command line apart."""
    words = ("datetime.now(", "date.today(", "time.time(", "os.environ", "getenv(", "utcnow(")
    offenders = [
        f"{path.name}: {word}"
        for path in PACKAGE.rglob("*.py")
        if "cli" not in path.parts and path.name not in SETS_THREADS
        for word in words
        if word in path.read_text(encoding="utf-8")
    ]

    assert offenders == []
