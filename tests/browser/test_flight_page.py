"""The flight page in a real browser: links both ways, units, sorting, keyboard, room, paper."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from playwright.sync_api import expect

from encoder.page import flight_page, review_of_flight, review_of_report
from encoder.report import decode_reports
from encoder.resolution import KNOT

NAMES = ("harrow-tarn", "halden-dome", "saltmere-point", "damaged", "refused")
WIDTHS = (360, 768, 1280, 2560)


@pytest.mark.parametrize("name", NAMES)
def test_page_starts_without_a_word(open_page, pages, name):
    """No console message, no error, no request; the scripts came to their end."""
    page = open_page(pages[name])

    assert page.evaluate("document.documentElement.dataset.ready") == "yes"
    assert page.locator("#strips svg path.sent").count() > 0


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", ["saltmere-point", "refused"])
def test_page_fits_its_width(open_page, pages, name, width):
    """From a phone to a wide screen nothing is wider than the page."""
    page = open_page(pages[name], width=width)

    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", WIDTHS)
def test_sections_do_not_overlap(open_page, pages, width):
    """No two sections, and no two controls of the head, cover each other."""
    page = open_page(pages["saltmere-point"], width=width)
    boxes = page.evaluate(
        """[...document.querySelectorAll("main > section, .desk > section, .masthead fieldset, h1")]
        .map(e => { const b = e.getBoundingClientRect();
          return [e.id || e.textContent.trim(), b.left, b.top, b.right, b.bottom]; })"""
    )
    over = [
        (one[0], other[0])
        for place, one in enumerate(boxes)
        for other in boxes[place + 1 :]
        if min(one[3], other[3]) - max(one[1], other[1]) > 1
        and min(one[4], other[4]) - max(one[2], other[2]) > 1
    ]

    assert over == []


@pytest.mark.parametrize("width", WIDTHS)
def test_words_on_the_plots_do_not_overlap(open_page, pages, width):
    """Axis labels and titles of a plot keep clear of each other."""
    page = open_page(pages["saltmere-point"], width=width)
    over = page.evaluate(
        """[...document.querySelectorAll("#strips svg, #time-line svg")].flatMap(svg => {
          const boxes = [...svg.querySelectorAll("text")]
            .filter(e => !e.closest("[visibility=hidden]") && !e.getAttribute("transform"))
            .map(e => [e.textContent, e.getBoundingClientRect()]);
          return boxes.flatMap(([a, b], i) => boxes.slice(i + 1)
            .filter(([, c]) => Math.min(b.right, c.right) - Math.max(b.left, c.left) > 1
              && Math.min(b.bottom, c.bottom) - Math.max(b.top, c.top) > 4)
            .map(([d]) => a + " | " + d));
        })"""
    )

    assert over == []


def test_pointing_at_a_group_marks_its_level(open_page, pages, embedded):
    """The group, its kin in all parts, its level on the plots and its row in the table."""
    page = open_page(pages["saltmere-point"])
    data = embedded(page)
    position = next(
        i for i, g in enumerate(data["groups"]) if g["part"] == "TTAA" and g["text"] == "85967"
    )
    level = data["groups"][position]["level"]

    page.locator(f"[data-g='{position}']").hover()

    assert page.locator(".g.on").all_inner_texts() == ["85967"]
    kin = {int(e.get_attribute("data-g")) for e in page.locator(".g.kin").all()}
    assert kin == set(data["levels"][level]["groups"]) - {position}
    assert page.locator("#level-rows tr.on").get_attribute("data-l") == str(level)
    cursors = page.locator("#strips .cursor")
    assert {c.get_attribute("visibility") for c in cursors.all()} == {"visible"}
    assert page.locator("#strips .cursor-text").first.text_content() == "850"
    said = page.locator("#reading").inner_text()
    for figures in data["groups"][position]["figures"]:
        assert figures["sentence"] in said
    for reason in data["levels"][level]["reasons"]:
        assert reason["text"] in said
    for line in data["levels"][level]["rows"]:
        assert str(line) in said


def test_pointing_at_a_level_marks_its_groups_in_all_parts(open_page, pages, embedded):
    """From the table, and from the plot, to the report."""
    page = open_page(pages["saltmere-point"])
    data = embedded(page)
    most = max(range(len(data["levels"])), key=lambda i: len(data["levels"][i]["groups"]))
    wanted = set(data["levels"][most]["groups"])

    page.locator(f"#level-rows tr[data-l='{most}'] .kinds").hover()

    marked = {int(e.get_attribute("data-g")) for e in page.locator(".g.kin").all()}
    assert marked == wanted
    assert len({data["groups"][i]["part"] for i in wanted}) > 1

    page.mouse.move(2, 2)
    assert page.locator(".g.kin").count() == 0

    plot = page.locator("#strips svg").first
    plot.scroll_into_view_if_needed()
    box = plot.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    assert page.locator(".g.kin").count() > 0
    assert page.locator("#readout").inner_text().startswith("line ")


def test_a_click_holds_and_escape_lets_go(open_page, pages):
    """A held group stays marked while the pointer wanders."""
    page = open_page(pages["harrow-tarn"])
    page.locator(".g").nth(10).click()
    held = page.locator(".g.on").inner_text()

    page.locator(".g").nth(20).hover()
    assert page.locator(".g.on").inner_text() == held

    page.locator(".g").nth(10).click()
    page.mouse.move(2, 2)
    assert page.locator(".g.on").count() == 0

    page.locator(".g").nth(10).click()
    page.keyboard.press("Escape")
    assert page.locator(".g.on").count() == 0


def test_keyboard_walk(open_page, pages, embedded):
    """Every control is reached by tabulator and arrows, in the order of the page."""
    page = open_page(pages["harrow-tarn"])
    data = embedded(page)
    stops = []
    for _ in range(40):
        page.keyboard.press("Tab")
        stops.append(
            page.evaluate(
                "(e => e.id || e.name || (e.classList.contains('g') ? 'group' : "
                "e.classList.contains('pick') ? 'pick' : e.className || e.tagName))"
                "(document.activeElement)"
            )
        )
    stops = stops[: stops.index("skip", 1)] if "skip" in stops[1:] else stops
    for stop in ("skip", "wind", "height", "ground", "group", "report-copy", "reading", "strips"):
        assert stop in stops, stop
    assert stops.count("group") == 1
    assert stops.index("group") < stops.index("strips") < stops.index("table-kinds")

    page.locator(".g").first.focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    assert page.locator(".g.on").inner_text() == data["groups"][3]["text"]
    page.keyboard.press("End")
    assert page.locator(".g.on").inner_text() == data["groups"][-1]["text"]

    page.locator("#strips").focus()
    page.keyboard.press("Home")
    first = page.locator("#strips").get_attribute("aria-valuetext")
    page.keyboard.press("ArrowUp")
    second = page.locator("#strips").get_attribute("aria-valuetext")
    assert "surface" in first
    assert first != second
    assert page.locator(".g.kin").count() > 0

    page.locator("#level-rows .pick").first.focus()
    page.keyboard.press("ArrowDown")
    assert page.locator("#level-rows tr.on").get_attribute("data-l") == "1"


@pytest.mark.parametrize(("width", "height"), [(360, 740), (800, 900), (1280, 800)])
def test_the_group_walked_to_stays_in_sight(open_page, pages, width, height):
    """The group that has the focus and what it says are in sight, apart (WCAG 2.2, 2.4.11)."""
    page = open_page(pages["saltmere-point"], width=width)
    page.set_viewport_size({"width": width, "height": height})
    page.focus(".g[tabindex='0']")
    hidden = []
    for place in range(80):
        page.keyboard.press("ArrowRight")
        group, sheet = page.evaluate(
            "() => [document.activeElement, document.querySelector('#reading')].map((e) => {"
            "const r = e.getBoundingClientRect(); return [r.left, r.top, r.right, r.bottom]; })"
        )
        covered = group[1] < sheet[3] and group[3] > sheet[1]
        outside = group[0] < 0 or group[2] > width or group[1] < 0 or group[3] > height
        unread = sheet[1] < 0 or sheet[3] > height + 1
        if covered or outside or unread:
            hidden.append(place)
    assert hidden == []


def test_units_change_what_is_shown_and_not_what_was_sent(open_page, pages, embedded):
    """Knots, m/s, metres, feet; the report keeps its characters."""
    page = open_page(pages["harrow-tarn"])
    data = embedded(page)
    sent = page.locator("#report-parts").inner_text()
    standard = [i for i, level in enumerate(data["levels"]) if level["marks"] == ["std"]]
    index = standard[3]
    level = data["levels"][index]["sent"]
    row = page.locator(f"#level-rows tr[data-l='{index}'] td")

    assert row.nth(7).inner_text() == f"{level['wind_speed'] / KNOT:.0f}"
    page.locator("input[name=wind][value='m/s']").check()
    assert row.nth(7).inner_text() == f"{level['wind_speed']:.1f}"
    assert page.locator("th[data-name=wind_speed] .unit").inner_text() == "m/s"
    page.locator("input[name=height][value=ft]").check()
    assert row.nth(1).inner_text() == f"{level['geopotential_height'] / 0.3048:.0f}"
    assert page.locator("#report-parts").inner_text() == sent


def test_sorting_and_choosing_levels(open_page, pages, embedded):
    """A head sorts up, then down; missing values stay at the end; kinds can be chosen."""
    page = open_page(pages["harrow-tarn"])
    data = embedded(page)
    order = "[...document.querySelectorAll('#level-rows tr')].map(r => Number(r.dataset.l))"
    head = page.locator("th[data-name=air_temperature]")
    values = [level["sent"]["air_temperature"] for level in data["levels"]]
    known = sorted(v for v in values if v is not None)

    head.locator(".sort").click()
    assert head.get_attribute("aria-sort") == "ascending"
    seen = [values[i] for i in page.evaluate(order)]
    assert seen == known + [None] * (len(values) - len(known))

    head.locator(".sort").click()
    assert head.get_attribute("aria-sort") == "descending"
    seen = [values[i] for i in page.evaluate(order)]
    assert seen == known[::-1] + [None] * (len(values) - len(known))

    page.locator("#table-kinds").select_option("w")
    visible = page.locator("#level-rows tr:visible").count()
    assert visible == sum("w" in level["marks"] for level in data["levels"])


def test_values_before_coding(open_page, pages, embedded):
    """The table shows on request what the flight had before it was coded."""
    page = open_page(pages["harrow-tarn"])
    data = embedded(page)
    index = next(i for i, level in enumerate(data["levels"]) if level["marks"] == ["T", "U"])
    page.locator("#table-values").select_option("flown")

    text = page.locator(f"#level-rows tr[data-l='{index}'] .pick").inner_text()

    assert float(text) == pytest.approx(data["levels"][index]["flown"]["air_pressure"], abs=0.005)


def test_copying(open_page, pages, soundings, embedded):
    """The table is copied as tab-separated values, the report as its very characters."""
    page = open_page(pages["harrow-tarn"], permissions=["clipboard-read", "clipboard-write"])
    data = embedded(page)

    page.locator("#report-copy").click()
    expect(page.locator("#told")).to_have_text("The report was copied.")
    assert page.evaluate("navigator.clipboard.readText()") == soundings["harrow-tarn"].report.text

    page.locator("#table-copy").click()
    expect(page.locator("#told")).to_have_text("The table was copied.")
    lines = page.evaluate("navigator.clipboard.readText()").splitlines()
    assert len(lines) == len(data["levels"]) + 1
    assert "Height [m]" in lines[0].split("\t")
    assert len({line.count("\t") for line in lines}) == 1


def test_damage_is_marked_where_it_stands(open_page, pages, embedded):
    """The damaged group carries its finding, and says it when pointed at."""
    page = open_page(pages["damaged"])
    data = embedded(page)
    bad = page.locator(".coded .bad")

    assert "7O484" in bad.all_inner_texts()
    assert "7O484" in page.locator(".notes").first.inner_text()
    page.locator(".g.bad").first.hover()
    position = int(page.locator(".g.on").get_attribute("data-g"))
    for index in data["groups"][position]["diagnostics"]:
        assert data["diagnostics"][index]["message"] in page.locator("#reading").inner_text()


def test_a_repair_is_proposed_with_its_evidence(open_page, pages, embedded):
    """The damaged group shows how it may be read, and the check that speaks for it."""
    page = open_page(pages["damaged"])
    proposed = [item for item in embedded(page)["diagnostics"] if item["code"] == "repair-proposed"]

    assert proposed
    for item in proposed:
        notes = " ".join(page.locator(".notes").all_inner_texts())
        assert f"Proposed: {item['expected']}" in notes
        assert item["message"] in notes


def test_without_scripts_everything_but_the_plots_is_there(browser, pages):
    """Report, meanings, levels and verdict need no script."""
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(pages["saltmere-point"].as_uri())

    assert page.locator("#verdict h2").inner_text() == "May be sent"
    assert page.locator(".coded").count() == 4
    assert page.locator("#level-rows tr").count() > 40
    assert page.locator("noscript").inner_text().startswith("The plots need scripts")
    page.locator("#figures summary").click()
    assert page.locator(".figure-table").first.is_visible()
    context.close()


def test_refusal_names_rule_and_level(open_page, pages):
    """The verdict comes first, says no, and leads to the level."""
    page = open_page(pages["refused"])

    assert page.locator("main section").first.get_attribute("id") == "verdict"
    assert page.locator("#verdict h2").inner_text() == "Must not be sent"
    assert "TTAA section 2, 850.0 hPa" in page.locator("#verdict").inner_text()


def test_a_button_of_a_finding_leads_to_its_level(open_page, soundings, tmp_path):
    """A finding that names a pressure marks that level on the plots."""
    review = soundings["saltmere-point"]

    entry = [e for e in review.made.trace if e.part == "TTBB" and e.symbol == "TTTaDD"][3]
    begin, end = entry.span
    text = review.made.text[:begin] + "31010" + review.made.text[end:]
    reports, found = decode_reports(text)
    path = tmp_path / "page.html"
    path.write_text(flight_page(review_of_flight(review.flight, reports[0], found)))
    page = open_page(path)
    button = page.locator("#verdict button[data-level]").first
    level = button.get_attribute("data-level")

    button.click()

    assert page.locator("#level-rows tr.on").get_attribute("data-l") == level


def test_grounds(open_page, pages):
    """Light and dark follow the system and can be chosen."""
    page = open_page(pages["harrow-tarn"], color_scheme="dark")
    ground = "getComputedStyle(document.documentElement).backgroundColor"
    dark = page.evaluate(ground)
    page.locator("input[name=ground][value=light]").check()
    light = page.evaluate(ground)

    assert dark != light
    page.locator("input[name=ground][value=dark]").check()
    assert page.evaluate(ground) == dark


def test_print_layout(open_page, pages):
    """On paper: no controls, everything visible, light, nothing wider than the sheet."""
    page = open_page(pages["saltmere-point"], width=718, color_scheme="dark")
    page.emulate_media(media="print")

    assert not page.locator(".controls").is_visible()
    assert not page.locator("#reading").is_visible()
    assert page.locator("#level-table").is_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 718
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(27, 35, 41)"
    paper = page.pdf(format="A4", print_background=True)
    assert paper.startswith(b"%PDF")
    assert len(re.findall(rb"/Type\s*/Page\b", paper)) < 7


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["saltmere-point", "refused"])
def test_accessibility(open_page, pages, axe_source, name, scheme):
    """The accessibility checker finds no violation, contrast included."""
    page = open_page(pages[name], color_scheme=scheme)
    page.locator(".g").nth(5).hover()
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    page.evaluate(axe_source)

    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")

    assert [
        (item["id"], [node["html"][:120] for node in item["nodes"][:3]])
        for item in found["violations"]
    ] == []


@pytest.mark.parametrize("name", ["harrow-tarn", "halden-dome", "saltmere-point"])
def test_numbers_drawn_are_the_numbers_of_the_files(open_page, pages, soundings, embedded, name):
    """Read back from the page: rows as in the profile file, levels as decoded, text as sent."""
    page = open_page(pages[name])
    data = embedded(page)
    review = soundings[name]
    ascent = review.flight.ascent
    raw = dict(zip(review.flight.profile.source_row.tolist(), range(10**6), strict=False))
    for column in ("air_pressure", "air_temperature", "wind_speed"):
        drawn = data["profile"][column]
        assert len(drawn) == len(ascent)
        for place, line in enumerate(data["profile"]["lines"]):
            if line == 0:
                continue
            read = float(review.flight.profile[column][raw[line]])
            if np.isnan(read):
                assert drawn[place] is None
            else:
                assert abs(drawn[place] - read) < 1e-4
    for level, sent in enumerate(data["levels"]):
        pressure = float(review.report.levels["air_pressure"][level])
        assert sent["sent"]["air_pressure"] == pressure
    text = "".join(page.locator(".coded").all_text_contents())
    assert "".join(text.split()) == "".join(review.report.text.split())


def test_points_drawn_stand_where_the_numbers_say(open_page, pages, embedded):
    """The curve of temperature, read back from the drawing, gives the temperatures."""
    page = open_page(pages["harrow-tarn"])
    data = embedded(page)
    path = page.locator("#strips svg").first.locator("path.flown.temperature").get_attribute("d")
    points = [tuple(map(float, pair)) for pair in re.findall(r"[ML]([\d.-]+) ([\d.-]+)", path)]
    values = [v for v in data["profile"]["air_temperature"] if v is not None]

    assert len(points) == len(values)
    xs = [x for x, _y in points]
    lowest, highest = values.index(min(values)), values.index(max(values))
    scale = (xs[highest] - xs[lowest]) / (values[highest] - values[lowest])
    worst = max(
        abs(x - xs[lowest] - scale * (value - values[lowest]))
        for x, value in zip(xs, values, strict=True)
    )
    assert worst < 0.25


HOSTILE = "<script>window.hit = 1</script><img src=x onerror='window.hit = 1'>\"'&\u2028"


def test_text_from_files_does_nothing(open_page, soundings, tmp_path):
    """A station, a remark or a report with HTML in it stays text."""

    flight = soundings["harrow-tarn"].flight
    document = {
        **flight.document,
        "balloon": {"type": HOSTILE, "gas": "hydrogen"},
        "remarks": [HOSTILE],
        "termination": {"text": HOSTILE},
    }
    flight = replace(
        flight,
        station=replace(flight.station, name=HOSTILE),
        instrument=replace(flight.instrument, serial=HOSTILE),
        document=document,
    )
    path = tmp_path / "hostile.html"
    path.write_text(flight_page(review_of_flight(flight)), encoding="utf-8")
    page = open_page(path)

    assert page.evaluate("window.hit") is None
    assert page.locator("img").count() == 0
    assert HOSTILE.split('"', maxsplit=1)[0] in page.locator("h1").inner_text()
    assert page.locator("script").count() == 2


def test_hostile_report_does_nothing(open_page, tmp_path):
    """A message with HTML among its groups stays text."""

    text = f"TTAA 17121 90122 99958 04618 24014 {HOSTILE} 92291 02003 25025="
    reports, found = decode_reports(text)
    path = tmp_path / "hostile.html"
    path.write_text(flight_page(review_of_report(reports[0], found)), encoding="utf-8")
    page = open_page(path)

    assert page.evaluate("window.hit") is None
    assert page.locator("img").count() == 0
    assert "<script>" in page.locator(".coded").inner_text()


def test_the_policy_stops_scripts_that_are_not_ours(browser, pages):
    """Whatever gets into the page, the policy lets no other script run and nothing be fetched."""
    page = browser.new_context().new_page()
    said = []
    page.on("console", lambda message: said.append(message.text))
    page.goto(pages["halden-dome"].as_uri())
    page.evaluate(
        """const s = document.createElement("script"); s.textContent = "window.hit = 1";
        document.body.append(s);
        const i = new Image(); i.src = "https://example.invalid/x.png"; document.body.append(i);"""
    )
    page.wait_for_timeout(100)

    assert page.evaluate("window.hit") is None
    assert sum("Content Security Policy" in text for text in said) == 2
    page.context.close()
