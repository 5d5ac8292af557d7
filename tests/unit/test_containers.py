"""Containers: members listed once, twice the same name, links, holes, bombs of many members."""

from __future__ import annotations

import gzip
import io
import os
import tarfile
import zipfile

import pytest

from encoder.convert import containers
from encoder.convert.container_index import ContainerError
from encoder.convert.containers import chunks_of, members_of
from encoder.convert.sources import find_sources

REPORT = b"USNR01 XNOR 110000\r\r\nTTAA 61001 90417 99961 00321 03012 88999 77999=\r\r\n\x03"


def tar_of(*members, **options):
    """Return a tar of names with bytes, or of entries."""
    whole = io.BytesIO()
    with tarfile.open(fileobj=whole, mode="w", **options) as archive:
        for item in members:
            if isinstance(item, tarfile.TarInfo):
                archive.addfile(item)
                continue
            entry = tarfile.TarInfo(item[0])
            entry.size = len(item[1])
            archive.addfile(entry, io.BytesIO(item[1]))
    return whole.getvalue()


def zip_of(*members, method=zipfile.ZIP_DEFLATED):
    """Return a zip of names with bytes."""
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", method) as archive:
        for name, data in members:
            archive.writestr(name, data)
    return whole.getvalue()


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize("pack", [tar_of, zip_of])
def test_two_members_of_one_name_are_both_read(tmp_path, pack):
    """A file added to an archive again does not hide the first one."""
    (tmp_path / "box").write_bytes(pack(("a.txt", REPORT), ("a.txt", REPORT * 2)))
    names = list(members_of(str(tmp_path / "box"), ()).members)
    read = [b"".join(chunks_of(str(tmp_path / "box"), (name,))) for name in names]
    assert names == ["a.txt", "a.txt#2"]
    assert read == [REPORT, REPORT * 2]


@pytest.mark.parametrize(
    "method", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA]
)
@pytest.mark.parametrize("fast", [False, True])
def test_every_way_of_packing_is_read(tmp_path, method, fast):
    """Stored, deflated, bzip2 and LZMA members of a zip."""
    (tmp_path / "box.zip").write_bytes(zip_of(("a.txt", REPORT * 50), method=method))
    read = b"".join(chunks_of(str(tmp_path / "box.zip"), ("a.txt",), fast=fast))
    assert read == REPORT * 50


def test_links_in_a_tar_are_told(tmp_path):
    """A link has no bytes of its own; the file it leads to is read once."""
    link = tarfile.TarInfo("b.txt")
    link.type, link.linkname = tarfile.SYMTYPE, "a.txt"
    (tmp_path / "box.tar").write_bytes(tar_of(("a.txt", REPORT), link))
    sources, found = find_sources([str(tmp_path / "box.tar")])
    assert [item.name for item in sources] == ["box.tar!a.txt"]
    assert [item.code for item in found] == ["convert-member-link"]


def test_a_tar_member_with_holes_is_refused(tmp_path):
    """It may announce any size without a byte in the container."""
    entry = tarfile.TarInfo("huge.txt")
    entry.type = tarfile.GNUTYPE_SPARSE
    block = bytearray(entry.tobuf(tarfile.GNU_FORMAT))
    block[483:495] = b"17777777777\0"  # real size: 2 GiB
    block[148:156] = b"        "
    block[148:156] = b"%06o\0 " % sum(block)
    (tmp_path / "box.tar").write_bytes(bytes(block) + b"\0" * 1024)
    sources, found = find_sources([str(tmp_path / "box.tar")])
    assert sources == []
    assert "has holes" in found[0].message


def test_many_members_out_of_few_bytes_are_a_bomb(tmp_path):
    """A directory may lead to the same bytes many times: no member is a bomb, all of them are."""
    data = zip_of(("a", b"\0" * (8 << 20)))
    end = data.rindex(b"PK\x05\x06")
    begin = data.rindex(b"PK\x01\x02")
    entry = data[begin:end]
    count = 60
    tail = bytearray(data[end:])
    tail[8:10] = tail[10:12] = count.to_bytes(2, "little")
    tail[12:16] = (count * len(entry)).to_bytes(4, "little")
    (tmp_path / "bomb.zip").write_bytes(data[:begin] + entry * count + bytes(tail))
    sources, found = find_sources([str(tmp_path / "bomb.zip")])
    assert sources == []
    assert "a bomb" in found[0].message


def test_a_container_is_listed_once_for_all_its_members(tmp_path, monkeypatch):
    """Reading a thousand members does not list the container, or take it out, a thousand times."""
    members = [(f"{number}.txt", REPORT) for number in range(50)]
    (tmp_path / "box.tar.gz").write_bytes(gzip.compress(tar_of(*members)))
    calls = []
    real = containers.directory_of
    monkeypatch.setattr(containers, "directory_of", lambda stream: calls.append(1) or real(stream))
    sources, _found = find_sources([str(tmp_path / "box.tar.gz")])
    read = [b"".join(chunks_of(item.path, item.members)) for item in sources]
    assert read == [REPORT] * 50
    assert len(calls) == 2  # the gz and the tar in it


def test_a_container_that_changed_is_listed_again(tmp_path):
    """What was kept of it belongs to the bytes it was made of."""
    path = tmp_path / "box.tar"
    path.write_bytes(tar_of(("a.txt", REPORT)))
    assert list(members_of(str(path), ()).members) == ["a.txt"]
    path.write_bytes(tar_of(("b.txt", REPORT)))
    stamp = path.stat().st_mtime_ns + 1_000_000
    os.utime(path, ns=(stamp, stamp))
    assert list(members_of(str(path), ()).members) == ["b.txt"]
    with pytest.raises(ContainerError, match="no member"):
        list(chunks_of(str(path), ("a.txt",)))


@pytest.mark.parametrize("cut", [100, 700, 1500])
def test_a_tar_that_was_cut_off_gives_no_half_member(tmp_path, cut):
    """What ends too soon is refused."""
    (tmp_path / "cut.tar").write_bytes(tar_of(("a.txt", REPORT * 30))[:cut])
    sources, found = find_sources([str(tmp_path / "cut.tar")])
    assert sources == []
    assert len(found) == 1


def test_large_inner_containers_go_through_a_temporary_file(tmp_path, monkeypatch):
    """Memory does not grow with a container inside a container."""
    monkeypatch.setattr(containers, "INNER_IN_MEMORY", 1000)
    members = [(f"{number}.txt", REPORT * 40) for number in range(5)]
    (tmp_path / "box.gz").write_bytes(gzip.compress(tar_of(*members)))
    sources, _found = find_sources([str(tmp_path / "box.gz")])
    assert [b"".join(chunks_of(x.path, x.members)) for x in sources] == [REPORT * 40] * 5
    assert list(containers._kept.inner.values())[-1]._rolled


def test_pipes_and_devices_are_no_sources(tmp_path):
    """They are told at once: reading them may never end."""
    os.mkfifo(tmp_path / "pipe")
    sources, found = find_sources([str(tmp_path), "/dev/zero"])
    assert sources == []
    assert ["no plain file" in item.message for item in found] == [True, True]


@pytest.mark.parametrize("fast", [False, True])
def test_deflated_bytes_that_are_damaged_refuse_the_member(tmp_path, fast):
    """Whichever library inflates: a plain word, no half of a member passed on as whole."""
    data = bytearray(zip_of(("a.txt", REPORT * 500)))
    begin = data.index(b"a.txt") + 5
    data[begin : begin + 30] = b"\xff" * 30
    (tmp_path / "box.zip").write_bytes(bytes(data))
    with pytest.raises(ContainerError, match=r"damaged|length or checksum"):
        list(chunks_of(str(tmp_path / "box.zip"), ("a.txt",), fast=fast))
