"""The groups that say where a sounding away from a fixed station was made.

The call sign of a ship or mobile station, the position to a tenth of a degree with its Marsden
square, and the elevation of a mobile land station.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from encoder.codes import elements as el
from encoder.codes.declare import Coded, Context, Fault, Figures, Group, Read
from encoder.codes.groups import fixed, indicator_faults
from encoder.codes.tables import code_table, meaning
from encoder.rounding import whole

if TYPE_CHECKING:
    from encoder.codes.declare import Value, Values

FOOT = 0.3048
"""One foot in metres, exact."""

# --- call sign --------------------------------------------------------------------------------

_RESERVED = r"NIL|NNNN|ZCZC|(?:EE|II|PP|QQ|TT|UU|XX)(?:AA|BB|CC|DD)"
"""Words that begin or end a message, and letters that open a part of a report."""
_SIGN = rf"(?!(?:{_RESERVED})$)[A-Z0-9]{{3,9}}"
_CALL_SIGN = re.compile(_SIGN)
"""Three characters or more, and none of the words that would be read as something else."""


def _encode_call_sign(values: Values, _context: Context) -> Coded:
    sign = values.get("call_sign")
    if isinstance(sign, str) and _CALL_SIGN.fullmatch(sign):
        return Coded(sign)
    if sign is None:
        words = "The call sign is missing."
    elif isinstance(sign, str) and re.fullmatch(_RESERVED, sign):
        words = f"{sign!r} cannot be a call sign: it begins or ends a report or a message."
    else:
        words = f"{sign!r} is no call sign of three to nine capitals and figures."
    return Coded("/////", (Fault("call-sign-unknown", words, "D....D"),))


def _decode_call_sign(text: str, _context: Context) -> Read:
    if text == "/////":
        return Read({"call_sign": None}, (Fault("call-sign-unknown", "The call sign is missing."),))
    return Read({"call_sign": text})


CALL_SIGN = Group(
    "D....D",
    "call sign",
    (Figures("D....D", 5, "call sign", lambda f, _v, _c: f"call sign {f}"),),
    ("call_sign",),
    _encode_call_sign,
    _decode_call_sign,
    look=re.compile(rf"{_SIGN}|/////"),
)

# --- 99LaLaLa QcLoLoLoLo MMMULaULo ------------------------------------------------------------


def quadrant_of(latitude: float, longitude: float) -> str:
    """Return Qc (code table 3333) of a position; on the lines between, north and east."""
    if latitude < 0.0:
        return "5" if longitude < 0.0 else "3"
    return "7" if longitude < 0.0 else "1"


def marsden_square(latitude: float, longitude: float) -> int:
    """Return the number of the Marsden square (code table 2590) of a position.

    Parameters
    ----------
    latitude, longitude : float
        Degrees, north and east positive.

    Returns
    -------
    int
        1 to 288 north of the equator, 300 to 623 south of it, 901 to 936 from 80 degrees north.

    Notes
    -----
    Squares of 10 degrees, counted westward from the meridian of Greenwich; a line between two
    squares belongs to the one farther from the equator and from Greenwich (ICOADS release 1,
    supplement G, gives the count and the rule; the numbers 300 and 901 are from memory and agree
    with reports from 0 to 40 degrees north only).
    """
    band = min(int(abs(latitude) // 10.0), 8)
    column = min(int(abs(longitude) // 10.0), 17)
    place = column if longitude < 0.0 else 35 - column
    if latitude < 0.0:
        return 300 + 36 * band + place
    return (901 if band == 8 else 1 + 36 * band) + place


def _tenths(value: Value) -> int | None:
    degrees = el.number(value)
    return None if degrees is None else whole(abs(degrees) * 10.0)


def marsden_figures(latitude: Value, longitude: Value, quadrant: Value) -> str | None:
    """Return MMMULaULo of a position as coded, None where it is not known."""
    north, east = _tenths(latitude), _tenths(longitude)
    if north is None or east is None or not isinstance(quadrant, str):
        return None
    southern, western = quadrant in "35", quadrant in "57"
    square = marsden_square(
        -1e-9 - north / 10.0 if southern else north / 10.0,
        -1e-9 - east / 10.0 if western else east / 10.0,
    )
    return f"{square:03d}{north // 10 % 10}{east // 10 % 10}"


def _position(values: Values) -> tuple[Value, Value, Value]:
    latitude, longitude = values.get("latitude"), values.get("longitude")
    quadrant = values.get("quadrant")
    north, east = el.number(latitude), el.number(longitude)
    if quadrant is None and north is not None and east is not None:
        quadrant = quadrant_of(north, east)
    return latitude, longitude, quadrant


def _encode_latitude(values: Values, _context: Context) -> Coded:
    tenths = _tenths(values.get("latitude"))
    if tenths is None:
        return Coded("99///", (Fault("position-unknown", "The latitude is not known."),))
    if tenths > 900:
        message = f"A latitude of {values.get('latitude')} degrees does not exist."
        return Coded("99///", (Fault("position-unknown", message),))
    return Coded(f"99{tenths:03d}")


def _decode_latitude(text: str, _context: Context) -> Read:
    wrong = indicator_faults(text, "99")
    if text[2:].isdigit() and int(text[2:]) <= 900:
        return Read({"latitude": int(text[2:]) / 10.0}, wrong)
    fault = Fault("position-unknown", f"Group {text} gives no latitude.", "000 to 900 tenths")
    return Read({"latitude": None}, (*wrong, fault))


LATITUDE = Group(
    "99LaLaLa",
    "latitude",
    (
        fixed("99", "99", "position follows"),
        Figures(
            "LaLaLa",
            3,
            "latitude in tenths of a degree",
            lambda _f, v, _c: f"latitude {v.get('latitude')} degrees, the side given next",
        ),
    ),
    ("latitude",),
    _encode_latitude,
    _decode_latitude,
    {"latitude": "0.1 degree"},
)


def _encode_longitude(values: Values, _context: Context) -> Coded:
    _latitude, longitude, quadrant = _position(values)
    tenths = _tenths(longitude)
    if tenths is None or tenths > 1800 or quadrant not in code_table("3333"):
        return Coded("/////", (Fault("position-unknown", "The longitude is not known."),))
    return Coded(f"{quadrant}{tenths:04d}")


def _decode_longitude(text: str, context: Context) -> Read:
    latitude = context.said.get("latitude")
    quadrant, figures = text[0], text[1:]
    known = quadrant in code_table("3333")
    faults: list[Fault] = []
    if not known:
        faults.append(
            Fault("position-unknown", f"Figure {quadrant} names no quadrant.", "1, 3, 5 or 7")
        )
    longitude = None
    if figures.isdigit() and int(figures) <= 1800 and known:
        longitude = int(figures) / 10.0
    elif known:
        faults.append(
            Fault("position-unknown", f"Group {text} gives no longitude.", "0000 to 1800 tenths")
        )
    if longitude is not None and quadrant in "57":
        longitude = 0.0 - longitude
    north = el.number(latitude)
    if north is not None and quadrant in "35":
        north = 0.0 - abs(north)
    values: dict[str, Value] = {
        "latitude": north if known else None,
        "longitude": longitude,
        "quadrant": quadrant if known else None,
    }
    return Read(values, tuple(faults))


LONGITUDE = Group(
    "QcLoLoLoLo",
    "quadrant and longitude",
    (
        Figures("Qc", 1, "quadrant", lambda f, _v, _c: f"quadrant: {meaning('3333', f)}", "3333"),
        Figures(
            "LoLoLoLo",
            4,
            "longitude in tenths of a degree",
            lambda _f, v, _c: f"longitude {v.get('longitude')} degrees",
        ),
    ),
    ("latitude", "longitude", "quadrant"),
    _encode_longitude,
    _decode_longitude,
    {"longitude": "0.1 degree"},
)


def _encode_marsden(values: Values, _context: Context) -> Coded:
    given = values.get("marsden")
    expected = marsden_figures(*_position(values))
    if given is None:
        return Coded(expected or "/////")
    if not isinstance(given, str) or len(given) != 5 or not set(given) <= set("0123456789/"):
        wrong = Fault("value-not-codable", f"{given!r} for the Marsden square.", "five figures")
        return Coded(expected or "/////", (wrong,))
    return Coded(given, _disagreement(given, expected))


def _decode_marsden(text: str, context: Context) -> Read:
    expected = marsden_figures(*_position(context.said))
    return Read({"marsden": text}, _disagreement(text, expected))


def _disagreement(figures: str, expected: str | None) -> tuple[Fault, ...]:
    if expected is None or figures in (expected, "/////"):
        return ()
    message = (
        f"The position lies in {expected} (square and units of the degrees), not in {figures}."
    )
    return (Fault("marsden-square", message, expected),)


MARSDEN = Group(
    "MMMULaULo",
    "Marsden square, a check of the position",
    (
        Figures(
            "MMM",
            3,
            "Marsden square",
            lambda f, _v, _c: f"Marsden square: {meaning('2590', f)}",
            "2590",
        ),
        Figures(
            "ULa", 1, "units of the latitude", lambda f, _v, _c: f"degrees latitude end in {f}"
        ),
        Figures(
            "ULo", 1, "units of the longitude", lambda f, _v, _c: f"degrees longitude end in {f}"
        ),
    ),
    ("marsden",),
    _encode_marsden,
    _decode_marsden,
)

# --- elevation h0h0h0h0im ---------------------------------------------------------------------


def _step(figure: str) -> float:
    """Return the unit that the figure im stands for, in m (code table 1845)."""
    return FOOT if figure in "5678" else 1.0


def _encode_elevation(values: Values, _context: Context) -> Coded:
    elevation, figure = el.number(values.get("elevation")), values.get("elevation_accuracy")
    if figure is None:
        figure = "/"
    if figure != "/" and figure not in code_table("1845"):
        wrong = Fault("value-not-codable", f"Figure {figure!r} for im.", "1 to 8")
        return Coded("/////", (wrong,))
    if elevation is None:
        return Coded(f"////{figure}")
    steps = whole(elevation / _step(str(figure)))
    if not 0 <= steps <= 9999:
        message = f"An elevation of {elevation:g} m cannot be coded; reported as missing."
        return Coded(f"////{figure}", (Fault("value-not-codable", message, "0 to 9999"),))
    return Coded(f"{steps:04d}{figure}")


def _decode_elevation(text: str, _context: Context) -> Read:
    figures, figure = text[:4], text[4]
    faults: list[Fault] = []
    known = figure in code_table("1845")
    if not known and figure != "/":
        faults.append(
            Fault("figures-impossible", f"Figure {figure} is not in code table 1845.", "1 to 8")
        )
    elevation = None
    if figures.isdigit():
        elevation = int(figures) * _step(figure)
    elif figures != "////":
        faults.append(
            Fault("figures-partly-missing", f"Figures {figures} give only part of an elevation.")
        )
    values: dict[str, Value] = {
        "elevation": elevation,
        "elevation_accuracy": figure if known else None,
    }
    return Read(values, tuple(faults))


ELEVATION = Group(
    "h0h0h0h0im",
    "elevation of the station",
    (
        Figures("h0h0h0h0", 4, "elevation", lambda _f, v, _c: f"elevation {v.get('elevation')} m"),
        Figures(
            "im", 1, "unit and accuracy", lambda f, _v, _c: f"given in {meaning('1845', f)}", "1845"
        ),
    ),
    ("elevation", "elevation_accuracy"),
    _encode_elevation,
    _decode_elevation,
    {"elevation": "1 m or 1 ft"},
)

POSITION = (LATITUDE, LONGITUDE, MARSDEN)
"""The three groups of a position, in order."""
