"""Random structure on an even grid, and the filters that shape it.

Random numbers come from ``numpy.random.RandomState``, whose stream numpy promises never to change
(NEP 19), so that the sample files can be made again byte for byte with any numpy.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

POINTS_A_SCALE = 12.0
"""Grid points to a scale in the making of noise."""


def stream(seed: int, purpose: int) -> np.random.RandomState:
    """Return the random stream for one purpose, so that one use does not disturb another."""
    return np.random.RandomState([seed, purpose])


def smooth(values: FloatArray, width: float, *, mirrored: bool = False) -> FloatArray:
    """Smooth with a Gaussian, going on in a straight line beyond both ends.

    Parameters
    ----------
    values : ndarray, shape (n,)
    width : float
        Standard deviation of the kernel in grid steps; below 0.3 nothing is done.
    mirrored : bool
        Mirror the values at both ends instead, as noise needs: a straight line would keep the
        first and last value unsmoothed.

    Returns
    -------
    ndarray, shape (n,)
    """
    if width < 0.3 or len(values) < 3:
        return values.copy()
    reach = min(int(np.ceil(3.5 * width)), len(values) - 1)
    offsets = np.arange(-reach, reach + 1)
    kernel = np.exp(-0.5 * (offsets / width) ** 2)
    kernel /= kernel.sum()
    below, above = values[reach:0:-1], values[-2 : -reach - 2 : -1]
    if not mirrored:
        below, above = 2.0 * values[0] - below, 2.0 * values[-1] - above
    return np.convolve(np.concatenate((below, values, above)), kernel, mode="valid")


def blended(values: FloatArray, fine: float, coarse: float, weight: FloatArray) -> FloatArray:
    """Smooth finely where the weight is 0 and coarsely where it is 1."""
    return (1.0 - weight) * smooth(values, fine) + weight * smooth(values, coarse)


def unit(values: FloatArray) -> FloatArray:
    """Return the values with mean 0 and standard deviation 1."""
    return np.asarray((values - values.mean()) / values.std())


def red_noise(
    random: np.random.RandomState, count: int, shortest: float, octaves: int, slope: float
) -> FloatArray:
    """Return noise whose amplitude grows with scale.

    Parameters
    ----------
    random : RandomState
    count : int
        Number of grid points.
    shortest : float
        Shortest scale in grid steps.
    octaves : int
        Number of scales, each twice the one before.
    slope : float
        Amplitude is proportional to scale to this power.

    Returns
    -------
    ndarray, shape (count,)
        Mean 0, standard deviation 1.
    """
    total = np.zeros(count)
    for octave in range(octaves):
        total += (2.0**octave) ** slope * _at_scale(random, count, shortest * 2.0**octave)
    return unit(total)


def _at_scale(random: np.random.RandomState, count: int, scale: float) -> FloatArray:
    """Return unit noise of one scale; a long one is made on a coarser grid, which costs less."""
    if scale <= POINTS_A_SCALE:
        return unit(smooth(random.standard_normal(count), scale, mirrored=True))
    stride = scale / POINTS_A_SCALE
    coarse = random.standard_normal(max(int(np.ceil(count / stride)) + 1, 3))
    rough = smooth(coarse, POINTS_A_SCALE, mirrored=True)
    return unit(np.interp(np.arange(count) / stride, np.arange(len(coarse)), rough))


def layers(random: np.random.RandomState, count: int, thickness: float) -> FloatArray:
    """Return a staircase: constant random values in layers of random thickness.

    Parameters
    ----------
    random : RandomState
    count : int
        Number of grid points.
    thickness : float
        Mean thickness in grid steps; thicknesses are gamma distributed.

    Returns
    -------
    ndarray, shape (count,)
        Standard normal value of the layer each point lies in.
    """
    number = int(3.0 * count / thickness) + 20
    tops = np.cumsum(random.standard_gamma(1.6, number) * thickness / 1.6)
    values = random.standard_normal(number + 1)
    return np.asarray(values[np.searchsorted(tops, np.arange(count))])


def sheets(random: np.random.RandomState, count: int, thickness: float) -> FloatArray:
    """Return the trace of layers of differing lapse rate, without its slow part.

    Parameters and result are those of :func:`layers`, but the curve is continuous, has corners at
    the limits of the layers, and standard deviation 1.
    """
    curve = np.cumsum(layers(random, count, thickness))
    return unit(curve - smooth(curve, 2.5 * thickness, mirrored=True))
