"""A WIS2 notification of a message: the JSON document, without any network.

Layout: WIS2 notification message (GeoJSON feature), WMO Manual on WIS, Volume II; names of keys and
of the conformance class from memory. ``schemas/notification.schema.json`` describes it.
"""

from __future__ import annotations

import base64
import hashlib
import math
import re
from dataclasses import dataclass
from datetime import UTC
from typing import TYPE_CHECKING, Any, Literal
from uuid import NAMESPACE_URL, uuid5

from encoder.diagnostics import Diagnostic, Result, diagnostic

if TYPE_CHECKING:
    from datetime import datetime

    from encoder.bulletin.heading import Heading
    from encoder.formats.bufr.sounding import BufrSounding

Policy = Literal["core", "recommended"]
CONFORMANCE = "http://wis.wmo.int/spec/wnm/1/conf/core"
INLINE_OCTETS = 4096
"""Largest inline content, as encoded (WIS2 Guide)."""
TOPICS = {
    "temp": frozenset({4, 6, 14, 16, 104, 106, 114, 116, 7}),
    "temp-ship": frozenset({5, 15, 105, 115}),
    "wind-profile": frozenset({1, 3}),
    "wind-profile-ship": frozenset({2}),
}
"""Last step of the topic by sub-category (WIS2 topic hierarchy, state of August 2026)."""
_CENTRE_ID = re.compile(r"[a-z]{2,}-[a-z0-9][a-z0-9_-]*")


@dataclass(frozen=True, slots=True)
class Notification:
    """A notification and where it is published.

    Attributes
    ----------
    topic : str
    document : dict
        Validates against ``notification.schema.json``.
    """

    topic: str
    document: dict[str, Any]


def notify(
    message: bytes,
    sounding: BufrSounding,
    *,
    centre_id: str,
    url: str,
    published: datetime,
    policy: Policy = "core",
    heading: Heading | None = None,
) -> Result[Notification | None]:
    """Return the notification of a message.

    Parameters
    ----------
    message : bytes
        One message with one sounding.
    sounding : BufrSounding
        As read from it.
    centre_id : str
        WIS2 identifier of the centre, for example ``"nr-norreland"``.
    url : str
        Where the message can be fetched.
    published : datetime
        UTC; the caller knows, the package reads no clock.
    policy : {"core", "recommended"}
        Data policy.
    heading : Heading, optional
        For the gateway to the GTS.

    Returns
    -------
    Result of Notification or None
        None where something that is needed is missing or malformed. The message is inline where it
        is not longer than 4,096 octets as encoded.
    """
    found = _faults(sounding, centre_id, url, published)
    if found:
        return Result(None, tuple(found))
    topic = topic_of(sounding.header.sub_category, centre_id=centre_id, policy=policy)
    if topic is None:
        return Result(
            None,
            (
                diagnostic(
                    "notification-not-valid",
                    f"There is no topic for sub-category {sounding.header.sub_category}.",
                ),
            ),
        )
    document = _document(message, sounding, topic, url, _moment(published))
    if heading is not None:
        ttaaii = heading.data_type + heading.area + heading.number
        document["properties"]["gts"] = {"ttaaii": ttaaii, "cccc": heading.centre}
    return Result(Notification(topic, document))


def topic_of(sub_category: int, *, centre_id: str, policy: Policy = "core") -> str | None:
    """Return the topic a sounding is published under, None where there is none.

    Parameters
    ----------
    sub_category : int
        Common code table C-13, category 2.
    centre_id : str
    policy : {"core", "recommended"}
    """
    for name, held in TOPICS.items():
        if sub_category in held:
            return (
                f"origin/a/wis2/{centre_id}/data/{policy}/weather/surface-based-observations/{name}"
            )
    return None


def _faults(
    sounding: BufrSounding, centre_id: str, url: str, published: datetime
) -> list[Diagnostic]:
    wrong: list[tuple[str, str]] = []
    if _CENTRE_ID.fullmatch(centre_id) is None:
        wrong.append(("centre_id", f"centre id {centre_id!r}: expected the form nr-norreland"))
    if not re.match(r"(https|http|sftp|ftp|ftps)://[^ ]+\Z", url):
        wrong.append(("url", f"address {url!r}: expected https://..."))
    if published.tzinfo is None:
        wrong.append(("published", "time of publication without its zone"))
    if sounding.release_time is None and sounding.nominal_time is None:
        wrong.append(("datetime", "the message has no time"))
    return [
        diagnostic("notification-not-valid", f"{words[0].upper()}{words[1:]}.", path=(place,))
        for place, words in wrong
    ]


def _document(
    message: bytes, sounding: BufrSounding, topic: str, url: str, moment: str
) -> dict[str, Any]:
    time = sounding.nominal_time or sounding.release_time
    digest = base64.b64encode(hashlib.sha512(message).digest()).decode("ascii")
    name = url.rstrip("/").rsplit("/", 1)[-1]
    data_id = f"{topic.removeprefix('origin/a/')}/{name}"
    properties: dict[str, Any] = {
        "data_id": data_id,
        "pubtime": moment,
        "datetime": None if time is None else _moment(time),
        "integrity": {"method": "sha512", "value": digest},
    }
    if sounding.wigos_id is not None:
        properties["wigos_station_identifier"] = sounding.wigos_id
    inline = base64.b64encode(message).decode("ascii")
    if len(inline) <= INLINE_OCTETS:
        properties["content"] = {"encoding": "base64", "size": len(message), "value": inline}
    place = [sounding.longitude, sounding.latitude]
    known = all(math.isfinite(degrees) for degrees in place)
    return {
        "id": str(uuid5(NAMESPACE_URL, f"{data_id} {moment} {digest}")),
        "conformsTo": [CONFORMANCE],
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": place} if known else None,
        "properties": properties,
        "links": [
            {
                "rel": "update" if sounding.header.update else "canonical",
                "type": "application/bufr",
                "href": url,
                "length": len(message),
            }
        ],
    }


def _moment(time: datetime) -> str:
    return time.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
