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
    "no-ascent": Rule(
        ERROR,
        "The flight has no rows to take levels from.",
        "Look at the findings about the profile: why was every row removed?",
    ),
    "surface-only": Rule(
        WARNING,
        "The ascent consists of the surface observation alone.",
        "Look at the findings about the profile: why were the other rows removed?",
    ),
    "no-temperature": Rule(
        WARNING,
        "No row of the ascent has a temperature.",
        "The report will hold no significant levels of temperature; check the temperature column.",
    ),
    "no-humidity": Rule(
        NOTE,
        "No row of the ascent has a humidity.",
        "The report will give no dew points; check the humidity column if the sonde measured it.",
    ),
    "no-wind": Rule(
        NOTE,
        "No row of the ascent has a wind.",
        "The report will hold no winds; check the wind columns if the sonde measured them.",
    ),
    "level-thinned": Rule(
        NOTE,
        "Two levels that should both be given have the same coded pressure.",
        "Nothing to do: the code has no room for both, and the level that is kept stands for both.",
    ),
    "tolerance-not-met": Rule(
        WARNING,
        "The coded levels do not rebuild the ascent within the limits at some rows.",
        "Look at these rows: a step between neighbouring rows that share a coded pressure cannot "
        "be reported. If the values are doubtful, declare them missing in flight.json.",
        "WMO-No. 306, 35.3.1.3 and 35.3.2.1",
    ),
    "pressure-ratio-not-met": Rule(
        NOTE,
        "Two neighbouring significant levels lie farther apart than the rule of ratios allows.",
        "Nothing to do: the ascent has no usable row in between.",
        "WMO-No. 306, 35.3.1.3",
    ),
    "fewest-levels-unproved": Rule(
        NOTE,
        "The smallest set of levels could not be found for part of the ascent.",
        "Nothing has to be done; the levels there were chosen by largest deviation.",
    ),
}
