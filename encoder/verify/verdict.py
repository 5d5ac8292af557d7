"""The verdict: may this report be sent, and if not, which rule is broken at which level."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from encoder.columns import COLUMNS
from encoder.diagnostics import Severity

if TYPE_CHECKING:
    from encoder.diagnostics import Diagnostic

FORMAT = "aerogram-verdict-1"

_WORDS = {
    "air_temperature": "temperature",
    "relative_humidity": "relative humidity",
    "wind_from_direction": "wind direction",
    "wind_speed": "wind speed",
    "geopotential_height": "height",
}


@dataclass(frozen=True, slots=True)
class WorstMisfit:
    """The worst misfit of one element.

    Attributes
    ----------
    element : str
        Column name.
    unit : str
    misfit, limit : float
        In that unit.
    pressure : float or None
        hPa, where it is found.
    observed, rebuilt : float
        What the flight has there, and what a reader of the report finds.
    row : int or None
        1-based line of the profile file (0 is the surface observation); None for a level.
    basis : str
        "curve" for the rebuilt curve, "level" for a value given at a level.
    height : float or None
        m, where it is found if there is no pressure.
    """

    element: str
    unit: str
    misfit: float
    limit: float
    pressure: float | None
    observed: float
    rebuilt: float
    row: int | None
    basis: str
    height: float | None = None

    @property
    def place(self) -> str:
        """Return in words where it is found."""
        return f"{self.height:.0f} m" if self.pressure is None else f"{self.pressure:g} hPa"

    @property
    def within(self) -> bool:
        """Tell whether the misfit is within its limit."""
        return self.misfit <= self.limit + 1e-9


@dataclass(frozen=True, slots=True)
class Difference:
    """A field of the report that differs from what encoding the flight gives.

    Attributes
    ----------
    part, section, record, element : str
        Where.
    reported, expected : float, int, str, bool or None
        What the report says, and what encoding the flight gives (None for missing).
    steps : float or None
        Size of the difference in steps of the code, where that has a meaning.
    severity : Severity
        error beyond one step, warning within it.
    """

    part: str
    section: str
    record: str
    element: str
    reported: Any
    expected: Any
    steps: float | None
    severity: Severity


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a shift supervisor needs to decide.

    Attributes
    ----------
    may_be_sent : bool
        False if any diagnostic or difference is an error.
    parts : tuple of str
        Letters of the parts that were verified.
    rows_judged : int
        Rows of the ascent the rebuilt curves were compared with.
    worst : tuple of WorstMisfit
        One an element.
    differences : tuple of Difference
    diagnostics : tuple of Diagnostic
    """

    may_be_sent: bool
    parts: tuple[str, ...]
    rows_judged: int
    worst: tuple[WorstMisfit, ...]
    differences: tuple[Difference, ...]
    diagnostics: tuple[Diagnostic, ...]

    def errors(self) -> int:
        """Return how many errors stand against sending."""
        faults = sum(1 for item in self.diagnostics if item.severity is Severity.ERROR)
        return faults + sum(1 for item in self.differences if item.severity is Severity.ERROR)

    def warnings(self) -> int:
        """Return how many findings somebody should look at."""
        faults = sum(1 for item in self.diagnostics if item.severity is Severity.WARNING)
        return faults + sum(1 for item in self.differences if item.severity is Severity.WARNING)

    def as_json(self) -> dict[str, Any]:
        """Return a dictionary that validates against ``verdict.schema.json``."""
        return {
            "format": FORMAT,
            "may_be_sent": self.may_be_sent,
            "errors": self.errors(),
            "warnings": self.warnings(),
            "parts": list(self.parts),
            "rows_judged": self.rows_judged,
            "worst": [{**asdict(item), "within": item.within} for item in self.worst],
            "differences": [
                {**asdict(item), "severity": str(item.severity)} for item in self.differences
            ],
            "diagnostics": [item.as_json() for item in self.diagnostics],
        }


def verdict_text(verdict: Verdict) -> str:
    """Return the verdict as text of at most 80 columns.

    Parameters
    ----------
    verdict : Verdict

    Returns
    -------
    str
        The verdict first, then the worst misfits, the differences and the findings.
    """
    lines = [_headline(verdict), ""]
    if verdict.worst:
        lines.append(f"{'worst misfit':<18}{'found':>9}{'limit':>9}  {'at':<11}{'row':<7}")
        lines.extend(_worst_line(item) for item in verdict.worst)
        lines.append(
            f"({verdict.rows_judged} rows of the flight compared with the curves a reader rebuilds)"
        )
    else:
        lines.append(
            "No curve could be judged: parts B and D of a TEMP carry the significant levels."
        )
    if verdict.differences:
        lines += ["", "Fields that differ from encoding the flight:"]
        lines.extend(_difference_line(item) for item in verdict.differences)
    else:
        lines += ["", "Every field that must match the flight does."]
    shown = [item for item in verdict.diagnostics if item.severity is not Severity.NOTE]
    if shown:
        lines += ["", "Findings:"]
        for item in shown:
            lines.extend(_folded(item.as_text()))
    lines += ["", "An aid, not an authority: the responsible service approves what is sent."]
    return "\n".join(lines) + "\n"


def _headline(verdict: Verdict) -> str:
    parts = ", ".join(verdict.parts) or "none"
    if not verdict.may_be_sent:
        errors = verdict.errors()
        return f"MUST NOT BE SENT: {errors} error{'s' if errors != 1 else ''} (parts {parts})"
    warnings = verdict.warnings()
    if warnings:
        plural = "s" if warnings != 1 else ""
        return f"May be sent after a look at {warnings} warning{plural} (parts {parts})"
    return f"May be sent (parts {parts})"


def _worst_line(item: WorstMisfit) -> str:
    unit = {"degC": "K", "degree": "deg", "m s-1": "m/s"}.get(item.unit, item.unit)
    where = "" if item.row is None else ("surface" if item.row == 0 else str(item.row))
    mark = "" if item.within else "  TOO LARGE"
    word = _WORDS.get(item.element, item.element)
    decimals = max(2, COLUMNS[item.element].decimals)
    found = f"{item.misfit:.{decimals}f}"
    return f"{word:<18}{found:>9}{item.limit:>9.2f}  {item.place:<11}{where:<7}{unit}{mark}"


def _difference_line(item: Difference) -> str:
    place = f"{item.part} section {item.section} {item.record}".strip()
    steps = "" if item.steps is None else f" ({item.steps:.0f} steps of the code)"
    return (
        f"  {item.severity:<8}{place}: {item.element}\n"
        f"          report {_shown(item.reported)}, flight {_shown(item.expected)}{steps}"
    )


def _shown(value: Any) -> str:
    if value is None:
        return "missing"
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _folded(text: str, width: int = 79) -> list[str]:
    lines: list[str] = []
    for line in text.splitlines():
        indent = len(line) - len(line.lstrip())
        current = " " * (indent + 2)
        for word in line.split():
            if len(current) + len(word) > width and current.strip():
                lines.append(current.rstrip())
                current = " " * (indent + 6)
            current += word + " "
        lines.append(current.rstrip())
    return lines
