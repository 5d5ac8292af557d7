"""One coded report as a table of levels, with what the report says of each value."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field, fields
from datetime import UTC, datetime, timedelta
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.profile import Station

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from encoder.levels.table import Levels
    from encoder.report import Report

StatusArray = NDArray[np.int8]

REPORTED, REPORTED_MISSING, NOT_REPORTED, REMOVED, COMPUTED = range(5)
STATUS_WORDS = ("reported", "reported_missing", "not_reported", "removed", "computed")
"""What is behind a value, and behind the absence of one."""

UNNAMED = "unnamed station"
"""Name of a station nothing is known of but its position; two of them may be different ones."""

STATUS_COLUMNS = (
    "geopotential_height",
    "air_temperature",
    "dew_point_depression",
    "wind_from_direction",
    "wind_speed",
)
"""Level quantities that carry a status of their own."""


@dataclass(frozen=True, slots=True, eq=False)
class Sounding:
    """One report as a table of levels.

    Attributes
    ----------
    station : Station
        Identifier and position; elevation NaN where it is not known.
    time : datetime
        UTC: release where known, else the nominal time.
    nominal_time : datetime
        UTC.
    levels : Levels
        As a reader of the report has them.
    status : mapping of str to ndarray of int8, shape (level,)
        For each of :data:`STATUS_COLUMNS` an index of :data:`STATUS_WORDS`.
    text : str
        The coded report as sent or received, verbatim; empty where there was none.
    report : Report or None
        What the text says, with its trace.
    diagnostics : tuple of Diagnostic
    formula : str
        Vapour-pressure formula of humidities computed from dew points.
    superseded : bool
        Whether a corrected report has taken its place.
    """

    station: Station
    time: datetime
    nominal_time: datetime
    levels: Levels
    status: Mapping[str, StatusArray] = field(default_factory=dict)
    text: str = ""
    report: Report | None = None
    diagnostics: tuple[Diagnostic, ...] = ()
    formula: str = "wmo-49"
    superseded: bool = False

    def __post_init__(self) -> None:
        count = len(self.levels)
        whole = {
            name: np.array(
                self.status[name] if name in self.status else plain_status(self.levels, name),
                dtype=np.int8,
            )
            for name in STATUS_COLUMNS
        }
        if any(len(values) != count for values in whole.values()):
            msg = f"Expected {count} values in every status."
            raise ValueError(msg)
        object.__setattr__(self, "status", MappingProxyType(whole))

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Sounding):
            return NotImplemented
        return (
            same_station(self.station, other.station)
            and (self.time, self.nominal_time, self.text, self.formula, self.superseded)
            == (other.time, other.nominal_time, other.text, other.formula, other.superseded)
            and self.levels == other.levels
            and all(np.array_equal(values, other.status[n]) for n, values in self.status.items())
            and self.report == other.report
            and self.diagnostics == other.diagnostics
        )

    __hash__ = None  # type: ignore[assignment]  # holds arrays

    @property
    def station_id(self) -> str:
        """Identifier of the station: WMO index, call sign, WIGOS identifier or name."""
        return station_id(self.station)


def station_id(station: Station) -> str:
    """Return the identifier of a station: WMO index, call sign, WIGOS identifier or name.

    Reports of ships and mobile units name the call sign alone, so it comes before the WIGOS
    identifier: a flight and its report belong into the same history.
    """
    return station.wmo_index or station.call_sign or station.wigos_id or station.name


def station_words(station: Station) -> str:
    """Return name and identifier of a station, once where they are the same."""
    identifier = station_id(station)
    return station.name if identifier == station.name else f"{station.name} ({identifier})"


def same_station(one: Station, other: Station) -> bool:
    """Tell whether two stations are equal in everything; unknown elevations are equal."""
    return all(
        a == b or (a != a and b != b)  # noqa: PLR0124  # NaN is unlike itself
        for a, b in (
            (getattr(one, item.name), getattr(other, item.name)) for item in fields(Station)
        )
    )


def plain_status(levels: Levels, name: str) -> StatusArray:
    """Return the status of a quantity nothing more is known of: reported where there is a value."""
    return np.where(np.isnan(levels[name]), NOT_REPORTED, REPORTED).astype(np.int8)


def report_status(report: Report, levels: Levels) -> dict[str, StatusArray]:
    """Return for every level what the report says about each quantity.

    Parameters
    ----------
    report : Report
        With a trace whose ``level`` counts the levels given.
    levels : Levels
    """
    found = {name: np.full(len(levels), NOT_REPORTED, dtype=np.int8) for name in STATUS_COLUMNS}
    for entry in report.trace:
        if entry.level is None or not 0 <= entry.level < len(levels):
            continue
        for name, value in entry.values.items():
            if name not in found:
                continue
            if value is not None:
                found[name][entry.level] = REPORTED
            elif found[name][entry.level] == NOT_REPORTED:
                found[name][entry.level] = REPORTED_MISSING
    for name, values in found.items():
        present = np.isfinite(levels[name])
        values[present & (values != REPORTED)] = COMPUTED
        values[~present & (values == REPORTED)] = REMOVED
    return found


def coded_levels(report: Report, formula: str = "wmo-49") -> tuple[Levels, Report]:
    """Return the levels as a reader of the report has them, and the report as decoded.

    Parameters
    ----------
    report : Report
        Encoded, whose levels are those of the flight; or decoded, returned as it is.
    formula : str
        Vapour-pressure formula of the computed humidity.
    """
    from encoder.report import decode_reports

    if report.levels.attributes.get("decoded"):
        return report.levels, report
    decoded = decode_reports(report.text, formula=formula, on=report.on).value
    return (decoded[0].levels, decoded[0]) if decoded else (report.levels, report)


def report_as_sent(report: Report) -> str:
    """Return the characters of the parts of a report: one stretch, or part after part.

    The stretch from the first part to the last one where nothing but blanks and line ends lies
    between them; else the parts, each verbatim, with a line end after each.
    """
    spans = sorted(part.span for part in report.parts)
    if not spans:
        return report.text
    between = "".join(
        report.text[before[1] : after[0]] for before, after in itertools.pairwise(spans)
    )
    if between.strip():
        return "".join(f"{part.text}\n" for part in report.parts)
    return report.text[spans[0][0] : spans[-1][1]]


def sounding_of(
    report: Report,
    *,
    station: Station,
    nominal_time: datetime,
    time: datetime | None = None,
    formula: str = "wmo-49",
    diagnostics: Sequence[Diagnostic] = (),
) -> Sounding:
    """Return a report as a sounding of the archive.

    Parameters
    ----------
    report : Report
        Encoded or decoded.
    station : Station
        Where it was made; a land report names only the index of its station.
    nominal_time : datetime
        UTC; a report names only day and hour (see :func:`moment_of`).
    time : datetime, optional
        Release, UTC.
    formula : str
        Vapour-pressure formula of the computed humidity.
    diagnostics : sequence of Diagnostic
        What decoding or encoding had to say.
    """
    levels, decoded = coded_levels(report, formula)
    return Sounding(
        station,
        time or nominal_time,
        nominal_time,
        levels,
        report_status(decoded, levels),
        report_as_sent(report),
        report,
        tuple(diagnostics),
        formula,
    )


def moment_of(report: Report, month: str) -> Result[datetime | None]:
    """Return the nominal time of a report of a known month.

    Parameters
    ----------
    report : Report
        Names day and hour.
    month : str
        ``"YYYY-MM"``.

    Returns
    -------
    Result of datetime or None
        None where day or hour are missing or the month has no such day.
    """
    said = report.parts[0].content.identification if report.parts else {}
    day, hour = said.get("day"), said.get("hour")
    if not isinstance(day, int) or not isinstance(hour, int):
        return Result(
            None,
            (diagnostic("report-without-time", "The report names no day and hour."),),
        )
    try:
        first = datetime.strptime(month, "%Y-%m").replace(tzinfo=UTC)
        return Result(first.replace(day=day) + timedelta(hours=hour))
    except ValueError as fault:
        return Result(
            None,
            (
                diagnostic(
                    "report-without-time",
                    f"Day {day}, {hour} UTC is no time of the month {month!r}: {fault}.",
                    value=month,
                ),
            ),
        )
