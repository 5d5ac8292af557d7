"""A decoded or encoded report as JSON, and back to a report that can be coded again."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from encoder.codes.content import content_from_json
from encoder.errors import FormatError, InputError
from encoder.formats.level_table import levels_as_json, levels_from_json
from encoder.report import PartReport, Report
from encoder.trace import TraceEntry

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from encoder.diagnostics import Diagnostic
    from encoder.located import Located

FORMAT = "aerogram-report-1"


def reports_as_json(
    reports: Sequence[Report],
    diagnostics: Sequence[Diagnostic] = (),
    located: Sequence[Located] = (),
) -> dict[str, Any]:
    """Return a dictionary that validates against ``report.schema.json``.

    Parameters
    ----------
    reports : sequence of Report
    diagnostics : sequence of Diagnostic
        What there is to say about them.
    located : sequence of Located
        Where and when each was made; left out where not given.
    """
    places = [{"located": place.as_json()} for place in located] or [{}] * len(reports)
    return {
        "format": FORMAT,
        "reports": [
            {**_report_as_json(report), **place}
            for report, place in zip(reports, places, strict=True)
        ],
        "diagnostics": [item.as_json() for item in diagnostics],
    }


def _report_as_json(report: Report) -> dict[str, Any]:
    return {
        "form": report.form,
        "text": report.text,
        "parts": [
            {
                "letters": part.letters,
                "text": part.text,
                "span": list(part.span),
                "content": part.content.as_json(),
                **({} if part.heading is None else {"heading": part.heading}),
            }
            for part in report.parts
        ],
        "levels": levels_as_json(report.levels),
        "trace": [entry.as_json() for entry in report.trace],
        **({} if report.on is None else {"on": report.on.isoformat()}),
    }


def reports_from_json(document: Any) -> tuple[Report, ...]:
    """Return the reports a dictionary describes; inverse of :func:`reports_as_json`.

    Raises
    ------
    FormatError
        If the dictionary is not a report.
    """
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        found = document.get("format") if isinstance(document, dict) else type(document).__name__
        msg = f'Expected a report in JSON with "format": "{FORMAT}", got {found!r}.'
        raise FormatError(msg)
    try:
        return tuple(_report_from_json(item) for item in document["reports"])
    except (KeyError, TypeError, ValueError, AttributeError) as fault:
        msg = f"Expected a report in JSON, got an object without {fault}."
        raise FormatError(msg) from fault
    except InputError as fault:
        raise FormatError(fault.message) from fault


def _report_from_json(item: Mapping[str, Any]) -> Report:
    return Report(
        form=item["form"],
        parts=tuple(
            PartReport(
                part["letters"],
                part["text"],
                (part["span"][0], part["span"][1]),
                content_from_json(part["content"]),
                part.get("heading"),
            )
            for part in item["parts"]
        ),
        text=item["text"],
        levels=levels_from_json(item["levels"]),
        trace=tuple(
            TraceEntry(
                span=(entry["span"][0], entry["span"][1]),
                text=entry["text"],
                part=entry["part"],
                section=entry["section"],
                symbol=entry["symbol"],
                record=entry["record"],
                values=entry["values"],
                level=entry["level"],
                rows=tuple(entry["rows"]),
                rules=tuple(entry["rules"]),
            )
            for entry in item["trace"]
        ),
        on=None if item.get("on") is None else date.fromisoformat(item["on"]),
    )
