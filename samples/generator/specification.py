"""What a generated flight is made from: the place, the air, the balloon and the instrument.

Everything here is plain data. Heights are geopotential metres above mean sea level, pressures hPa,
temperatures degC, relative humidity % over liquid water, winds degrees and m s-1.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

Nodes = tuple[tuple[float, ...], ...]
"""Points of a curve: height first, then the value or values there, upward."""


@dataclass(frozen=True, slots=True)
class Place:
    """The release point.

    Attributes
    ----------
    name : str
    wmo_index : str
        Block and station number, five figures.
    latitude, longitude : float
        Degrees, north and east positive.
    elevation : float
        Geometric metres above mean sea level.
    wmo_region : int
    """

    name: str
    wmo_index: str
    latitude: float
    longitude: float
    elevation: float
    wmo_region: int = 6


@dataclass(frozen=True, slots=True)
class Air:
    """The state of the air over the station, before small-scale structure is added.

    Attributes
    ----------
    surface_pressure : float
        hPa at the release point.
    temperature : Nodes
        Height and temperature; straight in between, corners rounded over some tens of metres.
    humidity : Nodes
        Height and relative humidity over water, up to the tropopause.
    wind : Nodes
        Height, direction the wind blows from, and speed.
    tropopause : float
        Height from which water vapour falls off to its stratospheric mixing ratio.
    cirrus : Nodes
        Bottom, top and relative humidity over ice of each ice cloud layer.
    wave_speed : float
        Root mean square horizontal speed of inertia-gravity waves at 5 km, m s-1.
    vertical_speed : float
        Root mean square vertical air motion met by the balloon, m s-1.
    fine_structure : float
        Standard deviation of sheets and layers in temperature where the air is stable, K.
    turbulence : float
        Standard deviation of wind fluctuations in the mixed layer next to the ground, m s-1.
    mixed_layer_top : float
        Height below which ``turbulence`` applies.
    """

    surface_pressure: float
    temperature: Nodes
    humidity: Nodes
    wind: Nodes
    tropopause: float
    cirrus: Nodes = ()
    wave_speed: float = 0.7
    vertical_speed: float = 0.25
    fine_structure: float = 0.3
    turbulence: float = 0.6
    mixed_layer_top: float = 0.0


@dataclass(frozen=True, slots=True)
class Gap:
    """A layer in which columns are missing.

    Attributes
    ----------
    columns : tuple of str
        Columns left empty.
    bottom, top : float
        Pressures of the limits, hPa; rows with ``bottom > pressure > top`` are empty.
    """

    columns: tuple[str, ...]
    bottom: float
    top: float


@dataclass(frozen=True, slots=True)
class FlightSpec:
    """A whole flight.

    Attributes
    ----------
    seed : int
        Fixes every random number.
    place : Place
    nominal_time, release_time : datetime
        UTC, aware.
    air : Air
    spacing : float
        Seconds between rows.
    burst_pressure : float
        hPa.
    ascent_rate : float
        m s-1 near the ground.
    descent_seconds : float
        How long rows go on after the burst.
    gaps : tuple of Gap
    facts : mapping
        Members of ``flight.json`` that do not follow from the air: ``cloud``, ``instrument``,
        ``balloon``, ``termination``, ``reporting``, ``remarks``.
    """

    seed: int
    place: Place
    nominal_time: datetime
    release_time: datetime
    air: Air
    spacing: float = 1.0
    burst_pressure: float = 10.0
    ascent_rate: float = 5.0
    descent_seconds: float = 0.0
    gaps: tuple[Gap, ...] = ()
    facts: Mapping[str, Any] = field(default_factory=dict)
