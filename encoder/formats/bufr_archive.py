"""A decoded BUFR sounding as a sounding of the archive: its levels as the message has them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import Diagnostic, Result, diagnostic
from encoder.profile import Station
from encoder.sounding import Sounding

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.formats.bufr.sounding import BufrSounding


def archived(
    sounding: BufrSounding,
    *,
    formula: str = "wmo-49",
    diagnostics: Sequence[Diagnostic] = (),
) -> Result[Sounding | None]:
    """Return a sounding with every level of a BUFR message.

    Parameters
    ----------
    sounding : BufrSounding
    formula : str
        Vapour-pressure formula the relative humidity was computed with.
    diagnostics : sequence of Diagnostic
        What decoding had to say.

    Returns
    -------
    Result of Sounding or None
        None where the message gives no time or no position.
    """
    found: list[Diagnostic] = []
    nominal = sounding.nominal_time or sounding.release_time
    if nominal is None:
        found.append(
            diagnostic("report-without-time", f"The sounding of {sounding.station} has no date.")
        )
    if np.isnan(sounding.latitude) or np.isnan(sounding.longitude):
        found.append(
            diagnostic(
                "report-without-position", f"The sounding of {sounding.station} has no position."
            )
        )
    if nominal is None or found:
        return Result(None, tuple(found))
    heights = (sounding.barometer_height, sounding.release_height, sounding.ground_height)
    station = Station(
        sounding.station,
        sounding.latitude,
        sounding.longitude,
        next((height for height in heights if not np.isnan(height)), float("nan")),
        wmo_index=sounding.wmo_index,
        wigos_id=sounding.wigos_id,
        call_sign=sounding.call_sign or sounding.aircraft,
    )
    return Result(
        Sounding(
            station,
            sounding.release_time or nominal,
            nominal,
            sounding.levels,
            diagnostics=tuple(diagnostics),
            formula=formula,
        )
    )
