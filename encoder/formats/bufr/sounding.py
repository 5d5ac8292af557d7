"""A decoded sounding: what a BUFR message says, in the values of the package."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.formats.bufr.clouds import cloud_group, from_values
from encoder.formats.bufr.elements import ELEMENTS
from encoder.formats.bufr.extra import Extra, extras_of, unread_elements
from encoder.formats.bufr.level_block import levels_of, precision_of
from encoder.profile import CloudGroup, Instrument, Profile

if TYPE_CHECKING:
    from collections.abc import Mapping

    from encoder.formats.bufr.sections import MessageHeader
    from encoder.formats.bufr.subset import Block, Subset
    from encoder.levels.table import Levels

LAUNCH = 18.0
"""Figure of code table 0 08 021: launch time of the balloon."""
ZERO_CELSIUS = 273.15
_HEADING_TIME = re.compile(r" (\d{2})(\d{2})(\d{2})(?: |$)")


@dataclass(frozen=True, slots=True, eq=False)
class BufrSounding:
    """One sounding of a BUFR message.

    Attributes
    ----------
    header : MessageHeader
    template : str
        Sequence that holds the levels, for example ``"309057"``, or ``"none"`` where section 3
        spells the levels out.
    offset : int
        Octet of the file at which the message begins.
    subset : int
        Number of the subset in the message, from 1.
    heading : str or None
        Abbreviated heading of the bulletin.
    wmo_index, wigos_id, call_sign, aircraft : str or None
        Who made the sounding.
    latitude, longitude : float
        Of the release (for a descent: of its start), degrees, NaN for missing.
    ground_height, barometer_height, release_height : float
        m above mean sea level, NaN for missing.
    release_time, nominal_time : datetime or None
        UTC. The nominal time is that of the heading, else that of section 1.
    instrument : Instrument
    cloud : CloudGroup or None
    sea_temperature : float
        degC, NaN for missing.
    facts : mapping of str to float or str
        Every element outside the levels that is not missing, by its name (first of each).
    levels : Levels
        In the order of the message.
    nil : bool
        Whether the message says only that there is no report.
    reformatted : bool
        Whether it was made from an alphanumeric report: no times, no displacements.
    extra : tuple of Extra
        What the message says beyond its template.
    plain : Subset
        The values as coded.
    """

    header: MessageHeader
    template: str
    offset: int
    subset: int
    heading: str | None
    wmo_index: str | None
    wigos_id: str | None
    call_sign: str | None
    aircraft: str | None
    latitude: float
    longitude: float
    ground_height: float
    barometer_height: float
    release_height: float
    release_time: datetime | None
    nominal_time: datetime | None
    instrument: Instrument
    cloud: CloudGroup | None
    sea_temperature: float
    facts: Mapping[str, float | str]
    levels: Levels
    nil: bool
    reformatted: bool
    extra: tuple[Extra, ...]
    plain: Subset = field(repr=False)

    @property
    def station(self) -> str:
        """Return the best name of the station: index, WIGOS identifier, call sign or aircraft."""
        return (
            self.wmo_index or self.wigos_id or self.call_sign or self.aircraft or "unknown station"
        )

    def profile(self) -> Profile:
        """Return the levels as rows of a profile, in the order of the message."""
        from encoder.columns import COLUMNS

        names = [name for name in COLUMNS if name in self.levels.columns]
        columns = {name: self.levels[name] for name in names}
        return Profile(columns, np.arange(1, len(self.levels) + 1))


def sounding_of(
    subset: Subset,
    header: MessageHeader,
    *,
    offset: int = 0,
    number: int = 1,
    heading: str | None = None,
    formula: str = "wmo-49",
) -> Result[BufrSounding | None]:
    """Return the sounding one subset holds.

    Parameters
    ----------
    subset : Subset
    header : MessageHeader
    offset, number, heading
        See :class:`BufrSounding`.
    formula : str
        Vapour-pressure formula for the relative humidity.

    Returns
    -------
    Result of BufrSounding or None
        None where the subset has no levels of a sounding.
    """
    found: list[Diagnostic] = []
    place = f"message at octet {offset}, subset {number}"
    block = level_block(subset)
    if block is None:
        return Result(None, (diagnostic("bufr-no-sounding", f"No levels in the {place}."),))
    facts = _facts(subset)
    latitude = _number(subset, "005001", "005002")
    longitude = _number(subset, "006001", "006002")
    release, nominal = _times(subset, header, heading, found, place)
    nil = _is_nil(block)
    shear = shear_block(subset)
    found.extend(unread_elements(subset, block, place))
    levels, told = levels_of(
        block,
        shear,
        position=(latitude, longitude),
        formula=formula,
        precision=precision_of(header.descriptors, block),
    )
    found.extend(told)
    index, wigos = _station(subset)
    reformatted = not nil and _is_reformatted(block)
    if reformatted:
        found.append(
            diagnostic(
                "bufr-reformatted",
                f"The {place} has no times and no displacements: it was made from an "
                "alphanumeric report.",
            )
        )
    if nil:
        found.append(diagnostic("bufr-nil", f"The {place} is NIL: all its values are missing."))
    sounding = BufrSounding(
        header,
        template_of(header.descriptors),
        offset,
        number,
        heading,
        index,
        wigos,
        _text(subset, "001011"),
        _text(subset, "001006"),
        latitude,
        longitude,
        _number(subset, "007030", "007001"),
        _number(subset, "007031"),
        _number(subset, "007007"),
        release,
        nominal,
        _instrument(subset),
        _cloud(subset),
        round(_number(subset, "022043") - ZERO_CELSIUS, 2),
        facts,
        levels,
        nil,
        reformatted,
        extras_of(subset, (block, shear)),
        subset,
    )
    return Result(sounding, tuple(found))


def template_of(descriptors: tuple[str, ...]) -> str:
    """Return the sequence of category 09 among the descriptors, ``"none"`` where there is none."""
    return next((fxy for fxy in descriptors if fxy[:3] == "309"), "none")


def level_block(subset: Subset) -> Block | None:
    """Return the block that holds the levels: a vertical coordinate with wind or temperature."""
    for block in subset.blocks():
        vertical = block.column("007004", "007009")
        content = block.column("011001", "012101", "012001")
        if vertical is not None and content is not None:
            return block
    return None


def shear_block(subset: Subset) -> Block | None:
    """Return the block that holds the wind shear."""
    return next((block for block in subset.blocks() if "011061" in block.fxys), None)


def _is_nil(block: Block) -> bool:
    measured = [
        place
        for place, fxy in enumerate(block.fxys)
        if fxy not in ("999999", "008042", "008001") and fxy in ELEMENTS
    ]
    return bool(np.all(np.isnan(block.values[:, measured])))


def _is_reformatted(block: Block) -> bool:
    """Tell whether no level has a time or a displacement, where the template has room for them."""
    columns = [block.column(fxy) for fxy in ("004086", "005015", "006015")]
    return all(column is not None and bool(np.all(np.isnan(column))) for column in columns)


def _facts(subset: Subset) -> dict[str, float | str]:
    facts: dict[str, float | str] = {}
    for item in subset.items():
        element = ELEMENTS.get(item.fxy)
        if element is not None and item.value is not None:
            facts.setdefault(element.name, item.value)
    return facts


def _number(subset: Subset, *fxys: str) -> float:
    value = subset.first(*fxys)
    return float(value) if isinstance(value, int | float) else float("nan")


def _text(subset: Subset, fxy: str) -> str | None:
    value = subset.first(fxy)
    return value if isinstance(value, str) else None


def _whole(subset: Subset, fxy: str) -> int | None:
    value = subset.first(fxy)
    return int(value) if isinstance(value, int | float) else None


def _station(subset: Subset) -> tuple[str | None, str | None]:
    block, station = _whole(subset, "001001"), _whole(subset, "001002")
    index = None if block is None or station is None else f"{block:02d}{station:03d}"
    series, issuer, issue = (_whole(subset, fxy) for fxy in ("001125", "001126", "001127"))
    local = _text(subset, "001128")
    if None in (series, issuer, issue) or local is None:
        return index, None
    return index, f"{series}-{issuer}-{issue}-{local}"


def _times(
    subset: Subset,
    header: MessageHeader,
    heading: str | None,
    found: list[Diagnostic],
    place: str,
) -> tuple[datetime | None, datetime | None]:
    parts = [_whole(subset, f"00400{part}") for part in range(1, 7)]
    own = None
    if None not in parts[:5]:
        figures = [0 if part is None else part for part in parts]
        try:
            own = datetime(*figures, tzinfo=UTC)  # type: ignore[arg-type,misc]
        except ValueError as fault:
            shown = "-".join(str(part) for part in parts)
            found.append(
                diagnostic(
                    "bufr-time-does-not-exist",
                    f"The time {shown} in the {place} does not exist: {fault}.",
                    value=shown,
                )
            )
    is_launch = "008021" in [item.fxy for item in subset.items()]
    release = own if is_launch else None
    nominal = _heading_time(heading, header.time or own) or header.time
    if nominal is None and not is_launch:
        nominal = own
    return release, nominal


def _heading_time(heading: str | None, near: datetime | None) -> datetime | None:
    """Return the time of a heading, in the month that brings it nearest to a known time."""
    match = None if heading is None else _HEADING_TIME.search(heading)
    if match is None or near is None:
        return None
    day, hour, minute = (int(part) for part in match.groups())
    candidates = []
    for shift in range(-16, 17):
        date = near + timedelta(days=shift)
        if date.day == day and hour < 24 and minute < 60:
            candidates.append(date.replace(hour=hour, minute=minute, second=0, microsecond=0))
    return min(candidates, key=lambda date: abs(date - near), default=None)


def _instrument(subset: Subset) -> Instrument:
    correction, equipment = _whole(subset, "002013"), _whole(subset, "002003")
    serial = _text(subset, "001081")
    return Instrument(
        _whole(subset, "002011"),
        "/" if correction is None or correction > 9 else str(correction),
        _whole(subset, "002014"),
        _equipment_figure(equipment),
        serial,
    )


def _equipment_figure(code: int | None) -> str:
    """Return the figure of code table 0265 for a figure of BUFR code table 0 02 003."""
    return EQUIPMENT_FIGURES.get(-1 if code is None else code, "/")


EQUIPMENT_FIGURES: dict[int, str] = {
    0: "0",
    1: "1",
    2: "2",
    3: "3",
    4: "5",
    5: "6",
    6: "7",
    7: "8",
    14: "4",
}
"""BUFR code table 0 02 003 to code table 0265, where both name the same equipment."""


def _cloud(subset: Subset) -> CloudGroup | None:
    elements = from_values(
        subset.first("008002"),
        subset.first("020011"),
        subset.first("020013"),
        subset.every("020012"),
    )
    return cloud_group(elements)
