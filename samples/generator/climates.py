"""Plausible flights drawn at random, for tests and benchmarks.

The figures of the climates are rough typical values (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.physics import standard_atmosphere_pressure
from samples.generator.flight import SampleFlight, make_flight
from samples.generator.noise import stream
from samples.generator.norreland import INSTRUMENT
from samples.generator.specification import Air, FlightSpec, Gap, Place

if TYPE_CHECKING:
    from collections.abc import Mapping

    from samples.generator.specification import Nodes

WIND_COLUMNS = ("wind_from_direction", "wind_speed", "latitude", "longitude")
ELEMENTS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "temperature": ("air_temperature", "relative_humidity"),
        "humidity": ("relative_humidity",),
        "wind": WIND_COLUMNS,
    }
)
"""What is lost together: humidity over water has no meaning without its temperature."""


@dataclass(frozen=True, slots=True)
class Climate:
    """Typical state of the air.

    Attributes
    ----------
    latitude : float
        Degrees.
    temperature : float
        At sea level, degC.
    lapse : float
        Mean lapse rate of the troposphere, K per km.
    tropopause : float
        Height, m.
    stratosphere : float
        Change of temperature above the tropopause, K per km.
    humidity : float
        Typical relative humidity of the lower troposphere, %.
    jet : float
        Wind speed at the tropopause, m s-1.
    jet_direction : float
        Degrees.
    high_wind : float
        Eastward wind at 30 km, m s-1.
    """

    latitude: float
    temperature: float
    lapse: float
    tropopause: float
    stratosphere: float
    humidity: float
    jet: float
    jet_direction: float
    high_wind: float


CLIMATES: Mapping[str, Climate] = MappingProxyType(
    {
        "tropical": Climate(8.0, 28.0, 6.4, 16700.0, 2.1, 80.0, 14.0, 95.0, -18.0),
        "subtropical": Climate(27.0, 24.0, 6.3, 15400.0, 1.6, 55.0, 34.0, 262.0, -8.0),
        "mid-latitude summer": Climate(46.0, 20.0, 6.2, 11900.0, 0.8, 65.0, 32.0, 255.0, -15.0),
        "mid-latitude winter": Climate(50.0, 3.0, 5.9, 10400.0, -0.2, 75.0, 48.0, 272.0, 30.0),
        "polar summer": Climate(76.0, 2.0, 5.7, 9300.0, 0.5, 75.0, 16.0, 240.0, -8.0),
        "polar winter": Climate(78.0, -24.0, 4.3, 8600.0, -0.9, 70.0, 20.0, 300.0, 32.0),
    }
)
"""Climates to draw from, by name."""


def random_flight(seed: int, **choices: Any) -> SampleFlight:
    """Return a varied but plausible flight.

    Parameters
    ----------
    seed : int
        The same seed and choices always give the same flight.
    **choices
        Those of :func:`random_specification`.

    Returns
    -------
    SampleFlight
        The document and the columns.
    """
    return make_flight(random_specification(seed, **choices))


def random_specification(
    seed: int,
    *,
    climate: str | None = None,
    elevation: float | None = None,
    burst_pressure: float | None = None,
    spacing: float | None = None,
    gaps: tuple[str, ...] = (),
    wind_unit: str | None = None,
    descent_seconds: float = 0.0,
) -> FlightSpec:
    """Draw a flight; what is given stays as given.

    Parameters
    ----------
    seed : int
    climate : str, optional
        A key of :data:`CLIMATES`.
    elevation : float, optional
        Station elevation, m.
    burst_pressure : float, optional
        hPa.
    spacing : float, optional
        Seconds between rows.
    gaps : tuple of str
        Keys of :data:`ELEMENTS`; each time one is named a layer of 5 to 70 hPa is left empty.
    wind_unit : {"kt", "m s-1"}, optional
        Unit of the report.
    descent_seconds : float
        How long rows go on after the burst.

    Returns
    -------
    FlightSpec

    Raises
    ------
    KeyError
        If the climate or the element of a gap is not known.
    """
    random = stream(seed, 40)
    names = tuple(CLIMATES)
    drawn = names[random.randint(len(names))]
    typical = CLIMATES[climate or drawn]
    height = float(random.choice((3.0, 40.0, 180.0, 420.0, 900.0, 1600.0, 2900.0)))
    height = height if elevation is None else float(elevation)
    depth = standard_atmosphere_pressure(height) / 1013.25
    surface = (1013.0 + 14.0 * random.standard_normal()) * float(depth)
    burst = float(np.exp(random.uniform(np.log(5.5), np.log(130.0))))
    burst = min(burst if burst_pressure is None else float(burst_pressure), 0.9 * surface)
    step = float(random.choice((1.0, 2.0, 5.0))) if spacing is None else float(spacing)
    unit = ("kt", "m s-1")[random.randint(2)]
    hours = int(random.randint(2 * 365)) * 12
    nominal = datetime(2031, 1, 1, tzinfo=UTC) + timedelta(hours=hours)
    release = nominal - timedelta(minutes=int(random.randint(28, 46)))
    latitude = round(float(typical.latitude + random.uniform(-4.0, 4.0)), 4)
    longitude = round(float(random.uniform(-24.0, -16.0)), 4)
    index = f"90{800 + int(random.randint(200)):03d}"
    air = _draw_air(random, typical, height, surface)
    return FlightSpec(
        seed=seed,
        place=Place(f"Station {index}", index, latitude, longitude, height),
        nominal_time=nominal,
        release_time=release,
        air=air,
        spacing=step,
        burst_pressure=burst,
        ascent_rate=float(random.uniform(4.2, 6.0)),
        descent_seconds=descent_seconds,
        gaps=tuple(_draw_gap(random, ELEMENTS[name], surface, burst) for name in gaps),
        facts={
            "instrument": INSTRUMENT,
            "termination": {"reason": "burst"},
            "reporting": {"wind_unit": wind_unit or unit},
        },
    )


def _draw_gap(
    random: np.random.RandomState, columns: tuple[str, ...], surface: float, burst: float
) -> Gap:
    """Draw a layer between the ground and the burst in which columns are empty."""
    bottom = float(np.exp(random.uniform(np.log(burst * 1.02), np.log(surface * 0.98))))
    thickness = float(random.uniform(5.0, 70.0))
    return Gap(columns, bottom, max(bottom - thickness, burst * 1.005))


def _draw_air(
    random: np.random.RandomState, typical: Climate, ground: float, surface: float
) -> Air:
    """Draw the air over a station: a boundary layer, inversions, moist and dry layers, a jet."""
    tropopause = max(typical.tropopause + 700.0 * random.standard_normal(), ground + 4000.0)
    start = typical.temperature - 0.0055 * ground + 3.0 * random.standard_normal()
    temperature, humidity, mixed = _draw_troposphere(random, typical, ground, start, tropopause)
    cold = temperature[-1][1]
    inversion = float(random.uniform(0.0, 4.0))
    slope = typical.stratosphere + 0.4 * random.standard_normal()
    temperature += (
        (tropopause + 600.0, cold + inversion),
        (tropopause + 3000.0, cold + inversion + 0.3 * slope),
        (22000.0 + 0.2 * tropopause, cold + inversion + 8.0 * slope),
        (40000.0, cold + inversion + 8.0 * slope + 25.0),
    )
    cirrus: Nodes = ()
    if random.uniform() < 0.5:
        top = tropopause - float(random.uniform(200.0, 2000.0))
        cirrus = ((top - float(random.uniform(300.0, 1500.0)), top, 105.0),)
    return Air(
        surface_pressure=round(surface, 1),
        temperature=temperature,
        humidity=humidity,
        wind=_draw_wind(random, typical, ground, tropopause),
        tropopause=tropopause,
        cirrus=cirrus,
        wave_speed=float(random.uniform(0.4, 1.1)),
        vertical_speed=float(random.uniform(0.1, 0.6)),
        fine_structure=float(random.uniform(0.12, 0.35)),
        turbulence=float(random.uniform(0.2, 1.2)),
        mixed_layer_top=mixed,
    )


def _draw_troposphere(
    random: np.random.RandomState,
    typical: Climate,
    ground: float,
    start: float,
    tropopause: float,
) -> tuple[Nodes, Nodes, float]:
    """Draw temperature and humidity up to the tropopause, and the top of the mixed layer."""
    height, value = ground, start
    wet = float(np.clip(typical.humidity + 10.0 * random.standard_normal(), 20.0, 98.0))
    temperature = [(height, value)]
    humidity = [(height, wet)]
    if random.uniform() < 0.5 or typical.temperature < -10.0:
        height += float(random.uniform(60.0, 350.0))
        value += float(random.uniform(1.0, 9.0))
        temperature.append((height, value))
        humidity.append((height, wet * 0.85))
        mixed = height
    else:
        depth = float(random.uniform(400.0, 1800.0))
        height, value = height + depth, value - 0.0092 * depth
        temperature.append((height, value))
        humidity.append((height, min(wet * 1.25, 97.0)))
        mixed = height
        height += float(random.uniform(60.0, 250.0))
        value += float(random.uniform(0.0, 5.0))
        temperature.append((height, value))
        humidity.append((height, wet * float(random.uniform(0.25, 0.9))))
    # The rest of the way cools so that the mean lapse rate of the climate is met at the tropopause.
    goal = typical.temperature - typical.lapse * tropopause / 1000.0
    rest = (value - goal) / (tropopause - height)
    while height < tropopause - 1200.0:
        thickness = float(random.uniform(300.0, 1600.0))
        steep = min(rest * (1.0 + 0.25 * random.standard_normal()), 0.0088)
        height, value = height + thickness, value - steep * thickness
        temperature.append((height, value))
        wet = float(np.clip(wet + 25.0 * random.standard_normal(), 4.0, 96.0))
        wet = 0.75 * wet + 0.25 * typical.humidity * 0.6
        humidity.append((height, wet))
        if random.uniform() < 0.3:
            sharp = float(random.uniform(80.0, 250.0))
            height, value = height + sharp, value + float(random.uniform(-0.3, 2.5))
            wet *= float(random.uniform(0.3, 1.0))
            temperature.append((height, value))
            humidity.append((height, max(wet, 3.0)))
        rest = max((value - goal) / max(tropopause - height, 1200.0), 0.002)
    temperature.append((tropopause, value - min(rest, 0.0088) * (tropopause - height)))
    humidity.append((tropopause, 35.0))
    return tuple(temperature), tuple(humidity), mixed


def _draw_wind(
    random: np.random.RandomState, typical: Climate, ground: float, tropopause: float
) -> Nodes:
    """Draw the wind: turning and freshening through the boundary layer, a jet, the stratosphere."""
    jet = max(typical.jet * (1.0 + 0.35 * random.standard_normal()), 6.0)
    direction = typical.jet_direction + 25.0 * random.standard_normal()
    turn = float(random.uniform(15.0, 60.0))
    speed = float(random.uniform(1.0, 9.0))
    high = typical.high_wind + 6.0 * random.standard_normal()
    nodes = (
        (ground, direction - turn, speed),
        (ground + 100.0, direction - 0.8 * turn, speed * 1.5),
        (ground + 600.0, direction - 0.4 * turn, speed * 1.5 + 0.08 * jet),
        (ground + 1800.0, direction - 0.1 * turn, speed + 0.2 * jet),
        (0.5 * (ground + tropopause), direction + 8.0 * random.standard_normal(), 0.55 * jet),
        (tropopause - 700.0, direction, jet),
        (tropopause + 4000.0, direction, 0.45 * jet),
        (30000.0, 270.0 if high > 0.0 else 90.0, abs(high)),
        (40000.0, 270.0 if high > 0.0 else 90.0, 1.4 * abs(high)),
    )
    return tuple((height, angle % 360.0, size) for height, angle, size in nodes)
