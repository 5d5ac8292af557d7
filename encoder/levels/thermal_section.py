"""Section 5: temperature and humidity ready for selection."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.levels.candidates import nodes_of
from encoder.levels.mandatory import mandatory_levels
from encoder.levels.placing import Placing, Plan, Wanted, limits_of, points_at
from encoder.levels.representation import humidity_half_step, temperature_switch
from encoder.levels.segments import Curve
from encoder.levels.stretches import missing_stretches
from encoder.levels.table import THERMODYNAMIC, LevelKind, Reason
from encoder.levels.tropopause import first_tropopause_pressure
from encoder.physics import relative_humidity
from encoder.resolution import (
    TEMPERATURE_HALF_STEP,
    UPPER_PART_PRESSURE,
    coded_depression,
    coded_pressure,
    coded_temperature,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from encoder.levels.candidates import Points
    from encoder.levels.rules import Rules
    from encoder.levels.table import Levels
    from encoder.profile import FloatArray, Profile

_ENDS = "WMO-No. 306, 35.3.1.2"
_NEED = "our own: a reader must see between which levels humidity is known"


def thermal_plan(
    points: Points,
    ascent: Profile,
    missing: Levels,
    tropopauses: Levels,
    *,
    rules: Rules,
    formula: str,
) -> Plan | None:
    """Return section 5 ready for selection.

    Parameters
    ----------
    points : Points
    ascent : Profile
        Prepared rows; humidity missing wherever the dew point is.
    missing : Levels
        Limits of layers without data.
    tropopauses : Levels
    rules : Rules
    formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS`.

    Returns
    -------
    Plan or None
        None when no row has a temperature.

    References
    ----------
    WMO-No. 306, 35.3.1.
    """
    warm = np.isfinite(points.profile["air_temperature"])
    humid = np.isfinite(points.profile["relative_humidity"])
    if not warm.any():
        return None
    dry = _without_humidity(points.pressure, humid, float(rules.missing_humidity))
    usable = warm & (humid | dry)
    mandatory = _mandatory(points, usable, rules, first_tropopause_pressure(tropopauses))
    if rules.tropopause_significant:
        mandatory += [
            Wanted(point, int(THERMODYNAMIC), reason)
            for level, point in enumerate(points_at(points, tropopauses))
            for reason in tropopauses.reasons[level]
            if usable[point]
        ]
    owners = [
        0,
        *np.flatnonzero(points.standard >= 0),
        *points_at(points, tropopauses),
        *points_at(points, missing),
        *(item.point for item in mandatory),
    ]
    while True:
        placing = Placing(points, nodes_of(points, usable, owners))
        layers, dry_layers = _place(placing, missing, mandatory, humid)
        shared = placing.shared_pressures()
        if not shared:
            break
        owners += shared
    return _plan(placing, ascent, (layers, dry_layers), tropopauses, rules=rules, formula=formula)


def _without_humidity(
    pressure: FloatArray, humid: NDArray[np.bool_], limit: float
) -> NDArray[np.bool_]:
    """Return the points in layers that are shown without humidity: thick ones, and both ends."""
    if not humid.any():
        return np.ones(len(pressure), dtype=np.bool_)
    inside = np.zeros(len(pressure), dtype=np.bool_)
    for begin, end in missing_stretches(pressure, humid, limit):
        inside[begin + 1 : end] = True
    known = np.flatnonzero(humid)
    inside[: known[0]] = True
    inside[known[-1] + 1 :] = True
    return inside


def _mandatory(
    points: Points, usable: NDArray[np.bool_], rules: Rules, tropopause: float
) -> list[Wanted]:
    """Return base and top of inversions and isothermal layers among the rows."""
    picked = np.flatnonzero(usable & (points.row >= 0))
    found = mandatory_levels(
        points.pressure[picked],
        points.profile["air_temperature"][picked],
        points.profile["relative_humidity"][picked],
        rules=rules,
        tropopause=tropopause,
    )
    return [Wanted(int(picked[item.row]), item.kinds, item.reason) for item in found]


def _place(
    placing: Placing, missing: Levels, mandatory: list[Wanted], humid: NDArray[np.bool_]
) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """Place everything that must be chosen; return the layers without T and without humidity."""
    points = placing.points
    count = len(placing.nodes.point)
    humid_nodes = humid[placing.nodes.point]
    for node, name, word in (
        (0, "lowest-level", "Lowest"),
        (count - 1, "highest-level", "Highest"),
    ):
        text = f"{word} level with temperature."
        placing.put(node, int(THERMODYNAMIC), Reason(name, text, _ENDS))
    known = np.flatnonzero(humid)
    if len(known):
        for point, step, word in ((known[0], 1, "Lowest"), (known[-1], -1, "Highest")):
            node = placing.nearest(int(point), step, humid_nodes)
            reason = Reason(f"{word.lower()}-humidity", f"{word} level with humidity.", _NEED)
            if node >= 0:
                placing.put(node, int(LevelKind.SIGNIFICANT_HUMIDITY), reason)
    layers = placing.put_limits(
        limits_of(
            points,
            missing,
            LevelKind.BEGIN_MISSING_TEMPERATURE,
            LevelKind.END_MISSING_TEMPERATURE,
        ),
        np.ones(count, dtype=np.bool_),
        int(LevelKind.SIGNIFICANT_TEMPERATURE),
    )
    dry_layers = placing.put_limits(
        limits_of(
            points, missing, LevelKind.BEGIN_MISSING_HUMIDITY, LevelKind.END_MISSING_HUMIDITY
        ),
        humid_nodes,
        int(LevelKind.SIGNIFICANT_HUMIDITY),
    )
    for item in mandatory:
        placing.put_in_place(item)
    return layers, dry_layers


def _plan(
    placing: Placing,
    ascent: Profile,
    layers: tuple[list[tuple[int, int]], list[tuple[int, int]]],
    tropopauses: Levels,
    *,
    rules: Rules,
    formula: str,
) -> Plan:
    """Return the plan of a section whose nodes are settled."""
    points, nodes = placing.points, placing.nodes.point
    temperature = coded_temperature(points.profile["air_temperature"][nodes])
    depression = coded_depression(
        points.profile["air_temperature"][nodes] - points.profile["dew_point_temperature"][nodes]
    )
    allowance = humidity_half_step(
        ascent["air_temperature"], ascent["dew_point_temperature"], formula
    )
    limit = float(rules.humidity) + np.nan_to_num(allowance)
    count = len(ascent)
    curves = (
        Curve(
            "air_temperature",
            ascent["air_temperature"],
            np.full(count, float(rules.temperature_below) + TEMPERATURE_HALF_STEP),
            np.full(count, float(rules.temperature_above) + TEMPERATURE_HALF_STEP),
            temperature,
        ),
        Curve(
            "relative_humidity",
            ascent["relative_humidity"],
            limit,
            limit,
            np.atleast_1d(relative_humidity(temperature, temperature - depression, formula)),
        ),
    )
    coded = placing.coded_pressure
    tropopause = float(coded_pressure(np.array([first_tropopause_pressure(tropopauses)]))[0])
    ratio = np.full(len(coded), float(rules.pressure_ratio))
    ratio[coded <= tropopause] = 0.0
    zones = (coded >= temperature_switch(rules, tropopause), ratio)
    return placing.plan(
        ascent["air_pressure"],
        curves,
        zones=zones,
        stops=_stops(placing, layers[1], rules),
        layers=layers[0],
        largest_turn=180.0,
    )


def _stops(
    placing: Placing, dry_layers: list[tuple[int, int]], rules: Rules
) -> list[tuple[int, int]]:
    """Return the layers in which one level has to be chosen, as ranges of nodes."""
    coded = placing.coded_pressure
    raw = placing.points.pressure[placing.nodes.point]
    band = (coded <= float(rules.band_bottom)) & (coded >= float(rules.band_top))
    ranges = [np.flatnonzero(band & (raw >= UPPER_PART_PRESSURE))]
    if rules.surface_layer is not None:
        depth = coded[0] - coded
        ranges.append(np.flatnonzero((depth > 0.0) & (depth <= float(rules.surface_layer))))
    ranges += [
        np.arange(below + 1, above) for below, above in dry_layers if below >= 0 and above >= 0
    ]
    return [(int(nodes[0]), int(nodes[-1])) for nodes in ranges if len(nodes)]
