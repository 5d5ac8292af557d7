"""Invented ascents of pilot balloons for tests."""

from __future__ import annotations

import numpy as np

from encoder.levels import select_levels
from encoder.report import encode_report
from tests.flights import facts_of


def rows(top=20_000.0, step=50.0, **columns):
    """Return a balloon rising at 5 m/s: wind veering and growing up to 11 km, then weaker."""
    height = np.arange(step, top - 412.0 + step / 2.0, step) + 412.0
    found = {
        "time": (height - 412.0) / 5.0,
        "geopotential_height": height,
        "wind_from_direction": np.mod(200.0 + height / 150.0, 360.0),
        "wind_speed": 5.0 + 40.0 * np.exp(-(((height - 11_000.0) / 3500.0) ** 2)),
    }
    return found | columns


def facts(**changes):
    """Return the facts of a flight of winds alone, nothing but wind observed at the surface."""
    document = facts_of(winds_alone=True, instrument__wind_equipment="1", **changes)
    document["surface"] = {"wind_from_direction_degree": 200.0, "wind_speed_m_s": 5.0}
    return document


def coded(flight, **options):
    """Return the report of a flight."""
    return encode_report(flight, select_levels(flight).value, **options).raise_for_errors()


def text_of(report, letters):
    """Return the groups of a part in one line."""
    (found,) = [part.text for part in report.parts if part.letters == letters]
    return " ".join(found.split())
