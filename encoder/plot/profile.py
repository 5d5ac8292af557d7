"""The profile view: quantities side by side against log pressure, each with its misfit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.plot.marks import (
    draw_barbs,
    draw_ladder,
    legend_words,
    mark_levels,
    pressure_axis,
    pressure_range,
)
from encoder.plot.segments import segment_lines
from encoder.resolution import KNOT

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from encoder.page.review import Review
    from encoder.profile import FloatArray

_STRIPS: tuple[tuple[str, str, tuple[tuple[str, str], ...], tuple[str, ...]], ...] = (
    (
        "air_temperature",
        "T, Td [°C]",
        (("dew_point_temperature", "moisture"), ("air_temperature", "temperature")),
        ("sfc", "std", "T", "trop", "0C"),
    ),
    (
        "relative_humidity",
        "U [%]",
        (("relative_humidity", "moisture"),),
        ("sfc", "std", "U"),
    ),
    ("wind_speed", "ff", (("wind_speed", "speed"),), ("sfc", "std", "w", "max", "top")),
    (
        "wind_from_direction",
        "dd [°]",
        (("wind_from_direction", "direction"),),
        ("sfc", "std", "w", "max", "top"),
    ),
)
PLACED = "standard atmosphere, for drawing alone"
"""Says of a pressure that it is none of the flight."""
_FOOT = 3.280839895
"""Feet in a metre."""


def draw_profile(figure: Figure, review: Review, colours: dict[str, str], height_unit: str) -> None:
    """Draw the profile view into a figure.

    Parameters
    ----------
    figure : Figure
    review : Review
    colours : dict of str to str
        Of :data:`encoder.plot.palette.PALETTE`.
    height_unit : {"m", "ft"}
    """
    levels = review.report.levels
    flight = review.flight
    limits = pressure_range(levels, None if flight is None else flight.ascent["air_pressure"])
    fit = review.fit is not None
    strips = [item for item in _STRIPS if _has_values(review, item[2])]
    widths = [1.1] + [width for _ in strips for width in ([2.2, 0.5] if fit else [2.6])]
    widths += [0.7]
    grid = figure.add_gridspec(
        1,
        len(widths),
        width_ratios=widths,
        wspace=0.16,
        left=0.05,
        right=0.95,
        top=0.86,
        bottom=0.085,
    )
    ladder = figure.add_subplot(grid[0, 0])
    pressure_axis(ladder, *limits, colours)
    draw_ladder(ladder, levels, colours)
    placed = flight is not None and flight.ascent.computed.get("air_pressure") == PLACED
    label = "hPa of the standard atmosphere" if placed else "hPa"
    ladder.set_ylabel(label, color=colours["quiet"])
    place = 1
    for element, title, curves, wanted in strips:
        axes = figure.add_subplot(grid[0, place])
        place += 1
        pressure_axis(axes, *limits, colours)
        axes.tick_params(labelleft=False)
        _strip(axes, review, element, curves=curves, wanted=wanted, colours=colours)
        unit = "kt" if review.wind_unit == "kt" else "m/s"
        label = f"ff [{unit}]" if element == "wind_speed" else title
        axes.set_title(label, color=colours[curves[-1][1]], fontsize=10, loc="left")
        if fit:
            narrow = figure.add_subplot(grid[0, place])
            place += 1
            pressure_axis(narrow, *limits, colours)
            narrow.tick_params(labelleft=False)
            _misfit(narrow, review, element, colours[curves[-1][1]], colours)
    barbs = figure.add_subplot(grid[0, place])
    southern = flight is not None and flight.station.latitude < 0.0
    draw_barbs(barbs, levels, colours, southern=southern, limits=limits)
    _heights(barbs, review, limits, colours, height_unit)
    how = (
        "Thin: every row of the flight. Broken: straight segments between the decoded levels. "
        "Tint: what is tolerated. Narrow: misfit as a share of its limit."
        if fit
        else "Broken: straight segments between the decoded levels."
    )
    figure.text(0.012, 0.012, f"{how}\n{legend_words(levels)}", color=colours["quiet"], fontsize=8)


def _has_values(review: Review, curves: tuple[tuple[str, str], ...]) -> bool:
    """Tell whether a strip has anything to draw; what nobody observed is left out."""
    flight = review.flight
    return any(
        bool(np.any(np.isfinite(review.report.levels[name])))
        or (flight is not None and bool(np.any(np.isfinite(flight.ascent[name]))))
        for name, _ in curves
    )


def _scale(review: Review, name: str) -> float:
    return 1.0 / KNOT if name == "wind_speed" and review.wind_unit == "kt" else 1.0


def _strip(
    axes: Axes,
    review: Review,
    element: str,
    *,
    curves: tuple[tuple[str, str], ...],
    wanted: tuple[str, ...],
    colours: dict[str, str],
) -> None:
    levels, flight, fit = review.report.levels, review.flight, review.fit
    factor = _scale(review, element)
    if flight is not None and fit is not None:
        middle, limit = fit.rebuilt[element] * factor, fit.limits[element] * factor
        low, high = middle - limit, middle + limit
        if element == "relative_humidity":
            low, high = np.clip(low, 0.0, 100.0), np.clip(high, 0.0, 100.0)
        broken = np.isnan(middle) | np.isnan(limit)
        if element == "wind_from_direction":
            broken[1:] |= np.abs(np.diff(middle)) > 60.0
        low = np.where(broken, np.nan, low)
        axes.fill_betweenx(
            flight.ascent["air_pressure"],
            low,
            high,
            color=colours[curves[-1][1]],
            alpha=0.2,
            linewidth=0.0,
        )
    for name, role in curves:
        if flight is not None:
            axes.plot(
                _unbroken(flight.ascent[name], name) * factor,
                flight.ascent["air_pressure"],
                color=colours[role],
                linewidth=1.0,
            )
        values, pressures = segment_lines(levels, name)
        axes.plot(
            values * factor,
            pressures,
            color=colours["report"],
            linewidth=1.0,
            linestyle=(0, (2, 2)) if role == "moisture" else (0, (5, 3)),
        )
        mark_levels(axes, levels, levels[name] * factor, wanted, colours)
    if element == "relative_humidity":
        axes.set_xlim(0.0, 100.0)
    elif element == "wind_from_direction":
        axes.set_xlim(0.0, 360.0)
        axes.set_xticks([0, 90, 180, 270, 360])
    elif element == "wind_speed":
        axes.set_xlim(left=0.0)


def _unbroken(values: FloatArray, name: str) -> FloatArray:
    """Return values with a break where a direction passes north."""
    if name != "wind_from_direction":
        return values
    broken = values.copy()
    broken[1:][np.abs(np.diff(values)) > 180.0] = np.nan
    return broken


def _misfit(axes: Axes, review: Review, element: str, colour: str, colours: dict[str, str]) -> None:
    if review.flight is None or review.fit is None:
        return
    share = review.fit.misfits[element] / review.fit.limits[element]
    pressure = review.flight.ascent["air_pressure"]
    axes.fill_betweenx(pressure, 0.0, np.minimum(share, 1.25), color=colour, linewidth=0.0)
    beyond = share > 1.0 + 1e-6
    axes.plot(
        np.minimum(share[beyond], 1.25),
        pressure[beyond],
        linestyle="none",
        marker="x",
        color=colours["stop"],
        markersize=4.0,
    )
    axes.axvline(1.0, color=colours["ink"], linewidth=1.0)
    axes.set_xlim(0.0, 1.25)
    axes.set_xticks([1.0], labels=["1"])
    axes.grid(visible=False, axis="x")
    axes.set_title("misfit", fontsize=8, color=colours["quiet"], loc="left")


def _heights(
    axes: Axes,
    review: Review,
    limits: tuple[float, float],
    colours: dict[str, str],
    height_unit: str,
) -> None:
    """Write the heights of standard levels beside the barbs."""
    levels = review.report.levels
    height = axes.get_ylim()[1]
    factor = 1.0 if height_unit == "m" else _FOOT
    last = -1.0
    for index in range(len(levels)):
        value, pressure = levels["geopotential_height"][index], levels["air_pressure"][index]
        share = float(np.log(limits[0] / pressure) / np.log(limits[0] / limits[1]))
        if np.isnan(value) or not 0.0 <= share <= 1.0 or share - last < 0.022:
            continue
        last = share
        axes.text(
            1.6,
            share * height,
            f"{value * factor:.0f}",
            color=colours["quiet"],
            fontsize=7,
            ha="left",
            va="center",
        )
    axes.set_title(f"wind; height, {height_unit}", fontsize=8, color=colours["quiet"], y=1.03)
