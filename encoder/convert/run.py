"""A whole run: the plan, the two steps, the summary and the quarantine."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from encoder.convert.digests import with_digests
from encoder.convert.failures import Place
from encoder.convert.locks import only_run, workers_lock
from encoder.convert.memory import jobs_that_fit, source_needs, station_need
from encoder.convert.requirements import need_libraries
from encoder.convert.results import file_name
from encoder.convert.sources import find_sources
from encoder.convert.stations import as_bytes
from encoder.convert.storage import Store
from encoder.convert.summary import SUMMARY, check_files, summary_of, summary_of_run
from encoder.convert.units import (
    QUARANTINE_FILE,
    finished_station,
    finished_unit,
    lost_station,
    lost_unit,
    run_station,
    run_unit,
    station_key,
)
from encoder.convert.work import STATIONS, UNITS, Settings, Unit, unit_of
from encoder.convert.workers import LOST, workers
from encoder.diagnostics import Diagnostic

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.convert.kinds import Kind

QUARANTINE = "quarantine.jsonl"


class Progress(Protocol):
    """What is told of a run while it goes on."""

    def planned(self, units: Sequence[Unit], done: Sequence[tuple[Unit, dict[str, Any]]]) -> None:
        """Say what will be read, and which of it was read before, with the results."""

    def unit_done(self, unit: Unit, document: dict[str, Any]) -> None:
        """Say that a source was read."""

    def stations_planned(self, count: int, done: Sequence[dict[str, Any]]) -> None:
        """Say how many station files are to be made, and give the results of those made before."""

    def station_done(self, document: dict[str, Any]) -> None:
        """Say that the files of a station were made."""

    def worker_lost(self, count: int) -> None:
        """Say that a process was lost, and how many sources or stations are tried again alone."""


class Silent:
    """Tells nothing."""

    def planned(self, units: Sequence[Unit], done: Sequence[tuple[Unit, dict[str, Any]]]) -> None:
        """Say nothing."""

    def unit_done(self, unit: Unit, document: dict[str, Any]) -> None:
        """Say nothing."""

    def stations_planned(self, count: int, done: Sequence[dict[str, Any]]) -> None:
        """Say nothing."""

    def station_done(self, document: dict[str, Any]) -> None:
        """Say nothing."""

    def worker_lost(self, count: int) -> None:
        """Say nothing."""


@dataclass(slots=True)
class Plan:
    """What a run will do.

    Attributes
    ----------
    units : list of Unit
        By name of source.
    found : list of Diagnostic
        Sources that cannot be read or are not known.
    """

    units: list[Unit]
    found: list[Diagnostic] = field(default_factory=list)


def plan_run(given: Sequence[str], settings: Settings, *, kind: Kind | None = None) -> Plan:
    """Make the plan of a run.

    A source in the IGRA layout whose station no other source can have makes its station file at
    once; all others leave shards, from which the station files are made when all are read.

    Parameters
    ----------
    given : sequence of str
        Files, folders, URLs.
    settings : Settings
    kind : str, optional
        Kind of all sources, not guessed.

    Raises
    ------
    InputError
        If a source lies in the folder for results, or is no URL that can be used.
    MissingDependencyError
        If a library that a source needs is missing.
    """
    from encoder.convert.from_igra import station_key as igra_key

    sources, found = find_sources(
        given, kind=kind, table=settings.column_map is not None, results=settings.destination
    )
    if any(item.kind == "netcdf" for item in sources):
        need_libraries(settings, more=("netcdf",))
    sources = with_digests(sources, found)
    only_igra = all(item.kind == "igra" and item.station for item in sources)
    keys = [igra_key(item.station) for item in sources] if only_igra else []
    units = [
        unit_of(item, settings, alone=only_igra and keys.count(igra_key(item.station)) == 1)
        for item in sources
    ]
    # in an order that is not that of what was given
    found.sort(key=lambda item: (item.file or "", item.code, item.message))
    return Plan(units, found)


def run_plan(
    plan: Plan,
    settings: Settings,
    *,
    jobs: int = 1,
    scheduler: str | None = None,
    memory: int | None = None,
    progress: Progress | None = None,
) -> dict[str, Any]:
    """Do what is left of a plan.

    Parameters
    ----------
    plan : Plan
    settings : Settings
    jobs : int
        Local processes.
    scheduler : str, optional
        Address of a dask scheduler.
    memory : int, optional
        Bytes that the processes may take together; fewer of them work where it is not enough.
    progress : Progress, optional

    Returns
    -------
    dict
        The summary, as in ``summary.json`` of the destination and of
        ``schemas/conversion.schema.json``. It depends on sources and settings alone.

    Raises
    ------
    InputError
        If another run works on the destination, or a station does not fit into the memory.
    OSError
        If the destination cannot be written to; what is done stays done.
    """
    told = progress or Silent()
    store = Store(settings.destination)
    store.make_root()
    with only_run(store):
        _sweep(store)
        first = jobs if memory is None else jobs_that_fit(jobs, memory, source_needs(plan))
        documents = _read_sources(plan, settings, store, jobs=first, scheduler=scheduler, told=told)
        stations = _make_stations(
            plan, documents, settings, store,
            jobs=jobs, scheduler=scheduler, memory=memory, told=told,
        )  # fmt: skip
        check_files(stations, store)
        summary = summary_of_run(plan, documents, stations, settings)
        _write_quarantine(plan, stations, store)
        store.write(SUMMARY, as_bytes(summary, for_reading=True))
        _sweep(store)  # a worker may have been lost on the way; nobody writes any more
    return summary


def _sweep(store: Store) -> None:
    """Remove the unfinished files of writers that were killed, while no writer is at work."""
    store.sweep("")
    store.sweep(".work", deep=True)


def _read_sources(
    plan: Plan,
    settings: Settings,
    store: Store,
    *,
    jobs: int,
    scheduler: str | None,
    told: Progress,
) -> list[dict[str, Any]]:
    documents: list[dict[str, Any] | None] = [finished_unit(unit, store) for unit in plan.units]
    left = [place for place, document in enumerate(documents) if document is None]
    # the longest first, so that none is left alone at the end; members of a container together
    sources = [unit.source for unit in plan.units]
    longest: dict[str, int] = {}
    for item in sources:
        longest[item.path] = max(longest.get(item.path, 0), item.size)
    left.sort(
        key=lambda place: (
            -longest[sources[place].path], sources[place].path, -sources[place].size, place
        )
    )  # fmt: skip
    told.planned(
        plan.units,
        [
            (unit, item)
            for unit, item in zip(plan.units, documents, strict=True)
            if item is not None
        ],
    )
    if left:
        with workers(min(jobs, len(left)), scheduler, lock=workers_lock(store)) as pool:
            calls = [(plan.units[place], settings) for place in left]
            for number, result in pool.map(run_unit, calls, lost=told.worker_lost):
                place = left[number]
                document = result if result is not LOST else lost_unit(*calls[number])
                documents[place] = document
                told.unit_done(plan.units[place], document)
    return [item for item in documents if item is not None]


def _make_stations(
    plan: Plan,
    documents: Sequence[dict[str, Any]],
    settings: Settings,
    store: Store,
    *,
    jobs: int,
    scheduler: str | None,
    memory: int | None,
    told: Progress,
) -> dict[str, dict[str, Any]]:
    inputs: dict[str, list[tuple[dict[str, Any], list[str]]]] = {}
    places: dict[str, list[Place]] = {}
    made: dict[str, dict[str, Any]] = {}
    for unit, document in zip(plan.units, documents, strict=True):
        if document["finished"] is not None:
            made[document["finished"]["station"]] = document["finished"]
            continue
        for station, shards in document["stations"].items():
            inputs.setdefault(station, []).append((document["source"], shards))
            places.setdefault(station, []).append(Place.of(unit.source))
    keys = {
        station: station_key(station, [(s["digest"], shards) for s, shards in several], settings)
        for station, several in inputs.items()
    }
    left = []
    for station in sorted(inputs):
        before = finished_station(station, keys[station], store)
        if before is None:
            left.append(station)
        else:
            made[station] = before
    told.stations_planned(len(inputs), [made[name] for name in inputs if name in made])
    left.sort(key=lambda name: (-sum(store.size(s) for _o, own in inputs[name] for s in own), name))
    if left:
        if memory is not None:
            shards = [[s for _source, own in inputs[name] for s in own] for name in left]
            needs = [
                (name, station_need(own, store)) for name, own in zip(left, shards, strict=True)
            ]
            jobs = jobs_that_fit(jobs, memory, needs)
        with workers(min(jobs, len(left)), scheduler, lock=workers_lock(store)) as pool:
            calls = [(name, keys[name], inputs[name], settings, places[name]) for name in left]
            for number, result in pool.map(run_station, calls, lost=told.worker_lost):
                document = result if result is not LOST else lost_station(*calls[number])
                made[left[number]] = document
                told.station_done(document)
    return dict(sorted(made.items()))


def _write_quarantine(plan: Plan, stations: dict[str, dict[str, Any]], store: Store) -> None:
    """Put all refused records into one file, in the order of sources and offsets."""
    names = [f"{unit.folder}/{QUARANTINE_FILE}" for unit in plan.units]
    names += [f"{unit.folder}/station-{QUARANTINE_FILE}" for unit in plan.units]
    names += [
        f"{STATIONS}/{file_name(station)}/station-{QUARANTINE_FILE}"
        for station, made in stations.items()
        if "key" in made  # else it was made with its source
    ]
    with store.place(QUARANTINE, durable=True) as path, Path(path).open("wb") as stream:
        for name in names:
            if store.exists(name):
                stream.write(store.read(name))


__all__ = ["UNITS", "Plan", "Progress", "plan_run", "run_plan", "summary_of"]
