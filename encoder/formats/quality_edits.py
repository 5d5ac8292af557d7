"""Quality edits: what an observer decided about stretches of the profile."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.diagnostics import Diagnostic, Result, diagnostic, excerpt
from encoder.formats.profile_header import NAMES
from encoder.formats.units import nearest
from encoder.rows import rows_as_text, rows_named

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from encoder.profile import Profile


def apply_edits(profile: Profile, edits: Sequence[Mapping[str, Any]]) -> Result[Profile]:
    """Return the profile with the values taken out that the edits declare missing.

    Parameters
    ----------
    profile : Profile
        Rows as read; not changed.
    edits : sequence of mapping
        The list ``quality_edits`` of a valid flight document: ``columns``, ``from_time_s`` and
        ``to_time_s`` or ``from_line`` and ``to_line`` (both ends included), ``action``
        ``"missing"`` or ``"doubtful"``, ``reason``.

    Returns
    -------
    Result of Profile
        Every edit is told: what was applied as a note, a wrong column name as an error.
    """
    found: list[Diagnostic] = []
    columns = {name: profile[name].copy() for name in profile}
    for number, edit in enumerate(edits):
        path = ("quality_edits", number)
        if "from_line" in edit:
            place = profile.source_row.astype(np.float64)
            low, high = edit["from_line"], edit["to_line"]
            limits = f"lines {low} to {high}"
        else:
            place, low, high = profile["time"], edit["from_time_s"], edit["to_time_s"]
            limits = f"{low:g} to {high:g} s"
        chosen = (place >= low) & (place <= high)
        if not chosen.any():
            found.append(
                diagnostic(
                    "edit-without-rows", f"No row lies within {limits}.", path=path, value=limits
                )
            )
        for word in edit["columns"]:
            name = NAMES[word].name if word in NAMES else word
            if name not in columns:
                found.append(_unknown(word, columns, path))
            elif chosen.any():
                missing = edit["action"] == "missing"
                if missing:
                    columns[name][chosen] = np.nan
                found.append(
                    diagnostic(
                        "edit-applied" if missing else "edit-doubtful",
                        f"{name} at {rows_as_text(profile.source_row, chosen)} counts as "
                        f"{edit['action']}: {edit['reason']}",
                        path=path,
                        rows=rows_named(profile.source_row, chosen),
                    )
                )
    return Result(profile.with_columns(columns), tuple(found))


def _unknown(word: str, columns: Mapping[str, Any], path: tuple[str | int, ...]) -> Diagnostic:
    close = nearest(word, columns)
    tail = f'; did you mean "{close}"?' if close else f"; it has {', '.join(columns)}."
    return diagnostic(
        "edit-column-unknown",
        f'The profile has no column "{excerpt(word)}"{tail}',
        path=(*path, "columns"),
        value=excerpt(word),
        expected=close,
    )
