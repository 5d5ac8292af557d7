"""Quality checks on a flight: they warn and name the row, the number found and the limit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.checks.limits import gross_limits, unit_doubts
from encoder.checks.surface import (
    pressure_contradiction,
    station_pressure,
    surface_against_sonde,
)
from encoder.checks.vertical import ascent_rate, hydrostatic, superadiabatic, time_gaps

if TYPE_CHECKING:
    from encoder.diagnostics import Diagnostic
    from encoder.profile import Profile, Station, SurfaceObservation

__all__ = ["check_ascent", "gross_limits", "pressure_contradiction", "unit_doubts"]


def check_ascent(
    ascent: Profile,
    *,
    station: Station,
    surface: SurfaceObservation,
    vapour_pressure_formula: str = "wmo-49",
) -> tuple[Diagnostic, ...]:
    """Return the findings of every check on a prepared ascent.

    Parameters
    ----------
    ascent : Profile
        Prepared rows; row 0 is the surface observation.
    station : Station
    surface : SurfaceObservation
    vapour_pressure_formula : str
        Key of :data:`encoder.physics.VAPOUR_PRESSURE_FORMULAS`.
    """
    if ascent.by_height:
        return (*surface_against_sonde(ascent), *ascent_rate(ascent), *time_gaps(ascent))
    return (
        *station_pressure(station, surface),
        *surface_against_sonde(ascent),
        *superadiabatic(ascent),
        *hydrostatic(ascent, vapour_pressure_formula),
        *ascent_rate(ascent),
        *time_gaps(ascent),
    )
