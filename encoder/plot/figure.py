"""Figures of a sounding as PNG, SVG or PDF: the views of the page without a browser.

Needs the extra ``plot`` (matplotlib). The same sounding gives the same bytes.
"""

from __future__ import annotations

import io
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.errors import MissingDependencyError
from encoder.plot.palette import PALETTE
from encoder.sounding import station_id

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.figure import Figure

    from encoder.page.review import Review
    from encoder.plot.palette import Ground

VIEWS = ("profile", "thermodynamic", "hodograph")
"""Names of the views."""
SUFFIXES = ("png", "svg", "pdf")
"""Kinds of files."""
_SIZES = {"profile": (13.0, 8.5), "thermodynamic": (8.0, 8.5), "hodograph": (8.0, 7.0)}
_SETTINGS: Any = {
    "font.family": ["DejaVu Sans"],
    "font.size": 9.0,
    "svg.hashsalt": "aerogram",
    "svg.fonttype": "path",
    "pdf.compression": 6,
    "axes.unicode_minus": True,
}


def plot_sounding(
    review: Review,
    *,
    view: str = "profile",
    suffix: str = "png",
    ground: Ground = "light",
    height_unit: str = "m",
    dpi: float = 130.0,
) -> bytes:
    """Return a figure of a sounding as the content of a file.

    Parameters
    ----------
    review : Review
        From :mod:`encoder.page.review`.
    view : {"profile", "thermodynamic", "hodograph"}
    suffix : {"png", "svg", "pdf"}
    ground : {"light", "dark"}
    height_unit : {"m", "ft"}
        Unit of the heights written beside the profile.
    dpi : float
        Resolution of a PNG in dots per inch.

    Returns
    -------
    bytes

    Raises
    ------
    ValueError
        If there is no such view or kind of file.
    MissingDependencyError
        If matplotlib is not installed.
    """
    if view not in VIEWS:
        msg = f"Expected a view of {', '.join(VIEWS)}, got {view!r}."
        raise ValueError(msg)
    if suffix not in SUFFIXES:
        msg = f"Expected a file of kind {', '.join(SUFFIXES)}, got {suffix!r}."
        raise ValueError(msg)
    try:
        import matplotlib as mpl
        from matplotlib.figure import Figure as NewFigure
    except ImportError as fault:
        msg = 'Plots need matplotlib: pip install "aerogram[plot]".'
        raise MissingDependencyError(msg) from fault
    from encoder.plot.hodograph import draw_hodograph
    from encoder.plot.profile import draw_profile
    from encoder.plot.thermodynamic import draw_thermodynamic

    colours = PALETTE[ground]
    shown = review if view == "hodograph" else _placed(review)
    draw: dict[str, Callable[..., None]] = {
        "profile": draw_profile,
        "thermodynamic": draw_thermodynamic,
        "hodograph": draw_hodograph,
    }
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(_SETTINGS)
        figure = NewFigure(figsize=_SIZES[view], facecolor=colours["sheet"])
        _head(figure, review, colours)
        draw[view](figure, shown, colours, height_unit)
        return _content(figure, suffix, dpi)


def _placed(review: Review) -> Review:
    """Return a review whose levels all have a pressure to be drawn at, or nothing to draw."""
    from encoder.page.document import places_of
    from encoder.plot.profile import PLACED

    levels = review.report.levels
    places = places_of(levels)
    columns = {**levels.columns, "air_pressure": places}
    known = np.isfinite(places)
    placed = replace(levels, columns=columns).select(known)
    flight = review.flight
    if flight is not None and flight.ascent.by_height:
        ascent = flight.ascent.with_columns(
            {"air_pressure": places_of(flight.ascent)}, {"air_pressure": PLACED}
        )
        flight = replace(flight, ascent=ascent)
    return replace(review, report=replace(review.report, levels=placed), flight=flight)


def _head(figure: Figure, review: Review, colours: dict[str, str]) -> None:
    flight, report = review.flight, review.report
    said = report.parts[0].content.identification
    unit = "knots" if review.wind_unit == "kt" else "m/s"
    parts = " ".join(part.letters for part in report.parts)
    if flight is None:
        title = f"Report of {said.get('station') or 'an unknown station'}"
        when = f"day {said.get('day') or '?'}, hour {said.get('hour')} UTC"
        judged = "not judged: a report alone"
    else:
        station = flight.station
        title = " ".join(dict.fromkeys((station.name, station_id(station))))
        when = f"{flight.nominal_time:%Y-%m-%d %H} UTC"
        verdict = review.verdict
        judged = (
            "may be sent"
            if verdict is not None and verdict.may_be_sent
            else "MUST NOT BE SENT: see the report page"
        )
        if verdict is not None and verdict.may_be_sent and verdict.warnings():
            judged = f"may be sent after a look at {verdict.warnings()} warnings"
    figure.text(
        0.012,
        0.985,
        title,
        parse_math=False,
        fontsize=14,
        fontweight="bold",
        color=colours["ink"],
        va="top",
    )
    figure.text(
        0.012,
        0.952,
        f"{when} · {report.form} · {parts} · winds in {unit} · {judged}",
        parse_math=False,
        color=colours["quiet"],
        va="top",
    )


def _content(figure: Figure, suffix: str, dpi: float) -> bytes:
    stream = io.BytesIO()
    nothing: dict[str, Any] = {
        "png": {"Software": None},
        "svg": {"Date": None, "Creator": None},
        "pdf": {"CreationDate": None, "ModDate": None, "Creator": None, "Producer": None},
    }[suffix]
    figure.savefig(
        stream, format=suffix, dpi=dpi, metadata=nothing, facecolor=figure.get_facecolor()
    )
    return stream.getvalue()
