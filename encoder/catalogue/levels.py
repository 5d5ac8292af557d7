"""Diagnostics of the stage: levels."""

from __future__ import annotations

from encoder.diagnostics import Rule, Severity

ERROR, WARNING, NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE

RULES: dict[str, Rule] = {
    "tropopause-not-searched": Rule(
        NOTE,
        "Too few rows have both temperature and height to look for a tropopause.",
        "The report says that no tropopause was found; check the temperature and height columns.",
        "WMO-No. 182, International Meteorological Vocabulary, tropopause",
    ),
    "tropopause-unproven": Rule(
        WARNING,
        "A level looks like a tropopause but missing data leave it unproven.",
        "Nothing to do if the balloon burst there; otherwise look at the missing temperatures.",
        "WMO-No. 182, International Meteorological Vocabulary, tropopause",
    ),
}
