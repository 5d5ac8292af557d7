"""The month as a page: counts, a chart of the heights reached, a calendar of flights and parts."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from encoder.page.markup import CAUTION, escape, page, scrolled, tag
from encoder.page.month import REACHED
from encoder.physics import standard_atmosphere_pressure

if TYPE_CHECKING:
    from datetime import datetime

    from encoder.page.month import Month, MonthSounding, PartState

_WIDTH, _HEIGHT = 1000, 330
_LEFT, _RIGHT, _TOP, _BOTTOM = 46, 12, 16, 40
_LOW, _HIGH = 1050.0, 5.0
_LABELS = {
    "soundings": "flights",
    "missing": "flights missing",
    "reached_100_hpa": "reached 100 hPa",
    "reached_30_hpa": "reached 30 hPa",
    "reached_10_hpa": "reached 10 hPa",
    "parts_missing": "parts missing",
    "parts_late": "parts late",
    "errors": "errors in the text",
    "warnings": "warnings",
    "replaced": "corrected since",
}
_GRAVE = frozenset({"missing", "parts_missing", "parts_late", "errors"})


def month_page(month: Month) -> str:
    """Return the page of a month.

    Parameters
    ----------
    month : Month

    Returns
    -------
    str
        HTML without scripts, self-contained, with the data of the month as JSON inside.
    """
    title = f"{month.name} {month.year:04d}-{month.month:02d}"
    hours = ", ".join(f"{hour:02d}" for hour in month.hours) or "none"
    line = f"{month.year:04d}-{month.month:02d} · flights expected at {hours} UTC"
    head = tag(
        "header",
        tag(
            "div",
            tag("h1", f"{escape(month.name)} {tag('span', escape(month.index), class_='index')}")
            + tag("p", escape(line), class_="when"),
        ),
        class_="masthead",
    )
    body = [
        head,
        "<main>\n",
        _section("counts", "The month in numbers", _counts(month)),
        _section("heights", "Heights reached", _chart(month) + _chart_words(month)),
        _section("calendar", "Flights and parts", _calendar(month) + _calendar_words(month)),
        "</main>\n",
        tag("footer", tag("p", escape(CAUTION), class_="caution", role="note")),
    ]
    return page(title, body, sheets=("base", "lists"), data=month.as_json())


def _section(name: str, title: str, content: str) -> str:
    head = tag("h2", escape(title), id=f"{name}-title")
    return tag("section", head + content, id=name, aria_labelledby=f"{name}-title") + "\n"


def _counts(month: Month) -> str:
    items = ""
    for name, count in month.totals().items():
        if name == "parts_late" and not month.sent_known:
            value, style = "not known", "count"
        else:
            value, style = str(count), "count grave" if count and name in _GRAVE else "count"
        items += tag(
            "div", tag("dt", escape(_LABELS[name])) + tag("dd", escape(value)), class_=style
        )
    return tag("dl", items, class_="counts")


# --- chart ------------------------------------------------------------------------------------


def _y(pressure: float) -> float:
    share = math.log(_LOW / min(max(pressure, _HIGH), _LOW)) / math.log(_LOW / _HIGH)
    return _HEIGHT - _BOTTOM - share * (_HEIGHT - _BOTTOM - _TOP)


def _x(month: Month, time: datetime) -> float:
    share = (time.day - 1 + time.hour / 24.0 + 0.25) / month.days
    return _LEFT + share * (_WIDTH - _LEFT - _RIGHT)


def _chart(month: Month) -> str:
    base = _HEIGHT - _BOTTOM
    pieces = []
    for pressure in (1000.0, 500.0, 200.0, *REACHED):
        y = _y(pressure)
        style = "aim" if pressure in REACHED else "grid"
        pieces.append(f'<path class="{style}" d="M{_LEFT} {y:.1f}H{_WIDTH - _RIGHT}"></path>')
        pieces.append(f'<text class="end" x="{_LEFT - 6}" y="{y + 4:.1f}">{pressure:g}</text>')
    pieces.append(f'<text class="end" x="{_LEFT - 6}" y="{_TOP - 3}">hPa</text>')
    for day in range(1, month.days + 1):
        x = _LEFT + (day - 0.5) / month.days * (_WIDTH - _LEFT - _RIGHT)
        pieces.append(f'<text class="middle" x="{x:.1f}" y="{base + 30}">{day}</text>')
    for item in month.soundings:
        x = _x(month, item.nominal_time)
        top = _drawn_top(item)
        if math.isnan(top):
            pieces.append(_cross(x, base))
            continue
        y = _y(top)
        pieces.append(f'<path class="stem" d="M{x:.1f} {base}V{y:.1f}"></path>')
        pieces.append(_head(x, y, item))
    pieces.extend(_cross(_x(month, time), base + 8.0) for time in month.missing)
    pieces.append(f'<path class="frame" d="M{_LEFT} {base}H{_WIDTH - _RIGHT}"></path>')
    return scrolled(
        f'<svg viewBox="0 0 {_WIDTH} {_HEIGHT}" class="chart" role="img" '
        f'aria-label="Least pressure reached by each flight; the calendar below has the numbers">'
        + "".join(pieces)
        + "</svg>",
        "Chart of the heights reached",
    )


def _drawn_top(item: MonthSounding) -> float:
    """Return the pressure a stem ends at; of heights alone that of the standard atmosphere."""
    if math.isnan(item.top_pressure) and not math.isnan(item.top_height):
        return float(standard_atmosphere_pressure(item.top_height))
    return item.top_pressure


def _head(x: float, y: float, item: MonthSounding) -> str:
    if any(part.expected and not part.given for part in item.parts):
        return f'<path class="lack" d="M{x:.1f} {y - 6:.1f}l5 10h-10z"></path>'
    if item.errors or any(part.late for part in item.parts):
        return (
            f'<rect class="fault" x="{x - 4.5:.1f}" y="{y - 4.5:.1f}" width="9" height="9"></rect>'
        )
    return f'<circle class="whole" cx="{x:.1f}" cy="{y:.1f}" r="4.5"></circle>'


def _cross(x: float, y: float) -> str:
    return f'<path class="cross" d="M{x - 4:.1f} {y - 4:.1f}l8 8m0 -8l-8 8"></path>'


def _chart_words(month: Month) -> str:
    by_height = any(
        math.isnan(item.top_pressure) and not math.isnan(item.top_height)
        for item in month.soundings
    )
    more = " Of winds by height alone it ends at the pressure of the standard atmosphere."
    return tag(
        "p",
        "Each stem ends at the least pressure reached: a disc for a complete report, a square "
        "for one with errors or a late part, a triangle where a part is missing; a cross is a "
        "flight that was expected and is not there." + (more if by_height else ""),
        class_="quiet",
    )


# --- calendar ---------------------------------------------------------------------------------


def _calendar(month: Month) -> str:
    columns = sorted({item.nominal_time.hour for item in month.soundings} | set(month.hours))
    by_time: dict[tuple[int, int], list[MonthSounding]] = {}
    for item in month.soundings:
        place = (item.nominal_time.day, item.nominal_time.hour)
        by_time.setdefault(place, []).append(item)
    missing = {(time.day, time.hour) for time in month.missing}
    head = tag("th", "Day", scope="col") + "".join(
        tag("th", f"{hour:02d} UTC", scope="col") for hour in columns
    )
    rows = ""
    for day in range(1, month.days + 1):
        cells = tag("th", str(day), scope="row", class_="number")
        for hour in columns:
            found = by_time.get((day, hour), [])
            if found:
                cells += tag("td", "".join(map(_cell, found)))
            elif (day, hour) in missing:
                cells += tag("td", tag("span", "no flight", class_="lost"))
            else:
                cells += tag("td", "")
        rows += tag("tr", cells)
    table = tag("table", tag("thead", tag("tr", head)) + tag("tbody", rows), class_="calendar")
    return scrolled(table, "Calendar of the month")


def _cell(item: MonthSounding) -> str:
    words = [] if math.isnan(item.top_pressure) else [f"{item.top_pressure:g} hPa"]
    if not math.isnan(item.top_height):
        above = "" if item.height_at_top else "above "
        words.append(f"{above}{item.top_height / 1000.0:.1f} km")
    top = ", ".join(words) or "no level"
    parts = "".join(_part(part) for part in item.parts if part.expected or part.given)
    counts = [
        f"{count} {word}{'' if count == 1 else 's'}"
        for count, word in ((item.errors, "error"), (item.warnings, "warning"))
        if count
    ]
    found = tag("span", escape(", ".join(counts)), class_="quiet") if counts else ""
    return tag("div", f"{escape(top)} {parts} {found}", class_="flight")


def _part(part: PartState) -> str:
    if not part.given:
        return tag("span", f"{part.letter} missing", class_="part lacking")
    if part.late and part.minutes is not None:
        return tag("span", f"{part.letter} late {_signed(part.minutes)} min", class_="part late")
    return tag("span", part.letter, class_="part")


def _signed(minutes: float) -> str:
    return f"{minutes:+.0f}".replace("-", "\u2212")


def _calendar_words(month: Month) -> str:
    if month.sent_known:
        first, second = month.deadlines
        words = (
            f"Late: sent more than {first} min (A, B) or {second} min (C, D) after the nominal "
            "time; a part without a known time of sending is not judged."
        )
    else:
        words = "When parts were sent is not known here, so nothing is called late."
    return tag("p", escape(words), class_="quiet")
