"""The air along a vertical: temperature, humidity, wind and pressure on a 5 m grid.

The broad state is given by nodes; inertia-gravity waves, sheets and layers and turbulence are added
so that they agree with one another: waves carry wind and temperature together, sheets exist only
where the air is stable, overturned layers are mixed until no layer above the ground is
superadiabatic, and pressure follows hydrostatically from virtual temperature.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from encoder.physics import (
    GRAVITY,
    geopotential_height,
    hypsometric_pressure,
    saturation_vapour_pressure,
    virtual_temperature,
    wind_components,
)
from samples.generator.noise import (
    FloatArray,
    blended,
    layers,
    red_noise,
    sheets,
    smooth,
    stream,
)

if TYPE_CHECKING:
    from samples.generator.specification import FlightSpec, Nodes

STEP = 5.0
"""Grid step in geopotential metres."""
DRY_ADIABATIC = 9.76e-3
"""Dry adiabatic lapse rate g / cp in K m-1 (cp 1004.7 J kg-1 K-1)."""
SURFACE_LAYER = 60.0
"""Depth above the ground in which the air may be superadiabatic, m (common practice, no source)."""
SURFACE_EXCESS = 1.0
"""Largest superadiabatic excess at the ground, K (common practice, no source)."""
STRATOSPHERIC_VAPOUR = 4.6e-6
"""Volume mixing ratio of water vapour in the lower stratosphere (from memory: 4 to 5 ppmv)."""
LARGEST_OVER_ICE = 150.0
"""Relative humidity over ice, %, at which droplets freeze by themselves below -38 degC (from
memory)."""
EARTH_RATE = 7.292e-5
"""Rotation of the Earth, rad s-1."""
VAPOUR_FORMULA = "wmo-49"


@dataclass(frozen=True, slots=True)
class Atmosphere:
    """Columns of air, each of shape (level,), upward.

    Attributes
    ----------
    height : ndarray
        Geopotential height, m.
    pressure, temperature, humidity : ndarray
        hPa, degC, % over water.
    eastward, northward : ndarray
        Wind components, m s-1.
    vertical : ndarray
        Vertical air motion, m s-1.
    """

    height: FloatArray
    pressure: FloatArray
    temperature: FloatArray
    humidity: FloatArray
    eastward: FloatArray
    northward: FloatArray
    vertical: FloatArray


def saturation_over_ice(temperature: FloatArray) -> FloatArray:
    """Return the saturation vapour pressure over ice in hPa (WMO-No. 49, Goff 1957)."""
    kelvin = temperature + 273.15
    ratio = 273.16 / kelvin
    exponent = -9.09685 * (ratio - 1.0) - 3.56654 * np.log10(ratio)
    exponent += 0.87682 * (1.0 - 1.0 / ratio) + 0.78614
    return np.asarray(10.0**exponent)


def curve(nodes: Nodes, part: int, height: FloatArray) -> FloatArray:
    """Return one value of the nodes, straight between them."""
    table = np.array([(node[0], node[part]) for node in nodes], dtype=np.float64)
    return np.interp(height, table[:, 0], table[:, 1])


def build_atmosphere(spec: FlightSpec) -> Atmosphere:
    """Build the air over the station up to well above the burst.

    Parameters
    ----------
    spec : FlightSpec

    Returns
    -------
    Atmosphere
        Reaches at least 1.5 km above the burst pressure for any air of the troposphere's warmth.
    """
    place, air = spec.place, spec.air
    ground = float(geopotential_height(place.elevation, place.latitude))
    top = ground + 7700.0 * np.log(air.surface_pressure / spec.burst_pressure) + 2500.0
    height = np.arange(ground, top, STEP)
    above = height - ground
    aloft = np.clip((above - 2500.0) / 6000.0, 0.0, 1.0)
    calm = np.clip(above / 300.0, 0.0, 1.0)

    broad = blended(curve(air.temperature, 1, height), 2.5, 16.0, aloft)
    stability = _stability(broad)
    wave_east, wave_north, wave_warm = _waves(spec, height, broad, stability)
    count = len(height)
    stable = np.clip(stability / 1.1e-4, 0.0, 2.5)
    fine = sheets(stream(spec.seed, 1), count, 45.0) + 0.5 * sheets(stream(spec.seed, 2), count, 12)
    rough = red_noise(stream(spec.seed, 3), count, 1.5, 5, 0.5)
    departure = wave_warm * calm
    departure += air.fine_structure * np.sqrt(np.clip(stable, 0.0, 1.0)) * fine * calm
    departure += (0.02 + 0.08 * np.exp(-2.0 * stable)) * rough * np.clip(above / 60.0, 0.0, 1.0)
    temperature = mixed(broad + departure, height, above)

    humidity = _humidity(spec, height, broad, temperature, calm)
    pressure = _pressure(air.surface_pressure, height, temperature, humidity)
    wind = (curve_of_wind(air.wind, height, aloft, part) for part in (0, 1))
    eastward, northward = wind
    gusts = air.turbulence * np.clip((air.mixed_layer_top - height) / 150.0, 0.0, 1.0)
    gusts = np.maximum(gusts, 0.08 + 0.25 * np.exp(-2.0 * stable))
    eddies = np.clip(above / 40.0, 0.15, 1.0) * gusts
    mesoscale = 0.75 * (1.0 + np.hypot(eastward, northward) / 25.0) * calm
    eastward = eastward + wave_east * calm + _wind_noise(spec, 4, eddies, mesoscale)
    northward = northward + wave_north * calm + _wind_noise(spec, 5, eddies, mesoscale)
    vertical = _vertical_motion(spec, height, above)
    return Atmosphere(height, pressure, temperature, humidity, eastward, northward, vertical)


def curve_of_wind(nodes: Nodes, height: FloatArray, aloft: FloatArray, part: int) -> FloatArray:
    """Return the eastward (0) or northward (1) wind of the nodes with rounded corners."""
    components = tuple((node[0], float(wind_components(node[1], node[2])[part])) for node in nodes)
    return blended(flowing(components, height), 6.0, 30.0, aloft)


def flowing(nodes: Nodes, height: FloatArray) -> FloatArray:
    """Return a curve through the nodes without corners and without overshoot.

    Cubic Hermite pieces; the slope at a node is the harmonic mean of the slopes beside it, zero at
    an extreme (F. N. Fritsch and J. Butland, 1984, SIAM J. Sci. Stat. Comput. 5, from memory).
    """
    table = np.array(nodes, dtype=np.float64)
    width, rise = np.diff(table[:, 0]), np.diff(table[:, 1])
    secant = rise / width
    product = secant[1:] * secant[:-1]
    total = secant[1:] + secant[:-1]
    inner = np.where(product > 0.0, 2.0 * product / np.where(total == 0.0, 1.0, total), 0.0)
    slope = np.concatenate((secant[:1], inner, secant[-1:]))
    below = np.clip(np.searchsorted(table[:, 0], height, side="right") - 1, 0, len(width) - 1)
    share = np.clip((height - table[below, 0]) / width[below], 0.0, 1.0)
    step = share**2 * (3.0 - 2.0 * share)
    bend = share * (1.0 - share) ** 2 * slope[below]
    bend -= share**2 * (1.0 - share) * slope[below + 1]
    return np.asarray(table[below, 1] + step * rise[below] + width[below] * bend)


def _wind_noise(
    spec: FlightSpec, purpose: int, eddies: FloatArray, mesoscale: FloatArray
) -> FloatArray:
    """Return eddies of 15 to 120 m and mesoscale structure of 40 m to 1.3 km, m s-1."""
    random = stream(spec.seed, purpose)
    small = eddies * red_noise(random, len(eddies), 3.0, 4, 0.35)
    return small + mesoscale * red_noise(random, len(eddies), 8.0, 6, 0.55)


def _stability(temperature: FloatArray) -> FloatArray:
    """Return the square of the buoyancy frequency in s-2, zero where the air is unstable."""
    lapse = np.gradient(temperature, STEP)
    square = GRAVITY / (temperature + 273.15) * (lapse + DRY_ADIABATIC)
    return np.clip(smooth(square, 8.0), 0.0, None)


def mixed(temperature: FloatArray, height: FloatArray, above: FloatArray) -> FloatArray:
    """Return the temperature after overturned layers above the surface layer have mixed.

    Dry static energy is sorted upward, which is what convection does to it: afterwards no layer is
    superadiabatic, and its mean over the mixed depth is kept. In the surface layer an excess of up
    to 1 K at the ground may stay, as over warm ground.
    """
    energy = temperature + DRY_ADIABATIC * height
    free = above > SURFACE_LAYER
    energy[free] = np.sort(energy[free])
    skin = SURFACE_EXCESS * (1.0 - above[~free] / SURFACE_LAYER) ** 2
    energy[~free] = np.minimum(energy[~free], energy[free][0] + skin)
    return np.asarray(energy - DRY_ADIABATIC * height)


def _waves(
    spec: FlightSpec, height: FloatArray, temperature: FloatArray, stability: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return wind components in m s-1 and temperature in K of a set of inertia-gravity waves.

    Amplitude grows with the inverse square root of density until it saturates, and is proportional
    to vertical wavelength, which gives the spectrum with the third power of wavenumber seen in
    soundings. The hodograph turns clockwise with height in the northern hemisphere (energy going
    up). Temperature lags the wind along the wave by a quarter of a wavelength and has the
    amplitude T N u / g (polarisation relations of linear theory, from memory).
    """
    random = stream(spec.seed, 6)
    lengths = np.geomspace(420.0, 6500.0, 9) * np.exp(0.12 * random.standard_normal(9))
    share = lengths / np.sqrt(np.sum(lengths**2) / 2.0)
    growth = np.exp((np.minimum(height, 24000.0) - 5000.0) / 19000.0)
    factor = np.sqrt(stability) * (temperature + 273.15) / GRAVITY
    spin = np.sign(EARTH_RATE * spec.place.latitude)
    east, north, warm = np.zeros((3, len(height)))
    main = random.uniform(0.0, np.pi)
    for length, part in zip(lengths, share, strict=True):
        azimuth = main + 0.5 * random.standard_normal()
        ratio = random.uniform(0.3, 0.8)
        packet = 1.0 + 0.7 * red_noise(random, len(height), 2.0 * length / STEP, 1, 1.0)
        wander = 0.8 * red_noise(random, len(height), 1.5 * length / STEP, 1, 1.0)
        phase = 2.0 * np.pi * height / length + wander + random.uniform(0.0, 2.0 * np.pi)
        size = spec.air.wave_speed * part * packet * growth
        along, across = size * np.cos(phase), -spin * ratio * size * np.sin(phase)
        east += along * np.cos(azimuth) - across * np.sin(azimuth)
        north += along * np.sin(azimuth) + across * np.cos(azimuth)
        warm += factor * size * np.sin(phase)
    return east, north, warm


def _humidity(
    spec: FlightSpec,
    height: FloatArray,
    broad: FloatArray,
    temperature: FloatArray,
    calm: FloatArray,
) -> FloatArray:
    """Return relative humidity over water in %.

    Warm departures dry the air as descent does; layers differ from their neighbours; ice clouds are
    given by humidity over ice; above the tropopause the mixing ratio falls to its stratospheric
    value. Water saturation and, below -38 degC, the freezing limit of droplets are not exceeded.
    """
    air = spec.air
    count = len(height)
    base = smooth(curve(air.humidity, 1, height), 3.0)
    over_water = saturation_vapour_pressure(temperature, VAPOUR_FORMULA)
    over_ice = saturation_over_ice(temperature)
    for bottom, top, over in air.cirrus:
        inside = np.clip(np.minimum(height - bottom, top - height) / 120.0, 0.0, 1.0)
        texture = 1.0 + 0.06 * red_noise(stream(spec.seed, 7), count, 6.0, 4, 0.6)
        base = (1.0 - inside) * base + inside * over * texture * over_ice / over_water
    share = np.clip(base / 106.0, 0.004, 0.97)
    laminae = 0.28 * smooth(layers(stream(spec.seed, 8), count, 55.0), 4.0, mirrored=True)
    laminae += 0.16 * red_noise(stream(spec.seed, 9), count, 4.0, 6, 0.6)
    free = np.clip((height - air.mixed_layer_top) / 200.0, 0.25, 1.0)
    odds = share / (1.0 - share) * np.exp(laminae * free * calm)
    humidity = 106.0 * odds / (1.0 + odds) * np.exp(-0.08 * (temperature - broad))

    pressure = _pressure(air.surface_pressure, height, temperature, humidity)
    entry = int(np.searchsorted(height, air.tropopause))
    if entry < count:
        vapour = humidity / 100.0 * over_water / pressure
        decay = np.exp(-np.clip(height - air.tropopause, 0.0, None) / 420.0)
        texture = 1.0 + 0.06 * red_noise(stream(spec.seed, 10), count, 30.0, 4, 0.8)
        dry = STRATOSPHERIC_VAPOUR * texture + (vapour[entry] - STRATOSPHERIC_VAPOUR) * decay
        stratospheric = 100.0 * dry * pressure / over_water
        blend = np.clip((height - air.tropopause) / 150.0, 0.0, 1.0)
        humidity = (1.0 - blend) * humidity + blend * np.minimum(humidity, stratospheric)
    freezing = np.where(temperature < -38.0, LARGEST_OVER_ICE * over_ice / over_water, 100.0)
    return np.clip(humidity, 0.05, np.minimum(freezing, 100.0))


def _pressure(
    surface: float, height: FloatArray, temperature: FloatArray, humidity: FloatArray
) -> FloatArray:
    """Return pressure in hPa by the hypsometric equation with virtual temperature."""
    pressure = hypsometric_pressure(height, temperature, surface)
    vapour = humidity / 100.0 * saturation_vapour_pressure(temperature, VAPOUR_FORMULA)
    for _ in range(2):
        virtual = virtual_temperature(temperature, vapour, pressure)
        pressure = hypsometric_pressure(height, virtual, surface)
    return np.asarray(pressure, dtype=np.float64)


def _vertical_motion(spec: FlightSpec, height: FloatArray, above: FloatArray) -> FloatArray:
    """Return vertical air motion in m s-1: waves of one to several km, and eddies low down."""
    count = len(height)
    waves = red_noise(stream(spec.seed, 11), count, 45.0, 3, 0.3)
    waves *= spec.air.vertical_speed * np.clip(above / 800.0, 0.0, 1.0)
    eddies = red_noise(stream(spec.seed, 12), count, 6.0, 3, 0.5)
    depth = max(spec.air.mixed_layer_top - float(height[0]), 1.0)
    return waves + spec.air.turbulence * 0.4 * eddies * np.exp(-above / depth) * np.clip(
        above / 50.0, 0.0, 1.0
    )
