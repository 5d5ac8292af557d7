"""The cloud group Nh CL h CM CH in the elements of BUFR sequence 3 02 049, and back.

Sources: WMO-No. 306 Volume I.2, BUFR code tables 0 08 002, 0 20 011 and 0 20 012 (table version
45), regulation B/C25.5; Volume I.1, code table 1600.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from encoder.profile import CloudGroup

if TYPE_CHECKING:
    from collections.abc import Sequence

BASE_FROM = (0.0, 50.0, 100.0, 200.0, 300.0, 600.0, 1000.0, 1500.0, 2000.0, 2500.0)
"""Lower limit in m of each figure of code table 1600."""
_LOW_TYPES, _MIDDLE_TYPES, _HIGH_TYPES = 30, 20, 10
_LOW_UNSEEN, _MIDDLE_UNSEEN, _HIGH_UNSEEN = 62, 61, 60
_OBSCURED = "9"


class CloudElements(NamedTuple):
    """Values of sequence 3 02 049, None for missing.

    Attributes
    ----------
    significance : float or None
        Code table 0 08 002.
    amount : float or None
        Code table 0 20 011.
    base : float or None
        Height of the base above the ground, in m.
    low, middle, high : float or None
        Code table 0 20 012.
    """

    significance: float | None = None
    amount: float | None = None
    base: float | None = None
    low: float | None = None
    middle: float | None = None
    high: float | None = None


def cloud_elements(cloud: CloudGroup | None) -> CloudElements:
    """Return the elements for a cloud group.

    Parameters
    ----------
    cloud : CloudGroup or None
        None where clouds were not observed.

    Returns
    -------
    CloudElements
        The base is the lower limit of its class in code table 1600 (common practice, no source);
        missing where there is no low or middle cloud.
    """
    if cloud is None or cloud == CloudGroup():
        return CloudElements()
    low = _type(cloud.low, _LOW_TYPES, _LOW_UNSEEN)
    middle = _type(cloud.middle, _MIDDLE_TYPES, _MIDDLE_UNSEEN)
    high = _type(cloud.high, _HIGH_TYPES, _HIGH_UNSEEN)
    amount = None if cloud.amount == "/" else float(cloud.amount)
    clear = cloud.low == "0" and cloud.middle == "0"
    base = None if cloud.base == "/" or clear else BASE_FROM[int(cloud.base)]
    return CloudElements(_significance(cloud), amount, base, low, middle, high)


def _type(figure: str, first: int, unseen: int) -> float:
    return float(unseen if figure == "/" else first + int(figure))


def _significance(cloud: CloudGroup) -> float | None:
    if cloud.amount == _OBSCURED:
        return 5.0
    if cloud.low not in ("0", "/"):
        return 7.0
    if cloud.low == "0" and cloud.middle not in ("0", "/"):
        return 8.0
    if cloud.low == "0" and cloud.middle == "0":
        if cloud.high == "0":
            return 62.0
        return 0.0 if cloud.high != "/" else None
    return None


def cloud_group(elements: CloudElements) -> CloudGroup | None:
    """Return the cloud group of the elements; inverse of :func:`cloud_elements`.

    Parameters
    ----------
    elements : CloudElements

    Returns
    -------
    CloudGroup or None
        None where nothing of it was observed.
    """
    amount = "/"
    if elements.amount is not None and 0 <= elements.amount <= 9:
        amount = str(int(elements.amount))
    low = _figure(elements.low, _LOW_TYPES)
    middle = _figure(elements.middle, _MIDDLE_TYPES)
    high = _figure(elements.high, _HIGH_TYPES)
    base = "/"
    if elements.base is not None:
        base = base_figure(elements.base)
    elif low == "0" and middle == "0":
        base = "9"
    group = CloudGroup(amount, low, base, middle, high)
    return None if group == CloudGroup() else group


def base_figure(base: float) -> str:
    """Return the figure of code table 1600 for a height of the cloud base in m."""
    return str(sum(1 for limit in BASE_FROM[1:] if base >= limit))


def _figure(code: float | None, first: int) -> str:
    if code is None or not first <= code <= first + 9:
        return "/"
    return str(int(code) - first)


def from_values(
    significance: object, amount: object, base: object, types: Sequence[object]
) -> CloudElements:
    """Return cloud elements from decoded values, which may be missing or of the wrong kind."""
    padded = [*types, None, None, None][:3]
    numbers = [
        float(value) if isinstance(value, int | float) else None
        for value in (significance, amount, base, *padded)
    ]
    return CloudElements(*numbers)
