"""What a unit of work is given and what it gives back; all of it plain data."""

from __future__ import annotations

import base64
import hashlib
import json
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

from encoder.convert.account import Account
from encoder.formats.netcdf.declare import VERSION

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from encoder.archive import Service
    from encoder.convert.batch import Batch
    from encoder.convert.parts import Parts
    from encoder.convert.sources import Source
    from encoder.diagnostics import Diagnostic
    from encoder.repair import RepairMode
    from encoder.stations import StationCatalogue

QUARANTINE = 1
"""Version of the records of a quarantine file."""
UNITS, STATIONS = ".work/units", ".work/stations"
FORMATS = ("netcdf", "parquet", "igra")


@dataclass(frozen=True, slots=True)
class Settings:
    """What holds for every unit of a run.

    Attributes
    ----------
    destination : str
        Folder or URL.
    catalogue : StationCatalogue
        Positions and names of stations.
    formats : tuple of str
        Of :data:`FORMATS`.
    formula : str
        Vapour-pressure formula of computed humidities.
    repair : {"none", "safe", "all"}
        Repairs of damaged groups of coded text that are read.
    month : str or None
        ``"YYYY-MM"`` of coded text whose dates nothing else tells.
    column_map : mapping or None
        Declared columns of tables.
    service : Service or None
        Who makes and publishes the files.
    fast : bool
        Use the accelerating libraries.
    compiled : bool
        Read the IGRA layout with compiled code, which does not bear on the result.
    read_back : bool
        Read every file again and compare.
    """

    destination: str
    catalogue: StationCatalogue
    formats: tuple[str, ...] = ("netcdf",)
    formula: str = "wmo-49"
    repair: RepairMode = "none"
    month: str | None = None
    column_map: Mapping[str, Any] | None = None
    service: Service | None = None
    fast: bool = False
    compiled: bool = False
    read_back: bool = True

    def fingerprint(self) -> str:
        """Return a digest of all that bears on the result, which the destination does not."""
        return digest_of_json(
            {
                "version": VERSION,
                "catalogue": [repr(item) for item in self.catalogue.records],
                "formats": self.formats,
                "formula": self.formula,
                "repair": self.repair,
                "month": self.month,
                "map": self.column_map,
                "service": None if self.service is None else asdict(self.service),
                "fast": self.fast,
            }
        )


def digest_of_json(document: Any) -> str:
    """Return a short digest of a JSON document."""
    text = json.dumps(document, sort_keys=True, separators=(",", ":"))
    return hashlib.blake2b(text.encode("utf-8"), digest_size=10).hexdigest()


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit of work: a source, read as a whole.

    Attributes
    ----------
    source : Source
    key : str
        Digest of the source, its name and the settings: equal keys have equal results.
    alone : bool
        Whether nothing else in the plan can have soundings of its station, so that the station
        file is made at once.
    """

    source: Source
    key: str
    alone: bool

    @property
    def folder(self) -> str:
        """Folder of its results inside the destination."""
        return f"{UNITS}/{self.key}"


def unit_of(source: Source, settings: Settings, *, alone: bool) -> Unit:
    """Return the unit of a source."""
    said = [source.digest, source.name, source.members, source.kind, alone, settings.fingerprint()]
    return Unit(source, digest_of_json(said), alone)


@dataclass(slots=True)
class RefusedItem:
    """Something that was not taken, on its way into the quarantine.

    Attributes
    ----------
    kind : str
        Kind of source it has to be read as when it is fed back.
    offset : int
        Of its first byte in the source.
    data : bytes
        Verbatim.
    diagnostics : tuple of Diagnostic
    name : str
        File name to go by when it is fed back (dates of coded text).
    context : str
        Heading it stood under.
    """

    kind: str
    offset: int
    data: bytes
    diagnostics: tuple[Diagnostic, ...]
    name: str = ""
    context: str = ""

    def as_json(self, source: str, digest: str) -> dict[str, Any]:
        """Return the record of the quarantine file."""
        try:
            text, encoding = self.data.decode("ascii"), "ascii"
        except UnicodeDecodeError:
            text, encoding = base64.b64encode(self.data).decode("ascii"), "base64"
        return {
            "aerogram-quarantine": QUARANTINE,
            "kind": self.kind,
            "source": source,
            "digest": digest,
            "offset": self.offset,
            "length": len(self.data),
            "name": self.name or source,
            "heading": self.context,
            "diagnostics": [item.as_json() for item in self.diagnostics],
            "encoding": encoding,
            "data": text,
        }


@dataclass(slots=True)
class Content:
    """What a source holds.

    Attributes
    ----------
    batches : dict of str to Batch
        Soundings by station.
    parts : dict of str to Parts
        Parts of coded soundings by station, to be put together with those of other sources.
    refused : list of RefusedItem
    found : list of Diagnostic
        What was noticed of things that were taken.
    account : Account
        Read, refused and put aside; what was handed on to the stations is counted there.
    failed : list of Diagnostic
        Why the source was refused whole: nothing of it could be read at all.
    """

    batches: dict[str, Batch] = field(default_factory=dict)
    parts: dict[str, Parts] = field(default_factory=dict)
    refused: list[RefusedItem] = field(default_factory=list)
    found: list[Diagnostic] = field(default_factory=list)
    account: Account = field(default_factory=Account.empty)
    failed: list[Diagnostic] = field(default_factory=list)


def counted(found: Iterable[Diagnostic]) -> dict[str, int]:
    """Return how often each code occurs, by code."""
    counts: dict[str, int] = {}
    for item in found:
        counts[item.code] = counts.get(item.code, 0) + 1
    return dict(sorted(counts.items()))
