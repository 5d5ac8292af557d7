"""The one place where observed values are rounded to the steps of a code.

Half goes away from zero. A half is recognised within one part in a thousand million of a step,
because a value such as 10.15 has no exact binary form and would otherwise fall short of its half.
"""

from __future__ import annotations

from typing import overload

import numpy as np
from numpy.typing import NDArray

_HALF = 0.5 + 1e-9


@overload
def round_half_away(value: float, step: float = 1.0) -> float: ...
@overload
def round_half_away(value: NDArray[np.float64], step: float = 1.0) -> NDArray[np.float64]: ...
def round_half_away(
    value: float | NDArray[np.float64], step: float = 1.0
) -> float | NDArray[np.float64]:
    """Round to the nearest multiple of a step, half away from zero.

    Parameters
    ----------
    value : float or ndarray
        Value in any unit; NaN stays NaN.
    step : float
        Step in the same unit: 1, 5, 10 or a decimal fraction such as 0.1.

    Returns
    -------
    float or ndarray
        The rounded value, exact to the nearest double for steps 10**-n.

    Notes
    -----
    The coded forms fix the step, not the tie; half away from zero is the plain reading of
    "to the nearest".

    Examples
    --------
    >>> round_half_away(2.5), round_half_away(-2.5), round_half_away(10.15, 0.1)
    (3.0, -3.0, 10.2)
    """
    steps = np.floor(np.abs(value) / step + _HALF)
    inverse = np.round(1.0 / step)
    exact = steps / inverse if step < 1.0 else steps * step
    rounded = np.copysign(exact, value) + 0.0
    return rounded if isinstance(value, np.ndarray) else float(rounded)


def whole(value: float) -> int:
    """Return a finite value as the nearest whole number, half away from zero."""
    return int(round_half_away(float(value)))
