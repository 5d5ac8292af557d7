"""BUFR templates of soundings: BUFR Table D as data.

Source: WMO-No. 306 Volume I.2, BUFR Table D, table version 45 (repository wmo-im/BUFR4, commit
3e4dcd0); lowest table versions from Common Code Table C-0 and the tables of the coding library;
sub-categories from Common Code Table C-13.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from encoder.formats.bufr.elements import ELEMENTS, FINE_HEIGHT, FINE_PRESSURE, Element

Platform = Literal["land", "ship", "mobile", "drop"]
Vertical = Literal["pressure", "height"]


def _elements(words: str) -> tuple[Element, ...]:
    fine = {"007004f": FINE_PRESSURE, "010009f": FINE_HEIGHT}
    return tuple(fine[word] if word in fine else ELEMENTS[word] for word in words.split())


SEQUENCES: dict[str, tuple[Element, ...]] = {
    "301001": _elements("001001 001002"),
    "301011": _elements("004001 004002 004003"),
    "301012": _elements("004004 004005"),
    "301021": _elements("005001 006001"),
    "301022": _elements("005001 006001 007001"),
    "301110": _elements("001001 001002 001011 002011 002014 002003"),
    "301111": _elements("001001 001002 001011 002011 002013 002014 002003"),
    "301112": _elements("001006 002011 002013 002014 002003"),
    "301113": _elements("008021 004001 004002 004003 004004 004005 004006"),
    "301114": _elements("005001 006001 007030 007031 007007 033024"),
    "301128": _elements(
        "001081 001082 001083 001095 002015 002016 002017 002066 002067 002080 002081 002082 "
        "002083 002084 002085 002086 002095 002096 002097 002103 002191 025061 035035"
    ),
    "301150": _elements("001125 001126 001127 001128"),
    "302049": _elements("008002 020011 020013 020012 020012 020012 008002"),
    "303050": _elements("004086 008042 007004 005015 006015 011001 011002"),
    "303051": _elements("004086 008042 007004 005015 006015 011061 011062"),
    "303052": _elements("004086 008042 007009 005015 006015 011001 011002"),
    "303053": _elements("004086 008042 007009 005015 006015 011061 011062"),
    "303054": _elements("004086 008042 007004 010009 005015 006015 012101 012103 011001 011002"),
    "303056": _elements("004086 008042 007004f 010009f 005015 006015 012101 012103 011001 011002"),
}
"""Sequences without replication, as their elements."""


@dataclass(frozen=True, slots=True)
class Template:
    """One template: what stands before the levels, one level, one level of wind shear.

    Attributes
    ----------
    number : str
        Descriptor, six figures.
    title : str
    before : tuple of Element
        Elements before the levels, each once.
    level, shear : tuple of Element
        Elements of one level, and of one level with wind shear.
    table_version : int
        Lowest version of the master tables that holds the template.
    vertical : {"pressure", "height"}
        What orders the levels.
    wind_only : bool
        Whether the levels have no temperature (PILOT).
    with_wigos : bool
        Whether the WIGOS station identifier is inside the template; else sequence 3 01 150 is put
        before it.
    sub_category : mapping of str to int
        International sub-category of category 2, by platform.
    """

    number: str
    title: str
    before: tuple[Element, ...]
    level: tuple[Element, ...]
    shear: tuple[Element, ...]
    table_version: int
    vertical: Vertical
    wind_only: bool
    with_wigos: bool
    sub_category: dict[str, int]

    def finest(self, name: str) -> Element:
        """Return the level element of that name.

        Raises
        ------
        KeyError
            If a level has no such element.
        """
        for element in self.level:
            if element.name == name:
                return element
        raise KeyError(name)

    def has(self, name: str) -> bool:
        """Tell whether a level has an element of that name."""
        return any(element.name == name for element in self.level)


def _before(words: str) -> tuple[Element, ...]:
    found: list[Element] = []
    for word in words.split():
        found.extend(SEQUENCES[word] if word in SEQUENCES else _elements(word))
    return tuple(found)


WIGOS_SEQUENCE = "301150"
WIGOS_VERSION = 28
"""Lowest version of the master tables that holds 3 01 150."""
OLD_VERSION = 13
"""Version written for the old templates: widely understood (operational since 2007)."""
_TEMP = {"land": 4, "ship": 5, "mobile": 6}
_DESCENT = {"land": 14, "ship": 15, "mobile": 16}
_PILOT = {"land": 1, "ship": 2, "mobile": 3}

TEMPLATES: dict[str, Template] = {
    template.number: template
    for template in (
        Template(
            "309057",
            "radiosonde sounding, high resolution",
            _before("301150 301111 301128 301113 301114 302049 022043"),
            SEQUENCES["303056"],
            SEQUENCES["303051"],
            31,
            "pressure",
            wind_only=False,
            with_wigos=True,
            sub_category=_TEMP,
        ),
        Template(
            "309052",
            "radiosonde sounding (TEMP, TEMP SHIP, TEMP MOBIL)",
            _before("301111 301113 301114 302049 022043"),
            SEQUENCES["303054"],
            SEQUENCES["303051"],
            OLD_VERSION,
            "pressure",
            wind_only=False,
            with_wigos=False,
            sub_category=_TEMP,
        ),
        Template(
            "309053",
            "sounding by a dropsonde (TEMP DROP)",
            _before("301112 301113 301114"),
            SEQUENCES["303054"],
            SEQUENCES["303051"],
            OLD_VERSION,
            "pressure",
            wind_only=False,
            with_wigos=False,
            sub_category={"drop": 7},
        ),
        Template(
            "309050",
            "upper wind by pressure (PILOT)",
            _before("301110 301113 301114"),
            SEQUENCES["303050"],
            SEQUENCES["303051"],
            OLD_VERSION,
            "pressure",
            wind_only=True,
            with_wigos=False,
            sub_category=_PILOT,
        ),
        Template(
            "309051",
            "upper wind by height (PILOT)",
            _before("301110 301113 301114"),
            SEQUENCES["303052"],
            SEQUENCES["303053"],
            OLD_VERSION,
            "height",
            wind_only=True,
            with_wigos=False,
            sub_category=_PILOT,
        ),
        Template(
            "309056",
            "descent of a radiosonde",
            _before("301150 301111 301128 301113 008091 301021 007007 008091"),
            SEQUENCES["303056"],
            SEQUENCES["303051"],
            31,
            "pressure",
            wind_only=False,
            with_wigos=True,
            sub_category=_DESCENT,
        ),
    )
}
"""Templates that are written, by number; each is read too."""

MONTHLY_NUMBER = "309054"
MONTHLY_BEFORE = _before("301001 001011 301011 301012 301021 007030 007031 007007 004023 004059")
MONTHLY_LEVEL = _elements(
    "008001 008023 007004 010009 012101 012103 008023 011001 011002 008023 011019 008050 008020 "
    "008050 008020"
)
MONTHLY_SUB_CATEGORY = {"land": 25, "ship": 26}

LEVEL_FIGURES = frozenset({"007004", "007009"})
"""Elements of which a level block has at least one."""
SOUNDING_SEQUENCES = frozenset(
    {*TEMPLATES, "309007", "309054", "309055", "309195", "309196", "309197", "309198"}
)
"""Sequences that are soundings by themselves."""
DATA_CATEGORY = 2
"""Vertical soundings other than by satellite (BUFR Table A)."""
