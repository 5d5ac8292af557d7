"""Many coded soundings at once.

The definition is the decoder of one report (:func:`encoder.report.decode_reports`); whatever is
read here another way is read the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from encoder.diagnostics import Diagnostic


@dataclass(frozen=True, slots=True, eq=False)
class DecodedSounding:
    """The levels of one coded sounding.

    Attributes
    ----------
    columns : mapping of str to ndarray, shape (level,)
        By :data:`encoder.columns.LEVEL_COLUMNS`.
    kinds : ndarray of int
    status : mapping of str to ndarray of int8
        By :data:`encoder.sounding.STATUS_COLUMNS`.
    release : float or None
        Seconds from the nominal time to the release, where the report gives it.
    diagnostics : tuple of Diagnostic
    """

    columns: Mapping[str, NDArray[np.float64]]
    kinds: NDArray[Any]
    status: Mapping[str, NDArray[np.int8]]
    release: float | None
    diagnostics: tuple[Diagnostic, ...] = ()


def decode_soundings(
    soundings: Sequence[Sequence[bytes]], *, formula: str = "wmo-49"
) -> list[DecodedSounding | None]:
    """Decode soundings.

    Parameters
    ----------
    soundings : sequence of sequence of bytes
        The parts of each, from their letters on.
    formula : str
        Vapour-pressure formula for the relative humidity.

    Returns
    -------
    list of DecodedSounding or None
        None where there is no level in it.
    """
    return [decode_one(parts, formula=formula) for parts in soundings]


def decode_one(parts: Sequence[bytes], *, formula: str = "wmo-49") -> DecodedSounding | None:
    """Decode one sounding with the decoder of one report."""
    from encoder.report import decode_reports
    from encoder.sounding import report_status

    text = b"\n".join(parts).decode("latin-1")
    decoded = decode_reports(text, formula=formula)
    if not decoded.value:
        return None
    report = max(decoded.value, key=lambda item: len(item.levels))
    if not len(report.levels):
        return None
    return DecodedSounding(
        report.levels.columns,
        report.levels.kinds,
        report_status(report, report.levels),
        _release(report),
        decoded.diagnostics,
    )


def _release(report: Any) -> float | None:
    """Return the seconds from the nominal time to the release named in section 7."""
    for part in report.parts:
        for record in part.content.records("7"):
            hour, minute = record.get("release_hour"), record.get("release_minute")
            nominal = part.content.identification.get("hour")
            if isinstance(hour, int) and isinstance(minute, int) and isinstance(nominal, int):
                return release_seconds(nominal, hour, minute)
    return None


def release_seconds(nominal: int, hour: int, minute: int) -> float:
    """Return the seconds from a nominal hour to the nearest time of a release."""
    away = (hour - nominal) * 3600.0 + minute * 60.0
    if away > 43200.0:
        away -= 86400.0
    elif away < -43200.0:
        away += 86400.0
    return away
