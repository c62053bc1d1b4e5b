"""Backup and restore: everything comes back, also of a store in use, and nothing hostile does."""

import io
import json
import os
import random
import resource
import shutil
import signal
import sqlite3
import stat
import struct
import sys
import threading
import time
import zipfile
from contextlib import closing
from pathlib import Path

import pytest
from PIL import Image

from etl import cli, run
from etl.account import book, keep, passwords
from etl.backup import back_up
from etl.backup_restore import restore
from etl.entry.journal import append
from etl.entry.photographs import find_photograph, keep_photograph
from etl.errors import InputError, StoreError
from etl.load import archive
from etl.load.entered import read_journal
from etl.load.publish import UNFINISHED, current_edition
from tests.faults.small import same_rows


def picture(shade):
    out = io.BytesIO()
    Image.new("RGB", (8, 8), (shade, 0, 0)).save(out, "PNG")
    return out.getvalue()


def enter(store, number):
    """Enter a finding with a photograph, as a page does: the photograph first."""
    name = keep_photograph(store, picture(number % 256))
    row = {"service_point": "A-1", "removed_on": "2020-06-01", "hose_id": "007",
           "finding": "photograph", "value": name}
    append(store, "teardowns", f"entry-{number:016d}", "R. Moss", [row])
    return name


@pytest.fixture
def lived_in(store):
    """Store with a load, entries, a photograph, a setting and a file for its owner alone."""
    enter(store, 1)
    (store / "accounts.json").write_text("{}")
    (store / "accounts.json").chmod(0o600)
    (store / "track").mkdir()
    (store / "track" / "2021-07-31-sign.sign").write_text("abc empty\n")
    (store / "work.spill").mkdir()
    (store / "editions" / "edition-000009.tmp").write_text("half")
    return store


def held(store):
    """Return every file of a store with its content and rights, without what only works."""
    return {path.relative_to(store).as_posix(): (path.read_bytes(), stat.S_IMODE(
        path.stat().st_mode) & 0o077) for path in store.rglob("*") if path.is_file()
        and path.name not in ("lock", "edition-000009.tmp")}


def test_everything_comes_back_to_the_byte(lived_in, tmp_path):
    done = back_up(lived_in, tmp_path / "b.zip")
    assert (done.damaged, done.left_out, done.listed.edition) == ((), (), 1)
    assert stat.S_IMODE((tmp_path / "b.zip").stat().st_mode) == 0o600
    back = restore(tmp_path / "b.zip", tmp_path / "new")
    assert (back.listed, back.put_aside) == (done.listed, "")
    assert held(tmp_path / "new") == held(lived_in)


def test_a_restored_store_goes_on_as_the_store_would_have(first_store, both_store, more, tmp_path):
    back_up(first_store, tmp_path / "b.zip")
    restore(tmp_path / "b.zip", tmp_path / "new")
    same_rows(tmp_path / "new", first_store)
    run.load(more, tmp_path / "new")
    same_rows(tmp_path / "new", both_store)


def test_the_same_store_gives_the_same_parts(lived_in, tmp_path):
    first, second = (back_up(lived_in, tmp_path / name).listed for name in ("1.zip", "2.zip"))
    assert first.parts == second.parts


def is_consistent(store):
    """Check that all a store's register, journals and pointer name is there and whole."""
    assert current_edition(store).is_file()
    for item in archive.registered(store):
        archive.archived(store, item)
    journal = read_journal(store, "teardowns")
    assert journal.torn == ()
    for entry in journal.entries:
        assert find_photograph(store, entry.rows[0]["value"]) is not None
    return len(journal.entries)


def test_a_backup_while_loads_run_and_pages_write_is_a_state_of_the_store(store, more, tmp_path):
    (store / "settings.toml").write_text("n_draws = 20\neditions_kept = 1\n")
    over, entered = threading.Event(), []

    def write():
        while not over.is_set():
            enter(store, len(entered))
            entered.append(1)
            time.sleep(0.02)

    writer = threading.Thread(target=write)
    loader = threading.Thread(target=lambda: run.load(more, store))
    writer.start()
    loader.start()
    n_backups, counts = 0, []
    while loader.is_alive():
        before = len(entered)
        file, new = tmp_path / f"{n_backups}.zip", tmp_path / f"new-{n_backups}"
        back_up(store, file)
        restore(file, new)
        counts.append(is_consistent(new))
        assert before <= counts[-1]  # what was confirmed before is in it
        shutil.rmtree(new)
        file.unlink()
        n_backups += 1
    over.set()
    writer.join()
    assert n_backups > 3
    assert counts == sorted(counts)


def invented_account(store, number):
    """Change two things that belong together, the second one large enough to be written early."""
    with book.opened(store) as con:
        con.execute("pragma cache_size = 1")
        con.execute("delete from session")
        con.executemany("insert into session values (?, 'ann', ?, ?)",
                        [(f"{number}-{each}" + "x" * 500, number, number) for each in range(40)])
        con.execute("update account set made_at = ? where key = 'ann'", [number])


def accounts_of(store):
    with closing(sqlite3.connect(store / book.NAME)) as con:
        assert con.execute("pragma integrity_check").fetchall() == [("ok",)]
        made = con.execute("select made_at from account").fetchall()
        return made, con.execute("select distinct begun_at, count(*) from session").fetchall()


def test_accounts_are_whole_while_somebody_writes_to_them(lived_in, tmp_path, monkeypatch):
    monkeypatch.setattr(passwords, "HASHER", passwords.argon2.PasswordHasher(1, 8, 1))
    keep.add(lived_in, "Ann", "keeper", "copper kettle on the roof")
    invented_account(lived_in, 0)
    over = threading.Event()

    def write():
        number = 0
        while not over.is_set():
            invented_account(lived_in, number := number + 1)
            time.sleep(0.05)  # as somebody would who is not a loop

    writer = threading.Thread(target=write)
    writer.start()
    seen = set()
    try:
        for at in range(6):
            back_up(lived_in, tmp_path / f"{at}.zip")
            restore(tmp_path / f"{at}.zip", tmp_path / f"new-{at}")
            (made,), ((begun, count),) = accounts_of(tmp_path / f"new-{at}")
            assert (made[0], count) == (begun, 40)
            assert not list((tmp_path / f"new-{at}").glob(book.NAME + "-*"))
            seen.add(begun)
    finally:
        over.set()
        writer.join()
    assert len(seen) > 2
    assert stat.S_IMODE((tmp_path / "new-0" / book.NAME).stat().st_mode) == 0o600


def test_a_change_of_accounts_that_a_kill_cut_off_is_taken_back(store, tmp_path, monkeypatch):
    monkeypatch.setattr(passwords, "HASHER", passwords.argon2.PasswordHasher(1, 8, 1))
    keep.add(store, "Ann", "keeper", "copper kettle on the roof")
    invented_account(store, 1)
    before = accounts_of(store)
    child = os.fork()
    if not child:
        with book.opened(store) as con:
            con.execute("pragma cache_size = 1")
            con.execute("update session set begun_at = 2")
            con.execute("update session set hash = hash || 'y'")
            os.kill(os.getpid(), signal.SIGKILL)
    os.waitpid(child, 0)
    assert (store / f"{book.NAME}-journal").stat().st_size > 0  # half a change is in the file
    shutil.copytree(store, tmp_path / "copy")
    back_up(tmp_path / "copy", tmp_path / "b.zip")
    restore(tmp_path / "b.zip", tmp_path / "new")
    assert accounts_of(tmp_path / "new") == before
    assert [account.name for account, _ in keep.accounts(store)] == ["Ann"]  # read before written
    assert accounts_of(store) == before


def test_damaged_accounts_stop_no_backup(lived_in, tmp_path):
    (lived_in / book.NAME).write_bytes(b"rubbish" * 1000)
    back_up(lived_in, tmp_path / "b.zip")
    restore(tmp_path / "b.zip", tmp_path / "new")
    assert (tmp_path / "new" / book.NAME).read_bytes() == b"rubbish" * 1000


def test_what_waits_to_be_loaded_and_what_was_set_aside_is_kept(lived_in, tmp_path):
    kept = {"incoming/March.xlsx": b"x", "incoming/choices.json": b"{}",
            "set-aside/20261126-0/entries/inspections.jsonl": b"{}\n"}
    for name, content in kept.items():
        (lived_in / name).parent.mkdir(parents=True, exist_ok=True)
        (lived_in / name).write_bytes(content)
    (lived_in / "incoming" / "half.tmp").write_bytes(b"half")
    back_up(lived_in, tmp_path / "b.zip")
    restore(tmp_path / "b.zip", tmp_path / "new")
    assert {name: (tmp_path / "new" / name).read_bytes() for name in kept} == kept
    assert not (tmp_path / "new" / "incoming" / "half.tmp").exists()


def test_never_over_a_store_unasked(lived_in, tmp_path):
    back_up(lived_in, tmp_path / "b.zip")
    before = held(lived_in)
    with pytest.raises(InputError, match="never restored over one unasked"):
        restore(tmp_path / "b.zip", lived_in)
    enter(lived_in, 2)
    later = held(lived_in)
    done = restore(tmp_path / "b.zip", lived_in, is_replacing=True)
    assert held(lived_in) == before
    assert held(lived_in.with_name(done.put_aside)) == later


def test_a_backup_is_never_written_over_nor_into_its_store(lived_in, tmp_path):
    (tmp_path / "b.zip").write_bytes(b"older")
    with pytest.raises(InputError, match="exists already"):
        back_up(lived_in, tmp_path / "b.zip")
    assert (tmp_path / "b.zip").read_bytes() == b"older"
    with pytest.raises(InputError, match="lies in the store"):
        back_up(lived_in, lived_in / "b.zip")
    with pytest.raises(StoreError, match="no store"):
        back_up(tmp_path / "none", tmp_path / "c.zip")


def test_an_interrupted_restore_is_touched_by_no_load_and_done_again(lived_in, tmp_path, more,
                                                                     monkeypatch):
    back_up(lived_in, tmp_path / "b.zip")
    moved, real = [], os.replace

    def stop_half_way(source, target):
        if len(moved) == 3:
            raise KeyboardInterrupt
        moved.append(target)
        real(source, target)

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", stop_half_way)
        with pytest.raises(KeyboardInterrupt):
            restore(tmp_path / "b.zip", tmp_path / "new")
    assert (tmp_path / "new" / UNFINISHED).is_dir()
    with pytest.raises(StoreError, match="a restore into this store was interrupted"):
        run.load(more, tmp_path / "new")
    done = restore(tmp_path / "b.zip", tmp_path / "new")
    assert done.put_aside.startswith("new.before-")
    assert held(tmp_path / "new") == held(lived_in)


def test_no_room(lived_in, tmp_path):
    back_up(lived_in, tmp_path / "b.zip")
    resource.setrlimit(resource.RLIMIT_FSIZE, (1_000_000, -1))
    try:
        with pytest.raises(InputError, match=r"c.zip: no backup was made \(File too large\)"):
            back_up(lived_in, tmp_path / "c.zip")
        with pytest.raises(StoreError, match=r"could not be written \(File too large\)"):
            restore(tmp_path / "b.zip", tmp_path / "new")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (-1, -1))
    assert not list(tmp_path.glob("c.zip*"))
    restore(tmp_path / "b.zip", tmp_path / "new")
    assert held(tmp_path / "new") == held(lived_in)


def test_what_is_damaged_in_the_store_is_told_and_kept(lived_in, tmp_path):
    copy = next((lived_in / "files").iterdir())
    copy.write_bytes(b"altered")
    (lived_in / "logs").mkdir()
    (lived_in / "logs" / "a:b.csv").write_text("x")
    done = back_up(lived_in, tmp_path / "b.zip")
    assert done.damaged == (f"files/{copy.name}",)
    assert done.left_out == ("logs/a:b.csv",)
    assert "Damaged in the store already: files/" in done.summary()
    restore(tmp_path / "b.zip", tmp_path / "new")
    assert (tmp_path / "new" / "files" / copy.name).read_bytes() == b"altered"


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


def test_the_commands(lived_in, tmp_path, capsys, monkeypatch):
    def call(*args):
        monkeypatch.setattr(sys, "argv", ["braidlife", *map(str, args)])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        said = capsys.readouterr()
        return ended.value.code, said.out, said.err

    status, said, wrong = call("backup", tmp_path / "b.zip", "--store", lived_in)
    assert (status, wrong) == (0, "")
    assert said.startswith("b.zip: edition 1, ")
    status, said, _ = call("restore", tmp_path / "b.zip", "--store", tmp_path / "new", "--json")
    assert json.loads(said)["edition"] == 1
    status, _, wrong = call("restore", tmp_path / "b.zip", "--store", tmp_path / "new")
    assert status == 2
    assert "never restored over one unasked" in wrong
