"""What a run came to: the accounts of all sources and stations added up."""

from __future__ import annotations

import errno
import json
from typing import TYPE_CHECKING, Any

from encoder.convert.account import Account
from encoder.convert.storage import Store
from encoder.convert.units import account_of
from encoder.diagnostics import diagnostic

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.convert.run import Plan
    from encoder.convert.work import Settings

SUMMARY = "summary.json"
FORMAT = "aerogram-conversion-1"


def check_files(stations: dict[str, dict[str, Any]], store: Store) -> None:
    """Look whether all files of a run are there before it is said that they are.

    Raises
    ------
    OSError
        If one went while the others were made.
    """
    for made in stations.values():
        for item in made["files"]:
            if store.size(item["name"]) != item["bytes"]:
                msg = f"{item['name']} went or changed after it was written"
                raise OSError(errno.EIO, msg, store.root)


def summary_of_run(
    plan: Plan,
    documents: Sequence[dict[str, Any]],
    stations: dict[str, dict[str, Any]],
    settings: Settings,
) -> dict[str, Any]:
    """Return the summary of a run.

    Parameters
    ----------
    plan : Plan
    documents : sequence of dict
        Results of the sources, in the order of the plan.
    stations : dict of str to dict
        Results of the stations.
    settings : Settings
    """
    total = Account.empty()
    own: dict[str, Account] = {}
    sources = []
    found: dict[str, int] = {}
    why: dict[str, int] = {}
    for document in documents:
        name = document["source"]["name"]
        own.setdefault(name, Account.empty()).add(account_of(document))
        sources.append({**document["source"], "refused": document["refused"]})
        _tally(found, document["found"])
        _tally(why, document["why"])
    listed = []
    faults: list[Any] = []
    later: dict[str, int] = {}
    failed = [item for document in documents for item in document.get("failed", ())]
    for station, made in stations.items():
        for name, account in made["settled"].items():
            own[name].add(Account.of(account))
        listed.append(
            {
                "station": station,
                "soundings": made["soundings"],
                "current": made.get("current", 0),
                "flagged": made.get("flagged", 0),
                "repaired": made.get("repaired", 0),
                "files": made["files"],
                "account": made["account"],
            }
        )
        _tally(found, made["found"])
        _tally(why, made["why"])
        _tally(later, made["refused_of"])
        faults.extend(made["faults"])
        failed.extend(made.get("failed", ()))
    for source in sources:
        source["account"] = own[source["name"]].as_json()
        source["refused"] += later.get(source["name"], 0)
    for name, account in own.items():
        total.add(account)
        faults += _faults(account, f'"{name}"')
    faults += _faults(total, "The total")
    return {
        "format": FORMAT,
        "settings": settings.fingerprint(),
        "adds_up": not faults,
        "total": total.as_json(),
        "sources": sources,
        "stations": listed,
        "not_read": [item.as_json() for item in plan.found],
        "failed": failed,
        "found": dict(sorted(found.items())),
        "refused": dict(sorted(why.items())),
        "faults": faults,
    }


def _faults(account: Account, whose: str) -> list[dict[str, Any]]:
    """Return what does not add up in an account."""
    return [
        diagnostic(
            "convert-does-not-add-up",
            f"{whose} does not add up in {name}: {getattr(account, name)}.",
        ).as_json()
        for name in account.unbalanced()
    ]


def _tally(total: dict[str, int], more: dict[str, int]) -> None:
    for code, count in more.items():
        total[code] = total.get(code, 0) + count


def summary_of(destination: str) -> dict[str, Any]:
    """Return the summary of a finished run.

    Raises
    ------
    OSError
        If there is none.
    """
    document: dict[str, Any] = json.loads(Store(destination).read(SUMMARY))
    return document
