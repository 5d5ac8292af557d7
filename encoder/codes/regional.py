"""Groups of regional agreement: what is known of them, as records of the same engine.

Sections for regional groups are kept as received; this module reads what it knows in them and gives
the rest back verbatim, so that writing what was read gives every group again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from encoder.codes import elements as el
from encoder.codes.content import Record
from encoder.codes.declare import Coded, Context, Fault, Figures, Group, Read, RecordForm, Use
from encoder.codes.fm35 import LOWER_STANDARD, begins
from encoder.codes.groups import STANDARD_LEVEL, WIND, fixed, indicator_faults, say_pressure
from encoder.codes.tables import code_table, meaning
from encoder.rounding import whole

if TYPE_CHECKING:
    from collections.abc import Sequence

    from encoder.codes.declare import Value, Values
    from encoder.resolution import WindUnit

_ANNEX = "WMO-No. 306 Volume I.2, B/C25 annex I"
TENS = 10.0

# --- 101AdfAdf --------------------------------------------------------------------------------


def _encode_code(values: Values, _context: Context) -> Coded:
    code = str(values.get("additional"))
    if code in code_table("0421"):
        return Coded(f"101{code}")
    return Coded("101//", (Fault("value-not-codable", f"{code} is not in code table 0421."),))


def _decode_code(text: str, _context: Context) -> Read:
    if text[3:] not in code_table("0421"):
        fault = Fault("figures-impossible", f"Figures {text[3:]} are not in code table 0421.")
        return Read({"additional": None}, (fault,))
    return Read({"additional": text[3:]}, indicator_faults(text, "101"))


ADDITIONAL = Group(
    "101AdfAdf",
    "additional information",
    (
        fixed("101", "101", "additional information"),
        Figures("AdfAdf", 2, "what follows", lambda f, _v, _c: meaning("0421", f), "0421"),
    ),
    ("additional",),
    _encode_code,
    _decode_code,
    source="WMO-No. 306 Volume II, Region IV",
)

# --- 000IsIs ----------------------------------------------------------------------------------

HIGHEST_INDEX = 40
NEGATIVE_INDEX = 50
"""Added to the size of a negative index."""
NO_INDEX = 91
"""Figures from here on give a reason why there is none."""


def _encode_index(values: Values, _context: Context) -> Coded:
    index, reason = el.number(values.get("stability_index")), values.get("no_index")
    if index is None:
        return Coded(f"000{reason or NO_INDEX}")
    steps = whole(index)
    if -HIGHEST_INDEX <= steps <= HIGHEST_INDEX:
        return Coded(f"000{steps if steps >= 0 else NEGATIVE_INDEX - steps:02d}")
    message = f"A stability index of {index:g} cannot be coded; reported as not computed."
    return Coded(f"000{NO_INDEX}", (Fault("value-not-codable", message, "-40 to 40"),))


def _decode_index(text: str, _context: Context) -> Read:
    values: dict[str, Value] = {"stability_index": None, "no_index": None}
    if not text[3:].isdigit() or text[:3] != "000":
        return Read(values, (Fault("figures-impossible", f"Group {text} is no index.", "000IsIs"),))
    figures = int(text[3:])
    if figures >= NO_INDEX:
        values["no_index"] = text[3:]
    elif figures <= HIGHEST_INDEX:
        values["stability_index"] = float(figures)
    elif figures > NEGATIVE_INDEX:
        values["stability_index"] = float(NEGATIVE_INDEX - figures)
    else:
        fault = Fault("figures-impossible", f"Figures {text[3:]} are no index.", "00-40, 51-99")
        return Read(values, (fault,))
    return Read(values)


def _say_index(_figures: str, values: Values, _context: Context) -> str:
    index = values.get("stability_index")
    return "no stability index" if index is None else f"stability index {index} K"


INDEX = Group(
    "000IsIs",
    "stability index",
    (
        fixed("000", "000", "not used"),
        Figures("IsIs", 2, "50 added where negative, 91 and more for none", _say_index),
    ),
    ("stability_index", "no_index"),
    _encode_index,
    _decode_index,
    {"stability_index": "1 K"},
    _ANNEX,
)

# --- 0P1P1P2P2 --------------------------------------------------------------------------------


def _tens_of(pressure: Value) -> str:
    value = el.number(pressure)
    return "//" if value is None else f"{whole(value / TENS) % 100:02d}"


def _encode_layer(values: Values, _context: Context) -> Coded:
    return Coded(f"0{_tens_of(values.get('layer_bottom'))}{_tens_of(values.get('layer_top'))}")


def _decode_layer(text: str, _context: Context) -> Read:
    values: dict[str, Value] = {"layer_bottom": None, "layer_top": None}
    if text[0] != "0" or not text.isdigit():
        fault = Fault("figures-impossible", f"Group {text} is no layer.", "0P1P1P2P2")
        return Read(values, (fault,))
    for name, figures in (("layer_bottom", text[1:3]), ("layer_top", text[3:])):
        values[name] = TENS * (int(figures) or 100)
    return Read(values)


LAYER = Group(
    "0P1P1P2P2",
    "layer",
    (
        fixed("0", "0", "not used"),
        Figures("P1P1", 2, "bottom", lambda _f, v, _c: f"from {v.get('layer_bottom'):g} hPa"),
        Figures("P2P2", 2, "top", lambda _f, v, _c: f"to {v.get('layer_top'):g} hPa"),
    ),
    ("layer_bottom", "layer_top"),
    _encode_layer,
    _decode_layer,
    {"layer_bottom": "10 hPa"},
    _ANNEX,
)

# --- mean winds -------------------------------------------------------------------------------


def _mean_wind(layer: str, words: str) -> Group:
    names = (f"{layer}_wind_from_direction", f"{layer}_wind_speed")
    usual = dict(zip(names, WIND.elements, strict=True))

    def encode(values: Values, context: Context) -> Coded:
        return WIND.encode({own: values.get(name) for name, own in usual.items()}, context)

    def decode(text: str, context: Context) -> Read:
        read = WIND.decode(text, context)
        return Read({name: read.values[own] for name, own in usual.items()}, read.faults)

    def say(figures: str, _values: Values, context: Context) -> str:
        read = WIND.decode(figures, context)
        sentences = (piece.say for piece in WIND.figures)
        parts = (figures[:2], figures[2:])
        said = (one(part, read.values, context) for one, part in zip(sentences, parts, strict=True))
        return f"mean {words}: {', '.join(said)}"

    return Group(
        "ddfff",
        f"mean wind {words}",
        (Figures("ddfff", 5, f"mean wind {words}", say),),
        names,
        encode,
        decode,
        source=_ANNEX,
    )


LOWER_WIND = _mean_wind("lower", "from the surface to 5000 ft")
UPPER_WIND = _mean_wind("upper", "from 5000 to 10000 ft")

# --- Region VI extra winds --------------------------------------------------------------------

EXTRA_NUMBERS = {"11": None, "22": 800.0, "33": 600.0}
"""Figures with the pressure they stand for in hPa; 11 is 900 or 1000 m above the ground (B/C25
10.6.2; two reports of stations 02963 and one other agree with 1000 m)."""


def _encode_extra(values: Values, context: Context) -> Coded:
    figures, faults = el.pressure_to_figures(values.get("air_pressure"), context)
    return Coded(str(values.get("extra_number")) + figures, faults)


def _decode_extra(text: str, context: Context) -> Read:
    pressure, faults = el.figures_to_pressure(text[2:], context)
    wrong = indicator_faults(text, *EXTRA_NUMBERS)
    stands_for = EXTRA_NUMBERS.get(text[:2])
    if stands_for is not None and pressure != stands_for:
        message = f"Group {text} gives {pressure} hPa; {text[:2]} stands for {stands_for:g} hPa."
        wrong = (*wrong, Fault("figures-impossible", message, f"{text[:2]}{stands_for:.0f}"))
    return Read({"extra_number": text[:2], "air_pressure": pressure}, (*wrong, *faults))


def _say_extra(figures: str, _values: Values, _context: Context) -> str:
    pressure = EXTRA_NUMBERS.get(figures)
    place = "900 or 1000 m above the ground" if pressure is None else f"{pressure:g} hPa"
    return f"extra wind of Regions I and VI: at {place}"


EXTRA_PRESSURE = Group(
    "nnPPP",
    "level of an extra wind",
    (
        Figures("nn", 2, "11, 22 or 33", _say_extra),
        Figures("PPP", 3, "air pressure", say_pressure),
    ),
    ("extra_number", "air_pressure"),
    _encode_extra,
    _decode_extra,
    {"air_pressure": "1 hPa"},
    "WMO-No. 306 Volume I.2, B/C25 10.6.2",
)

# --- tables by region -------------------------------------------------------------------------


def _additional(kind: str, code: str, *arguments: Group) -> RecordForm:
    uses = (Use(ADDITIONAL), *(Use(group) for group in arguments))
    return RecordForm(kind, uses, opens=begins(f"101{code}"), repeated=True)


REGION_IV = (
    _additional("stability-index", "64", INDEX),
    _additional("doubtful-geopotential", "66", LAYER),
    _additional("doubtful-temperature", "67", LAYER),
    _additional("doubtful-humidity", "68", LAYER),
    _additional("extrapolated-height", "90", STANDARD_LEVEL),
    _additional("mean-winds", "94", LOWER_WIND, UPPER_WIND),
    _additional("additional", ""),
)
"""Region IV: table 0421 with its arguments; a code without a line of its own has none."""
EXTRA_WINDS = (
    RecordForm(
        "extra-wind", (Use(EXTRA_PRESSURE), Use(WIND)), opens=begins(*EXTRA_NUMBERS), repeated=True
    ),
)
"""Regions I and VI."""
REGIONS: dict[int, tuple[RecordForm, ...]] = {1: EXTRA_WINDS, 4: REGION_IV, 6: EXTRA_WINDS}
"""Records of section 9 by WMO Region."""


def forms_of_region(region: int | None) -> tuple[RecordForm, ...]:
    """Return the records of a WMO Region; those of every region where it is not known."""
    return REGIONS.get(region, ()) if region is not None else (*REGION_IV, *EXTRA_WINDS)


def _context(wind_unit: WindUnit) -> Context:
    return Context(wind_unit=wind_unit, standard=LOWER_STANDARD)


def read_regional(
    groups: str, *, wind_unit: WindUnit = "kt", region: int | None = None
) -> tuple[Record, ...]:
    """Read the groups of a regional section.

    Parameters
    ----------
    groups : str
        The section as received, from its marker on.
    wind_unit : {"kt", "m s-1"}
        From the time group of the report.
    region : int, optional
        WMO Region; all that is known is tried where it is not given.

    Returns
    -------
    tuple of Record
        In the order of the groups. What is not known, or damaged, is a record ``"verbatim"`` of
        one group. :func:`write_regional` gives the groups again.
    """
    words = groups.split()
    context = _context(wind_unit)
    forms = forms_of_region(region)
    records: list[Record] = []
    place = 0
    while place < len(words):
        for form in forms:
            record = _read_record(form, words[place : place + len(form.uses)], context)
            if record is not None:
                records.append(record)
                place += len(form.uses)
                break
        else:
            records.append(Record("verbatim", {"groups": words[place]}))
            place += 1
    return tuple(records)


def _read_record(form: RecordForm, words: Sequence[str], context: Context) -> Record | None:
    """Return the record the words are, None where they are not exactly one."""
    if len(words) != len(form.uses) or form.opens is None or not form.opens(words[0], context):
        return None
    values: dict[str, Value] = {}
    for use, word in zip(form.uses, words, strict=True):
        if not use.group.fits(word):
            return None
        read = use.group.decode(word, context)
        if read.faults:
            return None
        values.update(read.values)
    record = Record(form.kind, values)
    again = [use.group.encode(record.values, context).text for use in form.uses]
    return record if again == list(words) else None


def write_regional(
    records: Sequence[Record], *, wind_unit: WindUnit = "kt"
) -> tuple[str, tuple[Fault, ...]]:
    """Return the groups of regional records, and what could not be coded.

    Parameters
    ----------
    records : sequence of Record
        As :func:`read_regional` gives them.
    wind_unit : {"kt", "m s-1"}
    """
    context = _context(wind_unit)
    forms = {form.kind: form for form in (*REGION_IV, *EXTRA_WINDS)}
    words: list[str] = []
    faults: list[Fault] = []
    for record in records:
        if record.kind == "verbatim":
            words.append(str(record.get("groups")))
            continue
        for use in forms[record.kind].uses:
            coded = use.group.encode(record.values, context)
            words.append(coded.text)
            faults.extend(coded.faults)
    return " ".join(words), tuple(faults)
