"""The file itself: put in place in one step, read with a plain word on faults.

A file is complete under its name or not there at all.
"""

from __future__ import annotations

import errno
import glob
import os
import shutil
import tempfile
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.diagnostics import Result, diagnostic
from encoder.errors import MissingDependencyError
from encoder.formats.netcdf.declare import MISSING

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from encoder.formats.netcdf.declare import Product, Variable

PART = ".part"
"""Ending of a file that is not complete yet."""
FULL = 1 << 20
"""With less free space than this a fault of writing is a full disk."""
MOST_BYTES = 2_000_000_000
"""Largest file read at once."""
HDF5_MARK = b"\x89HDF\r\n\x1a\n"
CLASSIC_MARKS = (b"CDF\x01", b"CDF\x02", b"CDF\x05")
FAULTS = (OSError, RuntimeError, ValueError, IndexError, AttributeError, OverflowError)
"""What the library raises, by its mood, on a damaged file."""
CHUNK = 1 << 17
"""Most values in a chunk of a compressed variable: between 2**16 and 2**18 compresses best."""


def library() -> Any:
    """Return the netCDF4 library.

    Raises
    ------
    MissingDependencyError
        If it is not installed.
    """
    try:
        import netCDF4
    except ImportError as fault:
        msg = 'NetCDF files need netCDF4: install it with pip install "aerogram[netcdf]".'
        raise MissingDependencyError(msg) from fault
    return netCDF4


def is_netcdf(head: bytes) -> bool:
    """Tell whether the first bytes of a file are those of netCDF, classic or HDF5."""
    return head.startswith(HDF5_MARK) or head.startswith(CLASSIC_MARKS)


# --- building ---------------------------------------------------------------------------------


def write(
    path: str | os.PathLike[str],
    product: Product,
    facts: Mapping[str, Any],
    values: Mapping[str, Any],
    attributes: Mapping[str, Mapping[str, Any]],
    *,
    fast: bool = False,
) -> dict[str, list[int]]:
    """Write a netCDF-4 file under a temporary name beside it, then give it its name.

    Parameters
    ----------
    path : path-like
        An older file of that name stays whole until the new one is complete and on the disk.
    product : Product
    facts : mapping
        Global attributes in their order; None is left out.
    values : mapping of str to array, number or str
        By variable; a variable without values is not written.
    attributes : mapping of str to mapping
        Attributes that belong to this file, by variable; None takes one away, and a key
        ``dtype`` changes the type (packing).
    fast : bool
        Compress with :mod:`encoder.formats.netcdf.direct_chunks`: the same content, sooner.

    Returns
    -------
    dict of str to list of int
        Checksums of the chunks of variables that were compressed there, to compare a second
        reading with.

    Raises
    ------
    OSError
        If the file cannot be written; nothing is left behind then.
    """
    with _replacing(path) as temporary:
        try:
            return _build(str(temporary), product, facts, values, attributes, fast=fast)
        except RuntimeError as fault:  # the library's word for every fault of the disk
            raise _disk_fault(temporary, fault) from fault


def _disk_fault(path: Path, fault: RuntimeError) -> OSError:
    free = shutil.disk_usage(path.parent).free
    if free < FULL:
        return OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(path.parent))
    return OSError(errno.EIO, f"{os.strerror(errno.EIO)} ({fault})", str(path.parent))


def _build(
    path: str,
    product: Product,
    facts: Mapping[str, Any],
    values: Mapping[str, Any],
    attributes: Mapping[str, Mapping[str, Any]],
    *,
    fast: bool,
) -> dict[str, list[int]]:
    from encoder.formats.netcdf.direct_chunks import is_worth_it, write_chunks

    left: dict[str, Any] = {}
    dataset = library().Dataset(path, mode="w", format="NETCDF4")
    try:
        dataset.setncatts({key: value for key, value in facts.items() if value is not None})
        declared = [item for item in product.variables if item.name in values]
        arrays = {item.name: _array(item, values[item.name]) for item in declared}
        for item in declared:
            for name, size in zip(item.dims, arrays[item.name].shape, strict=True):
                if name not in dataset.dimensions:
                    dataset.createDimension(name, size)
        for item in declared:
            array = arrays[item.name]
            variable = _define(dataset, item, array, attributes.get(item.name, {}))
            variable.set_auto_maskandscale(False)
            variable.set_auto_chartostring(False)
            if fast and is_worth_it(array):
                left[item.name] = array
            else:
                variable[...] = array
    finally:
        dataset.close()
    return write_chunks(path, left) if left else {}


def _array(variable: Variable, value: Any) -> Any:
    if variable.dtype == "S1" and isinstance(value, str):
        data = value.encode("utf-8") or b"\0"
        return np.frombuffer(data, dtype="S1")
    return np.asarray(value)


def _define(dataset: Any, item: Variable, array: Any, more: Mapping[str, Any]) -> Any:
    dtype = more.get("dtype", item.dtype)
    text = dtype == "S1"
    options: dict[str, Any] = {}
    if item.dims:
        sizes = tuple(min(size, CHUNK) for size in array.shape)
        if len(sizes) > 1:  # rows of text: as many rows as make a chunk
            sizes = (max(1, min(array.shape[0], 4 * CHUNK // max(sizes[1], 1))), *sizes[1:])
        options = {
            "compression": "zlib",
            "complevel": 1,
            "shuffle": not text,
            "chunksizes": tuple(max(size, 1) for size in sizes),
        }
        if array.size == 0:
            options = {}
    variable = dataset.createVariable(
        item.name, dtype, item.dims, fill_value=MISSING[dtype] if item.filled else None, **options
    )
    given = {**item.attributes, **more}
    given.pop("dtype", None)
    variable.setncatts({key: value for key, value in given.items() if value is not None})
    return variable


# --- putting in place -------------------------------------------------------------------------


@contextmanager
def _replacing(path: str | os.PathLike[str]) -> Iterator[Path]:
    """Give a temporary name beside a file; on success it becomes the file, else it goes.

    Raises
    ------
    OSError
        If the folder cannot be written to.
    """
    target = Path(path)
    handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=PART, dir=target.parent)
    os.close(handle)
    temporary = Path(name)
    try:
        yield temporary
        with temporary.open("rb+") as stream:
            os.fsync(stream.fileno())
        temporary.chmod(target.stat().st_mode & 0o777 if target.exists() else _usual_mode())
        temporary.replace(target)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    _settle(target.parent)


def write_bytes(path: str | os.PathLike[str], data: bytes) -> None:
    """Write bytes under a temporary name beside a file, then give them its name.

    Raises
    ------
    OSError
        If the file cannot be written; nothing is left behind then.
    """
    with _replacing(path) as temporary:
        temporary.write_bytes(data)


def _usual_mode() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _settle(folder: Path) -> None:
    """Bring the new name of a file to the disk, where the system can do that for folders."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(handle)
    except OSError:
        return
    finally:
        os.close(handle)


@contextmanager
def only_writer(path: str | os.PathLike[str]) -> Iterator[None]:
    """Let one process at a time change a file; the others wait.

    The lock lies in a hidden file beside it, because the file itself is replaced. It ends with
    the process, however that ends; the hidden file is removed by its last holder, who still has
    the lock then, and a writer who waited on a removed one begins again.

    Raises
    ------
    OSError
        If the folder cannot be written to.
    """
    target = Path(path)
    lock = target.with_name(f".{target.name}.lock")
    handle = _locked(lock)
    try:
        for left in target.parent.glob(f".{glob.escape(target.name)}.*{PART}"):
            left.unlink(missing_ok=True)  # of a writer that was killed: it held this lock
        yield
    finally:
        with suppress(OSError):  # a folder that may not be changed any more
            lock.unlink(missing_ok=True)
        os.close(handle)


def _locked(lock: Path) -> int:
    """Return a handle that has the lock, of the file that is there now."""
    import fcntl

    while True:
        handle = os.open(lock, os.O_RDWR | os.O_CREAT, 0o666)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)
            if lock.exists() and os.path.samestat(os.fstat(handle), lock.stat()):
                return handle
        except FileNotFoundError:  # removed between the two looks
            pass
        except BaseException:
            os.close(handle)
            raise
        os.close(handle)


# --- opening ----------------------------------------------------------------------------------


def opened(path: str | os.PathLike[str]) -> Result[Any]:
    """Return an open dataset, without masking, scaling or joining of characters.

    Returns
    -------
    Result of netCDF4.Dataset or None
        None where the file is missing, unreadable, no netCDF, or damaged; the one diagnostic
        says which. Close the dataset after use.
    """
    name = os.fspath(path)
    file = Path(path)
    try:
        if file.is_dir():
            return _refused("file-not-readable", f'"{name}" is a folder, not a file.', name)
        size = file.stat().st_size
        if size > MOST_BYTES:
            return _refused(
                "archive-too-large",
                f'"{name}" has {size:,} bytes; at most {MOST_BYTES:,} are read.',
                name,
            )
        data = file.read_bytes()
    except FileNotFoundError:
        return _refused("file-not-found", f'There is no file "{name}".', name)
    except (OSError, ValueError) as fault:
        words = getattr(fault, "strerror", None) or fault
        return _refused("file-not-readable", f'The file "{name}" cannot be read: {words}.', name)
    if not is_netcdf(data):
        found = "an empty file" if not data else f"bytes {data[:8]!r}"
        return _refused(
            "archive-not-netcdf", f'Expected a netCDF file, "{name}" begins with {found}.', name
        )
    try:
        dataset = library().Dataset(name, mode="r", memory=data)
    except (*FAULTS, KeyError) as fault:
        why = getattr(fault, "strerror", None) or fault
        return _refused(
            "archive-damaged",
            f'"{name}" begins like a netCDF file but cannot be opened ({why}): it is cut off '
            "or damaged.",
            name,
        )
    dataset.set_auto_maskandscale(False)
    dataset.set_auto_chartostring(False)
    return Result(dataset)


def _refused(code: str, message: str, name: str) -> Result[Any]:
    return Result(None, (diagnostic(code, message, file=name),))


def text_of(dataset: Any, name: str) -> str:
    """Return a text variable as a string.

    Raises
    ------
    KeyError
        If the dataset has none of that name.
    UnicodeDecodeError
        If its bytes are no UTF-8.
    """
    data = bytes(np.asarray(dataset.variables[name][...]).tobytes())
    return "" if data == b"\0" else data.decode("utf-8")
