"""The month and the index of a run in a real browser."""

from __future__ import annotations

import re

import pytest

from encoder.page.month import month_of
from encoder.page.month_page import month_page
from encoder.page.run_page import run_page
from tests.months import month_soundings, quarantine_records, run_summary, sent_times


@pytest.fixture(scope="module")
def overviews(soundings, tmp_path_factory):
    """Paths of both pages by name."""
    folder = tmp_path_factory.mktemp("overviews")
    found = month_soundings(soundings["saltmere-point"])
    texts = {
        "month": month_page(month_of(found, sent=sent_times(found))),
        "run": run_page(run_summary(), quarantine_records()),
    }
    paths = {}
    for name, text in texts.items():
        paths[name] = folder / f"{name}.html"
        paths[name].write_text(text, encoding="utf-8")
    return paths


@pytest.mark.parametrize("width", [360, 768, 1280, 2560])
@pytest.mark.parametrize("name", ["month", "run"])
def test_pages_fit_their_width(open_page, overviews, name, width):
    """From a phone to a wide screen nothing is wider than the page, and nothing complains."""
    page = open_page(overviews[name], width=width)

    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["month", "run"])
def test_accessibility(open_page, overviews, axe_source, name, scheme):
    """The accessibility checker finds no violation, contrast included."""
    page = open_page(overviews[name], color_scheme=scheme)
    page.evaluate(axe_source)

    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")

    assert [
        (item["id"], [node["html"][:120] for node in item["nodes"][:3]])
        for item in found["violations"]
    ] == []


@pytest.mark.parametrize("name", ["month", "run"])
def test_one_page_prints(open_page, overviews, name):
    """On paper nothing is wider than the sheet."""
    page = open_page(overviews[name], width=718)
    page.emulate_media(media="print")

    assert page.evaluate("document.documentElement.scrollWidth") <= 718
    assert page.pdf(format="A4").startswith(b"%PDF")


def test_a_month_fits_one_sheet(open_page, overviews):
    """A month at a glance is one sheet of A4."""
    page = open_page(overviews["month"])
    paper = page.pdf(prefer_css_page_size=True)

    assert len(re.findall(rb"/Type\s*/Page\b", paper)) == 1
