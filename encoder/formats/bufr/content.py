"""What a message is to say, before it is coded, and whether it can be said."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from encoder.diagnostics import Diagnostic, diagnostic
from encoder.formats.bufr.elements import Element
from encoder.formats.bufr.sections import MISSING_CENTRE
from encoder.rounding import round_half_away

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import datetime

    from encoder.formats.bufr.templates import Platform, Template
    from encoder.profile import FloatArray

Value = float | str | None
FloatValues = tuple[float, ...]
MOST_LEVELS = 65534
MOST_SHEARS = 254
_NAMED = 3


@dataclass(frozen=True, slots=True)
class Origin:
    """Who issues the message: the configuration of the service.

    Attributes
    ----------
    centre, sub_centre : int
        Common code tables C-11 and C-12; 65535 for not given.
    update : int
        Update sequence number: 0, and one more for each correction of the same message.
    """

    centre: int = MISSING_CENTRE
    sub_centre: int = 0
    update: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class MessageContent:
    """The values of one message with one subset, in the units of BUFR Table B.

    Attributes
    ----------
    template : Template
    platform : {"land", "ship", "mobile", "drop"}
    nominal_time : datetime
        For section 1.
    before : tuple of float, str or None
        Values of ``template.before``, one each, None for missing.
    wigos : tuple of float, str or None, or None
        Values of sequence 3 01 150 to be put before the template; None for no such sequence.
    levels : mapping of str to ndarray, each of shape (level,)
        By element name; NaN for missing.
    shear : mapping of str to ndarray, each of shape (shear level,)
    origin : Origin
    """

    template: Template
    platform: Platform
    nominal_time: datetime
    before: tuple[Value, ...]
    wigos: tuple[Value, ...] | None
    levels: Mapping[str, FloatArray]
    shear: Mapping[str, FloatArray]
    origin: Origin = field(default_factory=Origin)

    @property
    def count(self) -> int:
        """Return the number of levels."""
        return len(next(iter(self.levels.values())))

    @property
    def shear_count(self) -> int:
        """Return the number of levels with wind shear."""
        return len(next(iter(self.shear.values())))


def check_content(content: MessageContent) -> list[Diagnostic]:
    """Tell what of a message cannot be coded as it is.

    Parameters
    ----------
    content : MessageContent

    Returns
    -------
    list of Diagnostic
        Errors: values outside the range of their element or not finite, texts too long or not
        ASCII, too many levels, a level without its vertical coordinate.
    """
    from encoder.formats.bufr.templates import SEQUENCES, WIGOS_SEQUENCE

    pairs = list(zip(content.template.before, content.before, strict=True))
    if content.wigos is not None:
        pairs += list(zip(SEQUENCES[WIGOS_SEQUENCE], content.wigos, strict=True))
    return [
        *check_values(pairs),
        *check_columns("level", content.template.level, content.levels, MOST_LEVELS),
        *check_columns("wind shear level", content.template.shear, content.shear, MOST_SHEARS),
    ]


def check_values(pairs: Iterable[tuple[Element, Value]]) -> list[Diagnostic]:
    """Tell which single values cannot be coded.

    Parameters
    ----------
    pairs : iterable of (Element, value)
    """
    faults = [_value_fault(element, value) for element, value in pairs]
    return [fault for fault in faults if fault is not None]


def check_columns(
    name: str, elements: Sequence[Element], columns: Mapping[str, FloatArray], most: int
) -> list[Diagnostic]:
    """Tell what of a replicated group cannot be coded.

    Parameters
    ----------
    name : str
        What a repetition is called in the message.
    elements : sequence of Element
    columns : mapping of str to ndarray, each of shape (repetition,) or (repetition, turn)
        By element name; with turns where an element comes more than once.
    most : int
        Repetitions that can be counted.
    """
    found: list[Diagnostic] = []
    count = len(next(iter(columns.values())))
    if count > most:
        found.append(
            diagnostic(
                "bufr-too-many-levels",
                f"{count} {name}s, but a message holds at most {most}.",
                value=str(count),
                expected=f"at most {most}",
            )
        )
    for element in dict.fromkeys(elements):
        values = columns[element.name]
        turns = values.T if values.ndim == 2 else (values,)
        for turn in turns:
            found.extend(_column_faults(name, element, turn, columns))
    return found


def _value_fault(element: Element, value: Value) -> Diagnostic | None:
    if value is None:
        return None
    if isinstance(value, str):
        return _text_fault(element, value)
    if element.is_text:
        return _not_representable(element, value, "a text")
    if not np.isfinite(value):
        return _not_representable(element, value, "a number, or missing said as missing")
    if _outside(element, np.array([value]))[0]:
        return _not_representable(
            element, value, f"{element.lowest:g} to {element.highest:g} {element.unit}"
        )
    return None


def _text_fault(element: Element, value: str) -> Diagnostic | None:
    if not element.is_text:
        return _not_representable(element, value, "a number")
    if not value.isascii() or not value.isprintable():
        return _not_representable(element, value, "printable ASCII characters")
    if len(value) > element.length:
        return _not_representable(element, value, f"at most {element.length} characters")
    return None


def _not_representable(element: Element, value: float | str, expected: str) -> Diagnostic:
    return diagnostic(
        "bufr-not-representable",
        f"{element.name} ({element.fxy}) is {value!r}, BUFR holds {expected}.",
        path=(element.name,),
        value=str(value),
        expected=expected,
    )


def _outside(element: Element, values: FloatArray) -> np.ndarray:
    """Tell which finite values cannot be coded, the code that means missing included."""
    codes = round_half_away(values, element.step) / element.step - element.reference
    outside: np.ndarray = (np.rint(codes) < 0) | (np.rint(codes) > (1 << element.bits) - 2)
    return outside & ~np.isnan(values)


def _column_faults(
    name: str, element: Element, values: FloatArray, columns: Mapping[str, FloatArray]
) -> list[Diagnostic]:
    found: list[Diagnostic] = []
    wrong = np.flatnonzero(_outside(element, values) | np.isinf(values))
    found.extend(
        diagnostic(
            "bufr-not-representable",
            f"{element.name} ({element.fxy}) is {values[index]:g} {element.unit} at {name} "
            f"{index + 1}{_at(columns, int(index))}, BUFR holds {element.lowest:g} to "
            f"{element.highest:g}.",
            path=(name, int(index) + 1, element.name),
            value=f"{values[index]:g}",
            expected=f"{element.lowest:g} to {element.highest:g} {element.unit}",
        )
        for index in wrong[:_NAMED]
    )
    if len(wrong) > _NAMED:
        found.append(
            diagnostic(
                "bufr-not-representable",
                f"{element.name} cannot be coded at {len(wrong) - _NAMED} more {name}s.",
                path=(name, element.name),
            )
        )
    if element.name in ("pressure", "height_coordinate") and name == "level":
        others = [values for own, values in columns.items() if own != "significance"]
        nil = len(values) == 1 and all(bool(np.all(np.isnan(column))) for column in others)
        lacking = np.flatnonzero(np.isnan(values))
        if len(lacking) and not nil:
            found.append(
                diagnostic(
                    "bufr-level-without-coordinate",
                    f"{len(lacking)} levels have no {element.name}, the first is level "
                    f"{lacking[0] + 1}.",
                    path=(name, int(lacking[0]) + 1, element.name),
                )
            )
    return found


def _at(columns: Mapping[str, FloatArray], index: int) -> str:
    pressure = columns.get("pressure")
    if pressure is None or np.isnan(pressure[index]):
        return ""
    return f" ({pressure[index] / 100.0:g} hPa)"
