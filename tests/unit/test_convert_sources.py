"""Sources of a conversion: what a file is, containers, what cannot be read."""

from __future__ import annotations

import gzip
import io
import json
import os
import tarfile
import zipfile

import numpy as np
import pytest

from encoder.convert.container_index import ContainerError
from encoder.convert.containers import chunks_of, members_of
from encoder.convert.sources import find_sources, guess
from encoder.errors import InputError
from encoder.formats.netcdf import read_netcdf
from tests.conversions import (
    EXCERPT,
    coded_days,
    convert,
    station_text,
)


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


def test_file_names_with_odd_bytes_and_signs(tmp_path):
    """Bytes that are no UTF-8, line ends: spelled in names, the file is converted."""
    folder = tmp_path / "in"
    folder.mkdir()
    names = [os.fsdecode(b"caf\xe9.txt"), "two\nlines.txt"]
    for seed, name in enumerate(names):
        (folder / name).write_bytes(station_text(seed=seed, count=2))
    with tarfile.open(folder / "a.tar", "w") as archive:
        member = tarfile.TarInfo(os.fsdecode(b"\xff/b.txt"))
        data = station_text("90731", count=2)
        member.size = len(data)
        archive.addfile(member, io.BytesIO(data))
    (folder / os.fsdecode(b"\xfe")).mkdir()
    (folder / os.fsdecode(b"\xfe") / "again").symlink_to("..")
    summary = convert([folder], tmp_path / "out")
    assert summary["failed"] == []
    assert [item["name"] for item in summary["sources"]] == [
        "a.tar!\\xff/b.txt", "caf\\xe9.txt", "two\\nlines.txt",
    ]  # fmt: skip
    assert summary["total"]["soundings"]["written"] == 6
    json.dumps(summary, ensure_ascii=False).encode("utf-8")


@pytest.mark.parametrize(
    ("url", "said"),
    [
        ("nosuch://far/x", "is no URL that can be used"),
        ("github://a/b", "is no URL that can be used"),
        ("ftp://127.0.0.1:1/x", "cannot be reached: Connection refused"),
    ],
)
def test_a_url_that_cannot_be_used_is_told(url, said):
    """Whatever the library for URLs raises, it is a sentence."""
    with pytest.raises(InputError, match=said):
        find_sources([url])


def test_a_far_folder_that_cannot_be_listed_is_told(monkeypatch):
    """The connection ends on the way, or a file goes between the list and the digest."""
    import fsspec

    from encoder.convert.digests import with_digests

    system = fsspec.filesystem("memory")
    system.pipe("/far/a.txt", EXCERPT)
    sources, found = find_sources(["memory://far"])
    assert (len(sources), found) == (1, [])

    def fails(*_given, **_more):
        raise TypeError("not of the\nprotocol")

    with monkeypatch.context() as patch:
        patch.setattr(type(system), "cat_file", fails)
        patch.setattr(type(system), "_open", fails)
        assert with_digests(sources, found) == []
    assert "cannot be read: not of the protocol." in found[0].message
    monkeypatch.setattr(type(system), "find", fails)
    with pytest.raises(InputError, match="memory://far cannot be reached: not of the protocol"):
        find_sources(["memory://far"])
    monkeypatch.undo()
    system.rm("/far", recursive=True)
