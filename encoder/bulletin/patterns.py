"""The patterns of the stream splitter, on bytes and of bounded length.

No pattern looks further than :data:`LOOK_AHEAD` bytes: a decision at one place needs only the bytes
that follow within that length, so the size of the blocks in which a stream arrives cannot matter.
"""

from __future__ import annotations

import re

from encoder.bulletin.openings import FAMILIES, PARTS, PIBAL

LOOK_AHEAD = 512
"""Bytes that must be known after a place before anything is decided there."""


def _either_case(word: str) -> bytes:
    return "".join(
        f"[{letter.upper()}{letter.lower()}]" if letter.isalpha() else re.escape(letter)
        for letter in word
    ).encode("ascii")


def _any_of(words: list[str]) -> bytes:
    return b"(?:" + b"|".join(_either_case(word) for word in words) + b")"


_BLANK = rb"[\x00-\x02\x04-\x20\x7f>]"
_FAMILY = _any_of(list(FAMILIES))
_PART = "(?:{})".format("|".join([*PARTS, *(part.lower() for part in PARTS)])).encode("ascii")
_SEAGOING = _any_of([item.letters for item in FAMILIES.values() if item.call_sign])
_WORD_ENDS = rb"(?![A-Za-z0-9])"
_OPENING = _FAMILY + _PART
# YYGG and one more: day 1 to 31, 50 added for knots; hour 0 to 23
_TIME = rb"(?:0[1-9]|[12][0-9]|3[01]|5[1-9]|[67][0-9]|8[01])(?:[01][0-9]|2[0-3])[0-9/]"
_CALL_SIGN = rb"[A-Za-z0-9]{3,9}" + _BLANK + rb"{1,40}"
_CORRECTED = rb"(?:" + _BLANK + rb"{1,40}" + _either_case("COR") + rb")?"
HEADING_BYTES = (
    rb"[A-Za-z]{4}[0-9]{1,2}[ \t]{1,4}[A-Za-z]{4}[ \t]{1,4}[0-9]{6}[Zz]?"
    rb"(?:[ \t]{1,4}(?!" + _either_case("NIL") + rb")[A-Za-z]{3}(?![A-Za-z0-9]))?(?![A-Za-z0-9])"
)
# a product line under a heading: four to six letters and figures alone on a line
_PRODUCT_LINE = (
    rb"(?:[ \t]{0,4}\r{0,3}\n(?!" + _OPENING + rb")[A-Z]{3}[A-Z0-9]{1,3}[ \t]{0,4}(?=\r{0,3}\n))?"
)
_CLIMAT = (
    _either_case("CLIMAT")
    + _BLANK
    + rb"{1,8}"
    + _either_case("TEMP")
    + rb"(?:"
    + _BLANK
    + rb"{1,8}"
    + _either_case("SHIP")
    + rb")?(?="
    + _BLANK
    + rb"{1,8}[0-9/]{2})"
)
_PIBAL = (
    _either_case(PIBAL)
    + _BLANK
    + rb"{1,8}(?=(?:[A-Za-z0-9]{1,9}"
    + _BLANK
    + rb"{1,8}){0,4}(?:[0-9](?:[0-9]{4}|[0-9]{2}/[0-9]{2}|////)(?![A-Za-z0-9/])|"
    + _either_case("NIL")
    + rb"(?![A-Za-z0-9])))"
)
"""Pilot-balloon report of former times: its word, some words, and a wind or NIL."""
_TAPE_START = _either_case("ZCZC") + rb"(?:[ \t]{1,4}[A-Za-z]{0,4}[0-9]{3,5})?" + _WORD_ENDS
_TAPE_END = _either_case("NNNN") + _WORD_ENDS
_FORMAT = rb"(?:[0-9]{2}|" + _any_of(["AN", "BI", "FX"]) + rb"|\x00\x00)"
_BATCH = rb"[0-9]{8}" + _FORMAT
_PADDING = rb"[\x00\t\r\n >]"
_FLAG_FIELD = rb"####[0-9]{9,20}####"
_CHANNEL = rb"[0-9]{3,5}"
_BYTE_ORDER_MARK = rb"\xef\xbb\xbf"
_OTHER_KINDS = _any_of(["AAXX", "BBXX", "OOXX", "METAR", "SPECI", "TAF", "CREX"])
"""Words that surface, aerodrome and other reports begin with (WMO-No. 306 Volume I.1)."""

SEPARATORS = re.compile(rb"[\x00\x02\x04-\x20\x7f=>]*")
"""Blanks, line ends, padding and stray terminators: framing wherever they stand outside reports."""

TRAILING = bytes([0, 1, 2, *range(4, 0x21), 0x7F, ord(">")])
"""Bytes that are taken off the end of a report or of unread text."""

START = re.compile(
    rb"(?P<control>[\x01\x03])"
    rb"|(?P<heading>" + HEADING_BYTES + rb")" + _PRODUCT_LINE + rb""
    rb"|(?P<opening>" + _OPENING + rb")(?![A-Za-z])"
    rb"|(?P<tape>" + _TAPE_START + rb"|" + _TAPE_END + rb")"
    rb"|(?P<batch>" + _BATCH + rb"(?=[\r\n\x01]|[A-Za-z]{4}[0-9]{1,2} |" + _BATCH + rb"|\Z)"
    rb"|" + _FLAG_FIELD + rb"|" + _BYTE_ORDER_MARK + rb")"
    rb"|(?P<channel>" + _CHANNEL + rb"(?=[ \t\r\n]{1,8}" + HEADING_BYTES + rb"))"
    rb"|(?P<nil>" + _either_case("NIL") + rb"(?=[\x00-\x20=.]|\Z))"
    rb"|(?P<monthly>" + _CLIMAT + rb")"
    rb"|(?P<pibal>" + _PIBAL + rb")"
    rb"|(?P<number>[0-9]{5}(?=[ \t\r\n]{1,8}"
    + _OPENING
    + _CORRECTED
    + rb"[ \t\r\n]{1,8}"
    + _TIME
    + rb"))"
    rb"|(?P<binary>BUFR|GRIB)"
)
"""What may stand at the first byte that is no separator."""

_STARTING_LINE = rb"\x01[ \t\r\n]{0,8}(?:[0-9]{3,5}(?![A-Za-z0-9/]))?"
STARTING_LINE = re.compile(_STARTING_LINE)
"""SOH and the channel number of the starting line."""

COMMON_FRAMING = re.compile(
    rb"(?:[\x00\x02\x04-\x20\x7f=>]++|(?P<control>\x03|"
    + _STARTING_LINE
    + rb")|(?P<heading>"
    + HEADING_BYTES
    + rb")"
    + _PRODUCT_LINE
    + rb"){0,12}"
)
"""A run of the framing that nearly all traffic has; nothing in it that START would not take
in the same way."""

COMMON_GROUPS = b"0123456789/ \r\n"
"""All that the groups of most reports are written with."""

OUTSIDE = re.compile(
    rb"([AaBbCcDdZz\x01\x03\n])"
    rb"(?:\1(?<=" + _FAMILY + rb"..)(?<![A-Za-z]....)(?![A-Za-z])"
    rb"|(?<=B)UFR...[\x02-\x04]"
    rb"|(?<=[\x01\x03Zz\n])(?:(?<=[\x01\x03])"
    rb"|(?<=\n)(?=[\r\n\t >\x00]{0,16}(?:"
    + HEADING_BYTES
    + rb"|"
    + _TAPE_END
    + rb"|"
    + _FLAG_FIELD
    + rb"|"
    + _CLIMAT
    + rb"|"
    + _PIBAL
    + rb"|"
    + _CHANNEL
    + rb"[ \t\r\n]{1,8}"
    + HEADING_BYTES
    + rb"))"
    rb"|(?<=[Zz])[Cc][Zz][Cc](?![A-Za-z0-9])(?<![A-Za-z0-9]....)))",
    re.DOTALL,
)
"""What ends a run of unread text; an opening matches at its third letter. Binary messages within
a line have the edition in their eighth octet."""

INSIDE = re.compile(
    rb"[=\x01\x03\nA-Za-z]"
    rb"(?:(?<=[=\x01\x03])"
    rb"|(?<=\n)[\x00\r\t >]{0,8}\n(?=[\x00\r\n\t >]{0,16}(?!"
    + _any_of(["NIL", "COR"])
    + rb")[A-Za-z<*$&_+-])"
    rb"|(?<=\n)(?=[\x00\r\t >]{0,8}(?:####[0-9]{9}|"
    + _OTHER_KINDS
    + rb"(?![A-Za-z0-9/])|"
    + _PIBAL
    + rb"))"
    rb"|(?<=[A-Za-z])(?<![A-Za-z].)"
    rb"(?:[A-Za-z]{3}[0-9]{1,2}[ \t]{1,4}[A-Za-z]{4}[ \t]{1,4}[0-9]{6}"
    rb"|(?<=[Zz])[Cc][Zz][Cc](?![A-Za-z0-9])"
    rb"|(?<=[Nn])[Nn]{3}(?![A-Za-z0-9])"
    rb"|(?<=[Cc])[Ll][Ii][Mm][Aa][Tt]" + _BLANK + rb"{1,8}[Tt][Ee][Mm][Pp]"
    rb"|[A-Za-z]" + _PART + rb"(?<=" + _OPENING + rb")(?![A-Za-z])))",
    re.DOTALL,
)
"""What may end a report from within."""

SURE_OPENING = re.compile(
    _OPENING
    + _CORRECTED
    + _BLANK
    + rb"{0,40}"
    + _TIME
    + rb"|"
    + _SEAGOING
    + _PART
    + _BLANK
    + rb"{1,40}"
    rb"" + _CALL_SIGN + _TIME
)
"""Letters followed by a plausible time group: a report begins here, whatever stands before."""

LIKELY_OPENING = re.compile(
    _OPENING
    + _BLANK
    + rb"{0,40}(?:(?![0-9]{2}"
    + _BLANK
    + rb"{0,8}"
    + _any_of(["UTC", "GMT"])
    + rb"(?![A-Za-z0-9]))[A-Za-z]{0,3}[0-9/]{2}"
    rb"|(?=[A-Za-z]{0,3}[0-9/][A-Za-z]{0,3}[0-9/])[A-Za-z0-9/]{5}(?![A-Za-z0-9/])"
    rb"|[QWERTYUIOPqwertyuiop]{5}(?![A-Za-z0-9/])|"
    + _any_of(["NIL", "COR"])
    + rb"|=|\Z)|"
    + _SEAGOING
    + _PART
    + _BLANK
    + rb"{1,40}"
    + _CALL_SIGN
    + rb"[0-9/]"
)
"""Letters followed by something like groups, figures damaged or shifted to the letters of the same
keys (teleprinter): enough where no report is open."""

OPENING_IN_LINE = re.compile(
    _OPENING
    + _BLANK
    + rb"{0,40}(?=[A-Za-z]{0,3}[0-9/][A-Za-z]{0,3}[0-9/])[A-Za-z0-9/]{5}(?:"
    + _BLANK
    + rb"{1,40}[0-9/]{5}){2}(?![A-Za-z0-9/])"
)
"""What it takes within a line of plain words, which may speak of ``TTAA 12 UTC`` or a station:
something like a time group, and two whole groups after it."""

LINE_BEGINS = re.compile(rb"(?:\A|[\r\n=\x01\x03])[ \t>\x00]{0,16}\Z")
"""To be matched on the few bytes before a place: a line begins there, or a terminator stands."""

FREE_TEXT = re.compile(rb"(?<![0-9A-Za-z/])6([1-9])6\1(?:6)(?![0-9A-Za-z/])")
"""A marker of national groups, after which any words may stand."""

LEADING_NUMBER = re.compile(rb"(?<![0-9A-Za-z/])([0-9]{5})[ \t\r\n]{1,8}\Z")
"""A station number in front of the letters of the next report."""

LEADING_FRAMING = re.compile(
    rb"(?:(?<![0-9A-Za-z/])00[0-9]{6}" + _FORMAT + _PADDING + rb"{0,8}"
    rb"(?:[0-9]{3,5}" + _PADDING + rb"{1,8})?"
    rb"|[\r\n][\x00\t >]{0,8}[0-9]{3}" + _PADDING + rb"{1,8})\Z"
)
"""Batch prefix or channel number at the end of a report that has no terminator."""

STATION_AFTER_TIME = re.compile(
    _OPENING + _CORRECTED + rb"[ \t\r\n]{1,8}[0-9/]{5}[ \t\r\n]{1,8}([0-9]{5})"
)
"""Letters, time group, station number."""
