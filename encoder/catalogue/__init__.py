"""The catalogue of diagnostics, split by the stage of the work that raises them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.catalogue import (
    archive,
    bufr,
    bulletin,
    codes,
    convert,
    flight,
    levels,
    repair,
    verify,
)

if TYPE_CHECKING:
    from encoder.diagnostics import Rule

CATALOGUE: dict[str, Rule] = {
    **flight.RULES,
    **levels.RULES,
    **codes.RULES,
    **bulletin.RULES,
    **repair.RULES,
    **verify.RULES,
    **archive.RULES,
    **bufr.RULES,
    **convert.RULES,
}
"""Every diagnostic code with its default severity, meaning, hint and source."""
