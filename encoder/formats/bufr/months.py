"""Monthly means as read from BUFR (template 3 09 054): as text, JSON and CLIMAT TEMP."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from encoder.diagnostics import Result
from encoder.formats.bufr.monthly import MonthlyMessage, read_monthly

if TYPE_CHECKING:
    from encoder.formats.bufr.sections import MessageHeader
    from encoder.formats.bufr.subset import Block, Subset

_STATISTICS = "008023"
_COLUMNS = (
    ("air_pressure", "P hPa", "7.1f"),
    ("geopotential_height", "H gpm", "7.0f"),
    ("air_temperature", "T C", "6.1f"),
    ("dew_point_temperature", "Td C", "6.1f"),
    ("wind_from_direction", "dd", "4.0f"),
    ("wind_speed", "ff m/s", "7.1f"),
    ("wind_steadiness", "r %", "4.0f"),
    ("missing_days_temperature", "no T", "5.0f"),
    ("missing_days_wind", "no w", "5.0f"),
)
"""Column, heading and format of the text table."""
_SHIP = 26
"""Sub-category of CLIMAT TEMP SHIP (Common Code Table C-13)."""


@dataclass(frozen=True, slots=True, eq=False)
class BufrMonth:
    """Monthly means of one station in a BUFR message.

    Attributes
    ----------
    header : MessageHeader
    offset : int
        Octet of the file at which the message begins.
    subset : int
        Number of the subset in the message, from 1.
    heading : str or None
        Abbreviated heading of the bulletin.
    means : MonthlyMessage
    plain : Subset
        The values as coded.
    """

    header: MessageHeader
    offset: int
    subset: int
    heading: str | None
    means: MonthlyMessage
    plain: Subset = field(repr=False)

    @property
    def station(self) -> str:
        """Return the best name of the station: index or call sign."""
        return self.means.station.wmo_index or self.means.call_sign or "unknown station"

    @property
    def form(self) -> str:
        """Return the code form with the same content."""
        return "FM 76" if self.header.sub_category == _SHIP or self.means.call_sign else "FM 75"


def holds_month(subset: Subset) -> bool:
    """Tell whether a subset holds monthly means: statistics of values within its levels."""
    return any(_is_month(block) for block in subset.blocks())


def _is_month(block: Block) -> bool:
    return _STATISTICS in block.fxys and "007004" in block.fxys


def month_of(
    subset: Subset,
    header: MessageHeader,
    *,
    offset: int = 0,
    number: int = 1,
    heading: str | None = None,
) -> Result[BufrMonth | None]:
    """Return the monthly means one subset holds.

    Parameters
    ----------
    subset : Subset
    header : MessageHeader
    offset, number, heading
        See :class:`BufrMonth`.

    Returns
    -------
    Result of BufrMonth or None
        None where the month is missing.
    """
    means, found = read_monthly(subset)
    if means is None:
        return Result(None, found)
    return Result(BufrMonth(header, offset, number, heading, means, subset), found)


def month_text(month: BufrMonth) -> str:
    """Return monthly means as text of at most 80 columns.

    Parameters
    ----------
    month : BufrMonth
    """
    means = month.means
    place = means.station
    when = f"{means.year}-{means.month:02d}  {means.days} days"
    lines = [
        f"BUFR 309054  {month.form}  station {month.station}  {when}",
        f"{place.latitude:.4f} {place.longitude:.4f}  {_hours(means)}",
    ]
    if month.heading:
        lines.append(f"heading {month.heading}")
    widths = [int(form.split(".")[0]) for _name, _head, form in _COLUMNS]
    heads = zip((head for _name, head, _form in _COLUMNS), widths, strict=True)
    lines += ["", " ".join(f"{head:>{width}}" for head, width in heads)]
    for row in range(len(means.surface)):
        cells = []
        for (name, _head, form), width in zip(_COLUMNS, widths, strict=True):
            value = float(means.columns[name][row])
            cells.append(f"{'-':>{width}}" if math.isnan(value) else f"{value:{form}}")
        lines.append(" ".join(cells) + ("  surface" if means.surface[row] else ""))
    lines.append("r steadiness of the wind; no T, no w: days without temperature, without wind")
    return "\n".join(lines) + "\n"


def _hours(means: MonthlyMessage) -> str:
    from encoder.formats.bufr.explain import meaning_of

    if means.times_used is None:
        return "hours not given"
    return "hours: " + meaning_of("004059", float(means.times_used))


def month_as_json(month: BufrMonth) -> dict[str, Any]:
    """Return a dictionary that validates as a month of ``soundings.schema.json``."""
    means = month.means
    names = [name for name, _head, _form in _COLUMNS]
    return {
        "offset": month.offset,
        "subset": month.subset,
        "heading": month.heading,
        "form": month.form,
        "update": month.header.update,
        "wmo_index": means.station.wmo_index,
        "call_sign": means.call_sign,
        "latitude": _known(means.station.latitude),
        "longitude": _known(means.station.longitude),
        "elevation_m": _known(means.station.elevation),
        "year": means.year,
        "month": means.month,
        "days": means.days,
        "times_used": means.times_used,
        "levels": [
            {
                "surface": bool(means.surface[row]),
                **{name: _known(float(means.columns[name][row])) for name in names},
            }
            for row in range(len(means.surface))
        ],
    }


def _known(value: float) -> float | None:
    return None if math.isnan(value) else value
