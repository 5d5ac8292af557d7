"""Aerogram: from a processed radiosonde flight to levels, coded reports and archive, and back.

>>> import encoder
>>> flight = encoder.read_flight("samples/flights/harrow-tarn").raise_for_errors()
>>> levels = encoder.select_levels(flight).value
>>> report = encoder.encode_report(flight, levels).value
>>> report.text.split()[0]
'TTAA'

Names are loaded when first used, so that ``import encoder`` costs next to nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from encoder.archive import FlightArchive, History, Service
    from encoder.diagnostics import Diagnostic, Result, Severity
    from encoder.errors import EncoderError, FormatError, InputError, ReportError
    from encoder.formats.flight_folder import read_flight
    from encoder.formats.foreign_flight import read_foreign
    from encoder.formats.netcdf import append_to_history, read_netcdf, write_netcdf
    from encoder.formats.netcdf.views import join_soundings, open_dataset, split_soundings
    from encoder.formats.profile_csv import read_profile, write_profile
    from encoder.levels import LevelKind, Levels, select_levels
    from encoder.profile import Flight, Profile
    from encoder.report import Report, decode_reports, encode_report, report_text
    from encoder.report.explain import explain
    from encoder.sounding import sounding_of
    from encoder.trace import TraceEntry
    from encoder.verify import Verdict
    from encoder.verify import verify as verify_report

_HOMES = {
    "Diagnostic": "encoder.diagnostics",
    "EncoderError": "encoder.errors",
    "Flight": "encoder.profile",
    "FlightArchive": "encoder.archive",
    "FormatError": "encoder.errors",
    "History": "encoder.archive",
    "InputError": "encoder.errors",
    "LevelKind": "encoder.levels",
    "Levels": "encoder.levels",
    "Profile": "encoder.profile",
    "Report": "encoder.report",
    "ReportError": "encoder.errors",
    "Result": "encoder.diagnostics",
    "Service": "encoder.archive",
    "Severity": "encoder.diagnostics",
    "TraceEntry": "encoder.trace",
    "Verdict": "encoder.verify",
    "append_to_history": "encoder.formats.netcdf",
    "decode_reports": "encoder.report",
    "encode_report": "encoder.report",
    "explain": "encoder.report.explain",
    "join_soundings": "encoder.formats.netcdf.views",
    "open_dataset": "encoder.formats.netcdf.views",
    "read_flight": "encoder.formats.flight_folder",
    "read_foreign": "encoder.formats.foreign_flight",
    "read_netcdf": "encoder.formats.netcdf",
    "read_profile": "encoder.formats.profile_csv",
    "report_text": "encoder.report",
    "select_levels": "encoder.levels",
    "sounding_of": "encoder.sounding",
    "split_soundings": "encoder.formats.netcdf.views",
    "verify_report": "encoder.verify",
    "write_netcdf": "encoder.formats.netcdf",
    "write_profile": "encoder.formats.profile_csv",
}

_OTHER_NAMES = {"verify_report": "verify"}
"""Names that differ at home; ``encoder.verify`` itself is the package of verification."""

__all__ = [
    "Diagnostic",
    "EncoderError",
    "Flight",
    "FlightArchive",
    "FormatError",
    "History",
    "InputError",
    "LevelKind",
    "Levels",
    "Profile",
    "Report",
    "ReportError",
    "Result",
    "Service",
    "Severity",
    "TraceEntry",
    "Verdict",
    "append_to_history",
    "decode_reports",
    "encode_report",
    "explain",
    "join_soundings",
    "open_dataset",
    "read_flight",
    "read_foreign",
    "read_netcdf",
    "read_profile",
    "report_text",
    "select_levels",
    "sounding_of",
    "split_soundings",
    "verify_report",
    "write_netcdf",
    "write_profile",
]


def __getattr__(name: str) -> Any:
    """Load a public name from its module when it is first asked for."""
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), _OTHER_NAMES.get(name, name))
    msg = f"module {__name__!r} has no attribute {name!r}"
    raise AttributeError(msg)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
