"""From what the parts of a sounding say to one level table; disagreements become diagnostics."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from encoder import physics
from encoder.codes import FORMS
from encoder.codes.elements import number
from encoder.codes.groups_wind_levels import altitude_step
from encoder.columns import LEVEL_COLUMNS
from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.levels.altitudes import WHOLE_STEP
from encoder.levels.table import THERMODYNAMIC, LevelKind, Levels

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.codes.content import PartContent, Record

_HEAT_KINDS = int(THERMODYNAMIC)
_SURFACE = int(LevelKind.SURFACE)
_TOP_OF_WIND = int(LevelKind.TOP_OF_WIND_SOUNDING)
_COLUMNS = frozenset(LEVEL_COLUMNS)
_COMPARED = ("air_temperature", "dew_point_depression", "wind_from_direction", "wind_speed")
Place = tuple[str, str, int]
"""Letter of the part, number of the section, position of the record."""


class _Site(NamedTuple):
    """Where a record lies: by pressure, by height where no pressure is given, or at the surface."""

    pressure: float | None
    height: float | None
    surface: bool

    @property
    def order(self) -> tuple[float, bool]:
        """Key that sorts upward; heights stand where the standard atmosphere has them."""
        if self.pressure is not None:
            return -self.pressure, not self.surface
        if self.height is None:
            return -np.inf, not self.surface
        return -float(physics.standard_atmosphere_pressure(self.height)), not self.surface

    @property
    def name(self) -> str:
        """Words for a message."""
        if self.pressure is not None:
            return f"{self.pressure:g} hPa"
        return "the surface" if self.height is None else f"{self.height:.0f} m"


@dataclass(slots=True)
class _Row:
    site: _Site
    kinds: int = 0
    values: dict[str, float] = field(default_factory=dict)
    said_in: dict[str, str] = field(default_factory=dict)
    index: int = -1


@dataclass(slots=True)
class _Table:
    rows: dict[_Site, _Row] = field(default_factory=dict)
    places: dict[Place, _Row] = field(default_factory=dict)
    found: list[Diagnostic] = field(default_factory=list)
    said_in: str = ""
    """Part and section that are being merged, in words."""


def gather_levels(
    contents: Sequence[PartContent], *, formula: str = "wmo-49"
) -> Result[tuple[Levels, dict[Place, int]]]:
    """Merge the parts of one sounding into a level table.

    Parameters
    ----------
    contents : sequence of PartContent
        Parts of one sounding, any of A to D.
    formula : str
        Vapour-pressure formula for the relative humidity.

    Returns
    -------
    Result of (Levels, dict)
        The table, and the index of the level for every record by (part, section, record).
        Where parts contradict each other the value of the earlier part stands, with a
        diagnostic.
    """
    table = _Table()
    for content in sorted(contents, key=lambda item: item.letter):
        step = altitude_step(content.identification.get("station"))
        part = FORMS[content.form].part(content.letter)
        for section in content.sections:
            declared = part.section(section.number)
            if declared is None:
                continue
            forms = {item.kind: item for item in reversed(declared.records) if item.level_kinds}
            table.said_in = f"part {content.letter} section {section.number}"
            gap = 0
            previous: _Row | None = None
            for place, record in enumerate(section.records):
                form = forms.get(record.kind)
                if form is None:
                    continue
                site = _site(record, step)
                if site is None:
                    if form.gap_kinds:
                        begin, gap = form.gap_kinds
                        if previous is not None:
                            previous.kinds |= begin
                    continue
                where = (content.letter, section.number, place)
                row = _add(table, where, record, site, form.level_kinds)
                table.places[where] = row
                row.kinds |= gap
                gap = 0
                previous = row
    levels = _levels(table, formula)
    index = {place: row.index for place, row in table.places.items()}
    return Result((levels, index), tuple(table.found))


def _site(record: Record, step: float) -> _Site | None:
    """Return where a record lies, None where it does not say."""
    pressure = number(record.get("air_pressure"))
    if record.kind == "standard-by-altitude":
        pressure = None  # the surface the altitude stands for, which nobody measured
    if "altitude_units" in record.values:
        units = number(record.get("altitude_units"))
        if not units:
            return _Site(None, None, surface=True)
        unit = number(record.get("altitude_step")) or step
        return _Site(None, units * (step if unit == WHOLE_STEP else unit), surface=False)
    if pressure is not None:
        return _Site(pressure, None, surface=record.kind == "surface")
    height = number(record.get("geopotential_height"))
    return None if height is None else _Site(None, height, surface=False)


def _add(table: _Table, place: Place, record: Record, site: _Site, kinds: int) -> _Row:
    row = table.rows.get(site)
    if row is None:
        row = table.rows[site] = _Row(site)
        if site.height is not None:
            row.values["geopotential_height"] = site.height
    if record.values.get("top_of_wind_sounding"):
        kinds |= _TOP_OF_WIND
    if site.surface:
        kinds |= _SURFACE
    row.kinds |= kinds
    values, said_in, said_by = row.values, row.said_in, table.said_in
    for name, said in record.values.items():
        if said is None or name not in _COLUMNS:
            continue
        value = number(said)
        if value is None or (name == "air_pressure" and site.pressure is None):
            continue
        before = values.get(name)
        if before is None:
            values[name] = value
            said_in[name] = said_by
        elif name in _COMPARED and abs(before - value) > 1e-6:
            letter, section, _record = place
            table.found.append(
                diagnostic(
                    "parts-disagree",
                    f"{name} at {site.name} is {before:g} in {row.said_in[name]} and "
                    f"{value:g} in {said_by}; the first one stands.",
                    path=(letter, section, site.name, name),
                    value=f"{value:g}",
                    expected=f"{before:g}",
                )
            )
    return row


def _levels(table: _Table, formula: str) -> Levels:
    rows = sorted(table.rows.values(), key=lambda row: row.site.order)
    _mark_humidity(rows)
    given: set[str] = set()
    for place, row in enumerate(rows):
        row.index = place
        given.update(row.values)
    columns = {
        name: np.array([row.values.get(name, np.nan) for row in rows], dtype=np.float64)
        for name in LEVEL_COLUMNS
        if name in given
    }
    if "air_temperature" in given and "dew_point_depression" in given:
        warmth = columns["air_temperature"]
        dew_point = warmth - columns["dew_point_depression"]
        columns["dew_point_temperature"] = dew_point
        columns["relative_humidity"] = np.asarray(
            physics.relative_humidity(warmth, dew_point, formula)
        )
    kinds = np.array([row.kinds for row in rows], dtype=np.int64)
    return Levels(columns, kinds, attributes={"decoded": True})


def _mark_humidity(rows: Sequence[_Row]) -> None:
    """Mark where humidity stops and begins again among the significant levels."""
    significant = [
        row for row in rows if row.kinds & _HEAT_KINDS and "air_temperature" in row.values
    ]
    for below, above in pairwise(significant):
        has_below = "dew_point_depression" in below.values
        has_above = "dew_point_depression" in above.values
        if has_below and not has_above:
            below.kinds |= int(LevelKind.BEGIN_MISSING_HUMIDITY)
        elif has_above and not has_below:
            above.kinds |= int(LevelKind.END_MISSING_HUMIDITY)
    for row in significant:
        if "dew_point_depression" not in row.values:
            row.kinds &= ~int(LevelKind.SIGNIFICANT_HUMIDITY)
