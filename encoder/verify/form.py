"""Whether a report has the form it must be sent in: what may be read may still not be sent."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from encoder.diagnostics import Diagnostic, Severity, diagnostic

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from encoder.codes.content import PartContent
    from encoder.report import Report

NOT_TO_BE_SENT = {
    "parts-disagree": Severity.ERROR,
    "part-twice": Severity.ERROR,
    "level-number": Severity.ERROR,
    "last-wind-figure": Severity.ERROR,
    "groups-run-together": Severity.ERROR,
    "figure-not-solidus": Severity.ERROR,
    "report-not-ended": Severity.WARNING,
    "lower-case": Severity.WARNING,
}
"""Findings that weigh more in a report to be sent than in one that was received."""
LEAST_GROUPS = 3
"""So many words of five figures outside a part are a part that lost its letters."""
_GROUP = re.compile(r"\b[0-9/]{5}(?![0-9/])")


def as_sent(diagnostics: Iterable[Diagnostic]) -> list[Diagnostic]:
    """Return the findings of decoding with the weight they have before sending.

    Parameters
    ----------
    diagnostics : iterable of Diagnostic
        What decoding found.

    Returns
    -------
    list of Diagnostic
    """
    found = []
    for item in diagnostics:
        weight = NOT_TO_BE_SENT.get(item.code, item.severity)
        groups = len(_GROUP.findall(item.value or ""))
        if item.code == "text-outside-report" and groups >= LEAST_GROUPS:
            weight = Severity.ERROR
        found.append(item if weight == item.severity else replace(item, severity=weight))
    return found


def parts_of_the_flight(report: Report, expected: Report) -> list[Diagnostic]:
    """Tell which parts the report has that the flight does not give, and the other way round.

    Parameters
    ----------
    report, expected : Report
        As decoded, and what encoding the flight gives.
    """
    own = {part.letters for part in report.parts}
    theirs = {part.letters for part in expected.parts}
    return [
        *(
            diagnostic(
                "part-not-in-flight",
                f"The report has {letters}, for which the flight has no levels.",
                path=(letters,),
            )
            for letters in sorted(own - theirs)
        ),
        *(
            diagnostic("part-not-given", f"{letters} is not in the report.", path=(letters,))
            for letters in sorted(theirs - own)
        ),
    ]


def sections_as_expected(
    reported: PartContent, expected: PartContent, letters: str, numbers: Sequence[str]
) -> list[Diagnostic]:
    """Tell which sections a part lacks, and which verbatim groups are not those of the flight.

    Parameters
    ----------
    reported, expected : PartContent
    letters : str
        Letters of the part.
    numbers : sequence of str
        Sections that are compared field by field.
    """
    found = [
        diagnostic(
            "section-missing",
            f"{letters} has no section {number}; where there is no such level the code says so "
            "with a group of its own.",
            path=(letters, number),
        )
        for number in numbers
        if expected.section(number) is not None and reported.section(number) is None
    ]
    for number in ("9", "10"):
        own, theirs = _groups(reported, number), _groups(expected, number)
        if own != theirs:
            found.append(
                diagnostic(
                    "groups-not-of-flight",
                    f"Section {number} of {letters} reads {own or 'nothing'!r}; the flight gives "
                    f"{theirs or 'nothing'!r}.",
                    path=(letters, number),
                    value=own,
                    expected=theirs,
                )
            )
    return found


def _groups(content: PartContent, number: str) -> str:
    return " ".join(str(record.get("groups") or "") for record in content.records(number))
