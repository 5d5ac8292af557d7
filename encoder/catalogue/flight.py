"""Diagnostics of the stage: flight."""

from __future__ import annotations

from encoder.diagnostics import Rule, Severity

ERROR, WARNING, NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE

RULES: dict[str, Rule] = {}
