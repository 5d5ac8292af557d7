"""Diagnostics of BUFR: reading, writing, agreement with the flight, and notification."""

from __future__ import annotations

from encoder.diagnostics import Rule, Severity

ERROR, WARNING, NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE
_I2 = "WMO-No. 306 Volume I.2"
_TABLE_B = f"{_I2}, BUFR Table B"

RULES: dict[str, Rule] = {
    "bufr-none": Rule(
        ERROR,
        "The file holds no complete BUFR message.",
        "Give a file of BUFR messages; each begins with BUFR and ends with 7777.",
        f"{_I2}, FM 94 BUFR",
    ),
    "bufr-text-beside": Rule(
        WARNING,
        "Coded reports stand beside the BUFR messages and were not read.",
        "Decode the file by its name: text and messages of a file are both read; or look at the "
        "reports with aerogram split.",
    ),
    "bufr-damaged": Rule(
        ERROR,
        "A place that begins like a BUFR message is none; it was skipped.",
        "Get the file again from its source; the other messages were read.",
        f"{_I2}, FM 94 BUFR",
    ),
    "bufr-not-decodable": Rule(
        ERROR,
        "The frame of the message is sound but its data cannot be decoded.",
        "Get the message again; if it stays so, ask its centre which tables it was written with.",
        f"{_I2}, FM 94 BUFR",
    ),
    "bufr-no-sounding": Rule(
        ERROR,
        "The message is no upper-air sounding.",
        "Give soundings of the TEMP and PILOT families; other data are not read.",
        f"{_I2}, BUFR Table A and Common Code Table C-13",
    ),
    "bufr-time-does-not-exist": Rule(
        ERROR,
        "The date or time of the sounding does not exist.",
        "The time counts as missing; take it from the bulletin heading or the source.",
    ),
    "bufr-level-without-place": Rule(
        WARNING,
        "Levels have neither pressure nor height.",
        "They cannot be used; look at the plain values (decode --json) if they matter.",
    ),
    "bufr-variable-wind": Rule(
        NOTE,
        "A direction of 0 with a speed means light and variable: there is no direction.",
        "Nothing to do; the direction is shown as missing.",
        f"{_TABLE_B}, 0 11 001",
    ),
    "bufr-shear-without-level": Rule(
        WARNING,
        "Wind shear is given for a level that is not in the message.",
        "The shear is left out; compare with the flight or the text report.",
    ),
    "bufr-element-unknown": Rule(
        WARNING,
        "The message has elements that are not known here; their values are kept as they are.",
        "Look at them with aerogram explain; the other elements were read.",
        _TABLE_B,
    ),
    "bufr-associated-fields": Rule(
        NOTE,
        "The levels carry associated fields (quality or correction marks), which are not used.",
        "Look at them with aerogram explain; code table 0 31 021 tells what they mean.",
        f"{_I2}, BUFR Table C, operator 2 04",
    ),
    "bufr-reformatted": Rule(
        WARNING,
        "The message was made from an alphanumeric report, not from the flight.",
        "Prefer the native message of the station if there is one; positions are not known.",
        f"{_I2}, B/C25",
    ),
    "bufr-nil": Rule(
        NOTE,
        "The message says that there is no report.",
        "Nothing to do.",
        f"{_I2}, B/C25",
    ),
    "bufr-not-representable": Rule(
        ERROR,
        "A value does not fit into its BUFR element; nothing was written.",
        "Correct the flight, or remove the value; BUFR has no room for it.",
        _TABLE_B,
    ),
    "bufr-level-without-coordinate": Rule(
        ERROR,
        "A level has no pressure (or height, where height orders the levels).",
        "Remove the level or give it its pressure; nothing was written.",
        f"{_I2}, B/C25",
    ),
    "bufr-too-many-levels": Rule(
        ERROR,
        "There are more levels than one message can count.",
        "Write only the selected levels, or thin out the rows.",
        f"{_I2}, BUFR Table B, 0 31 001 and 0 31 002",
    ),
    "bufr-too-large": Rule(
        ERROR,
        "The message is larger than a bulletin may be.",
        "Write only the selected levels, or thin out the rows.",
        "WMO-No. 386, limit of binary bulletins",
    ),
    "bufr-centre-missing": Rule(
        WARNING,
        "The originating centre is not given; the message says 65535, not known.",
        "Give reporting.centre in flight.json or --centre (common code table C-11).",
        "Common Code Table C-11",
    ),
    "bufr-identifier-missing": Rule(
        ERROR,
        "The message would not say which station, ship or aircraft made the sounding.",
        "Give station.wmo_index, station.wigos_id or station.call_sign in flight.json.",
        f"{_I2}, B/C25.4",
    ),
    "bufr-template-unfit": Rule(
        ERROR,
        "The template does not belong to what the sounding is made from.",
        "Leave the template out, or correct station.platform in flight.json.",
        "Common Code Table C-13",
    ),
    "bufr-ground-height-assumed": Rule(
        NOTE,
        "The height of the ground is not given; the height of the release point stands for it.",
        "Give station.ground_elevation_m if it differs.",
        f"{_I2}, B/C25",
    ),
    "bufr-positions-from-wind": Rule(
        NOTE,
        "No positions were measured; the displacements are integrated from the wind.",
        "Nothing to do; measured positions are better if the system has them.",
        f"{_I2}, B/C25",
    ),
    "bufr-first-message-not-due": Rule(
        ERROR,
        "The flight has not passed 100 hPa: there is no first message, only the one at the end.",
        "Write the message of the whole flight.",
        f"{_I2}, B/C25.1",
    ),
    "bufr-no-descent": Rule(
        ERROR,
        "The flight has no rows after the burst.",
        "Give a profile that goes on after the burst, or write the ascent.",
        f"{_I2}, BUFR Table D, 3 09 056",
    ),
    "bufr-no-wind": Rule(
        ERROR,
        "The flight has no wind, so there is no report of upper wind.",
        "Write the report of temperature and humidity (template 309057 or 309052).",
        f"{_I2}, B/C20",
    ),
    "bufr-cloud-base-class": Rule(
        NOTE,
        "The height of the cloud base is known by its class only; the lower limit was written.",
        "Nothing to do.",
        "WMO-No. 306 Volume I.1, code table 1600; the choice of the lower limit is common "
        "practice, no source",
    ),
    "bufr-from-text": Rule(
        NOTE,
        "The message was made from an alphanumeric report: no times, no positions.",
        "Send the message made from the flight if the flight is there.",
        f"{_I2}, B/C25",
    ),
    "bufr-lone-part": Rule(
        ERROR,
        "A lone part of a report is not turned into a BUFR message of its own.",
        "Give all parts of the sounding, or use --force for a private purpose.",
        "Commission for Basic Systems, confirmed June 2015: one ascent, one message",
    ),
    "bufr-not-a-flight": Rule(
        ERROR,
        "The sounding cannot be turned into a flight with a report of its own.",
        "Give a sounding with a surface level, temperatures or winds, and a date.",
    ),
    "bufr-rows-left-out": Rule(
        NOTE,
        "Levels that repeat a pressure or go back in time were left out of the rows.",
        "Nothing to do; the message rounds pressure, so that high levels may coincide.",
        f"{_TABLE_B}, 0 07 004",
    ),
    "bufr-halfway": Rule(
        NOTE,
        "Values of the message lie halfway between two figures of the text made from it.",
        "Nothing to do; made from the flight, such a figure may differ by one.",
        "WMO-No. 306 does not say where halves go; away from zero is common practice, the use of "
        "the rows beside them our own",
    ),
    "bufr-unlike-flight": Rule(
        ERROR,
        "A value of the message is not what the flight has, within the steps of both.",
        "Encode the flight again; compare the rows.",
        f"{_TABLE_B}",
    ),
    "bufr-fact-one-sided": Rule(
        WARNING,
        "Only one of both says something about the sounding; the other leaves it out.",
        "Add it to flight.json, or encode the flight again, so that both say the same.",
        f"{_I2}, B/C25",
    ),
    "bufr-flags-unlike-flight": Rule(
        WARNING,
        "Levels are flagged otherwise than they are selected from the flight.",
        "Another way of selection may explain it; if not, encode the flight again.",
        f"{_TABLE_B}, 0 08 042",
    ),
    "bufr-unlike-text": Rule(
        ERROR,
        "The message and the text report disagree beyond the steps of both.",
        "Encode both from one flight; they must say the same.",
        f"{_I2}, B/C25, and Volume I.1, FM 35",
    ),
    "bufr-text-not-compared": Rule(
        NOTE,
        "Message and text have no levels in common that could be compared.",
        "Nothing to do; each was compared with the flight.",
    ),
    "bufr-level-missing": Rule(
        ERROR,
        "A level that the flight or the text report has is not in the message.",
        "Encode the flight again.",
        f"{_I2}, B/C25.7 and B/C25.8",
    ),
    "bufr-heading-by-content": Rule(
        WARNING,
        "The heading of the bulletin does not fit its content.",
        "Correct the heading; a reader goes by the content.",
        "WMO-No. 386 Attachment II-5, tables C6 and C3",
    ),
    "month-of-another": Rule(
        WARNING,
        "Soundings of another month, or without a day of the month, were left out of the means.",
        "Give the files of the month asked for; a date in a file name counts.",
    ),
    "month-not-given": Rule(
        NOTE,
        "Nothing names the month of the reports; they count as of the month asked for.",
        "Name the files by their month (for example 2031-06), so that it can be compared.",
    ),
    "notification-not-valid": Rule(
        ERROR,
        "The notification cannot be made from what was given.",
        "Correct the named value.",
        "Manual on WIS (WMO-No. 1060) Volume II, WIS2 notification message, number from memory",
    ),
}
