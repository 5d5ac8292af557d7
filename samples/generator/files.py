"""Writing a generated flight as ``flight.json`` and ``profile.csv``."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import numpy as np

from encoder.columns import COLUMNS
from samples.generator.sensors import DECIMALS, THIN_AIR, THIN_AIR_DECIMALS

if TYPE_CHECKING:
    from pathlib import Path

    from samples.generator.flight import SampleFlight


def profile_text(flight: SampleFlight, remark: str = "") -> str:
    """Return the contents of ``profile.csv``.

    Parameters
    ----------
    flight : SampleFlight
    remark : str
        Text of one comment line at the top; none where empty.

    Returns
    -------
    str
        Header cells ``name [unit]``; an empty cell is a missing value.
    """
    cells = []
    for name, values in flight.columns.items():
        fixed = f".{DECIMALS[name]}f"
        thin = f".{THIN_AIR_DECIMALS}f" if name == "air_pressure" else fixed
        if name == "time" and np.all(values == np.round(values)):
            fixed = thin = ".0f"
        cells.append(
            [
                "" if np.isnan(value) else format(value, thin if value < THIN_AIR else fixed)
                for value in values.tolist()
            ]
        )
    lines = [f"# {remark}"] if remark else []
    lines.append(",".join(f"{name} [{COLUMNS[name].unit}]" for name in flight.columns))
    lines.extend(",".join(row) for row in zip(*cells, strict=True))
    return "\n".join(lines) + "\n"


def document_text(flight: SampleFlight) -> str:
    """Return the contents of ``flight.json``."""
    return json.dumps(flight.document, indent=2, ensure_ascii=False) + "\n"


def write_flight(flight: SampleFlight, folder: Path, remark: str = "") -> None:
    """Write both files into a folder, making it where it does not exist.

    Parameters
    ----------
    flight : SampleFlight
    folder : Path
    remark : str
        See :func:`profile_text`.
    """
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "flight.json").write_text(document_text(flight), encoding="utf-8", newline="\n")
    text = profile_text(flight, remark)
    (folder / "profile.csv").write_text(text, encoding="utf-8", newline="\n")
