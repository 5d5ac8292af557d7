"""Diagnostics of verification: does the report say what the balloon measured."""

from __future__ import annotations

from encoder.diagnostics import Rule, Severity

ERROR, WARNING, NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE

RULES: dict[str, Rule] = {
    "report-of-other-flight": Rule(
        ERROR,
        "The report belongs to another station or time than the flight.",
        "Give the report of this flight.",
    ),
    "tolerance-broken": Rule(
        ERROR,
        "Between the reported levels the flight departs from the straight line too far.",
        "Encode the flight again; a significant level is missing or wrong here.",
        "WMO-No. 306 Volume I.1, 35.3.1.3 and 35.3.2.1",
    ),
    "tolerance-not-reachable": Rule(
        WARNING,
        "No choice of levels keeps this stretch within the limits on the steps of the code.",
        "Look at these rows of the flight; nothing in the report can be better.",
        "WMO-No. 306 Volume I.1, 35.3.1.3 and 35.3.2.1",
    ),
    "curve-not-covered": Rule(
        ERROR,
        "The flight has values where the report gives a reader none.",
        "Check the first and last significant levels and the limits of missing layers.",
        "WMO-No. 306 Volume I.1, 35.3.1.2 and 35.3.1.6",
    ),
    "mandatory-level-missing": Rule(
        WARNING,
        "A level the regulations ask for is not in the report.",
        "Encode the flight again, or confirm that the level was left out on purpose.",
        "WMO-No. 306 Volume I.1, 35.3.1.2",
    ),
    "level-not-in-flight": Rule(
        ERROR,
        "A reported value is not what the flight has at that pressure.",
        "Correct the group; compare with the flight at that pressure.",
    ),
    "curve-invented": Rule(
        ERROR,
        "The report gives a reader values in a layer where the flight has none.",
        "Show the layer without data by its limits and a level between them.",
        "WMO-No. 306 Volume I.1, 35.3.1.6 and 35.3.2.2",
    ),
    "value-left-out": Rule(
        ERROR,
        "A value is reported missing that the flight has.",
        "Correct the group; encode the flight again.",
    ),
    "part-not-in-flight": Rule(
        ERROR,
        "The report has a part for which the flight has no levels.",
        "Take the part out; it cannot come from this flight.",
    ),
    "section-missing": Rule(
        ERROR,
        "A section that the part must have is not there.",
        "Encode the flight again; something was cut out.",
        "WMO-No. 306 Volume I.1, 35.2",
    ),
    "groups-not-of-flight": Rule(
        WARNING,
        "Regional or national groups are not those the flight gives.",
        "Confirm them by hand; they cannot be verified against the flight.",
    ),
    "part-not-given": Rule(
        NOTE,
        "A part that the flight would give is not in the report.",
        "Verify it too before it is sent.",
    ),
}
