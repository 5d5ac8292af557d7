"""The index page of a conversion: does it add up, what was refused and why, where to look first."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from encoder.catalogue import CATALOGUE
from encoder.page.markup import CAUTION, escape, page, scrolled, tag

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

FORMAT = "aerogram-conversion-1"
UNITS = ("bytes", "reports", "soundings", "levels", "values")
FLOWS = ("read", "written", "refused", "aside")
MOST_FILES = 50
"""Worst sources, and stations, shown."""
MOST_RECORDS = 2000
"""Quarantined records shown one by one."""
_LISTS = ("sources", "stations", "not_read", "faults")
_COUNTS = ("found", "refused")


def is_summary(document: Any) -> bool:
    """Tell whether a JSON document is the summary of a conversion, as far as the page needs it."""
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        return False
    accounts = [document.get("total")]
    for name in (*_LISTS, "failed"):
        items = document.get(name, [] if name == "failed" else None)  # older ones do not have it
        if not isinstance(items, list) or not all(isinstance(item, dict) for item in items):
            return False
        if name in ("sources", "stations"):
            accounts.extend(item.get("account") for item in items)
    counts = all(
        isinstance(document.get(name), dict)
        and all(isinstance(count, int) for count in document[name].values())
        for name in _COUNTS
    )
    named = all("name" in item for item in document["sources"]) and all(
        isinstance(item.get("files"), list) and "station" in item for item in document["stations"]
    )
    return counts and named and all(_is_account(item) for item in accounts)


def _is_account(account: Any) -> bool:
    return isinstance(account, dict) and all(
        isinstance(account.get(unit), dict)
        and all(isinstance(account[unit].get(flow), int) for flow in FLOWS)
        for unit in UNITS
    )


def run_page(
    summary: Mapping[str, Any],
    records: Sequence[Mapping[str, Any]] = (),
    *,
    folder: str = ".",
    more: int = 0,
) -> str:
    """Return the index page of a conversion.

    Parameters
    ----------
    summary : mapping
        As the conversion writes it; see :func:`is_summary`.
    records : sequence of mapping
        Records of the quarantine, in its order.
    folder : str
        Folder of the conversion as seen from the page, for links.
    more : int
        Further records that are not among these.

    Returns
    -------
    str
        HTML without scripts, self-contained, with the summary as JSON inside.
    """
    head = tag(
        "header",
        tag(
            "div",
            tag("h1", "Conversion of records")
            + tag(
                "p",
                f"{len(summary['sources'])} sources, {len(summary['stations'])} stations",
                class_="when",
            ),
        ),
        class_="masthead",
    )
    body = [
        head,
        "<main>\n",
        tag("section", _banner(summary), id="verdict", aria_labelledby="verdict-title"),
        _section("accounts", "Read, written, refused", _accounts(summary["total"])),
        _section("causes", "Refused, by cause", _causes(summary["refused"])),
        _section("sources", "Worst sources", _sources(summary["sources"], records)),
        _section("stations", "Stations", _stations(summary["stations"], folder)),
        _section("quarantine", "Quarantined records", _records(records, folder, more)),
        _section("found", "Findings, by kind", _causes(summary["found"], "Nothing was found.")),
        "</main>\n",
        tag("footer", tag("p", escape(CAUTION), class_="caution", role="note")),
    ]
    return page("Conversion of records", body, sheets=("base", "lists"), data=dict(summary))


def adds_up(summary: Mapping[str, Any]) -> bool:
    """Tell whether every unit adds up and nothing else is wrong with the run."""
    return not unbalanced(summary) and not summary["faults"]


def unbalanced(summary: Mapping[str, Any]) -> list[str]:
    """Return the units whose account does not add up."""
    return [unit for unit in UNITS if not _balanced(summary["total"][unit])]


def _balanced(count: Mapping[str, int]) -> bool:
    return count["read"] == count["written"] + count["refused"] + count["aside"]


def _section(name: str, title: str, content: str) -> str:
    head = tag("h2", escape(title), id=f"{name}-title")
    return tag("section", head + content, id=name, aria_labelledby=f"{name}-title") + "\n"


def _banner(summary: Mapping[str, Any]) -> str:
    refused = summary["total"]["soundings"]["refused"]
    unread, failed = len(summary["not_read"]), summary.get("failed", [])
    wrong = unbalanced(summary)
    if wrong:
        style, words = "stop", f"Does not add up: {', '.join(wrong)}"
    elif summary["faults"]:
        style, words = "stop", "Files differ from what was to be written"
    elif refused or unread or failed:
        style, words = "look", f"Adds up; {refused} sounding{'s' if refused != 1 else ''} refused"
    else:
        style, words = "send", "Adds up; nothing refused"
    lines = [f"{unread} source{'s' if unread != 1 else ''} not read."] if unread else []
    lines += [f"Sources or stations refused whole: {len(failed)}."] if failed else []
    line = " ".join(lines)
    faults = "".join(
        tag("li", escape(item.get("message", ""))) for item in summary["faults"][:MOST_FILES]
    )
    left = "".join(
        tag("li", escape(item.get("message", ""))) for item in summary["not_read"][:MOST_FILES]
    )
    left += "".join(tag("li", escape(item.get("message", ""))) for item in failed[:MOST_FILES])
    head = tag("h2", escape(words), id="verdict-title")
    banner = tag("div", tag("div", head + tag("p", escape(line))), class_=f"banner {style}")
    return banner + (tag("ul", faults + left, class_="notes") if faults + left else "")


def _accounts(total: Mapping[str, Mapping[str, int]]) -> str:
    rows = ""
    for unit in UNITS:
        count = total[unit]
        good = "adds up" if _balanced(count) else tag("strong", "does not add up")
        rows += tag(
            "tr",
            tag("th", unit, scope="row")
            + "".join(tag("td", _number(count[flow]), class_="number") for flow in FLOWS)
            + tag("td", _bar(count))
            + tag("td", good),
        )
    heads = ("Unit", "Read", "Written", "Refused", "Aside", "Share", "Account")
    note = tag("p", "Aside: headings and framing, parts that came twice.", class_="quiet")
    return _table(heads, rows, "accounts") + note


def _number(number: int) -> str:
    return f"{number:,}".replace(",", "\u202f")


def _bar(count: Mapping[str, int]) -> str:
    whole = max(count["read"], count["written"] + count["refused"], 1)
    first, second = 120.0 * count["written"] / whole, 120.0 * count["refused"] / whole
    return (
        '<svg viewBox="0 0 120 10" class="share" width="120" height="10" aria-hidden="true">'
        f'<rect class="in" width="{first:.2f}" height="10"></rect>'
        f'<rect class="refused" x="{first:.2f}" width="{second:.2f}" height="10"></rect>'
        '<rect class="box" width="120" height="10"></rect></svg>'
    )


def _causes(causes: Mapping[str, int], nothing: str = "Nothing was refused.") -> str:
    if not causes:
        return tag("p", escape(nothing))
    rows = ""
    for code, count in sorted(causes.items(), key=lambda item: (-item[1], item[0])):
        rule = CATALOGUE.get(code)
        meaning = "" if rule is None else f"{rule.title} {rule.hint}"
        rows += tag(
            "tr",
            tag("td", _number(count), class_="number")
            + tag("th", tag("code", escape(code)), scope="row")
            + tag("td", escape(meaning)),
        )
    label = "causes" if nothing.endswith("refused.") else "findings"
    return _table(("Count", "Code", "What it means and what to do"), rows, label)


def _sources(sources: Sequence[Mapping[str, Any]], records: Sequence[Mapping[str, Any]]) -> str:
    kept = Counter(str(record.get("source", "")) for record in records)
    # a part may be refused only when those of other sources are known
    count = {str(item["name"]): max(_refused(item), kept[str(item["name"])]) for item in sources}
    worst = [
        item for item in sources if item["account"]["bytes"]["refused"] or count[str(item["name"])]
    ]
    worst.sort(key=lambda item: (-count[str(item["name"])], str(item["name"])))
    clean = len(sources) - len(worst)
    words = tag("p", f"{len(sources)} sources; {clean} without a refusal.", class_="quiet")
    rows = "".join(
        tag(
            "tr",
            tag("th", escape(item["name"]), scope="row", class_="path")
            + tag("td", _number(count[str(item["name"])]), class_="number")
            + "".join(
                tag("td", _number(item["account"]["bytes"][flow]), class_="number")
                for flow in ("read", "refused")
            )
            + tag("td", _bar(item["account"]["bytes"])),
        )
        for item in worst[:MOST_FILES]
    )
    if not rows:
        return words
    heads = ("Source", "Records refused", "Bytes read", "Bytes refused", "Share")
    return words + _table(heads, rows, "worst sources") + _rest(len(worst) - MOST_FILES)


def _refused(item: Mapping[str, Any]) -> int:
    refused = item.get("refused", 0)
    return refused if isinstance(refused, int) else len(refused)


def _stations(stations: Sequence[Mapping[str, Any]], folder: str) -> str:
    rows = "".join(
        tag(
            "tr",
            tag("th", escape(item["station"]), scope="row")
            + tag("td", _number(item.get("soundings", 0)), class_="number")
            + tag("td", _number(item.get("flagged", 0)), class_="number")
            + tag("td", ", ".join(_link(folder, str(file["name"])) for file in item["files"])),
        )
        for item in stations[: 4 * MOST_FILES]
    )
    heads = ("Station", "Soundings", "Flagged", "Files")
    return _table(heads, rows, "stations") + _rest(len(stations) - 4 * MOST_FILES)


def _records(records: Sequence[Mapping[str, Any]], folder: str, more: int) -> str:
    if not records:
        return tag("p", "There are none.")
    kept = _link(folder, "quarantine.jsonl")
    words = tag("p", f"Whole, with their octets, in {kept}; line by line as here.", class_="quiet")
    rows = ""
    for place, item in enumerate(records[:MOST_RECORDS], 1):
        found = item.get("diagnostics") or [{}]
        rows += tag(
            "tr",
            tag("td", str(place), class_="number")
            + tag("th", escape(item.get("source", "")), scope="row", class_="path")
            + tag("td", escape(item.get("offset", "")), class_="number")
            + tag("td", tag("code", escape(found[0].get("code", ""))))
            + tag("td", escape(found[0].get("message", ""))),
        )
    heads = ("Line", "Source", "Octet", "Cause", "Particulars")
    return words + _table(heads, rows, "quarantine") + _rest(more + len(records) - MOST_RECORDS)


def _rest(count: int) -> str:
    return tag("p", f"And {_number(count)} more.", class_="quiet") if count > 0 else ""


def _link(folder: str, path: str) -> str:
    """Return a link to a file of the run; an address or an absolute path stays text."""
    first = path.split("/", 1)[0]
    if ":" in first or path.startswith(("/", "\\")):
        return escape(path)
    whole = path if folder in ("", ".") else f"{folder}/{path}"
    return tag(
        "a", escape(path), href=("./" if ":" in whole.split("/", 1)[0] else "") + quote(whole)
    )


def _table(heads: Sequence[str], rows: str, label: str) -> str:
    head = tag("tr", "".join(tag("th", escape(word), scope="col") for word in heads))
    table = tag("table", tag("thead", head) + tag("tbody", rows), class_="long")
    return scrolled(table, f"Table: {label}")
