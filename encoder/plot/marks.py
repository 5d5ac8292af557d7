"""Level kinds on plots: a shape and letters each; wind barbs; axes in the manner of the page."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.levels.table import LevelKind
from encoder.plot.barb import wind_barb

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from encoder.levels.table import Levels
    from encoder.profile import FloatArray

GAPS = (
    LevelKind.BEGIN_MISSING_TEMPERATURE
    | LevelKind.BEGIN_MISSING_HUMIDITY
    | LevelKind.BEGIN_MISSING_WIND
    | LevelKind.END_MISSING_TEMPERATURE
    | LevelKind.END_MISSING_HUMIDITY
    | LevelKind.END_MISSING_WIND
)
SHAPES: tuple[tuple[LevelKind, str, str, str, bool], ...] = (
    (LevelKind.SURFACE, "sfc", "surface", "_", True),
    (LevelKind.STANDARD, "std", "standard", "o", False),
    (LevelKind.SIGNIFICANT_TEMPERATURE, "T", "significant temperature", ">", True),
    (LevelKind.SIGNIFICANT_HUMIDITY, "U", "significant humidity", "d", True),
    (LevelKind.SIGNIFICANT_WIND, "w", "significant wind", "4", False),
    (LevelKind.TROPOPAUSE, "trop", "tropopause", "v", False),
    (LevelKind.MAXIMUM_WIND, "max", "maximum wind", "*", True),
    (LevelKind.TOP_OF_WIND_SOUNDING, "top", "top of wind sounding", "^", False),
    (LevelKind.FREEZING, "0C", "zero crossing", "$\u2296$", False),
    (LevelKind.REGIONAL, "reg", "regional", "s", False),
    (GAPS, "gap", "edge of a layer without data", "$]$", False),
)
"""Kind, letters, words, marker, whether it is filled; the last ones weigh most on a curve."""
_GLYPHS = {
    "sfc": "\u25ac",
    "std": "\u25cb",
    "T": "\u25b7",
    "U": "\u25c7",
    "w": "\u22b1",
    "trop": "\u25bd",
    "max": "\u2606",
    "top": "\u25b3",
    "0C": "\u2296",
    "reg": "\u25a1",
    "gap": "]",
}
"""The shapes as characters, for the words below a plot."""
PRESSURES = (1000, 850, 700, 500, 400, 300, 250, 200, 150, 100, 70, 50, 30, 20, 10, 5)
"""Pressures named on an axis, in hPa."""


def carries_data(levels: Levels) -> NDArray[np.bool_]:
    """Return, for each level, whether it says more than a height below the ground."""
    has: NDArray[np.bool_] = np.isfinite(levels["air_temperature"]) | np.isfinite(
        levels["wind_speed"]
    )
    return has


def mark_levels(
    axes: Axes,
    levels: Levels,
    values: FloatArray,
    wanted: tuple[str, ...],
    colours: dict[str, str],
) -> None:
    """Draw each level on a curve, with the shape of the weightiest of the wanted kinds."""
    drawn = np.zeros(len(levels), dtype=bool)
    for kind, letters, _word, marker, filled in reversed(SHAPES):
        if letters not in wanted:
            continue
        here = ((levels.kinds & int(kind)) != 0) & np.isfinite(values) & ~drawn
        drawn |= here
        _shapes(axes, values[here], levels["air_pressure"][here], marker, colours, filled=filled)


def _shapes(
    axes: Axes,
    across: FloatArray,
    pressure: FloatArray,
    marker: str,
    colours: dict[str, str],
    *,
    filled: bool,
) -> None:
    axes.plot(
        across,
        pressure,
        linestyle="none",
        marker=marker,
        markersize=6.0 if marker not in ("*", "4", "_") else 9.0,
        markerfacecolor=colours["sheet"] if filled else "none",
        markeredgecolor=colours["ink"],
        markeredgewidth=1.0,
        clip_on=True,
        zorder=5,
    )


def draw_ladder(axes: Axes, levels: Levels, colours: dict[str, str]) -> None:
    """Draw one lane a kind, with every level that has it."""
    known = carries_data(levels)
    used = [shape for shape in SHAPES if np.any((levels.kinds & int(shape[0])) != 0)]
    for place, (kind, letters, _word, marker, filled) in enumerate(used):
        here = ((levels.kinds & int(kind)) != 0) & known
        axes.axvline(place, color=colours["line"], linewidth=0.6, linestyle=(0, (1, 3)))
        axes.plot(
            np.full(int(np.sum(here)), float(place)),
            levels["air_pressure"][here],
            linestyle="none",
            marker=marker,
            markersize=6.0 if marker not in ("*", "4", "_") else 9.0,
            markerfacecolor=colours["ink"] if filled else "none",
            markeredgecolor=colours["ink"],
            markeredgewidth=1.0,
        )
        axes.text(
            place,
            1.01,
            letters,
            transform=axes.get_xaxis_transform(),
            rotation=60,
            color=colours["quiet"],
            fontsize=8,
            ha="left",
            va="bottom",
        )
    axes.set_xlim(-0.7, len(used) - 0.3)
    axes.set_xticks([])


def legend_words(levels: Levels) -> str:
    """Return shape, letters and words of the kinds in use."""
    return ",  ".join(
        f"{_GLYPHS[letters]} {letters} {word}"
        for kind, letters, word, _marker, _filled in SHAPES
        if np.any((levels.kinds & int(kind)) != 0)
    )


def pressure_axis(axes: Axes, bottom: float, top: float, colours: dict[str, str]) -> None:
    """Make the vertical axis one of log pressure, with round pressures named."""
    axes.set_yscale("log")
    axes.set_ylim(bottom, top)
    named = [value for value in PRESSURES if top <= value <= bottom]
    axes.set_yticks(named, labels=[str(value) for value in named])
    axes.set_yticks([], minor=True)
    dress(axes, colours)


def dress(axes: Axes, colours: dict[str, str]) -> None:
    """Give axes the grounds, lines and letters of the palette."""
    axes.set_facecolor(colours["sheet"])
    axes.grid(visible=True, color=colours["grid"], linewidth=0.7)
    axes.set_axisbelow(True)
    axes.tick_params(colors=colours["quiet"], labelsize=8, length=3)
    for edge in axes.spines.values():
        edge.set_color(colours["line"])


def pressure_range(levels: Levels, ascent: FloatArray | None) -> tuple[float, float]:
    """Return the lowest and highest place of a profile, in hPa."""
    known = levels["air_pressure"][np.flatnonzero(carries_data(levels))]
    together = known if ascent is None else np.concatenate([known, ascent])
    together = together[np.isfinite(together)]
    if len(together) == 0:
        return 1050.0, 100.0
    bottom, top = float(np.max(together)), float(np.min(together))
    return bottom * 1.03, min(top * 0.94, bottom * 0.8)


def draw_barbs(
    axes: Axes,
    levels: Levels,
    colours: dict[str, str],
    *,
    southern: bool,
    limits: tuple[float, float],
    spacing: float = 0.028,
) -> None:
    """Draw wind barbs up the middle of axes, leaving out those that have no room.

    Parameters
    ----------
    axes : Axes
    levels : Levels
    colours : dict of str to str
    southern : bool
        Whether the station lies in the southern hemisphere.
    limits : tuple of float
        Lowest and highest place of the axis, in hPa.
    spacing : float
        Least distance of two barbs as a share of the height.
    """
    axes.set_axis_off()
    axes.set_xlim(-1.3, 1.3)
    box = axes.get_window_extent()
    shape = box.height / max(box.width, 1.0)
    axes.set_ylim(0.0, 2.6 * shape)
    last = -1.0
    for index in range(len(levels)):
        speed = float(levels["wind_speed"][index])
        direction = float(levels["wind_from_direction"][index])
        pressure = float(levels["air_pressure"][index])
        if np.isnan(speed) or np.isnan(direction) or not limits[1] <= pressure <= limits[0]:
            continue
        share = np.log(limits[0] / pressure) / np.log(limits[0] / limits[1])
        if share - last < spacing:
            continue
        last = float(share)
        foot = share * 2.6 * shape
        barb = wind_barb(direction, speed, southern=southern)
        if barb.calm:
            axes.plot([0.0], [foot], marker="o", markerfacecolor="none", color=colours["ink"])
        for stroke in barb.strokes:
            xs, ys = zip(*stroke, strict=True)
            axes.plot(
                xs, [foot + y for y in ys], color=colours["ink"], linewidth=1.0, clip_on=False
            )
        for stroke in barb.filled:
            xs, ys = zip(*stroke, strict=True)
            axes.fill(xs, [foot + y for y in ys], color=colours["ink"], clip_on=False)
