"""The index page of a bulk run: does it add up, what was refused and why, where to look first."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from encoder.catalogue import CATALOGUE
from encoder.page.markup import CAUTION, escape, page, scrolled, tag

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

FORMAT = "aerogram-run-1"
MOST_FILES = 50
"""Worst files shown."""
MOST_RECORDS = 2000
"""Quarantined records shown one by one."""
_STATES = {
    "finished": "Finished",
    "stopped": "Stopped before the end; start it again to go on",
    "running": "Still running",
}


def run_page(document: Mapping[str, Any], name: str = "") -> str:
    """Return the index page of a bulk run.

    Parameters
    ----------
    document : mapping
        Valid against ``run.schema.json``.
    name : str
        File the summary was read from.

    Returns
    -------
    str
        HTML without scripts, self-contained, with the summary as JSON inside.
    """
    accounts = document["accounts"]
    title = "Conversion of records"
    sources = ", ".join(document["sources"])
    head = tag(
        "header",
        tag(
            "div",
            tag("h1", escape(title))
            + tag(
                "p", f"{escape(sources)} → {escape(document['destination'])}", class_="when path"
            ),
        ),
        class_="masthead",
    )
    body = [
        head,
        "<main>\n",
        tag("section", _banner(document), id="verdict", aria_labelledby="verdict-title"),
        _section("accounts", "In, out, refused", _accounts(accounts)),
        _section("causes", "Refused, by cause", _causes(document["causes"])),
        _section("files", "Worst files", _files(document["files"])),
        _section("quarantine", "Quarantined records", _records(document["quarantine"])),
        "</main>\n",
        tag(
            "footer",
            tag("p", escape(CAUTION), class_="caution", role="note")
            + tag("p", f"Summary: {escape(name)}" if name else ""),
        ),
    ]
    return page(title, body, sheets=("base", "lists"), data=dict(document))


def unbalanced(document: Mapping[str, Any]) -> list[str]:
    """Return the units whose account does not add up: in is not out and refused together."""
    return [
        str(item["unit"])
        for item in document["accounts"]
        if item["in"] != item["out"] + item["refused"]
    ]


def _section(name: str, title: str, content: str) -> str:
    head = tag("h2", escape(title), id=f"{name}-title")
    return tag("section", head + content, id=name, aria_labelledby=f"{name}-title") + "\n"


def _banner(document: Mapping[str, Any]) -> str:
    wrong = unbalanced(document)
    refused = sum(item["refused"] for item in document["accounts"] if item["unit"] == "soundings")
    state = _STATES[document["state"]]
    if wrong:
        style, words = "stop", f"Does not add up: {', '.join(wrong)}"
    elif document["state"] != "finished" or refused:
        style = "look"
        words = f"Adds up; {refused} sounding{'s' if refused != 1 else ''} refused"
    else:
        style, words = "send", "Adds up; nothing refused"
    head = tag("h2", escape(words), id="verdict-title")
    return tag("div", tag("div", head + tag("p", escape(f"{state}."))), class_=f"banner {style}")


def _accounts(accounts: Sequence[Mapping[str, Any]]) -> str:
    rows = ""
    for item in accounts:
        good = item["in"] == item["out"] + item["refused"]
        rows += tag(
            "tr",
            tag("th", escape(item["unit"]), scope="row")
            + "".join(tag("td", _count(item[key]), class_="number") for key in _FLOWS)
            + tag("td", _bar(item["out"], item["refused"], item["in"]))
            + tag("td", "adds up" if good else tag("strong", "does not add up")),
        )
    return _table(("Unit", "In", "Out", "Refused", "Share", "Account"), rows, "Accounts")


_FLOWS = ("in", "out", "refused")


def _count(number: int) -> str:
    return f"{number:,}".replace(",", "\u202f")


def _bar(out: int, refused: int, total: int) -> str:
    whole = max(total, out + refused, 1)
    first, second = 120.0 * out / whole, 120.0 * refused / whole
    return (
        '<svg viewBox="0 0 120 10" class="share" width="120" height="10" aria-hidden="true">'
        f'<rect class="in" width="{first:.2f}" height="10"></rect>'
        f'<rect class="refused" x="{first:.2f}" width="{second:.2f}" height="10"></rect>'
        '<rect class="box" width="120" height="10"></rect></svg>'
    )


def _causes(causes: Sequence[Mapping[str, Any]]) -> str:
    if not causes:
        return tag("p", "Nothing was refused.")
    rows = ""
    for item in sorted(causes, key=lambda cause: (-cause["count"], cause["code"])):
        rule = CATALOGUE.get(item["code"])
        meaning = "" if rule is None else f"{rule.title} {rule.hint}"
        rows += tag(
            "tr",
            tag("td", _count(item["count"]), class_="number")
            + tag("th", tag("code", escape(item["code"])), scope="row")
            + tag("td", escape(meaning))
            + tag("td", escape(item["example"] or "")),
        )
    return _table(("Records", "Cause", "What it means and what to do", "Example"), rows, "Causes")


def _files(files: Sequence[Mapping[str, Any]]) -> str:
    worst = [item for item in files if item["refused"] or item["errors"]]
    worst.sort(key=lambda item: (-item["refused"], -item["errors"], item["source"]))
    clean = len(files) - len(worst)
    words = tag(
        "p",
        f"{len(files)} files; {clean} without a refusal or an error.",
        class_="quiet",
    )
    if not worst:
        return words
    rows = "".join(
        tag(
            "tr",
            tag("th", escape(item["source"]), scope="row", class_="path")
            + "".join(
                tag("td", _count(item[key]), class_="number")
                for key in ("in", "out", "refused", "errors", "warnings")
            )
            + tag("td", _bar(item["out"], item["refused"], item["in"])),
        )
        for item in worst[:MOST_FILES]
    )
    heads = ("File", "Soundings in", "Out", "Refused", "Errors", "Warnings", "Share")
    more = len(worst) - MOST_FILES
    rest = tag("p", f"And {more} more.", class_="quiet") if more > 0 else ""
    return words + _table(heads, rows, "Worst files") + rest


def _records(records: Sequence[Mapping[str, Any]]) -> str:
    if not records:
        return tag("p", "There are none.")
    rows = "".join(
        tag(
            "tr",
            tag("th", escape(item["source"]), scope="row", class_="path")
            + tag("td", "" if item["offset"] is None else _count(item["offset"]), class_="number")
            + tag("td", tag("code", escape(item["code"])))
            + tag("td", escape(item["message"]))
            + tag("td", _link(item["file"]), class_="path"),
        )
        for item in records[:MOST_RECORDS]
    )
    more = len(records) - MOST_RECORDS
    rest = tag("p", f"And {more} more in the summary.", class_="quiet") if more > 0 else ""
    heads = ("Source", "Octet", "Cause", "Particulars", "Kept in")
    return _table(heads, rows, "Quarantined records") + rest


def _link(path: str | None) -> str:
    """Return a link to a file beside the page; an address or an absolute path stays text."""
    if path is None:
        return ""
    first = path.split("/", 1)[0]
    if ":" in first or path.startswith(("/", "\\")):
        return escape(path)
    return tag("a", escape(path), href=quote(path))


def _table(heads: Sequence[str], rows: str, label: str) -> str:
    head = tag("tr", "".join(tag("th", escape(word), scope="col") for word in heads))
    table = tag("table", tag("thead", head) + tag("tbody", rows), class_="long")
    return scrolled(table, f"Table: {label}")
