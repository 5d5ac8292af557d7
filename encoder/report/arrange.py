"""From levels to what each part of a TEMP says.

Presence is decided here (which levels go in which part, where a wind group ends, what is shown as
missing); spelling is decided by the declaration of the code form.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.codes.content import PartContent, Record, SectionContent
from encoder.codes.last_wind import LOWER, UPPER, last_wind_figure
from encoder.levels.table import THERMODYNAMIC, LevelKind
from encoder.resolution import UPPER_PART_PRESSURE

if TYPE_CHECKING:
    from collections.abc import Iterable

    from encoder.codes.declare import CodeForm, Value
    from encoder.levels.table import Levels
    from encoder.profile import Flight

_HEAT = ("air_temperature", "dew_point_depression")
_WIND = ("wind_from_direction", "wind_speed")
_SHEAR = ("wind_shear_below", "wind_shear_above")


def parts_of(levels: Levels) -> tuple[str, ...]:
    """Return the letters of the parts these levels fill: A and B, and C and D above 100 hPa."""
    pressures = levels["air_pressure"]
    above = bool(np.any(pressures < UPPER_PART_PRESSURE))
    return ("A", "B", "C", "D") if above else ("A", "B")


def arrange(flight: Flight, levels: Levels, form: CodeForm, letter: str) -> PartContent:
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

    Returns
    -------
    PartContent
        With the index of the level in every record.

    Notes
    -----
    WMO-No. 306 Volume I.1, 35.2 and 35.3. A level belongs to parts A and B when its unrounded
    pressure is 100 hPa or more.
    """
    upper = letter in "CD"
    pressures = levels["air_pressure"]
    here = (pressures < UPPER_PART_PRESSURE) if upper else (pressures >= UPPER_PART_PRESSURE)
    if letter in "AC":
        last_wind, standard = _standard(levels, here, upper=upper)
        surface = () if upper else tuple(_surface(levels))
        body = (
            SectionContent("2", (*surface, *standard)),
            _tropopauses(levels, here),
            maximum_wind_section(levels, here, shear=flight.reporting.shear),
        )
        first = _identification(flight, last_wind=last_wind)
    else:
        wind = _numbered(levels, here, _SECTION_6)
        body = (
            SectionContent("5", tuple(_numbered(levels, here, _SECTION_5))),
            *((SectionContent("6", tuple(wind)),) if _any_wind(wind) else ()),
        )
        equipment = {} if upper else {"wind_equipment": flight.instrument.wind_equipment}
        first = _identification(flight, **equipment)
    return PartContent(form.number, letter, (first, *body, *_facts(flight, letter)))


def _value(levels: Levels, name: str, index: int) -> Value:
    value = float(levels[name][index])
    return value if np.isfinite(value) else None


def _values(levels: Levels, index: int, names: Iterable[str]) -> dict[str, Value]:
    return {name: _value(levels, name, index) for name in names}


def _identification(flight: Flight, **last: str) -> SectionContent:
    values: dict[str, Value] = {
        "day": flight.nominal_time.day,
        "hour": flight.nominal_time.hour,
        "wind_unit": flight.reporting.wind_unit,
        **last,
        "station": flight.station.wmo_index,
    }
    return SectionContent("1", (Record("identification", values),))


def _surface(levels: Levels) -> list[Record]:
    return [
        Record("surface", _values(levels, index, ("air_pressure", *_HEAT, *_WIND)), int(index))
        for index in levels.having(LevelKind.SURFACE)[:1]
    ]


def _standard(levels: Levels, here: np.ndarray, *, upper: bool) -> tuple[str, tuple[Record, ...]]:
    chosen = [i for i in levels.having(LevelKind.STANDARD) if here[i]]
    with_wind = [
        float(levels["air_pressure"][i]) for i in chosen if np.isfinite(levels["wind_speed"][i])
    ]
    figure = last_wind_figure(min(with_wind) if with_wind else None, upper=upper)
    table = UPPER if upper else LOWER
    lowest = min((p for p, own in table.items() if own == figure), default=float("inf"))
    if with_wind and min(with_wind) < min(table):
        lowest = min(with_wind)
    records = []
    for i in chosen:
        names = ["air_pressure", "geopotential_height", *_HEAT]
        if float(levels["air_pressure"][i]) >= lowest:
            names.extend(_WIND)
        records.append(Record("standard", _values(levels, i, names), int(i)))
    return figure, tuple(records)


def _tropopauses(levels: Levels, here: np.ndarray) -> SectionContent:
    records = tuple(
        Record("tropopause", _values(levels, i, ("air_pressure", *_HEAT, *_WIND)), int(i))
        for i in levels.having(LevelKind.TROPOPAUSE)
        if here[i]
    )
    return SectionContent("3", records, none_reported=not records)


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


def _facts(flight: Flight, letter: str) -> tuple[SectionContent, ...]:
    sections = []
    if letter in flight.reporting.section_7_parts:
        sections.append(SectionContent("7", (_system(flight),)))
    if letter == "B" and flight.surface.cloud is not None:
        cloud = flight.surface.cloud
        values: dict[str, Value] = {
            "cloud_amount": _figure(cloud.amount),
            "cloud_low": _figure(cloud.low),
            "cloud_base": _figure(cloud.base),
            "cloud_middle": _figure(cloud.middle),
            "cloud_high": _figure(cloud.high),
        }
        sections.append(SectionContent("8", (Record("cloud", values),)))
    if letter in "AB":
        for number, groups in (
            ("9", flight.reporting.regional_groups),
            ("10", flight.reporting.national_groups),
        ):
            if groups:
                record = Record("verbatim", {"groups": " ".join(groups)})
                sections.append(SectionContent(number, (record,)))
    return tuple(sections)


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
    return Record("system", values)
