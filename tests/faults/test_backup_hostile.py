"""Restoring: hostile, damaged and foreign archives are refused in words."""

import io
import json
import random
import shutil
import stat
import struct
import zipfile
from pathlib import Path

import pytest

from etl.backup import back_up
from etl.backup_restore import restore
from etl.errors import InputError
from tests.faults.lived import held


@pytest.fixture(scope="module")
def whole(first_store, tmp_path_factory):
    """Bytes of a backup that nobody harmed."""
    file = tmp_path_factory.mktemp("whole") / "b.zip"
    back_up(first_store, file)
    return file.read_bytes()


def parts_of(whole):
    with zipfile.ZipFile(io.BytesIO(whole)) as found:
        return [(info, found.read(info)) for info in found.infolist()]


def made(parts, tmp_path):
    file = tmp_path / "bad.zip"
    with zipfile.ZipFile(file, "w") as out:
        for info, content in parts:
            out.writestr(info, content, info.compress_type)
    return file


def listing(parts, change):
    """Return the parts with a list that `change` was done to."""
    told = json.loads(parts[-1][1])
    change(told)
    return [*parts[:-1], (parts[-1][0], json.dumps(told).encode())]


def renamed(parts, name):
    """Return the parts, the first of them under another name, in the list as well."""
    info = zipfile.ZipInfo(name)
    info.external_attr = (stat.S_IFREG | 0o600) << 16
    found = listing(parts, lambda told: told["parts"][0].update(name=name))
    return [(info, found[0][1]), *found[1:]]


def as_link(parts):
    parts[0][0].external_attr = (stat.S_IFLNK | 0o777) << 16
    return parts


def squeezed(parts):
    bomb = bytes(50_000_000)
    info = zipfile.ZipInfo("files/bomb.csv")
    info.compress_type = zipfile.ZIP_DEFLATED
    return [(info, bomb), *listing(parts, lambda told: told["parts"].append(
        {"name": "files/bomb.csv", "size_bytes": len(bomb), "sha256": "0" * 64}))]


HOSTILE = {
    "a file above the store": lambda parts: renamed(parts, "../../escaped"),
    "a file from the root": lambda parts: renamed(parts, "/tmp/escaped"),
    "a file on another drive": lambda parts: renamed(parts, "c:escaped"),
    "a backslash": lambda parts: renamed(parts, "..\\escaped"),
    "a name of a device": lambda parts: renamed(parts, "files/a\x01b"),
    "a name as long as a book": lambda parts: renamed(parts, "a" * 60_000),
    "a folder of dots": lambda parts: renamed(parts, "files/.../x"),
    "a link": as_link,
    "a part that unpacks into more": squeezed,
    "one file less": lambda parts: parts[1:],
    "one file more": lambda parts: [(zipfile.ZipInfo("files/more.csv"), b"x"), *parts],
    "a file and a folder of one name": lambda parts: renamed(parts, "files"),
    "two files of one name": lambda parts: listing(
        parts, lambda told: told["parts"].append(told["parts"][0])),
    "no list": lambda parts: parts[:-1],
    "a list that is none": lambda parts: [*parts[:-1], (parts[-1][0], b"[1, 2]")],
    "a list nested without end": lambda parts: [
        *parts[:-1], (parts[-1][0], b'{"form": 1, "parts": ' + b"[" * 100_000)],
    "a list with other words": lambda parts: listing(
        parts, lambda told: told["parts"][0].update(mode=511)),
    "numbers that are none": lambda parts: listing(
        parts, lambda told: told["parts"][0].update(size_bytes=-1)),
    "a newer form": lambda parts: listing(parts, lambda told: told.update(form=99)),
    "another content": lambda parts: [(parts[0][0], b"edition-000002.duckdb\n"), *parts[1:]],
}


@pytest.mark.parametrize("how", HOSTILE)
def test_a_hostile_archive_is_refused_in_words(whole, tmp_path, how):
    (tmp_path / "in").mkdir()
    file = made(HOSTILE[how](parts_of(whole)), tmp_path / "in")
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(InputError) as caught:
        restore(file, tmp_path / "in" / "new")
    said = str(caught.value)
    assert said.startswith("bad.zip: ")
    assert str(tmp_path) not in said
    assert len(said) < 400
    left = [path for path in sorted(tmp_path.rglob("*")) if path not in before]
    assert {path.name for path in left} <= {"new", "lock", "format"}
    assert not Path("/tmp/escaped").exists()


def test_parts_that_lie_over_one_another_are_refused(whole, tmp_path):
    """Every part points to the same bytes: a file that unpacks into many times its size."""
    parts = parts_of(whole)
    big = max(range(len(parts) - 1), key=lambda n: len(parts[n][1]))
    told = json.loads(parts[-1][1])["parts"][big]
    names = [f"files/{n}.csv" for n in range(50)]
    found = listing(parts, lambda all_: all_["parts"].extend({**told, "name": n} for n in names))
    file = made([*found[:-1], *((zipfile.ZipInfo(name), b"") for name in names), found[-1]],
                tmp_path)
    raw = bytearray(file.read_bytes())
    with zipfile.ZipFile(file) as opened:
        first = opened.infolist()[big]
    at = raw.index(b"PK\x01\x02")
    while raw[at:at + 4] == b"PK\x01\x02":
        name_size, extra, comment = struct.unpack_from("<HHH", raw, at + 28)
        if bytes(raw[at + 46:at + 46 + name_size]).decode() in names:
            struct.pack_into("<III", raw, at + 16, first.CRC, first.file_size, first.file_size)
            struct.pack_into("<I", raw, at + 42, first.header_offset)
        at += 46 + name_size + extra + comment
    file.write_bytes(raw)
    with pytest.raises(InputError, match="its files together are larger than it is itself"):
        restore(file, tmp_path / "new")


def test_no_flipped_bit_and_no_cut_is_missed(whole, first_store, tmp_path):
    chance = random.Random(20_261_125)
    tail = [len(whole) - 1 - chance.randrange(9_000) for _ in range(25)]
    for number, at in enumerate([chance.randrange(len(whole)) for _ in range(15)] + tail):
        raw = bytearray(whole)
        if number % 5 == 4:
            raw = raw[:at]
        else:
            raw[at] ^= 1 << chance.randrange(8)
        (tmp_path / "b.zip").write_bytes(raw)
        try:
            restore(tmp_path / "b.zip", tmp_path / "new")
        except InputError:
            pass
        else:  # a bit that says nothing about any content, such as the day of a part
            mine, theirs = held(tmp_path / "new"), held(first_store)
            assert {name: mine[name][0] for name in mine} == {
                name: theirs[name][0] for name in theirs}
        shutil.rmtree(tmp_path / "new", ignore_errors=True)


@pytest.mark.parametrize("content", [b"", b"PK", b"PK\x05\x06" + bytes(18), b"no archive" * 100])
def test_what_is_no_archive_is_refused(tmp_path, content):
    (tmp_path / "b.zip").write_bytes(content)
    with pytest.raises(InputError, match=r"b.zip: this is no backup made by `braidlife backup`"):
        restore(tmp_path / "b.zip", tmp_path / "new")
    with pytest.raises(InputError, match=r"none.zip: could not be read"):
        restore(tmp_path / "none.zip", tmp_path / "new")
