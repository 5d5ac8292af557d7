"""Abbreviated headings T1T2A1A2ii CCCC YYGGgg BBB: one declaration, read both ways."""

from __future__ import annotations

import re
from dataclasses import dataclass

from encoder.bulletin.indicator import explain_indicator
from encoder.bulletin.openings import form_of, part_of
from encoder.diagnostics import Diagnostic, Result, diagnostic

SOURCE = "WMO-No. 386, Part II, 2.3.2 and Attachment II-5"


@dataclass(frozen=True, slots=True)
class DataType:
    """One designator T1T2.

    Attributes
    ----------
    letters : str
        T1T2.
    title : str
    holds : tuple of str
        Openings (MiMiMjMj, or the words of a monthly form) that belong under it.
    source : str
    """

    letters: str
    title: str
    holds: tuple[str, ...]
    source: str = "WMO-No. 386, Attachment II-5, Table B1"


def _parts(families: str, *parts: str) -> tuple[str, ...]:
    return tuple(family * 2 + part * 2 for family in families for part in parts)


_TEMP, _PILOT = "TUI", "PQE"
DATA_TYPES: dict[str, DataType] = {
    item.letters: item
    for item in (
        DataType("US", "TEMP, part A", _parts(_TEMP, "A")),
        DataType("UK", "TEMP, part B", _parts(_TEMP, "B")),
        DataType("UL", "TEMP, part C", _parts(_TEMP, "C")),
        DataType("UE", "TEMP, part D", _parts(_TEMP, "D")),
        DataType("UP", "PILOT, part A", _parts(_PILOT, "A")),
        DataType("UG", "PILOT, part B", _parts(_PILOT, "B")),
        DataType("UH", "PILOT, part C", _parts(_PILOT, "C")),
        DataType("UQ", "PILOT, part D", _parts(_PILOT, "D")),
        DataType("UZ", "TEMP DROP, all parts", _parts("X", "A", "B", "C", "D")),
        DataType("CU", "CLIMAT TEMP", ("CLIMAT TEMP",)),
        DataType("CE", "CLIMAT TEMP SHIP", ("CLIMAT TEMP SHIP",)),
        DataType("UM", "TEMP, parts A and B", _parts(_TEMP, "A", "B")),
        DataType("UF", "TEMP, parts C and D", _parts(_TEMP, "C", "D")),
        DataType("UI", "PILOT, parts A and B", _parts(_PILOT, "A", "B")),
        DataType("UY", "PILOT, parts C and D", _parts(_PILOT, "C", "D")),
    )
}
"""T1T2 of the upper-air reports. UM, UF, UI and UY serve national and bilateral exchange only."""


def data_type_of(letters: str) -> str:
    """Return T1T2 for what a report opens with.

    Parameters
    ----------
    letters : str
        For example ``"TTAA"`` or ``"CLIMAT TEMP"``.

    Raises
    ------
    KeyError
        If no data type holds such a report.
    """
    for item in DATA_TYPES.values():
        if letters in item.holds:
            return item.letters
    raise KeyError(letters)


@dataclass(frozen=True, slots=True)
class Heading:
    """An abbreviated heading.

    Attributes
    ----------
    data_type : str
        T1T2.
    area : str
        A1A2.
    number : str
        ii.
    centre : str
        CCCC.
    day, hour, minute : int
        YYGGgg: of a bulletin of observations, the standard time of observation (UTC).
    indicator : str
        BBB, "" where there is none.
    """

    data_type: str
    area: str
    number: str
    centre: str
    day: int
    hour: int
    minute: int
    indicator: str = ""

    @property
    def text(self) -> str:
        """The heading as it is sent, without line end."""
        return compose_heading(self)


@dataclass(frozen=True, slots=True)
class _Field:
    """One element: its name in :class:`Heading`, its pattern, and what stands before it."""

    name: str
    pattern: str
    figures: int = 0
    before: str = ""
    optional: bool = False


_FIELDS = (
    _Field("data_type", "[A-Z]{2}"),
    _Field("area", "[A-Z]{2}"),
    _Field("number", "[0-9]{2}"),
    _Field("centre", "[A-Z]{4}", before=" "),
    _Field("day", "[0-9]{2}", 2, before=" "),
    _Field("hour", "[0-9]{2}", 2),
    _Field("minute", "[0-9]{2}", 2),
    _Field("indicator", "[A-Z]{3}", before=" ", optional=True),
)


def _pattern() -> re.Pattern[str]:
    text = ""
    for item in _FIELDS:
        one = ("Z?[ \t]+" if item.optional else "[ \t]+") if item.before else ""
        one += f"(?P<{item.name}>{item.pattern})"
        text += f"(?:{one})?" if item.optional else one
    return re.compile(text + r"Z?\Z")


_PATTERN = _pattern()
_RANGES = {"day": (1, 31), "hour": (0, 23), "minute": (0, 59)}


def compose_heading(heading: Heading) -> str:
    """Return a heading as it is sent, without line end.

    Parameters
    ----------
    heading : Heading

    Raises
    ------
    ValueError
        If an element does not have the form that its place demands.
    """
    text = ""
    for item in _FIELDS:
        value = getattr(heading, item.name)
        word = f"{value:0{item.figures}d}" if item.figures else str(value)
        if item.optional and not word:
            continue
        if re.fullmatch(item.pattern, word) is None:
            msg = f"The heading's {item.name} is {word!r}; expected the form {item.pattern}."
            raise ValueError(msg)
        text += item.before + word
    return text


def parse_heading(text: str) -> Result[Heading | None]:
    """Read an abbreviated heading.

    Parameters
    ----------
    text : str
        One line, without line end; small letters are read as capitals.

    Returns
    -------
    Result of Heading or None
        None with "heading-malformed" where the form is another, or with
        "heading-time-impossible" where YYGGgg is no time.
    """
    match = _PATTERN.match(text.strip().upper())
    if match is None:
        return Result(
            None,
            (
                diagnostic(
                    "heading-malformed",
                    f"Expected T1T2A1A2ii CCCC YYGGgg, found {text.strip()[:40]!r}.",
                    value=text.strip()[:40],
                    expected="for example USNO01 XNOR 090000",
                ),
            ),
        )
    said = match.groupdict(default="")
    values = {item.name: int(said[item.name]) for item in _FIELDS if item.figures}
    for name, (lowest, highest) in _RANGES.items():
        if not lowest <= values[name] <= highest:
            return Result(
                None,
                (
                    diagnostic(
                        "heading-time-impossible",
                        f"The {name} of the heading {text.strip()!r} is {values[name]:02d}.",
                        value=said["day"] + said["hour"] + said["minute"],
                        expected=f"{lowest:02d} to {highest:02d}",
                    ),
                ),
            )
    found: list[Diagnostic] = []
    indicator = said["indicator"]
    if indicator and (indicator[:2] not in ("RR", "CC", "AA") and indicator[0] != "P"):
        found.append(
            diagnostic(
                "heading-indicator-unusual",
                f"The heading ends with {indicator}, which is none of RRx, CCx, AAx and Pxx.",
                value=indicator,
            )
        )
    heading = Heading(
        said["data_type"],
        said["area"],
        said["number"],
        said["centre"],
        values["day"],
        values["hour"],
        values["minute"],
        indicator,
    )
    return Result(heading, tuple(found))


def heading_fits(heading: Heading, letters: str) -> tuple[Diagnostic, ...]:
    """Tell whether a report may stand under a heading, going by what the report opens with.

    Parameters
    ----------
    heading : Heading
    letters : str
        For example ``"TTBB"``.

    Returns
    -------
    tuple of Diagnostic
        "heading-content-mismatch" where the heading promises something else.
    """
    promised = DATA_TYPES.get(heading.data_type)
    if promised is not None and letters in promised.holds:
        return ()
    title = promised.title if promised is not None else "no upper-air report of this kind"
    own = data_type_of(letters)
    return (
        diagnostic(
            "heading-content-mismatch",
            f"The heading {heading.text} promises {title}, but a report opens with {letters}; "
            f"it was read by its letters.",
            path=(letters,),
            value=heading.data_type,
            expected=own,
        ),
    )


def heading_for(
    letters: str,
    *,
    area: str,
    number: str,
    centre: str,
    day: int,
    hour: int,
    minute: int = 0,
    indicator: str = "",
) -> Heading:
    """Return the heading a report belongs under, by what it opens with.

    Parameters
    ----------
    letters : str
        For example ``"TTAA"``.
    area : str
        A1A2: territory (Table C1), or for ships :func:`encoder.bulletin.areas.ship_area`.
    number : str
        ii.
    centre : str
        CCCC of the compiling centre.
    day, hour, minute : int
        Standard time of observation.
    indicator : str
        BBB, if the heading was used before.

    Raises
    ------
    KeyError
        If no data type holds such a report.
    """
    return Heading(data_type_of(letters), area, number, centre, day, hour, minute, indicator)


def describe_heading(heading: Heading) -> str:
    """Return one sentence that says what a heading promises."""
    from encoder.bulletin.areas import area_name

    kind = DATA_TYPES.get(heading.data_type)
    title = kind.title if kind is not None else f"data type {heading.data_type}"
    sentence = (
        f"{title}, {area_name(heading.data_type, heading.area)}, number {heading.number}, compiled "
        f"by {heading.centre}, for day {heading.day:02d} {heading.hour:02d}:{heading.minute:02d} "
        f"UTC"
    )
    if heading.indicator:
        sentence += f"; {explain_indicator(heading.indicator)}"
    return sentence + "."


def report_name(letters: str) -> str:
    """Return what a report is, for a sentence: form and part."""
    part = part_of(letters)
    return f"{form_of(letters)}" + (f" part {part}" if part else "")
