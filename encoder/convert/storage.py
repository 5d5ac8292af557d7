"""Where results go and sources come from: a folder, or object storage by URL.

A file appears under its name in one step or not at all, on a disk by renaming, in object storage
because that is how such storage works.
"""

from __future__ import annotations

import errno
import os
import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from encoder.errors import InputError, MissingDependencyError

if TYPE_CHECKING:
    from collections.abc import Iterator

PART = ".part"
"""Ending of a file that is not complete yet.

What a killed worker left is removed at the end of its run, what a killed run left by the next."""
PROBE = 1 << 20
"""Bytes written to tell whether a destination takes anything at all."""


def reason(fault: Exception) -> str:
    """Return what an exception says, in words where the system has some."""
    words = getattr(fault, "strerror", None)
    if words:
        return str(words)
    if isinstance(fault, FileNotFoundError):
        return os.strerror(errno.ENOENT)
    return " ".join(str(fault).split()).rstrip(".") or type(fault).__name__


def is_url(name: str) -> bool:
    """Tell whether a name is a URL rather than a path."""
    return "://" in name


def remote(url: str) -> tuple[Any, str]:
    """Return the file system of a URL and the path inside it.

    Raises
    ------
    MissingDependencyError
        If fsspec, or what it needs for this kind of URL, is not installed.
    InputError
        If the URL is none, or what it names cannot be reached.
    """
    try:
        import fsspec
    except ImportError as fault:
        msg = f'{url} needs fsspec: install it with pip install "aerogram[cluster]" ({fault}).'
        raise MissingDependencyError(msg) from fault
    try:
        system, path = fsspec.core.url_to_fs(url)
    except ImportError as fault:
        msg = f"{url} needs a library for such URLs that is not installed: {fault}."
        raise MissingDependencyError(msg) from fault
    except OSError as fault:
        msg = f"{url} cannot be reached: {reason(fault)}."
        raise InputError(msg) from fault
    except Exception as fault:
        msg = f"{url} is no URL that can be used: {reason(fault)}."
        raise InputError(msg) from fault
    return system, path


def open_source(name: str) -> BinaryIO:
    """Open a file or URL for reading.

    Raises
    ------
    OSError
        If it cannot be opened.
    """
    if not is_url(name):
        return Path(name).open("rb")
    system, path = remote(name)
    stream: BinaryIO = system.open(path, "rb")
    return stream


def stamp_of(name: str) -> tuple[int, int]:
    """Return size and time of change of a source, to notice that it changed while it was read."""
    if not is_url(name):
        status = Path(name).stat()
        return status.st_size, status.st_mtime_ns
    system, path = remote(name)
    return int(system.info(path)["size"] or 0), 0


class Store:
    """A folder for results, on a disk or by URL; names are relative with ``/``.

    Parameters
    ----------
    root : str
        Path or URL.
    """

    def __init__(self, root: str) -> None:
        self.root = root
        self._system: Any = None
        self._base = root
        if is_url(root):
            self._system, self._base = remote(root)

    def path(self, name: str) -> str:
        """Return the full name of a file."""
        return f"{self._base.rstrip('/')}/{name}" if name else self._base

    def make_root(self) -> None:
        """Make the folder for results; it is made once, and missed if it goes while work goes on.

        Raises
        ------
        OSError
            If it cannot be made.
        """
        if self._system is None:
            Path(self._base).mkdir(parents=True, exist_ok=True)

    def takes_files(self) -> bool:
        """Tell whether files can be written, by writing one of some size and removing it."""
        try:
            if self._system is not None:
                name = f".work/probe-{os.getpid()}"
                self.write(name, bytes(PROBE))
                self.remove(name)
                return True
            with tempfile.NamedTemporaryFile(
                prefix=".probe", suffix=PART, dir=self._base
            ) as stream:
                stream.write(bytes(PROBE))
                stream.flush()
        except OSError:
            return False
        return True

    def exists(self, name: str) -> bool:
        """Tell whether there is a file or folder of that name."""
        if self._system is not None:
            return bool(self._system.exists(self.path(name)))
        return Path(self.path(name)).exists()

    def size(self, name: str) -> int:
        """Return the bytes of a file, -1 where there is none."""
        if self._system is not None:
            return int(self._system.info(self.path(name))["size"]) if self.exists(name) else -1
        path = Path(self.path(name))
        return path.stat().st_size if path.is_file() else -1

    def read(self, name: str) -> bytes:
        """Return the bytes of a file.

        Raises
        ------
        OSError
            If it cannot be read.
        """
        if self._system is not None:
            return bytes(self._system.cat_file(self.path(name)))
        return Path(self.path(name)).read_bytes()

    def write(self, name: str, data: bytes) -> None:
        """Write a file whole.

        Raises
        ------
        OSError
            If it cannot be written; nothing is left behind then.
        """
        with self.place(name) as path:
            Path(path).write_bytes(data)

    @contextmanager
    def place(self, name: str, *, durable: bool = False) -> Iterator[str]:
        """Give the name of a local file to write; afterwards it stands under its own name.

        Parameters
        ----------
        name : str
        durable : bool
            Whether it must be on the disk before it gets its name: a killed process loses nothing
            either way, a power cut may take the latest files that are not.

        Raises
        ------
        OSError
            If it cannot be written.
        """
        if self._system is not None:
            with tempfile.TemporaryDirectory() as folder:
                path = str(Path(folder, "file"))
                yield path
                far = self.path(name)
                self._system.makedirs(far.rpartition("/")[0], exist_ok=True)
                self._system.put_file(path, far)
            return
        target = Path(self.path(name))
        if not Path(self._base).is_dir():  # made anew it would have the rest of the results only
            raise FileNotFoundError(errno.ENOENT, "the folder is gone", self._base)
        target.parent.mkdir(parents=True, exist_ok=True)
        handle, path = tempfile.mkstemp(prefix=f".{target.name}.", suffix=PART, dir=target.parent)
        os.close(handle)
        try:
            yield path
            if durable:
                with Path(path).open("rb+") as stream:
                    os.fsync(stream.fileno())
            Path(path).chmod(0o666 & ~_mask())
            Path(path).replace(target)
        except BaseException:
            Path(path).unlink(missing_ok=True)
            raise

    def remove(self, name: str) -> None:
        """Remove a file if it is there."""
        if self._system is not None:
            if self.exists(name):
                self._system.rm_file(self.path(name))
            return
        Path(self.path(name)).unlink(missing_ok=True)

    def names(self, folder: str, ending: str) -> list[str]:
        """Return the names of the files of a folder with an ending, sorted."""
        if not self.exists(folder):
            return []
        if self._system is not None:
            found = [
                str(item).rpartition("/")[2] for item in self._system.ls(self.path(folder), False)
            ]
        else:
            found = [item.name for item in Path(self.path(folder)).iterdir()]
        return sorted(item for item in found if item.endswith(ending))

    def sweep(self, folder: str, *, deep: bool = False) -> None:
        """Remove what killed writers left in a folder, ``deep`` also in the ones inside it."""
        if self._system is not None or not self.exists(folder):
            return
        place = Path(self.path(folder))
        for item in place.rglob(f".*{PART}") if deep else place.glob(f".*{PART}"):
            item.unlink(missing_ok=True)


def _mask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
