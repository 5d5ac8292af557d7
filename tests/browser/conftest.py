"""Pages made once, a headless browser started once, and an ear for what it complains about."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright

from encoder.formats.flight_folder import read_flight
from encoder.page import flight_page, review_of_flight, review_of_report
from encoder.report import decode_reports

SAMPLES = Path(__file__).resolve().parents[2] / "samples" / "flights"
BROWSER = "/usr/bin/chromium"
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
AXE = (
    Path(__file__).resolve().parent / "node_modules" / "axe-core" / "axe.min.js",
    Path("/usr/share/nodejs/axe-core/axe.min.js"),
)

DAMAGED = """TTAA 17121 90122 99958 04618 24014 00845 ///// ///// 92291 02003
25025 85967 02703 25031 7O484 11308 26539 50501 26319 26552 40659
37112 26566 30851 49162 26582 25971 48177 26586 20118 49580 27063
31313 59008 81124=
"""


@pytest.fixture(scope="session")
def browser():
    """One browser with an empty profile for all tests."""
    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=BROWSER, args=FLAGS)
        yield started
        started.close()


@pytest.fixture(scope="session")
def soundings():
    """The bundled flights and a damaged report alone."""
    found = {
        name: review_of_flight(read_flight(SAMPLES / name).raise_for_errors())
        for name in ("harrow-tarn", "halden-dome", "saltmere-point")
    }
    reports, diagnostics = decode_reports(DAMAGED)
    found["damaged"] = review_of_report(reports[0], diagnostics)
    broken = found["saltmere-point"].made.text.replace("85967 02703", "85967 09903")
    reports, diagnostics = decode_reports(broken)
    found["refused"] = review_of_flight(found["saltmere-point"].flight, reports[0], diagnostics)
    return found


@pytest.fixture(scope="session")
def pages(soundings, tmp_path_factory):
    """Paths of the pages by name."""
    folder = tmp_path_factory.mktemp("pages")
    paths = {}
    for name, review in soundings.items():
        paths[name] = folder / f"{name}.html"
        paths[name].write_text(flight_page(review), encoding="utf-8")
    return paths


@pytest.fixture
def open_page(browser, request):
    """Open a file; at the end of the test nothing may have been complained about or fetched."""
    complaints, contexts = [], []

    def opened(path, *, width=1280, height=900, **options):
        context = browser.new_context(viewport={"width": width, "height": height}, **options)
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda said: complaints.append(f"{said.type}: {said.text}"))
        page.on("pageerror", lambda fault: complaints.append(f"error: {fault}"))
        page.on(
            "request",
            lambda asked: (
                None if asked.url == path.as_uri() else complaints.append(f"request: {asked.url}")
            ),
        )
        page.goto(path.as_uri())
        return page

    yield opened
    for context in contexts:
        context.close()
    assert complaints == []


@pytest.fixture(scope="session")
def axe_source():
    """The accessibility checker; ``npm install --prefix tests/browser`` brings it."""
    for path in AXE:
        if path.is_file():
            return path.read_text(encoding="utf-8")
    pytest.fail("axe-core is not installed: npm install --prefix tests/browser")
    return ""


@pytest.fixture
def embedded():
    """Read the data back out of a page."""

    def read(page):
        return json.loads(page.evaluate("document.getElementById('data').textContent"))

    return read
