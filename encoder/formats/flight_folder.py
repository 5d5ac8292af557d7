"""A flight: a folder with ``flight.json`` and its profile file, or the two files side by side."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from encoder.ascent import prepare_ascent
from encoder.checks import check_ascent, gross_limits, pressure_contradiction, unit_doubts
from encoder.diagnostics import Diagnostic, Result, diagnostic, has_errors, in_file
from encoder.formats.flight_facts import flight_facts
from encoder.formats.flight_json import read_flight_document
from encoder.formats.profile_csv import read_profile
from encoder.formats.quality_edits import apply_edits
from encoder.profile import Flight, Profile

if TYPE_CHECKING:
    import os
    from collections.abc import Mapping
    from typing import Any

    from encoder.formats.flight_facts import Facts

FACTS_FILE = "flight.json"
"""Name of the facts file in a folder."""
PROFILE_FILE = "profile.csv"
"""Name of the profile file where the facts name none."""


def read_flight(
    path: str | os.PathLike[str], *, profile: str | os.PathLike[str] | None = None
) -> Result[Flight | None]:
    """Read, prepare and check a flight.

    Parameters
    ----------
    path : path-like
        The folder, or the facts file in it.
    profile : path-like, optional
        The profile file, where it is not beside the facts file under the name these give.

    Returns
    -------
    Result of Flight or None
        None where the flight cannot be used. The faults of both files are told at once, with file
        and line or path; of a folder or facts file that is not there, that alone.
    """
    facts_path = Path(path)
    in_folder = facts_path.is_dir()
    if in_folder:
        facts_path = facts_path / FACTS_FILE
    document = read_flight_document(facts_path)
    found: list[Diagnostic] = list(document.diagnostics)
    if not in_folder and [item.code for item in found] == ["file-not-found"]:
        message = f'There is no folder or file "{path}".'
        return Result(None, (diagnostic("file-not-found", message, file=str(path)),))
    facts = None
    named = PROFILE_FILE
    if document.value is not None:
        result = flight_facts(document.value)
        found += in_file(result.diagnostics, str(facts_path))
        facts = result.value
        named = document.value.get("profile", PROFILE_FILE)
    profile_path = Path(profile) if profile is not None else facts_path.with_name(named)
    rows = read_profile(
        profile_path,
        release_time=None if facts is None else facts.release_time,
        winds_alone=document.value is not None and winds_alone(document.value),
    )
    found += [
        item
        for item in rows.diagnostics
        if facts is not None or item.code != "time-without-release"
    ]
    if document.value is None or facts is None or rows.value is None or has_errors(found):
        return Result(None, tuple(found))
    return prepared_flight(
        document.value, facts, rows.value, found, (str(facts_path), str(profile_path))
    )


def winds_alone(document: Mapping[str, Any]) -> bool:
    """Tell whether a document says that winds alone were observed."""
    return document.get("winds_alone") is True


def prepared_flight(
    document: Mapping[str, Any],
    facts: Facts,
    profile: Profile,
    found: list[Diagnostic],
    files: tuple[str, str],
) -> Result[Flight | None]:
    """Return the flight made from facts and rows, both without faults of reading.

    Parameters
    ----------
    document : mapping
        ``flight.json`` as read.
    facts : Facts
    profile : Profile
        Rows as read.
    found : list of Diagnostic
        What was told so far.
    files : tuple of str
        Facts file and profile file, for the diagnostics.
    """
    facts_file, profile_file = files
    edited = apply_edits(profile, document.get("quality_edits", ()))
    found += in_file(edited.diagnostics, facts_file)
    limited = gross_limits(edited.value)
    found += in_file(limited.diagnostics, profile_file)
    if not has_errors(limited.diagnostics):
        doubts = unit_doubts(limited.value, facts.surface)
        if facts.splash is None:  # the first rows of a fall are not those next to the surface
            doubts = doubts or pressure_contradiction(limited.value, facts.station, facts.surface)
        found += in_file(doubts, profile_file)
    if has_errors(found):
        return Result(None, tuple(found))
    prepared = prepare_ascent(
        limited.value,
        station=facts.station,
        surface=facts.surface,
        vapour_pressure_formula=facts.vapour_pressure_formula,
        winds_alone=winds_alone(document),
        splash=facts.splash,
    )
    found += in_file(prepared.diagnostics, profile_file)
    if prepared.value is None:
        return Result(None, tuple(found))
    ascent, descent = prepared.value
    checked = check_ascent(
        ascent,
        station=facts.station,
        surface=facts.surface,
        vapour_pressure_formula=facts.vapour_pressure_formula,
    )
    found += in_file(checked, profile_file)
    flight = Flight(
        facts.station,
        facts.nominal_time,
        facts.release_time,
        facts.surface,
        facts.instrument,
        facts.reporting,
        profile,
        ascent,
        descent,
        facts.vapour_pressure_formula,
        document,
        tuple(found),
    )
    return Result(flight, tuple(found))
