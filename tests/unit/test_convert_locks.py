"""One run at a time on a destination."""

from __future__ import annotations

import errno
import fcntl
import os

import pytest

from encoder.convert import locks
from encoder.convert.storage import Store
from encoder.errors import InputError


def test_a_run_waits_for_the_processes_of_a_killed_one(tmp_path, monkeypatch):
    """They write until they notice; one that never ends is told."""
    monkeypatch.setattr(locks, "PAUSE", 0.001)
    store = Store(str(tmp_path))
    paused = []
    with locks.only_run(store):
        pass
    with (tmp_path / ".work" / "workers" / "lock").open("ab") as held:
        fcntl.flock(held, fcntl.LOCK_SH)
        with (
            pytest.raises(InputError, match="earlier conversion are still writing"),
            locks.only_run(store),
        ):
            paused.append("began")

        def ends(_seconds):
            paused.append("waited")
            fcntl.flock(held, fcntl.LOCK_UN)

        monkeypatch.setattr(locks.time, "sleep", ends)
        with locks.only_run(store):
            paused.append("began")
    assert paused == ["waited", "began"]


def test_a_file_system_without_locks(tmp_path, monkeypatch):
    """A run goes on there; any other fault of a lock is told."""

    def fails(*_given):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(locks.fcntl, "flock", fails)
    number = errno.ENOLCK
    with locks.only_run(Store(str(tmp_path))):
        locks.hold_while_alive(str(tmp_path / ".work" / "workers" / "lock"))
    number = errno.EIO
    with pytest.raises(OSError, match="Input/output"), locks.only_run(Store(str(tmp_path))):
        pass
