"""The tables of a page: levels, worst misfits, differing fields, findings, facts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.columns import COLUMNS
from encoder.page.document import marks_of
from encoder.page.links import level_of_path
from encoder.page.markup import HYDROGEN, escape, scrolled, tag
from encoder.resolution import KNOT
from encoder.sounding import station_id

if TYPE_CHECKING:
    from collections.abc import Iterable

    from encoder.diagnostics import Diagnostic
    from encoder.page.carriers import Carrier
    from encoder.page.links import LevelLinks, Links
    from encoder.page.review import Review
    from encoder.profile import SurfaceObservation
    from encoder.verify import Difference, WorstMisfit

NOTHING = "\u2013"
"""Stands for a missing value."""
_NUMBERS = (
    ("air_pressure", "Pressure", "hPa"),
    ("geopotential_height", "Height", "m"),
    ("air_temperature", "T", "°C"),
    ("dew_point_depression", "D", "K"),
    ("dew_point_temperature", "Td", "°C"),
    ("relative_humidity", "U", "%"),
    ("wind_from_direction", "dd", "°"),
    ("wind_speed", "ff", "kt"),
)
_KIND_CHOICES = (
    ("all", "all levels"),
    ("sfc std", "surface and standard"),
    ("T U", "significant temperature and humidity"),
    ("w", "significant wind"),
    ("trop max top", "tropopause and maximum wind"),
)
_ELEMENTS = {
    "air_temperature": ("Temperature", "K"),
    "relative_humidity": ("Relative humidity", "%"),
    "wind_from_direction": ("Wind direction", "°"),
    "wind_speed": ("Wind speed", "m/s"),
    "geopotential_height": ("Height", "m"),
}
_FACTS = (
    ("type", "Balloon"),
    ("mass_g", "Mass of the balloon, g"),
    ("gas", "Gas"),
    ("gas_amount_m3", "Gas used, m³"),
    ("free_lift_g", "Free lift, g"),
    ("payload_g", "Load, g"),
    ("string_length_m", "Length of line, m"),
)


def level_table(review: Review, links: Links) -> str:
    """Return the level table with its choices.

    Parameters
    ----------
    review : Review
    links : Links

    Returns
    -------
    str
        HTML; values as sent, winds in the unit of the report, heights in metres.
    """
    heads = tag("th", _sort("Kinds"), scope="col", aria_sort="none", data_name="kinds")
    unit = "kt" if review.wind_unit == "kt" else "m/s"
    numbers = _columns(review)
    for name, word, own in numbers:
        shown = unit if name == "wind_speed" else own
        label = _sort(word) + " " + tag("span", shown, class_="unit")
        first = "none"
        if name == numbers[0][0]:
            first = "descending" if name == "air_pressure" else "ascending"
        heads += tag("th", label, scope="col", aria_sort=first, data_name=name, class_="number")
    heads += tag(
        "th",
        _sort("Groups"),
        scope="col",
        aria_sort="none",
        data_name="groups",
        class_="number",
    )
    if review.flight is not None:
        heads += tag("th", _sort("Chosen by"), scope="col", aria_sort="none", data_name="rules")
    rows = "".join(_level_row(review, i, link, numbers) for i, link in enumerate(links.levels))
    table = tag(
        "table",
        tag("caption", "Levels of the report, from the ground up", class_="unseen")
        + tag("thead", tag("tr", heads))
        + tag("tbody", rows, id="level-rows"),
        id="level-table",
    )
    return _choices(review) + scrolled(table, "Level table")


def _sort(word: str) -> str:
    return tag("button", escape(word), type="button", class_="sort")


def _choices(review: Review) -> str:
    kinds = "".join(tag("option", escape(word), value=value) for value, word in _KIND_CHOICES)
    values = tag("option", "as sent", value="sent")
    if review.selected is not None:
        values += tag("option", "before coding", value="flown")
    return tag(
        "div",
        tag("label", "Levels " + tag("select", kinds, id="table-kinds"))
        + tag("label", "Values " + tag("select", values, id="table-values"))
        + tag("button", "Copy the table", type="button", id="table-copy"),
        class_="choices",
    )


def _columns(review: Review) -> tuple[tuple[str, str, str], ...]:
    """Return the quantities any level has, as sent or before coding; all where none has any."""
    tables = [review.report.levels, *([] if review.selected is None else [review.selected])]
    used = tuple(
        item for item in _NUMBERS if any(np.isfinite(table[item[0]]).any() for table in tables)
    )
    vertical = {"air_pressure", "geopotential_height"}
    return used if used and used[0][0] in vertical else _NUMBERS


def _level_row(
    review: Review, index: int, link: LevelLinks, numbers: tuple[tuple[str, str, str], ...]
) -> str:
    levels = review.report.levels
    marks = " ".join(marks_of(int(levels.kinds[index])))
    cells = tag("td", escape(marks), class_="kinds")
    for name, _word, _unit in numbers:
        text = _cell(name, float(levels[name][index]), review.wind_unit)
        if name == numbers[0][0]:
            pick = tag("span", text, class_="pick", role="button", tabindex="-1")
            cells += tag("th", pick, scope="row", class_="number")
        else:
            cells += tag("td", text, class_="number")
    cells += tag("td", str(len(link.groups)), class_="number")
    if review.flight is not None:
        rules = ", ".join(dict.fromkeys(reason.rule for reason in link.reasons))
        cells += tag("td", escape(rules) or NOTHING, class_="rules")
    return tag("tr", cells, data_l=index)


def _cell(name: str, value: float, wind_unit: str) -> str:
    if not np.isfinite(value):
        return NOTHING
    if name == "air_pressure":
        return f"{value:.1f}" if value < 100.0 else f"{value:.0f}"
    if name == "wind_speed":
        return f"{value / KNOT:.0f}" if wind_unit == "kt" else f"{value:.1f}"
    whole = name in ("geopotential_height", "relative_humidity", "wind_from_direction")
    text = f"{value:.0f}" if whole else f"{value:.1f}"
    return text.replace("-", "\u2212")


def misfit_table(worst: Iterable[WorstMisfit]) -> str:
    """Return the worst misfit of each element beside its limit."""
    rows = ""
    for item in worst:
        word, unit = _ELEMENTS.get(item.element, (item.element, item.unit))
        place = "at a level" if item.row is None else f"line {item.row}"
        place = "surface" if item.row == 0 else place
        rows += tag(
            "tr",
            tag("th", escape(word), scope="row")
            + tag("td", f"{item.misfit:.2f} {unit}", class_="number")
            + tag("td", f"{item.limit:.2f} {unit}", class_="number")
            + tag("td", _bar(item.misfit, item.limit))
            + tag("td", f"{item.place}, {place}")
            + tag("td", "within" if item.within else tag("strong", "too large")),
        )
    heads = "".join(
        tag("th", word, scope="col")
        for word in ("Worst misfit", "Found", "Limit", "Share", "Where", "Judgement")
    )
    table = tag("table", tag("thead", tag("tr", heads)) + tag("tbody", rows), class_="misfits")
    return scrolled(table, "Worst misfits")


def _bar(value: float, limit: float) -> str:
    share = min(value / limit, 1.25) if limit > 0 else 1.25
    style = "bar" if share <= 1.0 + 1e-9 else "bar over"
    return (
        f'<svg viewBox="0 0 100 10" class="bar-box" width="100" height="10" aria-hidden="true">'
        f'<rect class="{style}" width="{80.0 * share:.1f}" height="10"></rect>'
        f'<path class="limit" d="M80 0V10"></path></svg>'
    )


def difference_table(differences: Iterable[Difference]) -> str:
    """Return the fields that differ from what encoding the flight gives."""
    rows = "".join(
        tag(
            "tr",
            tag("td", escape(str(item.severity)), class_=f"severity {item.severity}")
            + tag("td", escape(f"{item.part} section {item.section}, {item.record}"))
            + tag("td", escape(_word(item.element)))
            + tag("td", escape(_shown(item.reported)))
            + tag("td", escape(_shown(item.expected))),
        )
        for item in differences
    )
    heads = "".join(
        tag("th", word, scope="col") for word in ("Weight", "Where", "Field", "Report", "Flight")
    )
    table = tag("table", tag("thead", tag("tr", heads)) + tag("tbody", rows), class_="plain-table")
    return scrolled(table, "Fields that differ")


def _word(element: str) -> str:
    column = COLUMNS.get(element)
    return f"{element.replace('_', ' ')} [{column.unit}]" if column else element.replace("_", " ")


def _shown(value: Any) -> str:
    if value is None:
        return "missing"
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def findings(review: Review, wanted: Iterable[Diagnostic]) -> str:
    """Return findings as a list, each with its place, what to do and the rule behind it."""
    items = []
    for item in wanted:
        level = level_of_path(review, item)
        words = tag("b", escape(str(item.severity)), class_=f"severity {item.severity}")
        words += " " + escape(item.message)
        where = item.where()
        if where:
            words += " " + tag("span", f"[{escape(where)}]", class_="quiet")
        if level is not None:
            words += " " + tag(
                "button",
                f"Show {_place(review, level)}",
                type="button",
                data_level=level,
                class_="to-level",
            )
        grounds = " ".join(text for text in (item.hint, item.source) if text)
        if grounds:
            words += tag("div", escape(grounds), class_="quiet")
        items.append(tag("li", words))
    return tag("ul", "".join(items), class_="notes") if items else ""


def _place(review: Review, level: int) -> str:
    """Return the pressure of a level in words, its height where it has none."""
    levels = review.report.levels
    pressure, height = levels["air_pressure"][level], levels["geopotential_height"][level]
    if np.isfinite(pressure):
        return f"{pressure:g} hPa"
    return f"{height:g} m" if np.isfinite(height) else "the surface"


def _surface(surface: SurfaceObservation) -> str:
    """Return the surface observation in words, without what was not observed."""
    values = (
        (surface.air_pressure, "g", " hPa"),
        (surface.air_temperature, "g", " °C"),
        (surface.relative_humidity, ".0f", " %"),
        (surface.wind_from_direction, "g", "°"),
        (surface.wind_speed, "g", " m/s"),
    )
    return ", ".join(
        format(value, form) + unit for value, form, unit in values if np.isfinite(value)
    )


def carrier_table(carrier: Carrier) -> str:
    """Return what a message or a file says of each level, one row a level."""
    heads = tag("th", "Place", scope="col") + tag("th", "Level", scope="col", class_="number")
    for column in carrier.columns:
        words = f"{column.words} [{column.unit}]" if column.unit else column.words
        heads += tag("th", tag("code", escape(column.name)) + "<br>" + escape(words), scope="col")
    rows = ""
    for row in carrier.rows:
        cells = tag("th", escape(row.place), scope="row") + tag(
            "td", NOTHING if row.level is None else "", class_="number at-level"
        )
        for value in row.cells:
            if isinstance(value, str):
                cells += tag("td", escape(value))
            else:
                cells += tag("td", NOTHING if value is None else f"{value:.10g}", class_="number")
        rows += tag("tr", cells, data_l=row.level)
    table = tag("table", tag("thead", tag("tr", heads)) + tag("tbody", rows), class_="carrier")
    title = f"{carrier.kind}: {carrier.name}"
    return tag("h3", escape(title)) + scrolled(table, title)


def facts(review: Review) -> str:
    """Return who, where, with what, and which columns were computed."""
    flight = review.flight
    if flight is None:
        return ""
    station, instrument, ascent = flight.station, flight.instrument, flight.ascent
    pairs: list[tuple[str, object]] = [
        ("Station", f"{station.name}, {station_id(station)}"),
        ("WIGOS identifier", station.wigos_id),
        ("Position", f"{station.latitude:.4f}°, {station.longitude:.4f}°, {station.elevation:g} m"),
        ("Nominal time", f"{flight.nominal_time:%Y-%m-%d %H:%M} UTC"),
        ("Release", f"{flight.release_time:%Y-%m-%d %H:%M:%S} UTC"),
        ("Surface", _surface(flight.surface)),
        ("Rows of the ascent", len(ascent)),
        ("Radiosonde type (C-2)", instrument.radiosonde_type),
        ("Serial", instrument.serial),
        ("Tracking (C-7)", instrument.tracking),
        ("Radiation correction (3849)", instrument.correction),
        ("Vapour pressure", flight.vapour_pressure_formula),
        *((f"Computed: {name.replace('_', ' ')}", how) for name, how in ascent.computed.items()),
    ]
    balloon = flight.document.get("balloon") or {}
    pairs.extend((word, balloon.get(key)) for key, word in _FACTS)
    ending = flight.document.get("termination") or {}
    pairs.append(("Ended by", ", ".join(str(v) for v in ending.values() if v) or None))
    pairs.extend(("Remark", text) for text in flight.document.get("remarks") or ())
    listed = "".join(
        tag("div", tag("dt", escape(word)) + tag("dd", escape(value)))
        for word, value in pairs
        if value is not None and value != ""
    )
    gas = balloon.get("gas") or balloon.get("gas_amount_m3")
    note = tag("p", escape(HYDROGEN), class_="caution", role="note") if gas else ""
    return tag("dl", listed, class_="facts") + note
