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
    "part-not-given": Rule(
        NOTE,
        "A part that the flight would give is not in the report.",
        "Verify it too before it is sent.",
    ),
}
