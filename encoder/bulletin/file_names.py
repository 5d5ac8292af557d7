"""Names of the files that bulletins travel in, and the dates that names give."""

from __future__ import annotations

import re
from calendar import monthrange
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

from encoder.bulletin.heading import Heading, compose_heading, parse_heading
from encoder.diagnostics import Result, diagnostic

if TYPE_CHECKING:
    from typing import Literal

SOURCE = "WMO-No. 386, Attachment II-15"
LONGEST_NAME = 128
"""Characters (from memory)."""

IDENTIFIER_KINDS: dict[str, str] = {
    "A": "abbreviated heading",
    "T": "data designators",
    "W": "WMO product identifier",
    "Z": "product identifier of the originating centre",
}
"""pflag: how the product identifier is to be read."""

COMPRESSIONS = ("Z", "zip", "gz", "bz2")
"""From memory."""


@dataclass(frozen=True, slots=True)
class FileName:
    """A name of the general file naming convention.

    Attributes
    ----------
    kind : str
        pflag, a key of :data:`IDENTIFIER_KINDS`.
    product : str
        Product identifier.
    originator : str
        CCCC of the originating centre.
    time : str
        yyyyMMddhhmmss of the making of the file (UTC); unknown elements are ``-``.
    free : str
        Free format, may be empty.
    type : str
        txt, bin and others.
    compression : str
        "" where not compressed.
    """

    kind: str
    product: str
    originator: str
    time: str
    free: str = ""
    type: str = "txt"
    compression: str = ""

    @property
    def heading(self) -> Heading | None:
        """The abbreviated heading in the product identifier, None where it has none."""
        match = re.fullmatch(
            r"([A-Z]{4}[0-9]{2})([A-Z]{4})([0-9]{6})([A-Z]{3})?", self.product.upper()
        )
        if self.kind != "A" or match is None:
            return None
        return parse_heading(" ".join(part for part in match.groups() if part)).value


@dataclass(frozen=True, slots=True)
class _Field:
    name: str
    pattern: str
    before: str = "_"
    optional: bool = field(default=False)


# pflag_productidentifier_oflag_originator_yyyyMMddhhmmss[_freeformat].type[.compression]
_FIELDS = (
    _Field("kind", "[ATWZ]", ""),
    _Field("product", "[A-Za-z0-9,+-]*"),
    _Field("originator", "[A-Za-z0-9-]{4}", "_C_"),
    _Field("time", "[0-9-]{14}"),
    _Field("free", "[A-Za-z0-9_+,-]+", optional=True),
    _Field("type", "[A-Za-z0-9]{1,8}", "."),
    _Field("compression", "|".join(COMPRESSIONS), ".", optional=True),
)
_PATTERN = re.compile(
    "".join(
        f"(?:{re.escape(item.before)}(?P<{item.name}>{item.pattern}))"
        + ("?" if item.optional else "")
        for item in _FIELDS
    )
)


def compose_file_name(name: FileName) -> str:
    """Return a file name.

    Parameters
    ----------
    name : FileName

    Raises
    ------
    ValueError
        If an element does not have the form that its place demands, or the name is too long.
    """
    text = ""
    for item in _FIELDS:
        value = getattr(name, item.name)
        if item.optional and not value:
            continue
        if re.fullmatch(item.pattern, value) is None:
            msg = f"The file name's {item.name} is {value!r}; expected the form {item.pattern}."
            raise ValueError(msg)
        text += item.before + value
    if len(text) > LONGEST_NAME:
        msg = f"The file name has {len(text)} characters, at most {LONGEST_NAME} are allowed."
        raise ValueError(msg)
    return text


def parse_file_name(text: str) -> Result[FileName | None]:
    """Read a name of the general file naming convention.

    Parameters
    ----------
    text : str
        The name without folder.

    Returns
    -------
    Result of FileName or None
        None with "file-name-malformed" where the name follows another pattern.
    """
    match = _PATTERN.fullmatch(text)
    if match is None:
        return Result(
            None,
            (
                diagnostic(
                    "file-name-malformed",
                    f"The name {text!r} does not follow the general file naming convention.",
                    value=text,
                    expected="A_USXX01XNOR090000_C_XNOR_20310709003000.txt",
                ),
            ),
        )
    return Result(FileName(**match.groupdict(default="")))


def bulletin_file_name(heading: Heading, made: datetime, *, binary: bool = False) -> str:
    """Return the name of a file that holds one bulletin.

    Parameters
    ----------
    heading : Heading
    made : datetime
        When the file is made (UTC); the caller knows, the package reads no clock.
    binary : bool
        Type bin instead of txt.

    Raises
    ------
    ValueError
        If the heading has an element of the wrong form.
    """
    product = compose_heading(heading).replace(" ", "")
    time = made.strftime("%Y%m%d%H%M%S")
    return compose_file_name(
        FileName("A", product, heading.centre, time, type="bin" if binary else "txt")
    )


_BATCH_ENDINGS = {"alphanumeric": "a", "binary": "b", "fax": "f"}


def batch_file_name(
    centre: str,
    number: int,
    content: Literal["alphanumeric", "binary", "fax"] = "alphanumeric",
    *,
    urgent: bool = False,
) -> str:
    """Return the name CCCCNNNNNNNN.ext of a batch file.

    Parameters
    ----------
    centre : str
        CCCC of the sending centre.
    number : int
        Number in the sequence of that kind of files, 0 (to begin again) to 99,999,999.
    content : {"alphanumeric", "binary", "fax"}
        Binary also for mixed content.
    urgent : bool

    Raises
    ------
    ValueError
        If the centre has not four letters, or the number does not fit.

    Notes
    -----
    WMO-No. 386, Attachment II-15.
    """
    if re.fullmatch("[A-Z]{4}", centre) is None or not 0 <= number <= 99_999_999:
        msg = f"Expected four letters and a number of eight figures, got {centre!r}, {number}."
        raise ValueError(msg)
    return f"{centre}{number:08d}.{'u' if urgent else ''}{_BATCH_ENDINGS[content]}"


_DATE_IN_NAME = re.compile(
    r"(?<![0-9])((?:19|20)[0-9]{2})([-_.]?)(0[1-9]|1[0-2])(?:\2(0[1-9]|[12][0-9]|3[01]))?"
    r"(?:[T_-]?[0-9]{2}|[T_-]?[0-9]{4}|[T_-]?[0-9]{6})?Z?(?![0-9])"
)


def date_in_name(name: str) -> tuple[int, int, int | None] | None:
    """Return year, month and day (None if it has none) that a file name gives, None if it has none.

    Parameters
    ----------
    name : str
        Name without folder: of the general file naming convention, or with a date such as 20310709,
        2031-07-09, 203107 or 2031070900 in it, which is common practice without a source.
    """
    general = parse_file_name(name).value
    if general is not None and general.time[:6].isdigit():
        year, month = int(general.time[:4]), int(general.time[4:6])
        day = int(general.time[6:8]) if general.time[6:8].isdigit() else None
        if (
            year > 0
            and 1 <= month <= 12
            and (day is None or 1 <= day <= monthrange(year, month)[1])
        ):
            return year, month, day
    for match in _DATE_IN_NAME.finditer(name):
        year, month = int(match.group(1)), int(match.group(3))
        day = int(match.group(4)) if match.group(4) else None
        if day is None or day <= monthrange(year, month)[1]:
            return year, month, day
    return None
