"""Decoded BUFR soundings as a JSON document."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from encoder.formats.bufr.explain import explain_subset
from encoder.formats.bufr.months import BufrMonth, month_as_json
from encoder.formats.level_table import levels_as_json

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from encoder.diagnostics import Diagnostic
    from encoder.formats.bufr.read import BufrContent
    from encoder.formats.bufr.sounding import BufrSounding
    from encoder.profile import CloudGroup

FORMAT = "aerogram-soundings-1"
EXPLANATION_FORMAT = "aerogram-bufr-explanation-1"


def soundings_as_json(
    contents: Sequence[BufrContent], diagnostics: Sequence[Diagnostic] = ()
) -> dict[str, Any]:
    """Return a dictionary that validates against ``soundings.schema.json``.

    Parameters
    ----------
    contents : sequence of BufrSounding or BufrMonth
    diagnostics : sequence of Diagnostic
    """
    return {
        "format": FORMAT,
        "soundings": [_sounding(one) for one in contents if not isinstance(one, BufrMonth)],
        "months": [month_as_json(one) for one in contents if isinstance(one, BufrMonth)],
        "diagnostics": [item.as_json() for item in diagnostics],
    }


def content_as_json(content: BufrContent) -> dict[str, Any]:
    """Return a sounding or a month as an item of :func:`soundings_as_json`."""
    return month_as_json(content) if isinstance(content, BufrMonth) else _sounding(content)


def explanation_as_json(content: BufrContent) -> dict[str, Any]:
    """Return the elements of a sounding or month with their meanings as a dictionary."""
    return {
        "offset": content.offset,
        "subset": content.subset,
        "station": content.station,
        "elements": [item.as_json() for item in explain_subset(content.plain)],
    }


def _sounding(sounding: BufrSounding) -> dict[str, Any]:
    header = sounding.header
    return {
        "offset": sounding.offset,
        "subset": sounding.subset,
        "heading": sounding.heading,
        "template": sounding.template,
        "header": {
            "edition": header.edition,
            "centre": header.centre,
            "sub_centre": header.sub_centre,
            "update": header.update,
            "category": header.category,
            "sub_category": header.sub_category,
            "table_version": header.table_version,
            "time": _moment(header.time),
            "subsets": header.subsets,
            "compressed": header.compressed,
            "descriptors": list(header.descriptors),
        },
        "wmo_index": sounding.wmo_index,
        "wigos_id": sounding.wigos_id,
        "call_sign": sounding.call_sign,
        "aircraft": sounding.aircraft,
        "nominal_time": _moment(sounding.nominal_time),
        "release_time": _moment(sounding.release_time),
        "latitude": _number(sounding.latitude),
        "longitude": _number(sounding.longitude),
        "ground_height_m": _number(sounding.ground_height),
        "barometer_height_m": _number(sounding.barometer_height),
        "release_height_m": _number(sounding.release_height),
        "sea_temperature_degc": _number(sounding.sea_temperature),
        "cloud": _cloud(sounding.cloud),
        "nil": sounding.nil,
        "reformatted": sounding.reformatted,
        "facts": dict(sounding.facts),
        "extra": [extra.as_json() for extra in sounding.extra],
        "levels": levels_as_json(sounding.levels),
    }


def _moment(time: datetime | None) -> str | None:
    return None if time is None else time.strftime("%Y-%m-%dT%H:%M:%SZ")


def _number(value: float) -> float | None:
    return None if math.isnan(value) else value


def _cloud(cloud: CloudGroup | None) -> dict[str, str] | None:
    if cloud is None:
        return None
    names = ("amount", "low", "base", "middle", "high")
    return {name: getattr(cloud, name) for name in names}
