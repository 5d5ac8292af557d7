"""Diagnostics of the tolerant decoder: repairs, and checks of one sounding as a whole."""

from __future__ import annotations

from encoder.diagnostics import Rule, Severity

_LOOK = "Compare with the original message; see the proposals, or correct the group by hand."

RULES: dict[str, Rule] = {
    "repaired": Rule(
        Severity.WARNING,
        "Damaged characters were read in another way.",
        "Compare with the original message; decode with --repair none to undo it.",
    ),
    "repair-proposed": Rule(
        Severity.NOTE,
        "Damaged characters may stand for something else.",
        "It would be read so with --repair.",
    ),
    "wind-unit-unknown": Rule(
        Severity.ERROR,
        "The unit of the winds is not known.",
        "The speeds are missing; give the message with a readable time group, and an old one with "
        "its date (--date).",
        "WMO-No. 306 Volume I.1, symbolic letters YY",
    ),
    "wind-unit-doubtful": Rule(
        Severity.WARNING,
        "The parts give the same winds in different units.",
        "One of the day figures is wrong by 50; compare with other reports of the station.",
        "WMO-No. 306 Volume I.1, symbolic letters YY",
    ),
    "thickness-misfit": Rule(
        Severity.WARNING,
        "The heights and the temperatures of a layer contradict each other.",
        _LOOK,
        "hypsometric equation; limits are common practice, no source",
    ),
    "temperature-misfit": Rule(
        Severity.WARNING,
        "A temperature does not lie on the line between its neighbours.",
        _LOOK,
        "WMO-No. 306 Volume I.1, 35.3.1: 1 K below 300 hPa, 2 K above; margin is common "
        "practice, no source",
    ),
    "humidity-misfit": Rule(
        Severity.WARNING,
        "A humidity does not lie on the line between its neighbours.",
        _LOOK,
        "WMO-No. 306 Volume I.1, 35.3.1: 15 %; margin is common practice, no source",
    ),
    "value-implausible": Rule(
        Severity.WARNING,
        "A value is beyond what the air ever reaches at its level.",
        _LOOK,
        "limits from memory, no source",
    ),
    "temperature-jump": Rule(
        Severity.WARNING,
        "The temperature changes more from one level to the next than it does in the air.",
        _LOOK,
        "dry adiabat, and the strongest inversions from memory; common practice, no source",
    ),
    "wind-jump": Rule(
        Severity.WARNING,
        "A wind is far from those below and above.",
        _LOOK,
        "common practice, no source",
    ),
    "part-apart": Rule(
        Severity.WARNING,
        "A part stands alone beside parts of nearly the same name that lack it.",
        "One figure of its time or station may be wrong; compare with the original message.",
        "common practice, no source",
    ),
    "wind-misfit": Rule(
        Severity.WARNING,
        "A wind does not lie between its neighbours.",
        _LOOK,
        "WMO-No. 306 Volume I.1, 32.3.1: 10 degrees and 5 m/s; margin is common practice, "
        "no source",
    ),
    "lapse-rate-impossible": Rule(
        Severity.WARNING,
        "The temperature falls faster with height than dry air can.",
        _LOOK,
        "dry adiabat; margin is common practice, no source",
    ),
    "copy-dropped": Rule(
        Severity.NOTE,
        "The same part was received again, word for word.",
        "Nothing to do; it is a retransmission.",
        "WMO-No. 386",
    ),
    "copy-replaced": Rule(
        Severity.NOTE,
        "A corrected part replaces an earlier one.",
        "Nothing to do; the earlier part stays in the text.",
        "WMO-No. 386",
    ),
    "parts-times-differ": Rule(
        Severity.WARNING,
        "Parts with one release time give different nominal times.",
        "They were put together; check the time groups.",
        "common practice, no source",
    ),
}
