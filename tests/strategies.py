"""Hypothesis strategies for what parts of reports say, derived from the declarations.

A declaration gives the records of a section and the elements of their groups; this module only
adds which values the code can hold exactly, by element name.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from hypothesis import strategies as st

from encoder.bulletin.openings import FAMILIES, PARTS
from encoder.codes.account import CORRECTION
from encoder.codes.content import PartContent, Record, SectionContent
from encoder.codes.declare import CodeForm, Part, RecordForm, Section, record_elements
from encoder.codes.fm35 import NATIONAL_MARKERS
from encoder.codes.groups_monthly import LEVELS as MONTHLY_LEVELS
from encoder.codes.groups_position import marsden_figures
from encoder.codes.groups_wind_levels import STANDARD_ALTITUDES
from encoder.codes.last_wind import LOWER, UPPER, last_wind_figure
from encoder.codes.pibal import LETTERS as PIBAL
from encoder.codes.pibal import STANDARD_LEVELS as THOUSANDS_OF_FEET
from encoder.codes.pilot import BY_PRESSURE
from encoder.levels.altitudes import THOUSAND_FEET
from encoder.resolution import KNOT, MILE_PER_HOUR

FIGURES = "0123456789"
STEPS = {"kt": KNOT, "m s-1": 1.0, "mph": MILE_PER_HOUR}
WIND = ("wind_from_direction", "wind_speed")


_OPENINGS = {letters + part for letters in FAMILIES for part in PARTS}
"""Letters that open a part, which no ship may have as call sign; nor is one called NIL or COR,
words that speak of the part."""


def _figures(count: int) -> st.SearchStrategy[str]:
    return st.text(FIGURES, min_size=count, max_size=count)


temperatures = st.integers(0, 999).map(lambda n: (-n if n % 2 else n) / 10.0)
"""Temperatures of code table 3931 in degC."""
depressions = st.one_of(st.integers(0, 50).map(lambda n: n / 10.0), st.integers(6, 49).map(float))
"""Dew-point depressions of code table 0777 in K."""

FACTS: dict[str, st.SearchStrategy[Any]] = {
    "month": st.integers(1, 12),
    "year_figures": st.integers(0, 999),
    "day": st.integers(1, 31),
    "hour": st.integers(0, 23),
    "station": _figures(5),
    "wind_equipment": st.sampled_from([*FIGURES, "/"]),
    "top_of_wind_sounding": st.booleans(),
    "correction": st.none() | _figures(1),
    "radiosonde_type": st.none() | _figures(2),
    "tracking": st.none() | _figures(2),
    "release_hour": st.integers(0, 23),
    "release_minute": st.integers(0, 59),
    "sea_surface_temperature": st.none() | st.integers(-20, 400).map(lambda n: n / 10.0),
    "call_sign": st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789", min_size=3, max_size=7).filter(
        lambda sign: sign not in ("NIL", CORRECTION, "NNNN", "ZCZC", *_OPENINGS)
    ),
    "elevation_accuracy": st.sampled_from("1234"),
    "elevation": st.integers(0, 9999).map(float),
    **{
        f"cloud_{name}": st.none() | _figures(1)
        for name in ("amount", "low", "base", "middle", "high")
    },
}
"""Values of facts by element name."""


@st.composite
def winds(draw: st.DrawFn, unit: str) -> dict[str, Any]:
    """Return a wind the code holds exactly: known, calm or missing."""
    speed = draw(st.integers(0, 499))
    if speed == 0:
        return {WIND[0]: 0.0, WIND[1]: 0.0}
    if draw(st.integers(0, 9)) == 0:
        return dict.fromkeys(WIND)
    return {WIND[0]: 5.0 * draw(st.integers(1, 72)), WIND[1]: speed * STEPS[unit]}


@st.composite
def heats(draw: st.DrawFn) -> dict[str, Any]:
    """Return temperature and humidity as coded; no humidity without temperature."""
    temperature = draw(st.none() | temperatures)
    depression = None if temperature is None else draw(st.none() | depressions)
    return {"air_temperature": temperature, "dew_point_depression": depression}


@st.composite
def level_values(
    draw: st.DrawFn, form: RecordForm, unit: str, pressure: float | None
) -> dict[str, Any]:
    """Return the values of one level, all of its elements, at a pressure."""
    names = record_elements(form)
    values: dict[str, Any] = {"air_pressure": pressure} if "air_pressure" in names else {}
    if "top_of_wind_sounding" in names:
        values["top_of_wind_sounding"] = draw(st.booleans())
    if "air_temperature" in names:
        values.update(draw(heats()))
    if "wind_speed" in names:
        values.update(draw(winds(unit)))
    if "wind_shear_below" in names and draw(st.booleans()):
        for name in ("wind_shear_below", "wind_shear_above"):
            steps = draw(st.none() | st.integers(0, 99))
            values[name] = None if steps is None else steps * STEPS[unit]
    return values


def _pressures(part: Part) -> st.SearchStrategy[float]:
    if part.tenths:
        return st.integers(1, 999).map(lambda n: n / 10.0)
    return st.integers(100, 1099).map(float)


def _descending(part: Part, most: int) -> st.SearchStrategy[list[float]]:
    return st.lists(_pressures(part), unique=True, max_size=most).map(
        lambda found: sorted(found, reverse=True)
    )


def standard_height(pressure: float) -> float:
    """Return a height near the standard atmosphere that the figures hold exactly, in gpm."""
    from encoder.codes.groups import nearest_height
    from encoder.physics import standard_atmosphere_height

    tens = 10.0 if pressure <= 500.0 else 1.0
    height = tens * round(float(standard_atmosphere_height(pressure)) / tens)
    assert nearest_height(f"{int(height / tens) % 1000:03d}", pressure) == height
    return height


def standard_temperatures(pressure: float) -> st.SearchStrategy[float]:
    """Return temperatures of table 3931 near the standard atmosphere, in degC."""
    from encoder.physics import standard_atmosphere_height, standard_atmosphere_temperature

    usual = float(standard_atmosphere_temperature(standard_atmosphere_height(pressure)))
    tenths = st.integers(round(10 * usual) - 40, round(10 * usual) + 40)
    return tenths.map(lambda n: (2 * (n // 2) if n >= 0 else -(2 * (-n // 2) + 1)) / 10.0)


@st.composite
def standard_levels(
    draw: st.DrawFn, part: Part, form: RecordForm, unit: str
) -> tuple[str, list[Record]]:
    """Return standard levels upward, with the figure Id that fits their winds."""
    table = UPPER if part.tenths else LOWER
    chosen = draw(st.lists(st.sampled_from(sorted(part.standard.values())), unique=True))
    chosen.sort(reverse=True)
    named = [pressure for pressure in chosen if pressure in table]
    last = draw(st.none() | st.sampled_from(named)) if named else None
    figure = last_wind_figure(last, upper=part.tenths)
    reach = min((p for p, own in table.items() if own == figure), default=float("inf"))
    records = []
    for pressure in chosen:
        values = draw(level_values(form, unit, pressure))
        if values["air_temperature"] is not None:
            values["air_temperature"] = draw(standard_temperatures(pressure))
        values["geopotential_height"] = draw(st.none() | st.just(standard_height(pressure)))
        if pressure < reach:
            for name in WIND:
                del values[name]
        records.append(Record("standard", values))
    return figure, records


@st.composite
def numbered_levels(draw: st.DrawFn, part: Part, section: Section, unit: str) -> list[Record]:
    """Return significant levels, the surface first, with solidi levels between."""
    records: list[Record] = []
    pressures = draw(_descending(part, 15))
    for form in section.records:
        if form.numbering == "surface" and pressures and draw(st.booleans()):
            records.append(Record(form.kind, draw(level_values(form, unit, pressures.pop(0)))))
        elif form.numbering == "counted":
            for pressure in pressures:
                records.append(Record(form.kind, draw(level_values(form, unit, pressure))))
                if draw(st.integers(0, 5)) == 0:
                    records.append(Record(form.kind, dict.fromkeys(record_elements(form))))
    return records


@st.composite
def marked_levels(draw: st.DrawFn, part: Part, form: RecordForm, unit: str) -> list[Record]:
    """Return tropopauses or maximum winds."""
    pressures = draw(_descending(part, 3))
    # 88999 and 77999 say that there is none, so 999 hPa cannot be said there
    records = []
    for pressure in pressures:
        if pressure in (999.0, 99.9):
            continue
        values = draw(level_values(form, unit, pressure))
        # 66 says the greatest wind of the sounding, which stands first (35.2.4, from memory):
        # behind another level 66666 opens the national groups, else one text would say two things
        if records and pressure in (666.0, 66.6) and "top_of_wind_sounding" in values:
            values["top_of_wind_sounding"] = False
        records.append(Record(form.kind, values))
    return records


@st.composite
def facts(draw: st.DrawFn, form: RecordForm) -> Record:
    """Return a record of facts, its optional last groups there or not.

    A system group that begins with 8 and has no time of release behind it looks like one itself:
    nobody sends it.
    """
    values: dict[str, Any] = {}
    for use in form.uses:
        needed = values.get("correction") == "8" and "release_hour" in use.group.elements
        if use.presence == "if-recognised" and not needed and not draw(st.booleans()):
            continue
        for name in use.group.elements:
            values[name] = draw(FACTS[name])
    return Record(form.kind, values)


@st.composite
def positions(draw: st.DrawFn) -> dict[str, Any]:
    """Return a position to a tenth of a degree, its quadrant and its Marsden square."""
    north, east = draw(st.integers(0, 900)) / 10.0, draw(st.integers(0, 1800)) / 10.0
    quadrant = draw(st.sampled_from("1357"))
    latitude = 0.0 - north if quadrant in "35" else north
    longitude = 0.0 - east if quadrant in "57" else east
    marsden = marsden_figures(latitude, longitude, quadrant)
    return {
        "latitude": latitude,
        "longitude": longitude,
        "quadrant": quadrant,
        "marsden": marsden,
    }


@st.composite
def blocks(draw: st.DrawFn, part: Part, form: RecordForm, unit: str) -> list[Record]:
    """Return levels of blocks: runs of standard levels, or altitudes of the same tens."""
    levels: list[dict[str, Any]] = []
    if form.kind == "fixed-altitude":
        step = draw(st.sampled_from([300, 500]))
        most = 199 if step == 300 else 99
        units = sorted(draw(st.sets(st.integers(0, most), max_size=12)))
        levels = [{"altitude_units": height, "altitude_step": step} for height in units]
        if units and units[0] > 0 and draw(st.booleans()):
            levels.insert(0, {"altitude_units": None, "altitude_step": step})
    else:
        pressures = sorted(part.standard.values(), reverse=True)
        chosen = sorted(draw(st.sets(st.sampled_from(pressures))), reverse=True)
        levels = [{"air_pressure": pressure} for pressure in chosen]
    in_block: list[dict[str, Any]] = []
    for level in levels:
        assert form.block is not None
        context = part.context()
        full = len(in_block) == form.block.most
        joins = in_block and not full and form.block.joins(in_block, level, context)
        in_block = [*in_block, level] if joins and draw(st.booleans()) else [level]
        level["place_in_block"] = len(in_block)
        if form.kind == "standard-by-altitude":
            level["geopotential_height"] = STANDARD_ALTITUDES.get(level["air_pressure"])
        level.update(draw(winds(unit)))
    return [Record(form.kind, level) for level in levels]


@st.composite
def monthly_levels(draw: st.DrawFn, form: RecordForm, unit: str) -> list[Record]:
    """Return monthly means from 850 hPa upward, as far as they go."""
    records = []
    for pressure in MONTHLY_LEVELS[: draw(st.integers(0, len(MONTHLY_LEVELS)))]:
        speed = draw(st.none() | st.integers(0, 999))
        height = float(round(standard_height(pressure))) + draw(st.integers(-900, 900))
        values = {
            "air_pressure": pressure,
            "geopotential_height": draw(st.none() | st.just(height)),
            "days_without_temperature": draw(st.none() | st.integers(0, 31)),
            **draw(heats()),
            "days_without_wind": draw(st.none() | st.integers(0, 9)),
            "wind_steadiness": draw(st.none() | st.integers(0, 99).map(float)),
            "wind_from_direction": draw(st.none() | st.integers(0, 360).map(float)),
            "wind_speed": None if speed is None else speed * STEPS[unit],
        }
        records.append(Record(form.kind, values))
    return records


@st.composite
def monthly_surface(draw: st.DrawFn, form: RecordForm) -> Record:
    """Return monthly means at the surface."""
    tenths = draw(st.none() | st.integers(1000, 10999))
    values = {
        "times": draw(st.none() | st.sampled_from("1234569")),
        "air_pressure": None if tenths is None else tenths / 10.0,
        **draw(heats()),
    }
    return Record(form.kind, values)


@st.composite
def two_figure_winds(draw: st.DrawFn, unit: str) -> dict[str, Any]:
    """Return a wind that two figures hold exactly: known, calm or missing."""
    speed = draw(st.integers(0, 299))
    if draw(st.integers(0, 9)) == 0:
        return dict.fromkeys(WIND)
    direction = 0.0 if speed == 0 else 10.0 * draw(st.integers(1, 36))
    return {WIND[0]: direction, WIND[1]: speed * STEPS[unit]}


@st.composite
def pibals(draw: st.DrawFn, form: CodeForm, part: Part) -> PartContent:
    """Return what a pilot-balloon report in two-figure winds can say."""
    opening = part.sections[0].records[0].uses[0].group
    identification = dict(opening.decode(PIBAL, part.context()).values)
    unit = str(identification["wind_unit"])
    words = draw(st.lists(st.sampled_from(["DN", "ABI", "1000", "10E", "430"]), max_size=4))
    begin = draw(st.integers(0, 9))
    levels = THOUSANDS_OF_FEET[begin : begin + draw(st.integers(0, 20))]
    surface = {"altitude_units": None, **draw(two_figure_winds(unit))}
    winds_aloft = [
        Record(
            "wind-by-thousand-feet",
            {
                "altitude_units": level,
                "altitude_step": THOUSAND_FEET,
                **draw(two_figure_winds(unit)),
            },
        )
        for level in levels
    ]
    sections = [SectionContent("1", (Record("identification", identification),))]
    if words:
        sections.append(SectionContent("2", tuple(Record("word", {"word": one}) for one in words)))
    sections.append(SectionContent("3", (Record("surface-wind", surface), *winds_aloft)))
    return PartContent(form.number, part.letter, tuple(sections))


VERBATIM = {
    "51515": st.sampled_from(["10164 00012", "10194 26506 22517", "11850 24010", "10181"]),
    "61616": st.sampled_from(["QCW07 01", "OB 12 KESTREL"]),
}
"""Texts of the sections kept as received, by the marker that opens them."""


@st.composite
def contents(draw: st.DrawFn, form: CodeForm, part: Part) -> PartContent:
    """Return what a well-formed part of that declaration can say."""
    if part.letters == PIBAL:
        return draw(pibals(form, part))
    unit = draw(st.sampled_from(["kt", "m s-1"]))
    first: dict[str, Any] = {}
    figure = "/"
    sections: list[SectionContent] = []
    for section in part.sections[1:]:
        if section.verbatim:
            markers = [marker for marker in section.markers if marker in VERBATIM]
            records = [
                Record("verbatim", {"groups": f"{marker} {draw(VERBATIM[marker])}"})
                for marker in markers
                if draw(st.booleans())
            ]
            if records:
                sections.append(SectionContent(section.number, tuple(records)))
            continue
        found: list[Record] = []
        for record in section.records:
            if record.kind == "monthly-surface":
                found.append(draw(monthly_surface(record)))
            elif record.kind == "monthly-level":
                found.extend(draw(monthly_levels(record, unit)))
            elif record.block is not None:
                if not found:
                    found.extend(draw(blocks(part, record, unit)))
            elif record.kind == "standard":
                figure, levels = draw(standard_levels(part, record, unit))
                found.extend(levels)
            elif record.kind == "surface" and not record.numbering:
                if draw(st.booleans()):
                    pressure = draw(_pressures(part))
                    values = draw(level_values(record, unit, pressure))
                    if values["air_temperature"] is not None:
                        values["air_temperature"] = draw(standard_temperatures(pressure))
                    found.append(Record(record.kind, values))
            elif record.none_group is not None:
                found.extend(draw(marked_levels(part, record, unit)))
            elif record.kind == "maximum-wind-by-altitude":
                values = draw(level_values(record, unit, None))
                tens = draw(st.integers(0, 5999))
                # 61616 opens the national groups, so that altitude is coded 10 m higher
                tens += values["top_of_wind_sounding"] and f"6{tens:04d}" in NATIONAL_MARKERS
                values["geopotential_height"] = 10.0 * tens
                found.append(Record(record.kind, values))
            elif record.opens is None and draw(st.booleans()):
                found.append(draw(facts(record)))
        if any(record.numbering for record in section.records):
            found = draw(numbered_levels(part, section, unit))
            if section.number == BY_PRESSURE and any(item.number == "4" for item in sections):
                found = []
        none = any(record.none_group for record in section.records)
        none = none and not found and draw(st.booleans())
        if found or none:
            sections.append(SectionContent(section.number, tuple(found), none))
    opening = part.sections[0].records[0]
    for name in record_elements(opening):
        if name == "wind_unit":
            first[name] = unit
        elif name == "last_wind":
            first[name] = figure
        elif name == "latitude":
            first.update(draw(positions()))
            if "marsden" not in record_elements(opening):
                del first["marsden"]
        elif name in first:
            continue
        else:
            first[name] = draw(FACTS[name])
    identification = SectionContent("1", (Record("identification", first),))
    return PartContent(form.number, part.letter, (identification, *sections))


@st.composite
def look_alikes(draw: st.DrawFn, form: CodeForm, part: Part) -> PartContent:
    """Return a part in which winds, or all values, begin like the levels that may come next.

    No level then has a height: its thousands come from the temperatures, which are any.
    """
    content = draw(contents(form, part))
    speed_step = STEPS[str(content.identification["wind_unit"])]
    tens = [int(figures) for figures in part.standard if 0 < int(figures) < 36]
    warmths = draw(st.booleans())
    sections = []
    for section in content.sections:
        beginnings = ["88", "77", "66"] if section.number == "3" else [*sorted(part.standard), "88"]
        records = []
        for record in section.records:
            values = dict(record.values)
            pressure = values.get("air_pressure")
            if values.get("wind_speed") and draw(st.booleans()):
                values[WIND[0]] = 10.0 * draw(st.sampled_from(tens)) + draw(st.sampled_from((0, 5)))
                values[WIND[1]] = draw(st.integers(1, 499)) * speed_step
            if warmths and "geopotential_height" in values:
                values["geopotential_height"] = None
            # above 10 hPa Id does not tell where there is a wind: usual temperatures help to
            known = isinstance(pressure, float) and pressure >= 10.0
            if warmths and known and "air_temperature" in values and draw(st.booleans()):
                n = int(draw(st.sampled_from(beginnings)) + draw(_figures(1)))
                values["air_temperature"] = (-n if n % 2 else n) / 10.0
                values["dew_point_depression"] = draw(st.none() | depressions)
            records.append(Record(record.kind, values))
        sections.append(replace(section, records=tuple(records)))
    return replace(content, sections=tuple(sections))


@st.composite
def nil_contents(draw: st.DrawFn, form: CodeForm, part: Part) -> PartContent:
    """Return a report that says there is none."""
    content = draw(contents(form, part))
    return replace(content, sections=content.sections[:1], nil=True)


def damaged(draw: st.DrawFn, text: str) -> str:
    """Return a text with some characters or groups lost, changed, doubled or swapped."""
    for _ in range(draw(st.integers(1, 6))):
        if not text:
            break
        place = draw(st.integers(0, len(text) - 1))
        length = draw(st.integers(0, 12))
        kind = draw(st.integers(0, 3))
        if kind == 0:
            text = text[:place] + text[place + length :]
        elif kind == 1:
            text = text[:place] + draw(st.text("0123456789/ =TANIL\n", max_size=7)) + text[place:]
        elif kind == 2:
            text = text[:place] + text[place : place + length] * 2 + text[place + length :]
        else:
            text = text[place:] + text[:place]
    return text
