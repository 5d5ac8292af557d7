"""A1A2 of a heading: territories, areas at sea, and quarters of the globe for binary bulletins."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache

from encoder.schemas_folder import schemas_folder


@cache
def territories() -> dict[str, str]:
    """Return Table C1: A1A2 of land stations and what it stands for.

    Notes
    -----
    WMO-No. 386, Attachment II-5, Table C1; of the vast areas only the continents are in the table
    kept here.
    """
    path = schemas_folder() / "headings" / "territories.csv"
    with path.open(encoding="utf-8") as lines:
        return {row["designator"]: row["name"] for row in csv.DictReader(lines)}


@dataclass(frozen=True, slots=True)
class SeaArea:
    """One letter A2 of ships: degrees north and east; west and east may cross the date line."""

    letter: str
    south: float
    north: float
    west: float
    east: float

    def holds(self, latitude: float, longitude: float) -> bool:
        """Tell whether a position is inside."""
        width = (self.east - self.west) % 360.0
        inside = (longitude - self.west) % 360.0 <= width
        return self.south <= latitude <= self.north and inside


SEA_AREAS: tuple[SeaArea, ...] = (
    SeaArea("A", -60.0, 30.0, -35.0, 70.0),
    SeaArea("B", 5.0, 90.0, 70.0, 180.0),
    SeaArea("C", -60.0, 5.0, -120.0, -35.0),
    SeaArea("D", 5.0, 90.0, -180.0, -35.0),
    SeaArea("E", -60.0, 5.0, 70.0, -120.0),
    SeaArea("F", 30.0, 90.0, -35.0, 70.0),
)
"""WMO-No. 386, Attachment II-5, Table C2. A position on a border goes to the first area."""

PLATFORMS: dict[str, str] = {"W": "ocean weather station", "V": "mobile ship", "F": "float"}
"""A1 of ships, Table C2."""

SOUTHERN_SEAS = "J"
SEVERAL_AREAS = "X"


def ship_area(latitude: float, longitude: float, *, platform: str = "V") -> str:
    """Return A1A2 of a report from a ship.

    Parameters
    ----------
    latitude, longitude : float
        Degrees, north and east positive.
    platform : {"V", "W", "F"}
        A1: mobile ship, ocean weather station or float.

    Raises
    ------
    KeyError
        If there is no such A1.
    ValueError
        If the position is not on the globe.

    Notes
    -----
    WMO-No. 386, Attachment II-5, Table C2.
    """
    if platform not in PLATFORMS:
        raise KeyError(platform)
    if not (-90.0 <= latitude <= 90.0 and -180.0 <= longitude <= 360.0):
        msg = f"No position on the globe: {latitude}, {longitude}."
        raise ValueError(msg)
    for area in SEA_AREAS:
        if area.holds(latitude, longitude):
            return platform + area.letter
    return platform + SOUTHERN_SEAS


def quarter_of_globe(latitude: float, longitude: float) -> str:
    """Return the letter A2 of headings of binary bulletins (T1 = I).

    Parameters
    ----------
    latitude, longitude : float
        Degrees, north and east positive.

    Returns
    -------
    str
        A to D north of the tropics from 0 westward to 90 W, 180, 90 E and back to 0; E to H and I
        to L likewise in the tropical belt and south of it.

    Notes
    -----
    WMO-No. 386, Attachment II-5, Table C3; the tropical belt is taken to end at 30 degrees (from
    memory).
    """
    west = (-longitude) % 360.0
    quarter = int(west // 90.0)
    belt = 0 if latitude > 30.0 else 2 if latitude < -30.0 else 1
    return "ABCDEFGHIJKL"[4 * belt + quarter]


_SHIP_TYPES = frozenset({"CE"})
_SEA_LETTERS = frozenset("ABCDEFJX")


def area_name(data_type: str, area: str) -> str:
    """Return what A1A2 stands for, in words.

    Parameters
    ----------
    data_type : str
        T1T2; decides which table comes first.
    area : str
        A1A2. Ships and land stations share the letters of the TEMP and PILOT types, so a pair that
        both tables have is read as a territory.
    """
    at_sea = area[0] in PLATFORMS and area[1] in _SEA_LETTERS
    if area in territories() and not (at_sea and data_type in _SHIP_TYPES):
        return territories()[area]
    if at_sea:
        return f"{PLATFORMS[area[0]]}, sea area {area[1]}"
    return f"area {area}, not in Table C1"
