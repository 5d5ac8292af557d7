"""Diagnostics of bulletins: headings, envelopes, splitting, dates and stations."""

from __future__ import annotations

from encoder.diagnostics import Rule, Severity

ERROR, WARNING, NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE
_GTS = "WMO-No. 386"

RULES: dict[str, Rule] = {
    "heading-malformed": Rule(
        WARNING,
        "A line is no abbreviated heading.",
        "Expected T1T2A1A2ii CCCC YYGGgg and, if need be, BBB.",
        f"{_GTS}, Part II, 2.3.2",
    ),
    "heading-time-impossible": Rule(
        WARNING,
        "The figures YYGGgg of a heading are no time.",
        "Compare with the original; the time of the report itself is not affected.",
        f"{_GTS}, Part II, 2.3.2",
    ),
    "heading-indicator-unusual": Rule(
        NOTE,
        "The indicator of a heading is none of RRx, CCx, AAx and Pxx.",
        "It was kept as received.",
        f"{_GTS}, indicator BBB",
    ),
    "heading-content-mismatch": Rule(
        NOTE,
        "A report stands under a heading for another kind of report.",
        "Nothing to do on reading; on sending, put it under the heading of its own kind.",
        f"{_GTS}, Attachment II-5, Table B1",
    ),
    "heading-day-mismatch": Rule(
        WARNING,
        "The day or hour of a report is not that of its heading.",
        "Compare with the original; the report's own figures were used.",
        f"{_GTS}, Part II, 2.3.2",
    ),
    "report-cut": Rule(
        WARNING,
        "A report had no end within the greatest length and was cut there.",
        "Look for a missing equals sign; what follows is listed as unread.",
        "common practice, no source",
    ),
    "bulletin-nil": Rule(
        NOTE,
        "A bulletin says that it holds no report.",
        "Nothing to do.",
        _GTS,
    ),
    "character-not-allowed": Rule(
        ERROR,
        "A character cannot be sent in a bulletin.",
        "Use capital letters, figures and the signs + - / = ( ) . , : ' ? only.",
        f"{_GTS}, Attachment II-2 (from memory)",
    ),
    "bulletin-too-long": Rule(
        WARNING,
        "A bulletin is longer than the classic limit.",
        "Send fewer reports in one bulletin, or let it be cut into segments.",
        f"{_GTS}; 3,800 octets, later 15,000 (from memory)",
    ),
    "report-under-no-heading": Rule(
        ERROR,
        "There is no heading for this kind of report.",
        "Give A1A2 for it: --area AA for all kinds, or --heading TTAAii for this one.",
        f"{_GTS}, Attachment II-5",
    ),
    "batch-length-wrong": Rule(
        ERROR,
        "The length in front of a message does not lead to its end.",
        "Transfer the file again, in binary mode; nothing after this place was read.",
        f"{_GTS}, Attachment II-15",
    ),
    "batch-format-unknown": Rule(
        WARNING,
        "The two characters after a length name no known format.",
        "The message was read; known are 00, 01, AN, BI and FX.",
        f"{_GTS}, Attachment II-15",
    ),
    "file-name-malformed": Rule(
        WARNING,
        "A file name does not follow the general file naming convention.",
        "Expected pflag_productidentifier_C_CCCC_yyyyMMddhhmmss.type.",
        f"{_GTS}, Attachment II-15",
    ),
    "early-not-yet": Rule(
        ERROR,
        "The flight has not passed 100 hPa, so parts A and B are not complete.",
        "Wait until the balloon has passed 100 hPa or has burst.",
        "WMO-No. 306 Volume I.1, 35.1",
    ),
    "released-outside-window": Rule(
        WARNING,
        "The balloon was released outside the window before the nominal time.",
        "Check release_time and nominal_time; the report is sent all the same.",
        "WMO-No. 544 (from memory)",
    ),
    "correction-changes-nothing": Rule(
        WARNING,
        "The corrected report says the same as the earlier one.",
        "Do not send it.",
        _GTS,
    ),
    "correction-part-new": Rule(
        WARNING,
        "A part was not in the earlier report.",
        "It goes out under its heading without CCx. If it was sent before, give its text too.",
        f"{_GTS}, indicator BBB",
    ),
    "correction-of-nil": Rule(
        WARNING,
        "A report that comes after NIL is a late one, not a corrected one.",
        "Send it without --correct, with --indicator RRA (the next RRx not used yet).",
        f"{_GTS}, indicator BBB (from memory)",
    ),
    "correction-of-another": Rule(
        ERROR,
        "The corrected report is of another sounding than the earlier one.",
        "Give the earlier report of the same station and nominal time.",
        _GTS,
    ),
    "date-unknown": Rule(
        ERROR,
        "Year and month of a report are unknown.",
        "Give the date (for example --date 2031-07), or name the file after the general file "
        "naming convention.",
    ),
    "date-impossible": Rule(
        ERROR,
        "The month has no such day, and no month nearby fits.",
        "Check the day of the report against the date given.",
    ),
    "date-sources-disagree": Rule(
        WARNING,
        "Two sources for the date of a report disagree.",
        "The first one was used, in the order: given by you, file name, heading, neighbour.",
    ),
    "launch-far-from-nominal": Rule(
        WARNING,
        "The time of release is far from the nominal time.",
        "Check the group 8GGgg.",
        "within 12 hours by definition; -90 to +59 minutes is common practice, no source",
    ),
    "station-not-in-catalogue": Rule(
        WARNING,
        "The station catalogue has no such station at that date.",
        "Add it with `aerogram stations add FILE` (a list or CSV that has it), or give "
        "`--stations FILE` for one run.",
    ),
    "station-list-not-known": Rule(
        ERROR,
        "The file is neither a fixed-width station list nor a CSV with a header and lines.",
        "Expected the columns of the IGRA station list, or a CSV with wmo_index, name, latitude, "
        "longitude and elevation.",
    ),
    "station-line-malformed": Rule(
        ERROR,
        "A line of a station list cannot be read.",
        "Correct the line; it was left out.",
    ),
    "station-listed-twice": Rule(
        WARNING,
        "A station list says two things of one station.",
        "The line further down holds; take the other one out, or give both their periods (from, "
        "to).",
    ),
    "station-line-skipped": Rule(
        NOTE,
        "Lines of a station list are no land stations with a WMO number.",
        "Nothing to do.",
    ),
    "station-column-missing": Rule(
        ERROR,
        "A station list in CSV lacks a column.",
        "Add the column to the header; names are in stations.schema.json.",
    ),
    "station-column-unknown": Rule(
        NOTE,
        "A station list in CSV has a column with another name.",
        "It was not read; names are in stations.schema.json.",
    ),
    "station-overlap": Rule(
        NOTE,
        "Two entries of one station overlap in time and differ.",
        "The one added last holds from its first day; check both.",
    ),
}
