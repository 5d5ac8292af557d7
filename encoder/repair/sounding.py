"""Checks and repairs of one sounding as a whole."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.diagnostics import Diagnostic
    from encoder.repair.proposal import RepairMode
    from encoder.report.meeting import Received


def mend_sounding(
    members: Sequence[Received], text: str, mode: RepairMode
) -> tuple[Diagnostic, ...]:
    """Check the values of a sounding against each other."""
    return ()
