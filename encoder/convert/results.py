"""Names of the files of a station, and which unit of work they were made by.

A station file may be made by several units in turn: of one source alone, of several together, of a
source that changed and changed back. Each puts its key beside the name of the file before it writes
it, so that only the unit that wrote last can be taken for done.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from encoder.convert.work import digest_of_json

if TYPE_CHECKING:
    from collections.abc import Mapping

    from encoder.convert.storage import Store
    from encoder.convert.work import Settings

ENDINGS = {"netcdf": ".nc", "parquet": ".parquet", "igra": "-data.txt"}
MAKERS = ".work/makers"
LONGEST_NAME = 48
"""Most characters that a file name takes from an identifier; four bytes each at the most."""


def file_name(station: str) -> str:
    """Return the name of the files of a station: its identifier, if that can be a file name.

    Odd characters are replaced, and a digest tells apart what would be the same without them.
    """
    made = "".join(sign if sign.isalnum() or sign in "+-._" else "_" for sign in station)
    made = made[:LONGEST_NAME]
    if made.startswith("."):
        made = f"_{made[1:]}"
    return made if made and made == station else f"{made or '_'}-{digest_of_json(station)[:8]}"


def files_of_station(station: str, settings: Settings) -> dict[str, str]:
    """Return the names of the files of a station by their format."""
    return {form: f"{file_name(station)}{ENDINGS[form]}" for form in settings.formats}


def begin_files(station: str, key: str, settings: Settings, store: Store) -> None:
    """Say that the files of a station are made by a unit from now on.

    Raises
    ------
    OSError
        If the destination cannot be written to.
    """
    for name in files_of_station(station, settings).values():
        store.write(f"{MAKERS}/{name}.key", key.encode("ascii"))


def files_there(made: Mapping[str, Any], key: str, store: Store) -> bool:
    """Tell whether the files of a result are there, and still those of the unit of that key."""
    return all(
        store.size(item["name"]) == item["bytes"]
        and store.exists(f"{MAKERS}/{item['name']}.key")
        and store.read(f"{MAKERS}/{item['name']}.key") == key.encode("ascii")
        for item in made["files"]
    )
