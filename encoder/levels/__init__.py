"""Levels of a sounding: what they are, by which rules they are chosen, and how well they serve."""

from __future__ import annotations

from encoder.levels.combine import combine
from encoder.levels.judgement import misfit_of_levels
from encoder.levels.methods import METHODS, Method
from encoder.levels.representation import Misfit, coded_levels, misfit
from encoder.levels.rules import RULES, Criterion, Rules
from encoder.levels.selection import rules_named, select_levels
from encoder.levels.table import (
    KIND_WORDS,
    THERMODYNAMIC,
    LevelKind,
    Levels,
    Reason,
    kinds_as_words,
    words_as_kinds,
)

__all__ = [
    "KIND_WORDS",
    "METHODS",
    "RULES",
    "THERMODYNAMIC",
    "Criterion",
    "LevelKind",
    "Levels",
    "Method",
    "Misfit",
    "Reason",
    "Rules",
    "coded_levels",
    "combine",
    "kinds_as_words",
    "misfit",
    "misfit_of_levels",
    "rules_named",
    "select_levels",
    "words_as_kinds",
]
