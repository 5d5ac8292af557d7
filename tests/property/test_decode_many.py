"""Soundings decoded across reports are those of the decoder of one report, to the last bit."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from encoder.convert.decode_many import decode_one, decode_plain, decode_soundings
from encoder.formats.flight_folder import read_flight
from encoder.formats.samples_folder import sample_flight
from encoder.levels import select_levels
from encoder.report import encode_report
from samples.archive_generator import traffic
from samples.archive_generator.damage import damage_traffic
from samples.archive_generator.soundings import STATIONS, make, times

DATA = Path(__file__).parents[1] / "external" / "data"


def assert_same(many, one):
    """Columns, kinds, status, release and findings are equal, NaN for NaN."""
    assert (many is None) == (one is None)
    if many is None:
        return
    assert list(many.columns) == list(one.columns)
    for name, values in one.columns.items():
        assert np.array_equal(many.columns[name], values, equal_nan=True), name
    assert np.array_equal(many.kinds, one.kinds)
    for name, values in one.status.items():
        assert np.array_equal(many.status[name], values), name
    assert many.release == one.release
    assert many.diagnostics == one.diagnostics


def generated(count, seed):
    random = np.random.default_rng(seed)
    hours = times(1994, 3)
    made = []
    for _ in range(count):
        station = str(random.choice(list(STATIONS)))
        coded = traffic.parts(make(station, hours[int(random.integers(0, len(hours)))], random))
        made.append([text.encode("ascii") for text in coded.values()])
    return made


def test_generated_soundings():
    """Nearly all of them are read across reports, and each is the same."""
    soundings = generated(150, 1)
    plain = decode_plain(soundings)
    assert sum(item is not None for item in plain) > 130
    for parts, made in zip(soundings, plain, strict=True):
        if made is not None:
            assert_same(made, decode_one(parts))


@pytest.mark.parametrize(
    ("rate", "source"),
    [
        (0.003, "mixture"),
        (0.02, "mixture"),
        (0.01, "five-unit"),
        (0.01, "parity"),
        (0.01, "figure"),
    ],
)
def test_damaged_soundings(rate, source):
    """Whatever is still read across reports after damage is the same as well."""
    random = np.random.default_rng(2)
    damaged = [
        [damage_traffic(part.decode(), random, rate, source)[0].encode() for part in parts]
        for parts in generated(150, 3)
    ]
    for parts, made in zip(damaged, decode_plain(damaged), strict=True):
        if made is not None:
            assert_same(made, decode_one(parts))


def test_single_other_figures():
    """The hardest damage: one figure replaced by another in an otherwise plain sounding."""
    random = np.random.default_rng(5)
    changed = []
    for parts in generated(25, 6):
        for _ in range(8):
            which = int(random.integers(0, len(parts)))
            text = bytearray(parts[which])
            figures = [at for at, sign in enumerate(text) if 48 <= sign <= 57]
            text[int(random.choice(figures))] = 48 + int(random.integers(0, 10))
            changed.append([*parts[:which], bytes(text), *parts[which + 1 :]])
    plain = decode_plain(changed)
    assert sum(item is not None for item in plain) > 20
    for parts, made in zip(changed, plain, strict=True):
        if made is not None:
            assert_same(made, decode_one(parts))


@pytest.mark.parametrize("name", ["harrow-tarn", "halden-dome", "saltmere-point"])
def test_samples(name):
    """The reports of the sample flights."""
    flight = read_flight(sample_flight(name)).raise_for_errors()
    report = encode_report(flight, select_levels(flight).value).value
    parts = [part.text.encode("ascii") for part in report.parts]
    (made,) = decode_soundings([parts])
    assert_same(made, decode_one(parts))
    for plain in decode_plain([parts]):
        if plain is not None:
            assert_same(plain, decode_one(parts))


def test_real_reports():
    """Every real report of the collection, land and sea, winds alone and drops."""
    document = json.loads((DATA / "soundings.json").read_text(encoding="utf-8"))
    texts = list(_texts(document))
    assert len(texts) > 5
    soundings = [[part.encode("latin-1")] for part in texts]
    for parts, made in zip(soundings, decode_plain(soundings), strict=True):
        if made is not None:
            assert_same(made, decode_one(parts))
    for parts, made in zip(soundings, decode_soundings(soundings), strict=True):
        assert_same(made, decode_one(parts))


def _texts(document):
    """Yield every coded part found anywhere in the document."""
    if isinstance(document, str):
        if document[:2] in ("TT", "UU", "XX", "II", "PP", "QQ", "EE"):
            yield document if document.rstrip().endswith("=") else f"{document}="
    elif isinstance(document, dict):
        for item in document.values():
            yield from _texts(item)
    elif isinstance(document, list):
        for item in document:
            yield from _texts(item)


@pytest.mark.parametrize(
    "parts",
    [
        [],
        [b""],
        [b"TTAA"],
        [b"TTAA ="],
        [b"TTAA 51001 90417="],
        [b"TTAA 51001 90417 99961 00321 03012="],
        [b"ttaa 51001 90417 99961 00321 03012 88999 77999="],
        [b"TTAA 51001 90417 99961 00321 03012 88999 77999"],
        [
            b"TTAA 51001 90417 99961 00321 03012 88999 77999=",
            b"TTAA 51001 90417 99961 00321 03012=",
        ],
        [b"PPBB 51000 90417 90012 03012 04015="],
        [b"TTBB 51008 90417 00961 00321 11850 05957 21212 00961 03012 31313 59008 82333="],
        [b"TTBB 5100/ 90417 00961 00321 11850 05957 33700 05957="],
        [b"TTDD 5100/ 90417 11800 547// 22700 551//="],
        [b"TTDD 51008 90417 11800 547// 22700 551//="],
        [b"TTCC 51003 90417 70802 547// 30037 50018 521// 29029 88999 77999="],
        [b"TTCC 51003 90417 70802 547// 30037 88999 66666 09040="],
        [b"TTCC 51003 90417 70802 547// 30037 88999 77999 66666 09040="],
        [
            b"TTAA 51001 90417 99961 00321 03012 88264 56356 05571 77270 05590 40505 31313 59008 82332="  # noqa: E501
        ],
        [b"TTAA 51001 90417 99961 00321 03012 88999 77999 51515 10164 00004 10194 02507="],
        [b"TTAA 51001 90417 99961 00321 03012 88999 77999 51515 10181="],
        [b"\xff\xfe" * 30],
    ],
)
def test_odd_and_small_reports(parts):
    """Reports that end early, say little, or are none."""
    (made,) = decode_plain([parts])
    if made is not None:
        assert_same(made, decode_one(parts))
    if parts:
        (whole,) = decode_soundings([parts])
        assert_same(whole, decode_one(parts))


def test_the_neighbours_of_a_report_do_not_matter():
    """A sounding is the same whatever soundings are decoded with it."""
    soundings = generated(30, 9)
    random = np.random.default_rng(4)
    odd = [
        [damage_traffic(p.decode(), random, 0.1)[0].encode() for p in parts] for parts in soundings
    ]
    mixed = [item for pair in zip(soundings, odd, strict=True) for item in pair]
    alone = [decode_plain([parts])[0] for parts in soundings]
    for one, many in zip(alone, decode_plain(mixed)[::2], strict=True):
        assert_same(many, one)


def of_1985():
    """Return the parts of a sample flight as they were coded in 1985: no 925 hPa, no section 7."""
    flight = read_flight(sample_flight("harrow-tarn")).raise_for_errors()
    old = replace(flight, nominal_time=flight.nominal_time.replace(year=1985))
    report = encode_report(old, select_levels(old).value).value
    return [part.text.encode() for part in report.parts]


@pytest.mark.parametrize("day", [date(1971, 7, 9), date(1985, 7, 9), date(1991, 10, 31)])
def test_soundings_of_former_days(day):
    """Without 925 hPa and section 7 they are read across reports, with the notes of their time."""
    parts = of_1985()
    american = parts[0].replace(b"90417", b"72235").replace(b"03076", b"03080")
    old = [parts, [american]]
    odd = [american.replace(b"TTAA 59001", b"TTAA 59009")]
    assert decode_plain([odd], days=[day]) == [None]
    plain = decode_plain(old, days=[day, day])
    for members, made in zip(old, plain, strict=True):
        assert made is not None
        assert_same(made, decode_one(members, on=day))
    told = [item.code for item in plain[1].diagnostics]
    assert ("humidity-by-convention" in told) == (day.year > 1971)


@pytest.mark.parametrize("day", [date(1960, 3, 1), date(1985, 3, 1), date(1994, 3, 1)])
def test_generated_soundings_of_former_days(day):
    """Whatever their edition, both ways give the same; of today's reports none is plain then."""
    soundings = generated(40, 7)
    days = [day] * len(soundings)
    plain = decode_plain(soundings, days=days)
    assert (sum(item is not None for item in plain) > 30) == (day.year == 1994)
    many = decode_soundings(soundings, days=days)
    for parts, made in zip(soundings, many, strict=True):
        assert_same(made, decode_one(parts, on=day))
    told = {item.code for made in many for item in made.diagnostics}
    assert ("no-edition" in told) == (day.year == 1960)
