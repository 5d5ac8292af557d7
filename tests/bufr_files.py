"""Real BUFR messages for the tests, from the source distribution of a general BUFR decoder.

The files are observed messages (MIT licence) in the source distribution ``pybufrkit 0.2.25`` on
PyPI. They are fetched by name with pip when they are not there yet, and never committed. Where
``AEROGRAM_BUFR_FILES`` names a folder with them, nothing is fetched.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

import pytest

DISTRIBUTION = "pybufrkit==0.2.25"
FOLDER = Path(__file__).parent / "external" / "data-downloaded"
FILES = {
    "IUSD40_OKLI.bufr": "tests/benchmark_data",
    "IUSK73_AMMC_040000.bufr": "tests/data",
    "IUSK73_AMMC_182300.bufr": "tests/data",
    "uegabe.bufr": "tests/data",
    "btem_109.bufr": "tests/benchmark_data",
    "temp_101.bufr": "tests/benchmark_data",
    "temp_102.bufr": "tests/benchmark_data",
    "temp_106.bufr": "tests/benchmark_data",
    "pilo_91.bufr": "tests/benchmark_data",
    "profiler_european.bufr": "tests/data",
    "ocea_133.bufr": "tests/benchmark_data",
    "btem_111.bufr": "tests/benchmark_data",
    "b002_95.bufr": "tests/data",
    "multi_invalid_messages.bufr": "tests/data",
}
SOUNDINGS = {
    "IUSD40_OKLI.bufr": 4,
    "IUSK73_AMMC_040000.bufr": 1,
    "IUSK73_AMMC_182300.bufr": 1,
    "uegabe.bufr": 1,
    "btem_109.bufr": 1,
    "temp_101.bufr": 4,
    "temp_102.bufr": 1,
    "temp_106.bufr": 1,
    "pilo_91.bufr": 17,
}
"""Radiosonde and pilot files, with the soundings in each."""


def folder() -> Path:
    """Return the folder with the files, fetched if need be; fail the test where it cannot be."""
    named = os.environ.get("AEROGRAM_BUFR_FILES")
    place = Path(named) if named else FOLDER
    if all((place / name).is_file() for name in FILES):
        return place
    if named:
        pytest.fail(f"AEROGRAM_BUFR_FILES names {place}, which lacks some of {', '.join(FILES)}.")
    with tempfile.TemporaryDirectory() as temporary:
        command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"]
        command += ["--no-binary", ":all:", DISTRIBUTION, "--dest", temporary]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        archives = list(Path(temporary).glob("*.tar.gz"))
        if done.returncode or not archives:
            pytest.fail(f"pip could not fetch {DISTRIBUTION}: {done.stderr.strip()[-500:]}")
        place.mkdir(parents=True, exist_ok=True)
        with tarfile.open(archives[0]) as archive:
            root = archive.getnames()[0].split("/")[0]
            for name, inside in FILES.items():
                member = archive.extractfile(f"{root}/{inside}/{name}")
                part = place / f".{name}.{os.getpid()}"
                part.write_bytes(member.read())
                part.replace(place / name)
    return place


def octets(name: str) -> bytes:
    """Return the content of one file."""
    return (folder() / name).read_bytes()
