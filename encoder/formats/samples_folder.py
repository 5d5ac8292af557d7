"""The bundled flights: inside an installed package, or in ``samples/flights`` of a checkout."""

from __future__ import annotations

import shutil
from importlib.resources import files
from pathlib import Path

SAMPLES = ("harrow-tarn", "halden-dome", "saltmere-point")
_FILES = ("flight.json", "profile.csv")


def sample_names() -> tuple[str, ...]:
    """Return the names of the bundled flights."""
    return SAMPLES


def sample_flight(name: str) -> Path:
    """Return the folder of a bundled flight.

    Raises
    ------
    FileNotFoundError
        If it is neither in the package nor beside it.
    """
    package = Path(str(files("encoder")))
    for folder in (package / "samples" / name, package.parent / "samples" / "flights" / name):
        if folder.is_dir():
            return folder
    msg = f"The sample {name} is not installed."
    raise FileNotFoundError(msg)


def copy_sample(name: str, folder: str) -> list[Path]:
    """Copy a bundled flight into a folder that does not hold a flight yet.

    Raises
    ------
    FileExistsError
        If a file would be overwritten.
    """
    target = Path(folder)
    target.mkdir(parents=True, exist_ok=True)
    for file in _FILES:
        if (target / file).exists():
            raise FileExistsError(17, "a flight is there already", str(target / file))
    written = []
    for file in _FILES:
        written.append(target / file)
        shutil.copyfile(sample_flight(name) / file, written[-1])
    return written
