"""Code table 1734: the figure Id names the highest standard level with a wind group."""

from __future__ import annotations

LOWER = {
    1000.0: "0",
    925.0: "9",
    850.0: "8",
    700.0: "7",
    500.0: "5",
    400.0: "4",
    300.0: "3",
    250.0: "2",
    200.0: "2",
    150.0: "1",
    100.0: "1",
}
"""Part A. One figure may stand for two levels; it then reaches to the higher one in altitude."""

UPPER = {70.0: "7", 50.0: "5", 30.0: "3", 20.0: "2", 10.0: "1"}
"""Part C."""
_REACHED = tuple(
    {
        figure: min(level for level, own in table.items() if own == figure)
        for figure in table.values()
    }
    for table in (LOWER, UPPER)
)
"""By part A or C: the highest level that each figure stands for."""
_TOP = (min(LOWER), min(UPPER))


def last_wind_figure(pressure: float | None, *, upper: bool) -> str:
    """Return Id for the highest standard level with wind.

    Parameters
    ----------
    pressure : float or None
        Its pressure in hPa; None where no standard level has a wind.
    upper : bool
        Part C.

    Returns
    -------
    str
        One figure, or ``/``. Levels above 10 hPa have no figure of their own and go under that
        of 10 hPa.
    """
    if pressure is None:
        return "/"
    table = UPPER if upper else LOWER
    return table[pressure] if pressure in table else table[min(table)]


def wind_expected(figure: str, pressure: float | None, *, upper: bool) -> bool | None:
    """Tell whether Id asks for a wind group at a standard level.

    Parameters
    ----------
    figure : str
        Id; "" where the part carries no such figure.
    pressure : float or None
        Pressure of the standard level in hPa.
    upper : bool
        Part C.

    Returns
    -------
    bool or None
        None where the table does not say.
    """
    if pressure is None or figure == "":
        return None
    if figure == "/":
        return False
    reached, top = (_REACHED[1], _TOP[1]) if upper else (_REACHED[0], _TOP[0])
    highest = reached.get(figure)
    if highest is None or (pressure < top and highest == top):
        return None
    return pressure >= highest
