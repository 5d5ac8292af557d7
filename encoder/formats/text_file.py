"""Reading text files that may be anything: in bounded memory, with a plain word on each fault."""

from __future__ import annotations

import codecs
import os
from pathlib import Path
from typing import TYPE_CHECKING

from encoder.diagnostics import Diagnostic, Result, diagnostic

if TYPE_CHECKING:
    from collections.abc import Iterable

HEAD = 65536
"""Bytes looked at before the rest of a file is read."""

_WIDE_MARKS = (codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE, codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


def read_text(path: str | os.PathLike[str], *, most: int) -> Result[str | None]:
    """Return the text of a UTF-8 file, or the reason why there is none.

    No more than ``most`` bytes are ever held, and a file that is no text is left after its first
    65,536 bytes.

    Parameters
    ----------
    path : path-like
        The file.
    most : int
        Largest number of bytes accepted.

    Returns
    -------
    Result of str or None
        Text without byte order mark, with a line feed at the end of each line.
    """
    name = os.fspath(path)
    file = Path(path)
    try:
        if file.is_dir():
            return _refused("file-not-readable", f'"{name}" is a folder, not a file.', name)
        with file.open("rb") as stream:
            size = os.fstat(stream.fileno()).st_size
            head = stream.read(HEAD)
            fault = _not_text(head, name)
            if fault is None and size <= most:
                head += stream.read(most + 1 - len(head))
    except FileNotFoundError:
        return _refused("file-not-found", f'There is no file "{name}".', name)
    except (OSError, ValueError) as fault_of_system:
        return _refused(
            "file-not-readable", f'The file "{name}" cannot be read: {fault_of_system}.', name
        )
    if fault is not None:
        return Result(None, (fault,))
    if size > most or len(head) > most:
        length = f"{size:,} bytes" if size > most else f"more than {most:,} bytes"
        return _refused(
            "file-too-large",
            f'The file "{name}" has {length}; at most {most:,} are read.',
            name,
        )
    return decoded(head, name)


def decoded(data: bytes, name: str) -> Result[str | None]:
    """Return bytes as text, or the place where they stop being UTF-8.

    Parameters
    ----------
    data : bytes
        The content of a file.
    name : str
        Its name, for diagnostics.
    """
    fault = _not_text(data, name)
    if fault is not None:
        return Result(None, (fault,))
    found: tuple[Diagnostic, ...] = ()
    if data.startswith(codecs.BOM_UTF8):
        data = data[len(codecs.BOM_UTF8) :]
        found = (
            diagnostic(
                "byte-order-mark", "The file begins with a UTF-8 byte order mark.", file=name
            ),
        )
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as fault_of_text:
        line = data.count(b"\n", 0, fault_of_text.start) + 1
        column = fault_of_text.start - data.rfind(b"\n", 0, fault_of_text.start)
        byte = data[fault_of_text.start]
        return Result(
            None,
            (
                *found,
                diagnostic(
                    "encoding-not-utf-8",
                    f"Expected UTF-8 text, found the byte 0x{byte:02X} at line {line}, "
                    f"column {column}.",
                    file=name,
                    line=line,
                    value=f"0x{byte:02X}",
                    expected="UTF-8",
                ),
            ),
        )
    return Result(text.replace("\r\n", "\n").replace("\r", "\n"), found)


def write_text(path: str | os.PathLike[str], text: str) -> None:
    """Write a UTF-8 file under a temporary name beside it, then give it its name.

    A device or a pipe is written to as it is: it must not be replaced by a file.

    Raises
    ------
    OSError
        If the folder cannot be written to; nothing is left behind then.
    """
    write_pieces(path, (text,))


def write_pieces(path: str | os.PathLike[str], pieces: Iterable[str]) -> None:
    """Write a text that comes piece by piece; see :func:`write_text`.

    Nothing is left behind either where the pieces end with an exception.
    """
    target = Path(path)
    if target.exists() and not target.is_file():
        with target.open("w", encoding="utf-8", newline="\n") as stream:
            stream.writelines(pieces)
        return
    temporary = target.with_name(f".{target.name}.part")
    try:
        with temporary.open("w", encoding="utf-8", newline="\n") as stream:
            stream.writelines(pieces)
        temporary.replace(target)
    finally:
        temporary.unlink(missing_ok=True)


def _not_text(data: bytes, name: str) -> Diagnostic | None:
    """Return the diagnostic for bytes that cannot be UTF-8 text at all."""
    if data.startswith(_WIDE_MARKS):
        return diagnostic(
            "encoding-not-utf-8",
            "Expected UTF-8 text, found the byte order mark of UTF-16 or UTF-32.",
            file=name,
            line=1,
            expected="UTF-8",
        )
    place = data.find(b"\0")
    if place >= 0:
        return diagnostic(
            "file-not-text",
            f"Expected text, found a zero byte at byte {place + 1}: this is a binary file.",
            file=name,
            expected="UTF-8 text",
        )
    return None


def _refused(code: str, message: str, name: str) -> Result[str | None]:
    return Result(None, (diagnostic(code, message, file=name),))
