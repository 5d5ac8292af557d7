"""Quality edits take values out of use or mark them, and always say so."""

from __future__ import annotations

import numpy as np

from encoder.formats.quality_edits import apply_edits
from encoder.profile import Profile
from tests.flights import codes_of, rows_of, the

EDIT = {"columns": ["air_temperature"], "action": "missing", "reason": "Icing."}


def profile():
    """Return ten rows on lines 2 to 11, at 10, 20, … 100 s."""
    return Profile(rows_of(10), np.arange(2, 12))


def test_edit_by_time_takes_values_out():
    """Both ends of the range belong to it; the profile given is not changed."""
    rows = profile()
    result = apply_edits(rows, [{**EDIT, "from_time_s": 20, "to_time_s": 40}])
    assert list(np.flatnonzero(np.isnan(result.value["air_temperature"]))) == [1, 2, 3]
    assert np.isfinite(rows["air_temperature"]).all()
    found = the(result, "edit-applied")
    assert found.rows == (3, 4, 5)
    assert "Icing." in found.message


def test_edit_by_line_and_alias():
    """Lines of the file count from 1; an alias names the same column."""
    edit = {**EDIT, "columns": ["pressure", "wind_speed"], "from_line": 2, "to_line": 3}
    result = apply_edits(profile(), [edit])
    assert codes_of(result) == ["edit-applied", "edit-applied"]
    for name in ("air_pressure", "wind_speed"):
        assert list(np.flatnonzero(np.isnan(result.value[name]))) == [0, 1]


def test_doubtful_values_are_kept():
    """A doubtful stretch is told and used."""
    edit = {**EDIT, "action": "doubtful", "from_line": 2, "to_line": 3}
    result = apply_edits(profile(), [edit])
    assert codes_of(result) == ["edit-doubtful"]
    assert result.value == profile()


def test_edit_that_meets_nothing_is_told():
    """No row in the range is a warning, an unknown column an error with the nearest name."""
    assert codes_of(apply_edits(profile(), [{**EDIT, "from_line": 50, "to_line": 60}])) == [
        "edit-without-rows"
    ]
    edit = {**EDIT, "columns": ["air_temprature"], "from_line": 2, "to_line": 3}
    found = the(apply_edits(profile(), [edit]), "edit-column-unknown")
    assert (found.expected, found.path) == ("air_temperature", ("quality_edits", 0, "columns"))
    far = the(apply_edits(profile(), [{**edit, "columns": ["xyzzy"]}]), "edit-column-unknown")
    assert "it has time, air_pressure" in far.message
