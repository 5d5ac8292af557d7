"""The hodograph: the ends of the wind vectors, all from one point, north up."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.levels.table import LevelKind
from encoder.physics import wind_components
from encoder.plot.marks import dress
from encoder.plot.segments import segment_levels
from encoder.resolution import KNOT

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from encoder.levels.table import Levels
    from encoder.page.review import Review
    from encoder.profile import FloatArray

_STEPS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0)


def draw_hodograph(
    figure: Figure, review: Review, colours: dict[str, str], height_unit: str
) -> None:
    """Draw the hodograph into a figure.

    Parameters
    ----------
    figure : Figure
    review : Review
    colours : dict of str to str
        Of :data:`encoder.plot.palette.PALETTE`.
    height_unit : str
        Not shown in this view.
    """
    del height_unit
    levels, flight = review.report.levels, review.flight
    factor = 1.0 / KNOT if review.wind_unit == "kt" else 1.0
    unit = "kt" if review.wind_unit == "kt" else "m/s"
    axes = figure.add_axes((0.07, 0.085, 0.91, 0.81))
    dress(axes, colours)
    axes.set_aspect("equal", adjustable="datalim")
    east, north = _ends(levels["wind_from_direction"], levels["wind_speed"] * factor)
    fastest = float(np.nanmax(levels["wind_speed"] * factor, initial=5.0))
    if flight is not None:
        flown = _ends(flight.ascent["wind_from_direction"], flight.ascent["wind_speed"] * factor)
        axes.plot(*flown, color=colours["speed"], linewidth=0.9)
        fastest = max(fastest, float(np.nanmax(flight.ascent["wind_speed"] * factor, initial=0.0)))
    for chain in segment_levels(levels, "wind_speed"):
        axes.plot(
            east[chain],
            north[chain],
            color=colours["report"],
            linewidth=1.0,
            linestyle=(0, (5, 3)),
        )
    _rings(axes, fastest, colours)
    named = int(LevelKind.SURFACE | LevelKind.STANDARD | LevelKind.MAXIMUM_WIND)
    for index in range(len(levels)):
        if np.isnan(east[index]):
            continue
        axes.plot(
            east[index],
            north[index],
            marker="*" if levels.kinds[index] & int(LevelKind.MAXIMUM_WIND) else "o",
            markersize=7.0 if levels.kinds[index] & named else 4.0,
            markerfacecolor=colours["sheet"],
            markeredgecolor=colours["ink"],
        )
    here = [i for i in range(len(levels)) if levels.kinds[i] & named and np.isfinite(east[i])]
    _label(axes, [(_name(levels, i), float(east[i]), float(north[i])) for i in here], colours)
    axes.set_xlabel(f"towards the east [{unit}]", color=colours["quiet"])
    axes.set_ylabel(f"towards the north [{unit}]", color=colours["quiet"])
    figure.text(
        0.012,
        0.012,
        "Thin: every row of the flight. Broken: between the decoded levels. Numbers: hPa.",
        color=colours["quiet"],
        fontsize=8,
    )


def _label(axes: Axes, names: list[tuple[str, float, float]], colours: dict[str, str]) -> None:
    """Name the winds there is room to name, the lowest first."""
    from matplotlib.patheffects import withStroke

    axes.apply_aspect()
    point = axes.figure.dpi / 72.0
    taken: list[tuple[float, float]] = []
    for name, east, north in names:
        across, up = axes.transData.transform((east, north)) / point
        if any(abs(across - x) < 26.0 and abs(up - y) < 10.0 for x, y in taken):
            continue
        taken.append((across, up))
        axes.annotate(
            name,
            (east, north),
            xytext=(6, 3),
            textcoords="offset points",
            color=colours["ink"],
            fontsize=8,
            path_effects=[withStroke(linewidth=2.5, foreground=colours["sheet"])],
        )


def _name(levels: Levels, index: int) -> str:
    """Return the pressure of a level, its height where it has none."""
    pressure = float(levels["air_pressure"][index])
    if np.isfinite(pressure):
        return f"{pressure:g}"
    height = float(levels["geopotential_height"][index])
    return f"{height:.0f} m" if np.isfinite(height) else "surface"


def _ends(direction: FloatArray, speed: FloatArray) -> tuple[FloatArray, FloatArray]:
    east, north = wind_components(np.asarray(direction), np.asarray(speed))
    return np.atleast_1d(east), np.atleast_1d(north)


def _rings(axes: Axes, fastest: float, colours: dict[str, str]) -> None:
    from matplotlib.patches import Circle

    step = next((value for value in _STEPS if fastest / value <= 6.0), 100.0)
    axes.plot([0.0], [0.0], marker="o", markersize=3.0, color=colours["ink"])
    for radius in np.arange(step, fastest + step, step):
        axes.add_artist(Circle((0.0, 0.0), float(radius), fill=False, color=colours["line"]))
    axes.axhline(0.0, color=colours["line"], linewidth=0.8)
    axes.axvline(0.0, color=colours["line"], linewidth=0.8)
