"""FM 35 TEMP: upper-level pressure, temperature, humidity and wind from a fixed land station.

Declarations only, in the order of WMO-No. 306 Volume I.1.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.codes import groups as level
from encoder.codes import groups_facts as fact
from encoder.codes.declare import CodeForm, Pairs, Part, RecordForm, Section, Use
from encoder.levels.table import THERMODYNAMIC, LevelKind

if TYPE_CHECKING:
    from collections.abc import Callable

    from encoder.codes.declare import Context

LOWER_STANDARD = {
    "00": 1000.0,
    "92": 925.0,
    "85": 850.0,
    "70": 700.0,
    "50": 500.0,
    "40": 400.0,
    "30": 300.0,
    "25": 250.0,
    "20": 200.0,
    "15": 150.0,
    "10": 100.0,
}
"""Figures PP of part A."""

UPPER_STANDARD = {
    "70": 70.0,
    "50": 50.0,
    "30": 30.0,
    "20": 20.0,
    "10": 10.0,
    "07": 7.0,
    "05": 5.0,
    "03": 3.0,
    "02": 2.0,
    "01": 1.0,
}
"""Figures PP of part C; those above 10 hPa are a regional practice (4/35.2.1)."""


NOT_IN_EVERY_REPORT = frozenset((925.0, 7.0, 5.0, 3.0, 2.0, 1.0))
"""Standard levels that a report may lack between others: 925 hPa came late into the code (from
memory), and those above 10 hPa are a regional practice."""


def _is_next_standard(text: str, context: Context) -> bool:
    return context.standard[text[:2]] < context.previous_pressure


_is_standard = Pairs()
_is_numbered = Pairs(frozenset(level.NUMBERS))


def _is_next_number(text: str, context: Context) -> bool:
    return text[:2] == context.number


def begins(*beginnings: str) -> Callable[[str, Context], bool]:
    """Return a test of the look of a group by its first figures."""
    if all(len(beginning) == 2 for beginning in beginnings):
        return Pairs(frozenset(beginnings))

    def test(text: str, _context: Context) -> bool:
        return text.startswith(beginnings)

    return test


_HEAT = int(THERMODYNAMIC)

SURFACE = RecordForm(
    "surface",
    (Use(level.SURFACE_PRESSURE), Use(level.TEMPERATURE), Use(level.WIND)),
    opens=begins("99"),
    descends=False,
    level_kinds=int(LevelKind.SURFACE),
)
STANDARD = RecordForm(
    "standard",
    (Use(level.STANDARD_LEVEL), Use(level.TEMPERATURE), Use(level.WIND, "to-last-wind")),
    opens=_is_standard,
    expects=_is_next_standard,
    repeated=True,
    level_kinds=int(LevelKind.STANDARD),
)
TROPOPAUSE = RecordForm(
    "tropopause",
    (Use(level.TROPOPAUSE_PRESSURE), Use(level.TEMPERATURE), Use(level.WIND)),
    opens=begins("88"),
    repeated=True,
    none_group="88999",
    level_kinds=int(LevelKind.TROPOPAUSE),
)
MAXIMUM_WIND = RecordForm(
    "maximum-wind",
    (
        Use(level.MAXIMUM_WIND_PRESSURE),
        Use(level.WIND),
        Use(level.SHEAR, "if-recognised", begins("4")),
    ),
    opens=begins("77", "66"),
    repeated=True,
    none_group="77999",
    descends=False,
    level_kinds=int(LevelKind.MAXIMUM_WIND),
)
SIGNIFICANT_SURFACE = RecordForm(
    "surface",
    (Use(level.NUMBERED_PRESSURE), Use(level.TEMPERATURE)),
    opens=begins("00"),
    numbering="surface",
    level_kinds=int(LevelKind.SURFACE) | _HEAT,
)
SIGNIFICANT = RecordForm(
    "significant-temperature",
    (Use(level.NUMBERED_PRESSURE), Use(level.TEMPERATURE)),
    opens=_is_numbered,
    expects=_is_next_number,
    resumes=True,
    repeated=True,
    numbering="counted",
    level_kinds=_HEAT,
    gap_kinds=(
        int(LevelKind.BEGIN_MISSING_TEMPERATURE),
        int(LevelKind.END_MISSING_TEMPERATURE),
    ),
)
WIND_SURFACE = RecordForm(
    "surface",
    (Use(level.NUMBERED_PRESSURE), Use(level.WIND)),
    opens=begins("00"),
    numbering="surface",
    level_kinds=int(LevelKind.SURFACE | LevelKind.SIGNIFICANT_WIND),
)
SIGNIFICANT_WIND = RecordForm(
    "significant-wind",
    (Use(level.NUMBERED_PRESSURE), Use(level.WIND)),
    opens=_is_numbered,
    expects=_is_next_number,
    resumes=True,
    repeated=True,
    numbering="counted",
    level_kinds=int(LevelKind.SIGNIFICANT_WIND),
    gap_kinds=(int(LevelKind.BEGIN_MISSING_WIND), int(LevelKind.END_MISSING_WIND)),
)
SYSTEM = RecordForm(
    "system",
    (
        Use(fact.SYSTEM),
        Use(fact.RELEASE, "if-recognised", begins("8")),
        Use(fact.SEA_TEMPERATURE, "if-recognised", begins("9")),
    ),
)
CLOUD = RecordForm("cloud", (Use(fact.CLOUD),))

SECTION_7 = Section("7", "sounding system, radiosonde, time of release", (SYSTEM,), "31313")
SECTION_8 = Section("8", "cloud", (CLOUD,), "41414")
REGIONAL_MARKERS = tuple(f"5{figure}5{figure}5" for figure in range(1, 10))
"""51515 to 59595."""
NATIONAL_MARKERS = tuple(f"6{figure}6{figure}6" for figure in range(1, 10))
"""61616 to 69696."""
SECTION_9 = Section("9", "groups of regional agreement", verbatim=True, markers=REGIONAL_MARKERS)
SECTION_10 = Section("10", "groups of national agreement", verbatim=True, markers=NATIONAL_MARKERS)


def _temp_parts() -> tuple[Part, ...]:
    titles = {
        "A": "surface and standard levels to 100 hPa, tropopause, maximum wind",
        "B": "significant levels to 100 hPa",
        "C": "standard levels above 100 hPa, tropopause, maximum wind",
        "D": "significant levels above 100 hPa",
    }
    times = {
        "A": fact.TIME_LAST_WIND,
        "B": fact.TIME_EQUIPMENT,
        "C": fact.TIME_LAST_WIND,
        "D": fact.TIME_ONLY,
    }
    parts = []
    for letter, title in titles.items():
        name = "TT" + letter * 2
        upper = letter in "CD"
        first = Section(
            "1",
            "identification",
            (
                RecordForm(
                    "identification",
                    (Use(fact.opening(name, title)), Use(times[letter]), Use(fact.STATION)),
                ),
            ),
        )
        body: tuple[Section, ...]
        if letter in "AC":
            levels = (STANDARD,) if upper else (SURFACE, STANDARD)
            body = (
                Section("2", "surface and standard levels", levels),
                Section("3", "tropopause", (TROPOPAUSE,)),
                Section("4", "maximum wind and vertical shear", (MAXIMUM_WIND,)),
            )
        else:
            heat = (SIGNIFICANT,) if upper else (SIGNIFICANT_SURFACE, SIGNIFICANT)
            wind = (SIGNIFICANT_WIND,) if upper else (WIND_SURFACE, SIGNIFICANT_WIND)
            body = (
                Section("5", "significant levels, temperature and humidity", heat),
                Section("6", "significant levels, wind", wind, "21212"),
            )
        cloud = (SECTION_8,) if letter == "B" else ()
        parts.append(
            Part(
                letter,
                name,
                title,
                (first, *body, SECTION_7, *cloud, SECTION_9, SECTION_10),
                tenths=upper,
                standard=UPPER_STANDARD if upper else LOWER_STANDARD,
            )
        )
    return tuple(parts)


FM35 = CodeForm(
    "FM 35",
    "TEMP",
    "upper-level pressure, temperature, humidity and wind report from a fixed land station",
    _temp_parts(),
)
