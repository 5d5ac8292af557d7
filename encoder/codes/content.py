"""What a part says, apart from its spelling: records of values by section.

A value of None was reported missing (solidi). A name that is absent was not reported at all: the
group is not in the part. The difference survives encoding and decoding.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, cast

from encoder.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from encoder.codes.declare import Value, Values


@dataclass(frozen=True, slots=True)
class Record:
    """One level or fact of a section.

    Attributes
    ----------
    kind : str
        A ``RecordForm.kind``, or ``"verbatim"``.
    values : mapping of str to float, int, str, bool or None
        By element name, in the units of :mod:`encoder.columns`.
    level : int or None
        Index of the level in the level table, where known; not part of what is said.
    """

    kind: str
    values: Values
    level: int | None = field(default=None, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "values", MappingProxyType(dict(self.values)))

    @classmethod
    def of(cls, kind: str, values: dict[str, Value]) -> Record:
        """Return a record that takes the dictionary over, which nobody else may change."""
        record: Any = _Record(kind, MappingProxyType(values))
        record.__class__ = cls
        return cast("Record", record)

    def __reduce__(self) -> tuple[Any, ...]:
        return (Record, (self.kind, dict(self.values), self.level))

    def get(self, name: str) -> Value:
        """Return the value of that name, None where missing or absent."""
        return self.values.get(name)


@dataclass(slots=True)
class _Record:
    """The slots of :class:`Record`, not frozen: made in a fraction of the time."""

    kind: str
    values: Values
    level: int | None = None


@dataclass(frozen=True, slots=True)
class SectionContent:
    """The records of one section.

    Attributes
    ----------
    number : str
    records : tuple of Record
    none_reported : bool
        Whether the section says that there is no such level (88999, 77999).
    """

    number: str
    records: tuple[Record, ...] = ()
    none_reported: bool = False


@dataclass(frozen=True, slots=True)
class PartContent:
    """What a part says.

    Attributes
    ----------
    form : str
        For example ``"FM 35"``.
    letter : str
        "A", "B", "C" or "D".
    sections : tuple of SectionContent
        In the order of the code.
    nil : bool
        Whether the report says only that there is none (NIL).
    """

    form: str
    letter: str
    sections: tuple[SectionContent, ...] = ()
    nil: bool = False

    def section(self, number: str) -> SectionContent | None:
        """Return the section of that number, None where the part does not have it."""
        return next((item for item in self.sections if item.number == number), None)

    def records(self, number: str, kind: str | None = None) -> tuple[Record, ...]:
        """Return the records of a section, all or of one kind."""
        section = self.section(number)
        if section is None:
            return ()
        return tuple(item for item in section.records if kind in (None, item.kind))

    @property
    def identification(self) -> Values:
        """Values of section 1."""
        records = self.records("1")
        return records[0].values if records else {}

    def as_json(self) -> dict[str, Any]:
        """Return a dictionary that validates against ``report.schema.json``."""
        return {
            "form": self.form,
            "part": self.letter,
            "nil": self.nil,
            "sections": [
                {
                    "section": section.number,
                    "none_reported": section.none_reported,
                    "records": [
                        {"kind": record.kind, "level": record.level, "values": dict(record.values)}
                        for record in section.records
                    ],
                }
                for section in self.sections
            ],
        }


def content_from_json(document: Mapping[str, Any]) -> PartContent:
    """Return the part content a JSON object describes; inverse of ``PartContent.as_json``.

    Raises
    ------
    InputError
        If a needed key is missing or of the wrong kind.
    """
    try:
        return PartContent(
            form=str(document["form"]),
            letter=str(document["part"]),
            nil=bool(document.get("nil", False)),
            sections=tuple(
                SectionContent(
                    number=str(section["section"]),
                    none_reported=bool(section.get("none_reported", False)),
                    records=tuple(
                        Record(str(item["kind"]), dict(item["values"]), item.get("level"))
                        for item in section["records"]
                    ),
                )
                for section in document["sections"]
            ),
        )
    except (KeyError, TypeError, AttributeError, ValueError) as fault:
        msg = f"Expected the JSON form of a decoded part, got an object without {fault}."
        raise InputError(msg) from fault
