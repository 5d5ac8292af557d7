"""Wind as direction and speed, and as components."""

from __future__ import annotations

import numpy as np

from encoder.physics.constants import FloatArray, Values, as_values, plain


def wind_components(direction: Values, speed: Values) -> tuple[FloatArray, FloatArray]:
    """Return the components of a wind.

    Parameters
    ----------
    direction : float or ndarray
        Direction the wind blows from, in degrees clockwise from north.
    speed : float or ndarray
        m s-1.

    Returns
    -------
    eastward, northward : ndarray
        m s-1, towards the east and the north. A calm (speed 0) has components 0 whatever its
        direction, also when that is missing.
    """
    angle = np.radians(as_values(direction))
    size = as_values(speed)
    calm = size == 0.0
    eastward = np.where(calm, 0.0, -size * np.sin(angle))
    northward = np.where(calm, 0.0, -size * np.cos(angle))
    return plain(eastward), plain(northward)


def wind_from_components(eastward: Values, northward: Values) -> tuple[FloatArray, FloatArray]:
    """Return direction and speed of a wind given by components.

    Parameters
    ----------
    eastward, northward : float or ndarray
        m s-1.

    Returns
    -------
    direction : ndarray
        Degrees in (0, 360], north is 360; 0 for a calm (WMO-No. 306, code table 0877).
    speed : ndarray
        m s-1.
    """
    u, v = as_values(eastward), as_values(northward)
    speed = np.hypot(u, v)
    direction = np.mod(np.degrees(np.arctan2(-u, -v)), 360.0)
    direction = np.where(direction == 0.0, 360.0, direction)
    return plain(np.where(speed == 0.0, 0.0, direction)), plain(speed)


def shortest_turn(from_direction: Values, to_direction: Values) -> FloatArray:
    """Return the turn from one direction to another the short way round.

    Parameters
    ----------
    from_direction, to_direction : float or ndarray
        Degrees.

    Returns
    -------
    ndarray
        Degrees in (-180, 180], positive when turning clockwise.
    """
    turn = np.mod(as_values(to_direction) - as_values(from_direction), 360.0)
    return plain(np.where(turn > 180.0, turn - 360.0, turn))
