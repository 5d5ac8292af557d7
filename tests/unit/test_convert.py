"""The bulk conversion: sources, accounts, duplicates, quality, quarantine, continuing."""

from __future__ import annotations

import gzip
import io
import json
import os
import tarfile
import zipfile
from pathlib import Path

import netCDF4
import numpy as np
import pytest

from encoder.convert.account import Account, Count
from encoder.convert.container_index import ContainerError
from encoder.convert.containers import chunks_of, members_of
from encoder.convert.run import Silent, plan_run, run_plan
from encoder.convert.sources import find_sources, guess
from encoder.convert.station_file import read_converted
from encoder.convert.work import Settings
from encoder.formats.netcdf import read_netcdf
from encoder.formats.netcdf.converted_product import LevelQuality, SoundingQuality
from encoder.stations import NORRELAND
from samples.archive_generator import igra, traffic
from samples.archive_generator.soundings import make, times

EXCERPT = (
    Path(__file__).parents[1] / "external" / "data" / "igra_sounding_excerpt.txt"
).read_bytes()


def settings(folder, **more):
    return Settings(str(folder), NORRELAND, **more)


def convert(sources, folder, *, kind=None, jobs=1, **more):
    chosen = settings(folder, **more)
    plan = plan_run([str(item) for item in sources], chosen, kind=kind)
    return run_plan(plan, chosen, jobs=jobs)


def station_text(station="90417", *, years=1, seed=3, count=30):
    texts = []
    for text in igra.station_text(station, 2001, years, seed):
        texts.append(text)
        if len(texts) == count:
            break
    return b"".join(texts)


def coded_days(folder, days=3, seed=5):
    folder.mkdir(parents=True, exist_ok=True)
    random = np.random.default_rng(seed)
    hours = times(1994, 1)[: 2 * days]
    for day in np.unique(hours.astype("datetime64[D]")):
        own = [
            make(station, hour, random)
            for hour in hours[hours.astype("datetime64[D]") == day]
            for station in ("90417", "90122")
        ]
        name = f"{str(day).replace('-', '')}.txt"
        (folder / name).write_bytes(traffic.day_file(own).encode("ascii"))
    return folder


def files_of(folder):
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name != "lock"
    }


def quarantine(folder):
    lines = (Path(folder) / "quarantine.jsonl").read_text(encoding="utf-8").splitlines()
    return [json.loads(line) for line in lines]


# --- what a file is ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("head", "kind"),
    [
        (EXCERPT, "igra"),
        (b"\xef\xbb\xbf" + EXCERPT, "igra"),
        (b"\0" * 512 + EXCERPT, "igra"),
        (b"station file\r\n" + EXCERPT, "igra"),
        (b"x" + EXCERPT, None),
        (b"\x89HDF\r\n\x1a\n....", "netcdf"),
        (b"IUSX01 XNOR 170000\r\r\nBUFR\0\0\x20\x04rest", "bufr"),
        (b"\r\nUSNR01 XNOR 010000\r\r\nTTAA 51001 90417 99961 00321 03012=", "coded-text"),
        (b'{"aerogram-quarantine":1,"kind":"igra"}', "quarantine"),
        (b"", None),
        (b"name;value\n1;2\n", None),
        (bytes(range(256)), None),
    ],
)
def test_a_file_is_judged_by_its_bytes(head, kind):
    """The first bytes tell the kind; without a map a table is none."""
    assert guess(head).kind == kind


def test_a_table_needs_a_map():
    """Text with lines is a table only where a column map is given."""
    assert guess(b"name;value\n1;2\n", table=True).kind == "table"


def test_names_do_not_matter(tmp_path):
    """An IGRA file is one whatever it is called, and what matched is told."""
    (tmp_path / "picture.png").write_bytes(EXCERPT)
    (source,), found = find_sources([str(tmp_path)])
    assert (source.kind, found) == ("igra", [])
    assert "CAM00071701" in source.why


def test_folders_containers_and_links(tmp_path):
    """Zip, tar and gz are gone through, also nested; a link in a circle is read once."""
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a/one.txt", EXCERPT)
    with tarfile.open(tmp_path / "box.tar", "w") as archive:
        for name, data in (("inner.zip", inner.getvalue()), ("two.txt", EXCERPT)):
            entry = tarfile.TarInfo(name)
            entry.size = len(data)
            archive.addfile(entry, io.BytesIO(data))
    (tmp_path / "three.gz").write_bytes(gzip.compress(EXCERPT))
    (tmp_path / "loop").symlink_to(tmp_path)
    sources, found = find_sources([str(tmp_path)])
    assert [item.name for item in sources] == [
        "box.tar!inner.zip!a/one.txt",
        "box.tar!two.txt",
        "three.gz",
    ]
    assert [item.code for item in found] == ["convert-folder-again"]
    for item in sources:
        assert b"".join(chunks_of(item.path, item.members)) == EXCERPT


def test_what_is_not_there_or_not_known_is_told(tmp_path):
    """A missing file and an unknown one are named; nothing else is lost for it."""
    (tmp_path / "noise.bin").write_bytes(b"\0\1\2" * 50)
    sources, found = find_sources([str(tmp_path), str(tmp_path / "gone")])
    assert sources == []
    assert sorted(item.code for item in found) == [
        "convert-kind-unknown",
        "convert-source-unreadable",
    ]


def test_a_file_that_cannot_be_opened_is_told(tmp_path):
    """A link to nothing is told, the others are converted."""
    (tmp_path / "gone.txt").symlink_to(tmp_path / "nowhere")
    (tmp_path / "here.txt").write_bytes(EXCERPT)
    sources, found = find_sources([str(tmp_path)])
    assert [item.name for item in sources] == ["here.txt"]
    assert [item.code for item in found] == ["convert-source-unreadable"]


@pytest.mark.parametrize("fast", [False, True])
def test_a_bomb_is_bounded(tmp_path, fast):
    """A member that grows beyond all likelihood is left."""
    with zipfile.ZipFile(tmp_path / "bomb.zip", "w", zipfile.ZIP_DEFLATED, compresslevel=9) as z:
        z.writestr("zeros", b"\0" * (80 << 20))
    with pytest.raises(ContainerError, match="bomb"):
        for _ in chunks_of(str(tmp_path / "bomb.zip"), ("zeros",), fast=fast):
            pass


def test_nesting_is_bounded(tmp_path):
    """Containers more than three deep are not opened."""
    data = EXCERPT
    for _ in range(5):
        data = gzip.compress(data)
    (tmp_path / "deep.gz").write_bytes(data)
    sources, found = find_sources([str(tmp_path)])
    assert sources == []
    assert "nested" in found[0].message


@pytest.mark.parametrize("cut", [40, 200, -30])
def test_a_damaged_container_is_told(tmp_path, cut):
    """A zip that was cut off gives no half of a member."""
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("one.txt", EXCERPT)
    (tmp_path / "cut.zip").write_bytes(whole.getvalue()[:cut])
    sources, found = find_sources([str(tmp_path)])
    assert sources == []
    assert [item.code for item in found] == ["convert-source-unreadable"]


@pytest.mark.parametrize("fast", [False, True])
def test_a_wrong_checksum_refuses_the_member(tmp_path, fast):
    """The checksum of a zip member is held against what came out."""
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("one.txt", EXCERPT)
    data = bytearray(whole.getvalue())
    at = data.rindex(b"PK\x01\x02") + 16
    data[at] ^= 1
    (tmp_path / "wrong.zip").write_bytes(bytes(data))
    assert list(members_of(str(tmp_path / "wrong.zip"), ()).members) == ["one.txt"]
    with pytest.raises(ContainerError, match="checksum"):
        list(chunks_of(str(tmp_path / "wrong.zip"), ("one.txt",), fast=fast))


def test_an_encrypted_member_is_told(tmp_path):
    """No password is guessed."""
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("one.txt", EXCERPT)
    data = bytearray(whole.getvalue())
    data[data.rindex(b"PK\x01\x02") + 8] |= 1
    (tmp_path / "locked.zip").write_bytes(bytes(data))
    _sources, found = find_sources([str(tmp_path)])
    assert "encrypted" in found[0].message


# --- accounts ---------------------------------------------------------------------------------


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


# --- duplicates -------------------------------------------------------------------------------


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


# --- coded text -------------------------------------------------------------------------------


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


# --- other sources ----------------------------------------------------------------------------


def test_netcdf_of_the_archive_comes_in(tmp_path):
    """A station history, and one converted before, are sources too; the values stay."""
    coded_days(tmp_path / "days", 2)
    convert([tmp_path / "days"], tmp_path / "one")
    summary = convert([tmp_path / "one" / "90417.nc"], tmp_path / "two")
    assert summary["adds_up"]
    one, two = (read_netcdf(tmp_path / name / "90417.nc").value for name in ("one", "two"))
    assert one is not None
    assert two is not None
    for name, values in one.columns.items():
        assert np.array_equal(values, two.columns[name], equal_nan=True), name


def test_a_damaged_netcdf_is_refused_whole(tmp_path):
    """What cannot be opened is kept with the reason."""
    (tmp_path / "a.nc").write_bytes(b"\x89HDF\r\n\x1a\n" + b"\0" * 100)
    summary = convert([tmp_path / "a.nc"], tmp_path / "out")
    assert summary["adds_up"]
    assert summary["total"]["bytes"]["refused"] == 108


def test_bufr_comes_in(tmp_path):
    """A message of the package itself: its levels are in the station file."""
    from encoder.formats.bufr.compose import message_content
    from encoder.formats.bufr.write import write_message
    from encoder.formats.flight_folder import read_flight
    from encoder.formats.samples_folder import sample_flight
    from encoder.levels import select_levels

    flight = read_flight(sample_flight("harrow-tarn")).raise_for_errors()
    content = message_content(flight, select_levels(flight).value).value
    assert content is not None
    message = write_message(content).value
    assert message is not None
    (tmp_path / "a.bufr").write_bytes(message + b"noise" * 100 + message[:40])
    summary = convert([tmp_path / "a.bufr"], tmp_path / "out")
    assert summary["adds_up"]
    assert summary["total"]["soundings"]["written"] == 1
    assert "bufr-damaged" in summary["refused"]
    assert (tmp_path / "out" / "90417.nc").exists()


# --- quality ----------------------------------------------------------------------------------


def flagged(folder, name="90417.nc"):
    batch, _station, _sources = read_converted(folder / name)
    return batch.profiles["sounding_quality"], batch.levels["level_quality"]


@pytest.mark.parametrize(
    ("change", "bit"),
    [
        (lambda line: line[:22] + b"  999" + line[27:], LevelQuality.TEMPERATURE_OUTSIDE_LIMITS),
        (lambda line: line[:16] + b"60000" + line[21:], LevelQuality.HEIGHT_OUTSIDE_LIMITS),
        (lambda line: line[:9] + b"200000" + line[15:], LevelQuality.PRESSURE_OUTSIDE_LIMITS),
        (lambda line: line[:46] + b" 1900" + line[51:], LevelQuality.WIND_OUTSIDE_LIMITS),
        (lambda line: line[:34] + b" 1100" + line[39:], LevelQuality.HUMIDITY_OUTSIDE_LIMITS),
        (lambda line: line[:40] + b"-9999" + line[45:], LevelQuality.HALF_WIND),
        (lambda line: line[:9] + b"100001" + line[15:], LevelQuality.PRESSURE_ORDER),
        (lambda line: line[:46] + b"  990" + line[51:], LevelQuality.WIND_JUMP),
        (lambda line: line[:22] + b" -700" + line[27:], LevelQuality.LAPSE_RATE),
        (lambda line: line[:22] + b"  300" + line[27:], LevelQuality.TEMPERATURE_SPIKE),
        (lambda line: line[:16] + b"    5" + line[21:], LevelQuality.HEIGHT_ORDER),
        (lambda line: line[:16] + b" 9900" + line[21:], LevelQuality.LAYER_THICKNESS),
    ],
)
def test_values_are_flagged_and_never_removed(tmp_path, change, bit):
    """A wrong value sets its bit and the bit of the sounding, and stays as it was."""
    text = station_text(count=2)
    lines = text.split(b"\n")
    place = next(i for i, line in enumerate(lines) if line.startswith(b"10") and b" 50000B" in line)
    lines[place] = change(lines[place])
    (tmp_path / "a.txt").write_bytes(b"\n".join(lines))
    summary = convert([tmp_path / "a.txt"], tmp_path / "out", formats=("igra", "netcdf"))
    sounding, level = flagged(tmp_path / "out")
    assert summary["adds_up"]
    assert np.any(level & int(bit))
    assert sounding[0] & int(SoundingQuality.LEVELS_FLAGGED)
    assert (tmp_path / "out" / "90417-data.txt").read_bytes() == b"\n".join(lines)


def test_real_and_generated_soundings_have_no_findings(tmp_path):
    """The limits let the real excerpt and the weather of the generator pass."""
    (tmp_path / "a.txt").write_bytes(EXCERPT)
    (tmp_path / "b.txt").write_bytes(station_text(count=60))
    convert([tmp_path / "a.txt", tmp_path / "b.txt"], tmp_path / "out")
    assert not flagged(tmp_path / "out", "71701.nc")[1].any()
    assert not flagged(tmp_path / "out")[1].any()


def test_a_profile_that_is_repeated_is_flagged(tmp_path):
    """The very levels of the sounding before under another time."""
    text = station_text(count=2)
    one, two = text.replace(b"\n#", b"\n\0#").split(b"\0")
    again = two.split(b"\n")[0].replace(b"%4d ncdc" % (two.count(b"\n") - 1), b"")
    head = two[:71].replace(two[32:36], one[32:36])
    (tmp_path / "a.txt").write_bytes(one + head + one[71:])
    convert([tmp_path / "a.txt"], tmp_path / "out")
    sounding, _level = flagged(tmp_path / "out")
    assert again
    assert [bool(x & int(SoundingQuality.REPEATED_PROFILE)) for x in sounding] == [False, True]


def test_a_position_that_is_not_of_the_catalogue_is_flagged(tmp_path):
    """A station in another place than the catalogue has it at that date."""
    text = station_text(count=2)
    (tmp_path / "a.txt").write_bytes(text.replace(b" 534127", b" 544127", 1))
    convert([tmp_path / "a.txt"], tmp_path / "out")
    sounding, _level = flagged(tmp_path / "out")
    bit = int(SoundingQuality.POSITION_NOT_OF_CATALOGUE)
    assert [bool(x & bit) for x in sounding] == [True, False]


def test_winds_in_the_wrong_unit_are_found_by_their_neighbours(tmp_path):
    """A run of soundings with winds twice as strong as before and after: knots taken for m/s."""
    texts = list(igra.station_text("90417", 2001, 1, 3))[:240]
    made = []
    for number, text in enumerate(texts):
        if 80 <= number < 160:
            lines = text.split(b"\n")
            lines[1:-1] = [
                line[:46] + b"%5d" % round(int(line[46:51]) / 0.514444) + line[51:]
                for line in lines[1:-1]
            ]
            made.append(b"\n".join(lines))
        else:
            made.append(text)
    (tmp_path / "a.txt").write_bytes(b"".join(made))
    convert([tmp_path / "a.txt"], tmp_path / "out")
    sounding, _level = flagged(tmp_path / "out")
    found = np.flatnonzero(sounding & int(SoundingQuality.WIND_UNIT_SUSPECT))
    assert found.min() >= 70
    assert found.max() < 170
    assert len(found) >= 70


def test_headers_set_bits_of_their_sounding(tmp_path):
    """Hour 99, dates that go back, releases far off, no levels, another number of levels."""
    text = station_text(count=3)
    one, two, three = text.replace(b"\n#", b"\n\0#").split(b"\0")
    one = one[:24] + b"99" + one[26:]
    two = two[:27] + b"0530" + two[31:] if two[24:26] == b"12" else two
    three = three[: three.index(b"\n") + 1]
    (tmp_path / "a.txt").write_bytes(three + two + one)
    convert([tmp_path / "a.txt"], tmp_path / "out")
    sounding, _level = flagged(tmp_path / "out")
    bits = [{item.name for item in SoundingQuality if x & int(item)} for x in sounding]
    assert {"HOUR_UNKNOWN", "TIME_GOES_BACK"} <= bits[0]
    assert {"RELEASE_FAR_FROM_NOMINAL", "TIME_GOES_BACK"} <= bits[1]
    assert {"NO_LEVELS", "LEVEL_COUNT_DIFFERS"} <= bits[2]


# --- continuing -------------------------------------------------------------------------------


def mixed_sources(folder):
    coded_days(folder / "days", 2)
    (folder / "igra").mkdir()
    for station in ("90417", "90731"):
        (folder / "igra" / f"{station}.txt").write_bytes(station_text(station, count=20))
    return [folder / "days", folder / "igra"]


def test_order_and_number_of_workers_do_not_matter(tmp_path):
    """Every file of the destination is the same, byte for byte."""
    sources = mixed_sources(tmp_path / "in")
    convert(sources, tmp_path / "one")
    convert(sources[::-1], tmp_path / "two", jobs=2)
    assert files_of(tmp_path / "one") == files_of(tmp_path / "two")


def test_what_is_done_is_not_done_again(tmp_path, monkeypatch):
    """A second run reads no source; a changed one is read again."""
    sources = mixed_sources(tmp_path / "in")
    convert(sources, tmp_path / "out")
    before = files_of(tmp_path / "out")

    calls = []
    import encoder.convert.run as module

    real = module.run_unit
    monkeypatch.setattr(module, "run_unit", lambda *given: calls.append(given) or real(*given))
    convert(sources, tmp_path / "out")
    assert calls == []
    assert files_of(tmp_path / "out") == before
    path = tmp_path / "in" / "igra" / "90731.txt"
    stamp = path.stat()
    path.write_bytes(path.read_bytes().replace(b"ncdc-gts", b"ncdc-nws"))
    os.utime(path, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
    convert(sources, tmp_path / "out")
    assert [call[0].source.name for call in calls] == ["90731.txt"]


@pytest.mark.parametrize("victim", ["90731.nc", "account", "shard"])
def test_what_was_lost_is_made_again(tmp_path, victim):
    """A station file, an account or a shard that went is made anew, the same as before."""
    sources = mixed_sources(tmp_path / "in")
    convert(sources, tmp_path / "out")
    before = files_of(tmp_path / "out")
    if victim == "account":
        paths = list((tmp_path / "out" / ".work" / "units").glob("*/account.json"))[:2]
    elif victim == "shard":
        paths = list((tmp_path / "out" / ".work" / "units").glob("*/*.batch"))[:1]
    else:
        paths = [tmp_path / "out" / victim]
    for path in paths:
        path.unlink()
    convert(sources, tmp_path / "out")
    assert files_of(tmp_path / "out") == before


@pytest.mark.parametrize("change", ["grows", "other content"])
def test_a_source_that_changes_while_it_is_read_is_refused(tmp_path, change):
    """It is not what its digest was made of when the plan was made; the next run takes it."""
    path = tmp_path / "a.txt"
    text = station_text(count=3)
    path.write_bytes(text)
    chosen = settings(tmp_path / "out")
    plan = plan_run([str(path)], chosen)
    before = path.stat().st_mtime_ns
    path.write_bytes(text + b"more\n" if change == "grows" else text.replace(b"gts", b"nws"))
    os.utime(path, ns=(before + 1_000_000, before + 1_000_000))
    summary = run_plan(plan, chosen)
    assert summary["refused"] == {"convert-source-changed": 1}
    assert summary["adds_up"]
    path.write_bytes(text)
    assert convert([path], tmp_path / "out")["total"]["soundings"]["written"] == 3


def test_a_source_that_vanishes_is_refused_and_the_others_go_on(tmp_path):
    """Between plan and reading one file goes; the run ends, and says so."""
    for name in ("a.txt", "b.txt"):
        (tmp_path / name).write_bytes(station_text(count=3))
    chosen = settings(tmp_path / "out")
    plan = plan_run([str(tmp_path / "a.txt"), str(tmp_path / "b.txt")], chosen)
    (tmp_path / "a.txt").unlink()
    summary = run_plan(plan, chosen)
    assert summary["refused"] == {"convert-source-unreadable": 1}
    assert summary["total"]["soundings"]["written"] == 3
    assert summary["adds_up"]


def test_a_source_that_breaks_off_is_refused_whole(tmp_path):
    """A zip whose member is not what its checksum says gives no half of a history."""
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("one.txt", station_text(count=200))
    data = bytearray(whole.getvalue())
    data[data.rindex(b"PK\x01\x02") + 16] ^= 1
    (tmp_path / "a.zip").write_bytes(bytes(data))
    summary = convert([tmp_path / "a.zip"], tmp_path / "out")
    assert summary["refused"] == {"convert-source-damaged": 1}
    assert summary["adds_up"]
    assert summary["stations"] == []


def test_a_file_that_is_not_what_was_written_is_told(tmp_path, monkeypatch):
    """Reading back finds a difference; the run says that it does not add up."""
    import encoder.convert.stations as module

    (tmp_path / "a.txt").write_bytes(station_text(count=3))
    monkeypatch.setattr(module, "differences", lambda *_given: ("air_pressure",))
    summary = convert([tmp_path / "a.txt"], tmp_path / "out")
    assert not summary["adds_up"]
    assert [item["code"] for item in summary["faults"]] == ["convert-file-differs"]


def test_reading_back_sees_a_changed_value(tmp_path):
    """One figure changed in the file is found."""
    from encoder.convert.station_file import Written, differences

    (tmp_path / "a.txt").write_bytes(station_text(count=3))
    convert([tmp_path / "a.txt"], tmp_path / "out")
    with netCDF4.Dataset(tmp_path / "out" / "90417.nc", "a") as dataset:
        dataset.set_auto_maskandscale(False)
        given = Written({"air_pressure": np.asarray(dataset["air_pressure"][:]).copy()})
        assert differences(tmp_path / "out" / "90417.nc", given) == ()
        dataset["air_pressure"][3] += 1
    assert differences(tmp_path / "out" / "90417.nc", given) == ("air_pressure",)
    gone = Written({"gone": given.values["air_pressure"]})
    assert differences(tmp_path / "out" / "90417.nc", gone) == ("gone",)


@pytest.mark.parametrize("damage", ["value", "bytes"])
def test_reading_back_sees_a_changed_chunk(tmp_path, damage):
    """A chunk of another value, or that cannot be inflated, is found by its checksum."""
    import h5py
    from isal import isal_zlib

    from encoder.formats.netcdf.direct_chunks import same_chunks, write_chunks

    path = str(tmp_path / "a.nc")
    values = np.arange(40_000, dtype=np.int32)
    with h5py.File(path, "w") as file:
        file.create_dataset("a", (40_000,), "i4", chunks=(30_000,), compression=1, shuffle=True)
    checksums = write_chunks(path, {"a": values})
    assert same_chunks(path, checksums) == {"a": True}
    with h5py.File(path, "r+") as file:
        assert np.array_equal(file["a"][:], values)
        _mask, data = file["a"].id.read_direct_chunk((0,))
        text = bytearray(isal_zlib.decompress(data))
        text[7] ^= 1
        changed = isal_zlib.compress(bytes(text), 1) if damage == "value" else b"no deflate"
        file["a"].id.write_direct_chunk((0,), changed)
    assert same_chunks(path, checksums) == {"a": False}
    assert same_chunks(path, {"b": [1]}) == {"b": False}


def test_counts_that_do_not_add_up_are_a_fault(tmp_path, monkeypatch):
    """The summary says so when a level went astray."""
    import encoder.convert.stations as module

    (tmp_path / "a.txt").write_bytes(station_text(count=3))
    monkeypatch.setattr(
        module, "values_of_soundings", lambda batch: np.ones(len(batch), dtype=np.int64)
    )
    summary = convert([tmp_path / "a.txt"], tmp_path / "out")
    assert not summary["adds_up"]
    assert [item["code"] for item in summary["faults"]] == ["convert-does-not-add-up"] * 2
    assert '"a.txt" does not add up in values' in summary["faults"][0]["message"]


def test_a_table_without_a_map_is_refused(tmp_path):
    """Taken for a table by word alone, it cannot be read."""
    (tmp_path / "a.csv").write_text("a,b\n1,2\n")
    summary = convert([tmp_path / "a.csv"], tmp_path / "out", kind="table")
    assert summary["refused"] == {"convert-member-refused": 1}
    assert summary["adds_up"]


def test_parquet_has_every_level(tmp_path):
    """A row a level, units in the metadata, the same values."""
    import pyarrow.parquet as pq

    (tmp_path / "a.txt").write_bytes(station_text(count=4))
    convert([tmp_path / "a.txt"], tmp_path / "out", formats=("netcdf", "parquet"))
    table = pq.read_table(tmp_path / "out" / "90417.parquet")
    batch, _station, _sources = read_converted(tmp_path / "out" / "90417.nc")
    values = batch.as_values()
    assert table.num_rows == len(values.levels["kinds"])
    assert table.schema.field("air_pressure").metadata == {b"unit": b"hPa"}
    for name in ("air_pressure", "air_temperature", "wind_speed"):
        assert np.array_equal(
            table[name].to_numpy(zero_copy_only=False), values.levels[name], equal_nan=True
        )


def test_unfinished_files_of_a_lost_worker_are_gone_at_the_end_of_its_run(tmp_path):
    """A run sweeps up what a writer that was killed on the way left, in every folder."""

    class Loses(Silent):
        """Leaves what a killed worker leaves, once a source was read."""

        def unit_done(self, unit, document):
            for place in (tmp_path / "out", tmp_path / "out" / unit.folder):
                (place / ".90417.batch.x1y2z3.part").write_bytes(b"half")

    source = tmp_path / "90417.txt"
    source.write_bytes(station_text())
    chosen = settings(tmp_path / "out")
    plan = plan_run([str(source)], chosen)
    run_plan(plan, chosen, progress=Loses())
    left = [item.name for item in (tmp_path / "out").rglob("*") if item.name.endswith(".part")]
    assert left == []
    assert len(list((tmp_path / "out").glob("*.nc"))) == 1
