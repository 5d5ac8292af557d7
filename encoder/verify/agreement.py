"""Agreement of several reports of one sounding: what was compared, and where they differ."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from encoder.diagnostics import Diagnostic, Severity, diagnostic, has_errors

FORMAT = "aerogram-agreement-1"
MOST_TOLD = 20
"""Disagreements told one by one; the rest are counted, and listed in JSON."""
SLACK = 1e-6
"""Room for the arithmetic of doubles, in any unit."""


@dataclass(frozen=True, slots=True)
class Disagreement:
    """One value that two of the three do not agree on.

    Attributes
    ----------
    between : str
        "flight and BUFR" or "text and BUFR".
    pressure : float
        hPa; NaN where the value is not of a level.
    element : str
    expected, message : float, str or None
        What the flight or the text has, and what the message says.
    difference, limit : float
        In the unit of the element; NaN where a value is missing.
    """

    between: str
    pressure: float
    element: str
    expected: Any
    message: Any
    difference: float
    limit: float


@dataclass(frozen=True, slots=True)
class Agreement:
    """How far message, flight and text agree.

    Attributes
    ----------
    compared : dict of str to int
        Values compared, by pair.
    worst : dict of str to float
        Largest difference over its limit, by pair and element: at most 1 where they agree.
    disagreements : tuple of Disagreement
    diagnostics : tuple of Diagnostic
    """

    compared: dict[str, int]
    worst: dict[str, float]
    disagreements: tuple[Disagreement, ...]
    diagnostics: tuple[Diagnostic, ...]

    @property
    def agree(self) -> bool:
        """Tell whether nothing stands against sending the message."""
        return not has_errors(self.diagnostics)

    def as_json(self) -> dict[str, Any]:
        """Return a dictionary that validates against ``agreement.schema.json``."""
        return {
            "format": FORMAT,
            "agree": self.agree,
            "compared": dict(self.compared),
            "worst_over_limit": {name: round(value, 4) for name, value in self.worst.items()},
            "disagreements": [
                {
                    "between": item.between,
                    "pressure_hpa": _finite(item.pressure),
                    "element": item.element,
                    "expected": _finite(item.expected),
                    "message": _finite(item.message),
                    "difference": _finite(item.difference),
                    "limit": _finite(item.limit),
                }
                for item in self.disagreements
            ],
            "diagnostics": [item.as_json() for item in self.diagnostics],
        }


def _finite(value: Any) -> Any:
    return None if isinstance(value, float) and not np.isfinite(value) else value


class Tally:
    """Collects what was compared."""

    def __init__(self) -> None:
        self.compared: dict[str, int] = {}
        self.worst: dict[str, float] = {}
        self.disagreements: list[Disagreement] = []
        self.found: list[Diagnostic] = []

    def value(self, item: Disagreement) -> None:
        """Count a comparison, and keep it where the two differ too much."""
        self.compared[item.between] = self.compared.get(item.between, 0) + 1
        name = f"{item.between}: {item.element}"
        share = item.difference / item.limit if item.limit > 0 else float("inf")
        if np.isfinite(share):
            self.worst[name] = max(self.worst.get(name, 0.0), share)
        if np.isnan(item.difference) or item.difference > item.limit + SLACK:
            self.disagreements.append(item)

    def result(self, diagnostics: tuple[Diagnostic, ...]) -> Agreement:
        """Return what was found, after what was known before."""
        told = self.disagreements[:MOST_TOLD]
        found = [*diagnostics, *self.found, *(_told(item) for item in told)]
        more = len(self.disagreements) - len(told)
        if more > 0:
            found.append(
                diagnostic("bufr-unlike-flight", f"{more} more values disagree; --json lists them.")
            )
        return Agreement(self.compared, self.worst, tuple(self.disagreements), tuple(found))


def _told(item: Disagreement) -> Diagnostic:
    code = "bufr-unlike-flight" if item.between.startswith("flight") else "bufr-unlike-text"
    at = f"{item.pressure:g} hPa" if np.isfinite(item.pressure) else "the message"
    whose = item.between.split(" ")[0]
    return diagnostic(
        code,
        f"{item.element} at {at}: {whose} {_shown(item.expected)}, message "
        f"{_shown(item.message)}; allowed {_shown(item.limit)}.",
        path=(at, item.element),
        value=_shown(item.message),
        expected=_shown(item.expected),
    )


def _shown(value: Any) -> str:
    if value is None or (isinstance(value, float) and np.isnan(value)):
        return "nothing"
    return f"{value:.5g}" if isinstance(value, float) else str(value)


def agreement_text(agreement: Agreement) -> str:
    """Return the agreement as text of at most 80 columns.

    Parameters
    ----------
    agreement : Agreement
    """
    count = len(agreement.disagreements)
    levels = sum(1 for item in agreement.diagnostics if item.code == "bufr-level-missing")
    head = "BUFR agrees" if agreement.agree else "BUFR DISAGREES"
    lines = [f"{head}: {count} values and {levels} levels differ"]
    lines += [f"  {pair}: {number} compared" for pair, number in agreement.compared.items()]
    if agreement.worst:
        lines += ["", f"  {'largest difference, as a share of what the steps allow':<58}"]
        lines += [f"  {name:<46}{value:>8.2f}" for name, value in agreement.worst.items()]
    shown = [item for item in agreement.diagnostics if item.severity is not Severity.NOTE]
    if shown:
        lines += [""]
        lines += [f"  {item.as_text()}" for item in shown]
    return "\n".join(lines) + "\n"
