"""Real reports: what they say was listed beside them, and encoding gives the same groups again.

The reports and lists are in ``data/soundings.json``, each with its public origin.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from encoder.codes.content import PartContent, Record
from encoder.report import decode_reports, encode_content
from encoder.resolution import KNOT

REPORTS: list[dict[str, Any]] = json.loads(
    (Path(__file__).parent / "data" / "soundings.json").read_text(encoding="utf-8")
)
PARTS = [pytest.param(item, id=f"{item['id']}-{item['part']}") for item in REPORTS]


def decoded(item: dict[str, Any]) -> PartContent:
    """Return what the part says."""
    (report,), _found = decode_reports(item["raw"])
    return report.parts[0].content


def wind(item: dict[str, Any], record: Record) -> list[float] | None:
    """Return direction and speed in the unit of the report, None where missing."""
    direction, speed = record.get("wind_from_direction"), record.get("wind_speed")
    if not isinstance(direction, float) or not isinstance(speed, float):
        return None
    step = KNOT if item["wind_unit"] == "kt" else 1.0
    return [direction, round(speed / step, 6)]


def said(item: dict[str, Any], content: PartContent) -> list[list[Any]]:
    """Return the levels in the layout of the list beside the report."""
    rows: list[list[Any]] = []
    for section in content.sections:
        if section.none_reported:
            rows.append(
                ["no tropopause (88999)" if section.number == "3" else "no max wind (77999)"]
            )
        for record in section.records:
            pressure = record.get("air_pressure")
            heat = [record.get("air_temperature"), record.get("dew_point_depression")]
            height = record.get("geopotential_height")
            blowing = wind(item, record)
            unit = record.get("altitude_units")
            if record.kind in ("standard", "surface") and section.number == "2":
                name = "std" if record.kind == "standard" else "surface"
                rows.append([name, pressure, height, *heat, blowing])
            elif record.kind == "tropopause":
                rows.append(["tropopause", pressure, None, *heat, blowing])
            elif record.kind == "maximum-wind":
                rows.append([_maximum(item, record), pressure, None, None, None, blowing])
            elif section.number == "5" and record.kind != "verbatim":
                rows.append(["T", pressure, *heat])
            elif section.number == "6":
                rows.append(["W", pressure, blowing])
            elif record.kind == "fixed-altitude":
                place = ["surface", None] if unit is None else ["unit", unit]
                rows.append([*place, blowing])
    return rows


def _maximum(item: dict[str, Any], record: Record) -> str:
    figures = "66" if record.get("top_of_wind_sounding") else "77"
    below, above = record.get("wind_shear_below"), record.get("wind_shear_above")
    if not isinstance(below, float) or not isinstance(above, float):
        return f"max wind ({figures})"
    step = KNOT if item["wind_unit"] == "kt" else 1.0
    return f"max wind ({figures}) shear 4{below / step:02.0f}{above / step:02.0f}"


@pytest.mark.parametrize("item", PARTS)
def test_decoded_values_are_the_listed_ones(item: dict[str, Any]) -> None:
    """Every level of every real part decodes to the values listed beside it."""
    expected = item["levels"]
    assert expected == said(item, decoded(item))


@pytest.mark.parametrize("item", PARTS)
def test_identification(item: dict[str, Any]) -> None:
    """Day, hour, wind unit and place are those listed beside the report."""
    content = decoded(item)
    first = content.identification
    unit = "kt" if item["wind_unit"] == "kt" else "m s-1"
    assert (item["day"], item["hour"], unit) == (first["day"], first["hour"], first["wind_unit"])


@pytest.mark.parametrize("item", PARTS)
def test_encoding_gives_the_same_groups(item: dict[str, Any]) -> None:
    """Encoding what was decoded gives the received groups, one for one."""
    text, found = encode_content([decoded(item)])
    received = item["raw"].removesuffix("=").split()
    assert received == text.removesuffix("=\n").split()
    assert found == ()


@pytest.mark.parametrize("item", PARTS)
def test_nothing_is_wrong_with_the_report(item: dict[str, Any]) -> None:
    """Real parts that were transmitted well give no warning and no error."""
    _reports, found = decode_reports(item["raw"])
    assert set() == {one.code for one in found} - {"parts-missing", "report-not-ended"}
