"""FM 75 CLIMAT TEMP and FM 76 CLIMAT TEMP SHIP: monthly means of upper-air data.

Declarations only. The forms are given from memory; their figures agree with a public archive key.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.codes import groups as level
from encoder.codes import groups_facts as fact
from encoder.codes import groups_month as month
from encoder.codes import groups_monthly as monthly
from encoder.codes.declare import CodeForm, Part, RecordForm, Section, Use
from encoder.codes.groups_position import LATITUDE, LONGITUDE
from encoder.levels.table import LevelKind

if TYPE_CHECKING:
    from encoder.codes.declare import Context, Group

MONTHLY = "M"
"""Letter of the one part of a monthly form."""


def _always(_text: str, _context: Context) -> bool:
    return True


SURFACE = RecordForm(
    "monthly-surface",
    (Use(month.SURFACE), Use(level.TEMPERATURE)),
    opens=_always,
    descends=False,
    level_kinds=int(LevelKind.SURFACE),
)
LEVEL = RecordForm(
    "monthly-level",
    (Use(monthly.HEIGHT), Use(monthly.TEMPERATURE), Use(monthly.STEADINESS), Use(monthly.WIND)),
    opens=monthly.is_height,
    repeated=True,
    level_kinds=int(LevelKind.STANDARD),
)


def _form(number: str, name: str, title: str, place: tuple[Group, ...]) -> CodeForm:
    first = RecordForm(
        "identification",
        (
            Use(fact.opening(name, title)),
            Use(month.MONTH),
            *(Use(group) for group in place),
        ),
    )
    sections = (
        Section("1", "identification", (first,)),
        Section("2", "means at the surface and at standard levels", (SURFACE, LEVEL)),
    )
    return CodeForm(number, name, title, (Part(MONTHLY, name, title, sections),))


FM75 = _form(
    "FM 75",
    "CLIMAT TEMP",
    "monthly means of upper-air data from a land station",
    (fact.STATION,),
)
FM76 = _form(
    "FM 76",
    "CLIMAT TEMP SHIP",
    "monthly means of upper-air data from an ocean weather station",
    (LATITUDE, LONGITUDE),
)
