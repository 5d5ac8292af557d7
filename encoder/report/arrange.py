"""From levels to what each part of a report says.

Presence is decided here (which levels go in which part, where a wind group ends, what is shown as
missing); spelling is decided by the declaration of the code form.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.codes.content import PartContent, Record, SectionContent
from encoder.codes.declare import record_elements
from encoder.codes.last_wind import LOWER, UPPER, last_wind_figure
from encoder.levels.altitudes import UPPER_PART_ALTITUDE
from encoder.levels.table import THERMODYNAMIC, LevelKind
from encoder.report import arrange_pilot as pilot
from encoder.report.arrange_pilot import Source, WindPractice
from encoder.report.drop_words import drop_words
from encoder.report.identify import identification
from encoder.resolution import UPPER_PART_PRESSURE, coded_pressure

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from encoder.codes.declare import CodeForm, Section, Value
    from encoder.levels.table import Levels
    from encoder.profile import Flight

_HEAT = ("air_temperature", "dew_point_depression")
_WIND = ("wind_from_direction", "wind_speed")
_SHEAR = ("wind_shear_below", "wind_shear_above")


_USUAL_WINDS = WindPractice()
EXTRA_WINDS = "11"
"""Begins the first extra wind of Regions I and VI, 11PPP: these stand in part B alone, as in the
report of station 02963 of 10 April 2006."""
DROP_MARKER = "61616"
"""Begins the plain words of a dropped sonde."""


def parts_of(levels: Levels) -> tuple[str, ...]:
    """Return the letters of the parts these levels fill: A and B, and C and D above 100 hPa."""
    return ("A", "B", "C", "D") if bool(np.any(in_upper_parts(levels))) else ("A", "B")


def in_upper_parts(levels: Levels) -> np.ndarray:
    """Tell which levels belong to parts C and D: those above 100 hPa.

    Levels without pressure do where they lie above the altitude that stands for it.
    """
    pressures, heights = levels["air_pressure"], levels["geopotential_height"]
    by_height = np.isnan(pressures) & (heights > UPPER_PART_ALTITUDE)
    return np.asarray((pressures < UPPER_PART_PRESSURE) | by_height)


def arrange(
    flight: Flight,
    levels: Levels,
    form: CodeForm,
    letter: str,
    practice: WindPractice = _USUAL_WINDS,
) -> PartContent:
    """Return what one part says.

    Parameters
    ----------
    flight : Flight
        Station, times, instrument, cloud and reporting practice.
    levels : Levels
        From :func:`encoder.levels.select_levels`.
    form : CodeForm
    letter : str
        "A" to "D".
    practice : WindPractice
        How the winds of a PILOT are given.

    Returns
    -------
    PartContent
        With the index of the level in every record.

    Notes
    -----
    WMO-No. 306 Volume I.1, 32.2, 32.3, 35.2 and 35.3. A level belongs to parts A and B when its
    unrounded pressure is 100 hPa or more.
    """
    part = form.part(letter)
    above = in_upper_parts(levels)
    here = above if part.tenths else ~above
    source = Source(flight, levels, here, part, practice, form.number)
    sections = []
    for section in part.sections[1:]:
        fill = _verbatim if section.verbatim else _FILL[section.records[-1].kind]
        said = fill(source, section)
        if said is not None:
            sections.append(said)
    first = identification(flight, part, last_wind=_last_wind(source))
    return PartContent(form.number, letter, (first, *sections))


def _value(levels: Levels, name: str, index: int) -> Value:
    value = float(levels[name][index])
    return value if np.isfinite(value) else None


def _values(levels: Levels, index: int, names: Iterable[str]) -> dict[str, Value]:
    return {name: _value(levels, name, index) for name in names}


def _surface(levels: Levels) -> list[Record]:
    return [
        Record("surface", _values(levels, index, ("air_pressure", *_HEAT, *_WIND)), int(index))
        for index in levels.having(LevelKind.SURFACE)[:1]
    ]


def _last_wind(source: Source) -> str:
    """Return the figure Id of the standard levels of a part."""
    levels = source.levels
    winds = levels["air_pressure"][_standard_here(source) & np.isfinite(levels["wind_speed"])]
    lowest = float(winds.min()) if len(winds) else None
    return last_wind_figure(lowest, upper=source.part.tenths)


def _standard_here(source: Source) -> np.ndarray:
    """Tell which levels are standard levels of the part."""
    levels = source.levels
    declared = np.isin(levels["air_pressure"], list(source.part.standard.values()))
    standard = (levels.kinds & int(LevelKind.STANDARD)) != 0
    return np.asarray(source.here & standard & declared)


def _standard(source: Source, section: Section) -> SectionContent:
    levels, upper = source.levels, source.part.tenths
    chosen = _standard_here(source)
    with_wind = levels["air_pressure"][chosen & np.isfinite(levels["wind_speed"])]
    figure = _last_wind(source)
    table = UPPER if upper else LOWER
    lowest = min((p for p, own in table.items() if own == figure), default=float("inf"))
    if len(with_wind) and float(with_wind.min()) < min(table):
        lowest = float(with_wind.min())
    records = [] if upper else _surface(levels)
    for i in np.flatnonzero(chosen):
        names = ["air_pressure", "geopotential_height", *_HEAT]
        if float(levels["air_pressure"][i]) >= lowest:
            names.extend(_WIND)
        records.append(Record("standard", _values(levels, int(i), names), int(i)))
    return SectionContent(section.number, tuple(records))


def _standard_at(source: Source, index: int) -> int:
    """Return the standard level that is coded with the pressure of a level, else the level.

    One pressure in the report then has one temperature, wherever it stands.
    """
    levels = source.levels
    coded = coded_pressure(levels["air_pressure"])
    same = _standard_here(source) & (coded == coded[index])
    found = np.flatnonzero(same & np.isfinite(levels["air_temperature"]))
    return int(found[0]) if len(found) else int(index)


def _tropopauses(source: Source, section: Section) -> SectionContent:
    levels, here = source.levels, source.here
    names = ("air_pressure", *_HEAT, *_WIND)
    records = tuple(
        Record("tropopause", _values(levels, _standard_at(source, i), names), int(i))
        for i in levels.having(LevelKind.TROPOPAUSE)
        if here[i]
    )
    return SectionContent(section.number, records, none_reported=not records)


def maximum_wind_section(levels: Levels, here: np.ndarray, *, shear: bool) -> SectionContent:
    """Return section 4 from the levels of maximum wind, the strongest first.

    Parameters
    ----------
    levels : Levels
        Those of kind MAXIMUM_WIND are taken.
    here : ndarray of bool, shape (level,)
        Levels that belong to the part.
    shear : bool
        Whether the shear group is given.

    References
    ----------
    WMO-No. 306 Volume I.1, 35.2.4.
    """
    chosen = [i for i in levels.having(LevelKind.MAXIMUM_WIND) if here[i]]
    chosen.sort(key=lambda i: (-levels["wind_speed"][i], -levels["air_pressure"][i]))
    records = []
    for i in chosen:
        values = _values(levels, i, ("air_pressure", *_WIND))
        values["top_of_wind_sounding"] = bool(levels.kinds[i] & LevelKind.TOP_OF_WIND_SOUNDING)
        if shear:
            values.update(_values(levels, i, _SHEAR))
        records.append(Record("maximum-wind", values, int(i)))
    return SectionContent("4", tuple(records), none_reported=not records)


@dataclass(frozen=True, slots=True)
class _Numbered:
    """How section 5 or 6 takes its levels."""

    record: str
    names: tuple[str, ...]
    kinds: int
    begin: LevelKind
    end: LevelKind


_SECTION_5 = _Numbered(
    "significant-temperature",
    ("air_pressure", *_HEAT),
    int(THERMODYNAMIC),
    LevelKind.BEGIN_MISSING_TEMPERATURE,
    LevelKind.END_MISSING_TEMPERATURE,
)
_SECTION_6 = _Numbered(
    "significant-wind",
    ("air_pressure", *_WIND),
    int(LevelKind.SIGNIFICANT_WIND),
    LevelKind.BEGIN_MISSING_WIND,
    LevelKind.END_MISSING_WIND,
)


def _numbered(levels: Levels, here: np.ndarray, section: _Numbered) -> list[Record]:
    """Return records of section 5 or 6, with a solidi level inside every missing layer."""
    ends = levels.having(section.end)
    records = []
    for i in levels.having(section.kinds | section.begin | section.end):
        if not here[i]:
            continue
        kind = "surface" if levels.kinds[i] & LevelKind.SURFACE else section.record
        records.append(Record(kind, _values(levels, i, section.names), int(i)))
        if levels.kinds[i] & section.begin and np.any(ends > i):
            records.append(Record(section.record, dict.fromkeys(section.names)))
    return records


def _any_wind(records: list[Record]) -> bool:
    """Tell whether any record of section 6 has a wind; without one there is no section 6."""
    return any(record.get("wind_speed") is not None for record in records)


def _section_5(source: Source, section: Section) -> SectionContent:
    records = _numbered(source.levels, source.here, _SECTION_5)
    return SectionContent(section.number, tuple(records))


def _winds_by_pressure(source: Source, section: Section) -> SectionContent | None:
    elsewhere = any(item.form("fixed-altitude") for item in source.part.sections)
    if elsewhere and source.practice.significant_by == "altitude":
        return None
    records = _numbered(source.levels, source.here, _SECTION_6)
    return SectionContent(section.number, tuple(records)) if _any_wind(records) else None


def _maximum(source: Source, section: Section) -> SectionContent:
    shear = source.flight.reporting.shear
    said = maximum_wind_section(source.levels, source.here, shear=shear)
    return SectionContent(section.number, said.records, said.none_reported)


def _system_section(source: Source, section: Section) -> SectionContent | None:
    if source.part.letter not in source.flight.reporting.section_7_parts:
        return None
    record = _system(source.flight)
    if all(record.get(name) is None for name in record_elements(section.records[0])):
        return None
    return SectionContent(section.number, (record,))


def _cloud(source: Source, section: Section) -> SectionContent | None:
    cloud = source.flight.surface.cloud
    if cloud is None:
        return None
    values: dict[str, Value] = {
        "cloud_amount": _figure(cloud.amount),
        "cloud_low": _figure(cloud.low),
        "cloud_base": _figure(cloud.base),
        "cloud_middle": _figure(cloud.middle),
        "cloud_high": _figure(cloud.high),
    }
    return SectionContent(section.number, (Record("cloud", values),))


def _verbatim(source: Source, section: Section) -> SectionContent | None:
    reporting = source.flight.reporting
    regional = reporting.regional_groups
    in_part_b = len(regional) > 1 and regional[1].startswith(EXTRA_WINDS)
    words = ""
    if source.part.letter in ("B" if in_part_b else "AB") and _begins(regional, section):
        words = " ".join(regional)
    if source.part.letter in "AB" and _begins(reporting.national_groups, section):
        words = " ".join(reporting.national_groups)
    elif _is_drop(source) and DROP_MARKER in section.markers:
        words = drop_words(source.flight, source.part.letter)
    if not words:
        return None
    return SectionContent(section.number, (Record("verbatim", {"groups": words}),))


def _is_drop(source: Source) -> bool:
    """Tell whether a sonde that fell from an aircraft is reported as such."""
    platform = source.flight.document.get("station", {}).get("platform")
    return source.form == "FM 37" and platform == "drop"


def _begins(groups: Sequence[str], section: Section) -> bool:
    """Tell whether groups begin with a marker of the section."""
    return bool(groups) and groups[0] in section.markers


def _figure(text: str) -> Value:
    return None if text == "/" else text


def _system(flight: Flight) -> Record:
    sonde, tracking = flight.instrument.radiosonde_type, flight.instrument.tracking
    release = flight.release_time
    values: dict[str, Value] = {
        "correction": _figure(flight.instrument.correction),
        "radiosonde_type": None if sonde is None else f"{sonde % 100:02d}",
        "tracking": None if tracking is None else f"{tracking % 100:02d}",
        "release_hour": release.hour,
        "release_minute": release.minute,
    }
    sea = flight.document.get("surface", {}).get("sea_temperature_degc")
    if sea is not None:
        values["sea_surface_temperature"] = float(sea)
    return Record("system", values)


_FILL: dict[str, Callable[[Source, Section], SectionContent | None]] = {
    "standard": _standard,
    "tropopause": _tropopauses,
    "maximum-wind": _maximum,
    "significant-temperature": _section_5,
    "significant-wind": _winds_by_pressure,
    "system": _system_section,
    "cloud": _cloud,
    "standard-by-altitude": pilot.standard_winds,
    "maximum-wind-by-altitude": pilot.maximum_winds,
    "fixed-altitude": pilot.fixed_altitudes,
}
"""How each section is filled, by the kind of its last record."""
