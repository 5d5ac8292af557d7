"""The data of a flight page: everything drawn and said, as one JSON document.

``page.schema.json`` describes it. The page embeds it as it is, so that what is drawn can be read
back from the page and compared with the files.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.columns import LEVEL_COLUMNS, PROFILE_COLUMNS, column
from encoder.formats.level_table import MARKS
from encoder.levels.representation import ELEMENTS
from encoder.levels.table import LevelKind, kinds_as_words
from encoder.page.links import Links, join_links, level_of_path
from encoder.page.times import DEADLINES, Timeliness, timeliness
from encoder.physics import standard_atmosphere_pressure
from encoder.physics.adiabats import dry_adiabat, moist_adiabats, saturation_mixing_ratio_line
from encoder.plot.barb import barb_path, wind_barb
from encoder.rounding import round_half_away

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from encoder.levels.representation import Misfit
    from encoder.levels.table import Levels
    from encoder.page.carriers import Carrier
    from encoder.page.review import Review
    from encoder.profile import FloatArray, Profile

FORMAT = "aerogram-page-1"
DECIMALS = 4
"""Decimals of the embedded numbers: more than any file or code gives."""
DRY = tuple(range(240, 521, 20))
"""Potential temperatures of the dry adiabats in K."""
MOIST = tuple(range(-20, 37, 8))
"""Temperatures of the moist adiabats at 1000 hPa in degC."""
MIXING = (0.1, 0.4, 1.0, 2.0, 4.0, 7.0, 10.0, 16.0, 24.0)
"""Mixing ratios in g/kg."""


def page_document(
    review: Review,
    *,
    deadlines: tuple[int, int] = DEADLINES,
    links: Links | None = None,
    carriers: Sequence[Carrier] = (),
) -> dict[str, Any]:
    """Return the data of a page.

    Parameters
    ----------
    review : Review
    deadlines : tuple of int
        Minutes after the nominal time by which parts A and B, and C and D, are to be sent.
    links : Links, optional
        From :func:`encoder.page.links.join_links`, if at hand.
    carriers : sequence of Carrier
        Messages and files that carry the same sounding.

    Returns
    -------
    dict
        Validates against ``page.schema.json``; every number finite, missing values None.
    """
    links = links or join_links(review)
    flight = review.flight
    return {
        "format": FORMAT,
        "head": head_of(review),
        "verdict": None if review.verdict is None else review.verdict.as_json(),
        "times": None if flight is None else _times(timeliness(flight, deadlines)),
        "profile": None if flight is None else _profile(flight.ascent),
        "fit": None if review.fit is None else _fit(review.fit),
        "levels": _levels(review, links),
        "groups": _groups(review, links),
        "diagnostics": [
            {**item.as_json(), "level": level_of_path(review, item)} for item in review.diagnostics
        ],
        "lines": _lines(review),
        "carriers": [item.as_json() for item in carriers],
    }


def head_of(review: Review) -> dict[str, Any]:
    """Return who, where and when, as far as known."""
    said = review.report.parts[0].content.identification
    flight = review.flight
    index = said.get("station")
    return {
        "form": review.report.form,
        "parts": [part.letters for part in review.report.parts],
        "station": str(index) if index is not None else None,
        "name": None if flight is None else flight.station.name,
        "nominal_time": None if flight is None else f"{flight.nominal_time:%Y-%m-%dT%H:%MZ}",
        "release_time": None if flight is None else f"{flight.release_time:%Y-%m-%dT%H:%M:%SZ}",
        "day": said.get("day"),
        "hour": said.get("hour"),
        "wind_unit": review.wind_unit,
        "southern": flight is not None and flight.station.latitude < 0.0,
    }


def number(value: float) -> float | None:
    """Return a value with the decimals of the page, None for missing."""
    return float(round_half_away(value, 10.0**-DECIMALS)) if np.isfinite(value) else None


def numbers(values: FloatArray) -> list[float | None]:
    """Return values with the decimals of the page, None for missing."""
    rounded = np.asarray(round_half_away(np.asarray(values, dtype=np.float64), 10.0**-DECIMALS))
    listed: list[float | None] = rounded.tolist()
    for place in np.flatnonzero(~np.isfinite(rounded)):
        listed[int(place)] = None
    return listed


def _times(times: Timeliness) -> dict[str, Any]:
    return {
        "moments": [
            {
                "name": item.name,
                "label": item.label,
                "minutes": number(item.minutes),
                "time": f"{item.time:%Y-%m-%dT%H:%M:%SZ}",
            }
            for item in times.moments
        ],
        "window": list(times.window),
        "aim": times.aim,
        "window_source": times.window_source,
        "deadline_source": times.deadline_source,
        "release_in_window": times.release_in_window,
        "sentences": [{"text": text, "as_it_should_be": good} for text, good in times.sentences],
    }


def _profile(ascent: Profile) -> dict[str, Any]:
    return {
        "lines": ascent.source_row.tolist(),
        "units": {name: column(name).unit for name in PROFILE_COLUMNS},
        "place": numbers(places_of(ascent)),
        **{name: numbers(ascent[name]) for name in PROFILE_COLUMNS},
    }


def _fit(fit: Misfit) -> dict[str, Any]:
    return {
        name: {
            "rebuilt": numbers(fit.rebuilt[name]),
            "misfit": numbers(fit.misfits[name]),
            "limit": numbers(fit.limits[name]),
        }
        for name in ELEMENTS
    }


def _levels(review: Review, links: Links) -> list[dict[str, Any]]:
    levels = review.report.levels
    southern = review.flight is not None and review.flight.station.latitude < 0.0
    places = places_of(levels)
    return [
        {
            "kinds": list(kinds_as_words(int(levels.kinds[i]))),
            "marks": marks_of(int(levels.kinds[i])),
            "place": number(float(places[i])),
            "sent": _values(levels, i),
            "flown": (
                None
                if review.selected is None or link.selected is None
                else _values(review.selected, link.selected)
            ),
            "rows": link.rows,
            "groups": link.groups,
            "reasons": [
                {"rule": reason.rule, "text": reason.text, "source": reason.source}
                for reason in link.reasons
            ],
            "diagnostics": link.diagnostics,
            "barb": _barb(levels, i, southern=southern),
        }
        for i, link in enumerate(links.levels)
    ]


def places_of(levels: Levels | Profile) -> FloatArray:
    """Return the pressure at which each level or row is drawn.

    Parameters
    ----------
    levels : Levels or Profile

    Returns
    -------
    ndarray, shape (level,)
        hPa: its own pressure, else that of the standard atmosphere at its height; NaN where it
        has neither. For drawing alone.
    """
    own = levels["air_pressure"]
    by_height = np.atleast_1d(standard_atmosphere_pressure(levels["geopotential_height"]))
    places: FloatArray = np.where(np.isfinite(own), own, by_height)
    return places


def marks_of(kinds: int) -> list[str]:
    """Return the short marks of a level's kinds, as in the text table, and its gaps."""
    marks = [mark for kind, mark in MARKS.items() if kinds & kind]
    gaps = (
        (LevelKind.BEGIN_MISSING_TEMPERATURE, "T("),
        (LevelKind.BEGIN_MISSING_HUMIDITY, "U("),
        (LevelKind.BEGIN_MISSING_WIND, "w("),
        (LevelKind.END_MISSING_TEMPERATURE, ")T"),
        (LevelKind.END_MISSING_HUMIDITY, ")U"),
        (LevelKind.END_MISSING_WIND, ")w"),
    )
    return marks + [mark for kind, mark in gaps if kinds & kind]


def _values(levels: Levels, index: int) -> dict[str, float | None]:
    return {name: number(float(levels[name][index])) for name in LEVEL_COLUMNS}


def _barb(levels: Levels, index: int, *, southern: bool) -> dict[str, Any] | None:
    speed, direction = float(levels["wind_speed"][index]), levels["wind_from_direction"][index]
    if not np.isfinite(speed) or (speed > 0.0 and not np.isfinite(direction)):
        return None
    barb = wind_barb(float(direction), speed, southern=southern)
    lines, shapes = barb_path(barb, 20.0)
    return {"lines": lines, "shapes": shapes, "calm": barb.calm}


def _groups(review: Review, links: Links) -> list[dict[str, Any]]:
    values = {entry.span: entry.values for entry in review.report.trace}
    return [
        {
            "part": item.explained.part,
            "section": item.explained.section,
            "section_title": item.explained.section_title,
            "symbol": item.explained.symbol,
            "title": item.explained.title,
            "text": item.explained.text,
            "received": item.explained.original,
            "span": list(item.explained.span),
            "level": item.level,
            "figures": [
                {
                    "text": figures.text,
                    "symbol": figures.symbol,
                    "table": figures.table,
                    "sentence": figures.sentence,
                }
                for figures in item.explained.figures
            ],
            "values": {
                name: _plain(value) for name, value in values.get(item.explained.span, {}).items()
            },
            "rows": list(item.rows),
            "rules": list(item.rules),
            "diagnostics": list(item.diagnostics),
        }
        for item in links.groups
    ]


def _plain(value: Any) -> Any:
    return number(value) if isinstance(value, float) else value


def _lines(review: Review) -> dict[str, Any]:
    """Return the lines of the thermodynamic diagram, from 1050 hPa up to 100 hPa."""
    formula = "wmo-49" if review.flight is None else review.flight.vapour_pressure_formula
    pressures = np.geomspace(1050.0, 100.0, 48)
    upward = np.geomspace(1000.0, 150.0, 40)
    low = np.geomspace(1050.0, 400.0, 10)
    moist = moist_adiabats(np.array(MOIST, dtype=np.float64), upward, formula)
    return {
        "dry": [_line(theta, pressures, dry_adiabat(float(theta), pressures)) for theta in DRY],
        "moist": [_line(MOIST[i], upward, moist[i]) for i in range(len(MOIST))],
        "mixing": [
            _line(ratio, low, saturation_mixing_ratio_line(ratio, low, formula)) for ratio in MIXING
        ],
    }


def _line(value: float, pressures: FloatArray, values: FloatArray) -> dict[str, Any]:
    return {"value": value, "points": list(_pairs(pressures, values))}


def _pairs(pressures: FloatArray, values: FloatArray) -> Iterable[list[float]]:
    return (
        [float(round_half_away(float(p), 0.01)), float(round_half_away(float(v), 0.01))]
        for p, v in zip(pressures, values, strict=True)
    )
