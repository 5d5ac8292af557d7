"""The criteria of level selection as data: every number with its source.

``RULES["wmo"]`` follows the regulations of FM 35 TEMP (WMO-No. 306 Volume I.1, 35.2 and 35.3, and
the matching BUFR regulations B/C25 of Volume I.2). ``RULES["fmh-3"]`` holds the differences of
the United States practice; where its handbook could not be read the entry says so.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

_MEMORY = "FCM-H3-1997 chapter 5, number from memory"
_PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Criterion:
    """One number of a rule.

    Attributes
    ----------
    value : float
    unit : str
        UDUNITS spelling.
    source : str
        Regulation the number is taken from.
    """

    value: float
    unit: str
    source: str

    def __float__(self) -> float:
        return self.value


@dataclass(frozen=True, slots=True)
class Rules:
    """A set of criteria.

    Attributes
    ----------
    name : str
        Key in :data:`RULES`.
    standard_levels, high_levels : tuple of float
        Standard isobaric surfaces in hPa, upward; the high ones are given when asked for.
    extrapolation_share, extrapolation_limit : Criterion
        A height above the top may be given while the gap is no larger than this share of the
        standard pressure and than this many hPa.
    layer_thickness, inversion_temperature, inversion_humidity : Criterion
        Inversions and isothermal layers this thick, or inversions with this change, are mandatory.
    layer_limit : Criterion
        Their base lies below this surface or the first tropopause, whichever is higher in altitude.
    layer_merge : Criterion
        No further inversion may follow within this distance above the top.
    isothermal_tolerance : Criterion
        Largest change of temperature across a layer that still counts as isothermal.
    band_bottom, band_top : Criterion
        One significant level must lie in this band.
    temperature_below, temperature_above, temperature_switch : Criterion
        Tolerance up to, and above, the first significant level above the switch surface or the
        first tropopause, whichever is lower in altitude.
    humidity : Criterion
        Tolerance in percentage points.
    pressure_ratio : Criterion
        Smallest ratio upper/lower of neighbouring significant levels up to the first tropopause.
    direction, speed, direction_floor : Criterion
        Wind tolerances, and the observed speed below which the direction is not judged.
    largest_turn : Criterion
        A straight segment may not turn by more than this: the short way round must be plain.
    missing_temperature, missing_humidity, missing_wind : Criterion
        Thickness from which a layer without data is shown by its limits.
    tropopause_lapse, tropopause_depth : Criterion
        First tropopause: lapse rate no more than this, also on average within this depth above.
    tropopause_restart_lapse, tropopause_restart_depth : Criterion
        A further one is sought after the average lapse exceeded this over this depth.
    tropopause_lowest : Criterion
        Below this surface a tropopause counts only if it is the only one and no steep layer
        follows.
    tropopause_significant : bool
        Whether tropopauses are made significant levels too.
    wind_maximum_surface, wind_maximum_speed, wind_maximum_margin : Criterion
        Maximum wind: above this surface, more than this speed; further ones exceed both
        neighbouring minima by the margin.
    shear_depth : Criterion
        Distance below and above the maximum wind at which the shear is taken.
    surface_layer : Criterion or None
        If given, one level is forced within this distance of the surface.
    """

    name: str
    standard_levels: tuple[float, ...]
    high_levels: tuple[float, ...]
    extrapolation_share: Criterion
    extrapolation_limit: Criterion
    layer_thickness: Criterion
    inversion_temperature: Criterion
    inversion_humidity: Criterion
    layer_limit: Criterion
    layer_merge: Criterion
    isothermal_tolerance: Criterion
    band_bottom: Criterion
    band_top: Criterion
    temperature_below: Criterion
    temperature_above: Criterion
    temperature_switch: Criterion
    humidity: Criterion
    pressure_ratio: Criterion
    direction: Criterion
    speed: Criterion
    direction_floor: Criterion
    largest_turn: Criterion
    missing_temperature: Criterion
    missing_humidity: Criterion
    missing_wind: Criterion
    tropopause_lapse: Criterion
    tropopause_depth: Criterion
    tropopause_restart_lapse: Criterion
    tropopause_restart_depth: Criterion
    tropopause_lowest: Criterion
    tropopause_significant: bool
    wind_maximum_surface: Criterion
    wind_maximum_speed: Criterion
    wind_maximum_margin: Criterion
    shear_depth: Criterion
    surface_layer: Criterion | None = None


_TROPOPAUSE = "WMO-No. 182 International Meteorological Vocabulary, tropopause"

WMO = Rules(
    name="wmo",
    standard_levels=(
        1000.0,
        925.0,
        850.0,
        700.0,
        500.0,
        400.0,
        300.0,
        250.0,
        200.0,
        150.0,
        100.0,
        70.0,
        50.0,
        30.0,
        20.0,
        10.0,
    ),
    high_levels=(7.0, 5.0, 3.0, 2.0, 1.0),
    extrapolation_share=Criterion(0.25, "1", "WMO-No. 306, 35.2.2.4"),
    extrapolation_limit=Criterion(25.0, "hPa", "WMO-No. 306, 35.2.2.4"),
    layer_thickness=Criterion(20.0, "hPa", "WMO-No. 306, 35.3.1.2"),
    inversion_temperature=Criterion(2.5, "K", "WMO-No. 306, 35.3.1.2"),
    inversion_humidity=Criterion(20.0, "%", "WMO-No. 306, 35.3.1.2"),
    layer_limit=Criterion(300.0, "hPa", "WMO-No. 306, 35.3.1.2"),
    layer_merge=Criterion(20.0, "hPa", "WMO-No. 306, note to 35.3.1.2"),
    isothermal_tolerance=Criterion(0.05, "K", _PRACTICE),
    band_bottom=Criterion(110.0, "hPa", "WMO-No. 306, 35.3.1.2"),
    band_top=Criterion(100.0, "hPa", "WMO-No. 306, 35.3.1.2"),
    temperature_below=Criterion(1.0, "K", "WMO-No. 306, 35.3.1.3"),
    temperature_above=Criterion(2.0, "K", "WMO-No. 306, 35.3.1.3"),
    temperature_switch=Criterion(300.0, "hPa", "WMO-No. 306, 35.3.1.3"),
    humidity=Criterion(15.0, "%", "WMO-No. 306, 35.3.1.3"),
    pressure_ratio=Criterion(0.6, "1", "WMO-No. 306, 35.3.1.3"),
    direction=Criterion(10.0, "degree", "WMO-No. 306, 35.3.2.1 and 32.3.1.1"),
    speed=Criterion(5.0, "m s-1", "WMO-No. 306, 35.3.2.1 and 32.3.1.1"),
    direction_floor=Criterion(5.0, "m s-1", _PRACTICE),
    largest_turn=Criterion(165.0, "degree", "our own: beyond it a reader may turn the wrong way"),
    missing_temperature=Criterion(20.0, "hPa", "WMO-No. 306, 35.3.1.6"),
    missing_humidity=Criterion(20.0, "hPa", "WMO-No. 306, 35.3.1.6"),
    missing_wind=Criterion(50.0, "hPa", "WMO-No. 306, 35.3.2.2"),
    tropopause_lapse=Criterion(2.0, "K km-1", _TROPOPAUSE),
    tropopause_depth=Criterion(2000.0, "m", _TROPOPAUSE),
    tropopause_restart_lapse=Criterion(3.0, "K km-1", _TROPOPAUSE),
    tropopause_restart_depth=Criterion(1000.0, "m", _TROPOPAUSE),
    tropopause_lowest=Criterion(500.0, "hPa", _TROPOPAUSE),
    tropopause_significant=False,
    wind_maximum_surface=Criterion(500.0, "hPa", "WMO-No. 306, 35.2.4.1"),
    wind_maximum_speed=Criterion(30.0, "m s-1", "WMO-No. 306, 35.2.4.1"),
    wind_maximum_margin=Criterion(10.0, "m s-1", "WMO-No. 306, 35.2.4.1"),
    shear_depth=Criterion(1000.0, "m", "WMO-No. 306, 35.2.4.4"),
)

FMH3 = replace(
    WMO,
    name="fmh-3",
    humidity=Criterion(10.0, "%", _MEMORY),
    tropopause_significant=True,
    direction_floor=Criterion(10.0 * 1852.0 / 3600.0, "m s-1", _MEMORY),
    wind_maximum_speed=Criterion(60.0 * 1852.0 / 3600.0, "m s-1", _MEMORY),
    wind_maximum_margin=Criterion(20.0 * 1852.0 / 3600.0, "m s-1", _MEMORY),
    surface_layer=Criterion(20.0, "hPa", "BUFR code table 0 08 040, figure 1"),
)

RULES: dict[str, Rules] = {rules.name: rules for rules in (WMO, FMH3)}
"""Rule sets by name."""

NEW_SURFACE = 925.0
"""The surface in hPa that became a standard one last."""
NEW_SURFACE_FROM = date(1991, 11, 1)
"""First day of it (from memory, uncertain)."""


def rules_on(rules: Rules, day: date) -> Rules:
    """Return a rule set as it was on a day.

    Parameters
    ----------
    rules : Rules
    day : date
        Day of the flight.

    Returns
    -------
    Rules
        Without 925 hPa before it was a standard surface; otherwise the same.
    """
    if day >= NEW_SURFACE_FROM or NEW_SURFACE not in rules.standard_levels:
        return rules
    surfaces = tuple(one for one in rules.standard_levels if one != NEW_SURFACE)
    return replace(rules, standard_levels=surfaces)
