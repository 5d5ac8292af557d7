"""The two steps of the work, each a pure function from files to files: sources, then stations.

Nothing is shared between units. Each writes its results under names made of what it was given and
its account last, so that a killed one has simply not happened.
"""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.convert.account import Account
from encoder.convert.container_index import ContainerError
from encoder.convert.containers import chunks_of
from encoder.convert.failures import (
    AGAIN,
    LOST,
    code_of,
    failed_source,
    failed_station,
    words_of,
)
from encoder.convert.parts import Parts, parts_bytes, parts_of_bytes
from encoder.convert.requirements import destination_takes, need_libraries
from encoder.convert.results import begin_files, file_name, files_there
from encoder.convert.shard import batch_bytes, batch_of_bytes
from encoder.convert.sources import shown
from encoder.convert.stations import as_bytes, finish_station
from encoder.convert.storage import Store, reason, stamp_of
from encoder.convert.work import STATIONS, Content, counted, digest_of_json
from encoder.errors import MissingDependencyError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from encoder.convert.batch import Batch
    from encoder.convert.failures import Place
    from encoder.convert.sources import Source
    from encoder.convert.work import Settings, Unit

ACCOUNT = "account.json"
QUARANTINE_FILE = "quarantine.jsonl"


def read_content(source: Source, data: bytes, settings: Settings) -> Content:
    """Return what the bytes of a source hold."""
    return _read(source, iter((data,)), settings)


def _read(source: Source, chunks: Iterator[bytes], settings: Settings) -> Content:
    if source.kind in ("igra", "igra-many"):
        from encoder.convert.read_igra_source import read_igra_source

        return read_igra_source(source, chunks, compiled=settings.compiled)
    if source.kind == "coded-text":
        from encoder.convert.read_traffic import read_traffic

        return read_traffic(source, chunks, settings)
    data = b"".join(chunks)
    if source.kind == "igra-derived":
        from encoder.convert.read_derived_source import read_derived_source

        return read_derived_source(source, data, settings)
    if source.kind == "bufr":
        from encoder.bulletin.mixed import report_beside_messages
        from encoder.convert.read_bufr_source import read_bufr_source

        if report_beside_messages(data):
            from encoder.convert.read_traffic import read_traffic

            return read_traffic(source, [data], settings)
        return read_bufr_source(source, data, settings)
    if source.kind == "netcdf":
        from encoder.convert.read_netcdf_source import read_netcdf_source

        return read_netcdf_source(source, data, settings)
    if source.kind == "table":
        from encoder.convert.read_table_source import read_table_source

        return read_table_source(source, data, settings)
    from encoder.convert.read_quarantine import read_quarantine_source

    return read_quarantine_source(source, data, settings, read_content)


def _content(unit: Unit, settings: Settings) -> Content:
    """Return what a source holds; nothing of it where it cannot be read to its end."""
    source = unit.source
    try:
        chunks = chunks_of(source.path, source.members, fast=settings.fast)
        content = _read(source, chunks, settings)
    except ContainerError as fault:
        return _changed(source) or failed_source(source, "convert-source-damaged", str(fault))
    except OSError as fault:
        words = reason(fault)
        return _changed(source) or failed_source(source, "convert-source-unreadable", words)
    except MissingDependencyError as fault:
        words = str(fault).rstrip(".")
        return failed_source(source, "convert-source-unreadable", words)
    except Exception as fault:  # noqa: BLE001 - nothing that one source does may end the others
        return _changed(source) or failed_source(source, code_of(fault), words_of(fault))
    return _changed(source) or content


def _changed(source: Source) -> Content | None:
    """Return a source refused because it changed since the plan was made, else None."""
    try:
        if stamp_of(source.path) == (source.file_size, source.file_time):
            return None
    except OSError:
        return None  # it is gone, which reading it has told
    return failed_source(source, "convert-source-changed", "it changed while it was read")


def _described(source: Source) -> dict[str, Any]:
    """Return a source as station files and accounts name it."""
    return {
        "name": source.name,
        "digest": f"blake2b-256:{source.digest}",
        "kind": source.kind,
        "leaf": shown(
            next((item for item in reversed(source.members) if item), source.name)
        ).rpartition("/")[2],
    }


def run_unit(unit: Unit, settings: Settings) -> dict[str, Any]:
    """Read a source: shards for its stations, or the station file at once if it is alone.

    Parameters
    ----------
    unit : Unit
    settings : Settings

    Returns
    -------
    dict
        JSON object: source, account, stations with their shards, number of refused records,
        counts of findings, and the result of the station where it was made.

    Raises
    ------
    OSError
        If the destination cannot be written to.
    """
    need_libraries(settings, load=unit.alone)
    store = Store(settings.destination)
    content = _content(unit, settings)
    if not content.failed:
        try:
            return _with_results(unit, content, settings, store)
        except OSError as fault:
            if not destination_takes(fault, store):
                raise
            code, words = code_of(fault), words_of(fault)
        except Exception as fault:  # noqa: BLE001 - nothing that one source does may end the others
            code, words = code_of(fault), words_of(fault)
        content = failed_source(unit.source, code, words)
    return _with_results(unit, content, settings, store)


def lost_unit(unit: Unit, settings: Settings) -> dict[str, Any]:
    """Return the result of a source whose process was lost; as :func:`run_unit`."""
    content = failed_source(unit.source, "convert-worker-lost", LOST)
    return _with_results(unit, content, settings, Store(settings.destination))


def _with_results(unit: Unit, content: Content, settings: Settings, store: Store) -> dict[str, Any]:
    """Write what a source came to: the refused, shards or the station file, the account."""
    source = _described(unit.source)
    records = [item.as_json(source["name"], source["digest"]) for item in content.refused]
    _write_records(store, f"{unit.folder}/{QUARANTINE_FILE}", records)
    document: dict[str, Any] = {
        "unit": unit.key,
        "source": source,
        "account": content.account.as_json(),
        "found": counted(content.found),
        "why": counted(one for item in content.refused for one in item.diagnostics),
        "refused": len(records),
        "stations": {},
        "sizes": {},
        "finished": None,
        "failed": [item.as_json() for item in content.failed],
    }
    batches = content.batches
    if unit.alone and len(batches) == 1 and not content.parts:
        station, batch = next(iter(batches.items()))
        begin_files(station, unit.key, settings, store)
        made = finish_station(station, [batch], [], [source], settings=settings, store=store)
        document["finished"] = _settled(made, store, unit.folder)
        document["stations"] = {station: []}
    else:
        shards: dict[str, list[str]] = {}
        packed = [(station, "batch", batch_bytes(batch)) for station, batch in batches.items()]
        packed += [(station, "parts", parts_bytes(one)) for station, one in content.parts.items()]
        for station, ending, data in packed:
            name = f"{unit.folder}/{file_name(station)}.{ending}"
            store.write(name, data)
            document["sizes"][name] = len(data)
            shards.setdefault(station, []).append(name)
        document["stations"] = dict(sorted(shards.items()))
    made_well = document["finished"] is None or not document["finished"]["faults"]
    if AGAIN.isdisjoint(document["why"]) and made_well:  # else it is done again next time
        store.write(f"{unit.folder}/{ACCOUNT}", as_bytes(document))
    return document


def _settled(made: dict[str, Any], store: Store, folder: str) -> dict[str, Any]:
    """Put the refused records of a station beside its account."""
    records = made.pop("refused")
    _write_records(store, f"{folder}/station-{QUARANTINE_FILE}", records)
    made["refused"] = len(records)
    made["why"] = _codes(records)
    made["refused_of"] = _by_source(records)
    return made


def _codes(records: Sequence[dict[str, Any]]) -> dict[str, int]:
    counts: dict[str, int] = {}
    for record in records:
        for item in record["diagnostics"]:
            counts[item["code"]] = counts.get(item["code"], 0) + 1
    return dict(sorted(counts.items()))


def _by_source(records: Sequence[dict[str, Any]]) -> dict[str, int]:
    counts: dict[str, int] = {}
    for record in records:
        counts[record["source"]] = counts.get(record["source"], 0) + 1
    return dict(sorted(counts.items()))


def _write_records(store: Store, name: str, records: Sequence[dict[str, Any]]) -> None:
    if not records:  # those of another try may be there
        store.remove(name)
        return
    lines = [json.dumps(item, separators=(",", ":")) + "\n" for item in records]
    store.write(name, "".join(lines).encode("utf-8"))


def finished_unit(unit: Unit, store: Store) -> dict[str, Any] | None:
    """Return the result of a unit that was done before, None if it was not, or its files went."""
    name = f"{unit.folder}/{ACCOUNT}"
    if not store.exists(name):
        return None
    try:
        document: dict[str, Any] = json.loads(store.read(name))
    except (OSError, ValueError):
        return None
    # a power cut may have left a shard short
    if any(store.size(name) != size for name, size in document["sizes"].items()):
        return None
    made = document["finished"]
    if made is not None and not files_there(made, unit.key, store):
        return None
    return document


# --- stations ---------------------------------------------------------------------------------


def station_key(station: str, inputs: Sequence[tuple[str, list[str]]], settings: Settings) -> str:
    """Return the digest of all that bears on the files of a station."""
    return digest_of_json([station, [list(item) for item in inputs], settings.fingerprint()])


def run_station(
    station: str,
    key: str,
    inputs: Sequence[tuple[dict[str, Any], list[str]]],
    settings: Settings,
    places: Sequence[Place],
) -> dict[str, Any]:
    """Make the files of a station of all its shards.

    Parameters
    ----------
    station : str
    key : str
        From :func:`station_key`.
    inputs : sequence of (dict, list of str)
        Sources, in the order of names, and their shards.
    settings : Settings
    places : sequence of Place
        Where the sources are, for what has to be refused.

    Returns
    -------
    dict
        As :func:`encoder.convert.stations.finish_station`, with the key.

    Raises
    ------
    OSError
        If a shard cannot be read or the destination not written to.
    """
    need_libraries(settings)
    store = Store(settings.destination)
    store.remove(_account_name(station))  # what it says is not so any more
    soundings = _soundings(inputs, store)
    sources = [source for source, _shards in inputs]
    try:
        begin_files(station, key, settings, store)
        made = finish_station(station, *soundings, sources, settings=settings, store=store)
    except OSError as fault:
        if not destination_takes(fault, store):
            raise
        code, words = code_of(fault), words_of(fault)
    except Exception as fault:  # noqa: BLE001 - nothing that one station does may end the others
        code, words = code_of(fault), words_of(fault)
    else:
        made = {**_settled(made, store, _station_folder(station)), "key": key}
        if not made["faults"]:  # else it is done again next time
            store.write(_account_name(station), as_bytes(made))
        return made
    made = failed_station(
        station, soundings, sources, places,
        code=code, words=words, settings=settings,
    )  # fmt: skip
    return {**_settled(made, store, _station_folder(station)), "key": key}


def lost_station(
    station: str,
    key: str,
    inputs: Sequence[tuple[dict[str, Any], list[str]]],
    settings: Settings,
    places: Sequence[Place],
) -> dict[str, Any]:
    """Return the result of a station whose process was lost; as :func:`run_station`."""
    store = Store(settings.destination)
    store.remove(_account_name(station))
    sources = [source for source, _shards in inputs]
    made = failed_station(
        station, _soundings(inputs, store), sources, places,
        code="convert-worker-lost", words=LOST, settings=settings,
    )  # fmt: skip
    return {**_settled(made, store, _station_folder(station)), "key": key}


def _station_folder(station: str) -> str:
    return f"{STATIONS}/{file_name(station)}"


def _account_name(station: str) -> str:
    return f"{_station_folder(station)}/{ACCOUNT}"


def _soundings(
    inputs: Sequence[tuple[dict[str, Any], list[str]]], store: Store
) -> tuple[list[Batch], list[Parts]]:
    """Return what the shards of a station hold, each sounding with the index of its source."""
    batches: list[Batch] = []
    parts: list[Parts] = []
    for index, (_source, shards) in enumerate(inputs):
        for name in shards:
            data = store.read(name)
            if name.endswith(".parts"):
                some = parts_of_bytes(data)
                columns = dict(some.columns)
                columns["source_index"] = np.full(len(some), index, dtype=np.int32)
                parts.append(replace(some, columns=columns))
            else:
                batch = batch_of_bytes(data)
                profiles = dict(batch.profiles)
                profiles["source_index"] = np.full(len(batch), index, dtype=np.int32)
                batches.append(replace(batch, profiles=profiles))
    return batches, parts


def finished_station(station: str, key: str, store: Store) -> dict[str, Any] | None:
    """Return the result of a station that was made before of the same shards, else None."""
    name = _account_name(station)
    if not store.exists(name):
        return None
    try:
        made: dict[str, Any] = json.loads(store.read(name))
    except (OSError, ValueError):
        return None
    return made if made.get("key") == key and files_there(made, key, store) else None


def account_of(document: dict[str, Any]) -> Account:
    """Return the account of a result."""
    return Account.of(document["account"])
