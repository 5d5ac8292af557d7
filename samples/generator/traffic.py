"""Flights and reports of the other kinds: ship, mobile, drop, winds, early, a month.

They are thinned flights of the invented scenario, so that they stay small: rows every 10 seconds,
20 in the soundings of the month.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from encoder.rounding import round_half_away
from samples.generator.atmosphere import build_atmosphere
from samples.generator.balloon import drop_down
from samples.generator.climates import random_specification
from samples.generator.files import write_flight
from samples.generator.flight import SampleFlight, document_of, make_flight
from samples.generator.norreland import HARROW_TARN, SALTMERE_POINT
from samples.generator.sensors import measure
from samples.generator.specification import Place

if TYPE_CHECKING:
    from pathlib import Path

    from samples.generator.specification import FlightSpec

_SPACING = 10.0
_MONTH_SPACING = 20.0
MONTH = (2031, 6)
"""Year and month of the soundings for the monthly means."""
_MISSED = frozenset({(11, 0), (19, 12)})
"""Day and hour without sounding."""


def _told(flight: SampleFlight, station: dict[str, Any]) -> SampleFlight:
    """Return a flight of a place that is no land station with a number."""
    kept = {
        name: value
        for name, value in flight.document["station"].items()
        if name not in ("wmo_index", "wigos_id")
    }
    return flight._replace(document={**flight.document, "station": {**kept, **station}})


def _at(spec: FlightSpec, place: Place, seed: int, release: datetime) -> FlightSpec:
    nominal = release.replace(minute=0) + timedelta(hours=1)
    return replace(
        spec,
        place=place,
        seed=seed,
        release_time=release,
        nominal_time=nominal,
        spacing=_SPACING,
        gaps=(),
        descent_seconds=0.0,
    )


def ship() -> SampleFlight:
    """Return a sounding of the research vessel Calder Wren."""
    place = Place("Calder Wren", "90999", 55.12, -22.47, 8.0)
    release = datetime(2031, 1, 18, 11, 25, tzinfo=UTC)
    flight = make_flight(_at(SALTMERE_POINT, place, 7007, release))
    told = _told(flight, {"platform": "ship", "call_sign": "QCW07"})
    surface = {**told.document["surface"], "sea_temperature_degc": 6.4}
    return told._replace(document={**told.document, "surface": surface})


def mobile() -> SampleFlight:
    """Return a sounding of the mobile unit at Kestrel Basin."""
    place = Place("Kestrel Basin", "90998", 54.86, -19.33, 412.0)
    release = datetime(2031, 7, 10, 11, 28, tzinfo=UTC)
    flight = make_flight(_at(HARROW_TARN, place, 7008, release))
    facts = {"platform": "mobile", "call_sign": "NMU3", "elevation_quality": 3}
    return _told(flight, facts)


def drop() -> SampleFlight:
    """Return a drop from the survey aircraft: a sonde that falls from 300 hPa into the sea.

    Time runs forward and pressure rises; the station is the aircraft at the release, the surface
    observation that of the sea where the sonde fell in.
    """
    place = Place("Norreland survey aircraft", "90997", 54.31, -21.66, 0.0)
    release = datetime(2031, 1, 18, 13, 20, tzinfo=UTC)
    spec = replace(_at(SALTMERE_POINT, place, 7009, release), spacing=2.0)
    atmosphere = build_atmosphere(spec)
    way = drop_down(spec, atmosphere, 302.0)
    columns = measure(spec, atmosphere, way)
    landed = release + timedelta(seconds=float(round_half_away(way.burst_time)))
    latitude, longitude = columns["latitude"], columns["longitude"]
    flight = _told(
        SampleFlight(document_of(spec, atmosphere), columns),
        {"platform": "drop", "call_sign": "NRA2"},
    )
    document = {
        name: value
        for name, value in flight.document.items()
        if name not in ("balloon", "termination", "remarks")
    }
    document["surface"] = {**document["surface"], "cloud": None}
    document["instrument"] = {**document["instrument"], "radiosonde_type": 96}
    document["drop"] = {
        "mission": "0118A",
        "storm": "SURVEY",
        "observation": 3,
        "splash_time": landed.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "splash_latitude": round_half_away(float(2.0 * latitude[-1] - latitude[-2]), 0.001),
        "splash_longitude": round_half_away(float(2.0 * longitude[-1] - longitude[-2]), 0.001),
        "release_height_m": round_half_away(float(way.height[0]), 10.0),
    }
    document["remarks"] = ["Released from 302 hPa; the sonde reported until it fell into the sea."]
    return SampleFlight(document, columns)


_OF_A_PILOT_BALLOON = ("time", "geopotential_height", "wind_from_direction", "wind_speed")


def winds() -> SampleFlight:
    """Return the ascent of a pilot balloon at Harrow Tarn at 18 UTC, followed by radar.

    Time, height and wind are all there is: no pressure and no temperature, at the surface either.
    """
    release = datetime(2031, 7, 10, 17, 32, tzinfo=UTC)
    spec = _at(HARROW_TARN, HARROW_TARN.place, 7010, release)
    flight = make_flight(replace(spec, burst_pressure=8.5))
    wanted = ("wind_from_direction_degree", "wind_speed_m_s")
    document = {
        name: value
        for name, value in flight.document.items()
        if name not in ("instrument", "balloon", "termination")
    }
    document["surface"] = {name: document["surface"][name] for name in wanted}
    document["winds_alone"] = True
    document["instrument"] = {"radiosonde_type": 2, "tracking": 3, "wind_equipment": "3"}
    document["balloon"] = {"type": "pilot balloon with reflector", "mass_g": 350, "gas": "helium"}
    document["termination"] = {"reason": "burst", "text": "Balloon burst above 32 km."}
    document["remarks"] = ["Clear evening; the target was followed by radar to the burst."]
    return SampleFlight(document, {name: flight.columns[name] for name in _OF_A_PILOT_BALLOON})


def rising() -> SampleFlight:
    """Return a flight that has passed 100 hPa and still rises: the rows received so far."""
    release = datetime(2031, 7, 11, 11, 27, tzinfo=UTC)
    spec = _at(HARROW_TARN, HARROW_TARN.place, 7011, release)
    flight = make_flight(replace(spec, burst_pressure=88.0))
    kept = {name: value for name, value in flight.document.items() if name != "termination"}
    return flight._replace(document=kept)


OTHERS = {
    "calder-wren": ship,
    "kestrel-basin": mobile,
    "survey-drop": drop,
    "harrow-tarn-winds": winds,
    "harrow-tarn-rising": rising,
}
"""Flights of the other forms by the name of their folder."""


def month_text() -> str:
    """Return the reports of a month at Harrow Tarn, parts A and C, at 00 and 12 UTC."""
    import tempfile
    from pathlib import Path

    from encoder.formats.flight_folder import read_flight
    from encoder.levels import select_levels
    from encoder.report import encode_report

    year, month = MONTH
    text = ""
    first = datetime(year, month, 1, tzinfo=UTC)
    with tempfile.TemporaryDirectory() as scratch:
        for turn in range(60):
            nominal = first + timedelta(hours=12 * turn)
            if (nominal.day, nominal.hour) in _MISSED:
                continue
            spec = random_specification(
                31_000 + turn,
                climate="mid-latitude summer",
                elevation=HARROW_TARN.place.elevation,
                burst_pressure=11.0,
                spacing=_MONTH_SPACING,
            )
            spec = replace(
                spec,
                place=HARROW_TARN.place,
                nominal_time=nominal,
                release_time=nominal - timedelta(minutes=35),
            )
            write_flight(make_flight(spec), Path(scratch) / "flight")
            flight = read_flight(Path(scratch) / "flight").raise_for_errors()
            levels = select_levels(flight).value
            text += encode_report(flight, levels, letters=("A", "C")).value.text
    return text


def early_text() -> str:
    """Return the early bulletins of the flight that still rises."""
    return _bulletins(rising(), early=True)


def corrected_text() -> str:
    """Return what was sent for the ship at first, with a wrong temperature, and then CCA."""
    return _bulletins(ship(), early=False)


def _bulletins(sample: SampleFlight, *, early: bool) -> str:
    import tempfile
    from pathlib import Path

    from encoder.bulletin.areas import ship_area
    from encoder.bulletin.compose import compose_bulletins, compose_correction, compose_early
    from encoder.bulletin.correct import correct
    from encoder.bulletin.envelope import bulletin_text
    from encoder.formats.flight_folder import read_flight
    from encoder.levels import select_levels
    from encoder.report import decode_reports, encode_report, form_of_flight

    with tempfile.TemporaryDirectory() as scratch:
        write_flight(sample, Path(scratch) / "flight")
        flight = read_flight(Path(scratch) / "flight").raise_for_errors()
    levels = select_levels(flight).value
    report = encode_report(flight, levels, form=form_of_flight(flight)).value
    if early:
        made = compose_early(flight, report, centre="XNOR", area="ZZ").raise_for_errors()
    else:
        surface = report.part("A")
        assert surface is not None
        group = surface.text.split("99958 ")[1][:5]
        wrong = decode_reports(report.text.replace(group, f"1{group[1:]}")).value[0]
        area = ship_area(flight.station.latitude, flight.station.longitude)
        sent = compose_bulletins(flight, wrong, centre="XNOR", area=area).raise_for_errors()
        correction = correct(wrong, report).raise_for_errors()
        again = compose_correction(flight, correction, centre="XNOR", area=area)
        made = (*sent, *again.raise_for_errors())
    data = b"".join(bulletin_text(one).raise_for_errors() for one in made)
    return data.replace(b"\r\r\n", b"\n").decode("ascii")


TEXTS = {
    "harrow-tarn-2031-06.txt": month_text,
    "harrow-tarn-early.txt": early_text,
    "calder-wren-corrected.txt": corrected_text,
}
"""Texts by the name of their file."""


def write_others(folder: Path) -> None:
    """Write the flights of the other forms, and the texts, below a folder."""
    for name, make in OTHERS.items():
        write_flight(make(), folder / name, "Norreland Weather Service (invented); generated")
    for name, text in TEXTS.items():
        (folder / name).write_text(text(), encoding="ascii", newline="\n")


if __name__ == "__main__":
    import sys
    from pathlib import Path

    write_others(
        Path(sys.argv[1])
        if len(sys.argv) > 1
        else Path(__file__).resolve().parent.parent / "traffic"
    )
