"""The thermodynamic view: temperature on an axis that leans, with the lines air moves along."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.page.document import DRY, MIXING, MOIST
from encoder.physics.adiabats import dry_adiabat, moist_adiabats, saturation_mixing_ratio_line
from encoder.plot.marks import draw_barbs, legend_words, mark_levels, pressure_axis
from encoder.plot.segments import segment_lines

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from encoder.page.review import Review
    from encoder.profile import FloatArray

LEAN = 37.0
"""How many degrees an isotherm moves to the side over one unit of ln p."""
TOP = 100.0
_CURVES = (("dew_point_temperature", "moisture"), ("air_temperature", "temperature"))


def _across(temperature: FloatArray, pressure: FloatArray) -> FloatArray:
    moved: FloatArray = temperature + LEAN * np.log(1000.0 / pressure)
    return moved


def draw_thermodynamic(
    figure: Figure, review: Review, colours: dict[str, str], height_unit: str
) -> None:
    """Draw the thermodynamic view into a figure, from the ground to 100 hPa.

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
    bottom = max(1050.0, float(np.nanmax(levels["air_pressure"], initial=1050.0)))
    grid = figure.add_gridspec(
        1, 2, width_ratios=[9, 1], wspace=0.04, left=0.075, right=0.985, top=0.885, bottom=0.1
    )
    axes = figure.add_subplot(grid[0, 0])
    pressure_axis(axes, bottom, TOP, colours)
    axes.set_ylabel("hPa", color=colours["quiet"])
    coldest, warmest = _warmth(review)
    axes.set_xlim(coldest, warmest)
    _isotherms(axes, bottom, colours)
    _lines(axes, review, bottom, colours)
    for name, role in _CURVES:
        if flight is not None:
            axes.plot(
                _across(flight.ascent[name], flight.ascent["air_pressure"]),
                flight.ascent["air_pressure"],
                color=colours[role],
                linewidth=1.2,
            )
        values, pressures = segment_lines(levels, name)
        axes.plot(
            _across(values, pressures),
            pressures,
            color=colours["report"],
            linewidth=1.0,
            linestyle=(0, (2, 2)) if role == "moisture" else (0, (5, 3)),
        )
        mark_levels(
            axes,
            levels,
            _across(levels[name], levels["air_pressure"]),
            ("sfc", "std", "T", "U", "trop"),
            colours,
        )
    southern = flight is not None and flight.station.latitude < 0.0
    barbs = figure.add_subplot(grid[0, 1])
    draw_barbs(barbs, levels, colours, southern=southern, limits=(bottom, TOP), spacing=0.03)
    figure.text(
        0.012,
        0.012,
        "Dry adiabats long, moist adiabats dashed, mixing ratio (g/kg) dotted.\n"
        + legend_words(levels),
        color=colours["quiet"],
        fontsize=7.5,
        wrap=True,
    )


def _warmth(review: Review) -> tuple[float, float]:
    levels = review.report.levels
    seen = np.isfinite(levels["air_temperature"]) & (levels["air_pressure"] >= TOP)
    moved = _across(levels["air_temperature"], levels["air_pressure"])[seen]
    low = float(np.min(moved, initial=-12.0)) - 8.0
    high = float(np.max(moved, initial=14.0)) + 6.0
    moist = seen & np.isfinite(levels["dew_point_temperature"]) & (levels["air_pressure"] > 300.0)
    dew = np.maximum(levels["dew_point_temperature"][moist], -60.0)
    dew = _across(dew, levels["air_pressure"][moist])
    return min(low, float(np.min(dew, initial=low + 6.0)) - 6.0), high


def _minus(value: int) -> str:
    return str(value).replace("-", "\u2212")


def _isotherms(axes: Axes, bottom: float, colours: dict[str, str]) -> None:
    ends = np.array([bottom, TOP])
    shift = LEAN * np.log(1000.0 / bottom)
    low, high = axes.get_xlim()
    ticks = [value for value in range(-120, 61, 10) if low <= value + shift <= high]
    axes.set_xticks([value + shift for value in ticks], labels=[_minus(value) for value in ticks])
    axes.grid(visible=False, axis="x")
    axes.set_xlabel("°C", color=colours["quiet"])
    for value in range(-120, 61, 10):
        line = _across(np.full(2, float(value)), ends)
        style = colours["quiet"] if value == 0 else colours["grid"]
        axes.plot(line, ends, color=style, linewidth=1.0, zorder=1)
        if low < line[1] < high:
            axes.text(
                line[1],
                TOP * 0.985,
                _minus(value),
                fontsize=7,
                color=colours["quiet"],
                ha="center",
                va="bottom",
            )


def _lines(axes: Axes, review: Review, bottom: float, colours: dict[str, str]) -> None:
    formula = "wmo-49" if review.flight is None else review.flight.vapour_pressure_formula
    pressure = np.geomspace(bottom, TOP, 60)
    upward = np.geomspace(1000.0, 150.0, 50)
    low = np.geomspace(bottom, 400.0, 12)
    for theta in DRY:
        values = _across(dry_adiabat(float(theta), pressure), pressure)
        axes.plot(values, pressure, color=colours["line"], linewidth=0.8, zorder=1)
    for values in moist_adiabats(np.array(MOIST, dtype=np.float64), upward, formula):
        axes.plot(
            _across(values, upward),
            upward,
            color=colours["line"],
            linewidth=0.8,
            linestyle=(0, (7, 4)),
            zorder=1,
        )
    left, right = axes.get_xlim()
    for ratio in MIXING:
        values = _across(saturation_mixing_ratio_line(ratio, low, formula), low)
        axes.plot(
            values, low, color=colours["quiet"], linewidth=0.8, linestyle=(0, (1, 4)), zorder=1
        )
        if left < values[-1] < right:
            axes.text(
                values[-1],
                low[-1] * 0.985,
                f"{ratio:g}",
                fontsize=7,
                color=colours["quiet"],
                ha="center",
                va="bottom",
            )
