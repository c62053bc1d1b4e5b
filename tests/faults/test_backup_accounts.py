"""Accounts in a backup: whole while somebody writes, and after a kill in the midst of it."""

import os
import shutil
import signal
import sqlite3
import stat
import threading
import time
from contextlib import closing

import pytest

from etl.account import book, keep, passwords, sessions
from etl.backup import back_up
from etl.backup_restore import restore
from etl.errors import InputError

PASSWORD = "copper kettle on the roof"


def invented_account(store, number):
    """Change two things that belong together, the second one large enough to be written early."""
    with book.opened(store) as con:
        con.execute("pragma cache_size = 1")
        con.execute("delete from account where key <> 'ann'")
        con.executemany("insert into account values (?, 'Bo', 'viewer', ?, ?)",
                        [(f"bo {each}", f"{number}" + "x" * 500, number) for each in range(40)])
        con.execute("update account set made_at = ? where key = 'ann'", [number])


def accounts_of(store):
    with closing(sqlite3.connect(store / book.NAME)) as con:
        assert con.execute("pragma integrity_check").fetchall() == [("ok",)]
        made = con.execute("select made_at from account where key = 'ann'").fetchall()
        return made, con.execute("select distinct made_at, count(*) from account "
                                 "where key <> 'ann'").fetchall()


def test_accounts_are_whole_while_somebody_writes_to_them(lived_in, tmp_path, monkeypatch):
    monkeypatch.setattr(passwords, "HASHER", passwords.argon2.PasswordHasher(1, 8, 1))
    keep.add(lived_in, "Ann", "keeper", PASSWORD)
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
    keep.add(store, "Ann", "keeper", PASSWORD)
    invented_account(store, 1)
    before = accounts_of(store)
    child = os.fork()
    if not child:
        with book.opened(store) as con:
            con.execute("pragma cache_size = 1")
            con.execute("update account set made_at = 2")
            con.execute("update account set password_hash = password_hash || 'y'")
            os.kill(os.getpid(), signal.SIGKILL)
    os.waitpid(child, 0)
    assert (store / f"{book.NAME}-journal").stat().st_size > 0  # half a change is in the file
    shutil.copytree(store, tmp_path / "copy")
    back_up(tmp_path / "copy", tmp_path / "b.zip")
    restore(tmp_path / "b.zip", tmp_path / "new")
    assert accounts_of(tmp_path / "new") == before
    assert len(keep.accounts(store)) == 41  # read before written
    assert accounts_of(store) == before


def test_damaged_accounts_stop_no_backup(lived_in, tmp_path):
    (lived_in / book.NAME).write_bytes(b"rubbish" * 1000)
    back_up(lived_in, tmp_path / "b.zip")
    restore(tmp_path / "b.zip", tmp_path / "new")
    assert (tmp_path / "new" / book.NAME).read_bytes() == b"rubbish" * 1000


def test_a_restore_opens_no_session_and_no_link_that_was_ended_since(store, tmp_path, monkeypatch):
    monkeypatch.setattr(passwords, "HASHER", passwords.argon2.PasswordHasher(1, 8, 1))
    keep.add(store, "Ann", "keeper", PASSWORD)
    stolen, link = sessions.begin(store, "Ann", "192.0.2.1"), keep.invite(store, "Bo", "keeper")
    back_up(store, tmp_path / "b.zip")
    sessions.end_all(store, "Ann")
    restore(tmp_path / "b.zip", tmp_path / "new")
    assert sessions.account_of(tmp_path / "new", stolen) is None
    with pytest.raises(InputError, match="was used"):
        keep.accept(tmp_path / "new", link, PASSWORD)
    kept = (tmp_path / "new" / book.NAME).read_bytes()
    assert book.hashed(stolen).encode() not in kept
    assert book.hashed(link).encode() not in kept
    assert sessions.sign_in(tmp_path / "new", "Ann", PASSWORD, "192.0.2.1")[0].role == "keeper"
