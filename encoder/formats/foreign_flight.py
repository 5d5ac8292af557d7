"""A flight from a CF file of others: trajectory or profile, single, ragged or padded."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.columns import COLUMNS
from encoder.diagnostics import Diagnostic, Result, diagnostic, has_errors, in_file
from encoder.formats.flight_facts import flight_facts
from encoder.formats.flight_folder import prepared_flight
from encoder.formats.foreign_cf import Found, attribute, find
from encoder.formats.foreign_facts import facts_of_file
from encoder.formats.foreign_reader import SoundingReader, lacks, turned
from encoder.formats.netcdf.container import opened
from encoder.formats.units import converted, unit_fault
from encoder.profile import Profile
from encoder.rounding import round_half_away

if TYPE_CHECKING:
    from collections.abc import Mapping

    from encoder.profile import Flight, FloatArray

_CALENDARS = (None, "standard", "gregorian", "proleptic_gregorian")
_SECOND = 1e-6
"""Step to which times are kept: what a 64-bit float of seconds since 1970 resolves."""


def read_foreign(
    path: str | os.PathLike[str],
    *,
    facts: Mapping[str, Any] | None = None,
    sounding: int | None = None,
) -> Result[Flight | None]:
    """Read a flight from a CF file.

    Parameters
    ----------
    path : path-like
    facts : mapping, optional
        A valid flight document (:func:`encoder.formats.flight_json.read_flight_document`) for
        what the file does not say. Without it station, times and surface observation are taken
        from the file, each told by a warning where it had to be taken from the rows.
    sounding : int, optional
        Which sounding, counted from 0, of a file with several.

    Returns
    -------
    Result of Flight or None
        None where the file holds no sounding, or not what a flight needs. Variables that were not
        understood are listed.

    Raises
    ------
    MissingDependencyError
        If netCDF4 is not installed.
    """
    result = opened(path)
    if result.value is None:
        return Result(None, result.diagnostics)
    name = os.fspath(path)
    with result.value as dataset:
        try:
            flight = _read(dataset, facts, sounding, str(name))
        except (OSError, RuntimeError, IndexError, OverflowError, UnicodeDecodeError) as fault:
            flight = Result(
                None,
                (
                    diagnostic(
                        "archive-damaged", f'"{name}" cannot be read: {fault}.', file=str(name)
                    ),
                ),
            )
    return Result(flight.value, in_file(flight.diagnostics, str(name)))


def _read(
    dataset: Any, facts: Mapping[str, Any] | None, sounding: int | None, file: str
) -> Result[Flight | None]:
    found = find(dataset)
    said = [*found.diagnostics, *_unused(dataset, found)]
    if not found.sample:
        said.append(
            diagnostic(
                "netcdf-not-a-sounding",
                "Expected a variable with standard_name air_temperature along the levels, found "
                f"none among {len(dataset.variables)} variables.{_groups(dataset)}",
            )
        )
        return Result(None, tuple(said))
    fault = _structure(dataset, found, sounding)
    if fault is not None:
        return Result(None, (*said, fault))
    reader = SoundingReader(dataset, found, sounding or 0)
    missing = _missing(found, facts is not None)
    columns, wrong = _columns(reader)
    said += [*missing, *wrong]
    if has_errors(said):
        return Result(None, tuple(said))
    release = _release(reader, columns, facts)
    said += release.diagnostics
    if release.value is None or has_errors(said):
        return Result(None, tuple(said))
    profile = _profile(columns)
    if len(profile) > 1 and np.all(np.diff(profile["time"]) < 0.0):
        profile = _turned_round(profile)
        said.append(
            diagnostic("netcdf-rows-reversed", "The last row is the earliest one: rows turned.")
        )
    document: Mapping[str, Any]
    if facts is None:
        assumed = facts_of_file(reader, profile, release.value, dataset)
        said += assumed.diagnostics
        if assumed.value is None:
            return Result(None, tuple(said))
        document = assumed.value
    else:
        document = facts
    known = flight_facts(document)
    said += known.diagnostics
    if known.value is None or has_errors(said):
        return Result(None, tuple(said))
    return prepared_flight(document, known.value, profile, said, (file, file))


def _groups(dataset: Any) -> str:
    """Return what to say of groups of a file, which are not looked into."""
    if not dataset.groups:
        return ""
    return f" Its groups are not read: {', '.join(sorted(dataset.groups))}."


def _turned_round(profile: Profile) -> Profile:
    return Profile({name: profile[name][::-1] for name in profile}, profile.source_row[::-1].copy())


def _unused(dataset: Any, found: Found) -> list[Diagnostic]:
    said = []
    for name in found.unused:
        variable = dataset.variables[name]
        standard = attribute(variable, "standard_name")
        words = f"standard_name {standard}" if standard else "no standard_name"
        said.append(
            diagnostic(
                "netcdf-variable-not-used",
                f"The variable {name} ({words}) is not used.",
                path=(name,),
                value=name,
            )
        )
    return said


def _structure(dataset: Any, found: Found, sounding: int | None) -> Diagnostic | None:
    """Return the fault of a ragged or padded layout, if there is one."""
    if found.instance is not None and found.instance not in dataset.dimensions:
        return diagnostic(
            "netcdf-ragged-wrong", f"There is no dimension {found.instance} of the soundings."
        )
    count = 1 if found.instance is None else len(dataset.dimensions[found.instance])
    levels = len(dataset.dimensions[found.sample])
    if found.count is not None:
        sizes = np.asarray(dataset.variables[found.count][...]).astype(np.int64)
        if len(sizes) == 0 or sizes.min() < 0 or int(sizes.sum()) > levels:
            return diagnostic(
                "netcdf-ragged-wrong",
                f"{found.count} adds up to {int(sizes.sum())} levels, {found.sample} has {levels}.",
                path=(found.count,),
            )
    if sounding is None and count > 1:
        return diagnostic(
            "netcdf-choose-sounding", f"The file holds {count} soundings.", expected=f"1 to {count}"
        )
    if sounding is not None and not 0 <= sounding < count:
        return diagnostic(
            "netcdf-choose-sounding",
            f"The file holds {count} soundings; there is no number {sounding + 1}.",
            expected=f"1 to {count}",
        )
    return None


def _missing(found: Found, facts_given: bool) -> list[Diagnostic]:
    """Return an error for every coordinate a flight needs that was not recognised."""
    said = []
    vertical = ("air_pressure", "geopotential_height", "altitude")
    if not any(name in found.rows for name in vertical):
        said.append(lacks("air_pressure", "a vertical coordinate of each level"))
    if "time" not in found.rows:
        said.append(lacks("time", "a time of each level"))
    have = {**found.single, **found.rows}
    said += [
        lacks(name, f"the {name} of the station or of each level")
        for name in ("latitude", "longitude")
        if name not in have and not facts_given
    ]
    return said


def _columns(reader: SoundingReader) -> tuple[dict[str, FloatArray], list[Diagnostic]]:
    """Return the columns in package units, time as it is in the file."""
    columns: dict[str, FloatArray] = {}
    said: list[Diagnostic] = []
    for name in reader.found.rows:
        if name == "time":
            continue
        column = COLUMNS["wind_from_direction" if name == "wind_to_direction" else name]
        units = reader.units(name) or "1"
        fault = unit_fault(column, units)
        if fault is not None:
            place = reader.found.rows[name]
            said.append(
                diagnostic(
                    "netcdf-unit-wrong",
                    f'The units "{units}" of {place} do not measure {name}.',
                    path=(place, "units"),
                    value=units,
                    expected=column.unit,
                )
            )
            continue
        values = converted(column, units, reader.rows(name))
        if name == "wind_to_direction":
            values = np.mod(values + 180.0, 360.0)
        if name == "longitude":
            values = turned(values)
        columns.setdefault(column.name, values)
    return columns, said


def _release(
    reader: SoundingReader, columns: dict[str, FloatArray], facts: Mapping[str, Any] | None
) -> Result[datetime | None]:
    """Put seconds since release into the columns and return the release time."""
    units = reader.units("time")
    calendar = attribute(reader.dataset.variables[reader.found.rows["time"]], "calendar")
    if units is None or calendar not in _CALENDARS:
        words = f"units {units!r}, calendar {calendar!r}"
        return Result(None, (_time_fault(reader, words),))
    values = reader.rows("time")
    given = None if facts is None else datetime.fromisoformat(str(facts["release_time"]))
    start = _epoch(reader.units("time"), reader.single("time"))
    if "time" in reader.found.single:
        variable = reader.dataset.variables[reader.found.single["time"]]
        start = _epoch(attribute(variable, "units"), reader.single("time"))
    if " since " in units:
        seconds = _epoch(units, values)
        if seconds is None:
            return Result(None, (_time_fault(reader, f"units {units!r}"),))
        known = seconds[np.isfinite(seconds)]
        if given is not None:
            release = given.timestamp()
        elif isinstance(start, float) and np.isfinite(start):
            release = start
        elif len(known):
            release = float(known.min())
        else:
            return Result(None, (lacks("time", "a time of each level"),))
        columns["time"] = np.asarray(round_half_away(seconds - release, _SECOND))
        return Result(datetime.fromtimestamp(release, UTC))
    fault = unit_fault(COLUMNS["time"], units)
    if fault is not None:
        return Result(None, (_time_fault(reader, f"units {units!r}"),))
    columns["time"] = converted(COLUMNS["time"], units, values)
    if given is not None:
        return Result(given)
    if isinstance(start, float) and np.isfinite(start):
        return Result(datetime.fromtimestamp(start, UTC))
    return Result(None, (lacks("time", "the time of release"),))


def _time_fault(reader: SoundingReader, words: str) -> Diagnostic:
    place = reader.found.rows["time"]
    return diagnostic(
        "netcdf-unit-wrong",
        f"The times of {place} cannot be counted: {words}.",
        path=(place, "units"),
        expected="seconds since 1970-01-01T00:00:00Z",
    )


def _epoch(units: Any, values: Any) -> Any:
    """Return times as seconds since 1970, None where the units are no time reference."""
    if not isinstance(units, str) or " since " not in units:
        return None
    from cf_units import Unit

    try:
        unit = Unit(units, calendar="standard")
        since_1970 = Unit("seconds since 1970-01-01 00:00:00", calendar="standard")
        seconds = unit.convert(np.asarray(values, dtype=np.float64), since_1970)
    except ValueError:
        return None
    whole = np.asarray(seconds, dtype=np.float64)
    return float(whole) if whole.ndim == 0 else whole


def _profile(columns: dict[str, FloatArray]) -> Profile:
    """Return the rows without the padding behind them."""
    some = np.zeros(len(columns["time"]), dtype=np.bool_)
    for values in columns.values():
        some |= np.isfinite(values)
    last = int(np.flatnonzero(some)[-1]) + 1 if some.any() else 0
    return Profile(
        {name: values[:last] for name, values in columns.items()}, np.arange(1, last + 1)
    )
