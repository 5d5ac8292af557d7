"""Writing binary files so that none is ever half-written under its name."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import os


def write_octets(path: str | os.PathLike[str], data: bytes) -> None:
    """Write a file under a temporary name beside it, then give it its name.

    A device or a pipe is written to as it is: it must not be replaced by a file.

    Parameters
    ----------
    path : path-like
    data : bytes

    Raises
    ------
    OSError
        If the folder cannot be written to; nothing is left behind then.
    """
    target = Path(path)
    temporary = target.with_name(f".{target.name}.part")
    if target.exists() and not target.is_file():
        target.write_bytes(data)
        return
    try:
        temporary.write_bytes(data)
        temporary.replace(target)
    except OSError:
        temporary.unlink(missing_ok=True)
        raise
