"""Exceptions raised by the package.

::

    EncoderError
    ├── InputError               a file or value given by the user cannot be used
    │   └── FormatError          the file is not of the format it was read as
    ├── ReportError              a result carries error diagnostics and the caller asked to raise
    └── MissingDependencyError   an optional library is needed; names the extra to install

Faults in data are reported as :class:`encoder.diagnostics.Diagnostic` values. An exception is
raised only where there is no value at all to return, or where the caller asks for one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.diagnostics import Diagnostic


class EncoderError(Exception):
    """Base of every exception this package raises on purpose."""


class InputError(EncoderError):
    """A file or value given by the user cannot be used.

    Parameters
    ----------
    message : str
        One sentence: what was expected and what was found.
    diagnostics : sequence of Diagnostic, optional
        All faults found, not just the first.
    """

    def __init__(self, message: str, diagnostics: Sequence[Diagnostic] = ()) -> None:
        super().__init__(message, tuple(diagnostics))
        self.message = message
        self.diagnostics = tuple(diagnostics)

    def __str__(self) -> str:
        return self.message


class FormatError(InputError):
    """The file is not of the format it was read as."""


class ReportError(InputError):
    """A result carries error diagnostics and the caller asked to raise on them."""


class MissingDependencyError(EncoderError):
    """An optional library is not installed; the message names the extra that brings it."""
