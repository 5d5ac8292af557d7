"""The flight page: may this be sent, does it carry the flight, what does each group say."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.codes import FORMS
from encoder.diagnostics import Severity
from encoder.page.coded_text import coded_report, figures_list
from encoder.page.document import page_document
from encoder.page.links import Links, join_links
from encoder.page.markup import CAUTION, escape, page, scrolled, tag
from encoder.page.review import once
from encoder.page.tables import (
    carrier_table,
    difference_table,
    facts,
    findings,
    level_table,
    misfit_table,
)
from encoder.page.times import DEADLINES, signed
from encoder.sounding import station_id

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.page.carriers import Carrier
    from encoder.page.review import Review
    from encoder.verify import Verdict

SHOWN = 5
"""Findings told at once under the verdict; the rest open on demand."""
_SIGNS = {
    "send": "M4 13L10 19L21 6",
    "look": "M12.5 3L23 21H2ZM12.5 9V15M12.5 17.4V18.6",
    "stop": "M8 2.5H17L22.5 8V17L17 22.5H8L2.5 17V8ZM8 8L17 17M17 8L8 17",
    "none": "M12.5 3A9.5 9.5 0 1 0 12.6 3ZM12.5 11V18M12.5 7V8.4",
}


def flight_page(
    review: Review,
    *,
    deadlines: tuple[int, int] = DEADLINES,
    carriers: Sequence[Carrier] = (),
    links: Links | None = None,
) -> str:
    """Return the page of a sounding.

    Parameters
    ----------
    review : Review
        From :func:`encoder.page.review.review_of_flight` or ``review_of_report``.
    deadlines : tuple of int
        Minutes after the nominal time by which parts A and B, and C and D, are to be sent.
    carriers : sequence of Carrier
        BUFR messages and netCDF files that carry the same sounding.
    links : Links, optional
        From :func:`encoder.page.links.join_links`, if at hand.

    Returns
    -------
    str
        HTML, self-contained, the same bytes for the same sounding.
    """
    links = links or join_links(review)
    document = page_document(review, deadlines=deadlines, links=links, carriers=carriers)
    title = _title(review)
    body = [
        tag("a", "Skip to the report", href="#report", class_="skip") + "\n",
        _masthead(review, document),
        "<main>\n",
        _verdict(review),
        _times(document["times"]),
        tag("div", _report(review, links) + _views(review), class_="desk"),
        _section("levels", "Levels", level_table(review, links)),
        _section("carriers", "Other carriers", "".join(map(carrier_table, carriers))),
        _judged(review),
        _findings(review),
        _section(
            "figures",
            "Figure by figure",
            tag(
                "details",
                tag("summary", "Every group in words")
                + scrolled(figures_list(links), "Every group in words"),
            ),
        ),
        _section("facts", "Flight", facts(review)),
        "</main>\n",
        _footer(),
    ]
    return page(title, body, sheets=("base", "flight"), data=document, scripted=True)


def _section(name: str, title: str, content: str) -> str:
    if not content:
        return ""
    head = tag("h2", escape(title), id=f"{name}-title")
    return tag("section", head + content, id=name, aria_labelledby=f"{name}-title") + "\n"


def _title(review: Review) -> str:
    flight = review.flight
    if flight is None:
        said = review.report.parts[0].content.identification
        return f"Report of {said.get('station') or 'an unknown station'}"
    return f"{flight.station.name} {flight.nominal_time:%Y-%m-%d %H} UTC"


def _masthead(review: Review, document: dict[str, Any]) -> str:
    flight, head = review.flight, document["head"]
    form = FORMS[review.report.form]
    name = "Report" if flight is None else flight.station.name
    known = head["station"] if flight is None else station_id(flight.station)
    known = known or "unknown station"
    number = "" if known == name else tag("span", escape(known), class_="index")
    hour = head["hour"]
    when = (
        f"day {escape(head['day'] or '?')}, {hour:02d} UTC"
        if flight is None and isinstance(hour, int)
        else "time unknown"
        if flight is None
        else f"{flight.nominal_time:%Y-%m-%d %H} UTC"
    )
    unit = "knots" if review.wind_unit == "kt" else "m/s"
    line = (
        f"{when} · {escape(form.number)} {escape(form.name)} · "
        f"{escape(' '.join(head['parts']))} · winds sent in {unit}"
    )
    who = tag("h1", f"{escape(name)} {number}") + tag("p", line, class_="when")
    kt = review.wind_unit == "kt"
    controls = (
        _radios("wind", "Wind", (("kt", "kt", kt), ("m/s", "m/s", not kt)))
        + _radios("height", "Height", (("m", "m", True), ("ft", "ft", False)))
        + _radios(
            "ground",
            "Page",
            (("", "as system", True), ("light", "light", False), ("dark", "dark", False)),
        )
    )
    return tag(
        "header",
        tag("div", who, class_="who")
        + tag("div", controls, class_="controls", role="group", aria_label="Shown as"),
        class_="masthead",
    )


def _radios(name: str, word: str, choices: tuple[tuple[str, str, bool], ...]) -> str:
    fields = "".join(
        "<label>"
        f'<input type="radio" name="{name}" value="{escape(value)}"{" checked" if on else ""}>'
        + tag("span", escape(text))
        + "</label>"
        for value, text, on in choices
    )
    return tag("fieldset", tag("legend", escape(word)) + fields)


def _verdict(review: Review) -> str:
    word, headline, line = _headline(review.verdict, review)
    sign = (
        '<svg viewBox="0 0 25 25" width="44" height="44" class="sign" aria-hidden="true">'
        f'<path d="{_SIGNS[word]}"></path></svg>'
    )
    head = tag("h2", escape(headline), id="verdict-title")
    banner = tag("div", sign + tag("div", head + tag("p", escape(line))), class_=f"banner {word}")
    wanted = [
        item
        for item in (review.verdict.diagnostics if review.verdict else review.diagnostics)
        if item.severity is not Severity.NOTE
    ]
    shown = once(wanted)
    reasons = findings(review, shown[:SHOWN])
    if len(shown) > SHOWN:
        rest = findings(review, shown[SHOWN:])
        reasons += tag("details", tag("summary", f"And {len(shown) - SHOWN} more") + rest)
    if review.verdict is not None:
        grave = [d for d in review.verdict.differences if d.severity is Severity.ERROR]
        if grave:
            reasons += tag("h3", "Fields that must match the flight and do not")
            reasons += difference_table(grave[:SHOWN])
            if len(grave) > SHOWN:
                rest = difference_table(grave[SHOWN:])
                reasons += tag("details", tag("summary", f"And {len(grave) - SHOWN} more") + rest)
    return tag("section", banner + reasons, id="verdict", aria_labelledby="verdict-title") + "\n"


def _headline(verdict: Verdict | None, review: Review) -> tuple[str, str, str]:
    errors = sum(1 for item in review.diagnostics if item.severity is Severity.ERROR)
    if verdict is None:
        line = "Read without its flight, so nobody can say whether it is true to the balloon. "
        line += f"{_count(errors, 'error')} in the text." if errors else "The text is well formed."
        return ("stop" if errors else "none", "Not judged: a report alone", line)
    parts = ", ".join(verdict.parts)
    if not verdict.may_be_sent:
        return (
            "stop",
            "Must not be sent",
            f"{_count(verdict.errors(), 'error')} in {parts}: below, which rule at which level.",
        )
    rows = f"{verdict.rows_judged} rows of the flight compared"
    if verdict.warnings():
        return (
            "look",
            f"May be sent after a look at {_count(verdict.warnings(), 'warning')}",
            f"{parts}; {rows}.",
        )
    return ("send", "May be sent", f"{parts}; {rows}, every one within its limits.")


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def _times(times: dict[str, Any] | None) -> str:
    if times is None:
        return ""
    moments = "".join(
        tag(
            "li",
            f"{escape(item['label'])} {tag('b', escape(item['time'][11:16]))} "
            + tag("span", _offset(item["minutes"]), class_="quiet"),
            class_="due" if item["name"].startswith("deadline") else None,
        )
        for item in times["moments"]
    )
    sentences = "".join(
        tag("p", escape(item["text"]), class_=None if item["as_it_should_be"] else "late")
        for item in times["sentences"]
    )
    first, last = times["window"]
    note = (
        f"Release window {signed(first)} to {signed(last)} min ({times['window_source']}). "
        f"Times due: {times['deadline_source']}."
    )
    return _section(
        "times",
        "Times",
        tag("div", "", id="time-line")
        + tag("ol", moments, class_="moments")
        + tag("div", sentences, class_="said")
        + tag("p", escape(note), class_="quiet"),
    )


def _offset(minutes: float) -> str:
    sign = "\u2212" if minutes < 0 else "+"
    return f"{sign}{abs(minutes):.0f} min"


def _report(review: Review, links: Links) -> str:
    empty = (
        "Point at a group to read its figures and see its level; arrow keys walk from group to "
        "group, a click or Enter holds, Escape lets go."
    )
    copy = tag("button", "Copy the report", type="button", id="report-copy")
    reading = tag(
        "div",
        tag("p", escape(empty), class_="quiet"),
        id="reading",
        aria_label="What the marked group says",
        aria_live="polite",
        role="region",
        tabindex="0",
        data_empty=empty,
    )
    return tag(
        "section",
        tag("h2", "Report as sent", id="report-title")
        + tag("div", coded_report(review, links), id="report-parts")
        + tag("p", copy + " " + tag("span", "", id="told", role="status"), class_="choices")
        + reading,
        id="report",
        aria_labelledby="report-title",
    )


def _views(review: Review) -> str:
    if review.flight is None:
        caption = "Levels of the report and the straight segments a reader draws between them."
    else:
        caption = (
            "Thin: every row of the flight. Dark, broken: straight segments between the decoded "
            "levels. Tint: what the regulations tolerate around them. Narrow boxes: misfit as a "
            "share of its limit."
        )
    if np.any(np.isnan(review.report.levels["air_pressure"])):
        caption += " Levels given by height alone are placed by the standard atmosphere."
    strips = tag(
        "div",
        "",
        id="strips",
        role="slider",
        tabindex="0",
        aria_label="Profile by pressure; arrow keys walk through the levels",
        aria_orientation="vertical",
        aria_valuemin="1",
        aria_valuemax="1",
        aria_valuenow="1",
    )
    by_height = not np.any(np.isfinite(review.report.levels["air_pressure"]))
    numbers = "heights in m" if by_height else "pressures in hPa"
    lines = (
        "Lines: dry adiabats long, moist adiabats dashed, mixing ratio (g/kg) dotted; surface to "
        "100 hPa."
    )
    return tag(
        "section",
        tag("h2", "Profile", id="views-title")
        + tag("p", escape(caption), class_="quiet")
        + tag("div", "", id="legend")
        + strips
        + tag("p", "", id="readout", class_="readout")
        + "<noscript><p>The plots need scripts, which this browser does not run; "
        "everything else is here.</p></noscript>"
        + tag(
            "div",
            tag(
                "figure",
                tag("figcaption", tag("b", "Thermodynamic view. ") + escape(lines))
                + tag("div", "", id="thermodynamic"),
            )
            + tag(
                "figure",
                tag(
                    "figcaption",
                    tag("b", "Hodograph. ")
                    + f"Ends of the wind vectors, north up; the numbers are {numbers}.",
                )
                + tag("div", "", id="hodograph"),
            ),
            class_="pair",
        ),
        id="views",
        aria_labelledby="views-title",
    )


def _judged(review: Review) -> str:
    verdict = review.verdict
    if verdict is None:
        return ""
    content = (
        misfit_table(verdict.worst)
        if verdict.worst
        else tag("p", "No curve could be judged: parts B and D carry the significant levels.")
    )
    small = [item for item in verdict.differences if item.severity is not Severity.ERROR]
    if small:
        content += tag("h3", "Fields that differ from encoding the flight")
        content += difference_table(small)
    return _section("judged", "How well the report carries the flight", content)


def _findings(review: Review) -> str:
    judged = set(review.verdict.diagnostics) if review.verdict else set(review.diagnostics)
    rest = [
        item for item in review.diagnostics if item not in judged or item.severity is Severity.NOTE
    ]
    return _section("findings", "Further findings", findings(review, rest))


def _footer() -> str:
    return tag(
        "footer",
        tag("p", escape(CAUTION), class_="caution", role="note")
        + tag("p", "Made by Aerogram. The data drawn stand in this file as JSON."),
    )
