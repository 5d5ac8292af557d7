"""The derived files of IGRA version 2 (``STATION-drvd.txt``): what was observed, out of them.

Most of their columns are computed from the others by the archive: potential temperatures, vapour
pressures, gradients, indices. Here the columns are read that match those of the sounding data:
pressure, reported height, temperature, reported humidity and the wind by its components.

Source: the column description of the derived files (National Centers for Environmental
Information, IGRA v2), level fields of seven columns, one blank after each; checked against a real
file in which header lines have 157 and level lines 151 columns.
"""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from encoder.diagnostics import Diagnostic, diagnostic
from encoder.formats.igra.layout import NO_HOUR

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

HEADER_WIDTH, LEVEL_WIDTH = 157, 151
WIDTH, STEP, FIELDS = 7, 8, 19
"""Columns of a level field, columns from one to the next, and how many there are."""
MISSING = -99999
PLACES = {
    "pressure": 0,
    "height": 1,
    "calculated_height": 2,
    "temperature": 3,
    "humidity": 11,
    "east": 14,
    "north": 16,
}
"""Fields that are read, by place: Pa, m, m, 0.1 K, 0.1 %, 0.1 m s-1."""
_HEADER = re.compile(
    rb"#([0-9A-Za-z]{11}) (\d{4}) (\d\d) (\d\d) (\d\d) (\d{4})([ \d]{4}\d)( [ \d-]{119,120}) *\r?"
)


class DerivedSounding(NamedTuple):
    """One sounding of a derived file.

    Attributes
    ----------
    station : str
        Identifier of eleven characters.
    date : tuple of int
        Year, month, day, hour (99 unknown), release as HHMM (9999 unknown).
    announced : int
        Number of levels the header gives.
    levels : mapping of str to ndarray of float, shape (level,)
        By :data:`PLACES`, in hPa, m, degC, %, m s-1; missing values are NaN.
    offset, data
        First byte and bytes of the sounding.
    diagnostics : tuple of Diagnostic
        Why it cannot be taken, else empty; then there are no levels.
    """

    station: str
    date: tuple[int, int, int, int, int]
    announced: int
    levels: dict[str, NDArray[np.float64]]
    offset: int
    data: bytes
    diagnostics: tuple[Diagnostic, ...] = ()


def is_derived(head: bytes) -> bool:
    """Tell whether the first bytes of a file are a header line of a derived file."""
    line = head.lstrip(b"\r\n").split(b"\n")[0]
    return len(line.rstrip()) <= HEADER_WIDTH and _HEADER.fullmatch(line) is not None


def read_derived(data: bytes, *, file: str | None = None) -> Iterator[DerivedSounding]:
    """Yield the soundings of a derived file; their bytes together are all bytes of it.

    Text before the first header comes as a sounding without a station and with a diagnostic.
    """
    begins = [match.start() + 1 for match in re.finditer(rb"\n#", data)]
    if data[:1] == b"#" or not begins or begins[0] > 0:
        begins.insert(0, 0)
    for begin, end in zip(begins, [*begins[1:], len(data)], strict=True):
        if end > begin:
            yield _sounding(data[begin:end], begin, file)


def _sounding(data: bytes, offset: int, file: str | None) -> DerivedSounding:
    lines = data.split(b"\n")
    header = _HEADER.fullmatch(lines[0])
    if header is None:
        return _refused(data, offset, 1, file)
    body = [(number, line) for number, line in enumerate(lines[1:], 2) if line.strip(b" \r\0")]
    for number, line in body:
        if len(line.rstrip(b" \r")) != LEVEL_WIDTH:
            return _refused(data, offset, number, file)
    table = np.frombuffer(b"".join(line[:LEVEL_WIDTH] + b" " for _n, line in body), np.uint8)
    fields = table.reshape(-1, FIELDS, STEP)
    if not _well_formed(fields):
        wrong = next(
            number
            for number, line in body
            if not _well_formed(
                np.frombuffer(line[:LEVEL_WIDTH] + b" ", np.uint8).reshape(1, -1, 8)
            )
        )
        return _refused(data, offset, wrong, file)
    figures = np.ascontiguousarray(fields[:, :, :WIDTH]).view(f"S{WIDTH}").reshape(-1, FIELDS)
    values = figures.astype(np.int64).astype(np.float64)
    values[values == MISSING] = np.nan
    own = {name: values[:, place] for name, place in PLACES.items()}
    year, month, day, hour, release = (int(header.group(place)) for place in range(2, 7))
    if not _is_date(year, month, day) or (hour > 23 and hour != NO_HOUR):
        return _refused(data, offset, 1, file)
    return DerivedSounding(
        header.group(1).decode("ascii"),
        (year, month, day, hour, release),
        int(header.group(7)),
        {
            "pressure": own["pressure"] / 100.0,
            "height": own["height"],
            "calculated_height": own["calculated_height"],
            "temperature": own["temperature"] / 10.0 - 273.15,
            "humidity": own["humidity"] / 10.0,
            "east": own["east"] / 10.0,
            "north": own["north"] / 10.0,
        },
        offset,
        data,
    )


def _is_date(year: int, month: int, day: int) -> bool:
    try:
        date(year, month, day)
    except ValueError:
        return False
    return True


def _well_formed(fields: NDArray[np.uint8]) -> bool:
    """Tell whether every field is a right-justified whole number and a blank."""
    figure = (fields >= 48) & (fields <= 57)
    blank = fields == 32
    inner = fields[:, :, :WIDTH]
    digit, space, minus = figure[:, :, :WIDTH], blank[:, :, :WIDTH], inner == 45
    after = space[:, :, :-1] | digit[:, :, 1:]  # after a sign or figure comes a figure
    return bool(
        blank[:, :, WIDTH].all()
        and (digit | space | minus).all()
        and digit[:, :, -1].all()
        and after.all()
    )


def _refused(data: bytes, offset: int, line: int, file: str | None) -> DerivedSounding:
    row = data.split(b"\n")[line - 1]
    found = diagnostic(
        "igra-line-malformed",
        f"Line {line} of the derived sounding at byte {offset} is not of the layout.",
        file=file,
        span=(offset, offset + len(data)),
        value=row[:80].decode("ascii", "backslashreplace"),
        expected="a header of 157 or a level of 151 columns",
    )
    return DerivedSounding("", (0, 0, 0, 0, 0), 0, {}, offset, data, (found,))
