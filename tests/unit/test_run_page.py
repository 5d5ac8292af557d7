"""The index page of a conversion: does it add up, causes, worst sources, quarantine."""

from __future__ import annotations

import json

import pytest

from encoder.page.run_page import (
    FORMAT,
    MOST_FILES,
    MOST_RECORDS,
    UNITS,
    adds_up,
    is_summary,
    run_page,
    unbalanced,
)
from tests.months import account, quarantine_records, run_summary


def test_the_summary_is_that_of_the_conversion():
    """The page reads what the conversion writes: the same name, the same units and flows."""
    from encoder.convert.account import Account
    from encoder.convert.summary import FORMAT as WRITTEN

    assert FORMAT == WRITTEN
    assert set(Account.empty().as_json()) == set(UNITS)
    empty = Account.empty().as_json()
    assert is_summary(run_summary(total=empty, sources=[], stations=[]))


@pytest.mark.parametrize(
    "document",
    [
        None,
        [],
        {},
        run_summary(format="x"),
        run_summary(sources=None),
        run_summary(sources=[{"name": "x"}]),
        run_summary(stations=[{"station": "x", "account": account()}]),
        run_summary(total={}),
        run_summary(refused={"x": "y"}),
        run_summary(faults=["x"]),
        run_summary(failed=["x"]),
    ],
)
def test_what_is_no_summary(document):
    """A document that lacks what the page shows is told from a summary."""
    assert is_summary(run_summary())
    assert not is_summary(document)


def test_a_conversion_that_adds_up():
    """What was read is what was written, refused and put aside."""
    assert unbalanced(run_summary()) == []
    assert adds_up(run_summary())
    assert "Adds up; 9 soundings refused" in run_page(run_summary())
    clean = run_summary(total=account(), sources=[], stations=[], refused={}, found={}, not_read=[])
    page = run_page(clean)
    assert "Adds up; nothing refused" in page
    assert "Nothing was refused." in page
    assert "There are none." in page


def test_a_conversion_that_does_not_add_up():
    """The units that do not are named first; a file that differs is as bad."""
    total = account()
    total["levels"]["written"] -= 1
    wrong = run_summary(total=total)

    assert unbalanced(wrong) == ["levels"]
    assert not adds_up(wrong)
    assert "Does not add up: levels" in run_page(wrong)
    differs = run_summary(faults=[{"message": "90417.nc: read back is not what was written."}])
    assert not adds_up(differs)
    assert "read back is not what was written" in run_page(differs)


def test_sources_that_could_not_be_read_are_told():
    """A source that was not read is neither refused nor forgotten."""
    page = run_page(run_summary(not_read=[{"message": "locked.zip cannot be opened."}]))

    assert "1 source not read." in page
    assert "locked.zip cannot be opened." in page


def test_sources_that_were_refused_whole_are_told():
    """The program failed over one: the page names it, and does not say that all is well."""
    clean = run_summary(total=account(), sources=[], stations=[], refused={}, found={}, not_read=[])
    page = run_page({**clean, "failed": [{"message": "a.txt cannot be converted: KeyError."}]})

    assert "nothing refused" not in page
    assert "Sources or stations refused whole: 1." in page
    assert "a.txt cannot be converted: KeyError." in page


def test_worst_sources_come_first():
    """Sorted by refusals; the rest is counted."""
    sources = [
        {"name": f"f{i:03d}", "account": account(1), "refused": i % 4 + 1} for i in range(90)
    ]
    page = run_page(run_summary(sources=sources))
    part = page[page.index('id="sources"') : page.index('id="stations"')]

    assert part.index("f003") < part.index("f007") < part.index("f002")
    assert part.count('scope="row"') == MOST_FILES
    assert f"And {90 - MOST_FILES} more." in part


def test_parts_refused_later_count_for_their_source():
    """A part refused once all sources were read stands in the quarantine alone."""
    sources = [{"name": "a.txt", "account": account(), "refused": 0}]
    records = [{"source": "a.txt", "offset": 1, "diagnostics": []}] * 3

    part = run_page(run_summary(sources=sources), records)
    part = part[part.index('id="sources"') : part.index('id="stations"')]

    assert "0 without a refusal" in part
    assert '<td class="number">3</td>' in part


def test_many_quarantined_records_are_counted():
    """The page does not grow without end."""
    page = run_page(run_summary(), quarantine_records(MOST_RECORDS + 5), more=7)

    assert "And 12 more." in page
    assert page.count("Found no TTAA in") == MOST_RECORDS


@pytest.mark.parametrize(
    ("path", "linked"),
    [
        ("90417.nc", True),
        ("a b/ü#1.nc", True),
        ("javascript:alert(1)", False),
        ("/etc/passwd", False),
        ("https://example.invalid/x", False),
    ],
)
def test_links_lead_into_the_folder_of_the_run_only(path, linked):
    """Only files of the run are linked; addresses and absolute paths stay text."""
    station = {"station": "90417", "files": [{"name": path}], "account": account()}
    page = run_page(run_summary(stations=[station]), folder="c:d")

    assert ('<a href="./c%3Ad/' in page) is linked
    assert "javascript:" not in page.partition("<a href=")[2].partition(">")[0]


def test_text_is_escaped_and_bytes_are_the_same():
    """Messages from files stay text; two pages of one summary are the same."""
    hostile = [{"source": "<script>x</script>", "diagnostics": [{"message": "\"'&<b>"}]}]
    page = run_page(run_summary(), hostile)

    assert "<script>x" not in page
    assert "<b>" not in page
    assert page == run_page(json.loads(json.dumps(run_summary())), hostile)
