"""The page of a 6,000-row flight: how long it takes, how large it is, when it is first seen.

Run from the checkout::

    python -m tests.benchmarks.bench_page

Targets: the page made in under 1.5 s, under 2 MB, first paint in under 1 s.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

from encoder.formats.flight_folder import read_flight
from encoder.page import flight_page, review_of_flight

FLIGHT = Path(__file__).resolve().parents[2] / "samples" / "flights" / "harrow-tarn"
ROUNDS = 7
BROWSER = "/usr/bin/chromium"
FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"]


def median(values):
    """The middle one of some values."""
    return sorted(values)[len(values) // 2]


def timed(action):
    """Median seconds of an action, and its result."""
    seconds = []
    result = None
    for _ in range(ROUNDS):
        start = time.perf_counter()
        result = action()
        seconds.append(time.perf_counter() - start)
    return median(seconds), result


def first_paint(path):
    """Seconds to the first content painted, and to the scripts' end, in the test browser."""
    from playwright.sync_api import sync_playwright

    paints, ready = [], []
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=BROWSER, args=FLAGS)
        for _ in range(ROUNDS):
            page = browser.new_page(viewport={"width": 1280, "height": 900})
            page.goto(path.as_uri())
            page.wait_for_selector("html[data-ready=yes]", state="attached")
            page.wait_for_timeout(300)
            paints.append(
                page.evaluate("performance.getEntriesByName('first-contentful-paint')[0].startTime")
            )
            ready.append(
                page.evaluate("performance.getEntriesByType('navigation')[0].loadEventEnd")
            )
            page.close()
        browser.close()
    return median(paints) / 1000.0, median(ready) / 1000.0


def main():
    """Print the figures."""
    flight = read_flight(FLIGHT).raise_for_errors()
    reviewing, review = timed(lambda: review_of_flight(flight))
    making, page = timed(lambda: flight_page(review))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "page.html"
        start = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "encoder", "report", str(FLIGHT), "-o", str(path)], check=True
        )
        command = time.perf_counter() - start
        paint, loaded = first_paint(path)
    size = len(page.encode())
    print(f"rows of the ascent           {len(flight.ascent):>10}")
    print(f"select, encode, verify       {reviewing:>10.3f} s")
    print(f"page from the review         {making:>10.3f} s   (target with the line above: 1.5 s)")
    print(f"aerogram report, whole       {command:>10.3f} s   with start-up")
    print(f"size                         {size / 1e6:>10.2f} MB  (target 2 MB)")
    print(f"first paint                  {paint:>10.3f} s   (target 1 s)")
    print(f"loaded and drawn             {loaded:>10.3f} s")


if __name__ == "__main__":
    main()
