"""Bulk conversion: accounts, quarantine, duplicates, provenance, parts of soundings."""

from __future__ import annotations

import json

import netCDF4
import numpy as np
import pytest

from encoder.convert.account import Account, Count
from encoder.convert.station_file import read_converted
from encoder.formats.netcdf import read_netcdf
from encoder.formats.netcdf.converted_product import SoundingQuality
from samples.archive_generator import traffic
from samples.archive_generator.soundings import make, times
from tests.conversions import (
    EXCERPT,
    convert,
    files_of,
    quarantine,
    station_text,
)


def test_an_account_that_does_not_add_up_says_so():
    """read = written + refused + aside, else the account is not balanced."""
    account = Account.empty()
    account.levels = Count(read=10, written=7, refused=2, aside=1)
    assert account.unbalanced() == ()
    account.levels.written = 6
    assert account.unbalanced() == ("levels",)
    assert Account.of(account.as_json()) == account


def test_a_real_sounding_arrives_whole(tmp_path):
    """All bytes, levels and values of the excerpt are in the station file."""
    (tmp_path / "CAM00071701-data.txt").write_bytes(EXCERPT)
    summary = convert([tmp_path / "CAM00071701-data.txt"], tmp_path / "out")
    lines = EXCERPT.decode("ascii").splitlines()[1:]
    fields = ((3, 8), (9, 15), (16, 21), (22, 27), (28, 33), (34, 39), (40, 45), (46, 51))
    values = sum(int(line[a:b]) > -8888 for line in lines for a, b in fields)
    assert summary["adds_up"]
    assert summary["total"]["bytes"] == {"read": 3729, "written": 3729, "refused": 0, "aside": 0}
    assert summary["total"]["levels"]["written"] == 69
    assert summary["total"]["values"] == {
        "read": values, "written": values, "refused": 0, "aside": 0
    }  # fmt: skip
    history = read_netcdf(tmp_path / "out" / "71701.nc").value
    assert history is not None
    assert history.columns["air_temperature"][0] == -5.7


@pytest.mark.parametrize("fast", [False, True])
def test_igra_comes_back_byte_for_byte(tmp_path, fast):
    """Source, netCDF, source: the same bytes."""
    text = station_text()
    (tmp_path / "source.txt").write_bytes(text)
    convert([tmp_path / "source.txt"], tmp_path / "one", fast=fast)
    convert([tmp_path / "one" / "90417.nc"], tmp_path / "two", formats=("igra",))
    assert (tmp_path / "two" / "90417-data.txt").read_bytes() == text


def test_accelerators_change_nothing(tmp_path):
    """Core libraries, fast ones and compiled reading: the same values, with faults in the source.

    The files of the fast way are the same bytes with and without the compiler.
    """
    text = station_text(count=300)
    broken = text.replace(b"B", b"?", 1).replace(b"-9999", b"-8888", 5)
    (tmp_path / "a.txt").write_bytes(broken)
    for name, more in (("core", {}), ("fast", {"fast": True}), ("compiled", {"compiled": True})):
        options = {"fast": True, **more} if more else {}
        convert([tmp_path / "a.txt"], tmp_path / name, formats=("igra", "netcdf"), **options)
    assert files_of(tmp_path / "fast") == files_of(tmp_path / "compiled")
    core, fast = (netCDF4.Dataset(tmp_path / name / "90417.nc") for name in ("core", "fast"))
    with core, fast:
        for dataset in (core, fast):
            dataset.set_auto_maskandscale(False)
        assert list(core.variables) == list(fast.variables)
        for name, variable in core.variables.items():
            assert variable[...].tobytes() == fast[name][...].tobytes(), name
            assert variable.__dict__.keys() == fast[name].__dict__.keys()


def test_what_is_wrong_is_refused_whole_and_told(tmp_path):
    """A broken line, another station and text outside are in the quarantine, byte for byte."""
    good = station_text(count=4)
    first = good.index(b"\n#", 10) + 1
    other = good[:first].replace(b"NRM00090417", b"NRM00090731")
    broken = good[:first].replace(b"B", b"?", 1)
    (tmp_path / "a.txt").write_bytes(good + other + broken)
    summary = convert([tmp_path / "a.txt"], tmp_path / "out")
    records = quarantine(tmp_path / "out")
    assert [item["data"].encode() for item in records] == [broken, other]
    assert summary["refused"] == {"convert-other-station": 1, "igra-line-malformed": 1}
    assert summary["adds_up"]
    assert summary["total"]["soundings"] == {"read": 6, "written": 4, "refused": 2, "aside": 0}


@pytest.mark.parametrize(
    ("old", "new"),
    [(b" \n", b"   \n"), (b" \n2", b" \r\n2"), (b"\n", b" \n")],
    ids=["blanks", "one-return", "header"],
)
def test_another_station_with_mixed_line_ends_is_kept_as_it_is(tmp_path, old, new):
    """The quarantine has the very bytes that are counted, however the lines end."""
    good = station_text(count=2)
    first = good.index(b"\n#", 10) + 1
    other = good[:first].replace(b"NRM00090417", b"NRM00090731").replace(old, new, 1)
    (tmp_path / "a.txt").write_bytes(good + other)
    summary = convert([tmp_path / "a.txt"], tmp_path / "out")
    (record,) = quarantine(tmp_path / "out")
    assert (record["data"].encode(), record["length"]) == (other, len(other))
    assert summary["total"]["bytes"]["refused"] == len(other)


def test_the_quarantine_is_fed_back_after_mending(tmp_path):
    """Mended records are read as what they are; nothing of the source is lost."""
    good = station_text(count=4)
    first = good.index(b"\n#", 10) + 1
    broken = good.replace(good[:first], good[:first].replace(b"B", b"?", 1))
    (tmp_path / "a.txt").write_bytes(broken)
    convert([tmp_path / "a.txt"], tmp_path / "out")
    path = tmp_path / "out" / "quarantine.jsonl"
    path.write_text(path.read_text(encoding="utf-8").replace("?", "B"), encoding="utf-8")
    (tmp_path / "rest.txt").write_bytes(good[first:])
    summary = convert([path, tmp_path / "rest.txt"], tmp_path / "again", formats=("igra",))
    assert summary["adds_up"]
    assert summary["total"]["soundings"]["written"] == 4
    lines = (tmp_path / "again" / "90417-data.txt").read_bytes()
    assert sorted(lines.split(b"\n#")[1:]) != []
    assert sorted(lines.replace(b"\n#", b"\n\0#").split(b"\0")) == sorted(
        good.replace(b"\n#", b"\n\0#").split(b"\0")
    )


def test_a_line_that_is_no_record_is_refused(tmp_path):
    """A quarantine file that was edited badly loses nothing."""
    (tmp_path / "q.jsonl").write_text('{"aerogram-quarantine":1,"kind":"igra"}\nnonsense\n')
    summary = convert([tmp_path / "q.jsonl"], tmp_path / "out")
    assert summary["refused"] == {"convert-quarantine-malformed": 2}
    assert summary["adds_up"]


def test_several_stations_in_one_igra_file(tmp_path):
    """With igra-many every station of a file has its own."""
    (tmp_path / "all.txt").write_bytes(station_text(count=3) + station_text("90731", count=5))
    summary = convert([tmp_path / "all.txt"], tmp_path / "out", kind="igra-many")
    assert {item["station"]: item["soundings"] for item in summary["stations"]} == {
        "90417": 3,
        "90731": 5,
    }


def test_of_two_sources_the_sounding_with_more_values_is_current(tmp_path):
    """All candidates stay in the file: the chosen one, the same one, another one."""
    text = station_text(count=3)
    soundings = text.replace(b"\n#", b"\n\0#").split(b"\0")
    less = soundings[1].split(b"\n")
    head = less[0].replace(b"%4d ncdc" % (len(less) - 2), b"%4d ncdc" % (len(less) - 3))
    (tmp_path / "a.txt").write_bytes(text)
    (tmp_path / "b.txt").write_bytes(soundings[0] + b"\n".join([head, *less[2:]]))
    summary = convert([tmp_path / "a.txt", tmp_path / "b.txt"], tmp_path / "out")
    assert summary["adds_up"]
    with netCDF4.Dataset(tmp_path / "out" / "90417.nc") as dataset:
        selection = dataset["selection"][:].tolist()
        sources = dataset["source_index"][:].tolist()
        superseded = dataset["superseded"][:].tolist()
    assert list(zip(selection, sources, superseded, strict=True)) == [
        (1, 0, 0),
        (2, 1, 1),
        (1, 0, 0),
        (3, 1, 1),
        (0, 0, 0),
    ]


def test_every_sounding_can_be_traced_to_its_bytes(tmp_path):
    """Source, offset and length give the very bytes of the sounding; the digest is of the file."""
    import hashlib

    text = station_text(count=6)
    (tmp_path / "a.txt").write_bytes(text)
    convert([tmp_path / "a.txt"], tmp_path / "out")
    batch, _station, sources = read_converted(tmp_path / "out" / "90417.nc")
    offsets, lengths = batch.profiles["source_offset"], batch.profiles["source_length"]
    pieces = [text[a : a + b] for a, b in zip(offsets, lengths, strict=True)]
    assert b"".join(pieces) == text
    assert all(piece.startswith(b"#NRM00090417") for piece in pieces)
    digest = hashlib.blake2b(text, digest_size=32).hexdigest()
    assert sources == [{"name": "a.txt", "digest": f"blake2b-256:{digest}", "kind": "igra"}]


def test_parts_of_a_sounding_meet_across_files(tmp_path):
    """A and B in one file, C and D in another, out of order: one sounding."""
    sounding = make("90417", times(1994, 1)[20], np.random.default_rng(8))
    coded = traffic.parts(sounding)
    (tmp_path / "b_19940111.txt").write_text(coded["A"] + "\n" + coded["B"] + "\n")
    (tmp_path / "a_19940111.txt").write_text("\n".join(coded[x] for x in "DC" if x in coded))
    summary = convert([tmp_path], tmp_path / "out")
    assert summary["total"]["soundings"]["written"] == 1
    assert summary["total"]["reports"]["written"] == len(coded)
    history = read_netcdf(tmp_path / "out" / "90417.nc").value
    assert history is not None
    assert history.columns["air_pressure"][-1] == pytest.approx(sounding.pressure.min())


def test_every_source_adds_up_by_itself(tmp_path):
    """Parts of one sounding in two files: bytes and reports count in each, levels in the first."""
    sounding = make("90417", times(1994, 1)[20], np.random.default_rng(8))
    coded = traffic.parts(sounding)
    (tmp_path / "b_19940111.txt").write_text(coded["A"] + "\n" + coded["B"] + "\n")
    (tmp_path / "a_19940111.txt").write_text(coded["A"] + "\n" + coded["C"] + "\nnoise 12345\n")
    summary = convert([tmp_path], tmp_path / "out")
    one, two = (item["account"] for item in summary["sources"])
    assert summary["adds_up"]
    for account in (one, two):
        for count in account.values():
            assert count["read"] == count["written"] + count["refused"] + count["aside"]
    assert one["bytes"]["read"] == (tmp_path / "a_19940111.txt").stat().st_size
    assert two["bytes"]["read"] == (tmp_path / "b_19940111.txt").stat().st_size
    assert [one["reports"][key] for key in ("read", "written", "aside")] == [2, 1, 1]
    assert [two["reports"][key] for key in ("read", "written", "aside")] == [2, 2, 0]
    assert [one["soundings"]["written"], two["soundings"]["written"]] == [0, 1]
    assert two["levels"]["written"] == summary["total"]["levels"]["written"] > 0


def test_repairs_can_be_traced_to_their_bytes(tmp_path):
    """What was read as something else is in the file with its place, and sets its bits."""
    sounding = make("90417", times(1994, 1)[20], np.random.default_rng(8))
    coded = traffic.parts(sounding)
    text = coded["B"] + "\n" + coded["A"].replace("31313", "3I313") + "\n"
    (tmp_path / "19940111.txt").write_text(text)
    summary = convert([tmp_path / "19940111.txt"], tmp_path / "out", repair="safe")
    batch, _station, _sources = read_converted(tmp_path / "out" / "90417.nc")
    with netCDF4.Dataset(tmp_path / "out" / "90417.nc") as dataset:
        facts = json.loads(dataset["conversion_facts"][:].tobytes())
    (repair,) = facts["repairs"]
    assert batch.profiles["sounding_quality"][0] & int(SoundingQuality.REPAIRED)
    assert text[repair["offset"] :].startswith("3I313")
    assert (repair["received"], repair["read"]) == ("3I313", "31313")
    assert summary["stations"][0]["repaired"] == 1
    assert summary["found"]["repaired"] == 1
    none = convert([tmp_path / "19940111.txt"], tmp_path / "none")
    assert none["stations"][0]["repaired"] == 0


def test_a_part_that_came_twice_is_counted_once(tmp_path):
    """Equal parts are one, a corrected one (CCA) stands; both are put aside in the account."""
    sounding = make("90417", times(1994, 1)[20], np.random.default_rng(8))
    part = traffic.parts(sounding)["A"]
    changed = part.replace("TTAA", "TTAA", 1).replace(" 85", " 85", 1)
    figures = changed.split(" ")
    figures[4] = "00146"
    changed = " ".join(figures)
    (tmp_path / "19940111.txt").write_text(
        f"USNR01 XNOR 110000 CCA\r\r\n{changed}\r\r\n\x03"
        f"USNR01 XNOR 110000\r\r\n{part}\r\r\n\x03USNR01 XNOR 110000\r\r\n{part}\r\r\n\x03"
    )
    summary = convert([tmp_path / "19940111.txt"], tmp_path / "out")
    assert summary["adds_up"]
    assert summary["total"]["reports"] == {"read": 3, "written": 1, "refused": 0, "aside": 2}
    history = read_netcdf(tmp_path / "out" / "90417.nc").value
    assert history is not None
    assert "00146" in history.texts[0]


def test_reports_without_date_or_place_are_refused(tmp_path):
    """No month is guessed, no position invented; with month and catalogue they come in."""
    text = "TTAA 01001 90417 99961 00321 03012 88999 77999="
    (tmp_path / "traffic.txt").write_text(text + "\n" + text.replace("90417", "12999"))
    summary = convert([tmp_path / "traffic.txt"], tmp_path / "one")
    assert summary["refused"] == {"date-unknown": 2}
    summary = convert([tmp_path / "traffic.txt"], tmp_path / "two", month="1994-01")
    assert summary["refused"] == {"convert-position-unknown": 1}
    assert summary["adds_up"]
    again = convert([tmp_path / "one" / "quarantine.jsonl"], tmp_path / "three", month="1994-01")
    assert again["total"]["soundings"]["written"] == 1


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("TTAA 9///1 9//17 99961 00321 03012 88999 77999=", "convert-report-unidentified"),
        ("CLIMAT TEMP 01994 90417 10000 00321 03012=", "convert-report-other"),
        ("USNR01 XNOR 010000\r\nnothing that is a report at all 12345\r\n", "convert-text-unread"),
    ],
)
def test_what_is_no_sounding_goes_to_the_quarantine(tmp_path, text, code):
    """Reports that name nothing, other forms and plain text are kept verbatim."""
    (tmp_path / "19940101.txt").write_text(text)
    summary = convert([tmp_path / "19940101.txt"], tmp_path / "out", kind="coded-text")
    assert code in summary["refused"]
    assert summary["adds_up"]
    assert "".join(item["data"] for item in quarantine(tmp_path / "out")).strip() in text


def test_a_sounding_without_levels_is_refused(tmp_path):
    """A report that says nothing readable is not written as an empty sounding."""
    (tmp_path / "19940101.txt").write_text("TTDD 5100/ 90417 XXXXX=")
    summary = convert([tmp_path / "19940101.txt"], tmp_path / "out", kind="coded-text")
    assert summary["refused"] == {"convert-sounding-empty": 1}
    assert summary["adds_up"]


def test_empty_reports_are_put_aside(tmp_path):
    """NIL is read and counted; there is no sounding."""
    (tmp_path / "19940101.txt").write_text("TTAA 51001 90417 NIL=")
    summary = convert([tmp_path / "19940101.txt"], tmp_path / "out", kind="coded-text")
    assert summary["total"]["reports"]["aside"] == 1
    assert summary["adds_up"]
