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
}
