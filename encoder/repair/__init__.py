"""The tolerant decoder: proposals to read damaged characters in another way, with evidence.

A proposal is never made silently: it carries the characters as received, and the checks that speak
for it with their numbers before and after. Without being asked for, none is read.
"""

from __future__ import annotations

from encoder.repair.proposal import (
    REPAIR_MODES,
    Confidence,
    Evidence,
    Repair,
    RepairKind,
    RepairMode,
)

__all__ = ["REPAIR_MODES", "Confidence", "Evidence", "Repair", "RepairKind", "RepairMode"]
