"""The facts of a flight, its reports and diagnostics as text that gives back equal values."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, fields
from datetime import datetime
from typing import TYPE_CHECKING, Any

from encoder.diagnostics import Diagnostic, Severity
from encoder.profile import CloudGroup, Instrument, Reporting, Station, SurfaceObservation

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from encoder.levels.table import Levels
    from encoder.profile import Flight
    from encoder.report import Report


def compact(document: Any) -> str:
    """Return a document as JSON without blanks."""
    return json.dumps(document, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _plain(document: Mapping[str, Any]) -> dict[str, Any]:
    """Return a mapping with null for NaN."""
    return {
        key: None if isinstance(value, float) and math.isnan(value) else value
        for key, value in document.items()
    }


def _nan(document: Mapping[str, Any], name: str) -> float:
    value = document[name]
    return math.nan if value is None else float(value)


# --- station, surface, instrument, reporting --------------------------------------------------


def station_as_json(station: Station) -> dict[str, Any]:
    """Return a station as a JSON object."""
    return _plain(asdict(station))


def station_from_json(document: Mapping[str, Any]) -> Station:
    """Return the station of a JSON object; a null elevation is NaN."""
    return Station(**{**document, "elevation": _nan(document, "elevation")})


def facts_as_json(flight: Flight) -> dict[str, Any]:
    """Return everything of a flight but its rows and diagnostics."""
    return {
        "station": station_as_json(flight.station),
        "nominal_time": flight.nominal_time.isoformat(),
        "release_time": flight.release_time.isoformat(),
        "surface": _plain(asdict(flight.surface)),
        "instrument": asdict(flight.instrument),
        "reporting": asdict(flight.reporting),
        "vapour_pressure_formula": flight.vapour_pressure_formula,
        "document": dict(flight.document),
    }


def facts_from_json(document: Mapping[str, Any]) -> dict[str, Any]:
    """Return the arguments of a flight; inverse of :func:`facts_as_json`.

    Raises
    ------
    KeyError, TypeError, ValueError
        If the object is not one :func:`facts_as_json` makes.
    """
    surface: dict[str, Any] = {
        item.name: _nan(document["surface"], item.name)
        if item.name != "cloud" and item.type == "float"
        else document["surface"][item.name]
        for item in fields(SurfaceObservation)
    }
    cloud = surface.pop("cloud")
    reporting: dict[str, Any] = {
        key: tuple(value) if isinstance(value, list) else value
        for key, value in document["reporting"].items()
    }
    return {
        "station": station_from_json(document["station"]),
        "nominal_time": datetime.fromisoformat(document["nominal_time"]),
        "release_time": datetime.fromisoformat(document["release_time"]),
        "surface": SurfaceObservation(
            **surface, cloud=None if cloud is None else CloudGroup(**cloud)
        ),
        "instrument": Instrument(**document["instrument"]),
        "reporting": Reporting(**reporting),
        "vapour_pressure_formula": document["vapour_pressure_formula"],
        "document": document["document"],
    }


# --- diagnostics ------------------------------------------------------------------------------


def diagnostics_as_json(diagnostics: Sequence[Diagnostic]) -> list[dict[str, Any]]:
    """Return diagnostics as JSON objects."""
    return [item.as_json() for item in diagnostics]


def diagnostics_from_json(documents: Sequence[Mapping[str, Any]]) -> tuple[Diagnostic, ...]:
    """Return the diagnostics of JSON objects; inverse of :func:`diagnostics_as_json`."""
    return tuple(
        Diagnostic(
            **{
                **item,
                "severity": Severity(item["severity"]),
                "span": None if item["span"] is None else (item["span"][0], item["span"][1]),
                "path": tuple(item["path"]),
                "rows": tuple(item["rows"]),
            }
        )
        for item in documents
    )


# --- levels and reports -----------------------------------------------------------------------


def levels_text(levels: Levels) -> str:
    """Return a level table as text."""
    from encoder.formats.level_table import levels_as_json

    return compact(levels_as_json(levels))


def levels_of_text(document: str) -> Levels:
    """Return the level table of a text; inverse of :func:`levels_text`."""
    from encoder.formats.level_table import levels_from_json

    return levels_from_json(json.loads(document))


def reports_text(reports: Sequence[Report], levels: Levels | None = None) -> str:
    """Return reports as text; a level table that is stored beside them is not repeated."""
    from encoder.formats.report_json import reports_as_json

    document = reports_as_json(reports)
    for item, report in zip(document["reports"], reports, strict=True):
        if levels is not None and report.levels == levels:
            item["levels"] = None
    return compact(document)


def reports_of_text(document: str, levels: Levels | None = None) -> tuple[Report, ...]:
    """Return the reports of a text; inverse of :func:`reports_text`."""
    from dataclasses import replace

    from encoder.formats.report_json import reports_from_json

    loaded = json.loads(document)
    shared = [item["levels"] is None for item in loaded["reports"]]
    empty: dict[str, Any] = {"levels": []}
    for item in loaded["reports"]:
        item["levels"] = empty if item["levels"] is None else item["levels"]
    reports = reports_from_json(loaded)
    return tuple(
        replace(report, levels=levels) if same and levels is not None else report
        for report, same in zip(reports, shared, strict=True)
    )
