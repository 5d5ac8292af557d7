"""What a conversion needs, looked at before the work begins: libraries, and where results go."""

from __future__ import annotations

import errno
import os
import tempfile
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from encoder.convert.storage import PART, is_url, remote
from encoder.errors import MissingDependencyError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from encoder.convert.storage import Store
    from encoder.convert.work import Settings

NEEDS = {
    "netcdf": ("netCDF files", ("netCDF4",), "netcdf"),
    "parquet": ("Parquet files", ("pyarrow", "pyarrow.parquet"), "parquet"),
    "fast": ("Fast conversion", ("h5py", "isal"), "fast"),
    "scheduler": ("A scheduler", ("distributed",), "cluster"),
}
"""What needs which modules, and the extra that brings them."""
NO_ROOM = frozenset(
    {errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EACCES, errno.EPERM, errno.ESTALE, errno.ENODEV}
)
"""Faults of writing that are those of the destination, not of one file."""


def need_libraries(settings: Settings, *, more: Iterable[str] = (), load: bool = True) -> None:
    """Look whether the libraries that a conversion needs are there.

    Parameters
    ----------
    settings : Settings
    more : iterable of str
        Further needs, of :data:`NEEDS`.
    load : bool
        Load them too: one that is there may still be broken.

    Raises
    ------
    MissingDependencyError
        Naming the extra to install.
    """
    wanted = [item for item in settings.formats if item in NEEDS]
    wanted += ["fast"] if settings.fast else []
    for need in (*wanted, *more):
        what, modules, extra = NEEDS[need]
        for module in modules:
            try:
                if load:
                    import_module(module)
                elif find_spec(module) is None:
                    raise ImportError(f"No module named {module!r}")
            except ImportError as fault:
                msg = (
                    f"{what} cannot be made or used without {modules[0]} ({fault}): install it "
                    f'with pip install "aerogram[{extra}]".'
                )
                raise MissingDependencyError(msg) from fault


def check_before(sources: Sequence[str], settings: Settings, *, scheduler: str | None) -> None:
    """Look at all that would end a conversion later, before anything is read.

    Raises
    ------
    MissingDependencyError
        If a library is missing.
    InputError
        If a URL is none.
    EncoderError
        If the scheduler does not answer.
    OSError
        If the destination cannot be written to.
    """
    need_libraries(settings, more=() if scheduler is None else ("scheduler",))
    for name in (*sources, settings.destination):
        if is_url(name):
            remote(name)
    if not is_url(settings.destination):
        _writable(Path(settings.destination))
    if scheduler is not None:
        from encoder.convert.workers import workers

        with workers(scheduler=scheduler):
            pass


def _writable(folder: Path) -> None:
    """Look whether a folder can be written to, or made.

    Raises
    ------
    OSError
        If not.
    """
    place = folder.absolute()
    while not os.path.lexists(place):
        place = place.parent
    if not place.is_dir():
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(place))
    for one in (place, folder / ".work", folder / ".work" / "units"):
        if one.is_dir():
            tempfile.TemporaryFile(prefix=".", suffix=PART, dir=one).close()


def destination_takes(fault: OSError, store: Store) -> bool:
    """Tell whether a destination takes other files after a fault of writing one."""
    return fault.errno not in NO_ROOM and store.takes_files()
