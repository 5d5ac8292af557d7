"""The index page of a bulk run: does it add up, causes, worst files, quarantine."""

from __future__ import annotations

import json

import jsonschema
import pytest

from encoder.page.run_page import MOST_FILES, run_page, unbalanced
from encoder.schemas_folder import schema
from tests.months import run_summary


def test_summary_validates():
    """run.schema.json describes the summary."""
    jsonschema.Draft202012Validator(schema("run")).validate(run_summary())


def test_a_run_that_adds_up():
    """In is out and refused together."""
    assert unbalanced(run_summary()) == []
    assert "Adds up; 19 soundings refused" in run_page(run_summary())
    clean = run_summary(
        accounts=[{"unit": "soundings", "in": 5, "out": 5, "refused": 0}],
        causes=[],
        files=[],
        quarantine=[],
    )
    page = run_page(clean)
    assert "Adds up; nothing refused" in page
    assert "Nothing was refused." in page
    assert "There are none." in page


def test_a_run_that_does_not_add_up():
    """The units that do not are named first."""
    wrong = run_summary(accounts=[{"unit": "levels", "in": 5, "out": 3, "refused": 1}])

    assert unbalanced(wrong) == ["levels"]
    assert "Does not add up: levels" in run_page(wrong)


@pytest.mark.parametrize("state", ["stopped", "running"])
def test_a_run_that_has_not_ended(state):
    """A run that was stopped is not shown as done."""
    page = run_page(run_summary(state=state))

    assert "Finished" not in page
    assert 'class="banner look"' in page


def test_worst_files_come_first():
    """Sorted by refusals, then errors; the rest is counted."""
    files = [
        {
            "source": f"f{i:03d}",
            "in": 9,
            "out": 9 - i % 4,
            "refused": i % 4,
            "errors": 1,
            "warnings": 0,
        }
        for i in range(90)
    ]
    page = run_page(run_summary(files=files))
    part = page[page.index('id="files"') : page.index('id="quarantine"')]

    assert part.index("f003") < part.index("f002")
    assert part.count('scope="row"') == MOST_FILES
    assert f"And {90 - MOST_FILES} more." in part


@pytest.mark.parametrize(
    ("path", "linked"),
    [
        ("quarantine/0001.txt", True),
        ("a b/ü#1.txt", True),
        ("javascript:alert(1)", False),
        ("/etc/passwd", False),
        ("https://example.invalid/x", False),
    ],
)
def test_links_lead_beside_the_page_only(path, linked):
    """Only files beside the page are linked; addresses and absolute paths stay text."""
    record = {"source": "s", "offset": None, "code": "no-report", "message": "m", "file": path}
    page = run_page(run_summary(quarantine=[record]))

    assert ("<a href=" in page) is linked
    assert "ü#1" not in page.partition("<a href=")[2].partition(">")[0]


def test_text_is_escaped_and_bytes_are_the_same():
    """Messages from files stay text; two pages of one summary are the same."""
    hostile = run_summary(sources=["<script>x</script>"], destination="\"'&")
    page = run_page(hostile, "<b>.json")

    assert "<script>x" not in page
    assert "&lt;b&gt;.json" in page
    assert page == run_page(json.loads(json.dumps(hostile)), "<b>.json")
