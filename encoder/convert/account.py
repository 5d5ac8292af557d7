"""The account of a conversion: what came in is what went out and what was refused."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any


@dataclass(slots=True)
class Count:
    """One thing that is counted.

    Attributes
    ----------
    read : int
        In the source.
    written : int
        In station files, counted in the files when they are complete.
    refused : int
        In the quarantine.
    aside : int
        Neither: headings and other framing, parts that came twice, empty reports.
    """

    read: int = 0
    written: int = 0
    refused: int = 0
    aside: int = 0

    def balanced(self) -> bool:
        """Tell whether what came in is what went somewhere."""
        return self.read == self.written + self.refused + self.aside

    def add(self, other: Count) -> None:
        """Add another count to this one."""
        for item in fields(self):
            setattr(self, item.name, getattr(self, item.name) + getattr(other, item.name))


@dataclass(slots=True)
class Account:
    """The counts of a source, of a station file, or of a whole run.

    Attributes
    ----------
    bytes, reports, soundings, levels, values : Count
        ``reports`` are parts of coded text; a sounding is made of several of them.
    """

    bytes: Count
    reports: Count
    soundings: Count
    levels: Count
    values: Count

    @classmethod
    def empty(cls) -> Account:
        """Return an account of nothing."""
        return cls(Count(), Count(), Count(), Count(), Count())

    @classmethod
    def of(cls, document: dict[str, Any]) -> Account:
        """Return the account of a JSON object; inverse of :meth:`as_json`."""
        return cls(**{item.name: Count(**document[item.name]) for item in fields(cls)})

    def add(self, other: Account) -> None:
        """Add another account to this one."""
        for item in fields(self):
            getattr(self, item.name).add(getattr(other, item.name))

    def unbalanced(self) -> tuple[str, ...]:
        """Return the names of the counts that do not add up."""
        return tuple(item.name for item in fields(self) if not getattr(self, item.name).balanced())

    def as_json(self) -> dict[str, Any]:
        """Return the account as a JSON object."""
        return {
            item: {name: getattr(getattr(self, item), name) for name in _COUNTS} for item in _THINGS
        }


_COUNTS = tuple(item.name for item in fields(Count))
_THINGS = tuple(item.name for item in fields(Account))
