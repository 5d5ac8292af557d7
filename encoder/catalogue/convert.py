"""Diagnostics of the bulk conversion of historical records."""

from __future__ import annotations

from encoder.diagnostics import Rule, Severity

ERROR, WARNING, NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE
_IGRA = "IGRA v2.2 Format Description, 19 January 2023"

RULES: dict[str, Rule] = {
    "igra-line-malformed": Rule(
        ERROR,
        "A line of a sounding is not of the IGRA layout.",
        "Mend the sounding in the quarantine file and convert that file; all its lines are there.",
        _IGRA,
    ),
    "igra-outside-sounding": Rule(
        ERROR,
        "Text in an IGRA file belongs to no sounding.",
        "Look at it in the quarantine file; a sounding begins with a line that begins with #.",
        _IGRA,
    ),
    "igra-level-count": Rule(
        WARNING,
        "A header announces another number of levels than follow.",
        "Look whether the source was cut off; the levels that are there were taken, and the "
        "announced number is kept.",
        _IGRA,
    ),
    "igra-lines-mixed": Rule(
        NOTE,
        "The lines of a sounding end in several ways.",
        "Nothing needs to be done; written back they all end in the usual way.",
    ),
    "convert-source-unreadable": Rule(
        ERROR,
        "A source cannot be read.",
        "Mend the file or its permissions and convert again; what is done is not done twice.",
    ),
    "convert-folder-again": Rule(
        NOTE, "A link leads back to a folder that was read already.", "Nothing needs to be done."
    ),
    "convert-member-link": Rule(
        NOTE,
        "Members of a container are links or devices and hold nothing of their own.",
        "Nothing needs to be done where the files they lead to are in the container too.",
    ),
    "convert-kind-unknown": Rule(
        WARNING,
        "A file is none of the kinds that can be converted.",
        "Name its kind with --from, or give a column map with --map for a table.",
    ),
    "convert-source-changed": Rule(
        ERROR,
        "A source changed while it was read.",
        "Convert again when nothing writes to it any more.",
    ),
    "convert-source-damaged": Rule(
        ERROR,
        "A source ends or breaks off where more should come.",
        "Get the file anew; what came before the damage is not taken either.",
    ),
    "convert-unit-failed": Rule(
        ERROR,
        "The program failed over a source or a station; it was refused whole.",
        "This is a fault of the program: please report it with the line of the message. The same "
        "command tries what failed again.",
    ),
    "convert-memory-short": Rule(
        ERROR,
        "There was not enough memory for a source or a station; it was refused whole.",
        "Give the same command again with --jobs 1, or on a machine with more memory: it tries "
        "what failed again.",
    ),
    "convert-worker-lost": Rule(
        ERROR,
        "The process that worked on a source or a station was lost; it was refused whole.",
        "Give the same command again with --jobs 1, or with more memory: it tries what failed "
        "again. A process is lost for want of memory or when somebody ends it.",
    ),
    "convert-own-results": Rule(
        NOTE,
        "The folder for results lies inside a source and is not read.",
        "Nothing needs to be done. To read its files, copy them elsewhere.",
    ),
    "convert-other-station": Rule(
        ERROR,
        "A sounding in the file of one station names another.",
        "Convert the quarantine file if the name is right; a file of several stations is read "
        "with --from igra-many.",
    ),
    "convert-report-unidentified": Rule(
        ERROR,
        "A report names no station, day or hour that can be read.",
        "Mend the report in the quarantine file and convert that file.",
    ),
    "convert-report-other": Rule(
        NOTE,
        "A report is of a form without levels of one sounding.",
        "Nothing needs to be done; it is in the quarantine file.",
    ),
    "convert-sounding-empty": Rule(
        ERROR,
        "Nothing of a sounding could be read.",
        "Mend the parts in the quarantine file and convert that file.",
    ),
    "convert-text-unread": Rule(
        ERROR,
        "Text in the traffic was not read.",
        "Look at it in the quarantine file; it may be a report whose opening is damaged.",
    ),
    "convert-position-unknown": Rule(
        ERROR,
        "The position of a station is not known.",
        "Add the station to the catalogue (--stations FILE) and convert the quarantine file.",
    ),
    "convert-file-differs": Rule(
        ERROR,
        "A station file read back is not what was written.",
        "Convert again; if it happens again the disk or memory is at fault.",
    ),
    "convert-does-not-add-up": Rule(
        ERROR,
        "What came in is not what was written and refused.",
        "This is a fault of the program; keep the folder and report it.",
    ),
    "convert-member-refused": Rule(
        ERROR,
        "A message or sounding of a source cannot be taken.",
        "Mend it in the quarantine file and convert that file.",
    ),
    "convert-quarantine-malformed": Rule(
        ERROR,
        "A line of a quarantine file is not one of its records.",
        "Mend the line: a JSON object with kind and data (schemas/quarantine.schema.json).",
    ),
    "column-map-malformed": Rule(
        ERROR,
        "A column map is not of its schema or leaves something out.",
        "Correct it; schemas/column_map.schema.json lists what it may say.",
    ),
    "table-column-missing": Rule(
        ERROR,
        "A column of the map is not in the header of the table.",
        "Correct the title in the map, or convert such tables with a map of their own.",
    ),
    "table-cell-malformed": Rule(
        ERROR,
        "A cell is not what the column map says.",
        "Mend the cell in the quarantine file, or name the figure for missing under null.",
    ),
}
