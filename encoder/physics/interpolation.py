"""Interpolation along an ascent, linear in the logarithm of pressure."""

from __future__ import annotations

import numpy as np

from encoder.physics.constants import FloatArray, Values, as_values, plain


def interpolate_log_pressure(
    pressure: Values, ascent_pressure: FloatArray, values: FloatArray
) -> FloatArray:
    """Return values at pressures between the rows of an ascent, linear in ln p.

    Parameters
    ----------
    pressure : float or ndarray
        Pressures wanted, in hPa.
    ascent_pressure : ndarray, shape (row,)
        Pressures of the rows in hPa, strictly decreasing.
    values : ndarray, shape (row,)
        Values of the rows. Directions of the wind are not for this function: turn them into
        components first.

    Returns
    -------
    ndarray
        Values of the shape of ``pressure``. At the pressure of a row, its value. NaN outside the
        ascent and where one of the two rows around has no value.

    References
    ----------
    WMO-No. 306, 35.3.1.3: curves are straight between levels on a T-log p diagram.
    """
    wanted = as_values(pressure)
    rows = as_values(ascent_pressure)
    given = as_values(values)
    count = len(rows)
    if count == 0:
        return plain(np.full(wanted.shape, np.nan))
    upper = np.clip(np.searchsorted(-rows, -wanted), 0, count - 1)
    lower = np.maximum(upper - 1, 0)
    exact = rows[upper] == wanted
    inside = (wanted <= rows[0]) & (wanted >= rows[-1])
    span = np.log(rows[lower] / rows[upper])
    distance = np.log(rows[lower] / np.where(wanted > 0.0, wanted, np.nan))
    share = distance / np.where(span == 0.0, np.nan, span)
    between = given[lower] + share * (given[upper] - given[lower])
    return plain(np.where(exact, given[upper], np.where(inside, between, np.nan)))
